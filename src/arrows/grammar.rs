//! The text notation of arrows: `1 -> 1-2; 2-3 -> 3`, read with spans and written back.
//!
//! ```text
//! arrows = arrow *( ";" arrow )            ; line breaks also separate
//! arrow  = place ( "->" / "~>" ) place
//! place  = atom / atom "-" atom
//! atom   = label [ "h" [ number ] ]
//! ```

use super::plain::{self, PlainArrow, PlainName};
use super::{AtomName, DrawnArrow, Moves, Place};
use crate::source::Span;
use crate::structure::Label;
use nom::bytes::complete::take_while1;
use nom::{IResult, Parser};

/// One fault of an arrow field and the characters it stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArrowsError {
    /// Where.
    pub span: Span,
    /// What.
    pub fault: ArrowsFault,
}

/// What is wrong with an arrow field.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ArrowsFault {
    /// A character that cannot stand here.
    #[error("unexpected '{found}': expected {expected}")]
    Unexpected {
        /// The character.
        found: char,
        /// What could stand here.
        expected: &'static str,
    },
    /// The arrow ends too early.
    #[error("the arrow ends here: expected {expected}")]
    Ends {
        /// What should follow.
        expected: &'static str,
    },
    /// Nothing between two separators.
    #[error("there is no arrow between these separators: write TAIL -> HEAD, for example 1 -> 1-2")]
    Empty,
    /// A bond from an atom to itself.
    #[error("{0}-{0} is no bond: a place between two atoms names two different ones")]
    SameAtom(String),
    /// A spelling with two readings.
    #[error("this can be read as '{0}' or as '{1}': write the one that is meant")]
    TwoReadings(String, String),
    /// More arrows than the limit.
    #[error("the field passes the limit of {0} arrows")]
    TooMany(usize),
}

/// A character that was read as another one, because spreadsheets and word processors put it there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Normalised {
    /// Where it stands.
    pub span: Span,
    /// What it was read as.
    pub read_as: &'static str,
}

/// What was read of an arrow field.
#[derive(Debug, Clone, Default)]
pub struct ArrowsReading {
    /// The arrows that could be read, in order.
    pub arrows: Vec<DrawnArrow>,
    /// The faults in the order of the text.
    pub faults: Vec<ArrowsError>,
    /// Typographic characters that were read as plain ones.
    pub normalised: Vec<Normalised>,
    /// Whether the field is written in another spelling that has one reading; [`write()`] gives the notation's.
    pub is_loose: bool,
}

/// Reads a field in the notation itself; at most `limit` arrows. A fault ends its arrow, and reading goes on with the next one.
pub(super) fn read_notation(text: &str, limit: usize) -> ArrowsReading {
    let mut reading = ArrowsReading::default();
    for piece in pieces(text) {
        let Piece { at, own, is_closed } = piece;
        if piece.is_empty() {
            // A separator behind the last arrow is how people end lists: it separates nothing and hides nothing.
            if is_closed {
                let span = Span::new(at, at + own.len() + 1);
                reading.faults.push(ArrowsError { span, fault: ArrowsFault::Empty });
            }
            continue;
        }
        if reading.arrows.len() >= limit {
            let span = Span::new(at, at + own.len());
            reading.faults.push(ArrowsError { span, fault: ArrowsFault::TooMany(limit) });
            break;
        }
        if let Some(plain) = plain::arrow(own.as_bytes()) {
            reading.arrows.push(drawn(&plain, own, at));
            continue;
        }
        let mut cursor = Cursor { text: own, rest: own, offset: at, normalised: &mut reading.normalised };
        match cursor.arrow() {
            Ok(arrow) => reading.arrows.push(arrow),
            Err(error) => reading.faults.push(error),
        }
    }
    reading
}

/// What stands between two separators.
pub(crate) struct Piece<'a> {
    /// Where it begins.
    at: usize,
    /// The arrow.
    pub(crate) own: &'a str,
    /// Whether `;` stands behind it.
    pub(crate) is_closed: bool,
}

