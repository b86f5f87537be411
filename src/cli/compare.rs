//! `keyassay compare OLD… --with NEW… --out DIR`.

use super::settings::{Applied, BankOptions};
use super::{Ending, audit, output};
use crate::audit::Input;
use crate::bank::Format;
use crate::migration::detail::{Detail, change, details};
use crate::migration::pair::{Row, Verdict, by_id};
use crate::migration::written::of_id;
use crate::migration::{Chosen, Contents, Indexed, contents, index};
use crate::report::html::MigratedPage;
use crate::report::migration::MigrationReport;
use crate::report::stage::{Placed, Stage};
use crate::report::terminal;
use crate::source::counted;
use anyhow::Context as _;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Arguments of `keyassay compare`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The bank as it was: files and folders.
    #[arg(required = true)]
    old: Vec<PathBuf>,
    /// The bank as it is: files and folders.
    #[arg(long = "with", value_name = "NEW", num_args = 1.., required = true)]
    new: Vec<PathBuf>,
    /// Folder for the reports.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// A table with the columns old and new: ids that were changed on purpose.
    #[arg(long, value_name = "FILE")]
    ids: Option<PathBuf>,
    /// List items that are the same, too.
    #[arg(long)]
    all: bool,
    /// Threads; all cores by default.
    #[arg(long, value_name = "N")]
    jobs: Option<usize>,
    /// Format of files whose ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", value_parser = super::audit::format_names(), ignore_case = true)]
    format: Option<String>,
    /// No summary, no progress.
    #[arg(long)]
    quiet: bool,
    #[command(flatten)]
    options: BankOptions,
}

/// Bytes of a list of ids.
const LIST_BYTES: u64 = 1 << 28;
/// Rows whose items are in memory at one time.
const AT_ONCE: usize = 8_192;

/// One of the two banks.
struct Side {
    applied: Applied,
    inputs: Vec<Input>,
    indexed: Indexed,
}

impl Side {
    fn read(arguments: &Arguments, paths: &[PathBuf], format: Option<Format>) -> anyhow::Result<Self> {
        anyhow::ensure!(
            paths.iter().all(|path| path != Path::new("-")),
            "standard input cannot be compared, since banks are read twice: give files"
        );
        let applied = Applied::for_banks(&arguments.options, paths)?;
        let (inputs, skipped) = audit::files(paths, format, &applied)?;
        if skipped > 0 && !arguments.quiet {
            output::say(&format!("{} passed over: no bank", counted(skipped as i64, "file")));
        }
        let bar = audit::progress_bar(arguments.quiet);
        let bank = Arc::new(applied.profile.bank());
        let indexed = index(&bank, &inputs, &mut |items| bar.set_position(items))?;
        bar.finish_and_clear();
        for (name, why) in &indexed.unswept.unread {
            output::say(&terminal::plain(&format!("{name}: {why}")));
        }
        if indexed.items.is_empty() {
            let unread = indexed.unswept.unread.first().or(indexed.unswept.without_items.first());
            let why = unread.map_or_else(String::new, |(name, why)| format!(": {name}: {why}"));
            anyhow::bail!("nothing could be read{why}");
        }
        Ok(Self { applied, inputs, indexed })
    }

    /// What some items ask and answer.
    fn contents(&self, chosen: Chosen, quiet: bool) -> anyhow::Result<Contents> {
        let bar = audit::progress_bar(quiet);
        let (bank, judge) = (Arc::new(self.applied.profile.bank()), self.applied.profile.judge());
        let progress = &mut |items| bar.set_position(items);
        let contents = contents(&bank, &judge, &self.inputs, &self.indexed, chosen, progress)?;
        bar.finish_and_clear();
        Ok(contents)
    }

    /// The items at some places, read again.
    fn details(&self, wanted: &mut [(u32, bool)]) -> anyhow::Result<HashMap<u32, Detail>> {
        wanted.sort_unstable();
        let (bank, judge) = (Arc::new(self.applied.profile.bank()), self.applied.profile.judge());
        Ok(details(&bank, &judge, &self.inputs, &self.indexed, wanted)?)
    }

