//! Standard output without panics.

use crate::report::file::WholeFile;
use anyhow::Context as _;
use std::io::{self, Write};
use std::path::Path;

/// Prints to standard output.
///
/// # Errors
/// Standard output cannot be written.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).context("standard output cannot be written")
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

/// Whether an error is the reader of our output going away.
pub(super) fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .any(|cause| cause.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe))
}
