//! `keyassay template FILE`.

use super::{Ending, output};
use crate::bank::write::template::{Kind, template};
use crate::report::file::WholeFile;
use crate::report::terminal::CAUTION_UNWRAPPED;
use anyhow::Context as _;
use std::path::{Path, PathBuf};

/// Arguments of `keyassay template`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The file to make; its ending says what: .csv, .jsonl, .xlsx, .ods.
    file: PathBuf,
}

/// Runs the command. A file that is there already is somebody's bank.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let path = &arguments.file;
    let kind = kind(path)?;
    anyhow::ensure!(!path.exists(), "{} is there already: give the template another name", path.display());
    let cannot = || format!("cannot write {}", path.display());
    let file = WholeFile::create(path).with_context(cannot)?;
    let mut file = template(file, kind, CAUTION_UNWRAPPED).with_context(cannot)?;
    file.finish().with_context(cannot)?;
    output::print(&format!(
        "{} has two worked examples and the fields explained: overwrite the examples, then `keyassay audit {}`.\n",
        path.display(),
        path.display()
    ))?;
    Ok(Ending::Fine)
}

fn kind(path: &Path) -> anyhow::Result<Kind> {
    let ending = path.extension().map(|own| own.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    Ok(match ending.as_str() {
        "csv" => Kind::Csv,
        "jsonl" | "ndjson" => Kind::JsonLines,
        "xlsx" => Kind::Xlsx,
        "ods" => Kind::Ods,
        _ => anyhow::bail!("{}: a template ends in .csv, .jsonl, .xlsx or .ods", path.display()),
    })
}
