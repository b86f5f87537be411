//! Where a byte of a bank came from.
//!
//! A [`Span`] counts bytes inside one text (a field, a record). Readers translate it into a line and a column of the
//! bank's file only when something is reported, so that the usual, sound item pays nothing for it.

/// A half-open range of bytes inside one text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The bytes from `start` up to, not including, `end`.
    #[must_use]
    pub fn new(start: usize, end: usize) -> Self {
        Self { start: start as u32, end: end as u32 }
    }

    /// The empty place before byte `at`.
    #[must_use]
    pub fn at(at: usize) -> Self {
        Self::new(at, at)
    }

    /// The text under the span; empty where the span does not fit the text.
    #[must_use]
    pub fn of(self, text: &str) -> &str {
        text.get(self.start as usize..self.end as usize).unwrap_or_default()
    }

    /// The smallest span that covers both.
    #[must_use]
    pub fn join(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }
}
