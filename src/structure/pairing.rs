//! Unpaired electrons that a drawing of the same atoms and bonds would not have.
//!
//! Two unpaired electrons on neighbouring atoms are a bond that was not drawn; so are two with double bonds between them in
//! turn, and two on either side of an atom with a lone pair, which then gives a double bond to one and the pair to the
//! other. A nitro group written `[N+]([O-])[O]`, as it is found in published data, is the usual case.

use super::electrons::{Electrons, unpaired};
use super::{AtomId, OctetRule, Structure};
use std::collections::VecDeque;

/// Finds pairs of unpaired electrons that a closed-shell drawing of the same atoms would not have, among the atoms for which
/// `may_change` holds. Each atom is in one pair at most. At most `limit` atoms are looked at.
#[must_use]
pub fn pairable(
    structure: &Structure,
    octet: OctetRule,
    may_change: &dyn Fn(AtomId) -> bool,
    limit: u64,
) -> Vec<(AtomId, AtomId)> {
    let site = |atom: AtomId| is_radical(structure, atom) && may_change(atom) && has_room(structure, atom, octet);
    let radicals: Vec<AtomId> = structure.atom_ids().filter(|atom| site(*atom)).collect();
    if radicals.len() < 2 {
        return Vec::new();
    }
    let mut search = RadicalPairing {
        structure,
        may_change,
        is_open: vec![false; structure.atom_count()],
        seen: vec![0; structure.atom_count()],
        round: 0,
        left: limit,
    };
    for atom in &radicals {
        search.is_open[atom.index()] = true;
    }
    let mut pairs = Vec::new();
    for atom in radicals {
        if !search.is_open[atom.index()] {
            continue;
        }
        if let Some(partner) = search.partner(atom) {
            search.is_open[atom.index()] = false;
            search.is_open[partner.index()] = false;
            pairs.push((atom, partner));
        }
    }
    pairs
}

/// Whether an atom has an unpaired electron that its drawing does not state in so many words.
fn is_radical(structure: &Structure, atom: AtomId) -> bool {
    structure.atom(atom).unpaired.is_none() && unpaired(structure, atom) == 1
}

/// Whether one more bond, made with the unpaired electron, fits into the shell.
fn has_room(structure: &Structure, atom: AtomId, octet: OctetRule) -> bool {
    let shell = Electrons::of(structure, atom).shell();
    let holds = structure.atom(atom).element.shell(octet);
    matches!((shell, holds), (Some(shell), Some(holds)) if shell < holds)
}

struct RadicalPairing<'a> {
    structure: &'a Structure,
    may_change: &'a dyn Fn(AtomId) -> bool,
    /// Radical centres without a partner yet.
    is_open: Vec<bool>,
    /// The round in which an atom was reached as a place of the unpaired electron.
    seen: Vec<u32>,
    round: u32,
    left: u64,
}

impl RadicalPairing<'_> {
    /// The nearest radical centre beside a place to which the unpaired electron of `first` can move.
    fn partner(&mut self, first: AtomId) -> Option<AtomId> {
        self.round += 1;
        self.seen[first.index()] = self.round;
        let mut queue = VecDeque::from([first]);
        while let Some(here) = queue.pop_front() {
            let structure = self.structure;
            for (next, bond) in structure.neighbours(here) {
                self.left = self.left.checked_sub(1)?;
                let order = structure.bond(bond).order;
                if next != first && self.is_open[next.index()] && order < 3 {
                    return Some(next);
                }
                if !(self.may_change)(next) {
                    continue;
                }
                if self.gives_a_pair(here, next) {
                    self.reach(next, &mut queue);
                }
                for (beyond, pi) in structure.neighbours(next) {
                    if beyond != here && structure.bond(pi).order > 1 && order < 3 && (self.may_change)(beyond) {
                        self.reach(beyond, &mut queue);
                    }
                }
            }
        }
        None
    }

    /// Whether the neighbour can complete a pair of the radical centre with one electron of its own lone pair, as nitrogen
    /// does for oxygen: the centre keeps the pair and the charge, so that it must not be the more electropositive one.
    fn gives_a_pair(&self, centre: AtomId, neighbour: AtomId) -> bool {
        let electronegativity = |atom: AtomId| self.structure.atom(atom).element.electronegativity();
        let pairs = Electrons::of(self.structure, neighbour).non_bonding().unwrap_or(0);
        pairs >= 2 && pairs % 2 == 0 && electronegativity(centre) > electronegativity(neighbour)
    }

    fn reach(&mut self, atom: AtomId, queue: &mut VecDeque<AtomId>) {
        if self.seen[atom.index()] != self.round {
            self.seen[atom.index()] = self.round;
            queue.push_back(atom);
        }
    }
}
