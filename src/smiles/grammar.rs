//! The grammar of SMILES (OpenSMILES 1.0, "Formal grammar"): one loop over the text, explicit stacks, one function a production.
//!
//! It knows no structure: it tells a [`Sink`] of the atoms and bonds that it meets. Sinks build a structure with spans, or a flat
//! drawing for a quick proof; what is SMILES is decided here alone.
//!
//! ```text
//! smiles   ::= chain*
//! chain    ::= atom ringbond* branch* ( bond? | '.' )
//! atom     ::= bracket | organic
//! ringbond ::= bond? digit | bond? '%' digit digit
//! branch   ::= '(' ( bond | '.' )? chain ')'
//! bond     ::= '-' | '=' | '#' | '$' | ':' | '/' | '\'
//! ```

use super::bracket::{Mark, bracket_atom};
use super::brackets::{Brackets, Key, class};
use super::error::{SmilesError, SmilesFault};
use super::hints::hint;
use super::loose::LooseKind;
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::Atom;
use smallvec::SmallVec;

/// What the grammar tells of a text, in its order.
pub(crate) trait Sink {
    /// An atom that was told.
    type Id: Copy + PartialEq;
    /// An atom that is about to be told: everything but its class.
    type Atom: Copy;
    /// What ends the reading.
    type Stop;

    /// Something is wrong; `fault` says what, where that is asked for.
    fn stop(&self, fault: impl FnOnce() -> SmilesError) -> Self::Stop;

    /// Makes an atom in brackets ready.
    fn prepare(&mut self, atom: &Atom) -> Result<Self::Atom, Self::Stop>;

    /// The atom without brackets that begins with a byte and goes on with the next, and its length, if there is one.
    fn organic(&mut self, byte: u8, next: Option<u8>) -> Option<(Self::Atom, usize)>;

    /// An atom, with its class or 0.
    fn atom(&mut self, atom: &Self::Atom, class: u32, span: Span) -> Result<Self::Id, Self::Stop>;

    /// The second atom of hydrogen gas, where the first stands for both.
    fn second_of_gas(&mut self, first: &Self::Atom, id: Self::Id, span: Span) -> Option<Self::Atom>;

    /// A bond with its symbol, if it is written.
    fn bond(&mut self, a: Self::Id, b: Self::Id, symbol: Option<u8>, span: Span) -> Result<(), Self::Stop>;

    /// An atom stands behind another or begins a chain; it has a chirality mark or none.
    fn follows(
        &mut self,
        previous: Option<Self::Id>,
        atom: Self::Id,
        mark: Option<Mark>,
        span: Span,
    ) -> Result<(), Self::Stop>;

    /// A ring number is opened at an atom. The place of its other end among the neighbours of a marked centre, if it is one.
    fn ring_opens(&mut self, atom: Self::Id) -> Option<(usize, usize)>;

    /// The ring bond between two atoms has been told; `again` is the symbol at its second end, where both ends have a direction.
    fn ring_closes(&mut self, open: &OpenRing<Self::Id>, atom: Self::Id, again: Option<(u8, Span)>);

    /// Whether two atoms are bonded.
    fn are_bonded(&self, a: Self::Id, b: Self::Id) -> bool;

    /// A spelling beyond the standard that has one reading.
    fn loose(&mut self, span: Span, kind: LooseKind) -> Result<(), Self::Stop>;
}

/// What was read last, which decides what may follow.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Last {
    Nothing,
    Atom,
    Bond,
    Dot,
    OpenBranch,
    CloseBranch,
}

#[derive(Clone, Copy)]
struct DrawnBond {
    symbol: u8,
    at: usize,
    /// Whether a ring number may follow: only where the bond stands straight behind an atom or its ring numbers.
    ring_may_follow: bool,
    /// Whether it stands behind a branch, where a ring number is loose notation.
    behind_branch: bool,
}

/// A ring number that waits for its other end.
pub(crate) struct OpenRing<Id> {
    number: u32,
    pub(super) atom: Id,
    symbol: Option<u8>,
    span: Span,
    /// Place in the neighbour list of a marked centre that waits for the other end.
    pub(super) slot: Option<(usize, usize)>,
}

struct OpenBranch<Id> {
    parent: Id,
    at: usize,
}

