//! Standard output without panics.

use std::io::{self, Write};

/// Prints to standard output.
///
/// # Errors
/// Standard output cannot be written.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

/// Whether an error is the reader of our output going away.
pub(super) fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .any(|cause| cause.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe))
}
