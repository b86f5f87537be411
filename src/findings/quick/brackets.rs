//! Bracket atoms that were read before: a bank writes few different ones, again and again. Looked at eight bytes at once.

use super::sketch::{Atom, NO_LABEL};
use crate::structure::Element;

/// What stands between a `[` and the `:` or `]` behind it, at most seven bytes; the rest of the word is filled with a byte that is in no
/// text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Key(u64);

/// A byte of a word each.
const ONES: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = ONES << 7;
/// Keys that are kept at most: so many that few share a place, few enough for the nearest cache.
const PLACES: usize = 512;
/// The fractional digits of the square root of 2, which give the usual atoms places of their own.
const ROOT: u64 = 0x6A09_E667_F3BC_C909;

impl Key {
    /// The key of a bracket atom, from the bytes behind its `[`, its length, and the byte behind it; `None` where it is long or the
    /// text ends.
    #[inline]
    pub(super) fn of(text: &[u8]) -> Option<(Self, usize, u8)> {
        let word = word(text);
        let mark = places(word, b':') | places(word, b']');
        let length = first(mark)?;
        let end = word >> (8 * length);
        Some((Self(word | u64::MAX << (8 * length)), length, end as u8))
    }

    #[inline]
    fn place(self) -> usize {
        (self.0.wrapping_mul(ROOT) >> (64 - PLACES.ilog2())) as usize
    }
}

/// A label and what follows its `]`, from behind its `:`; `None` where it is not of one to four digits. One loop for digits
/// and end: as a number and then a `]` it costs a labelled item 3 %.
#[inline]
pub(super) fn label(text: &[u8]) -> Option<(u16, &[u8])> {
    let (mut label, mut rest, mut left) = (0, text, 4);
    loop {
        match rest {
            [digit @ b'0'..=b'9', behind @ ..] if left > 0 => {
                label = label * 10 + u16::from(digit - b'0');
                rest = behind;
                left -= 1;
            }
            // Class 0 is no label.
            [b']', behind @ ..] if left < 4 => return Some((if label == 0 { NO_LABEL } else { label }, behind)),
            _ => return None,
        }
    }
}

/// The first eight bytes, zeros where the text ends.
#[inline]
fn word(text: &[u8]) -> u64 {
    text.first_chunk().map_or_else(|| last_word(text), |chunk| u64::from_le_bytes(*chunk))
}

#[cold]
fn last_word(text: &[u8]) -> u64 {
    text.iter().rev().fold(0, |word, byte| word << 8 | u64::from(*byte))
}

/// Marks a byte in a word: the lowest bit that is set stands in the first byte that is the one looked for.
#[inline]
fn places(word: u64, byte: u8) -> u64 {
    let zero = word ^ (ONES * u64::from(byte));
    zero.wrapping_sub(ONES) & !zero & HIGH
}

/// The place of the first byte that is marked.
#[inline]
fn first(marks: u64) -> Option<usize> {
    (marks != 0).then(|| marks.trailing_zeros() as usize / 8)
}

/// A place for each of the keys that share it; the newest stays.
#[derive(Debug)]
pub(super) struct Brackets {
    keys: Box<[Key; PLACES]>,
    atoms: Box<[Atom; PLACES]>,
}

impl Default for Brackets {
    fn default() -> Self {
        // Nothing is read as an atom of no bytes, so that this key is never kept.
        let none = Key(u64::MAX);
        Self { keys: Box::new([none; PLACES]), atoms: Box::new([Atom::new(Element::ANY); PLACES]) }
    }
}

impl Brackets {
    /// Whether the atom of this key is kept.
    #[inline]
    pub(super) fn has(&self, key: Key) -> bool {
        self.keys[key.place()] == key
    }

    /// The atom of a key that is kept.
    #[inline]
    pub(super) fn get(&self, key: Key) -> &Atom {
        &self.atoms[key.place()]
    }

    pub(super) fn keep(&mut self, key: Key, atom: Atom) {
        let place = key.place();
        (self.keys[place], self.atoms[place]) = (key, atom);
    }
}