/// A text that is being read.
pub(crate) struct Grammar<'a, S: Sink> {
    text: &'a str,
    bytes: &'a [u8],
    at: usize,
    limits: &'a Limits,
    brackets: &'a mut Brackets<S::Atom>,
    pub(super) sink: S,
    previous: Option<S::Id>,
    last: Last,
    bond: Option<DrawnBond>,
    branches: SmallVec<[OpenBranch<S::Id>; 8]>,
    rings: SmallVec<[OpenRing<S::Id>; 4]>,
}

impl<'a, S: Sink> Grammar<'a, S> {
    pub(crate) fn new(text: &'a str, limits: &'a Limits, brackets: &'a mut Brackets<S::Atom>, sink: S) -> Self {
        Self {
            text,
            bytes: text.as_bytes(),
            at: 0,
            limits,
            brackets,
            sink,
            previous: None,
            last: Last::Nothing,
            bond: None,
            branches: SmallVec::new(),
            rings: SmallVec::new(),
        }
    }

    /// The sink, with what it was told.
    pub(crate) fn into_sink(self) -> S {
        self.sink
    }

    /// `smiles ::= chain*`: each turn takes one token.
    pub(crate) fn run(&mut self) -> Result<(), S::Stop> {
        while let Some(&byte) = self.bytes.get(self.at) {
            match byte {
                b'[' => self.bracket()?,
                b'(' => self.open_branch()?,
                b')' => self.close_branch()?,
                b'0'..=b'9' => self.ring_number(u32::from(byte - b'0'), 1)?,
                b'%' => self.long_ring_number()?,
                b'.' => self.dot()?,
                b'-' | b'=' | b'#' | b'$' | b':' | b'/' | b'\\' => self.bond_symbol(byte)?,
                _ => self.organic(byte)?,
            }
        }
        self.end()
    }

    #[cold]
    fn stop<T>(&self, span: Span, fault: SmilesFault) -> Result<T, S::Stop> {
        Err(self.sink.stop(|| SmilesError { span, fault }))
    }

    #[cold]
    fn unexpected<T>(&self, expected: &'static str) -> Result<T, S::Stop> {
        Err(self.sink.stop(|| {
            let found = self.text.get(self.at..).and_then(|rest| rest.chars().next()).unwrap_or('\u{fffd}');
            let (span, hint) = (Span::new(self.at, self.at + found.len_utf8()), hint(self.text, self.at));
            SmilesError { span, fault: SmilesFault::Unexpected { found, expected, hint } }
        }))
    }

    #[cold]
    fn ends<T>(&self, span: Span, expected: &'static str) -> Result<T, S::Stop> {
        let hint = || hint(self.text, self.text.len());
        Err(self.sink.stop(|| SmilesError { span, fault: SmilesFault::Ends { expected, hint: hint() } }))
    }

