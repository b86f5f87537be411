//! A redrawn start that leaves species of the answer out and brings others in.
//!
//! The next step often goes on with the main product alone and with a reagent of its own: water is left out, an aldehyde comes
//! in. That is no broken sequence, unless a species that comes in is one that is left out, drawn wrongly.

use super::decide_with_marks;
use crate::findings::Context;
use crate::findings::rules::omits::unexcused;
use crate::findings::verdict::StepAudit;
use crate::structure::canon::{Colours, Orders};
use crate::structure::electrons::unpaired;
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, Element, Label, LabelIndex, Structure};
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::BTreeMap;

/// Atoms up to which a species is small: it may be left out in one state and brought in another (water and hydroxide).
const SMALL: usize = 3;

/// Species beyond which those left out and those brought in are not compared one by one.
const MOST_SPECIES: usize = 64;

/// What a redrawn start has of the answer before it, and what not.
pub(super) struct Exchange {
    /// Species of the answer that are left out and that the item does not name as such.
    pub(super) left_out: Vec<Vec<AtomId>>,
    /// The drawings of what both have.
    carried: (Structure, Structure),
    /// Atoms of what both have, and of species that are left out and come in drawn otherwise.
    in_question: (Vec<bool>, Vec<bool>),
    /// Whether there are such species.
    is_redrawn_wrongly: bool,
}

/// A species of a drawing.
struct Species {
    atoms: Vec<AtomId>,
    /// Atoms other than hydrogen, by element.
    heavy: BTreeMap<Element, usize>,
    size: usize,
}

impl Exchange {
    pub(super) fn new(context: &Context<'_>, answer: &Structure, after: &StepAudit, start: &Structure) -> Self {
        let (of_answer, of_start) = (species(answer), species(start));
        let (kept, kept_of_start) = common(answer, &of_answer, start, &of_start);
        let pick = |all: &[Species], kept: &[bool], wanted: bool| -> Vec<usize> {
            (0..all.len()).filter(|at| kept[*at] == wanted).collect()
        };
        let gone = pick(&of_answer, &kept, false);
        let mut come = pick(&of_start, &kept_of_start, false);
        let atoms: Vec<Vec<AtomId>> = gone.iter().map(|at| of_answer[*at].atoms.clone()).collect();
        let left_out = unexcused(context.omits, answer, &atoms);
        let blamed: FxHashSet<AtomId> = left_out.iter().filter_map(|atoms| atoms.first().copied()).collect();
        let mut in_question = (marked(answer, &of_answer, &kept), marked(start, &of_start, &kept_of_start));
        let carried = (answer.part(|atom| in_question.0[atom.index()]), start.part(|atom| in_question.1[atom.index()]));
        // The step goes on with what its arrows touch.
        let on_with = pick(&of_start, &kept_of_start, true).into_iter().map(|at| &of_start[at]);
        let on_with =
            on_with.filter(|own| after.arrows.is_empty() || touches(after, &own.atoms)).map(|own| own.size).max();
        let mut is_redrawn_wrongly = on_with.is_none() || gone.len() > MOST_SPECIES || come.len() > MOST_SPECIES;
        let mut paired = false;
        for own in gone.iter().take(MOST_SPECIES).map(|at| &of_answer[*at]) {
            let found = come.iter().take(MOST_SPECIES).position(|at| {
                let new = &of_start[*at];
                let Some(on_with) = on_with else { return is_alike(own, new) };
                let is_main = own.size > 1 && own.size >= on_with && is_alike(own, new);
                if is_main && is_intermediate(answer, own) {
                    return true;
                }
                let is_main = is_main && own.size > SMALL && own.size == new.size;
                let share_a_label = || after.start_is_labelled && share_a_label(answer, own, start, new);
                blamed.contains(&own.atoms[0])
                    && is_alike_by_product(own, new)
                    && (is_main || share_a_label() || !touches(after, &new.atoms))
            });
            if let Some(at) = found {
                (is_redrawn_wrongly, paired) = (true, true);
                own.atoms.iter().for_each(|atom| in_question.0[atom.index()] = true);
                of_start[come[at]].atoms.iter().for_each(|atom| in_question.1[atom.index()] = true);
                come.remove(at);
            }
        }
        if on_with.is_none() && !paired {
            in_question = (vec![true; answer.atom_count()], vec![true; start.atom_count()]);
        }
        Self { left_out, carried, in_question, is_redrawn_wrongly }
    }

    /// Whether the sequence goes on: something of the answer is there as it was, and nothing in another drawing.
    pub(super) fn is_sound(&self, limit: u64) -> bool {
        let (answer, start) = &self.carried;
        !self.is_redrawn_wrongly
            && !answer.is_empty()
            && decide_with_marks(answer, start, &LabelIndex::default(), limit).left_out().is_some_and(<[_]>::is_empty)
    }

