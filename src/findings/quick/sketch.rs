//! A flat drawing: atoms and bonds in the order of the text, bonds of an atom as a chain through the list of bonds.

use crate::structure::electrons::{Electrons, judge_count};
use crate::structure::localise::{Role, role_by_count};
use crate::structure::skeleton::Outline;
use crate::structure::{Atom, Bond, Element, OctetRule};

/// No atom, no bond.
pub(super) const NONE: u16 = u16::MAX;
/// Atoms of a drawing at most, and bonds: what people draw has fewer.
pub(super) const MOST: usize = 400;

/// A bond and its place in the chains of its ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub(super) ends: [u16; 2],
    pub(super) bond: Bond,
    /// The next bond of each end, as twice its index and the side.
    next: [u16; 2],
}

/// What is counted of an atom.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tally {
    /// The first bond, as twice its index and the side.
    first: u16,
    /// Sum of the orders, undrawn hydrogens included once they are known.
    pub(super) bonds: i16,
    /// Delocalised bonds.
    pub(super) delocalised: u8,
    /// Hydrogens, drawn and undrawn, once they are folded.
    pub(super) hydrogens: u16,
    /// Whether the atom is a hydrogen that is counted at its neighbour.
    pub(super) folded: bool,
    is_settled: bool,
    /// The species, numbered from 0 in the order of the drawing; of a product those of its start.
    species: u16,
}

/// A flat drawing.
#[derive(Debug, Default)]
pub(super) struct Sketch {
    pub(super) atoms: Vec<Atom>,
    pub(super) tallies: Vec<Tally>,
    pub(super) lines: Vec<Line>,
    pub(super) any_hydrogen: bool,
    pub(super) any_delocalised: bool,
    /// A ring that is being localised: its atoms, the bond to the next, whether it must have a double bond.
    ring: Vec<(u16, u16, bool)>,
    /// The species that is being drawn.
    pub(super) species: u16,
}

impl Sketch {
    pub(super) fn clear(&mut self) {
        self.atoms.clear();
        self.tallies.clear();
        self.lines.clear();
        self.any_hydrogen = false;
        self.any_delocalised = false;
        self.species = 0;
    }

    /// Takes over another drawing.
    pub(super) fn copy(&mut self, other: &Self) {
        self.atoms.clone_from(&other.atoms);
        self.tallies.clone_from(&other.tallies);
        self.lines.clone_from(&other.lines);
        self.any_hydrogen = other.any_hydrogen;
        self.any_delocalised = other.any_delocalised;
    }

    pub(super) fn add_atom(&mut self, atom: Atom) -> Option<u16> {
        let at = self.atoms.len();
        if at >= MOST {
            return None;
        }
        self.any_hydrogen |= atom.element == Element::HYDROGEN;
        self.atoms.push(atom);
        self.tallies.push(Tally {
            first: NONE,
            bonds: 0,
            delocalised: 0,
            hydrogens: 0,
            folded: false,
            is_settled: false,
            species: self.species,
        });
        Some(at as u16)
    }

    /// Adds a bond and gives its place.
    pub(super) fn add_line(&mut self, a: u16, b: u16, bond: Bond) -> Option<usize> {
        let at = self.lines.len();
        if at >= MOST {
            return None;
        }
        let mut next = [NONE; 2];
        for (side, end) in [a, b].into_iter().enumerate() {
            let tally = &mut self.tallies[usize::from(end)];
            next[side] = tally.first;
            tally.first = (2 * at + side) as u16;
            tally.bonds += i16::from(bond.order);
            tally.delocalised += u8::from(bond.aromatic);
        }
        self.any_delocalised |= bond.aromatic;
        self.lines.push(Line { ends: [a, b], bond, next });
        Some(at)
    }

    /// Puts an atom into the species of another.
    pub(super) fn join_species(&mut self, atom: u16, host: u16) {
        self.tallies[usize::from(atom)].species = self.tallies[usize::from(host)].species;
    }

    /// The bonds of an atom with the atoms at their other ends; broken ones as well.
    pub(super) fn around(&self, atom: u16) -> impl Iterator<Item = (u16, u16)> {
        let mut half = self.tallies[usize::from(atom)].first;
        std::iter::from_fn(move || {
            let line = self.lines.get(usize::from(half / 2)).filter(|_| half != NONE)?;
            let side = usize::from(half % 2);
            let found = (line.ends[1 - side], half / 2);
            half = line.next[side];
            Some(found)
        })
    }

    /// The bond between two atoms, broken or not.
    pub(super) fn line_between(&self, a: u16, b: u16) -> Option<usize> {
        self.around(a).find(|(other, _)| *other == b).map(|(_, line)| usize::from(line))
    }

    /// Whether any atom has a label.
    pub(super) fn has_labels(&self) -> bool {
        self.atoms.iter().any(|atom| atom.class.is_some())
    }

    /// Labels every atom with its position where no atom has a label.
    pub(super) fn label_by_position(&mut self) {
        if !self.has_labels() {
            for (at, atom) in self.atoms.iter_mut().enumerate() {
                atom.class = Some(at as u32 + 1);
            }
        }
    }

