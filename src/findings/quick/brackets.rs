//! Bracket atoms that were read before: a bank writes few different ones, again and again.

use super::sketch::Atom;
use crate::structure::Element;

/// What stands between a `[` and the `:` or `]` behind it, at most seven bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Key {
    bytes: u64,
    length: u8,
}

/// A byte of a word each.
const ONES: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = ONES << 7;

impl Key {
    /// The key of a bracket atom, from the bytes behind its `[`; `None` where it is long or the text ends soon.
    #[inline]
    pub(super) fn of(text: &[u8]) -> Option<Self> {
        let word = u64::from_le_bytes(*text.first_chunk()?);
        // The lowest bit that is set stands in the first byte that is the one looked for.
        let places = |byte: u8| {
            let zero = word ^ (ONES * u64::from(byte));
            zero.wrapping_sub(ONES) & !zero & HIGH
        };
        let end = places(b':') | places(b']');
        if end == 0 {
            return None;
        }
        let length = (end.trailing_zeros() / 8) as u8;
        Some(Self { bytes: word & !(u64::MAX << (8 * length)), length })
    }

    #[inline]
    fn place(self) -> u8 {
        (self.bytes.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 56) as u8
    }
}

/// A place for each of the keys that share it; the newest stays.
#[derive(Debug)]
pub(super) struct Brackets {
    keys: Box<[Key; 256]>,
    atoms: Box<[Atom; 256]>,
}

impl Default for Brackets {
    fn default() -> Self {
        // Nothing is read as an atom of no bytes, so that this key is never kept.
        let none = Key { bytes: 0, length: u8::MAX };
        Self { keys: Box::new([none; 256]), atoms: Box::new([Atom::new(Element::ANY); 256]) }
    }
}

impl Brackets {
    /// The atom that was read from this key, and the number of bytes that it is.
    #[inline]
    pub(super) fn get(&self, key: Key) -> Option<(&Atom, usize)> {
        let place = usize::from(key.place());
        (self.keys[place] == key).then_some((&self.atoms[place], usize::from(key.length)))
    }

    pub(super) fn keep(&mut self, key: Key, atom: Atom) {
        let place = usize::from(key.place());
        (self.keys[place], self.atoms[place]) = (key, atom);
    }
}
