//! `keyassay amend BANK --with FILE --out FILE`.

use super::settings::{Applied, BankOptions};
use super::{Ending, output};
use crate::bank::amend::{Amended, Edit, amend};
use crate::bank::{Format, fields, walk};
use crate::findings::Grade;
use crate::report::corrections::{self, COLUMNS, FILE_COLUMNS, files_beside};
use crate::report::csv::as_written;
use crate::report::terminal::plain;
use crate::source::{Mark, counted};
use anyhow::Context as _;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Arguments of `keyassay amend`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The bank, as it was audited.
    bank: PathBuf,
    /// The corrections: the corrections.csv of an audit. Rows may be taken out, and what they propose changed.
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
    #[arg(long = "as", value_name = "FORMAT")]
    format: Option<String>,
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

/// A row of the corrections.
struct Row {
    file: String,
    grade: Grade,
    edit: Edit,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let bank = &arguments.bank;
    let format = match &arguments.format {
        Some(name) => Format::from_name(name).with_context(|| format!("there is no format '{name}'"))?,
        None => walk::of_file(bank)
            .with_context(|| format!("{}: its ending names no format: use --as FORMAT", bank.display()))?,
    };
    let settings = Arc::new(Applied::of_bank(&arguments.options, bank)?);
    let limit = settings.limits.file_bytes;
    let length = fs::metadata(bank).map_or(0, |file| file.len());
    anyhow::ensure!(length <= limit, "{} passes the limit `file-bytes` of {limit}", bank.display());
    let bytes = fs::read(bank).with_context(|| format!("{} cannot be read", bank.display()))?;
    let rows = rows(&arguments.corrections)?;
    let name = audited_name(arguments, &bytes, &rows)?;
    let least = if arguments.grade == LeastGrade::Certain { Grade::Certain } else { Grade::Likely };
    let own = || rows.iter().filter(|row| row.file == name);
    let edits: Vec<Edit> = own().filter(|row| row.grade >= least).map(|row| row.edit.clone()).collect();
    let passed_over = own().count() - edits.len();
    let amended = amend(&name, format, &bytes, &settings, &edits)
        .with_context(|| format!("{} cannot be read as a bank", bank.display()))?;
    let out = destination(arguments)?;
    output::write(out, &amended.bytes)?;
    output::print(&summary(out, &amended, &edits, passed_over))?;
    Ok(if amended.refused.is_empty() { Ending::Fine } else { Ending::Found })
}

/// Where the copy goes: never over the bank unless that was said.
fn destination(arguments: &Arguments) -> anyhow::Result<&Path> {
    let Some(out) = &arguments.out else { return Ok(&arguments.bank) };
    let same = fs::canonicalize(out).is_ok_and(|out| fs::canonicalize(&arguments.bank).is_ok_and(|bank| bank == out));
    anyhow::ensure!(!same, "{} is the bank itself: --in-place writes over it", out.display());
    Ok(out)
}

fn summary(out: &Path, amended: &Amended, edits: &[Edit], passed_over: usize) -> String {
    let mut text = format!("{} written to {}\n", counted(amended.applied as i64, "correction"), out.display());
    if passed_over > 0 {
        let _ = writeln!(text, "{passed_over} of a lower grade left out");
    }
    for (at, why) in &amended.refused {
        if let Some(edit) = edits.get(*at) {
            let step = if edit.step > 0 { format!(", step {}", edit.step) } else { String::new() };
            let _ = writeln!(text, "not applied: line {}, {}{step}: {why}", edit.line, plain(&edit.item));
        }
    }
    text
}

/// The name under which the bank was audited, once it is clear that it is what it was then.
fn audited_name(arguments: &Arguments, bytes: &[u8], rows: &[Row]) -> anyhow::Result<String> {
    let own = arguments.bank.display().to_string();
    let file_name = |path: &str| Path::new(path).file_name().map(std::ffi::OsStr::to_os_string);
    let is_named = |name: &str| name == own || file_name(name) == file_name(&own);
    let list = files_beside(&arguments.corrections);
    if !list.exists() || arguments.unchecked {
        anyhow::ensure!(
            arguments.unchecked,
            "{} is missing: it says what the bank was when it was audited; --unchecked goes on without",
            list.display()
        );
        let named = rows.iter().map(|row| &row.file).find(|name| **name == own);
        let named = named.or_else(|| rows.iter().map(|row| &row.file).find(|name| is_named(name)));
        return named.cloned().with_context(|| format!("no correction is about {own}"));
    }
    let files = table(&list, &FILE_COLUMNS)?;
    let mark = Mark::of(bytes).to_string();
    let is_same = |file: &&Vec<String>| file[2] == mark && file[1] == bytes.len().to_string();
    let same: Vec<&Vec<String>> = files.iter().filter(is_same).collect();
    let best = same.iter().find(|file| file[0] == own).or_else(|| same.iter().find(|file| is_named(&file[0])));
    if let Some(file) = best.or(same.first()) {
        return Ok(file[0].clone());
    }
    anyhow::ensure!(!files.iter().any(|file| is_named(&file[0])), "{own} has changed since its audit: audit it again");
    anyhow::bail!("{} does not speak of {own}: audit it first", list.display())
}

/// The rows of the corrections.
fn rows(path: &Path) -> anyhow::Result<Vec<Row>> {
    let mut rows = Vec::new();
    for (at, cells) in table(path, &COLUMNS)?.into_iter().enumerate() {
        let [file, line, item, step, field, stated, proposed, grade, _why] =
            <[String; 9]>::try_from(cells).unwrap_or_default();
        let bad = |what: &str| format!("{}: row {}: {what}", path.display(), at + 2);
        let line = line.parse().ok().with_context(|| bad("the line is no number"))?;
        let step = if step.is_empty() { Some(0) } else { step.parse().ok() };
        let step = step.with_context(|| bad("the step is no number"))?;
        let grade = Grade::from_name(&grade).with_context(|| bad("the grade is none of certain, likely, none"))?;
        let field =
            crate::findings::Target::from_name(&field).and_then(|target| fields::Name::from_text(target.name()));
        let field = field.with_context(|| bad("the field is none of answer, arrows, key"))?;
        rows.push(Row { file, grade, edit: Edit { line, item, step, field, stated, proposed } });
    }
    Ok(rows)
}

/// A table that an audit wrote, as texts.
fn table(path: &Path, columns: &[&str]) -> anyhow::Result<Vec<Vec<String>>> {
    let unreadable = || format!("{} cannot be read", path.display());
    let mut reader = csv::ReaderBuilder::new().has_headers(true).from_path(path).with_context(unreadable)?;
    let header: Vec<String> = reader.headers().with_context(unreadable)?.iter().map(str::to_owned).collect();
    let places: Vec<usize> = columns
        .iter()
        .map(|column| {
            header
                .iter()
                .position(|own| own.trim_start_matches('\u{feff}') == *column)
                .with_context(|| format!("{} has no column '{column}': it is no {}", path.display(), corrections::NAME))
        })
        .collect::<anyhow::Result<_>>()?;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.with_context(unreadable)?;
        rows.push(places.iter().map(|at| as_written(record.get(*at).unwrap_or_default())).collect());
    }
    Ok(rows)
}
