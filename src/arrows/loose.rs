//! Other spellings of arrows that have one reading, for a field that is not written in the notation.
//!
//! ```text
//! field  = piece *( ( ";" / line break ) piece )
//! piece  = [ number ( ")" / "." / ":" ) ] run *( shaft run )
//! shaft  = "->" / "~>" / "-->" / "=>" / "to" / …
//! run    = unit *( ( "-" / "=" / "," / "and" ) unit )   ; the head of one arrow and the tail of the next
//! unit   = atom / "(" atom *( ( "-" / "=" / "," ) atom ) ")"
//! ```
//!
//! A comma joins two atoms to a bond or separates two arrows. A run is taken apart in every way in which each side is an atom or a
//! bond; only one way may be left.

use super::grammar::{ARROWS, ArrowsError, ArrowsFault, ArrowsReading, DASHES, atom, write};
use super::{AtomName, DrawnArrow, Moves, Place};
use crate::source::Span;
use smallvec::SmallVec;

/// What separates arrows: also the wide semicolon of other scripts, and the bar.
const SEPARATORS: [char; 5] = [';', '\n', '\r', '\u{ff1b}', '|'];

/// Arrows that are typed for a shaft: curved ones, and what a word processor's arrow becomes where its font is lost.
const SHAFTS: [char; 5] = ['\u{21b7}', '\u{2937}', '\u{293b}', '\u{293a}', '\u{e0}'];

/// Space, and what is not seen: joiners, soft hyphens, marks of byte order.
fn is_space(own: char) -> bool {
    own.is_whitespace() || matches!(own, '\u{ad}' | '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}')
}

/// What stands between two units of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Joint {
    /// `-` or `=`: a bond and nothing else.
    Bond,
    /// `,`.
    Comma,
    /// `and`: two arrows and nothing else.
    Arrows,
}

/// An atom, or a place in brackets.
#[derive(Debug, Clone)]
enum Unit {
    Atom(AtomName),
    Bond(AtomName, AtomName),
}

/// The head of one arrow and the tail of the next: four atoms at most.
#[derive(Debug, Default)]
struct Run {
    units: SmallVec<[Unit; 4]>,
    joints: SmallVec<[Joint; 4]>,
}

/// Reads a field in any of these spellings. `None` where it is in none of them.
pub(super) fn read(text: &str, limit: usize) -> Option<ArrowsReading> {
    let mut reading = ArrowsReading { is_loose: true, ..ArrowsReading::default() };
    let mut start = 0;
    for piece in text.split_inclusive(SEPARATORS) {
        let own = piece.trim_end_matches(SEPARATORS);
        let (at, is_empty_place) = (start, piece.ends_with([';', '\u{ff1b}', '|']));
        start += piece.len();
        // A full stop ends the list.
        let own = if start == text.len() { own.trim_end().trim_end_matches('.') } else { own };
        if own.trim_matches(is_space).is_empty() {
            if is_empty_place {
                return None;
            }
            continue;
        }
        let mut cursor = Cursor { text: own, rest: own, offset: at };
        cursor.list_number(reading.arrows.len() + 1);
        match cursor.piece(&mut reading.arrows)? {
            Ok(()) if reading.arrows.len() > limit => return None,
            Ok(()) => {}
            Err(fault) => {
                let from = at + own.len() - own.trim_start().len();
                let span = Span::new(from, from + own.trim().len());
                return Some(ArrowsReading { faults: vec![ArrowsError { span, fault }], ..ArrowsReading::default() });
            }
        }
    }
    Some(reading)
}

struct Cursor<'a> {
    text: &'a str,
    rest: &'a str,
    offset: usize,
}