    /// Gives every delocalised bond an order, where the systems are rings by themselves; `None` where they are not, or where an
    /// atom has a choice, or where there is no such form.
    pub(super) fn localise(&mut self) -> Option<()> {
        for at in 0..self.atoms.len() {
            let (atom, tally) = (&self.atoms[at], &self.tallies[at]);
            if !atom.aromatic || tally.is_settled {
                continue;
            }
            self.walk_ring(at as u16)?;
            self.localise_ring()?;
        }
        Some(())
    }

    /// Walks the ring of delocalised bonds through an atom.
    fn walk_ring(&mut self, first: u16) -> Option<()> {
        self.ring.clear();
        let (mut at, mut came_by) = (first, NONE);
        loop {
            if self.tallies[usize::from(at)].delocalised != 2 {
                return None;
            }
            let onward = |(_, line): &(u16, u16)| self.lines[usize::from(*line)].bond.aromatic && *line != came_by;
            let (next, line) = self.around(at).find(onward)?;
            let must = self.must(at)?;
            self.ring.push((at, line, must));
            self.tallies[usize::from(at)].is_settled = true;
            (at, came_by) = (next, line);
            if at == first {
                return Some(());
            }
            if self.ring.len() >= MOST {
                return None;
            }
        }
    }

    /// Whether an atom of a delocalised system must have a double bond of it or cannot; `None` where it has the choice.
    fn must(&self, at: u16) -> Option<bool> {
        let (atom, tally) = (&self.atoms[usize::from(at)], &self.tallies[usize::from(at)]);
        match role_by_count(atom.element, i32::from(atom.charge), i32::from(tally.bonds), None) {
            Role::Must => Some(true),
            Role::Cannot => Some(false),
            Role::May => None,
        }
    }

    /// Pairs the atoms of the ring that must have a double bond, each with the next.
    fn localise_ring(&mut self) -> Option<()> {
        let length = self.ring.len();
        let start = self.ring.iter().rposition(|(.., must)| !must).map_or(0, |place| place + 1);
        let mut place = 0;
        while place < length {
            let (at, line, must) = self.ring[(start + place) % length];
            place += 1;
            if !must {
                continue;
            }
            let (next, _, must) = self.ring[(start + place) % length];
            if place == length || !must {
                return None;
            }
            place += 1;
            self.lines[usize::from(line)].bond.order = 2;
            self.tallies[usize::from(at)].bonds += 1;
            self.tallies[usize::from(next)].bonds += 1;
        }
        Some(())
    }

    pub(super) fn electrons(&self, at: usize) -> Electrons {
        let atom = &self.atoms[at];
        Electrons {
            valence: atom.element.valence_electrons(),
            bonds: i32::from(self.tallies[at].bonds),
            charge: i32::from(atom.charge),
        }
    }

    /// Whether the electrons of every atom are judged and possible, and fewer than two of them unpaired: what two may mean is
    /// another question.
    pub(super) fn possible(&self, octet: OctetRule) -> bool {
        let mut odd = 0;
        (0..self.atoms.len()).all(|at| {
            let electrons = self.electrons(at);
            odd += electrons.non_bonding().map_or(2, |free| free & 1);
            odd < 2 && judge_count(self.atoms[at].element, electrons, octet).is_none()
        })
    }

    /// Counts hydrogens, and finds those that are drawn and counted at their neighbour.
    pub(super) fn fold_hydrogens(&mut self) {
        for (tally, atom) in self.tallies.iter_mut().zip(&self.atoms) {
            tally.hydrogens = atom.hydrogens;
            tally.folded = false;
        }
        if !self.any_hydrogen {
            return;
        }
        for at in 0..self.atoms.len() {
            let atom = &self.atoms[at];
            if atom.element != Element::HYDROGEN || atom.isotope.is_some() || atom.charge != 0 {
                continue;
            }
            let mut bonds = self.around(at as u16).filter(|(_, line)| self.lines[usize::from(*line)].bond.order > 0);
            let (Some((host, line)), None) = (bonds.next(), bonds.next()) else { continue };
            drop(bonds);
            let host = usize::from(host);
            if self.lines[usize::from(line)].bond.order == 1 && self.atoms[host].element != Element::HYDROGEN {
                self.tallies[at].folded = true;
                self.tallies[host].hydrogens += 1;
            }
        }
    }
}

impl Outline for Sketch {
    fn atoms(&self) -> impl ExactSizeIterator<Item = &Atom> {
        self.atoms.iter()
    }

    fn atom(&self, at: u32) -> &Atom {
        &self.atoms[at as usize]
    }

    fn bonds(&self) -> impl ExactSizeIterator<Item = (u32, u32, Bond)> {
        self.lines.iter().map(|line| (u32::from(line.ends[0]), u32::from(line.ends[1]), line.bond))
    }

    fn number_species(&self, of: &mut Vec<u32>) -> u32 {
        of.clear();
        of.extend(self.tallies.iter().map(|tally| u32::from(tally.species)));
        of.iter().max().map_or(0, |last| last + 1)
    }

    fn has_loose(&self) -> bool {
        // `localise` gives up on atoms with a choice.
        false
    }
}
