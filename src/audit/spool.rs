//! Standard input, kept while it is read so that it can be read once more.

use std::io::{self, Cursor, Read};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Bytes that are kept. A bank that is longer comes from a file, where it can be read again.
const MOST_BYTES: usize = 1 << 26;

/// What was read of a stream.
#[derive(Debug, Clone, Default)]
pub struct Spool(Arc<Mutex<Kept>>);

#[derive(Debug, Default)]
struct Kept {
    bytes: Vec<u8>,
    was_opened: bool,
    /// Whether it was read to its end.
    is_whole: bool,
    /// Whether it was too long to keep.
    is_over: bool,
}

impl Spool {
    fn kept(&self) -> MutexGuard<'_, Kept> {
        // A lock can only be poisoned by a panic, and there is none.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether the stream can be read once more.
    pub(super) fn is_whole(&self) -> bool {
        self.kept().is_whole
    }

    /// The stream: itself the first time, what was kept of it then.
    pub(super) fn open(&self, stream: impl Read + Send + 'static) -> io::Result<Box<dyn Read + Send>> {
        let mut kept = self.kept();
        if !kept.was_opened {
            kept.was_opened = true;
            return Ok(Box::new(Copied { stream, spool: self.clone() }));
        }
        if !kept.is_whole {
            return Err(io::Error::other("standard input can be read only once"));
        }
        Ok(Box::new(Cursor::new(kept.bytes.clone())))
    }
}

/// Keeps what is read.
struct Copied<R> {
    stream: R,
    spool: Spool,
}

impl<R: Read> Read for Copied<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.stream.read(buffer)?;
        let mut kept = self.spool.kept();
        kept.is_over |= kept.bytes.len() + count > MOST_BYTES;
        if kept.is_over {
            kept.bytes = Vec::new();
        } else {
            kept.bytes.extend_from_slice(buffer.get(..count).unwrap_or_default());
            kept.is_whole |= count == 0 && !buffer.is_empty();
        }
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::Spool;
    use std::io::Read as _;

    #[test]
    fn a_stream_that_was_read_to_its_end_is_read_again() {
        let spool = Spool::default();
        let mut failures = Vec::new();
        for time in 0..3 {
            let mut text = String::new();
            let opened = spool.open(&b"a bank"[..]).and_then(|mut stream| stream.read_to_string(&mut text));
            if opened.is_err() || text != "a bank" || !spool.is_whole() {
                failures.push(format!("time {time}: {opened:?} {text}"));
            }
        }
        let cut = Spool::default();
        let _ = cut.open(&b"a bank"[..]);
        if cut.open(&b""[..]).is_ok() {
            failures.push("what was not read to its end was opened again".to_owned());
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
