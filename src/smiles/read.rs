//! The reader: one loop over the text, explicit stacks, a span for every atom and bond.

use super::bracket::{Mark, bracket_atom, plain_atom};
use super::direction::{Direction, double_bonds};
use super::error::{SmilesError, SmilesFault};
use super::hints::hint;
use super::loose::{LooseForm, LooseKind, RadicalMark, split_tail};
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::stereo::Neighbour;
use crate::structure::{Atom, AtomId, Bond, BondId, Element, Structure};
use centres::settle_centre;
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

mod beyond;
mod centres;

/// How strictly to read.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// Accept bond directions at one end of a double bond only and aromatic symbols outside rings ("Nonstandard forms" of
    /// the specification). The default refuses them.
    pub relaxed: bool,
    /// Caps on atoms, bonds and branches.
    pub limits: Limits,
}

/// What a reader got: the structure as far as it was read, and every fault found.
#[derive(Debug, Clone, Default)]
pub struct Reading {
    /// The structure, whole where there are no faults.
    pub structure: Structure,
    /// The faults in the order of the text.
    pub faults: Vec<SmilesError>,
    /// Spellings beyond the standard that have one reading, in the order of the text.
    pub loose: Vec<LooseForm>,
}

/// Reads a SMILES strictly, under the default limits.
///
/// Hydrogens of the organic subset are filled in; delocalised bonds stay delocalised (see
/// [`localise`](crate::structure::localise)). An empty text is an empty structure.
#[must_use]
pub fn read(text: &str) -> Reading {
    thread_local! {
        static OPTIONS: Options = Options::default();
    }
    OPTIONS.with(|options| read_with(text, options))
}

/// Reads a SMILES under the given options.
#[must_use]
pub fn read_with(text: &str, options: &Options) -> Reading {
    let (own, tail) = split_tail(text);
    let mut reader = Reader::new(own, options);
    match reader.run().and_then(|()| reader.tail(tail)) {
        Err(error) => reader.faults.push(error),
        Ok(marks) => reader.finish(&marks),
    }
    Reading { structure: reader.structure, faults: reader.faults, loose: reader.loose }
}

/// Marks hydrogens that the valence rule fills in at the end.
const IMPLICIT: u16 = u16::MAX;

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

struct OpenRing {
    number: u32,
    atom: AtomId,
    symbol: Option<u8>,
    span: Span,
    /// Place in the neighbour list of a marked centre that waits for the other end.
    slot: Option<(usize, usize)>,
}

struct OpenBranch {
    parent: AtomId,
    at: usize,
}

struct MarkedCentre {
    atom: AtomId,
    mark: Mark,
    span: Span,
    neighbours: SmallVec<[Neighbour; 4]>,
}

struct Reader<'a> {
    text: &'a str,
    bytes: &'a [u8],
    at: usize,
    options: &'a Options,
    structure: Structure,
    faults: Vec<SmilesError>,
    previous: Option<AtomId>,
    last: Last,
    bond: Option<DrawnBond>,
    branches: SmallVec<[OpenBranch; 8]>,
    rings: SmallVec<[OpenRing; 4]>,
    centres: Vec<MarkedCentre>,
    centre_of: FxHashMap<AtomId, usize>,
    directions: Vec<Direction>,
    /// Bonds written `:`, which must lie in a ring.
    colons: Vec<BondId>,
    any_aromatic: bool,
    any_bare: bool,
    loose: Vec<LooseForm>,
    /// Second atoms of hydrogen gas that is written as one.
    partners: Vec<AtomId>,
}

/// About as many as the text has atoms: the letters with which their symbols begin. Hydrogens of brackets are none, and those
/// that stand alone are rare.
fn likely_atoms(text: &[u8]) -> usize {
    let begins = |byte: &u8| byte.is_ascii_uppercase() && *byte != b'H' || matches!(byte, b'c' | b'n' | b'o' | b's');
    // Counts of a byte each are added up in blocks of many bytes.
    let count = |block: &[u8]| block.iter().map(|byte| u8::from(begins(byte))).sum::<u8>();
    text.chunks(255).map(|block| usize::from(count(block))).sum()
}

