//! Rings whose Kekulé form is the tool's choice, so that no electrons are moved round them for nothing.

use super::Mapping;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

/// The answer with such rings in the form in which the start has them; `None` where there is nothing to do.
///
/// Bonds that are double in one drawing and single in the other, delocalised in either, are looked at as a graph of their own. Where
/// they close a ring of 4n+2 atoms in which both kinds alternate, the two drawings of it are forms of one compound.
pub(super) fn in_the_form_of(start: &Structure, answer: &Structure, mapping: &Mapping) -> Option<Structure> {
    let mut differing: FxHashMap<AtomId, SmallVec<[(AtomId, bool); 3]>> = FxHashMap::default();
    for (_, a, b, bond) in start.bonds() {
        let other = mapping.stated(a).zip(mapping.stated(b)).and_then(|(x, y)| answer.bond_between(x, y));
        let Some(other) = other.map(|other| answer.bond(other)) else { continue };
        let is_free = bond.aromatic || other.aromatic;
        if is_free && bond.order.abs_diff(other.order) == 1 && bond.order.max(other.order) == 2 {
            let was_double = bond.order == 2;
            differing.entry(a).or_default().push((b, was_double));
            differing.entry(b).or_default().push((a, was_double));
        }
    }
    let mut atoms: Vec<AtomId> = differing.keys().copied().collect();
    atoms.sort_unstable();
    let mut recast: Option<Structure> = None;
    while let Some(first) = atoms.pop() {
        let Some(ring) = ring(&mut differing, first) else { continue };
        let answer = recast.get_or_insert_with(|| answer.clone());
        for (a, b, was_double) in ring {
            let between = mapping.stated(a).zip(mapping.stated(b)).and_then(|(x, y)| answer.bond_between(x, y));
            if let Some(bond) = between {
                answer.bond_mut(bond).order = if was_double { 2 } else { 1 };
            }
        }
    }
    recast
}

/// Takes the bonds that hang together with an atom; gives them where they are a ring of 4n+2 atoms that alternates.
fn ring(
    differing: &mut FxHashMap<AtomId, SmallVec<[(AtomId, bool); 3]>>,
    first: AtomId,
) -> Option<Vec<(AtomId, AtomId, bool)>> {
    let mut bonds = Vec::new();
    let mut stack = vec![first];
    let (mut count, mut alternates) = (0_usize, true);
    while let Some(atom) = stack.pop() {
        let Some(around) = differing.remove(&atom) else { continue };
        count += 1;
        alternates &= matches!(around.as_slice(), [(_, one), (_, other)] if one != other);
        for (next, was_double) in around {
            // Every bond is met from its end that is taken first.
            if differing.contains_key(&next) {
                bonds.push((atom, next, was_double));
                stack.push(next);
            }
        }
    }
    (alternates && count % 4 == 2 && bonds.len() == count).then_some(bonds)
}
