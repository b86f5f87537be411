//! The notation as nearly everybody writes it, byte by byte: labels that are numbers, `h` behind them, spaces and nothing else. Both
//! readers of arrows begin with it; what it leaves, [`notation`](super::notation) reads and explains.

use super::{Moves, Place};

/// An atom as it is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PlainName {
    /// Its label.
    pub(crate) label: u32,
    /// Which of its undrawn hydrogens, counted from 1; 0 for the atom itself.
    pub(crate) hydrogen: u32,
    /// Where it is written: the first byte, and the one behind the last.
    pub(crate) at: [usize; 2],
}

/// An arrow, with the place where it begins.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PlainArrow {
    pub(crate) moves: Moves,
    pub(crate) tail: Place<PlainName>,
    pub(crate) head: Place<PlainName>,
    pub(crate) start: usize,
}

/// Digits of a number at most.
const DIGITS: usize = 4;

/// `arrow = place ( "->" / "~>" ) place`: the whole of a text, or `None` where it is written in any other way.
#[inline]
pub(crate) fn arrow(text: &[u8]) -> Option<PlainArrow> {
    let mut cursor = Cursor { text, at: 0 };
    cursor.skip_space();
    let start = cursor.at;
    let tail = cursor.place()?;
    let moves = match (cursor.byte(0), cursor.byte(1)) {
        (b'-', b'>') => Moves::Pair,
        (b'~', b'>') => Moves::Single,
        _ => return None,
    };
    cursor.at += 2;
    let head = cursor.place()?;
    (cursor.at == text.len()).then_some(PlainArrow { moves, tail, head, start })
}

struct Cursor<'a> {
    text: &'a [u8],
    at: usize,
}

impl Cursor<'_> {
    /// The byte so many places on; 0 behind the end.
    #[inline]
    fn byte(&self, ahead: usize) -> u8 {
        self.text.get(self.at + ahead).copied().unwrap_or(0)
    }

    #[inline]
    fn skip_space(&mut self) {
        while self.byte(0) == b' ' {
            self.at += 1;
        }
    }

    /// `place = atom / atom "-" atom`, with the space round it.
    #[inline]
    fn place(&mut self) -> Option<Place<PlainName>> {
        let first = self.atom()?;
        if self.byte(0) != b'-' || self.byte(1) == b'>' {
            return Some(Place::Atom(first));
        }
        self.at += 1;
        let second = self.atom()?;
        let is_bond = (first.label, first.hydrogen) != (second.label, second.hydrogen);
        is_bond.then_some(Place::Bond(first, second))
    }

    /// `atom = label [ "h" [ number ] ]`, with the space round it.
    #[inline]
    fn atom(&mut self) -> Option<PlainName> {
        self.skip_space();
        let from = self.at;
        let label = self.number()?;
        let hydrogen = if self.byte(0) == b'h' {
            self.at += 1;
            if self.byte(0).is_ascii_digit() { self.number()? } else { 1 }
        } else {
            0
        };
        let at = [from, self.at];
        self.skip_space();
        Some(PlainName { label, hydrogen, at })
    }

    /// A number as numbers are written, of few digits.
    #[inline]
    fn number(&mut self) -> Option<u32> {
        let from = self.at;
        let mut number = 0;
        while self.byte(0).is_ascii_digit() {
            number = number * 10 + u32::from(self.byte(0) - b'0');
            self.at += 1;
            if self.at - from > DIGITS {
                return None;
            }
        }
        (self.at > from && self.text[from] != b'0').then_some(number)
    }
}
