//! Arrows between two drawings whose atoms need not be numbered alike.

use super::distance::bring_closer;
use super::rings::in_the_form_of;
use super::{Compared, Labelled, Mapping, compare, explained_under, pairs_by_label};
use crate::arrows::infer::{Inferred, NoArrows, infer};
use crate::structure::{AtomId, Element, LabelIndex, Structure};

/// Finds the fewest arrows that lead from a start to an answer: by label where the answer carries the start's labels,
/// else under the correspondence of the atoms with the fewest differences. Both are localised; of a delocalised drawing
/// the form is taken in which the two agree best. `limit` bounds each search.
///
/// # Errors
/// Why no arrows lead there.
pub fn arrows_between(
    start: &Structure,
    answer: &Structure,
    labels: &LabelIndex,
    limit: u64,
) -> Result<Inferred, NoArrows> {
    let compared = compare(start, answer, labels, limit);
    if compared.labelled == Labelled::Wholly {
        let (start, answer) = compared.drawings(start, answer);
        return between_forms(start, answer, &compared.mapping, limit);
    }
    let mut mapping = compared.mapping;
    pair_the_rest(start, answer, &mut mapping);
    bring_closer(start, answer, &mut mapping, &pairs_by_label(start, answer, labels), limit / EXCHANGES);
    match explained_under(start, answer, &mapping).1 {
        Some(forms) => between_forms(&forms.0, &forms.1, &mapping, limit),
        None => between_forms(start, answer, &mapping, limit),
    }
}

/// Of the steps of a search, which part exchanges of partners may take.
const EXCHANGES: u64 = 20;

/// As [`arrows_between`], for drawings that have been compared, in the forms that agree best.
///
/// # Errors
/// Why no arrows lead there.
pub fn arrows_under(
    start: &Structure,
    answer: &Structure,
    compared: &Compared,
    limit: u64,
) -> Result<Inferred, NoArrows> {
    let mut mapping = compared.mapping.clone();
    if compared.labelled != Labelled::Wholly {
        pair_the_rest(start, answer, &mut mapping);
    }
    between_forms(start, answer, &mapping, limit)
}

fn between_forms(start: &Structure, answer: &Structure, mapping: &Mapping, limit: u64) -> Result<Inferred, NoArrows> {
    let recast = in_the_form_of(start, answer, mapping);
    infer(start, recast.as_ref().unwrap_or(answer), &mapping.to_stated, limit)
}

/// What an atom stays whatever the arrows do.
fn kind(structure: &Structure, id: AtomId) -> (Element, Option<u16>) {
    let atom = structure.atom(id);
    (atom.element, atom.isotope)
}

/// Pairs atoms that the search for the fewest differences left alone, isotope by isotope in the order of the drawings.
fn pair_the_rest(start: &Structure, answer: &Structure, mapping: &mut Mapping) {
    use super::difference::is_folded;
    let open = |structure: &Structure, is_paired: &dyn Fn(AtomId) -> bool| {
        let atoms = structure.atom_ids().filter(|id| !is_paired(*id) && !is_folded(structure, *id));
        let mut atoms: Vec<AtomId> = atoms.collect();
        atoms.sort_by_key(|id| kind(structure, *id));
        atoms
    };
    let left = open(start, &|id| mapping.stated(id).is_some());
    let mut right = open(answer, &|id| mapping.computed(id).is_some()).into_iter().peekable();
    for id in left {
        let own = kind(start, id);
        while right.next_if(|other| kind(answer, *other) < own).is_some() {}
        if let Some(own) = right.next_if(|other| kind(answer, *other) == own) {
            mapping.pair(id, own);
        }
    }
}
