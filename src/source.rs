//! Where a byte of a bank came from.
//!
//! A [`Span`] counts bytes inside one text (a field, a record). Readers translate it into a line and a column of the
//! bank's file only when something is reported, so that the usual, sound item pays nothing for it.

pub mod encoding;
pub mod packed;
pub(crate) mod path;

pub use encoding::Encoding;

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

    /// The span behind `by` bytes more.
    #[must_use]
    pub fn moved(self, by: u32) -> Self {
        Self { start: self.start.saturating_add(by), end: self.end.saturating_add(by) }
    }

    /// The smallest span that covers both.
    #[must_use]
    pub fn join(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }
}

/// A number and its noun, which takes an `s` unless there is one: `1 hydrogen`, `2 hydrogens`.
pub(crate) fn counted(count: impl Into<i64>, noun: &str) -> String {
    let mut text = String::with_capacity(24);
    add_counted(&mut text, count, noun);
    text
}

/// The beginning of a text that may be as long as a record, as a message shows it.
pub(crate) fn clipped(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

/// Adds what [`counted`] says to a text.
pub(crate) fn add_counted(text: &mut String, count: impl Into<i64>, noun: &str) {
    let count = count.into();
    if count < 0 {
        text.push('-');
    }
    add_number(text, count.unsigned_abs());
    text.extend([" ", noun, if count == 1 { "" } else { "s" }]);
}

/// A charge with its sign: `+1`, `-1`, `0`.
pub(crate) fn signed(charge: impl Into<i64>) -> String {
    let mut text = String::with_capacity(8);
    add_signed(&mut text, charge);
    text
}

/// Adds what [`signed`] says to a text.
pub(crate) fn add_signed(text: &mut String, charge: impl Into<i64>) {
    let charge = charge.into();
    match charge {
        0 => {}
        1.. => text.push('+'),
        _ => text.push('-'),
    }
    add_number(text, charge.unsigned_abs());
}

/// Adds a number to a text. Formatting by the library costs several times as much, which shows where a bank has many faults.
pub(crate) fn add_number(text: &mut String, number: u64) {
    let mut unit = 1;
    while number / unit >= 10 {
        unit *= 10;
    }
    while unit > 0 {
        text.push(char::from(b'0' + (number / unit % 10) as u8));
        unit /= 10;
    }
}

/// Whether a character is a mark of the direction of writing, which can make a line read as another one (Unicode Standard Annex 9).
pub(crate) fn turns_direction(c: char) -> bool {
    matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// What a file was: its length and a number made of all its bytes.
///
/// It tells a file that was changed from one that was not, as when a bank is corrected after its audit. It is no
/// protection against someone who wants two files to have one mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    bytes: u64,
    number: u128,
}

impl Mark {
    /// The mark of these bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        let mut marker = Marker::default();
        marker.take(bytes);
        marker.mark()
    }

    /// Length of the file.
    #[must_use]
    pub fn bytes(self) -> u64 {
        self.bytes
    }
}

impl std::fmt::Display for Mark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:032x}", self.number)
    }
}

/// Makes a [`Mark`] of bytes that come in pieces, however they are cut.
#[derive(Debug, Clone, Default)]
pub struct Marker {
    bytes: u64,
    lanes: [u64; 2],
    rest: [u8; 16],
    waiting: usize,
}

/// Odd constants without pattern: the fractional digits of the golden ratio and of the square root of 3.
const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
const ROOT: u64 = 0xBB67_AE85_84CA_A73B;

impl Marker {
    /// Takes the next bytes.
    pub fn take(&mut self, mut bytes: &[u8]) {
        self.bytes += bytes.len() as u64;
        if self.waiting > 0 {
            let taken = bytes.len().min(16 - self.waiting);
            self.rest[self.waiting..self.waiting + taken].copy_from_slice(&bytes[..taken]);
            self.waiting += taken;
            bytes = &bytes[taken..];
            if self.waiting < 16 {
                return;
            }
            let block = self.rest;
            self.block(&block);
            self.waiting = 0;
        }
        let mut blocks = bytes.chunks_exact(16);
        for block in &mut blocks {
            self.block(block);
        }
        let left = blocks.remainder();
        self.rest[..left.len()].copy_from_slice(left);
        self.waiting = left.len();
    }

    fn block(&mut self, block: &[u8]) {
        let mut words = [0_u64; 2];
        for (word, bytes) in words.iter_mut().zip(block.chunks_exact(8)) {
            *word = bytes.try_into().map_or(0, u64::from_le_bytes);
        }
        self.lanes[0] = fold(self.lanes[0] ^ words[0], GOLDEN ^ self.lanes[1].rotate_left(17));
        self.lanes[1] = fold(self.lanes[1] ^ words[1], ROOT ^ self.lanes[0].rotate_left(31));
    }

    /// The mark of all bytes so far.
    #[must_use]
    pub fn mark(&self) -> Mark {
        let mut end = self.clone();
        end.rest[end.waiting..].fill(0);
        let block = end.rest;
        end.block(&block);
        let length = self.bytes.to_le_bytes();
        end.block(&[length, length].concat());
        Mark { bytes: self.bytes, number: u128::from(end.lanes[0]) << 64 | u128::from(end.lanes[1]) }
    }
}

impl std::io::Write for Marker {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.take(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// The two halves of a product, folded.
fn fold(a: u64, b: u64) -> u64 {
    let product = u128::from(a ^ ROOT) * u128::from(b | 1);
    (product as u64) ^ ((product >> 64) as u64)
}

#[cfg(test)]
mod tests {
    use super::{Mark, Marker};

    #[test]
    fn a_mark_depends_on_every_byte_and_not_on_the_cut() {
        let bytes: Vec<u8> = (0..200_u32).map(|at| (at * 37 % 251) as u8).collect();
        let mut failures = Vec::new();
        for length in 0..bytes.len() {
            let whole = Mark::of(&bytes[..length]);
            for cut in [1, 7, 16, 31] {
                let mut marker = Marker::default();
                bytes[..length].chunks(cut).for_each(|piece| marker.take(piece));
                if marker.mark() != whole {
                    failures.push(format!("{length} bytes cut by {cut}"));
                }
            }
            let mut changed = bytes[..length].to_vec();
            if let Some(last) = changed.last_mut() {
                *last ^= 1;
                if Mark::of(&changed) == whole {
                    failures.push(format!("{length} bytes, the last changed"));
                }
            }
            if Mark::of(&[&bytes[..length], &[0]].concat()) == whole {
                failures.push(format!("{length} bytes and a zero"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
