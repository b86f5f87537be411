//! From arrows as written to arrows on the atoms of a start.

use super::symbols::{Spelt, spelt};
use super::{Arrow, AtomName, DrawnArrow, Place};
use crate::source::Span;
use crate::structure::stereo::Neighbour;
use crate::structure::{Atom, AtomId, Bond, Element, Label, LabelIndex, Structure};
use rustc_hash::FxHashMap;

/// Why an arrow cannot be put on the atoms of its start.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UnknownAtom {
    /// No atom has the label.
    #[error("the start has no atom {0}")]
    Label(String),
    /// The symbol before the label is another element's.
    #[error("{name} names no atom: atom {label} of the start is {is}")]
    Element {
        /// As written.
        name: String,
        /// The label in it.
        label: String,
        /// The element that the atom is.
        is: &'static str,
    },
    /// The atom has fewer undrawn hydrogens.
    #[error("atom {label} carries {has} undrawn hydrogens, so {name} names none of them")]
    Hydrogen {
        /// As written.
        name: String,
        /// The atom.
        label: String,
        /// Undrawn hydrogens that it carries in the drawing.
        has: u16,
    },
}

/// An arrow on atoms whose head may still have two readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenArrow {
    /// The first reading.
    pub arrow: Arrow,
    /// The head of the second reading: a pair of a bond a-b that goes to a third atom bonds it to a or to b.
    pub other_head: Option<Place<AtomId>>,
    /// Whether the head named a bonded atom where a bond was meant.
    pub head_on_bonded_atom: bool,
}

impl OpenArrow {
    /// The arrow as the question has it: an open head is on the atom alone.
    #[must_use]
    pub fn as_asked(&self) -> Arrow {
        match (self.other_head, self.arrow.head) {
            (Some(_), Place::Bond(_, atom)) => Arrow { head: Place::Atom(atom), ..self.arrow },
            _ => self.arrow,
        }
    }
}

/// The start with the hydrogens that arrows name drawn out, and the arrows on it.
#[derive(Debug, Clone)]
pub struct Resolved {
    /// The start; atoms of the drawing keep their ids, hydrogens drawn out follow them.
    pub start: Structure,
    /// The arrows that could be resolved, with their number counted from 1.
    pub arrows: Vec<(usize, OpenArrow)>,
    /// Faults: number of the arrow counted from 1, where, what.
    pub faults: Vec<(usize, Span, UnknownAtom)>,
}

/// Finds the atoms that arrows name.
#[must_use]
pub fn resolve(start: Structure, labels: &LabelIndex, arrows: &[DrawnArrow]) -> Resolved {
    let mut resolver = Resolver { start, labels, drawn_out: FxHashMap::default() };
    let mut resolved = Vec::with_capacity(arrows.len());
    let mut faults = Vec::new();
    for (at, arrow) in arrows.iter().enumerate() {
        let tail = resolver.place(&arrow.tail);
        let head = resolver.place(&arrow.head);
        match (tail, head) {
            (Ok(tail), Ok(head)) => resolved.push((at + 1, resolver.open(arrow, tail, head))),
            (tail, head) => {
                faults.extend([tail.err(), head.err()].into_iter().flatten().map(|(span, why)| (at + 1, span, why)));
            }
        }
    }
    Resolved { start: resolver.start, arrows: resolved, faults }
}

/// The second atom of hydrogen gas that is written as one, `[HH]`, or that has no label.
fn second_of_gas(start: &Structure, first: AtomId) -> Option<AtomId> {
    let is_hydrogen = |atom: AtomId| start.atom(atom).element == Element::HYDROGEN;
    let (second, _) = start.neighbours(first).next().filter(|(other, _)| is_hydrogen(first) && is_hydrogen(*other))?;
    let is_one = start.atom_span(first) == start.atom_span(second) && start.atom_span(first) != Span::default();
    (is_one || start.label(second).is_none()).then_some(second)
}

struct Resolver<'a> {
    start: Structure,
    labels: &'a LabelIndex,
    /// Hydrogens drawn out, by the atom that carries them and their number.
    drawn_out: FxHashMap<(AtomId, u32), AtomId>,
}

