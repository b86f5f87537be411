//! The same form with octets alone: S(+)-O(-) for S=O.

use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, BondId, OctetRule, Structure};

/// The octet.
const OCTET: i32 = 8;

/// A drawing in which pi pairs beyond an octet lie on the neighbours, the most electronegative first; `None` where no shell holds
/// more than eight.
#[must_use]
pub fn octet_form(drawing: &Structure, rule: OctetRule) -> Option<Structure> {
    let expanded = |of: &Structure, atom: AtomId| {
        let holds = of.atom(atom).element.shell(rule).is_some_and(|holds| holds > OCTET);
        holds && Electrons::of(of, atom).shell().is_some_and(|shell| shell > OCTET)
    };
    let mut plain = drawing.clone();
    let mut is_changed = false;
    for atom in drawing.atom_ids() {
        while expanded(&plain, atom) {
            let Some((neighbour, bond)) = outermost(&plain, atom) else { break };
            plain.bond_mut(bond).order -= 1;
            plain.atom_mut(neighbour).charge -= 1;
            plain.atom_mut(atom).charge += 1;
            is_changed = true;
        }
    }
    is_changed.then_some(plain)
}

/// The double bond to the most electronegative neighbour; of equal ones the last.
fn outermost(of: &Structure, atom: AtomId) -> Option<(AtomId, BondId)> {
    let double = of.neighbours(atom).filter(|(_, bond)| of.bond(*bond).order > 1);
    double.max_by_key(|(own, bond)| (of.atom(*own).element.electronegativity(), bond.index()))
}
