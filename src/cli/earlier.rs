//! What one audit has to do with those before it: known findings, and what has changed.

use super::audit::Arguments;
use super::clock;
use super::settings::{Applied, refused, text_of};
use crate::audit::Reporter;
use crate::findings::Severity;
use crate::known::{self, Known};
use crate::report::known::KnownReport;
use crate::report::since::SinceReport;
use crate::report::{self, cell::as_written};
use anyhow::Context as _;
use std::fmt::Write as _;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// Bytes of a list of known findings.
const LIST_BYTES: u64 = 1 << 28;

/// Where the list of known findings lies, if there is one.
fn list(option: Option<&Path>, applied: &Applied) -> Option<PathBuf> {
    let of_profile = || applied.profile.known.as_ref().map(|path| applied.folder().join(path));
    option.map(Path::to_owned).or_else(of_profile)
}

/// Files that an audit reads and writes beside banks, which are none themselves.
pub(crate) struct OwnFiles(Vec<PathBuf>);

impl OwnFiles {
    /// The folder of the reports, that of the earlier ones, the list of known findings.
    pub(super) fn new(arguments: &Arguments, applied: &Applied) -> Self {
        let folders = [Some(arguments.out.clone()), arguments.since.clone()].into_iter().flatten();
        let all = folders.chain(list(arguments.known.as_deref(), applied));
        Self(all.filter_map(|path| std::fs::canonicalize(path).ok()).collect())
    }

    /// Whether a file is one of them, or a table that an audit wrote elsewhere.
    pub(super) fn holds(&self, file: &Path) -> bool {
        let is_here = std::fs::canonicalize(file).is_ok_and(|file| self.0.iter().any(|own| file.starts_with(own)));
        is_here || is_report(file)
    }
}

/// Whether a file begins as the tables of an audit do: no bank has such a header, and reports lie beside banks.
fn is_report(file: &Path) -> bool {
    if !file.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv")) {
        return false;
    }
    let headers: [&[&str]; 5] = [
        &report::COLUMNS,
        &report::corrections::COLUMNS,
        &report::corrections::FILE_COLUMNS,
        &report::since::COLUMNS,
        &crate::known::COLUMNS,
    ];
    let mut beginning = Vec::new();
    let read = std::fs::File::open(file).and_then(|file| file.take(LONGEST_HEADER).read_to_end(&mut beginning));
    let line = beginning.split(|byte| matches!(byte, b'\n' | b'\r')).next().unwrap_or_default();
    read.is_ok() && headers.iter().any(|own| own.join(",").as_bytes() == line)
}

/// Bytes in which the header of a report ends.
const LONGEST_HEADER: u64 = 256;

/// The list of known findings: that of the option, else that of the profile, else none.
pub(super) fn known(option: Option<&Path>, applied: &Applied) -> anyhow::Result<Known> {
    let Some(path) = list(option, applied) else { return Ok(Known::default()) };
    let text = text_of(&path, "list of known findings", LIST_BYTES)?;
    let now = clock::now();
    let today = now.get(..10).unwrap_or_default();
    known::read(&text, today, as_written).map_err(|faults| refused(&faults, &path.display().to_string(), &text))
}

/// The reports that tie an audit to those before it.
pub(super) struct Earlier {
    before: Option<PathBuf>,
    since: Option<SinceReport>,
    known: Option<KnownReport>,
}

impl Earlier {
    /// Finds what is asked for, before anything is written.
    pub(super) fn check(arguments: &Arguments) -> anyhow::Result<Self> {
        let before = arguments.since.as_ref().map(|folder| folder.join("audit.json"));
        if let Some(path) = &before {
            anyhow::ensure!(
                path.is_file(),
                "{}: no such file: --since takes the folder of an earlier audit",
                path.display()
            );
        }
        if let Some(path) = &arguments.write_known {
            anyhow::ensure!(!path.exists(), "{} is there already: give --write-known another name", path.display());
        }
        Ok(Self { before, since: None, known: None })
    }

    /// Begins the reports.
    pub(super) fn begin(&mut self, arguments: &Arguments, out: &Path) -> anyhow::Result<()> {
        if let Some(path) = &self.before {
            let report = SinceReport::create(out, path);
            self.since = Some(report.with_context(|| format!("cannot compare with {}", path.display()))?);
        }
        if let Some(path) = &arguments.write_known {
            let report = KnownReport::create(path, arguments.fail_on.threshold().unwrap_or(Severity::Error));
            self.known = Some(report.with_context(|| format!("cannot write {}", path.display()))?);
        }
        Ok(())
    }

    /// The reports.
    pub(super) fn reporters(&mut self) -> Vec<&mut dyn Reporter> {
        let since = self.since.as_mut().map(|report| report as &mut dyn Reporter);
        let known = self.known.as_mut().map(|report| report as &mut dyn Reporter);
        since.into_iter().chain(known).collect()
    }

    /// Lets go of the reports; what there is to say of them in the summary.
    pub(super) fn end(self) -> String {
        let mut text = String::new();
        if let (Some(report), Some(path)) = (&self.since, &self.before) {
            let (new, gone, unchanged) = report.counts();
            let folder = path.parent().unwrap_or(path).display();
            let _ = writeln!(text, "since {folder}: {new} new, {gone} gone, {unchanged} unchanged (changes.csv)");
        }
        if let Some(report) = &self.known {
            let _ = writeln!(text, "{} known findings written", report.written());
        }
        text
    }
}