impl Cursor<'_> {
    fn at(&self) -> usize {
        self.offset + self.text.len() - self.rest.len()
    }

    fn skip_space(&mut self) {
        self.rest = self.rest.trim_start_matches(is_space);
    }

    fn take(&mut self, own: char) -> bool {
        let rest = self.rest.strip_prefix(own);
        self.rest = rest.unwrap_or(self.rest);
        rest.is_some()
    }

    /// Passes over `1)`, `1.`, `1:` or `(1)` before the arrow of that number.
    fn list_number(&mut self, number: usize) {
        self.skip_space();
        let digits = number.to_string();
        let (rest, open) = self.rest.strip_prefix('(').map_or((self.rest, false), |rest| (rest, true));
        // `a)` counts as `1)` does.
        let letter = u8::try_from(number).ok().filter(|own| *own <= 26).map(|own| char::from(b'a' + own - 1));
        let lettered = || letter.and_then(|own| rest.strip_prefix(own)).filter(|rest| rest.starts_with(')'));
        let Some(rest) = rest.strip_prefix(&digits).or_else(lettered) else { return };
        let Some(rest) = rest.strip_prefix(if open { [')'; 3] } else { [')', '.', ':'] }) else { return };
        let behind = Self { rest: rest.trim_start(), ..*self };
        // `(1) -> 1-2` has a tail in brackets; `1.2` is one word.
        if rest.starts_with(char::is_whitespace) && behind.shaft().is_none() {
            self.rest = rest;
        }
    }

    /// The arrows of a piece; a fault where it can be read in two ways, `None` where it cannot be read.
    fn piece(&mut self, arrows: &mut Vec<DrawnArrow>) -> Option<Result<(), ArrowsFault>> {
        let from = arrows.len();
        let mut tail = self.run()?.whole()?;
        // Where a run can be taken apart in two ways: at which arrow, and the second way.
        let mut other: Option<(usize, Place<AtomName>, Place<AtomName>)> = None;
        loop {
            let moves = self.take_shaft()?;
            let run = self.run()?;
            self.skip_space();
            let is_last = self.rest.is_empty();
            if is_last {
                arrows.push(arrow(moves, tail, run.whole()?));
                break;
            }
            let mut ways = run.ways();
            let (head, next) = ways.next()?;
            if let Some((head, next)) = ways.next() {
                other.get_or_insert((arrows.len(), head, next));
            }
            arrows.push(arrow(moves, tail, head));
            tail = next;
        }
        let Some((at, head, next)) = other else { return Some(Ok(())) };
        let mut second = arrows[from..].to_vec();
        second[at - from].head = head;
        if let Some(behind) = second.get_mut(at - from + 1) {
            behind.tail = next;
        }
        Some(Err(ArrowsFault::TwoReadings(write(&arrows[from..]), write(&second))))
    }

    /// A shaft and its length.
    fn shaft(&self) -> Option<(Moves, usize)> {
        let rest = self.rest;
        let first = rest.chars().next()?;
        if ARROWS.contains(&first) || SHAFTS.contains(&first) {
            return Some((Moves::Pair, first.len_utf8()));
        }
        if rest.starts_with("~>") {
            return Some((Moves::Single, 2));
        }
        let word = rest.get(..2).filter(|own| own.eq_ignore_ascii_case("to"));
        if word.is_some() && rest[2..].starts_with(char::is_whitespace) {
            return Some((Moves::Pair, 2));
        }
        let shaft = rest.trim_start_matches(|own| own == '-' || own == '=' || DASHES.contains(&own));
        let length = rest.len() - shaft.len();
        (length > 0 && shaft.starts_with('>')).then_some((Moves::Pair, length + 1))
    }

    fn take_shaft(&mut self) -> Option<Moves> {
        self.skip_space();
        let (moves, length) = self.shaft()?;
        self.rest = self.rest.get(length..)?;
        Some(moves)
    }

    fn run(&mut self) -> Option<Run> {
        let mut run = Run::default();
        loop {
            run.units.push(self.unit()?);
            self.skip_space();
            let joint = self.joint();
            self.skip_space();
            let Some(joint) = joint else { return Some(run) };
            // A comma behind the last arrow separates nothing.
            if joint == Joint::Comma && self.rest.is_empty() {
                return Some(run);
            }
            if run.units.len() == 4 {
                return None;
            }
            run.joints.push(joint);
        }
    }

    fn joint(&mut self) -> Option<Joint> {
        if self.shaft().is_some() {
            return None;
        }
        if self.take_and() || self.take_number() {
            return Some(Joint::Arrows);
        }
        if self.take(',') {
            self.skip_space();
            return Some(if self.take_and() || self.take_number() { Joint::Arrows } else { Joint::Comma });
        }
        let found = self.rest.chars().next()?;
        (matches!(found, '-' | '=') || DASHES.contains(&found)).then(|| {
            self.take(found);
            Joint::Bond
        })
    }

    fn take_and(&mut self) -> bool {
        if self.take('&') {
            return true;
        }
        let word = self.rest.get(..3).is_some_and(|own| own.eq_ignore_ascii_case("and"));
        let ends = || self.rest[3..].chars().next().is_some_and(char::is_whitespace);
        let found = word && ends();
        if found {
            self.rest = &self.rest[3..];
            self.skip_space();
            self.take_number();
        }
        found
    }

    /// Passes over the number of the next arrow of a list: `2)`.
    fn take_number(&mut self) -> bool {
        let behind = self.rest.trim_start_matches(|own: char| own.is_ascii_digit());
        let found = behind.len() < self.rest.len() && behind.starts_with(')');
        self.rest = if found { &behind[1..] } else { self.rest };
        found
    }

    fn unit(&mut self) -> Option<Unit> {
        self.skip_space();
        let brackets = [('(', ')'), ('[', ']'), ('{', '}')].into_iter().find(|(open, _)| self.take(*open));
        let Some((_, close)) = brackets else { return self.atom().map(Unit::Atom) };
        let first = self.atom()?;
        self.skip_space();
        if self.take(close) {
            return Some(Unit::Atom(first));
        }
        let found = self.rest.chars().next().filter(|own| matches!(own, '-' | '=' | ',') || DASHES.contains(own))?;
        self.take(found);
        let second = self.atom()?;
        self.skip_space();
        self.take(close).then_some(Unit::Bond(first, second))
    }

    fn atom(&mut self) -> Option<AtomName> {
        self.skip_space();
        let (name, length) = atom(self.rest, self.at())?;
        self.rest = &self.rest[length..];
        Some(name)
    }
}

