//! Slips: what a person did who stated another answer than the arrows give.
//!
//! Every slip is tried by really redoing the push or the drawing with it and comparing the result with the stated answer
//! exactly. The smallest slip that gives it is named; where none does, nothing is named.

mod case;
mod charges;
mod contributor;
mod drawing;
mod isotope;
mod labels;
mod missing;
mod moves;
mod proton;
mod single;
mod species;
mod table;
mod words;
mod written;

pub(super) use case::{Case, Sums};
pub(super) use labels::{Shift, Shifted};
pub(super) use missing::{Completed, OneArrow};
pub use table::{Entry, Slip, Slips};

use crate::arrows::{Arrow, push};
use crate::bank::Task;
use crate::structure::AtomId;
use contributor::{other_contributor, tautomer};
use drawing::{Drawn, Part, draw, explain, guesses};
use moves::{Swap, arrows, may_give, product, swaps};
use std::cell::LazyCell;
use std::fmt::Write as _;

/// What explains a stated answer.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Explanation {
    /// One slip, or two together.
    pub slips: Vec<Slip>,
    /// What the stated answer is, in words that follow "The stated answer is".
    pub sentence: String,
    /// Arrows that lead to the stated answer, where the slip can be taken for what was meant.
    pub arrows: Option<Vec<Arrow>>,
    /// The arrows under other labels, where those are the slip.
    pub shifted: Option<Shifted>,
    /// The arrows with those that were left out, where that is the slip.
    pub completed: Option<Completed>,
    /// The atom that a proton has left and the one to which it has gone, where that is a slip.
    pub proton: Option<(AtomId, AtomId)>,
    /// The arrows of the further step in which it has gone there, on the product.
    pub further: Option<String>,
}

impl Explanation {
    /// How many slips there are beside species left out.
    pub fn count(&self) -> usize {
        self.slips.iter().filter(|slip| **slip != Slip::SpeciesLeftOut).count()
    }

    /// Whether the answer was drawn wrongly, whatever the arrows say.
    pub fn lies_in_the_answer(&self) -> bool {
        self.slips.iter().all(|slip| slip.lies_in_the_answer())
    }
}

/// Finds the smallest slip that turns the recomputed product into the stated answer.
pub(super) fn find(case: &Case<'_>, shift: &Shift<'_>, one_arrow: &OneArrow<'_>) -> Option<Explanation> {
    if case.stated.is_empty() {
        return None;
    }
    if case.compared.other_form {
        return not_redrawn(case).or_else(|| Some(ring_redrawn(case)));
    }
    let drawn = explain(case, case.product, case.list(), 2);
    let alone = drawn.as_ref().filter(|parts| parts.len() == 1);
    let one_more = LazyCell::new(|| {
        let may_be = case.is_balanced() && case.pay();
        if may_be { one_arrow.one_more_pair() } else { None }
    });
    let completed = LazyCell::new(|| {
        let may_be = case.is_balanced() && case.pay();
        if may_be { one_arrow.complete_compared(case.compared) } else { None }
    });
    let missing_one = |leads_on: bool| one_more.filter(|found| leads_on || !found.leads_on).map(arrow_missing);
    let is_charge = |parts: &&Vec<Part>| matches!(parts[0].covers[0], crate::compare::Difference::Charge(..));
    let no_swap = || one_swap(case, |slip| slip != Slip::HeadOnAtom).is_none();
    let found = not_redrawn(case)
        .or_else(|| alone.filter(is_charge).and_then(|parts| drawn_with(case, parts)))
        .or_else(|| one_swap(case, |slip| slip == Slip::HeadOnAtom))
        .or_else(|| other_contributor(case, shift.octet).filter(|_| no_swap()))
        .or_else(|| missing_one(false))
        .or_else(|| one_swap(case, |slip| slip != Slip::HeadOnAtom))
        .or_else(|| missing_one(true))
        .or_else(|| (case.task == Task::Resonance).then(|| tautomer(case, case.task, shift.octet)).flatten())
        .or_else(|| alone.and_then(|parts| drawn_with(case, parts)))
        .or_else(|| guessed(case))
        .or_else(|| off_by_one(case, shift))
        .or_else(|| (case.task != Task::Resonance).then(|| tautomer(case, case.task, shift.octet)).flatten())
        // Two arrows more beside the author's are less than two mistakes in a drawing that cancel each other.
        .or_else(|| completed.as_ref().filter(|found| found.joins(shift.arrows)).map(arrow_missing))
        .or_else(|| drawn.as_ref().and_then(|parts| drawn_with(case, parts)))
        .or_else(|| swap_and_drawing(case))
        .or_else(|| completed.as_ref().map(arrow_missing))
        .or_else(|| two_swaps(case));
    found.map(|found| found.with_further_step(case, shift))
}

impl Explanation {
    /// Says the further step, where a proton has moved in one.
    fn with_further_step(mut self, case: &Case<'_>, shift: &Shift<'_>) -> Self {
        let step = self
            .proton
            .filter(|_| self.slips.contains(&Slip::ProtonMoved))
            .and_then(|(from, to)| proton::further_step(case.product, shift.drawn_atoms, from, to));
        if let Some(step) = step {
            let _ = write!(self.sentence, ", a further step: {step}");
            self.further = Some(step);
        }
        self
    }
}

fn not_redrawn(case: &Case<'_>) -> Option<Explanation> {
    case.is_stated(case.start).then(|| Explanation {
        slips: vec![Slip::AnswerNotRedrawn],
        proton: proton::only(case),
        sentence: "the start as it was before the arrows: it was not redrawn".to_owned(),
        ..Explanation::default()
    })
}