impl<'a> Reader<'a> {
    fn new(text: &'a str, options: &'a Options) -> Self {
        Self {
            text,
            bytes: text.as_bytes(),
            at: 0,
            options,
            structure: Structure::with_capacity(likely_atoms(text.as_bytes()).min(4096)),
            faults: Vec::new(),
            previous: None,
            last: Last::Nothing,
            bond: None,
            branches: SmallVec::new(),
            rings: SmallVec::new(),
            centres: Vec::new(),
            centre_of: FxHashMap::default(),
            directions: Vec::new(),
            colons: Vec::new(),
            any_aromatic: false,
            any_bare: false,
            loose: Vec::new(),
            partners: Vec::new(),
        }
    }

    fn error<T>(&self, span: Span, fault: SmilesFault) -> Result<T, SmilesError> {
        let _ = self;
        Err(SmilesError { span, fault })
    }

    fn unexpected<T>(&self, expected: &'static str) -> Result<T, SmilesError> {
        let found = self.text.get(self.at..).and_then(|rest| rest.chars().next()).unwrap_or('\u{fffd}');
        let hint = hint(self.text, self.at);
        self.error(Span::new(self.at, self.at + found.len_utf8()), SmilesFault::Unexpected { found, expected, hint })
    }

    fn ends<T>(&self, span: Span, expected: &'static str) -> Result<T, SmilesError> {
        self.error(span, SmilesFault::Ends { expected, hint: hint(self.text, self.text.len()) })
    }

    fn loose(&mut self, span: Span, kind: LooseKind) {
        self.loose.push(LooseForm { span, kind });
    }

    /// `smiles ::= chain*`: each turn takes one token. Atoms, which are most of them, are added in one place.
    fn run(&mut self) -> Result<(), SmilesError> {
        while let Some(&byte) = self.bytes.get(self.at) {
            let start = self.at;
            let (atom, mark) = match byte {
                b'[' => match plain_atom(&self.bytes[start + 1..]) {
                    Some((atom, length)) => {
                        self.at = start + 1 + length;
                        (atom, None)
                    }
                    None => self.bracket()?,
                },
                b'(' | b')' | b'-' | b'=' | b'#' | b'$' | b':' | b'/' | b'\\' | b'0'..=b'9' | b'%' | b'.' => {
                    self.between_atoms(byte)?;
                    continue;
                }
                _ => (self.bare_atom(byte)?, None),
            };
            self.add_atom(&atom, mark, Span::new(start, self.at))?;
            if atom.element == Element::HYDROGEN && atom.hydrogens > 0 {
                self.add_partner(&atom, Span::new(start, self.at))?;
            }
        }
        self.end()
    }

    /// A token that is no atom.
    fn between_atoms(&mut self, byte: u8) -> Result<(), SmilesError> {
        match byte {
            b'(' => self.open_branch(),
            b')' => self.close_branch(),
            b'0'..=b'9' => self.ring_number(u32::from(byte - b'0'), 1),
            b'%' => self.two_digit_ring_number(),
            b'.' => self.dot(),
            _ => self.bond_symbol(byte),
        }
    }

    fn end(&self) -> Result<(), SmilesError> {
        let here = Span::at(self.at);
        match self.last {
            Last::Bond => return self.ends(here, "an atom after the bond"),
            Last::Dot => return self.ends(here, "an atom after '.'"),
            Last::OpenBranch => return self.ends(here, "a branch after '('"),
            _ => {}
        }
        if let Some(branch) = self.branches.last() {
            return self.error(Span::new(branch.at, branch.at + 1), SmilesFault::UnclosedBranch);
        }
        if let Some(ring) = self.rings.first() {
            return self.error(ring.span, SmilesFault::UnclosedRing(ring.number));
        }
        Ok(())
    }

    /// `organic ::= 'B' | 'C' | … | 'Cl' | 'Br' | 'b' | 'c' | … | '*'`.
    #[inline]
    fn bare_atom(&mut self, byte: u8) -> Result<Atom, SmilesError> {
        let next = self.bytes.get(self.at + 1).copied();
        let Some((element, aromatic, length)) = bare_symbol(byte, next) else {
            return self.unexpected(self.expected());
        };
        self.at += length;
        self.any_bare = true;
        let hydrogens = if element == Element::ANY { 0 } else { IMPLICIT };
        Ok(Atom { aromatic, hydrogens, ..Atom::new(element) })
    }

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

    /// Any bracket.
    fn bracket(&mut self) -> Result<(Atom, Option<Mark>), SmilesError> {
        let start = self.at;
        let Some(length) = memchr::memchr(b']', &self.bytes[start..]) else {
            return self.ends(Span::new(start, start + 1), "']' for this '['");
        };
        let (from, to) = (start + 1, start + length);
        self.at = to + 1;
        bracket_atom(&self.bytes[from..to])
            .map_err(|fault| SmilesError { span: Span::new(from + fault.start, from + fault.end), fault: fault.fault })
    }

