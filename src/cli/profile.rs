//! `keyassay profile BANK…`.

use super::{Ending, output};
use crate::bank::sample::sample;
use crate::bank::{Again, Format, Settings, walk};
use crate::profile::guess::{Bank, READ, propose};
use crate::qti::Bytes;
use crate::report::terminal::plain;
use crate::source::Encoding;
use anyhow::Context as _;
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Arguments of `keyassay profile`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Files and folders of one bank, in any language; `-` is standard input.
    #[arg(required = true)]
    banks: Vec<PathBuf>,
    /// Format of standard input and of files whose ending does not say it.
    #[arg(long = "as", value_name = "FORMAT")]
    format: Option<String>,
    /// Encoding of files without a byte order mark, where it is known.
    #[arg(long, value_name = "NAME", value_parser = super::settings::encoding)]
    encoding: Option<Encoding>,
}

/// Runs the command: prints a profile on standard output.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let format = match &arguments.format {
        None => None,
        Some(name) => Some(Format::from_name(name).with_context(|| format!("there is no format '{name}'"))?),
    };
    let settings = Settings { encoding: arguments.encoding, ..Settings::default() };
    let mut banks = Vec::new();
    for path in &arguments.banks {
        if path == Path::new("-") {
            let format = format.context("standard input needs --as FORMAT")?;
            let mut bytes = Vec::new();
            io::stdin().take(settings.limits.zip_entry_bytes).read_to_end(&mut bytes).context("standard input")?;
            let bytes: Arc<[u8]> = bytes.into();
            banks
                .extend(bank("-".to_owned(), format, &settings, move || Ok(Box::new(Cursor::new(Arc::clone(&bytes))))));
            continue;
        }
        anyhow::ensure!(path.exists(), "{}: no such file or folder", path.display());
        let files = walk::walk(path, format).files;
        anyhow::ensure!(
            !files.is_empty() || path.is_dir(),
            "{}: its ending names no format: use --as FORMAT",
            path.display()
        );
        for (file, format) in files {
            let name = crate::source::path::name_of(&file);
            banks.extend(bank(name, format, &settings, move || Ok(Box::new(File::open(&file)?))));
        }
    }
    let Some(proposal) = propose(&banks) else {
        output::say("no table holds structures with arrows or answers: there is nothing to propose");
        return Ok(Ending::Found);
    };
    output::print(&proposal.text)?;
    Ok(Ending::Fine)
}

/// The beginning of a file; what cannot be read is said.
fn bank(
    name: String,
    format: Format,
    settings: &Settings,
    open: impl Fn() -> io::Result<Box<dyn Bytes>> + Send + Sync + 'static,
) -> Option<Bank> {
    let open: Arc<dyn Fn() -> io::Result<Box<dyn Bytes>> + Send + Sync> = Arc::new(open);
    let own = Arc::clone(&open);
    let again: Again = Box::new(move || own());
    match sample(&name, format, again, settings, READ) {
        Ok(samples) => Some(Bank { name, format, samples, open }),
        Err(error) => {
            output::say(&format!("passed over: {} {}", plain(&name), plain(&error.to_string())));
            None
        }
    }
}
