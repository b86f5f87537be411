//! The writer: localised bonds, labels as atom classes, the order of the drawing where SMILES allows it.
//!
//! Of the branches at an atom the largest is written last, without parentheses, and equal ones in the order of the
//! drawing, so that the text of a product looks like the text of its start.

mod plan;

use super::direction_marks::Marks;
use crate::structure::stereo::{Centre, Geometry, Neighbour};
use crate::structure::{AtomId, BondId, Element, Structure};
use plan::{Plan, Seen, Token, UNSEEN};
use smallvec::SmallVec;
use std::cell::RefCell;
use std::mem;

/// Whether labels are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Labels {
    /// Numeric labels as atom classes. Named ids have no place in SMILES and are left out.
    Classes,
    /// None.
    Without,
}

/// Writes a localised structure as SMILES.
#[must_use]
pub fn write(structure: &Structure, labels: Labels) -> String {
    write_planned(structure, labels.of(structure), |plan| plan.lay_as_drawn(structure))
}

/// Writes those species of a structure for whose first atom `keep` holds.
#[must_use]
pub fn write_part(structure: &Structure, labels: Labels, keep: impl Fn(AtomId) -> bool) -> String {
    let rank = |atom: AtomId| atom.index() as u32;
    write_planned(structure, labels.of(structure), |plan| plan.lay(structure, structure.atom_ids(), rank, keep))
}

/// Writes the atoms that `order` lists as if they were drawn in that order, and no others.
#[must_use]
pub(crate) fn write_in_order(structure: &Structure, labels: Labels, order: &[AtomId]) -> String {
    let mut ranks = vec![UNSEEN; structure.atom_count()];
    for (rank, atom) in (0..).zip(order) {
        ranks[atom.index()] = rank;
    }
    let rank = |atom: AtomId| ranks[atom.index()];
    write_planned(structure, labels.of(structure), |plan| plan.lay(structure, order.iter().copied(), rank, |_| true))
}

/// Writes a localised structure with other atom classes than its own.
#[must_use]
pub(crate) fn write_labelled(structure: &Structure, class: impl Fn(AtomId) -> Option<u32>) -> String {
    write_planned(structure, class, |plan| plan.lay_as_drawn(structure))
}

impl Labels {
    /// The class that is written of each atom.
    fn of(self, structure: &Structure) -> impl Fn(AtomId) -> Option<u32> {
        move |atom| structure.atom(atom).class.filter(|_| self == Self::Classes)
    }
}

/// Writes a structure in the order that `lay` plans.
fn write_planned(structure: &Structure, class: impl Fn(AtomId) -> Option<u32>, lay: impl FnOnce(&mut Plan)) -> String {
    thread_local! {
        static DESK: RefCell<(Plan, Vec<u8>)> = RefCell::default();
    }
    DESK.with_borrow_mut(|(plan, out)| {
        lay(plan);
        let marks = Marks::new(structure, &plan.position);
        let mut centres: Vec<&Centre> = structure.stereo.centres.iter().collect();
        centres.sort_by_key(|centre| centre.atom);
        out.clear();
        let mut writer = Writer {
            structure,
            class,
            plan,
            marks,
            centres,
            out: mem::take(out),
            open: Vec::new(),
            opened: 0,
            closed: 0,
        };
        writer.run();
        *out = writer.out;
        // Nothing but ASCII was written.
        String::from_utf8(out.clone()).unwrap_or_default()
    })
}

struct Writer<'a, C> {
    structure: &'a Structure,
    class: C,
    plan: &'a Plan,
    marks: Marks,
    /// Marked centres by atom.
    centres: Vec<&'a Centre>,
    /// The text: ASCII, byte by byte.
    out: Vec<u8>,
    /// Ring numbers in use, by number.
    open: Vec<Option<BondId>>,
    /// Ring bonds that have opened and closed so far.
    opened: usize,
    closed: usize,
}

impl<'a, C: Fn(AtomId) -> Option<u32>> Writer<'a, C> {
    fn run(&mut self) {
        let plan = self.plan;
        for (place, token) in (1..).zip(&plan.tokens) {
            match *token {
                Token::Dot => self.out.push(b'.'),
                Token::Open => self.out.push(b'('),
                Token::Close => self.out.push(b')'),
                Token::Atom(at) => self.atom(plan.seen(at), place),
            }
        }
    }

