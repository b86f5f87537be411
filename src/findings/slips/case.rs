//! One mismatch whose slip is looked for, and what looking may cost.

use crate::arrows::{Arrow, Place};
use crate::bank::Task;
use crate::compare::difference::total_hydrogens;
use crate::compare::{
    Compared, Difference, Differences, Labelled, differences_under, kind_with, kinds_of, left_out, omitted_under,
};
use crate::structure::canon::mix;
use crate::structure::{Atom, AtomId, Element, LabelIndex, Structure};
use smallvec::SmallVec;
use std::cell::{Cell, OnceCell};

/// A mismatch: what was pushed, what is stated, and how the two differ.
pub(in crate::findings) struct Case<'a> {
    /// The start in the form that the arrows are taken on.
    pub start: &'a Structure,
    /// The arrows on it.
    pub arrows: &'a [Arrow],
    /// The recomputed product.
    pub product: &'a Structure,
    /// The stated answer.
    pub stated: &'a Structure,
    /// How they compare.
    pub compared: &'a Compared,
    /// Labels of the start.
    pub labels: &'a LabelIndex,
    /// What the item asks for: in resonance no atom moves.
    pub task: Task,
    /// Steps that one search for a correspondence may take.
    pub steps: u64,
    /// Atoms of drawings that may still be tried.
    pub left: Cell<u64>,
    /// Sums that are worked out once they are asked for.
    pub sums: Sums,
}

/// By how much the stated answer differs in sums over atoms.
#[derive(Default)]
pub(in crate::findings) struct Sums {
    /// From the start, in elements, isotopes and charges.
    kinds: OnceCell<u64>,
    /// From the product, in these and hydrogens.
    shown: OnceCell<u64>,
}

