//! Standard output without panics.

use crate::report::file::WholeFile;
use crate::report::stage::Placed;
use crate::report::terminal;
use anyhow::Context as _;
use std::io::{self, IsTerminal as _, Write};
use std::path::Path;

/// Prints to standard output.
///
/// # Errors
/// Standard output cannot be written.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).context("standard output cannot be written")
}

/// Says something on standard error, after the name of the program: in lines of a terminal's width on one, in one line elsewhere.
pub(super) fn say(text: &str) {
    let text = format!("keyassay: {text}");
    if io::stderr().is_terminal() {
        eprintln!("{}", terminal::wrapped(&text, terminal::WIDTH - 2).join("\n  "));
    } else {
        eprintln!("{text}");
    }
}

/// Writes a file that was asked for, whole or not at all.
///
/// # Errors
/// It cannot be written.
pub(super) fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let written = WholeFile::create(path).and_then(|mut file| {
        file.write_all(bytes)?;
        file.finish()
    });
    written.with_context(|| format!("{} cannot be written", path.display()))
}

/// Fails where a report is still the old one because another program holds it.
///
/// # Errors
/// It says which, and where the new one is.
pub(super) fn all_replaced(placed: &Placed) -> anyhow::Result<()> {
    let told = placed.told();
    anyhow::ensure!(told.is_empty(), told.join("\n"));
    Ok(())
}

/// Whether an error is the reader of our output going away.
pub(super) fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .any(|cause| cause.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe))
}