fn arrow(moves: Moves, tail: Place<AtomName>, head: Place<AtomName>) -> DrawnArrow {
    let span = first(&tail).span.join(last(&head).span);
    DrawnArrow { moves, tail, head, span }
}

fn first(place: &Place<AtomName>) -> &AtomName {
    let (Place::Atom(first) | Place::Bond(first, _)) = place;
    first
}

fn last(place: &Place<AtomName>) -> &AtomName {
    let (Place::Atom(last) | Place::Bond(_, last)) = place;
    last
}

impl Run {
    /// The run as one place.
    fn whole(&self) -> Option<Place<AtomName>> {
        self.place(0, self.units.len())
    }

    /// The ways to take it apart: the head of one arrow, the tail of the next.
    fn ways(&self) -> impl Iterator<Item = (Place<AtomName>, Place<AtomName>)> {
        let open = |at: &usize| self.joints[*at - 1] != Joint::Bond;
        let count = self.units.len();
        (1..count).filter(open).filter_map(move |at| Some((self.place(0, at)?, self.place(at, count)?)))
    }

    /// Some of its units as a place.
    fn place(&self, from: usize, to: usize) -> Option<Place<AtomName>> {
        let (place, same) = match self.units.get(from..to)? {
            [Unit::Atom(own)] => return Some(Place::Atom(own.clone())),
            [Unit::Bond(a, b)] => (Place::Bond(a.clone(), b.clone()), is_same(a, b)),
            [Unit::Atom(a), Unit::Atom(b)] if self.joints[from] != Joint::Arrows => {
                (Place::Bond(a.clone(), b.clone()), is_same(a, b))
            }
            _ => return None,
        };
        (!same).then_some(place)
    }
}

fn is_same(a: &AtomName, b: &AtomName) -> bool {
    (&a.label, a.hydrogen) == (&b.label, b.hydrogen)
}

#[cfg(test)]
mod tests {
    use super::super::notation::{read, write};

    const OURS: &str = "1 -> 1-2; 2-3 -> 3";

    /// What has no reading.
    const UNREAD: [&str; 7] = [
        "1 -> 2 -> 3",
        "1 and 2 -> 2",
        "1 -> 1,2,3,4,5 -> 5",
        "2) 1 -> 1-2; 1) 2-3 -> 3",
        "1 to2",
        "(1-2 -> 2",
        "1->1-2;;2=3->3",
    ];

