//! `keyassay amend BANK --with FILE --out FILE`.

mod decided;
mod sheet;

use super::doubt::encoding_in_doubt;
use super::settings::{Applied, BankOptions};
use super::{Ending, output};
use crate::bank::amend::{Amended, Edit, amend};
use crate::bank::{Format, walk};
use crate::findings::Grade;
use crate::report::corrections::{NAME, files_beside};
use crate::report::known::write_kept;
use crate::report::terminal::plain;
use crate::source::path::name_of;
use crate::source::{Mark, counted};
use anyhow::Context as _;
use decided::{Decided, Decisions, List, Row};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Arguments of `keyassay amend`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The bank, as it was audited.
    bank: PathBuf,
    /// The corrections: the corrections.csv of an audit, or its audit.xlsx with decisions, as .xlsx, .ods or CSV.
    #[arg(long = "with", value_name = "FILE")]
    corrections: PathBuf,
    /// Where the corrected copy goes.
    #[arg(long, value_name = "FILE", required_unless_present = "in_place", conflicts_with = "in_place")]
    out: Option<PathBuf>,
    /// Write over the bank itself.
    #[arg(long)]
    in_place: bool,
    /// The least grade of corrections to apply: certain, or likely as well.
    #[arg(long, value_enum, default_value_t = LeastGrade::Certain)]
    grade: LeastGrade,
    /// Format of the bank, where its ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", value_parser = super::audit::format_names(), ignore_case = true)]
    format: Option<String>,
    /// Start a list of known findings with the rows whose decision is to keep.
    #[arg(long, value_name = "FILE")]
    write_known: Option<PathBuf>,
    /// Go on although nothing says what the bank was when it was audited; every field must still read as stated.
    #[arg(long)]
    unchecked: bool,
    #[command(flatten)]
    options: BankOptions,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum LeastGrade {
    /// Only what is certain.
    Certain,
    /// What is likely as well.
    Likely,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let bank = &arguments.bank;
    let format = match &arguments.format {
        Some(name) => Format::from_name(name).with_context(|| format!("there is no format '{name}'"))?,
        None => walk::of_file(bank)
            .with_context(|| format!("{}: its ending names no format: use --as FORMAT", bank.display()))?,
    };
    if let Some(path) = &arguments.write_known {
        anyhow::ensure!(!path.exists(), "{} is there already: give --write-known another name", path.display());
    }
    let settings = Arc::new(Applied::of_bank(&arguments.options, bank)?);
    if let Some(doubt) = encoding_in_doubt(bank, format, settings.encoding) {
        output::say(&doubt);
    }
    let limit = settings.limits.file_bytes;
    let length = fs::metadata(bank).map_or(0, |file| file.len());
    anyhow::ensure!(length <= limit, "{} passes the limit `file-bytes` of {limit}", bank.display());
    let bytes = fs::read(bank).with_context(|| format!("{} cannot be read", bank.display()))?;
    let decisions = decided::read(&arguments.corrections, arguments.unchecked)?;
    let name = audited_name(arguments, &bytes, &decisions)?;
    let least = if arguments.grade == LeastGrade::Certain { Grade::Certain } else { Grade::Likely };
    let sorted = Sorted::new(&decisions, &name, least);
    let mut edits: Vec<Edit> = sorted.applied.iter().filter_map(|row| row.edit.clone()).collect();
    // Only sheets of a workbook are told apart: every other bank is one file, or written as one.
    let names_sheet = |edit: &Edit| format == Format::Workbook && edit.file.starts_with(&format!("{name}#"));
    edits.iter_mut().filter(|edit| !names_sheet(edit)).for_each(|edit| edit.file.clear());
    let amended = amend(&name, format, &bytes, &settings, &edits)
        .with_context(|| format!("{} cannot be read as a bank", bank.display()))?;
    let out = destination(arguments)?;
    output::write(out, &amended.bytes)?;
    let known = match &arguments.write_known {
        Some(path) => Some((path, keep(path, &sorted.kept)?)),
        None => None,
    };
    output::print(&summary(out, &amended, &edits, &sorted, known))?;
    let is_whole = amended.refused.is_empty() && sorted.bad.is_empty();
    Ok(if is_whole { Ending::Fine } else { Ending::Found })
}

/// The rows about one file, by what becomes of them.
#[derive(Default)]
struct Sorted<'a> {
    applied: Vec<&'a Row>,
    kept: Vec<&'a Row>,
    asked: usize,
    undecided: usize,
    /// Left for their grade: likely ones, and those without a grade.
    likely: usize,
    ungraded: usize,
    bad: Vec<(&'a Row, &'a str)>,
}

impl<'a> Sorted<'a> {
    fn new(decisions: &'a Decisions, name: &str, least: Grade) -> Self {
        let mut sorted = Self::default();
        for row in &decisions.rows {
            let is_own = row.file == name || row.file.strip_prefix(name).is_some_and(|rest| rest.starts_with('#'));
            match &row.decided {
                // A row that was damaged may be about any file.
                Decided::Bad(why) => sorted.bad.push((row, why)),
                _ if !is_own => {}
                Decided::Accept | Decided::Instead(_) => sorted.applied.push(row),
                Decided::Keep => sorted.kept.push(row),
                Decided::Ask => sorted.asked += 1,
                Decided::Open if decisions.list == List::Decisions => sorted.undecided += 1,
                Decided::Open if row.grade >= least => sorted.applied.push(row),
                Decided::Open if row.grade == Grade::Likely => sorted.likely += 1,
                Decided::Open => sorted.ungraded += 1,
            }
        }
        sorted
    }
}