    fn place(&self, at: Option<u32>) -> [String; 2] {
        let print = at.and_then(|at| Some((at, self.indexed.items.get(at as usize)?)));
        print.map_or_else(Default::default, |(at, own)| [self.indexed.file(at).to_string(), own.line.to_string()])
    }
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let format = match &arguments.format {
        None => None,
        Some(name) => Some(Format::from_name(name).with_context(|| format!("there is no format '{name}'"))?),
    };
    let renamed = arguments.ids.as_deref().map_or_else(|| Ok(HashMap::new()), renamed)?;
    super::jobs::start(arguments.jobs)?;
    let old = Side::read(arguments, &arguments.old, format)?;
    let new = Side::read(arguments, &arguments.new, format)?;
    let rows = matched(&old, &new, &renamed, arguments.quiet)?;
    let totals: Vec<(&'static str, u64)> = Verdict::ALL
        .iter()
        .map(|verdict| (verdict.name(), rows.iter().filter(|row| row.verdict == *verdict).count() as u64))
        .collect();
    let unread: Vec<(String, String)> =
        [&old, &new].into_iter().flat_map(|side| side.indexed.unswept.unread.clone()).collect();
    let place = write(arguments, &old, &new, &rows, &totals, &unread)
        .with_context(|| format!("cannot write the reports in {}", arguments.out.display()))?;
    if !arguments.quiet {
        let [before, after] = [&old, &new].map(|side| counted(side.indexed.items.len() as i64, "item"));
        let mut text = format!("{before} before, {after} after.\n");
        for (name, count) in totals.iter().filter(|(_, count)| *count > 0) {
            let _ = writeln!(text, "  {name:<10} {count}");
        }
        output::print(&format!("{text}\nReports are in {}.\n{}\n", place.folder.display(), terminal::CAUTION))?;
    }
    output::all_replaced(&place)?;
    let is_of_note = rows.iter().any(|row| row.verdict.is_of_note()) || !unread.is_empty();
    Ok(if is_of_note { Ending::Found } else { Ending::Fine })
}

/// The rows of all items of both banks.
fn matched(old: &Side, new: &Side, renamed: &HashMap<u64, u64>, quiet: bool) -> anyhow::Result<Vec<Row>> {
    let judged_alike = old.applied.profile.judge() == new.applied.profile.judge();
    let pairing = by_id(&old.indexed.items, &new.indexed.items, renamed, judged_alike);
    let [of_old, of_new] = pairing.chosen();
    let (of_old, of_new) = (old.contents(of_old, quiet)?, new.contents(of_new, quiet)?);
    Ok(pairing.rows(&of_old, &of_new))
}

fn write(
    arguments: &Arguments,
    old: &Side,
    new: &Side,
    rows: &[Row],
    totals: &[(&'static str, u64)],
    unread: &[(String, String)],
) -> anyhow::Result<Placed> {
    let stage = Stage::create(&arguments.out)?;
    let mut report = MigrationReport::create(stage.folder(), totals)?;
    let mut page = MigratedPage::default();
    let octet = old.applied.profile.octet;
    let is_told = |row: &&Row| arguments.all || !matches!(row.verdict, Verdict::Same | Verdict::Rewritten);
    let told: Vec<&Row> = rows.iter().filter(is_told).collect();
    for some in told.chunks(AT_ONCE) {
        let wanted = |side: fn(&Row) -> Option<u32>| {
            some.iter().filter_map(|row| Some((side(row)?, row.verdict == Verdict::Changed))).collect::<Vec<_>>()
        };
        let olds = old.details(&mut wanted(Row::old_place))?;
        let news = new.details(&mut wanted(Row::new_place))?;
        for row in some {
            let one = row.old_place().and_then(|at| olds.get(&at));
            let other = row.new_place().and_then(|at| news.get(&at));
            let change = change(row, one, other);
            let places = [old.place(row.old_place()), new.place(row.new_place())];
            let shown = places
                .each_ref()
                .map(|[file, line]| if line.is_empty() { String::new() } else { format!("{file}:{line}") });
            page.add(row.verdict, [one, other], &shown, &change, octet);
            let id = |own: Option<&Detail>| own.map(|own| own.id.clone()).unwrap_or_default();
            let [[old_file, old_line], [new_file, new_line]] = places;
            let (of_old, of_new) = ([old_file, old_line, id(one)], [new_file, new_line, id(other)]);
            report.row(of_old, of_new, row.verdict.name(), change)?;
        }
    }
    report.finish()?;
    let names = |paths: &[PathBuf]| paths.iter().map(|path| path.display().to_string()).collect::<Vec<_>>().join(", ");
    let text = page.page([&names(&arguments.old), &names(&arguments.new)], totals, unread);
    output::write(&stage.folder().join("compare.html"), text.as_bytes())?;
    Ok(stage.finish(false)?)
}

/// The list of ids that were changed on purpose, as hashes.
fn renamed(path: &Path) -> anyhow::Result<HashMap<u64, u64>> {
    let text = super::settings::text_of(path, "list of ids", LIST_BYTES)?;
    let name = path.display();
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let headers = reader.headers().with_context(|| format!("{name} is no table"))?.clone();
    let column = |wanted: &str| {
        let at = headers.iter().position(|own| own.eq_ignore_ascii_case(wanted));
        at.with_context(|| format!("{name} has no column '{wanted}': its header row should be old,new"))
    };
    let (old, new) = (column("old")?, column("new")?);
    let mut all = HashMap::new();
    for row in reader.records() {
        let row = row.with_context(|| format!("{name} is no table"))?;
        let (old, new) = (row.get(old).unwrap_or_default(), row.get(new).unwrap_or_default());
        let line = row.position().map_or(0, csv::Position::line);
        anyhow::ensure!(!old.is_empty() && !new.is_empty(), "{name}, line {line}: an id is missing");
        let before = all.insert(of_id(old), of_id(new));
        anyhow::ensure!(before.is_none(), "{name}, line {line}: the old id '{old}' stands twice");
    }
    Ok(all)
}
