//! Sums that equal drawings share: a look that costs next to nothing before the comparison that costs something.
//!
//! Nothing here proves equality. What is summed is what [`super::correspond`] holds two atoms or bonds to, and no sum depends
//! on how a drawing is numbered or on whether its hydrogens are drawn.

use super::difference::Mapping;
use crate::structure::canon::mix;
use crate::structure::{Atom, Element, Structure};

/// Atoms in sums.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Atoms {
    /// Atoms but for hydrogens that may be drawn or not.
    count: u64,
    /// Hydrogens, drawn and undrawn.
    hydrogens: u64,
    /// Charges.
    charge: i64,
    /// The kinds of the atoms that are counted.
    kinds: u64,
}

/// Whether a drawing is certainly not the other, but for whole species left out of the second if `may_omit`.
pub(super) fn differ(computed: &Structure, stated: &Structure, may_omit: bool) -> bool {
    let told = tell_apart(atoms(computed), atoms(stated), may_omit);
    told.unwrap_or_else(|| {
        let bonds = Bonds {
            any_order: computed.is_delocalised() || stated.is_delocalised(),
            count_hydrogens: !draws_hydrogens(computed) && !draws_hydrogens(stated),
        };
        bonds.sum(computed) != bonds.sum(stated)
    })
}

/// As [`differ`], by atoms alone.
pub(super) fn differ_in_atoms(computed: &Structure, stated: &Structure, may_omit: bool) -> bool {
    tell_apart(atoms(computed), atoms(stated), may_omit) == Some(true)
}

/// Whether atoms tell drawings apart; `None` where they do not and bonds still may.
fn tell_apart(of_computed: Atoms, of_stated: Atoms, may_omit: bool) -> Option<bool> {
    if may_omit && (of_stated.count, of_stated.hydrogens) != (of_computed.count, of_computed.hydrogens) {
        return Some(of_stated.count > of_computed.count || of_stated.hydrogens > of_computed.hydrogens);
    }
    // Every species that could be left out has an atom, so that here none is.
    (of_computed != of_stated).then_some(true)
}

/// Whether a correspondence is of all atoms, and every atom and every bond is drawn alike under it. No hydrogen is drawn, as one
/// may stand for a count.
pub(super) fn same_under(computed: &Structure, stated: &Structure, mapping: &Mapping) -> bool {
    let drawn = |atom: &Atom| (atom.element, atom.isotope, atom.charge, atom.hydrogens, atom.unpaired);
    computed.atom_count() == stated.atom_count()
        && computed.bond_count() == stated.bond_count()
        && computed.atoms().all(|(id, atom)| {
            let other = mapping.stated(id);
            atom.element != Element::HYDROGEN && other.is_some_and(|other| drawn(atom) == drawn(stated.atom(other)))
        })
        && computed.bonds().all(|(_, a, b, bond)| {
            let ends = mapping.stated(a).zip(mapping.stated(b));
            let other = ends.and_then(|(x, y)| stated.bond_between(x, y));
            bond.order > 0 && other.is_some_and(|other| stated.bond(other) == bond)
        })
}

/// Whether two drawings have the same atoms in the same order, and the same bonds between them.
pub(super) fn same_in_order(computed: &Structure, stated: &Structure) -> bool {
    let drawn = |atom: &Atom| (atom.element, atom.isotope, atom.charge, atom.hydrogens, atom.unpaired);
    computed.atom_count() == stated.atom_count()
        && computed.bond_count() == stated.bond_count()
        && computed.atoms().zip(stated.atoms()).all(|((_, one), (_, other))| drawn(one) == drawn(other))
        && computed.bonds().all(|(_, a, b, bond)| {
            bond.order > 0 && stated.bond_between(a, b).is_some_and(|other| stated.bond(other) == bond)
        })
}