/// The author's arrows and one or two more.
pub(super) fn arrow_missing(completed: &Completed) -> Explanation {
    Explanation {
        slips: vec![Slip::ArrowMissing],
        sentence: format!("what the arrows give with {}", completed.words()),
        completed: Some(completed.clone()),
        ..Explanation::default()
    }
}

/// A ring in another of its Kekulé forms: another contributor of the same compound.
fn ring_redrawn(case: &Case<'_>) -> Explanation {
    let mut atoms: Vec<_> = case.list().iter().flat_map(|own| own.atoms()).collect();
    atoms.sort_unstable();
    atoms.dedup();
    let names: Vec<String> = atoms.iter().take(RING).map(|atom| case.product.call(*atom)).collect();
    let more = if atoms.len() > RING { " and others" } else { "" };
    Explanation {
        slips: vec![Slip::RingRedrawn],
        sentence: format!("what the arrows give with the ring of {}{more} in its other Kekulé form", names.join(", ")),
        ..Explanation::default()
    }
}

/// Atoms of redrawn rings that a sentence names.
const RING: usize = 18;

fn off_by_one(case: &Case<'_>, shift: &Shift<'_>) -> Option<Explanation> {
    // Other arrows keep charge and hydrogens, too, and here they must leave nothing out.
    if !case.keeps_charge_and_hydrogens() {
        return None;
    }
    let shifted = shift.find(case.stated)?;
    let way = shifted.way();
    Some(Explanation {
        slips: vec![Slip::LabelsOffByOne],
        sentence: format!("what the arrows give once every label is moved {way} by one"),
        shifted: Some(shifted),
        ..Explanation::default()
    })
}

/// Slips in the drawing alone.
fn drawn_with(case: &Case<'_>, parts: &[Part]) -> Option<Explanation> {
    let drawn = draw(case, case.product, parts)?;
    is_stated(case, &drawn).then(|| explanation(case, &[], parts))
}

fn is_stated(case: &Case<'_>, drawn: &Drawn) -> bool {
    match &drawn.labels {
        Some(labels) => case.is_stated_with(&drawn.structure, labels),
        None => case.is_stated(&drawn.structure),
    }
}

/// Without labels the correspondence found need not be the one under which a single slip shows.
fn guessed(case: &Case<'_>) -> Option<Explanation> {
    if case.compared.labelled == crate::compare::Labelled::Wholly {
        return None;
    }
    guesses(case).filter(|part| case.may_give(&part.covers)).find_map(|part| drawn_with(case, &[part]))
}

fn one_swap(case: &Case<'_>, of: impl Fn(Slip) -> bool) -> Option<Explanation> {
    if !arrows_may_do(case) {
        return None;
    }
    let gives = |swap: &Swap| {
        may_give(case, &[*swap]) && product(case, &[*swap]).is_some_and(|product| case.is_stated(&product))
    };
    swaps(case).into_iter().filter(|swap| of(swap.slip)).find(gives).map(|swap| explanation(case, &[swap], &[]))
}

/// Arrows move charge, they neither make nor destroy it.
fn arrows_may_do(case: &Case<'_>) -> bool {
    case.more_charge().is_none_or(|more| more == 0) && case.more_hydrogens().is_none_or(|more| more == 0)
}

fn swap_and_drawing(case: &Case<'_>) -> Option<Explanation> {
    swaps(case).into_iter().find_map(|swap| {
        let base = product(case, &[swap])?;
        let differences = case.differences(&base)?;
        let parts = explain(case, &base, &differences.list, 1)?;
        let drawn = draw(case, &base, &parts)?;
        is_stated(case, &drawn).then(|| explanation(case, &[swap], &parts))
    })
}

fn two_swaps(case: &Case<'_>) -> Option<Explanation> {
    if !arrows_may_do(case) {
        return None;
    }
    let swaps = swaps(case);
    for (at, first) in swaps.iter().enumerate() {
        for second in swaps[at + 1..].iter().filter(|second| second.at != first.at) {
            if !may_give(case, &[*first, *second]) {
                continue;
            }
            match product(case, &[*first, *second]) {
                Some(product) if case.is_stated(&product) => {
                    let mut both = [*first, *second];
                    both.sort_by_key(|swap| swap.at);
                    return Some(explanation(case, &both, &[]));
                }
                None if case.left.get() == 0 => return None,
                _ => {}
            }
        }
    }
    None
}

fn explanation(case: &Case<'_>, swaps: &[Swap], parts: &[Part]) -> Explanation {
    let mut slips: Vec<Slip> = Vec::new();
    slips.extend(swaps.iter().map(|swap| swap.slip));
    slips.extend(parts.iter().map(|part| part.slip));
    slips.dedup();
    let drawn = parts.iter().map(|part| words::drawing(case, part.slip, &part.covers));
    let mut sentence = String::from("what the arrows give ");
    for (at, words) in swaps.iter().map(|swap| swap.words(case)).chain(drawn).enumerate() {
        sentence.push_str(if at > 0 { " and " } else { "" });
        sentence.push_str(&words);
    }
    // Only arrows that the notation has can be proposed.
    let arrows =
        parts.is_empty().then(|| arrows(case, swaps).into_vec()).filter(|arrows| push(case.start, arrows).is_ok());
    let moved = parts.iter().find(|part| part.slip == Slip::ProtonMoved);
    let proton = moved.and_then(|part| proton::ends(&part.covers));
    Explanation { slips, sentence, arrows, proton, ..Explanation::default() }
}