impl Piece<'_> {
    /// Whether nothing stands there.
    pub(crate) fn is_empty(&self) -> bool {
        self.own.trim_start().is_empty()
    }
}

/// `arrows = arrow *( ";" arrow )`; line breaks also separate.
pub(crate) fn pieces(text: &str) -> impl Iterator<Item = Piece<'_>> {
    let mut start = 0;
    std::iter::from_fn(move || {
        let rest = text.get(start..).filter(|rest| !rest.is_empty())?;
        let ends = rest.bytes().position(|byte| matches!(byte, b';' | b'\n' | b'\r'));
        let (own, at) = (&rest[..ends.unwrap_or(rest.len())], start);
        start += own.len() + usize::from(ends.is_some());
        Some(Piece { at, own, is_closed: rest.as_bytes().get(own.len()) == Some(&b';') })
    })
}

/// An arrow that is written plainly, from a place in the field.
fn drawn(plain: &PlainArrow, own: &str, offset: usize) -> DrawnArrow {
    let name = |name: PlainName| AtomName {
        label: Label::Number(name.label),
        hydrogen: (name.hydrogen > 0).then_some(name.hydrogen),
        span: Span::new(offset + name.at[0], offset + name.at[1]),
    };
    let span = Span::new(offset + plain.start, offset + own.trim_end().len());
    DrawnArrow { moves: plain.moves, tail: plain.tail.map(name), head: plain.head.map(name), span }
}

struct Cursor<'a, 'n> {
    text: &'a str,
    rest: &'a str,
    offset: usize,
    normalised: &'n mut Vec<Normalised>,
}

/// Signs that stand for `-` where a word processor has been.
pub const DASHES: [char; 6] = ['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}', '\u{2212}'];
/// Arrows that stand for `->`. The first is part of the notation.
pub(super) const ARROWS: [char; 6] = ['\u{2192}', '\u{27f6}', '\u{2794}', '\u{279c}', '\u{21d2}', '\u{f0e0}'];

impl Cursor<'_, '_> {
    fn at(&self) -> usize {
        self.offset + self.text.len() - self.rest.len()
    }

    fn skip_space(&mut self) {
        if self.rest.as_bytes().first().is_some_and(u8::is_ascii_graphic) {
            return;
        }
        while let Some(found) = self.rest.chars().next().filter(|own| own.is_whitespace()) {
            // Space that word processors put where no line may break.
            self.take_char(found, (!found.is_ascii()).then_some(" "));
        }
    }

    fn fail<T>(&self, expected: &'static str) -> Result<T, ArrowsError> {
        let at = self.at();
        match self.rest.chars().next() {
            Some(found) => {
                let fault = ArrowsFault::Unexpected { found, expected };
                Err(ArrowsError { span: Span::new(at, at + found.len_utf8()), fault })
            }
            None => Err(ArrowsError { span: Span::at(at), fault: ArrowsFault::Ends { expected } }),
        }
    }

    fn take_char(&mut self, found: char, read_as: Option<&'static str>) {
        let at = self.at();
        self.rest = &self.rest[found.len_utf8()..];
        if let Some(read_as) = read_as {
            self.normalised.push(Normalised { span: Span::new(at, at + found.len_utf8()), read_as });
        }
    }

    fn arrow(&mut self) -> Result<DrawnArrow, ArrowsError> {
        self.skip_space();
        let start = self.at();
        let tail = self.place("a tail: a label, or two labels joined by '-'")?;
        let moves = self.shaft()?;
        let head = self.place("a head: a label, or two labels joined by '-'")?;
        let end = self.offset + self.text.trim_end().len();
        self.skip_space();
        if !self.rest.is_empty() {
            return self.fail("';' or a line break before the next arrow");
        }
        Ok(DrawnArrow { moves, tail, head, span: Span::new(start, end) })
    }