    #[inline]
    fn add_atom(&mut self, atom: &Atom, mark: Option<Mark>, span: Span) -> Result<(), SmilesError> {
        if self.structure.atom_count() >= self.options.limits.atoms {
            return self.too_many("atoms", self.options.limits.atoms, span);
        }
        self.any_aromatic |= atom.aromatic;
        let id = self.structure.add_atom(*atom, span);
        let bond = self.bond.take();
        if let Some(previous) = self.previous {
            let at = bond.map_or(Span::at(span.start as usize), |bond| Span::new(bond.at, bond.at + 1));
            self.connect(previous, id, bond.map(|bond| bond.symbol), at)?;
        }
        if mark.is_some() || !self.centres.is_empty() {
            self.list_neighbours(id, mark, span);
        }
        self.previous = Some(id);
        self.last = Last::Atom;
        Ok(())
    }

    #[cold]
    fn too_many<T>(&self, what: &'static str, limit: usize, span: Span) -> Result<T, SmilesError> {
        self.error(span, SmilesFault::Limit { what, limit })
    }

    /// Lists an atom that was added and the one before it as neighbours of each other, where they are marked, and the hydrogen of
    /// the former.
    fn list_neighbours(&mut self, id: AtomId, mark: Option<Mark>, span: Span) {
        if let Some(mark) = mark {
            self.centre_of.insert(id, self.centres.len());
            self.centres.push(MarkedCentre { atom: id, mark, span, neighbours: SmallVec::new() });
        }
        if let Some(previous) = self.previous {
            self.list_neighbour(previous, Neighbour::Atom(id));
            self.list_neighbour(id, Neighbour::Atom(previous));
        }
        if mark.is_some() && self.structure.atom(id).hydrogens == 1 {
            self.list_neighbour(id, Neighbour::Hydrogen);
        }
    }

    fn list_neighbour(&mut self, atom: AtomId, neighbour: Neighbour) -> Option<(usize, usize)> {
        let centre = *self.centre_of.get(&atom)?;
        self.centres[centre].neighbours.push(neighbour);
        Some((centre, self.centres[centre].neighbours.len() - 1))
    }

    /// Adds the bond that `symbol` draws from `a` to `b`.
    #[inline]
    fn connect(&mut self, a: AtomId, b: AtomId, symbol: Option<u8>, span: Span) -> Result<(), SmilesError> {
        if self.structure.bond_count() >= self.options.limits.bonds {
            return self.too_many("bonds", self.options.limits.bonds, span);
        }
        let bond = match symbol {
            // Between two aromatic atoms a bond that is not written is aromatic where it lies in a ring, else single:
            // which of the two is known at the end.
            None if self.any_aromatic && self.structure.atom(a).aromatic && self.structure.atom(b).aromatic => {
                Bond::delocalised()
            }
            None | Some(b'-' | b'/' | b'\\') => Bond::new(1),
            Some(b'=') => Bond::new(2),
            Some(b'#') => Bond::new(3),
            Some(b'$') => Bond::new(4),
            Some(_) => Bond::delocalised(),
        };
        let id = self.structure.add_bond(a, b, bond, span);
        if let Some(symbol @ (b':' | b'/' | b'\\')) = symbol {
            self.note_bond(symbol, id, span);
        }
        Ok(())
    }

    /// Notes what is judged of a bond at the end: its direction, or that it must lie in a ring.
    fn note_bond(&mut self, symbol: u8, bond: BondId, span: Span) {
        if symbol == b':' {
            self.colons.push(bond);
            return;
        }
        let (from, to) = self.structure.ends(bond);
        self.directions.push(Direction { from, to, up: symbol == b'/', span });
    }

    fn bond_symbol(&mut self, symbol: u8) -> Result<(), SmilesError> {
        if !matches!(self.last, Last::Atom | Last::CloseBranch | Last::OpenBranch) {
            return self.unexpected(self.expected());
        }
        let (ring_may_follow, behind_branch) = (self.last == Last::Atom, self.last == Last::CloseBranch);
        self.bond = Some(DrawnBond { symbol, at: self.at, ring_may_follow, behind_branch });
        self.last = Last::Bond;
        self.at += 1;
        Ok(())
    }

