//! Delocalised drawings: the localised forms of product and answer that agree best under a correspondence.

use super::difference::{Differences, Mapping, differences};
use crate::structure::localise::{apply, localise_with};
use crate::structure::{BondId, Structure};

/// Lists the differences; where either side is drawn delocalised, those of the forms that agree best.
pub(super) fn differences_in_best_forms(
    computed: &Structure,
    stated: &Structure,
    mapping: &Mapping,
) -> (Differences, Option<Box<(Structure, Structure)>>) {
    if agree_already(computed, stated, mapping) {
        return (differences(computed, stated, mapping), None);
    }
    let (mut computed, mut stated) = (computed.clone(), stated.clone());
    // What the answer draws localised binds the product first; then the whole product binds the answer.
    let bound = orders(&computed, &stated, |a, b| mapping.stated(a).zip(mapping.stated(b)), false);
    if let Some(double) = localise_with(&computed, &bound) {
        apply(&mut computed, &double);
    }
    let bound = orders(&stated, &computed, |a, b| mapping.computed(a).zip(mapping.computed(b)), true);
    if let Some(double) = localise_with(&stated, &bound) {
        apply(&mut stated, &double);
    }
    (differences(&computed, &stated, mapping), Some(Box::new((computed, stated))))
}

/// Whether no bond is delocalised in one drawing without being so in the other and of the same order: no forms agree better.
fn agree_already(computed: &Structure, stated: &Structure, mapping: &Mapping) -> bool {
    let mut of_computed = 0;
    for (_, a, b, bond) in computed.bonds().filter(|(.., bond)| bond.aromatic) {
        let partner = mapping.stated(a).zip(mapping.stated(b)).and_then(|(x, y)| stated.bond_between(x, y));
        if partner.is_none_or(|partner| stated.bond(partner) != bond) {
            return false;
        }
        of_computed += 1;
    }
    of_computed == stated.bonds().filter(|(.., bond)| bond.aromatic).count()
}

/// For the delocalised bonds of `one`, whether the bond that stands for it in `other` is double. Bonds that are
/// delocalised there too bind only if `whole`.
fn orders(
    one: &Structure,
    other: &Structure,
    partner: impl Fn(
        crate::structure::AtomId,
        crate::structure::AtomId,
    ) -> Option<(crate::structure::AtomId, crate::structure::AtomId)>,
    whole: bool,
) -> Vec<(BondId, bool)> {
    let mut bound = Vec::new();
    for (id, a, b, bond) in one.bonds() {
        if !bond.aromatic {
            continue;
        }
        let Some(bond) = partner(a, b).and_then(|(x, y)| other.bond_between(x, y)) else { continue };
        let bond = other.bond(bond);
        if (whole || !bond.aromatic) && matches!(bond.order, 1 | 2) {
            bound.push((id, bond.order == 2));
        }
    }
    bound
}