    fn shaft(&mut self) -> Result<Moves, ArrowsError> {
        self.skip_space();
        for (shaft, moves) in [("->", Moves::Pair), ("~>", Moves::Single)] {
            if let Some(rest) = self.rest.strip_prefix(shaft) {
                self.rest = rest;
                return Ok(moves);
            }
        }
        match self.rest.chars().next() {
            Some(found) if ARROWS.contains(&found) => {
                self.take_char(found, (found != ARROWS[0]).then_some("->"));
                Ok(Moves::Pair)
            }
            Some(found) if DASHES.contains(&found) && self.rest[found.len_utf8()..].starts_with('>') => {
                self.take_char(found, Some("-"));
                self.take_char('>', None);
                Ok(Moves::Pair)
            }
            _ => self.fail("'->' (a pair moves) or '~>' (one electron moves)"),
        }
    }

    fn place(&mut self, expected: &'static str) -> Result<Place<AtomName>, ArrowsError> {
        let first = self.atom(expected)?;
        self.skip_space();
        let dash = match self.rest.chars().next() {
            Some('-') if !self.rest.starts_with("->") => '-',
            Some(found) if DASHES.contains(&found) && !self.rest[found.len_utf8()..].starts_with('>') => found,
            _ => return Ok(Place::Atom(first)),
        };
        self.take_char(dash, (dash != '-').then_some("-"));
        let second = self.atom("the second atom of the bond")?;
        if first.label == second.label && first.hydrogen == second.hydrogen {
            let fault = ArrowsFault::SameAtom(first.to_string());
            return Err(ArrowsError { span: first.span.join(second.span), fault });
        }
        Ok(Place::Bond(first, second))
    }

    fn atom(&mut self, expected: &'static str) -> Result<AtomName, ArrowsError> {
        self.skip_space();
        let start = self.at();
        if let Some((number, length)) = plain_number(self.rest.as_bytes()) {
            self.rest = &self.rest[length..];
            let span = Span::new(start, start + length);
            return Ok(AtomName { label: Label::Number(number), hydrogen: None, span });
        }
        let Ok((rest, token)) = word(self.rest) else {
            return self.fail(expected);
        };
        let token = with_position(self.rest, token);
        let rest = self.rest.get(token.len()..).unwrap_or(rest);
        let span = Span::new(start, start + token.len());
        let digits = token.bytes().take_while(u8::is_ascii_digit).count();
        let (number, suffix) = token.split_at(digits);
        let hydrogen = match (digits, suffix) {
            (0, _) | (_, "") => None,
            (_, suffix) => Some(self.hydrogen(suffix, expected)?),
        };
        self.rest = rest;
        let label = if digits == 0 { Label::Name(token.into()) } else { plain_label(number, start)? };
        Ok(AtomName { label, hydrogen, span })
    }

    /// `"h" [ number ]` behind a numeric label.
    fn hydrogen(&mut self, suffix: &str, expected: &'static str) -> Result<u32, ArrowsError> {
        let count = suffix.strip_prefix('h').filter(|count| count.len() < 5);
        match count {
            Some("") => Ok(1),
            Some(count) => match count.parse() {
                Ok(number) if number > 0 => Ok(number),
                _ => self.fail(expected),
            },
            None => self.fail("a label, or a label with 'h' and a number for one of its undrawn hydrogens (3h, 3h2)"),
        }
    }
}

/// The atom with which a text begins, and the length of its name.
pub(super) fn atom(text: &str, at: usize) -> Option<(AtomName, usize)> {
    let mut cursor = Cursor { text, rest: text, offset: at, normalised: &mut Vec::new() };
    let name = cursor.atom("").ok()?;
    Some((name, text.len() - cursor.rest.len()))
}

/// The label that digits spell, with or without zeros before it.
fn plain_label(digits: &str, start: usize) -> Result<Label, ArrowsError> {
    let span = Span::new(start, start + digits.len());
    let trimmed = digits.trim_start_matches('0');
    let number = if trimmed.is_empty() { Some(0) } else { trimmed.parse().ok().filter(|_| trimmed.len() < 10) };
    let found = digits.chars().next().unwrap_or('0');
    let fault = ArrowsFault::Unexpected { found, expected: "a label of at most nine digits" };
    number.map(Label::Number).ok_or(ArrowsError { span, fault })
}

