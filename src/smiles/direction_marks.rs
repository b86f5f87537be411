//! From the sides of double bonds back to `/` and `\` on single bonds.

use crate::structure::stereo::DoubleBond;
use crate::structure::{AtomId, BondId, Structure};
use rustc_hash::FxHashMap;

/// The direction of each marked bond: whether its later end in the text lies above its earlier end.
#[derive(Default)]
pub(super) struct Marks {
    up: FxHashMap<BondId, bool>,
}

impl Marks {
    /// Chooses directions, double bond by double bond in the order of the text, each bound by those chosen before.
    pub(super) fn new(structure: &Structure, position: &[u32]) -> Self {
        let mut marks = Self::default();
        if structure.stereo.double_bonds.is_empty() {
            return marks;
        }
        let place = |atom: AtomId| position.get(atom.index()).copied().unwrap_or(u32::MAX);
        let mut bonds: Vec<&DoubleBond> = structure.stereo.double_bonds.iter().collect();
        bonds.retain(|bond| bond.ends.iter().chain(&bond.references).all(|atom| place(*atom) != u32::MAX));
        bonds.sort_by_key(|bond| bond.ends.map(place).into_iter().min());
        for bond in bonds {
            marks.settle(structure, &place, bond);
        }
        marks
    }

    /// The symbol of a single bond, where it needs one.
    pub(super) fn symbol(&self, bond: BondId) -> Option<u8> {
        self.up.get(&bond).map(|up| if *up { b'/' } else { b'\\' })
    }

    fn settle(&mut self, structure: &Structure, place: &impl Fn(AtomId) -> u32, bond: &DoubleBond) {
        let known =
            [0, 1].map(|end| self.known(structure, place, bond.ends[end], bond.references[end], bond.ends[1 - end]));
        let (first, second) = match known {
            [Some(first), _] => (first, first == bond.same_side),
            [None, Some(second)] => (second == bond.same_side, second),
            [None, None] => {
                // Nothing binds the choice: the mark that comes first in the text is '/'.
                let first = place(bond.references[0]) > place(bond.ends[0]);
                (first, first == bond.same_side)
            }
        };
        for (end, above) in [(0, first), (1, second)] {
            if known[end].is_none() {
                self.set(structure, place, bond.ends[end], bond.references[end], above);
            }
        }
    }

    /// Whether the reference lies above its end, if the bonds marked so far say so.
    fn known(
        &self,
        structure: &Structure,
        place: &impl Fn(AtomId) -> u32,
        end: AtomId,
        reference: AtomId,
        other_end: AtomId,
    ) -> Option<bool> {
        structure.neighbours(end).filter(|(next, _)| *next != other_end).find_map(|(next, bond)| {
            let up = *self.up.get(&bond)?;
            let above = up == (place(next) > place(end));
            Some(above == (next == reference))
        })
    }

    fn set(
        &mut self,
        structure: &Structure,
        place: &impl Fn(AtomId) -> u32,
        end: AtomId,
        reference: AtomId,
        above: bool,
    ) {
        if let Some(bond) = structure.bond_between(end, reference) {
            self.up.insert(bond, above == (place(reference) > place(end)));
        }
    }
}