    fn dot(&mut self) -> Result<(), SmilesError> {
        if !matches!(self.last, Last::Atom | Last::CloseBranch | Last::OpenBranch) {
            return self.unexpected(self.expected());
        }
        self.previous = None;
        self.last = Last::Dot;
        self.at += 1;
        Ok(())
    }

    fn open_branch(&mut self) -> Result<(), SmilesError> {
        let Some(parent) = self.previous.filter(|_| matches!(self.last, Last::Atom | Last::CloseBranch)) else {
            return self.unexpected(self.expected());
        };
        if self.branches.len() >= self.options.limits.branches {
            let limit = self.options.limits.branches;
            return self.error(Span::new(self.at, self.at + 1), SmilesFault::Limit { what: "open branches", limit });
        }
        self.branches.push(OpenBranch { parent, at: self.at });
        self.last = Last::OpenBranch;
        self.at += 1;
        Ok(())
    }

    fn close_branch(&mut self) -> Result<(), SmilesError> {
        let span = Span::new(self.at, self.at + 1);
        if self.last == Last::OpenBranch {
            return self.error(span, SmilesFault::EmptyBranch);
        }
        if !matches!(self.last, Last::Atom | Last::CloseBranch) {
            return self.unexpected(self.expected());
        }
        let Some(branch) = self.branches.pop() else {
            return self.error(span, SmilesFault::UnopenedBranch);
        };
        self.previous = Some(branch.parent);
        self.last = Last::CloseBranch;
        self.at += 1;
        Ok(())
    }

    /// `ringbond ::= bond? digit | bond? '%' digit digit`.
    fn ring_number(&mut self, number: u32, length: usize) -> Result<(), SmilesError> {
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
            self.loose(span, LooseKind::RingBehindBranch);
        }
        let symbol = bond.map(|bond| bond.symbol);
        self.at += length;
        self.last = Last::Atom;
        let Some(open_at) = self.rings.iter().position(|ring| ring.number == number) else {
            let limit = self.options.limits.ring_numbers;
            if self.rings.len() >= limit {
                return self.error(span, SmilesFault::Limit { what: "ring numbers in use at once", limit });
            }
            let slot = self.list_neighbour(atom, Neighbour::LonePair);
            self.rings.push(OpenRing { number, atom, symbol, span, slot });
            return Ok(());
        };
        let open = self.rings.remove(open_at);
        self.close_ring(&open, atom, symbol, span)
    }

    fn close_ring(&mut self, open: &OpenRing, atom: AtomId, symbol: Option<u8>, span: Span) -> Result<(), SmilesError> {
        let number = open.number;
        if open.atom == atom {
            return self.error(span, SmilesFault::RingToSelf(number));
        }
        if self.structure.bond_between(open.atom, atom).is_some() {
            return self.error(span, SmilesFault::RingTwice(number));
        }
        let directed = |symbol: Option<u8>| matches!(symbol, Some(b'/' | b'\\'));
        match (open.symbol, symbol) {
            (Some(first), Some(second)) if first != second && !(directed(open.symbol) && directed(symbol)) => {
                let fault = SmilesFault::RingBondDiffers { number, open: first.into(), close: second.into() };
                return self.error(span, fault);
            }
            _ => {}
        }
        let drawn_at_open = open.symbol.is_some() || symbol.is_none();
        let (from, to) = if drawn_at_open { (open.atom, atom) } else { (atom, open.atom) };
        let bond_span = if drawn_at_open { open.span } else { span };
        self.connect(from, to, open.symbol.or(symbol), bond_span)?;
        if directed(symbol) && directed(open.symbol) {
            self.directions.push(Direction { from: atom, to: open.atom, up: symbol == Some(b'/'), span });
        }
        if let Some((centre, slot)) = open.slot {
            self.centres[centre].neighbours[slot] = Neighbour::Atom(atom);
        }
        self.list_neighbour(atom, Neighbour::Atom(open.atom));
        Ok(())
    }

    /// What can only be said of the whole: aromatic bonds, hydrogens, stereo.
    fn finish(&mut self, marks: &[RadicalMark]) {
        if self.any_aromatic || !self.colons.is_empty() {
            self.settle_aromatic_bonds();
        }
        if self.any_bare {
            self.fill_hydrogens();
        }
        if !marks.is_empty() {
            let written = |id: &AtomId| self.partners.binary_search(id).is_err();
            let written: Vec<AtomId> = self.structure.atom_ids().filter(written).collect();
            for mark in marks {
                self.mark_radical(mark, written.get(mark.atom).copied());
            }
        }
        for at in 0..self.partners.len() {
            self.judge_partner(self.partners[at]);
        }
        self.settle_centres();
        if !self.directions.is_empty() {
            double_bonds(&mut self.structure, &self.directions, self.options.relaxed, &mut self.faults);
        }
    }

    fn settle_aromatic_bonds(&mut self) {
        let in_ring = crate::structure::ring_bonds(&self.structure);
        for bond in self.structure.bond_ids() {
            if self.structure.bond(bond).aromatic && !in_ring[bond.index()] {
                *self.structure.bond_mut(bond) = Bond::new(1);
            }
        }
        if self.options.relaxed {
            return;
        }
        for bond in &self.colons {
            if !in_ring[bond.index()] {
                let span = self.structure.bond_span(*bond);
                self.faults.push(SmilesError { span, fault: SmilesFault::AromaticBondOutsideRing });
            }
        }
        for (id, atom) in self.structure.atoms().filter(|(_, atom)| atom.aromatic) {
            let _ = atom;
            if !self.structure.neighbours(id).any(|(_, bond)| in_ring[bond.index()]) {
                let span = self.structure.atom_span(id);
                self.faults.push(SmilesError { span, fault: SmilesFault::AromaticOutsideRing });
            }
        }
    }

    fn fill_hydrogens(&mut self) {
        for id in self.structure.atom_ids() {
            if self.structure.atom(id).hydrogens != IMPLICIT {
                continue;
            }
            let (mut sum, mut delocalised) = (0, self.structure.atom(id).aromatic);
            for (_, bond) in self.structure.neighbours(id) {
                let bond = self.structure.bond(bond);
                sum += u32::from(bond.order);
                delocalised |= bond.aromatic;
            }
            let filled = understood_hydrogens(self.structure.atom(id).element, sum, delocalised);
            self.structure.atom_mut(id).hydrogens = filled as u16;
        }
    }

    fn settle_centres(&mut self) {
        for centre in std::mem::take(&mut self.centres) {
            match settle_centre(&self.structure, &centre) {
                Ok(settled) => self.structure.stereo.centres.push(settled),
                Err(fault) => self.faults.push(SmilesError { span: centre.span, fault }),
            }
        }
    }
}

