//! Bracket atoms that were read before: a bank writes few different ones, again and again. Looked at eight bytes at once, and kept but
//! for their classes.

/// What stands between a `[` and the `:` or `]` behind it, at most seven bytes; the rest of the word is filled with a byte that is in no
/// text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Key(u64);

/// A byte of a word each.
const ONES: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = ONES << 7;
/// Keys that are kept at most: so many that few share a place, few enough for the nearest cache.
const PLACES: usize = 512;
/// The fractional digits of the square root of 2, which give the usual atoms places of their own.
const ROOT: u64 = 0x6A09_E667_F3BC_C909;

impl Key {
    /// The key of a bracket atom, from the bytes behind its `[`, its length, and the byte behind it; `None` where it is empty or
    /// long or the text ends.
    #[inline]
    pub(crate) fn of(text: &[u8]) -> Option<(Self, usize, u8)> {
        let word = word(text);
        let mark = places(word, b':') | places(word, b']');
        let length = first(mark).filter(|length| *length > 0)?;
        let end = word >> (8 * length);
        Some((Self(word | u64::MAX << (8 * length)), length, end as u8))
    }

    #[inline]
    fn place(self) -> usize {
        (self.0.wrapping_mul(ROOT) >> (64 - PLACES.ilog2())) as usize
    }
}

/// An atom class and what follows its `]`, from behind its `:`; `None` where it is not of one to four digits. One loop for digits
/// and end: as a number and then a `]` it costs a labelled item 3 %.
#[inline]
pub(crate) fn class(text: &[u8]) -> Option<(u16, &[u8])> {
    let (mut class, mut rest, mut left) = (0, text, 4);
    loop {
        match rest {
            [digit @ b'0'..=b'9', behind @ ..] if left > 0 => {
                class = class * 10 + u16::from(digit - b'0');
                rest = behind;
                left -= 1;
            }
            [b']', behind @ ..] if left < 4 => return Some((class, behind)),
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
pub(crate) struct Brackets<A> {
    keys: Box<[Key; PLACES]>,
    atoms: Box<[A; PLACES]>,
}

impl<A: Copy> Brackets<A> {
    /// Keeps no atom yet; `any` is one that is never asked for.
    pub(crate) fn new(any: A) -> Self {
        // A key has a byte at least, so that this is none.
        Self { keys: Box::new([Key(u64::MAX); PLACES]), atoms: Box::new([any; PLACES]) }
    }

    /// Whether the atom of this key is kept.
    #[inline]
    pub(crate) fn has(&self, key: Key) -> bool {
        self.keys[key.place()] == key
    }

    /// The atom of a key that is kept.
    #[inline]
    pub(crate) fn get(&self, key: Key) -> &A {
        &self.atoms[key.place()]
    }

    /// Keeps an atom; another of the same place goes.
    pub(crate) fn keep(&mut self, key: Key, atom: A) {
        let place = key.place();
        (self.keys[place], self.atoms[place]) = (key, atom);
    }
}

#[cfg(test)]
mod tests {
    use crate::smiles::{Labels, read, write};

    /// What is read a second time comes from the table, and must be what it was; texts that share a beginning must not be confused.
    #[test]
    fn what_is_kept_is_what_was_read() {
        let texts = [
            "[CH3:1][CH2:20][OH:300]",
            "[CH3][NH3+]",
            "[O-:7][n+:12]1ccccc1",
            "[13CH3:4][C@@H:5](F)Cl",
            "[CH3:0]C",
            "[HH]",
            "[HH:3]",
            "[Na+:44].[Cl-:5]",
            "[CH3:12345]C",
            "[se]1cccc1",
            "[C:1",
            "[C:]",
            "[CH3:1234567890]",
            "[Xx]",
            "[C+:1:2]",
            "[CH3:]]",
            "[]",
        ];
        let say = |text: &str| {
            let reading = read(text);
            (write(&reading.structure, Labels::Classes), reading.faults, reading.loose)
        };
        let first: Vec<_> = texts.iter().map(|text| say(text)).collect();
        let again: Vec<_> = texts.iter().rev().map(|text| say(text)).collect();
        let wrong: Vec<_> =
            texts.iter().zip(first.iter().zip(again.iter().rev())).filter(|(_, (a, b))| a != b).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
        let refused = ["[]", "[:1]", "[", "[C", "[C:", "[C:1", "[Xx]", "[C+:1:2]"];
        let read: Vec<_> = refused.iter().filter(|text| read(text).faults.is_empty()).collect();
        assert!(read.is_empty(), "{read:?}");
        let classes = ["[CH3:12]C", "[CH3:3]C", "[CH3:0]C"].map(|text| say(text).0);
        assert_eq!(classes, ["[CH3:12]C", "[CH3:3]C", "CC"].map(str::to_owned));
    }
}
