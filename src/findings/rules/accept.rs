//! Answers that may be any legal contributor of the product.

use crate::compare::{compare, one_compound};
use crate::findings::Context;
use crate::structure::electrons::judge;
use crate::structure::{AtomId, LabelIndex, Structure};

/// A product redrawn as the contributor that an answer draws; `None` where the answer is no contributor of it by the rules to which
/// stated contributors are held (IUPAC Gold Book 08205). Whole species may be left out.
pub(crate) fn drawn_as(
    context: &Context<'_>,
    product: &Structure,
    answer: &Structure,
    labels: &LabelIndex,
) -> Option<Structure> {
    let limit = context.settings.limits.search_steps;
    let mapping = &one_compound(product, answer, labels, limit)?.mapping;
    let known = |atom| mapping.computed(atom).is_some_and(|own| judge(product, own, context.octet).is_some());
    if answer.atom_ids().any(|atom| judge(answer, atom, context.octet).is_some() && !known(atom)) {
        return None;
    }
    let drawn = redrawn(product, answer, |atom| mapping.stated(atom));
    compare(&drawn, answer, labels, limit).is_equal().then_some(drawn)
}

/// A structure with the charges and bond orders of another at the atoms that stand for each other.
fn redrawn(own: &Structure, other: &Structure, partner: impl Fn(AtomId) -> Option<AtomId>) -> Structure {
    let mut drawn = own.clone();
    for atom in own.atom_ids() {
        if let Some(other_atom) = partner(atom) {
            let from = other.atom(other_atom);
            let atom = drawn.atom_mut(atom);
            (atom.charge, atom.unpaired, atom.aromatic) = (from.charge, from.unpaired, from.aromatic);
        }
    }
    for (bond, a, b, _) in own.bonds() {
        let between = partner(a).zip(partner(b)).and_then(|(a, b)| other.bond_between(a, b));
        if let Some(between) = between {
            let from = other.bond(between);
            let bond = drawn.bond_mut(bond);
            (bond.order, bond.aromatic) = (from.order, from.aromatic);
        }
    }
    drawn
}
