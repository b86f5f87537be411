//! `keyassay answers BANK… --out DIR`.

use super::settings::{Applied, BankOptions};
use super::{Ending, audit, output};
use crate::audit::{Plan, run as audit_run};
use crate::bank::Format;
use crate::demonstration;
use crate::report::html::{AnswerBook, BookRenderer, Shape};
use crate::report::stage::Stage;
use crate::report::terminal;
use crate::source::counted;
use anyhow::Context as _;
use std::path::PathBuf;
use std::sync::Arc;

/// Arguments of `keyassay answers`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Files and folders of banks. Without any, the built-in demonstration bank.
    banks: Vec<PathBuf>,
    /// Folder for the book.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// A page to print, or text with one picture an item.
    #[arg(long = "format", value_name = "SHAPE", value_enum, default_value_t = Written::Html)]
    shape: Written,
    /// What to leave out: the working, so that the bare key is left.
    #[arg(long, value_name = "PART", value_enum)]
    without: Option<Part>,
    /// Threads; all cores by default.
    #[arg(long, value_name = "N")]
    jobs: Option<usize>,
    /// Format of files whose ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", value_parser = super::audit::format_names(), ignore_case = true)]
    format_of_banks: Option<String>,
    /// No summary, no progress.
    #[arg(long)]
    quiet: bool,
    #[command(flatten)]
    options: BankOptions,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Written {
    Html,
    Markdown,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Part {
    Working,
}

/// Runs the command: status 1 where items are withheld.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let format = match &arguments.format_of_banks {
        None => None,
        Some(name) => Some(Format::from_name(name).with_context(|| format!("there is no format '{name}'"))?),
    };
    let is_demonstration = arguments.banks.is_empty();
    let applied = Applied::for_banks(&arguments.options, &arguments.banks)?;
    let inputs =
        if is_demonstration { demonstration::inputs() } else { audit::files(&arguments.banks, format, &applied)?.0 };
    super::jobs::start(arguments.jobs)?;
    let shape = if arguments.shape == Written::Markdown { Shape::Markdown } else { Shape::Html };
    let octet = applied.profile.octet;
    let renderer = BookRenderer { octet, shape, bare: arguments.without == Some(Part::Working) };
    let plan = Plan {
        bank: Arc::new(applied.profile.bank()),
        judge: applied.profile.judge(),
        severities: applied.profile.severities.clone(),
        show_sound: true,
        renderer: Some(Arc::new(renderer)),
        ..Plan::default()
    };
    let cannot_write = || format!("cannot write the book in {}", arguments.out.display());
    let stage = Stage::create(&arguments.out).with_context(cannot_write)?;
    let names: Vec<String> = arguments.banks.iter().map(|path| path.display().to_string()).collect();
    let what = if is_demonstration { "The demonstration bank of keyassay".to_owned() } else { names.join(", ") };
    let mut book = AnswerBook::create(stage.folder(), what, renderer).with_context(cannot_write)?;
    let bar = audit::progress_bar(arguments.quiet);
    let summary =
        audit_run(&plan, &inputs, &mut [&mut book], &mut |items| bar.set_position(items)).with_context(cannot_write)?;
    bar.finish_and_clear();
    drop(book);
    for (name, why) in &summary.unread {
        output::say(&terminal::plain(&format!("{name}: {why}")));
    }
    let totals = &summary.totals;
    anyhow::ensure!(totals.items > 0, "nothing could be read");
    let place = stage.finish(false).with_context(cannot_write)?;
    let withheld = totals.items - totals.sound;
    if !arguments.quiet {
        let given = counted(totals.sound as i64, "item");
        output::print(&format!(
            "{given} with worked answers, {withheld} withheld.\nThe book is in {}.\n{}\n",
            place.folder.display(),
            terminal::CAUTION
        ))?;
    }
    output::all_replaced(&place)?;
    let is_whole = (withheld == 0 && summary.unread.is_empty()) || is_demonstration;
    Ok(if is_whole { Ending::Fine } else { Ending::Found })
}
