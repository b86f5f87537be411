//! The reader: a structure of what the grammar tells of, with a span for every atom and bond.

use super::bracket::Mark;
use super::brackets::Brackets;
use super::direction::{Direction, double_bonds};
use super::error::{SmilesError, SmilesFault};
use super::grammar::{Grammar, OpenRing, Sink};
use super::loose::{LooseForm, LooseKind, RadicalMark, split_tail};
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::stereo::Neighbour;
use crate::structure::{Atom, AtomId, Bond, BondId, Element, Structure};
use centres::settle_centre;
use rustc_hash::FxHashMap;
use smallvec::SmallVec;
use std::cell::RefCell;

mod beyond;
mod centres;

/// How strictly to read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
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
    thread_local! {
        static KEPT: RefCell<Kept> = RefCell::default();
    }
    let (own, tail) = split_tail(text);
    KEPT.with_borrow_mut(|Kept { brackets, orders }| {
        let mut grammar = Grammar::new(own, &options.limits, brackets, Reader::new(own, options, orders));
        let read = grammar.run();
        let mut reader = grammar.into_sink();
        match read.and_then(|()| reader.tail(tail)) {
            Err(error) => reader.faults.push(error),
            Ok(marks) => reader.finish(&marks),
        }
        Reading { structure: reader.structure, faults: reader.faults, loose: reader.loose }
    })
}

/// What is kept from text to text.
struct Kept {
    brackets: Brackets<Atom>,
    /// By atom: the orders of its bonds added up, and whether one is delocalised.
    orders: Vec<(u32, bool)>,
}

impl Default for Kept {
    fn default() -> Self {
        Self { brackets: Brackets::new(Atom::new(Element::ANY)), orders: Vec::new() }
    }
}

/// Marks hydrogens that the valence rule fills in at the end.
const IMPLICIT: u16 = u16::MAX;

struct MarkedCentre {
    atom: AtomId,
    mark: Mark,
    span: Span,
    neighbours: SmallVec<[Neighbour; 4]>,
}

/// Draws what the grammar tells of, and notes what can only be said of the whole.
struct Reader<'a> {
    bytes: &'a [u8],
    options: &'a Options,
    structure: Structure,
    faults: Vec<SmilesError>,
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
    orders: &'a mut Vec<(u32, bool)>,
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
    fn new(text: &'a str, options: &'a Options, orders: &'a mut Vec<(u32, bool)>) -> Self {
        Self {
            bytes: text.as_bytes(),
            options,
            structure: Structure::with_capacity(likely_atoms(text.as_bytes()).min(4096)),
            faults: Vec::new(),
            centres: Vec::new(),
            centre_of: FxHashMap::default(),
            directions: Vec::new(),
            colons: Vec::new(),
            any_aromatic: false,
            any_bare: false,
            loose: Vec::new(),
            partners: Vec::new(),
            orders,
        }
    }
}