/// Whether some atom or some bond that is drawn localised differs under a correspondence, so that no choice of localised forms
/// could make the drawings one.
pub(super) fn differ_under(computed: &Structure, stated: &Structure, mapping: &Mapping) -> bool {
    let kind = |atom: &Atom| (atom.element, atom.isotope, atom.charge);
    let atoms_differ = computed.atoms().any(|(id, atom)| {
        let other = mapping.stated(id);
        other.is_some_and(|other| kind(atom) != kind(stated.atom(other)))
    });
    atoms_differ
        || computed.bonds().any(|(_, a, b, bond)| {
            let Some((x, y)) = mapping.stated(a).zip(mapping.stated(b)) else { return false };
            match stated.bond_between(x, y) {
                Some(other) => {
                    let other = stated.bond(other);
                    !bond.aromatic && !other.aromatic && bond.order != other.order
                }
                None => bond.order > 0,
            }
        })
}

/// Whether the sigma skeletons of two drawings certainly differ, but for whole species left out of the second, or the charge of what
/// has the same atoms.
pub(super) fn differ_in_sigma(computed: &Structure, stated: &Structure) -> bool {
    // Of charges only their sum counts, which does not say at which atoms they stand.
    let sigma = |structure: &Structure| Atoms {
        charge: structure.net_charge(),
        ..sums(structure.atoms().map(|(_, atom)| Atom { charge: 0, ..*atom }))
    };
    tell_apart(sigma(computed), sigma(stated), true) == Some(true)
}

/// The kinds of all atoms, as a sum that does not depend on their order: element, isotope and charge, of hydrogens only where one may
/// not stand for a count.
pub(crate) fn kinds_of(structure: &Structure) -> u64 {
    atoms(structure).kinds
}

/// What an atom adds to [`kinds_of`] where it has this charge.
pub(crate) fn kind_with(atom: &Atom, charge: i16) -> u64 {
    let atom = Atom { charge, ..*atom };
    if is_hydrogen(&atom) { 0 } else { mix(kind(&atom)) }
}

/// Hydrogen of no isotope and no charge, which a count at its neighbour may stand for.
fn is_hydrogen(atom: &Atom) -> bool {
    atom.element == Element::HYDROGEN && atom.isotope.is_none() && atom.charge == 0
}

fn atoms(structure: &Structure) -> Atoms {
    sums(structure.atoms().map(|(_, atom)| *atom))
}

fn sums(atoms: impl Iterator<Item = Atom>) -> Atoms {
    let mut sums = Atoms { count: 0, hydrogens: 0, charge: 0, kinds: 0 };
    for atom in atoms {
        sums.hydrogens += u64::from(atom.hydrogens);
        sums.charge += i64::from(atom.charge);
        if is_hydrogen(&atom) {
            sums.hydrogens += 1;
        } else {
            sums.count += 1;
            sums.kinds = sums.kinds.wrapping_add(mix(kind(&atom)));
        }
    }
    sums
}

/// Element, isotope and charge.
fn kind(atom: &Atom) -> u64 {
    u64::from(atom.element.number())
        | u64::from(atom.isotope.map_or(0, |mass| mass.saturating_add(1))) << 8
        | u64::from(atom.charge.cast_unsigned()) << 24
}

fn draws_hydrogens(structure: &Structure) -> bool {
    structure.atoms().any(|(_, atom)| is_hydrogen(atom))
}

/// What is told apart of the bonds between atoms that are counted, beside the kinds of their atoms.
struct Bonds {
    /// Orders may be the tool's choice: 1 and 2 are one.
    any_order: bool,
    /// No hydrogens are drawn, so that the atoms' counts say all.
    count_hydrogens: bool,
}

impl Bonds {
    fn sum(&self, structure: &Structure) -> u64 {
        let mut sum: u64 = 0;
        for (_, a, b, bond) in structure.bonds() {
            let (a, b) = (structure.atom(a), structure.atom(b));
            if bond.order == 0 || (!self.count_hydrogens && (is_hydrogen(a) || is_hydrogen(b))) {
                continue;
            }
            let order = if self.any_order { bond.order.max(2) } else { bond.order };
            let end = |atom: &Atom| {
                let hydrogens = if self.count_hydrogens { u64::from(atom.hydrogens) } else { 0 };
                mix(kind(atom) | hydrogens << 40)
            };
            sum = sum.wrapping_add(mix(end(a).wrapping_add(end(b)) ^ u64::from(order)));
        }
        sum
    }
}
