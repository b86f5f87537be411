//! Species left out on purpose.

use super::Context;
use crate::bank::Step;
use crate::compare::same_drawing;
use crate::smiles;
use crate::structure::localise::localise;
use crate::structure::{AtomId, Structure};

/// Of the species left out, those that the item does not name in `omits`. `*` there excuses all.
pub(super) fn unexcused(
    context: &Context<'_>,
    _step: &Step,
    product: &Structure,
    omitted: &[Vec<AtomId>],
    limit: u64,
) -> Vec<Vec<AtomId>> {
    let Some(omits) = context.omits else { return omitted.to_vec() };
    if omits.split('.').any(|species| species.trim() == "*") {
        return Vec::new();
    }
    let mut named = smiles::read_with(omits.trim(), &context.settings.smiles).structure;
    if localise(&mut named).is_err() {
        return omitted.to_vec();
    }
    named.clear_labels();
    let (species, count) = named.species();
    let excuses: Vec<Structure> =
        (0..count).map(|own| named.part(|atom| species[atom.index()] as usize == own)).collect();
    let excused = |atoms: &Vec<AtomId>| {
        let part = product.part(|atom| atoms.contains(&atom));
        excuses.iter().any(|excuse| same_drawing(&part, excuse, limit) == Some(true))
    };
    omitted.iter().filter(|atoms| !excused(atoms)).cloned().collect()
}