/// The usual label: up to nine digits and nothing else of a word behind them. Its number and length.
fn plain_number(text: &[u8]) -> Option<(u32, usize)> {
    let digits = text.iter().take_while(|byte| byte.is_ascii_digit()).count();
    let ends = text.get(digits).is_none_or(|next| !in_word(char::from(*next)));
    let number = || text[..digits].iter().fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0'));
    ((1..10).contains(&digits) && ends).then(|| (number(), digits))
}

fn in_word(own: char) -> bool {
    own.is_ascii_alphanumeric() || matches!(own, '_' | ':' | '.')
}

/// A symbol with the position behind it, `C#4`, as messages name atoms without labels.
fn with_position<'a>(text: &'a str, token: &'a str) -> &'a str {
    let behind = text.get(token.len()..).and_then(|rest| rest.strip_prefix('#')).unwrap_or_default();
    match word(behind) {
        Ok((_, more)) if token.bytes().all(|own| own.is_ascii_alphabetic()) => &text[..token.len() + 1 + more.len()],
        _ => token,
    }
}

/// The characters of a label: of an atom class, or of an id of a document (`m1:a2`).
fn word(input: &str) -> IResult<&str, &str, ()> {
    take_while1(in_word).parse(input)
}

impl std::fmt::Display for AtomName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.hydrogen {
            None => write!(f, "{}", self.label),
            Some(1) => write!(f, "{}h", self.label),
            Some(which) => write!(f, "{}h{which}", self.label),
        }
    }
}

impl<A: std::fmt::Display> std::fmt::Display for Place<A> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Atom(a) => write!(f, "{a}"),
            Self::Bond(a, b) => write!(f, "{a}-{b}"),
        }
    }
}

impl std::fmt::Display for DrawnArrow {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let shaft = match self.moves {
            Moves::Pair => "->",
            Moves::Single => "~>",
        };
        write!(f, "{} {shaft} {}", self.tail, self.head)
    }
}

/// Writes arrows as a field, separated by `; `.
#[must_use]
pub fn write(arrows: &[DrawnArrow]) -> String {
    arrows.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::super::notation::read;
    use super::write;

    #[test]
    fn reads_and_writes() {
        let cases = [
            ("1 -> 1-2; 2-3 -> 3", "1 -> 1-2; 2-3 -> 3"),
            ("1->1-2\n2-3->3\n", "1 -> 1-2; 2-3 -> 3"),
            ("1→1-2", "1 -> 1-2"),
            ("1\u{2013}2 \u{2192} 2", "1-2 -> 2"),
            ("1-2 ~> 1; 1-2 ~> 2;", "1-2 ~> 1; 1-2 ~> 2"),
            ("4 -> 4-3h; 3h-3 -> 3", "4 -> 4-3h; 3h-3 -> 3"),
            ("4 -> 4-3h2", "4 -> 4-3h2"),
            ("a1 -> a1-m2:a2", "a1 -> a1-m2:a2"),
            ("01 -> 002", "1 -> 2"),
        ];
        let mut failures = Vec::new();
        for (text, expected) in cases {
            let reading = read(text, 100);
            if !reading.faults.is_empty() || write(&reading.arrows) != expected {
                failures.push(format!("{text}: {:?} {:?}", write(&reading.arrows), reading.faults));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }

    #[test]
    fn points_at_the_character() {
        let cases = [
            ("1 > 2", 2, "'->'"),
            ("1 ->", 4, "a head"),
            ("-> 2", 0, "a tail"),
            ("1 -> 1-", 7, "second atom"),
            ("1 -> 2 3", 7, "';'"),
            ("1 -> 2;; 3 -> 4", 7, "no arrow"),
            ("1 -> 1-1", 5, "two different"),
            ("1 -> 3x", 5, "undrawn hydrogens"),
            ("9999999999 -> 1", 0, "nine digits"),
        ];
        let mut failures = Vec::new();
        for (text, at, sentence) in cases {
            let faults = read(text, 100).faults;
            if !faults.first().is_some_and(|e| e.span.start == at && e.fault.to_string().contains(sentence)) {
                failures.push(format!("{text}: {faults:?}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
