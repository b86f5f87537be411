//! The difference of two bond-electron matrices.

use super::super::Place;
use crate::structure::{AtomId, Structure};
use smallvec::SmallVec;

/// A place whose electrons change, and by how many: more than 0 where electrons come.
pub(super) type Change = (Place<AtomId>, i32);

/// The places that change between two drawings of the same atoms, in the order of their atoms.
///
/// Non-bonding electrons follow from charge and bonds, so that their change needs no valence: it is minus the change of
/// the charge, minus the change of the bonds.
pub(super) fn changes(from: &Structure, to: &Structure) -> Vec<Change> {
    let order =
        |drawing: &Structure, a, b| drawing.bond_between(a, b).map_or(0, |bond| i32::from(drawing.bond(bond).order));
    let mut bonds: SmallVec<[(AtomId, AtomId, i32); 16]> = SmallVec::new();
    for (_, a, b, bond) in from.bonds() {
        bonds.push((a.min(b), a.max(b), order(to, a, b) - i32::from(bond.order)));
    }
    for (_, a, b, bond) in to.bonds().filter(|(_, a, b, _)| from.bond_between(*a, *b).is_none()) {
        bonds.push((a.min(b), a.max(b), i32::from(bond.order)));
    }
    bonds.retain(|bond| bond.2 != 0);
    bonds.sort_unstable_by_key(|(a, b, _)| (*a, *b));
    let mut more_bonds = vec![0; from.atom_count()];
    let mut changes: Vec<Change> = Vec::new();
    for (a, b, change) in bonds {
        changes.push((Place::Bond(a, b), 2 * change));
        for end in [a, b] {
            if let Some(more) = more_bonds.get_mut(end.index()) {
                *more += change;
            }
        }
    }
    for (id, atom) in from.atoms() {
        if id.index() >= to.atom_count() {
            break;
        }
        let change = i32::from(atom.charge) - i32::from(to.atom(id).charge) - more_bonds[id.index()];
        if change != 0 {
            changes.push((Place::Atom(id), change));
        }
    }
    changes.sort_unstable_by_key(|(place, _)| *place);
    changes
}
