//! A source that hands out no more bytes than it is allowed to, counts lines, and keeps the text of one record.
//!
//! quick-xml gathers an event (a tag, a run of text) whole before it returns it. A text node of a gigabyte would be
//! gathered too. So the bytes that one event may take are counted here, below the parser: past them reading fails, and
//! neither the parser nor anything above it ever holds more.

use std::io::{self, BufRead, Read};

/// Where a byte of a document is. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Position {
    /// Bytes before it.
    pub offset: u64,
    /// The line.
    pub line: u64,
    /// The character in the line.
    pub column: u64,
}

impl Default for Position {
    fn default() -> Self {
        Self { offset: 0, line: 1, column: 1 }
    }
}

impl Position {
    /// The position after these bytes.
    #[must_use]
    pub fn after(self, bytes: &[u8]) -> Self {
        let tail = memchr::memrchr(b'\n', bytes).map_or(bytes, |at| &bytes[at + 1..]);
        // A character starts at every byte that does not continue one.
        let characters = tail.iter().filter(|byte| **byte & 0xC0 != 0x80).count() as u64;
        let lines = memchr::memchr_iter(b'\n', bytes).count() as u64;
        Self {
            offset: self.offset + bytes.len() as u64,
            line: self.line + lines,
            column: if lines == 0 { self.column + characters } else { 1 + characters },
        }
    }
}

/// See the module.
pub(crate) struct Bounded<R> {
    inner: R,
    position: Position,
    /// Bytes that may still be handed out.
    allowance: usize,
    /// Whether reading failed because the allowance was used up.
    exhausted: bool,
    kept: Vec<u8>,
    /// Most bytes that `kept` may hold.
    room: usize,
    /// Whether more was consumed than `kept` holds.
    overflowed: bool,
}

impl<R> Bounded<R> {
    pub(crate) fn new(inner: R, room: usize) -> Self {
        let position = Position::default();
        Self { inner, position, allowance: 0, exhausted: false, kept: Vec::new(), room, overflowed: false }
    }

    /// Allows this many bytes from here on.
    pub(crate) fn allow(&mut self, bytes: usize) {
        self.allowance = bytes;
    }

    /// Forgets the bytes kept so far; those consumed from here on are kept.
    pub(crate) fn keep_from_here(&mut self) {
        self.kept.clear();
        self.overflowed = false;
    }

    /// The bytes kept so far, and whether they are all that were consumed.
    pub(crate) fn kept(&self) -> (&[u8], bool) {
        (&self.kept, !self.overflowed)
    }

    pub(crate) fn position(&self) -> Position {
        self.position
    }

    pub(crate) fn is_exhausted(&self) -> bool {
        self.exhausted
    }
}

impl<R: BufRead> Read for Bounded<R> {
    fn read(&mut self, target: &mut [u8]) -> io::Result<usize> {
        let available = self.fill_buf()?;
        let count = available.len().min(target.len());
        target[..count].copy_from_slice(&available[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl<R: BufRead> BufRead for Bounded<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        let available = self.inner.fill_buf()?;
        if self.allowance == 0 && !available.is_empty() {
            self.exhausted = true;
            return Err(io::Error::other("one piece of the document is too long"));
        }
        Ok(&available[..available.len().min(self.allowance)])
    }

    fn consume(&mut self, count: usize) {
        // What was filled is still there: `fill_buf` reads on only when its buffer is empty.
        let Ok(filled) = self.inner.fill_buf() else { return };
        let taken = &filled[..count.min(filled.len())];
        self.position = self.position.after(taken);
        if self.overflowed || self.kept.len() + taken.len() > self.room {
            self.overflowed = true;
        } else {
            self.kept.extend_from_slice(taken);
        }
        self.allowance -= taken.len().min(self.allowance);
        let count = taken.len();
        self.inner.consume(count);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_count_lines_and_characters() {
        let start = Position::default();
        let cases: [(&str, u64, u64); 5] =
            [("", 1, 1), ("ab", 1, 3), ("a\n", 2, 1), ("a\nbé", 2, 3), ("\r\n\n x", 3, 3)];
        for (text, line, column) in cases {
            let end = start.after(text.as_bytes());
            assert_eq!((end.line, end.column, end.offset), (line, column, text.len() as u64), "{text:?}");
        }
    }

    #[test]
    fn the_allowance_is_never_passed() {
        let text = [b'x'; 100];
        let mut source = Bounded::new(io::BufReader::with_capacity(7, &text[..]), 50);
        source.allow(30);
        let mut taken = 0;
        while let Ok(bytes) = source.fill_buf() {
            let count = bytes.len();
            taken += count;
            source.consume(count);
        }
        assert!(source.is_exhausted());
        assert_eq!((taken, source.kept().0.len(), source.kept().1), (30, 30, true));
        source.allow(30);
        while let Ok(bytes) = source.fill_buf() {
            let count = bytes.len();
            source.consume(count);
        }
        assert!(!source.kept().1 && source.kept().0.len() <= 50, "what is kept stays within its room");
    }
}
