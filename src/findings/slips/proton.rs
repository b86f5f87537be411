//! `proton-moved`: the answer is what the product becomes once a proton has passed from one atom to another.

use super::case::Case;
use super::drawing::{Part, Sorter, explain};
use super::table::Slip;
use crate::bank::Task;
use crate::compare::Difference;
use crate::compare::difference::total_hydrogens;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Element, Label, Structure};
use smallvec::SmallVec;

impl Sorter<'_> {
    /// Takes a hydrogen and a charge less at one atom together with a hydrogen and a charge more at another. The other may
    /// belong to a species that the answer leaves out.
    pub(super) fn protons(&mut self) {
        while let Some((from, to)) = self.proton() {
            let mut covers = SmallVec::new();
            for (atom, more) in [(from, -1), (to, 1)] {
                covers.extend(self.moved(atom, more).into_iter().flatten());
            }
            self.left.retain(|own| !covers.contains(own));
            self.parts.push(Part { slip: Slip::ProtonMoved, covers });
        }
    }

    /// The atom that a proton leaves, and the one to which it goes.
    fn proton(&self) -> Option<(AtomId, AtomId)> {
        let gives = |atom: AtomId, more: i32| {
            let [hydrogens, charge] = self.moved(atom, more)?;
            (self.left.contains(&hydrogens) && self.left.contains(&charge)).then_some(atom)
        };
        let changed = |more: i32| {
            self.left.iter().find_map(|own| match *own {
                Difference::Hydrogens(atom, ..) => gives(atom, more),
                _ => None,
            })
        };
        let (from, to) = (changed(-1), changed(1));
        let left_out = || self.case.compared.differences.omitted.iter().flatten().copied();
        match (from, to) {
            (Some(from), Some(to)) => Some((from, to)),
            (Some(from), None) => Some((from, base_among(self.drawing, left_out())?)),
            (None, Some(to)) => Some((acid_among(self.drawing, left_out())?, to)),
            (None, None) => None,
        }
    }

    /// What changes at an atom that takes `more` protons.
    fn moved(&self, atom: AtomId, more: i32) -> Option<[Difference; 2]> {
        moved(self.drawing, atom, more)
    }
}

/// What changes at an atom that takes one proton (`more` is 1) or gives one (-1).
pub(super) fn moved(drawing: &Structure, atom: AtomId, more: i32) -> Option<[Difference; 2]> {
    let was = total_hydrogens(drawing, atom);
    let charge = drawing.atom(atom).charge;
    Some([
        Difference::Hydrogens(atom, was, was.checked_add_signed(more)?),
        Difference::Charge(atom, charge, charge.checked_add(i16::try_from(more).ok()?)?),
    ])
}

/// The atom that takes a proton most readily: the most negative one with a lone pair.
fn base_among(drawing: &Structure, atoms: impl Iterator<Item = AtomId>) -> Option<AtomId> {
    let has_pair = |atom: &AtomId| Electrons::of(drawing, *atom).non_bonding().is_some_and(|n| n >= 2);
    atoms.filter(has_pair).min_by_key(|atom| (drawing.atom(*atom).charge, *atom))
}

/// The atom that gives a proton most readily: the most positive one with a hydrogen.
fn acid_among(drawing: &Structure, atoms: impl Iterator<Item = AtomId>) -> Option<AtomId> {
    let carries =
        |atom: &AtomId| drawing.atom(*atom).element != Element::HYDROGEN && total_hydrogens(drawing, *atom) > 0;
    atoms.filter(carries).max_by_key(|atom| (drawing.atom(*atom).charge, std::cmp::Reverse(*atom)))
}

/// Pairs of atoms between which a proton may have passed, for answers without labels whose correspondence shows another pair. The
/// sums over both drawings leave few.
pub(super) fn guesses<'a>(case: &'a Case<'a>) -> impl Iterator<Item = Part> + 'a {
    let is_heavy = |structure: &Structure, atom: AtomId| structure.atom(atom).element != Element::HYDROGEN;
    let shown = |structure: &Structure, atom: AtomId, more: i32| {
        let own = structure.atom(atom);
        let (charge, hydrogens) =
            (i32::from(own.charge) + more, total_hydrogens(structure, atom).checked_add_signed(more));
        (own.element, own.isotope, charge, hydrogens)
    };
    let mut stated: Vec<_> = case
        .stated
        .atom_ids()
        .filter(|atom| is_heavy(case.stated, *atom))
        .map(|atom| shown(case.stated, atom, 0))
        .collect();
    stated.sort_unstable();
    let has = move |own: &(Element, Option<u16>, i32, Option<u32>)| stated.binary_search(own).is_ok();
    let changed = |more: i32| -> Vec<AtomId> {
        let heavy = case.product.atom_ids().filter(|atom| is_heavy(case.product, *atom));
        heavy.filter(|atom| has(&shown(case.product, *atom, more))).take(GUESSES).collect()
    };
    let balanced = case.more_charge() == Some(0) && case.more_hydrogens() == Some(0);
    let (from, to) = if balanced { (changed(-1), changed(1)) } else { (Vec::new(), Vec::new()) };
    from.into_iter().flat_map(move |from| to.clone().into_iter().map(move |to| (from, to))).filter_map(|(from, to)| {
        if from == to {
            return None;
        }
        let mut covers = SmallVec::new();
        covers.extend(moved(case.product, from, -1)?);
        covers.extend(moved(case.product, to, 1)?);
        Some(Part { slip: Slip::ProtonMoved, covers })
    })
}

/// The atoms between which a proton has passed, where nothing else differs.
pub(super) fn only(case: &Case<'_>) -> Option<(AtomId, AtomId)> {
    if case.list().len() != 4 || case.task == Task::Resonance {
        return None;
    }
    let parts = explain(case, case.product, case.list(), 1)?;
    let part = parts.iter().find(|part| part.slip == Slip::ProtonMoved)?;
    ends(&part.covers)
}

/// Atoms on each side that are tried, at most.
const GUESSES: usize = 8;

/// The atom that a proton leaves and the one to which it goes, of a part that is this slip.
pub(super) fn ends(covers: &[Difference]) -> Option<(AtomId, AtomId)> {
    let find = |less: bool| {
        covers.iter().find_map(|own| match *own {
            Difference::Hydrogens(atom, was, is) if (is < was) == less => Some(atom),
            _ => None,
        })
    };
    find(true).zip(find(false))
}

/// The further step in the notation of arrows, as it is written on the product: `5 -> 5-1h; 1-1h -> 1`. Hydrogens behind the
/// first `drawn` atoms are not drawn there.
pub(super) fn further_step(product: &Structure, drawn: usize, from: AtomId, to: AtomId) -> Option<String> {
    let is_hydrogen = |atom: &AtomId| product.atom(*atom).element == Element::HYDROGEN && atom.index() < drawn;
    let shown = product.neighbours(from).map(|(next, _)| next).find(is_hydrogen).and_then(|own| product.label(own));
    let name = |label: Label| label.to_string();
    let (from, to) = (name(product.label(from)?), name(product.label(to)?));
    let hydrogen = shown.map_or_else(|| format!("{from}h"), name);
    Some(format!("{to} -> {to}-{hydrogen}; {from}-{hydrogen} -> {from}"))
}