    fn atom(&mut self, seen: Seen, place: u32) {
        let bond = seen.bond().and_then(|bond| self.bond_symbol(bond));
        self.atom_symbol(bond, seen.atom);
        let plan = self.plan;
        while let Some(bond) = plan.next_close(&mut self.closed, place) {
            if let Some(number) = self.open.iter().position(|open| *open == Some(bond)) {
                self.open[number] = None;
                self.ring_number(number);
            }
        }
        while let Some(bond) = plan.next_open(&mut self.opened, place) {
            self.out.extend(self.bond_symbol(bond));
            let number = (1..self.open.len()).find(|number| self.open[*number].is_none());
            let number = number.unwrap_or(self.open.len().max(1));
            if self.open.len() <= number {
                self.open.resize(number + 1, None);
            }
            self.open[number] = Some(bond);
            self.ring_number(number);
        }
    }

    /// Beyond 99 open rings the specification has no number; `%(…)` is what other programs write there.
    fn ring_number(&mut self, number: usize) {
        let digits = number as u32;
        match number {
            0..=9 => self.number(digits),
            10..=99 => {
                self.out.push(b'%');
                self.number(digits);
            }
            _ => {
                self.out.extend_from_slice(b"%(");
                self.number(digits);
                self.out.push(b')');
            }
        }
    }

    #[inline]
    fn bond_symbol(&self, bond: BondId) -> Option<u8> {
        match self.structure.bond(bond).order {
            2 => Some(b'='),
            3 => Some(b'#'),
            4 => Some(b'$'),
            _ => self.marks.symbol(bond),
        }
    }

    /// Writes an atom and the bond before it, of which the symbol is given.
    #[inline]
    fn atom_symbol(&mut self, bond: Option<u8>, id: AtomId) {
        let atom = self.structure.atom(id);
        let class = (self.class)(id);
        let is_marked = !self.centres.is_empty() && self.centre(id).is_some();
        let is_plain = atom.isotope.is_none() && !is_marked;
        let symbol = atom.element.symbol().bytes();
        let mut short = Short::default();
        short.extend(bond);
        if class.is_none() && atom.charge == 0 && is_plain && self.hydrogens_are_implied(id) {
            short.extend(symbol);
            short.write(&mut self.out);
            return;
        }
        if is_plain && atom.hydrogens < 10 && matches!(atom.charge, -1..=1) {
            short.push(b'[');
            short.extend(symbol);
            match atom.hydrogens {
                0 => {}
                1 => short.push(b'H'),
                some => short.extend([b'H', digit(some.into())]),
            }
            match atom.charge {
                0 => {}
                1.. => short.push(b'+'),
                _ => short.push(b'-'),
            }
            short.write(&mut self.out);
        } else {
            short.write(&mut self.out);
            self.long_symbol(id);
        }
        self.close_bracket(class);
    }

    /// Writes a bracket that is not [`Short`], up to its class.
    #[inline(never)]
    fn long_symbol(&mut self, id: AtomId) {
        let atom = self.structure.atom(id);
        self.out.push(b'[');
        if let Some(mass) = atom.isotope {
            self.number(u32::from(mass));
        }
        self.out.extend(atom.element.symbol().bytes());
        if let Some(centre) = self.centre(id) {
            let chirality = self.chirality(centre);
            self.out.extend(chirality.bytes());
        }
        self.counted(b'H', u32::from(atom.hydrogens));
        let sign = if atom.charge > 0 { b'+' } else { b'-' };
        self.counted(sign, u32::from(atom.charge.unsigned_abs()));
    }

    /// Writes the class and the end of a bracket.
    #[inline]
    fn close_bracket(&mut self, class: Option<u32>) {
        match class {
            None => self.out.push(b']'),
            Some(class @ 0..10) => self.out.extend_from_slice(&[b':', digit(class), b']']),
            Some(class @ 10..100) => self.out.extend_from_slice(&[b':', digit(class / 10), digit(class), b']']),
            Some(class) => {
                self.out.push(b':');
                self.number(class);
                self.out.push(b']');
            }
        }
    }

