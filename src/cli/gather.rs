//! `keyassay gather DIR... --out DIR`.

use super::Ending;
use super::audit::{self, FailOn};
use super::reports::ReportName;
use crate::audit::Partials;
use anyhow::Context as _;
use clap::Parser;
use std::path::PathBuf;

/// Arguments of `keyassay gather`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Folders with the partial audits of all shards.
    #[arg(required = true, value_name = "DIR")]
    folders: Vec<PathBuf>,
    /// Folder for the reports.
    #[arg(long, value_name = "DIR", default_value = "reports")]
    pub(super) out: PathBuf,
    /// Reports to write, separated by commas.
    #[arg(long, value_name = "LIST", value_delimiter = ',', default_value = "csv,html,json")]
    pub(super) write: Vec<ReportName>,
    /// The severity from which findings make the exit status 1.
    #[arg(long, value_name = "SEVERITY", default_value = "error")]
    pub(super) fail_on: FailOn,
    /// Threads; all cores by default.
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<usize>,
    /// No summary, no progress.
    #[arg(long)]
    pub(super) quiet: bool,
}

/// The command line that a partial audit keeps.
#[derive(Debug, Parser)]
#[command(no_binary_name = true)]
struct Kept {
    #[command(flatten)]
    audit: audit::Arguments,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let mut partials = Partials::open(&arguments.folders)?;
    let kept = Kept::try_parse_from(&partials.manifest().arguments)
        .context("the partial audits keep a command line that cannot be read")?;
    audit::run_with(&kept.audit.gathered(arguments), Some(&mut partials))
}