impl Case<'_> {
    /// What differs from the recomputed product.
    pub fn list(&self) -> &[Difference] {
        &self.compared.differences.list
    }

    /// Whether a drawing on the atoms of the product is the stated answer, leaving out no more than the comparison with the
    /// product left out.
    pub fn is_stated(&self, drawing: &Structure) -> bool {
        let Compared { mapping, differences, .. } = self.compared;
        if !self.pay() {
            return false;
        }
        // Mostly it is so under the correspondence that is known, if at all.
        match omitted_under(drawing, self.stated, mapping) {
            Some(omitted) if atoms(&omitted) <= atoms(&differences.omitted) => true,
            _ => !self.is_certain(drawing) && self.is_found_in(drawing, self.labels),
        }
    }

    /// Whether the correspondence that is known is the only one: labels say it for every atom, and there are no hydrogens that
    /// are compared by count in one drawing and by label in another.
    fn is_certain(&self, drawing: &Structure) -> bool {
        let hydrogen = |structure: &Structure| structure.atoms().any(|(_, atom)| atom.element == Element::HYDROGEN);
        self.compared.labelled == Labelled::Wholly && ![drawing, self.product, self.stated].into_iter().any(hydrogen)
    }

    /// As [`Case::is_stated`], for a drawing with other atoms than the product.
    pub fn is_stated_with(&self, drawing: &Structure, labels: &LabelIndex) -> bool {
        self.pay() && self.is_found_in(drawing, labels)
    }

    fn is_found_in(&self, drawing: &Structure, labels: &LabelIndex) -> bool {
        left_out(drawing, self.stated, labels, self.steps)
            .is_some_and(|omitted| atoms(&omitted) <= atoms(&self.compared.differences.omitted))
    }

    /// The differences of another drawing on the same atoms, under the correspondence found for the product.
    pub fn differences(&self, drawing: &Structure) -> Option<Differences> {
        self.pay().then(|| differences_under(drawing, self.stated, &self.compared.mapping))
    }

    /// Whether any arrow touches an atom.
    pub fn is_touched(&self, atom: AtomId) -> bool {
        self.arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom))
    }

    /// Whether an arrow begins or ends between two atoms.
    pub fn moves_between(&self, a: AtomId, b: AtomId) -> bool {
        let between = |place: Place<AtomId>| matches!(place, Place::Bond(x, y) if (x, y) == (a, b) || (x, y) == (b, a));
        self.arrows.iter().any(|arrow| between(arrow.tail) || between(arrow.head))
    }

    /// Whether the answer leaves no species out, so that sums over whole drawings can be compared.
    pub fn is_whole(&self) -> bool {
        self.compared.differences.omitted.is_empty()
    }

    /// Whether the stated answer as it is has the charge and the hydrogens of the product.
    pub fn keeps_charge_and_hydrogens(&self) -> bool {
        self.stated.net_charge() == self.product.net_charge() && hydrogens(self.stated) == hydrogens(self.product)
    }

    /// Whether the stated answer has the charge and the atoms of the start, leaving nothing out: only then arrows can lead there.
    pub fn is_balanced(&self) -> bool {
        let heavy = |structure: &Structure| structure.atoms().filter(|(_, atom)| !is_hydrogen(atom)).count();
        self.start.net_charge() == self.stated.net_charge()
            && hydrogens(self.start) == hydrogens(self.stated)
            && heavy(self.start) == heavy(self.stated)
    }

    /// How much more charge the stated answer has than the product; known only where it leaves nothing out.
    pub fn more_charge(&self) -> Option<i64> {
        self.is_whole().then(|| self.stated.net_charge() - self.product.net_charge())
    }

    /// How many more hydrogens the stated answer has than the product; known only where it leaves nothing out.
    pub fn more_hydrogens(&self) -> Option<i64> {
        self.is_whole().then(|| hydrogens(self.stated) - hydrogens(self.product))
    }

    /// By how much the stated answer differs from the start in elements, isotopes and charges.
    pub fn kinds_apart(&self) -> u64 {
        *self.sums.kinds.get_or_init(|| kinds_of(self.stated).wrapping_sub(kinds_of(self.start)))
    }

    /// Whether the product with other charges and hydrogens may be the stated answer where that leaves nothing out, as far as sums can
    /// tell.
    pub fn may_give(&self, changes: &[Difference]) -> bool {
        let all = |of: &Structure| {
            let heavy = of.atoms().filter(|(_, atom)| !is_hydrogen(atom));
            heavy.fold(0, |sum: u64, (id, atom)| sum.wrapping_add(shown(atom, atom.charge, total_hydrogens(of, id))))
        };
        let apart = *self.sums.shown.get_or_init(|| all(self.stated).wrapping_sub(all(self.product)));
        let mut changed: SmallVec<[(AtomId, i16, u32); 4]> = SmallVec::new();
        for change in changes {
            let (Difference::Charge(atom, ..) | Difference::Hydrogens(atom, ..)) = *change else { continue };
            let own = self.product.atom(atom);
            if is_hydrogen(own) {
                return true;
            }
            let at = changed.iter().position(|(other, ..)| *other == atom).unwrap_or_else(|| {
                changed.push((atom, own.charge, total_hydrogens(self.product, atom)));
                changed.len() - 1
            });
            match *change {
                Difference::Charge(.., is) => changed[at].1 = is,
                Difference::Hydrogens(.., is) => changed[at].2 = is,
                _ => {}
            }
        }
        let change = |sum: u64, (atom, charge, hydrogens): &(AtomId, i16, u32)| {
            let own = self.product.atom(*atom);
            let was = shown(own, own.charge, total_hydrogens(self.product, *atom));
            sum.wrapping_sub(was).wrapping_add(shown(own, *charge, *hydrogens))
        };
        changed.iter().fold(0, change) == apart
    }

    /// Takes one try from what may still be tried.
    pub fn pay(&self) -> bool {
        let cost = 8 + self.product.atom_count() as u64;
        let left = self.left.get();
        self.left.set(left.saturating_sub(cost));
        left > 0
    }
}

/// What a heavy atom adds to a sum over what atoms show.
fn shown(atom: &Atom, charge: i16, hydrogens: u32) -> u64 {
    kind_with(atom, charge).wrapping_add(mix(hydrogens.into()).wrapping_mul(kind_with(atom, charge) | 1))
}

fn atoms(species: &[Vec<AtomId>]) -> usize {
    species.iter().map(Vec::len).sum()
}

fn is_hydrogen(atom: &Atom) -> bool {
    atom.element == Element::HYDROGEN
}

fn hydrogens(structure: &Structure) -> i64 {
    structure.atoms().map(|(_, atom)| i64::from(atom.hydrogens) + i64::from(atom.element == Element::HYDROGEN)).sum()
}
