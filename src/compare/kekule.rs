//! Other Kekulé forms: drawings that differ in nothing but which bonds of delocalised rings are double.
//!
//! Under a correspondence of the atoms, the bonds that are double in one drawing and single in the other are looked at as a graph of
//! their own. Two drawings are forms of one compound if it falls apart into rings in which the bonds of both kinds
//! alternate, each of 4n+2 atoms: such a ring is delocalised in both drawings (IUPAC Gold Book 08259 Hückel rule; 03366 Kekulé
//! structure, both from memory). Rings of 4n atoms have two different forms: cyclobutadienes, the middle ring of biphenylene.

use super::difference::{Difference, Differences, Mapping};
use super::forms::differences_in_best_forms;
use super::matching::{Search, Seeds, find};
use super::{Agreement, Compared, Labelled, map_by_labels, tally};
use crate::structure::{AtomId, LabelIndex, Structure, ring_bonds};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

/// A stated drawing that is the recomputed one but for the Kekulé forms of rings.
#[derive(Debug, Clone)]
pub struct OtherForm {
    /// The comparison, with the bonds of these rings as its differences.
    pub compared: Compared,
    /// The stated drawing with its rings in the form of the recomputed one.
    pub recast: Structure,
}

impl OtherForm {
    /// The atoms of the rings, in the order of the recomputed drawing.
    #[must_use]
    pub fn atoms(&self) -> Vec<AtomId> {
        let mut atoms: Vec<AtomId> = self.compared.differences.list.iter().flat_map(|own| own.atoms()).collect();
        atoms.sort_unstable();
        atoms.dedup();
        atoms
    }

    /// The comparison of the recomputed drawing with the recast one: equal, but for species left out.
    #[must_use]
    pub fn as_equal(&self) -> Compared {
        let differences = Differences { list: Vec::new(), ..self.compared.differences.clone() };
        Compared { agreement: Agreement::Equal, differences, forms: None, ..self.compared.clone() }
    }
}

/// Whether a stated drawing that is not the recomputed one differs from it by Kekulé forms only: under the labels of both where
/// the stated one has them, else under any correspondence. At most `limit` steps are searched.
#[must_use]
pub fn other_form(computed: &Structure, stated: &Structure, labels: &LabelIndex, limit: u64) -> Option<OtherForm> {
    let (labelled, fixed) = map_by_labels(computed, stated, labels);
    if labelled == Labelled::Wholly {
        return under(computed, stated, labelled, fixed);
    }
    if tally::differ_in_atoms(computed, stated, true) {
        return None;
    }
    let (loose, loose_stated) = (loosened(computed)?, loosened(stated)?);
    let mut accept = |mapping: &Mapping| {
        let found = differences_in_best_forms(computed, stated, mapping).0;
        are_other_forms(&found.list)
    };
    match find(&loose, &loose_stated, &fixed, Seeds::default(), true, limit, Some(&mut accept)) {
        Search::Found(mapping) => under(computed, stated, labelled, mapping),
        Search::None | Search::OutOfSteps => None,
    }
}

impl Compared {
    /// Whether this comparison leaves it open that the drawings differ by Kekulé forms only: under labels, its differences say so.
    #[must_use]
    pub fn may_be_other_form(&self) -> bool {
        self.labelled != Labelled::Wholly || are_other_forms(&self.differences.list)
    }
}

/// Whether two drawings are forms of one compound, whatever their labels, and nothing is left out.
#[must_use]
pub fn is_other_form(a: &Structure, b: &Structure, limit: u64) -> bool {
    other_form(a, b, &LabelIndex::default(), limit).is_some_and(|other| other.compared.differences.omitted.is_empty())
}

fn under(computed: &Structure, stated: &Structure, labelled: Labelled, mapping: Mapping) -> Option<OtherForm> {
    let (differences, forms) = differences_in_best_forms(computed, stated, &mapping);
    if !are_other_forms(&differences.list) {
        return None;
    }
    let mut recast = forms.as_ref().map_or_else(|| stated.clone(), |forms| forms.1.clone());
    for difference in &differences.list {
        if let Difference::Bond(a, b, order, _) = *difference
            && let Some((x, y)) = mapping.stated(a).zip(mapping.stated(b))
            && let Some(bond) = recast.bond_between(x, y)
        {
            recast.bond_mut(bond).order = order;
        }
    }
    let compared = Compared {
        agreement: Agreement::Different,
        labelled,
        mapping,
        differences,
        smallest: true,
        forms,
        other_form: true,
    };
    Some(OtherForm { compared, recast })
}

/// Whether differences are rings of 4n+2 atoms in which bonds that became double and bonds that became single alternate.
fn are_other_forms(list: &[Difference]) -> bool {
    // By atom: the other ends of its bond that became double and of the one that became single.
    let mut ends: FxHashMap<AtomId, [Option<AtomId>; 2]> = FxHashMap::default();
    for difference in list {
        let Difference::Bond(a, b, was, is) = *difference else { return false };
        let kind = match (was, is) {
            (1, 2) => 0,
            (2, 1) => 1,
            _ => return false,
        };
        for (from, to) in [(a, b), (b, a)] {
            if ends.entry(from).or_default()[kind].replace(to).is_some() {
                return false;
            }
        }
    }
    let mut left: Vec<AtomId> = ends.keys().copied().collect();
    left.sort_unstable();
    while let Some(first) = left.pop() {
        let Some(length) = walk(first, &mut ends) else { return false };
        if length > 0 && length % 4 != 2 {
            return false;
        }
    }
    !list.is_empty()
}

/// Takes a ring out, from one of its atoms, and counts its atoms: 0 where it is gone already, `None` where the way does not close.
fn walk(first: AtomId, ends: &mut FxHashMap<AtomId, [Option<AtomId>; 2]>) -> Option<usize> {
    let (mut at, mut length) = (first, 0);
    while let Some(bonds) = ends.remove(&at) {
        at = bonds[length % 2]?;
        length += 1;
    }
    (at == first && length % 2 == 0).then_some(length)
}

/// The structure with the bonds of rings drawn as delocalised whose atoms each have one double bond in a ring; `None` where there are
/// none. Which of these bonds are double is then open.
fn loosened(structure: &Structure) -> Option<Structure> {
    let in_ring = ring_bonds(structure);
    let mut doubles: Vec<u8> = vec![0; structure.atom_count()];
    let doubled = structure.bonds().filter(|(id, .., bond)| bond.order == 2 && in_ring[id.index()]);
    for (_, a, b, _) in doubled {
        for end in [a, b] {
            doubles[end.index()] = doubles[end.index()].saturating_add(1);
        }
    }
    let has_one = |atom: AtomId| doubles[atom.index()] == 1;
    let open: SmallVec<[_; 16]> = structure
        .bonds()
        .filter(|(id, a, b, bond)| in_ring[id.index()] && bond.order <= 2 && has_one(*a) && has_one(*b))
        .map(|(id, ..)| id)
        .collect();
    // A ring of six is the least that has two forms.
    if open.len() < 6 {
        return None;
    }
    let mut loose = structure.clone();
    for id in open {
        loose.bond_mut(id).aromatic = true;
    }
    Some(loose)
}