impl Sink for Reader<'_> {
    type Id = AtomId;
    type Atom = Atom;
    type Stop = SmilesError;

    fn stop(&self, fault: impl FnOnce() -> SmilesError) -> SmilesError {
        fault()
    }

    fn prepare(&mut self, atom: &Atom) -> Result<Atom, SmilesError> {
        Ok(Atom { class: None, ..*atom })
    }

    #[inline]
    fn organic(&mut self, byte: u8, next: Option<u8>) -> Option<(Atom, usize)> {
        let (element, aromatic, length) = bare_symbol(byte, next)?;
        self.any_bare = true;
        let hydrogens = if element == Element::ANY { 0 } else { IMPLICIT };
        Some((Atom { aromatic, hydrogens, ..Atom::new(element) }, length))
    }

    #[inline]
    fn atom(&mut self, atom: &Atom, class: u32, span: Span) -> Result<AtomId, SmilesError> {
        if self.structure.atom_count() >= self.options.limits.atoms {
            return too_many("atoms", self.options.limits.atoms, span);
        }
        self.any_aromatic |= atom.aromatic;
        // OpenSMILES 1.0, 3.1.7: an atom class that is not given is 0.
        Ok(self.structure.add_atom(Atom { class: (class > 0).then_some(class), ..*atom }, span))
    }

    #[inline]
    fn second_of_gas(&mut self, first: &Atom, id: AtomId, span: Span) -> Option<Atom> {
        if first.element != Element::HYDROGEN || first.hydrogens == 0 { None } else { Some(self.add_gas(id, span)) }
    }

    #[inline]
    fn bond(&mut self, a: AtomId, b: AtomId, symbol: Option<u8>, span: Span) -> Result<(), SmilesError> {
        if self.structure.bond_count() >= self.options.limits.bonds {
            return too_many("bonds", self.options.limits.bonds, span);
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
        match symbol {
            Some(b':') => self.colons.push(id),
            Some(b'/' | b'\\') => self.directions.push(Direction { from: a, to: b, up: symbol == Some(b'/'), span }),
            _ => {}
        }
        Ok(())
    }

    #[inline]
    fn follows(
        &mut self,
        previous: Option<AtomId>,
        atom: AtomId,
        mark: Option<Mark>,
        span: Span,
    ) -> Result<(), SmilesError> {
        if mark.is_some() || !self.centres.is_empty() {
            self.list_neighbours(previous, atom, mark, span);
        }
        Ok(())
    }

    fn ring_opens(&mut self, atom: AtomId) -> Option<(usize, usize)> {
        if self.centres.is_empty() { None } else { self.list_neighbour(atom, Neighbour::LonePair) }
    }

    fn ring_closes(&mut self, open: &OpenRing<AtomId>, atom: AtomId, again: Option<(u8, Span)>) {
        if let Some((symbol, span)) = again {
            self.directions.push(Direction { from: atom, to: open.atom, up: symbol == b'/', span });
        }
        if let Some((centre, slot)) = open.slot {
            self.centres[centre].neighbours[slot] = Neighbour::Atom(atom);
        }
        if !self.centres.is_empty() {
            self.list_neighbour(atom, Neighbour::Atom(open.atom));
        }
    }

    #[inline]
    fn are_bonded(&self, a: AtomId, b: AtomId) -> bool {
        self.structure.bond_between(a, b).is_some()
    }

    fn loose(&mut self, span: Span, kind: LooseKind) -> Result<(), SmilesError> {
        self.loose.push(LooseForm { span, kind });
        Ok(())
    }
}

#[cold]
fn too_many<T>(what: &'static str, limit: usize, span: Span) -> Result<T, SmilesError> {
    Err(SmilesError { span, fault: SmilesFault::Limit { what, limit } })
}

impl Reader<'_> {
    /// Lists an atom that was added and the one before it as neighbours of each other, where they are marked, and the hydrogen of
    /// the former.
    fn list_neighbours(&mut self, previous: Option<AtomId>, id: AtomId, mark: Option<Mark>, span: Span) {
        if let Some(mark) = mark {
            self.centre_of.insert(id, self.centres.len());
            self.centres.push(MarkedCentre { atom: id, mark, span, neighbours: SmallVec::new() });
        }
        if let Some(previous) = previous {
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
        for (id, _) in self.structure.atoms().filter(|(_, atom)| atom.aromatic) {
            if !self.structure.neighbours(id).any(|(_, bond)| in_ring[bond.index()]) {
                let span = self.structure.atom_span(id);
                self.faults.push(SmilesError { span, fault: SmilesFault::AromaticOutsideRing });
            }
        }
    }

    fn fill_hydrogens(&mut self) {
        let orders = &mut *self.orders;
        orders.clear();
        orders.extend(self.structure.atoms().map(|(_, atom)| (0, atom.aromatic)));
        for (_, a, b, bond) in self.structure.bonds() {
            for end in [a, b] {
                let (sum, delocalised) = &mut orders[end.index()];
                *sum += u32::from(bond.order);
                *delocalised |= bond.aromatic;
            }
        }
        let bare = self.structure.atoms_mut().zip(orders).filter(|(atom, _)| atom.hydrogens == IMPLICIT);
        for (atom, (sum, delocalised)) in bare {
            atom.hydrogens = understood_hydrogens(atom.element, *sum, *delocalised) as u16;
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
