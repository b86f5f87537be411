//! `keyassay survey BANK… --out DIR`.

use super::settings::{Applied, BankOptions};
use super::{Ending, audit, output};
use crate::bank::Format;
use crate::demonstration;
use crate::report::stage::Stage;
use crate::report::terminal::{self, plain};
use crate::source::counted;
use crate::survey::{Survey, survey, write_page, write_tables};
use anyhow::Context as _;
use std::path::PathBuf;
use std::sync::Arc;

/// Arguments of `keyassay survey`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Files and folders of banks. Without any, the built-in demonstration bank.
    banks: Vec<PathBuf>,
    /// Folder for survey.html, survey.csv and survey.json.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Threads; all cores by default.
    #[arg(long, value_name = "N")]
    jobs: Option<usize>,
    /// Format of files whose ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", value_parser = audit::format_names(), ignore_case = true)]
    format: Option<String>,
    /// No summary, no progress.
    #[arg(long)]
    quiet: bool,
    #[command(flatten)]
    options: BankOptions,
}

/// Runs the command: status 1 where items could not be counted.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let format = arguments.format.as_deref().and_then(Format::from_name);
    let is_demonstration = arguments.banks.is_empty();
    let applied = Applied::for_banks(&arguments.options, &arguments.banks)?;
    let inputs =
        if is_demonstration { demonstration::inputs() } else { audit::files(&arguments.banks, format, &applied)?.0 };
    super::jobs::start(arguments.jobs)?;
    let bank = Arc::new(applied.profile.bank());
    let bar = audit::progress_bar(arguments.quiet);
    let found = survey(&bank, &applied.profile.judge(), &inputs, |items| bar.set_position(items))?;
    bar.finish_and_clear();
    for (name, why) in &found.unswept.unread {
        output::say(&plain(&format!("{name}: {why}")));
    }
    anyhow::ensure!(found.items > 0, "nothing could be read");
    let cannot_write = || format!("cannot write the survey in {}", arguments.out.display());
    let names: Vec<String> = arguments.banks.iter().map(|path| path.display().to_string()).collect();
    let what = if is_demonstration { "the demonstration bank of keyassay".to_owned() } else { names.join(", ") };
    let stage = Stage::create(&arguments.out).with_context(cannot_write)?;
    write_tables(&found, stage.folder()).with_context(cannot_write)?;
    write_page(&found, &what, stage.folder()).with_context(cannot_write)?;
    let place = stage.finish(false).with_context(cannot_write)?;
    if !arguments.quiet {
        let folder = place.folder.display();
        output::print(&format!("{}\nThe survey is in {folder}.\n{}\n", told(&found), terminal::CAUTION))?;
    }
    output::all_replaced(&place)?;
    let is_whole = found.unread == 0 && found.unpushed == 0 && found.unswept.unread.is_empty();
    Ok(if is_whole || is_demonstration { Ending::Fine } else { Ending::Found })
}

/// The survey in a few lines.
fn told(found: &Survey) -> String {
    let items = counted(found.items as i64, "item");
    let steps = counted(found.steps as i64, "step");
    let arrows = counted(found.arrows as i64, "arrow");
    let families = found.families.count();
    let mut lines = vec![format!("{items}: {steps} with {arrows}, {families} different reaction centres")];
    let left_out = [
        (found.unread, "without a start that can be read: counted only by task and form of answer"),
        (found.unpushed, "with arrows that cannot be pushed: those steps are not counted"),
    ];
    let told = left_out.into_iter().filter(|(count, _)| *count > 0);
    lines.extend(told.map(|(count, why)| format!("{} {why}", counted(count as i64, "item"))));
    lines.join("\n") + "\n"
}
