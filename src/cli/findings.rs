//! `keyassay findings [NAME]`.

use super::{Ending, output};
use crate::findings::Name;
use std::fmt::Write as _;

/// Arguments of `keyassay findings`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The finding; without it, all of them in one table.
    name: Option<String>,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let mut text = String::new();
    let Some(wanted) = &arguments.name else {
        for name in Name::ALL {
            let entry = name.entry();
            let _ = writeln!(text, "{:<24} {:<8} {}", entry.name, entry.severity.name(), entry.meaning);
        }
        output::print(&text)?;
        return Ok(Ending::Fine);
    };
    let Some(name) = Name::from_text(wanted) else {
        anyhow::bail!("there is no finding '{wanted}': `keyassay findings` lists them all");
    };
    let entry = name.entry();
    let _ = write!(
        text,
        "{} ({})\n\n{}\n\nExample\n  {}\n\nWhat to do\n  {}\n",
        entry.name,
        entry.severity.name(),
        entry.meaning,
        entry.example,
        entry.remedy
    );
    output::print(&text)?;
    Ok(Ending::Fine)
}