/// Writes the findings of rows that are kept into a list of known ones; gives how many.
fn keep(path: &Path, kept: &[&Row]) -> anyhow::Result<usize> {
    let rows = kept
        .iter()
        .flat_map(|row| row.findings.split_whitespace().map(|finding| [row.item.as_str(), finding, row.note.trim()]));
    write_kept(path, rows).with_context(|| format!("{} cannot be written", path.display()))
}

/// Where the copy goes: never over the bank unless that was said.
fn destination(arguments: &Arguments) -> anyhow::Result<&Path> {
    let Some(out) = &arguments.out else { return Ok(&arguments.bank) };
    let same = fs::canonicalize(out).is_ok_and(|out| fs::canonicalize(&arguments.bank).is_ok_and(|bank| bank == out));
    anyhow::ensure!(!same, "{} is the bank itself: --in-place writes over it", out.display());
    Ok(out)
}

/// Formulas that are named.
const TOLD: usize = 20;

fn summary(
    out: &Path,
    amended: &Amended,
    edits: &[Edit],
    sorted: &Sorted<'_>,
    known: Option<(&PathBuf, usize)>,
) -> String {
    let mut text = format!("{} written to {}\n", counted(amended.applied as i64, "correction"), out.display());
    let keep = if known.is_some() { "to keep" } else { "to keep: --write-known FILE makes a list of them" };
    let left = [
        (sorted.likely, "likely: --grade likely applies these too"),
        (sorted.ungraded, "without a grade: applied where their decision says accept"),
        (sorted.undecided, "not decided"),
        (sorted.asked, "to ask"),
        (sorted.kept.len(), keep),
    ];
    for (count, why) in left.into_iter().filter(|(count, _)| *count > 0) {
        let _ = writeln!(text, "{count} left as {}: {why}", if count == 1 { "it is" } else { "they are" });
    }
    if !amended.stale.is_empty() {
        let told: Vec<&str> = amended.stale.iter().take(TOLD).map(String::as_str).collect();
        let more = if amended.stale.len() > TOLD {
            format!(" and {} more", amended.stale.len() - TOLD)
        } else {
            String::new()
        };
        let _ = writeln!(text, "stale until the workbook is recalculated: {}{more}", plain(&told.join(", ")));
    }
    if let Some((path, count)) = known {
        let _ = writeln!(text, "{} written to {}", counted(count as i64, "known finding"), path.display());
    }
    let mut refused = |line: u32, item: &str, step: u32, why: &dyn std::fmt::Display| {
        let step = if step > 0 { format!(", step {step}") } else { String::new() };
        let _ = writeln!(text, "not applied: line {line}, {}{step}: {why}", plain(item));
    };
    for (at, why) in &amended.refused {
        if let Some(edit) = edits.get(*at) {
            refused(edit.line, &edit.item, edit.step, why);
        }
    }
    for (row, why) in &sorted.bad {
        refused(row.line, &row.item, 0, &plain(why));
    }
    text
}

/// The name under which the bank was audited, once it is clear that it is what it was then.
fn audited_name(arguments: &Arguments, bytes: &[u8], decisions: &Decisions) -> anyhow::Result<String> {
    let own = name_of(&arguments.bank);
    let file_name = |path: &str| Path::new(path).file_name().map(std::ffi::OsStr::to_os_string);
    let is_named = |name: &str| name == own || file_name(name) == file_name(&own);
    let files = marks(arguments, decisions)?.filter(|_| !arguments.unchecked);
    let Some(files) = files else {
        let list = files_beside(&arguments.corrections);
        anyhow::ensure!(
            arguments.unchecked || decisions.list == List::Decisions,
            "{} is missing: it says what the bank was when it was audited; --unchecked goes on without",
            list.display()
        );
        // A saved sheet does not say it; each of its rows holds what its field says now.
        let bare = |row: &Row| row.file.split('#').next().unwrap_or_default().to_owned();
        let names: Vec<String> = decisions.rows.iter().map(bare).collect();
        let named = names.iter().find(|name| **name == own).or_else(|| names.iter().find(|name| is_named(name)));
        return named.cloned().with_context(|| format!("no row is about {own}"));
    };
    let mark = Mark::of(bytes).to_string();
    let is_same = |file: &&[String; 3]| file[2] == mark && file[1] == bytes.len().to_string();
    let same: Vec<&[String; 3]> = files.iter().filter(is_same).collect();
    let best = same.iter().find(|file| file[0] == own).or_else(|| same.iter().find(|file| is_named(&file[0])));
    if let Some(file) = best.or(same.first()) {
        return Ok(file[0].clone());
    }
    anyhow::ensure!(!files.iter().any(|file| is_named(&file[0])), "{own} has changed since its audit: audit it again");
    anyhow::bail!("{} does not speak of {own}: audit it first", arguments.corrections.display())
}

/// What the files of the bank were when they were audited: the workbook says it, or the list beside the table.
fn marks(arguments: &Arguments, decisions: &Decisions) -> anyhow::Result<Option<Vec<[String; 3]>>> {
    if let Some(marks) = decisions.marks.as_ref().filter(|marks| !marks.is_empty()) {
        return Ok(Some(marks.clone()));
    }
    let own = files_beside(&arguments.corrections);
    let beside = arguments.corrections.with_file_name(files_beside(Path::new(NAME)));
    let lists = if decisions.list == List::Decisions { vec![own, beside] } else { vec![own] };
    let Some(list) = lists.into_iter().find(|list| list.exists()) else { return Ok(None) };
    let rows = sheet::read(&list)?.rows;
    let file = |row: &Vec<String>| {
        let [name, bytes, mark] = row.get(..3)? else { return None };
        Some([crate::report::cell::as_written(name), bytes.clone(), mark.clone()])
    };
    Ok(Some(rows.iter().skip(1).filter_map(file).collect()))
}