    /// The mark of an atom, if it has one.
    fn centre(&self, id: AtomId) -> Option<&'a Centre> {
        let at = self.centres.partition_point(|centre| centre.atom < id);
        self.centres.get(at).copied().filter(|centre| centre.atom == id)
    }

    /// Writes what there are so many of: nothing for none, no number for one.
    fn counted(&mut self, symbol: u8, count: u32) {
        if count > 0 {
            self.out.push(symbol);
        }
        if count > 1 {
            self.number(count);
        }
    }

    /// Writes a number. Formatting by the library costs more than all the rest.
    fn number(&mut self, number: u32) {
        let last = number.checked_ilog10().unwrap_or(0);
        self.out.extend((0..=last).rev().map(|place| digit(number / 10_u32.pow(place))));
    }

    fn hydrogens_are_implied(&self, id: AtomId) -> bool {
        let atom = self.structure.atom(id);
        if atom.element == Element::ANY {
            return atom.hydrogens == 0;
        }
        let written = self.structure.neighbours(id).filter(|(next, _)| self.plan.is_written(*next));
        let sum: u32 = written.map(|(_, bond)| u32::from(self.structure.bond(bond).order)).sum();
        let valences = atom.element.organic_valences();
        if valences.is_empty() {
            return false;
        }
        let implied = valences.iter().map(|v| u32::from(*v)).find(|v| *v >= sum).map_or(0, |v| v - sum);
        implied == u32::from(atom.hydrogens)
    }

    /// `@` or `@@`: the parity of the way from the listed order of the neighbours to the order of the text.
    fn chirality(&self, centre: &Centre) -> String {
        let geometry = match centre.geometry {
            Geometry::Other(class, number) => {
                let class = String::from_utf8_lossy(&class).into_owned();
                return format!("@{class}{number}");
            }
            other => other,
        };
        let mut written: SmallVec<[Neighbour; 4]> = centre.neighbours.clone();
        if geometry == Geometry::Allene {
            self.sort_allene(&mut written);
        } else {
            let first = if self.plan.parent(centre.atom).is_some() { 0 } else { -1 };
            written.sort_by_key(|neighbour| match neighbour {
                Neighbour::Atom(atom) => self.place_beside(centre.atom, *atom),
                Neighbour::Hydrogen | Neighbour::LonePair => (first, 1),
            });
        }
        let clockwise = centre.clockwise ^ is_odd(&centre.neighbours, &written);
        if clockwise { "@@".into() } else { "@".into() }
    }

    /// Where the text lists a neighbour of an atom: what comes before, ring numbers (closing, then opening), branches.
    fn place_beside(&self, atom: AtomId, neighbour: AtomId) -> (i64, i64) {
        if self.plan.parent(atom) == Some(neighbour) {
            return (0, 0);
        }
        let bond = self.structure.bond_between(atom, neighbour);
        let closes = self.plan.closes(atom).position(|ring| Some(ring) == bond);
        let opens = || self.plan.opens(atom).position(|ring| Some(ring) == bond);
        if let Some((group, at)) = closes.map(|at| (1, at)).or_else(|| opens().map(|at| (2, at))) {
            return (group, at as i64);
        }
        (3, i64::from(self.plan.position[neighbour.index()]))
    }

    /// The order in which a reader of the text lists the substituents of a cumulene.
    fn sort_allene(&self, neighbours: &mut SmallVec<[Neighbour; 4]>) {
        let place = |neighbour: &Neighbour| match neighbour {
            Neighbour::Atom(atom) => Some(self.plan.position[atom.index()]),
            _ => None,
        };
        if neighbours.len() != 4 {
            return;
        }
        for pair in neighbours.chunks_mut(2) {
            if let (Some(a), Some(b)) = (place(&pair[0]), place(&pair[1]))
                && a > b
            {
                pair.swap(0, 1);
            }
        }
        let key = |pair: &[Neighbour]| pair.iter().filter_map(&place).min();
        if key(&neighbours[..2]) > key(&neighbours[2..]) {
            neighbours.rotate_left(2);
        }
    }
}

/// Up to eight characters that are put together in a register and written at once.
#[derive(Clone, Copy, Default)]
struct Short {
    bytes: u64,
    count: u32,
}

impl Short {
    fn push(&mut self, byte: u8) {
        self.bytes |= u64::from(byte) << (8 * self.count);
        self.count += 1;
    }

    fn extend(&mut self, bytes: impl IntoIterator<Item = u8>) {
        bytes.into_iter().for_each(|byte| self.push(byte));
    }

    fn write(self, out: &mut Vec<u8>) {
        let end = out.len() + self.count as usize;
        out.extend_from_slice(&self.bytes.to_le_bytes());
        out.truncate(end);
    }
}

/// The last digit of a number.
fn digit(number: u32) -> u8 {
    b'0' + (number % 10) as u8
}

/// Whether the way from one order of the same neighbours to another is an odd permutation.
fn is_odd(from: &[Neighbour], to: &[Neighbour]) -> bool {
    let places: SmallVec<[usize; 4]> =
        from.iter().map(|neighbour| to.iter().position(|other| other == neighbour).unwrap_or(0)).collect();
    let inversions = (0..places.len()).flat_map(|i| (i + 1..places.len()).map(move |j| (i, j)));
    inversions.filter(|(i, j)| places[*i] > places[*j]).count() % 2 == 1
}