    /// What could stand here.
    fn expected(&self) -> &'static str {
        match self.last {
            Last::Nothing | Last::Dot => {
                "an atom (atoms outside the organic subset B C N O P S F Cl Br I b c n o s p stand in brackets)"
            }
            Last::Bond => "an atom or a ring number",
            Last::OpenBranch => "a bond, '.' or an atom",
            Last::Atom => "an atom, a bond, a ring number, a branch or '.'",
            Last::CloseBranch => "an atom, a bond, a branch or '.'",
        }
    }

    fn end(&self) -> Result<(), S::Stop> {
        let here = Span::at(self.at);
        match self.last {
            Last::Bond => return self.ends(here, "an atom after the bond"),
            Last::Dot => return self.ends(here, "an atom after '.'"),
            Last::OpenBranch => return self.ends(here, "a branch after '('"),
            _ => {}
        }
        if let Some(branch) = self.branches.last() {
            return self.stop(Span::new(branch.at, branch.at + 1), SmilesFault::UnclosedBranch);
        }
        if let Some(ring) = self.rings.first() {
            return self.stop(ring.span, SmilesFault::UnclosedRing(ring.number));
        }
        Ok(())
    }

    /// `organic ::= 'B' | 'C' | … | 'Cl' | 'Br' | 'b' | 'c' | … | '*'`.
    #[inline]
    fn organic(&mut self, byte: u8) -> Result<(), S::Stop> {
        let start = self.at;
        let Some((atom, length)) = self.sink.organic(byte, self.bytes.get(start + 1).copied()) else {
            return self.unexpected(self.expected());
        };
        self.at += length;
        self.atom(&atom, 0, None, Span::new(start, self.at))
    }

    /// `bracket ::= '[' isotope? symbol chiral? hcount? charge? class? ']'`: one that was read before is known but for its class.
    #[inline]
    fn bracket(&mut self) -> Result<(), S::Stop> {
        let start = self.at;
        let Some((atom, class)) = self.known_bracket() else { return self.new_bracket() };
        self.atom(&atom, class, None, Span::new(start, self.at))
    }

    #[inline]
    fn known_bracket(&mut self) -> Option<(S::Atom, u32)> {
        let behind = self.bytes.get(self.at + 1..)?;
        let (key, length, end) = Key::of(behind)?;
        let atom = *self.brackets.has(key).then(|| self.brackets.get(key))?;
        let behind = behind.get(length + 1..)?;
        let (class, rest) = if end == b':' { class(behind)? } else { (0, behind) };
        self.at = self.bytes.len() - rest.len();
        Some((atom, class.into()))
    }

    #[cold]
    fn new_bracket(&mut self) -> Result<(), S::Stop> {
        let start = self.at;
        let Some(length) = memchr::memchr(b']', &self.bytes[start..]) else {
            return self.ends(Span::new(start, start + 1), "']' for this '['");
        };
        let (from, to) = (start + 1, start + length);
        self.at = to + 1;
        let (atom, mark) = match bracket_atom(&self.bytes[from..to]) {
            Ok(read) => read,
            Err(fault) => return self.stop(Span::new(from + fault.start, from + fault.end), fault.fault),
        };
        let ready = self.sink.prepare(&atom)?;
        if let (None, Some((key, ..))) = (mark, Key::of(&self.bytes[from..])) {
            self.brackets.keep(key, ready);
        }
        self.atom(&ready, atom.class.unwrap_or(0), mark, Span::new(start, self.at))
    }

    /// An atom, and the bond to the one before it.
    #[inline]
    fn atom(&mut self, atom: &S::Atom, class: u32, mark: Option<Mark>, span: Span) -> Result<(), S::Stop> {
        let id = self.add(atom, class, mark, span)?;
        match self.sink.second_of_gas(atom, id, span) {
            Some(second) => self.add(&second, 0, None, span).map(|_| ()),
            None => Ok(()),
        }
    }

    #[inline]
    fn add(&mut self, atom: &S::Atom, class: u32, mark: Option<Mark>, span: Span) -> Result<S::Id, S::Stop> {
        let id = self.sink.atom(atom, class, span)?;
        let bond = self.bond.take();
        if let Some(previous) = self.previous {
            let at = bond.map_or(Span::at(span.start as usize), |bond| Span::new(bond.at, bond.at + 1));
            self.sink.bond(previous, id, bond.map(|bond| bond.symbol), at)?;
        }
        self.sink.follows(self.previous, id, mark, span)?;
        self.previous = Some(id);
        self.last = Last::Atom;
        Ok(id)
    }

    /// `bond ::= '-' | '=' | '#' | '$' | ':' | '/' | '\'`.
    #[inline]
    fn bond_symbol(&mut self, symbol: u8) -> Result<(), S::Stop> {
        if !matches!(self.last, Last::Atom | Last::CloseBranch | Last::OpenBranch) {
            return self.unexpected(self.expected());
        }
        let (ring_may_follow, behind_branch) = (self.last == Last::Atom, self.last == Last::CloseBranch);
        self.bond = Some(DrawnBond { symbol, at: self.at, ring_may_follow, behind_branch });
        self.last = Last::Bond;
        self.at += 1;
        Ok(())
    }

    /// `dot ::= '.'`.
    #[inline]
    fn dot(&mut self) -> Result<(), S::Stop> {
        if !matches!(self.last, Last::Atom | Last::CloseBranch | Last::OpenBranch) {
            return self.unexpected(self.expected());
        }
        self.previous = None;
        self.last = Last::Dot;
        self.at += 1;
        Ok(())
    }

    /// `branch ::= '(' ( bond | dot )? chain ')'`, its beginning.
    #[inline]
    fn open_branch(&mut self) -> Result<(), S::Stop> {
        let Some(parent) = self.previous.filter(|_| matches!(self.last, Last::Atom | Last::CloseBranch)) else {
            return self.unexpected(self.expected());
        };
        if self.branches.len() >= self.limits.branches {
            let fault = SmilesFault::Limit { what: "open branches", limit: self.limits.branches };
            return self.stop(Span::new(self.at, self.at + 1), fault);
        }
        self.branches.push(OpenBranch { parent, at: self.at });
        self.last = Last::OpenBranch;
        self.at += 1;
        Ok(())
    }

    /// `branch ::= '(' ( bond | dot )? chain ')'`, its end.
    #[inline]
    fn close_branch(&mut self) -> Result<(), S::Stop> {
        let span = Span::new(self.at, self.at + 1);
        if self.last == Last::OpenBranch {
            return self.stop(span, SmilesFault::EmptyBranch);
        }
        if !matches!(self.last, Last::Atom | Last::CloseBranch) {
            return self.unexpected(self.expected());
        }
        let Some(branch) = self.branches.pop() else {
            return self.stop(span, SmilesFault::UnopenedBranch);
        };
        self.previous = Some(branch.parent);
        self.last = Last::CloseBranch;
        self.at += 1;
        Ok(())
    }

    /// `ringbond ::= bond? digit | bond? '%' digit digit`.
    #[inline]
    fn ring_number(&mut self, number: u32, length: usize) -> Result<(), S::Stop> {
        let (straight, behind_branch) = match self.bond {
            Some(bond) => (bond.ring_may_follow, bond.behind_branch),
            None => (self.last == Last::Atom, self.last == Last::CloseBranch),
        };
        let Some(atom) = self.previous.filter(|_| straight || behind_branch) else {
            return self.unexpected(self.expected());
        };
        let bond = self.bond.take();
        let start = bond.map_or(self.at, |bond| bond.at);
        let span = Span::new(start, self.at + length);
        if behind_branch {
            self.sink.loose(span, LooseKind::RingBehindBranch)?;
        }
        let symbol = bond.map(|bond| bond.symbol);
        self.at += length;
        self.last = Last::Atom;
        let Some(open_at) = self.rings.iter().position(|ring| ring.number == number) else {
            let limit = self.limits.ring_numbers;
            if self.rings.len() >= limit {
                return self.stop(span, SmilesFault::Limit { what: "ring numbers in use at once", limit });
            }
            let slot = self.sink.ring_opens(atom);
            self.rings.push(OpenRing { number, atom, symbol, span, slot });
            return Ok(());
        };
        let open = self.rings.remove(open_at);
        self.close_ring(&open, atom, symbol, span)
    }

    /// `'%' digit digit`, and loosely `'%(' digit+ ')'`.
    #[cold]
    fn long_ring_number(&mut self) -> Result<(), S::Stop> {
        if let Some(&[tens @ b'0'..=b'9', units @ b'0'..=b'9']) = self.bytes.get(self.at + 1..self.at + 3) {
            return self.ring_number(u32::from(tens - b'0') * 10 + u32::from(units - b'0'), 3);
        }
        let digits = self.bytes.get(self.at + 2..).unwrap_or_default();
        let length = digits.iter().take_while(|byte| byte.is_ascii_digit()).count();
        let is_closed = self.bytes.get(self.at + 1) == Some(&b'(') && digits.get(length) == Some(&b')');
        if !is_closed || !(1..6).contains(&length) {
            return self.unexpected("a ring number: % and two digits");
        }
        let number = digits[..length].iter().fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0'));
        self.sink.loose(Span::new(self.at, self.at + length + 3), LooseKind::RingInParentheses(number))?;
        self.ring_number(number, length + 3)
    }

    #[inline]
    fn close_ring(
        &mut self,
        open: &OpenRing<S::Id>,
        atom: S::Id,
        symbol: Option<u8>,
        span: Span,
    ) -> Result<(), S::Stop> {
        let number = open.number;
        if open.atom == atom {
            return self.stop(span, SmilesFault::RingToSelf(number));
        }
        if self.sink.are_bonded(open.atom, atom) {
            return self.stop(span, SmilesFault::RingTwice(number));
        }
        let directed = |symbol: Option<u8>| matches!(symbol, Some(b'/' | b'\\'));
        let both_directed = directed(open.symbol) && directed(symbol);
        if let (Some(first), Some(second)) = (open.symbol, symbol)
            && first != second
            && !both_directed
        {
            let fault = SmilesFault::RingBondDiffers { number, open: first.into(), close: second.into() };
            return self.stop(span, fault);
        }
        let drawn_at_open = open.symbol.is_some() || symbol.is_none();
        let (from, to) = if drawn_at_open { (open.atom, atom) } else { (atom, open.atom) };
        let bond_span = if drawn_at_open { open.span } else { span };
        self.sink.bond(from, to, open.symbol.or(symbol), bond_span)?;
        self.sink.ring_closes(open, atom, symbol.filter(|_| both_directed).map(|symbol| (symbol, span)));
        Ok(())
    }
}
