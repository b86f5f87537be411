//! `keyassay draw --bank BANK --out DIR`: one drawing a step, named by its item, and `drawings.csv`, which says whose they are.

use super::super::settings::{Applied, BankOptions};
use super::super::{Ending, output};
use super::{Arguments, picture};
use crate::bank::{self, Format, walk};
use crate::findings::{Context, judge};
use crate::profile::Profile;
use crate::report::csv::Drawings;
use crate::report::terminal::{CAUTION, plain};
use crate::source::counted;
use anyhow::Context as _;
use rustc_hash::{FxHashMap, FxHashSet};
use std::fs::{self, File};
use std::path::Path;
use std::sync::Arc;

/// Draws every item of a bank.
pub(super) fn run(arguments: &Arguments, path: &Path, out: &Path) -> anyhow::Result<Ending> {
    let format = match &arguments.format {
        None => None,
        Some(name) => Some(Format::from_name(name).with_context(|| format!("there is no format '{name}'"))?),
    };
    anyhow::ensure!(path.exists(), "{}: no such file or folder", path.display());
    let options = BankOptions { profile: arguments.options.profile.clone(), encoding: None };
    let applied = Applied::for_banks(&options, &[path.to_owned()])?;
    let profile = arguments.options.over(applied.profile.clone());
    let files = walk::walk(path, format).files;
    anyhow::ensure!(!files.is_empty(), "{}: its ending names no format: use --as FORMAT", path.display());
    fs::create_dir_all(out).with_context(|| format!("cannot make the folder {}", out.display()))?;
    let list = Drawings::create(out).with_context(|| format!("cannot write into {}", out.display()))?;
    let mut gallery =
        Gallery { arguments, out, profile: &profile, names: Names::default(), list, drawn: 0, left_out: 0 };
    for (file, format) in files.into_iter().filter(|(file, _)| path.is_file() || applied.takes(file)) {
        let name = crate::source::path::name_of(&file);
        let own = profile.bank();
        let settings = bank::Settings { encoding: applied.encoding_of(&file).or(own.encoding), ..own };
        let reader = Box::new(File::open(&file).with_context(|| plain(&name))?);
        let mut source = match bank::open(&name, format, reader, &Arc::new(settings)) {
            Ok(source) => source,
            // Other tables lie beside banks in a folder.
            Err(error) if path.is_dir() => {
                output::say(&format!("passed over: {}: {}", plain(&name), plain(&error.to_string())));
                continue;
            }
            Err(error) => return Err(anyhow::Error::new(error).context(plain(&name))),
        };
        while let Some(batch) = source.next_batch().with_context(|| format!("{name} could not be read to its end"))? {
            let (chunk, records) = batch.records();
            records.iter().try_for_each(|record| gallery.record(&chunk, record, &name))?;
        }
    }
    let Gallery { mut list, drawn, left_out, .. } = gallery;
    list.finish().with_context(|| format!("cannot write into {}", out.display()))?;
    let left = if left_out > 0 { format!("; {left_out} left out (listed above)") } else { String::new() };
    output::print(&format!(
        "{} in {}, listed in drawings.csv{left}.\n{CAUTION}\n",
        counted(drawn, "drawing"),
        out.display()
    ))?;
    Ok(if left_out == 0 { Ending::Fine } else { Ending::Found })
}

/// The drawings of a bank while they are made.
struct Gallery<'a> {
    arguments: &'a Arguments,
    out: &'a Path,
    profile: &'a Profile,
    names: Names,
    list: Drawings,
    drawn: i64,
    left_out: i64,
}

impl Gallery<'_> {
    fn record(&mut self, chunk: &bank::Chunk, record: &bank::Record, file: &str) -> anyhow::Result<()> {
        let settings = self.profile.judge();
        let judgement = judge(&Context::new(&settings, chunk), record, file);
        let several = judgement.steps.len() > 1;
        let mut drawn = false;
        for step in &judgement.steps {
            let Some(start) = &step.start else { continue };
            let product = step.pushed.as_ref().map(|pushed| &pushed.product);
            let svg = picture(self.arguments.look(), start, &step.arrows, product);
            let wanted = if several { format!("{}-step-{}", judgement.id, step.number) } else { judgement.id.clone() };
            let name = self.names.of(&wanted);
            output::write(&self.out.join(&name), svg.as_bytes())?;
            let number = if several { step.number.to_string() } else { String::new() };
            self.list
                .row(file, record.line, &judgement.id, &number, &name)
                .context("drawings.csv cannot be written")?;
            drawn = true;
            self.drawn += 1;
        }
        if !drawn {
            self.left_out += 1;
            let why = judgement.findings.first().map_or("it has no start".into(), crate::findings::Finding::message);
            output::say(&format!("{}: left out: {}", plain(&judgement.id), plain(&why)));
        }
        Ok(())
    }
}

/// Names of files that every system takes, each once whatever it thinks of case.
#[derive(Debug, Default)]
struct Names {
    used: FxHashSet<String>,
    /// The next number of a name that is used, so that many equal ids cost no more than others.
    next: FxHashMap<String, u64>,
}

/// Characters of a name, before a number and the ending.
const LONGEST: usize = 100;

impl Names {
    fn of(&mut self, id: &str) -> String {
        let safe = |c: char| if c.is_ascii_alphanumeric() || "-_.".contains(c) { c } else { '_' };
        let text: String = id.trim().chars().take(LONGEST).map(safe).collect();
        let text = text.trim_matches('.');
        // Windows keeps these names for devices, with any ending.
        let stem = text.split('.').next().unwrap_or_default().to_ascii_uppercase();
        let is_device = matches!(stem.as_str(), "CON" | "PRN" | "AUX" | "NUL")
            || (stem.len() == 4 && ["COM", "LPT"].iter().any(|own| stem.starts_with(own)));
        let text = if text.is_empty() || is_device { format!("item_{text}") } else { text.to_owned() };
        let mut name = format!("{text}.svg");
        while !self.used.insert(name.to_ascii_lowercase()) {
            let next = self.next.entry(text.to_ascii_lowercase()).or_insert(2);
            name = format!("{text}-{next}.svg");
            *next += 1;
        }
        name
    }
}

#[cfg(test)]
mod tests {
    use super::Names;

    #[test]
    fn names_are_safe_and_each_stands_once() {
        let cases = [
            ("HM-1", "HM-1.svg"),
            ("hm-1", "hm-1-2.svg"),
            ("../../etc/passwd", "_.._etc_passwd.svg"),
            ("a/b", "a_b.svg"),
            ("a b", "a_b-2.svg"),
            ("...", "item_.svg"),
            ("nul", "item_nul.svg"),
            ("COM1.x", "item_COM1.x.svg"),
            ("Übung 3", "_bung_3.svg"),
            ("bank.csv:7", "bank.csv_7.svg"),
        ];
        let mut names = Names::default();
        let failures: Vec<String> = cases
            .iter()
            .map(|(id, expected)| (id, names.of(id), expected))
            .filter(|(_, own, expected)| own != *expected)
            .map(|failure| format!("{failure:?}"))
            .collect();
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
