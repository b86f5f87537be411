//! What all contributors of one compound share: the sigma skeleton, the charge, the number of unpaired electrons (IUPAC Gold Book 08205).

use super::{Compared, compare_equal, tally};
use crate::structure::electrons::unpaired;
use crate::structure::stereo::Stereo;
use crate::structure::{AtomId, Bond, LabelIndex, Structure};
use rustc_hash::FxHashSet;
use std::borrow::Cow;

/// A drawing without its pi and non-bonding electrons: what all contributors have in common.
#[must_use]
pub fn sigma_skeleton(structure: &Structure) -> Structure {
    let mut bare = structure.clone();
    bare.stereo = Stereo::default();
    // Arrows may have broken bonds that are still there with order 0.
    bare.drop_broken_bonds();
    for bond in bare.bond_ids().collect::<Vec<_>>() {
        *bare.bond_mut(bond) = Bond::new(1);
    }
    for atom in structure.atom_ids() {
        let own = bare.atom_mut(atom);
        (own.charge, own.unpaired, own.aromatic) = (0, None, false);
    }
    bare
}

/// Whether sums leave it open that two drawings are contributors of one compound, but for whole species that the second leaves out.
#[must_use]
pub fn may_be_one_compound(drawing: &Structure, stated: &Structure) -> bool {
    !tally::differ_in_sigma(drawing, stated)
}

/// How the sigma skeletons of two drawings correspond that may be contributors of one compound: one skeleton, one charge, one number of
/// unpaired electrons, but for whole species that the second leaves out.
#[must_use]
pub fn one_compound(drawing: &Structure, stated: &Structure, labels: &LabelIndex, limit: u64) -> Option<Compared> {
    if !may_be_one_compound(drawing, stated) {
        return None;
    }
    let skeletons = compare_equal(&sigma_skeleton(drawing), &sigma_skeleton(stated), labels, limit)?;
    let left_out: FxHashSet<AtomId> = skeletons.differences.omitted.iter().flatten().copied().collect();
    let whole = Cow::Borrowed(drawing);
    let kept = if left_out.is_empty() { whole } else { Cow::Owned(drawing.part(|atom| !left_out.contains(&atom))) };
    let count = |of: &Structure| -> i32 { of.atom_ids().map(|atom| unpaired(of, atom)).sum() };
    (kept.net_charge() == stated.net_charge() && count(&kept) == count(stated)).then_some(skeletons)
}