    /// The drawings without species that have nothing to do with each other.
    pub(super) fn in_question(&self, answer: &Structure, start: &Structure) -> (Structure, Structure) {
        let mut answer = answer.clone();
        // Atoms keep the names that they have in the whole drawing.
        answer.label_by_position();
        let part = |of: &Structure, atoms: &[bool]| of.part(|atom| atoms[atom.index()]);
        (part(&answer, &self.in_question.0), part(start, &self.in_question.1))
    }
}

/// The species of a drawing, in the order of their first atoms.
fn species(structure: &Structure) -> Vec<Species> {
    let (of_atom, count) = structure.species();
    let new = || Species { atoms: Vec::new(), heavy: BTreeMap::new(), size: 0 };
    let mut all: Vec<Species> = std::iter::repeat_with(new).take(count).collect();
    for (id, atom) in structure.atoms() {
        let own = &mut all[of_atom[id.index()] as usize];
        own.atoms.push(id);
        if atom.element != Element::HYDROGEN {
            *own.heavy.entry(atom.element).or_default() += 1;
            own.size += 1;
        }
    }
    all
}

/// Which species both drawings have, as often as both have them.
fn common(
    answer: &Structure,
    of_answer: &[Species],
    start: &Structure,
    of_start: &[Species],
) -> (Vec<bool>, Vec<bool>) {
    let (one, other) = (Skeleton::new(answer), Skeleton::new(start));
    let orders = Orders::for_both(&one, &other);
    let prints = |skeleton: &Skeleton, all: &[Species]| -> Vec<u128> {
        let colours = Colours::new(skeleton, orders);
        all.iter().map(|own| colours.species(skeleton.species_of(skeleton.host(own.atoms[0])))).collect()
    };
    let mut by_print: FxHashMap<u128, Vec<usize>> = FxHashMap::default();
    for (at, print) in prints(&other, of_start).into_iter().enumerate().rev() {
        by_print.entry(print).or_default().push(at);
    }
    let (mut kept, mut kept_of_start) = (vec![false; of_answer.len()], vec![false; of_start.len()]);
    for (at, print) in prints(&one, of_answer).into_iter().enumerate() {
        if let Some(partner) = by_print.get_mut(&print).and_then(Vec::pop) {
            kept[at] = true;
            kept_of_start[partner] = true;
        }
    }
    (kept, kept_of_start)
}

fn marked(structure: &Structure, all: &[Species], kept: &[bool]) -> Vec<bool> {
    let mut marked = vec![false; structure.atom_count()];
    for (own, _) in all.iter().zip(kept).filter(|(_, kept)| **kept) {
        own.atoms.iter().for_each(|atom| marked[atom.index()] = true);
    }
    marked
}

/// Whether one species may be the other drawn wrongly: as many atoms but for one, and at most one of another element.
fn is_alike(one: &Species, other: &Species) -> bool {
    let count = |of: &Species, element: &Element| of.heavy.get(element).copied().unwrap_or(0);
    let elements: FxHashSet<&Element> = one.heavy.keys().chain(other.heavy.keys()).collect();
    let differing: usize = elements.iter().map(|own| count(one, own).abs_diff(count(other, own))).sum();
    one.size.abs_diff(other.size) <= 1 && differing <= 2
}

/// Whether a species is an ion or a radical, which nobody leaves out for another of its kind.
fn is_intermediate(structure: &Structure, own: &Species) -> bool {
    let charge: i64 = own.atoms.iter().map(|atom| i64::from(structure.atom(*atom).charge)).sum();
    charge != 0 || own.atoms.iter().any(|atom| unpaired(structure, *atom) != 0)
}

/// Whether two species may be one where others are as they were: small ones only of the same atoms, or one atom for another.
fn is_alike_by_product(one: &Species, other: &Species) -> bool {
    let is_small = one.size.min(other.size) <= SMALL;
    is_alike(one, other) && (!is_small || one.heavy == other.heavy || one.size == 1 && other.size == 1)
}

fn touches(after: &StepAudit, atoms: &[AtomId]) -> bool {
    after.arrows.iter().any(|arrow| atoms.iter().any(|atom| arrow.tail.touches(*atom) || arrow.head.touches(*atom)))
}

fn share_a_label(answer: &Structure, own: &Species, start: &Structure, new: &Species) -> bool {
    let labels: FxHashSet<Label> = own.atoms.iter().filter_map(|atom| answer.label(*atom)).collect();
    new.atoms.iter().filter_map(|atom| start.label(*atom)).any(|label| labels.contains(&label))
}