    /// What has two, and how they are named.
    const AMBIGUOUS: [(&str, &str); 3] = [
        ("1 -> 1,2,3 -> 3", "'1 -> 1; 2-3 -> 3' or as '1 -> 1-2; 3 -> 3'"),
        ("1 -> 2, 3,4 -> 4", "'1 -> 2; 3-4 -> 4' or as '1 -> 2-3; 4 -> 4'"),
        ("1=>2; 1 -> 1,2,3 -> 3", "'1 -> 1; 2-3 -> 3' or as '1 -> 1-2; 3 -> 3'"),
    ];

    /// What has one reading, and that reading.
    const LOOSE: [(&str, &str); 29] = [
        ("1 => 1-2; 2-3 => 3", OURS),
        ("1 --> 1-2\n2-3-->3", OURS),
        ("1 to 1-2; 2-3 TO 3", OURS),
        ("1) 1 -> 1-2; 2) 2-3 -> 3", OURS),
        ("a) 1 -> 1-2; b) 2-3 -> 3", OURS),
        ("1 -> 1-2; 2-3 -> 3.", OURS),
        ("1 -> 1-2 | 2-3 -> 3", OURS),
        ("1 -> 1-2\u{ff1b} 2-3 -> 3", OURS),
        ("1 -> 1\u{200b}-2; 2-3\u{ad} -> \u{feff}3", OURS),
        ("1 \u{21b7} 1-2; 2-3 \u{21b7} 3", OURS),
        ("1 \u{e0} 1-2; 2-3 \u{e0} 3", OURS),
        ("1. 1 -> 1-2\n2. 2-3 -> 3", OURS),
        ("(1) 1 -> 1-2; (2) 2-3 -> 3", OURS),
        ("1) 1 -> 1-2, 2) 2-3 -> 3", OURS),
        ("1) 1 -> 1-2 2) 2-3 -> 3", OURS),
        ("1 -> 1-2, 2-3 -> 3", OURS),
        ("1 -> 1-2, and 2-3 -> 3,", OURS),
        ("1 -> 1-2 and 2-3 -> 3", OURS),
        ("1 -> 1,2; 2,3 -> 3", OURS),
        ("1 -> 1,2,2,3 -> 3", OURS),
        ("(1) -> (1-2); (2,3) -> (3)", OURS),
        ("1 -> [1-2]; {2=3} -> 3", OURS),
        ("1 -> 1=2; 2=3 -> 3", OURS),
        ("C1 => C1-C2, C2=O3 => O3", "C1 -> C1-C2; C2-O3 -> O3"),
        ("1 \u{2192} 1,2; 2,3 \u{2192} 3", OURS),
        ("4 -> 4,3h; 3h,3 -> 3", "4 -> 4-3h; 3h-3 -> 3"),
        ("1,2 ~> 1, 1,2 ~> 2", "1-2 ~> 1; 1-2 ~> 2"),
        ("1 -> 1,2, 2 -> 3", "1 -> 1-2; 2 -> 3"),
        // Without spelling beyond the notation.
        ("1 -> 1-2; 2-3 -> 3", OURS),
    ];

    #[test]
    fn one_reading_is_read_and_two_are_named() {
        let mut failures = Vec::new();
        for (text, expected) in LOOSE {
            let reading = read(text, 100);
            if !reading.faults.is_empty() || write(&reading.arrows) != expected {
                failures.push(format!("{text}: {:?} {:?}", write(&reading.arrows), reading.faults));
            } else if reading.is_loose == (text == OURS) {
                failures.push(format!("{text}: loose is {}", reading.is_loose));
            }
        }
        for (text, readings) in AMBIGUOUS {
            let faults = read(text, 100).faults;
            if !faults.first().is_some_and(|error| error.fault.to_string().contains(readings)) {
                failures.push(format!("{text}: {faults:?}"));
            }
        }
        for text in UNREAD {
            let reading = read(text, 100);
            if reading.faults.is_empty() {
                failures.push(format!("{text}: read as {}", write(&reading.arrows)));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