impl Resolver<'_> {
    fn place(&mut self, place: &Place<AtomName>) -> Result<Place<AtomId>, (Span, UnknownAtom)> {
        Ok(match place {
            Place::Atom(a) => Place::Atom(self.atom(a)?),
            Place::Bond(a, b) => Place::Bond(self.atom(a)?, self.atom(b)?),
        })
    }

    fn atom(&mut self, name: &AtomName) -> Result<AtomId, (Span, UnknownAtom)> {
        let unknown = || (name.span, UnknownAtom::Label(name.to_string()));
        if let Some(which) = name.hydrogen {
            let carrier = self.labels.get(&name.label).ok_or_else(unknown)?;
            return self.hydrogen(name, carrier, which);
        }
        if let Some(atom) = self.labels.get(&name.label) {
            return Ok(atom);
        }
        // An id of a document may itself end like a hydrogen: only where no atom has the whole name is it taken apart.
        let Label::Name(text) = &name.label else { return Err(unknown()) };
        let named = text.rsplit_once('h').and_then(|(carrier, count)| {
            let which = if count.is_empty() { 1 } else { count.parse().ok()? };
            Some((self.labels.get(&Label::from_text(carrier))?, which))
        });
        match named {
            Some((carrier, which)) => self.hydrogen(name, carrier, which),
            None => Err((name.span, self.other_element(name, text))),
        }
    }

    /// Why a name that is no label names no atom.
    fn other_element(&self, name: &AtomName, text: &str) -> UnknownAtom {
        let of = |spelt: Spelt| Some((self.labels.get(&spelt.label)?, spelt));
        match spelt(text).and_then(of) {
            Some((atom, spelt)) if self.start.atom(atom).element != spelt.element => UnknownAtom::Element {
                name: name.to_string(),
                label: spelt.label.to_string(),
                is: self.start.atom(atom).element.symbol(),
            },
            _ => UnknownAtom::Label(name.to_string()),
        }
    }

    fn hydrogen(&mut self, name: &AtomName, carrier: AtomId, which: u32) -> Result<AtomId, (Span, UnknownAtom)> {
        if let Some(atom) = self.drawn_out.get(&(carrier, which)) {
            return Ok(*atom);
        }
        if let Some(second) = second_of_gas(&self.start, carrier).filter(|_| which == 1) {
            return Ok(second);
        }
        let taken = self.drawn_out.keys().filter(|(own, _)| *own == carrier).count() as u16;
        let left = self.start.atom(carrier).hydrogens;
        if left == 0 || which == 0 || which > u32::from(left + taken) {
            let label = self.start.label(carrier).map(|label| label.to_string()).unwrap_or_default();
            return Err((name.span, UnknownAtom::Hydrogen { name: name.to_string(), label, has: left + taken }));
        }
        self.start.atom_mut(carrier).hydrogens = left - 1;
        let hydrogen = self.start.add_atom(Atom::new(Element::HYDROGEN), self.start.atom_span(carrier));
        self.start.add_bond(carrier, hydrogen, Bond::new(1), Span::default());
        self.start.set_label(hydrogen, &Label::Name(name.to_string().into()));
        if !self.start.coordinates.is_empty() {
            let point = self.start.coordinates.get(carrier.index()).copied().unwrap_or_default();
            self.start.coordinates.push(point);
        }
        for centre in self.start.stereo.centres.iter_mut().filter(|centre| centre.atom == carrier) {
            for neighbour in centre.neighbours.iter_mut().filter(|own| **own == Neighbour::Hydrogen) {
                *neighbour = Neighbour::Atom(hydrogen);
            }
        }
        self.drawn_out.insert((carrier, which), hydrogen);
        Ok(hydrogen)
    }

    /// Reads a head on an atom by contract: the table of tails and heads.
    fn open(&self, drawn: &DrawnArrow, tail: Place<AtomId>, head: Place<AtomId>) -> OpenArrow {
        let read = |head| Arrow { moves: drawn.moves, tail, head };
        let plain = OpenArrow { arrow: read(head), other_head: None, head_on_bonded_atom: false };
        match (tail, head) {
            (Place::Atom(a), Place::Atom(b)) if a != b => {
                let head_on_bonded_atom = self.start.bond_between(a, b).is_some();
                OpenArrow { arrow: read(Place::Bond(a, b)), head_on_bonded_atom, ..plain }
            }
            (Place::Bond(a, b), Place::Atom(c)) if c != a && c != b => {
                OpenArrow { arrow: read(Place::Bond(a, c)), other_head: Some(Place::Bond(b, c)), ..plain }
            }
            _ => plain,
        }
    }
}

/// The readings of arrows with open heads, at most `limit` of them, the first heads first.
pub fn readings(arrows: &[(usize, OpenArrow)], limit: usize) -> impl Iterator<Item = Vec<Arrow>> {
    let open: Vec<usize> = (0..arrows.len()).filter(|at| arrows[*at].1.other_head.is_some()).collect();
    let count = 1_usize.checked_shl(open.len().min(32) as u32).unwrap_or(usize::MAX).min(limit.max(1));
    (0..count).map(move |choice| {
        let mut read: Vec<Arrow> = arrows.iter().map(|(_, open)| open.arrow).collect();
        for (bit, at) in open.iter().enumerate().take(usize::BITS as usize) {
            if let (1, Some(head)) = (choice >> bit & 1, arrows[*at].1.other_head) {
                read[*at].head = head;
            }
        }
        read
    })
}