/// The hydrogens of an atom of the organic subset whose bonds have the orders `sum` together (OpenSMILES 1.0, "Organic
/// subset"): up to the lowest normal valence that the bonds do not pass; for an aromatic atom up to its one lowest valence, less
/// the pi bond.
#[inline]
pub(crate) fn understood_hydrogens(element: Element, sum: u32, delocalised: bool) -> u32 {
    let mut valences = element.organic_valences().iter().map(|valence| u32::from(*valence));
    if delocalised {
        return valences.next().map_or(0, |valence| valence.saturating_sub(sum + 1));
    }
    valences.find(|valence| *valence >= sum).map_or(0, |valence| valence - sum)
}

/// The symbol of an atom without brackets that begins with `byte` and goes on with `next`: its element, whether it is aromatic, and
/// its length in bytes (OpenSMILES 1.0, 3.1.5: the organic subset and `*`).
#[inline]
pub(crate) fn bare_symbol(byte: u8, next: Option<u8>) -> Option<(Element, bool, usize)> {
    Some(match (byte, next) {
        (b'C', Some(b'l')) => (Element::CHLORINE, false, 2),
        (b'B', Some(b'r')) => (Element::BROMINE, false, 2),
        (b'C', _) => (Element::CARBON, false, 1),
        (b'O', _) => (Element::OXYGEN, false, 1),
        (b'N', _) => (Element::NITROGEN, false, 1),
        (b'c', _) => (Element::CARBON, true, 1),
        (b'n', _) => (Element::NITROGEN, true, 1),
        (b'o', _) => (Element::OXYGEN, true, 1),
        (b's', _) => (Element::SULFUR, true, 1),
        (b'F', _) => (Element::FLUORINE, false, 1),
        (b'S', _) => (Element::SULFUR, false, 1),
        (b'P', _) => (Element::PHOSPHORUS, false, 1),
        (b'I', _) => (Element::IODINE, false, 1),
        (b'B', _) => (Element::BORON, false, 1),
        (b'b', _) => (Element::BORON, true, 1),
        (b'p', _) => (Element::PHOSPHORUS, true, 1),
        (b'*', _) => (Element::ANY, false, 1),
        _ => return None,
    })
}
