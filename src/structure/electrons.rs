//! Electron bookkeeping: `q = V - n - b` for every atom, in integers.
//!
//! Formal charge is valence electrons less non-bonding electrons less half the bonding electrons (IUPAC Gold Book 08169).
//! A drawing states charge and bonds; the non-bonding electrons follow.

mod table;

pub(crate) use table::{Known, Shells};

use super::{AtomId, Element, OctetRule, Structure};
use smallvec::SmallVec;

/// The electrons of one atom of a localised drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Electrons {
    /// Valence electrons V of the neutral atom; `None` where electrons are not judged (d and f block, `*`).
    pub valence: Option<i32>,
    /// Sum b of the bond orders, undrawn hydrogens included.
    pub bonds: i32,
    /// Formal charge q.
    pub charge: i32,
}

impl Electrons {
    /// Counts the electrons of an atom. Delocalised bonds count as they are localised at the moment.
    #[must_use]
    pub fn of(structure: &Structure, id: AtomId) -> Self {
        let atom = structure.atom(id);
        let drawn: i32 = structure.neighbours(id).map(|(_, bond)| i32::from(structure.bond(bond).order)).sum();
        Self {
            valence: atom.element.valence_electrons(),
            bonds: drawn + i32::from(atom.hydrogens),
            charge: i32::from(atom.charge),
        }
    }

    /// Non-bonding electrons n; `None` where they are not judged. Below 0 the drawing is impossible.
    #[must_use]
    pub fn non_bonding(self) -> Option<i32> {
        self.valence.map(|valence| valence - self.charge - self.bonds)
    }

    /// Electrons in the valence shell, `2b + n`; `None` where they are not judged.
    #[must_use]
    pub fn shell(self) -> Option<i32> {
        self.non_bonding().map(|n| 2 * self.bonds + n)
    }
}

/// What is wrong with the electrons of one atom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ElectronFault {
    /// Fewer than no non-bonding electrons.
    Impossible(Electrons),
    /// More electrons in the shell than it holds.
    OverFull(Electrons, i32),
}

/// Judges one atom of a localised drawing.
#[must_use]
pub fn judge(structure: &Structure, id: AtomId, rule: OctetRule) -> Option<ElectronFault> {
    judge_count(structure.atom(id).element, Electrons::of(structure, id), rule)
}

/// Judges the electrons that were counted for an atom of an element.
#[must_use]
pub fn judge_count(element: Element, electrons: Electrons, rule: OctetRule) -> Option<ElectronFault> {
    if electrons.non_bonding()? < 0 {
        return Some(ElectronFault::Impossible(electrons));
    }
    let holds = element.shell(rule)?;
    (electrons.shell()? > holds).then_some(ElectronFault::OverFull(electrons, holds))
}

/// All atoms whose electrons are wrong, in the order of the drawing.
#[must_use]
pub fn faults(structure: &Structure, rule: OctetRule) -> Vec<(AtomId, ElectronFault)> {
    survey(structure, rule).0
}

/// All atoms whose electrons are wrong, and how many atoms have an odd number of non-bonding electrons: in one look.
#[must_use]
pub fn survey(structure: &Structure, rule: OctetRule) -> (Vec<(AtomId, ElectronFault)>, usize) {
    let mut faults = Vec::new();
    let mut odd = 0;
    let shells = Shells::of(rule);
    let mut bonds: SmallVec<[u32; 64]> = structure.atoms().map(|(_, atom)| u32::from(atom.hydrogens)).collect();
    for (_, a, b, bond) in structure.bonds() {
        bonds[a.index()] += u32::from(bond.order);
        bonds[b.index()] += u32::from(bond.order);
    }
    for ((id, atom), bonds) in structure.atoms().zip(bonds) {
        let known = shells.look_up(atom.element, atom.charge, bonds);
        if known.is_possible {
            odd += usize::from(known.is_odd);
            continue;
        }
        let bonds = bonds as i32;
        let Some(valence) = atom.element.valence_electrons() else { continue };
        let electrons = Electrons { valence: Some(valence), bonds, charge: i32::from(atom.charge) };
        odd += usize::from((valence - electrons.charge - bonds) % 2 != 0);
        if let Some(fault) = judge_count(atom.element, electrons, rule) {
            faults.push((id, fault));
        }
    }
    (faults, odd)
}

/// Whether an atom has fewer electrons than the octet, or hydrogen than two (IUPAC Gold Book LT07065). Metals that give
/// their electrons away have none to fill.
#[must_use]
pub fn has_open_octet(element: Element, electrons: Electrons) -> bool {
    let full = match electrons.valence {
        Some(1..=2) if element != Element::HYDROGEN => return false,
        Some(1) => 2,
        _ => 8,
    };
    electrons.shell().is_some_and(|shell| shell < full)
}

/// Unpaired electrons of an atom: those that the drawing states, else one where the count is odd.
#[must_use]
pub fn unpaired(structure: &Structure, id: AtomId) -> i32 {
    if let Some(stated) = structure.atom(id).unpaired {
        return i32::from(stated);
    }
    Electrons::of(structure, id).non_bonding().map_or(0, |n| n.rem_euclid(2))
}
