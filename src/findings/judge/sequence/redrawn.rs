//! A redrawn start beside the answer of the step before it.

mod exchange;

use crate::bank::Drawing;
use crate::compare::difference::Names;
use crate::compare::kekule::other_form;
use crate::compare::{Agreement, Compared, Decision, compare, decide};
use crate::findings::rules::answer::species_words;
use crate::findings::rules::drawing::name;
use crate::findings::rules::omits::unexcused;
use crate::findings::rules::stereo::Marks;
use crate::findings::verdict::StepAudit;
use crate::findings::{Context, Finding, Name};
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, LabelIndex, Structure};
use exchange::Exchange;

/// Differences that a message names.
const NAMED: usize = 6;

/// How messages call the two drawings.
const REDRAWN: Names = Names {
    one: "in the answer",
    other: "redrawn",
    one_drawing: "answer before",
    other_drawing: "redrawn start",
    second_first: false,
};

/// How a redrawn start stands to the answer before it.
enum Redrawn {
    /// It is that answer; it may add species, as a reagent that the next step needs.
    Same,
    /// It leaves out whole species of the answer.
    LeavesOut(Vec<Vec<AtomId>>),
    /// It differs: the drawings, without species that have nothing to do with each other, and how they compare.
    Differs(Box<(Structure, Structure, Compared)>),
    /// That could not be decided.
    Undecided,
}

/// Compares a redrawn start with the answer of the step before it; whether it is that answer, though that is not the product.
pub(super) fn judge_redrawn(
    context: &Context<'_>,
    before: &StepAudit,
    after: &StepAudit,
    drawing: &Drawing,
    findings: &mut Vec<Finding>,
) -> bool {
    let Some(start) = &after.start else { return false };
    let product = before.pushed.as_ref().filter(|_| before.arrows_are_clean).map(|pushed| &pushed.product);
    let Some(answer) = before.answer.as_ref().or(product) else { return false };
    let redrawn = redrawn(context, answer, after, start);
    // A wrong answer has been reported: who draws the right one next has not broken the sequence.
    let is_wrong = before.compared.as_ref().is_some_and(|compared| !compared.is_equal());
    let is_product =
        || product.is_some_and(|product| matches!(self::redrawn(context, product, after, start), Redrawn::Same));
    let rests_on_stated = is_wrong && !is_product();
    if is_wrong && !rests_on_stated && !matches!(redrawn, Redrawn::Same) {
        return false;
    }
    let (this, earlier) = (after.number, before.number);
    let is_left_out = matches!(redrawn, Redrawn::LeavesOut(_));
    let finding = match redrawn {
        Redrawn::Same => return rests_on_stated,
        Redrawn::LeavesOut(omitted) => {
            let species = species_words(answer, &omitted);
            let message = format!("the start of step {this} leaves out {species} of the answer of step {earlier}");
            let atoms = omitted.iter().flatten().take(64).map(|atom| name(answer, *atom)).collect();
            Finding::new(Name::OmittedSpecies, message).about(atoms)
        }
        Redrawn::Undecided => {
            let message = format!(
                "whether the start of step {this} is the answer of step {earlier} could not be decided within {} search steps",
                context.settings.limits.search_steps
            );
            Finding::new(Name::Undecided, message)
        }
        Redrawn::Differs(found) => broken(&found.2, &found.0, &found.1, this, earlier),
    };
    let finding = match start.atom_ids().next() {
        Some(first) => context.reader().at_atom(finding, drawing, start, first),
        None => finding,
    };
    let stated = smiles::write(start, Labels::Classes);
    findings.push(Finding { step: this, stated, computed: smiles::write(answer, Labels::Classes), ..finding });
    rests_on_stated && is_left_out
}

fn broken(compared: &Compared, answer: &Structure, start: &Structure, this: u32, earlier: u32) -> Finding {
    let (answer, start) = compared.drawings(answer, start);
    let found = &compared.differences;
    let mut words: Vec<String> =
        found.list.iter().take(NAMED).map(|difference| difference.words_between(answer, start, &REDRAWN)).collect();
    if found.list.len() > NAMED {
        words.push(format!("and {} more differences", found.list.len() - NAMED));
    }
    words.extend(found.stereo.iter().take(NAMED).map(|own| own.words(answer)));
    for atoms in found.omitted.iter().take(NAMED) {
        let species = smiles::write_part(answer, Labels::Without, |atom| atoms.contains(&atom));
        words.push(format!("{species} is left out"));
    }
    let message = format!("the start of step {this} is not the answer of step {earlier}: {}", words.join("; "));
    let mut atoms: Vec<String> =
        found.list.iter().flat_map(|difference| difference.atoms()).map(|atom| name(answer, atom)).collect();
    atoms.dedup();
    atoms.truncate(64);
    Finding::new(Name::BrokenSequence, message).about(atoms)
}

/// Compares by labels where both drawings have them and agree by them, else up to labels: a new drawing may number its
/// atoms anew.
fn redrawn(context: &Context<'_>, answer: &Structure, after: &StepAudit, start: &Structure) -> Redrawn {
    let limit = context.settings.limits.search_steps;
    let by_label = after.start_is_labelled && answer.has_labels();
    let labels = |of: &Structure| if by_label { LabelIndex::new(of) } else { LabelIndex::default() };
    let by_labels = decide_with_marks(answer, start, &labels(answer), limit);
    if by_labels.left_out().is_some_and(<[_]>::is_empty) {
        return Redrawn::Same;
    }
    let none = LabelIndex::default();
    let leaving_out = decide_with_marks(answer, start, &none, limit);
    if let Some(omitted) = leaving_out.left_out() {
        return left_out(unexcused(context.omits, answer, omitted));
    }
    let adding = decide_with_marks(start, answer, &none, limit);
    if adding.left_out().is_some() {
        return Redrawn::Same;
    }
    let undecided = |decision: &Decision| decision.agreement() == Agreement::Undecided;
    if undecided(&leaving_out) || undecided(&adding) {
        return Redrawn::Undecided;
    }
    if let Some(redrawn) = other_forms(context, answer, start) {
        return redrawn;
    }
    let exchange = Exchange::new(context, answer, after, start);
    if exchange.is_sound(limit) {
        return left_out(exchange.left_out);
    }
    let (answer, start) = exchange.in_question(answer, start);
    let compared = compare_with_marks(&answer, &start, &labels(&answer), limit);
    Redrawn::Differs(Box::new((answer, start, compared)))
}

/// How drawings stand to each other that differ by Kekulé forms of rings and whole species only.
fn other_forms(context: &Context<'_>, answer: &Structure, start: &Structure) -> Option<Redrawn> {
    if !context.any_kekule_form {
        return None;
    }
    let (none, limit) = (LabelIndex::default(), context.settings.limits.search_steps);
    if let Some(other) = other_form(answer, start, &none, limit) {
        let decision = decide_with_marks(answer, &other.recast, &none, limit);
        return decision.left_out().map(|omitted| left_out(unexcused(context.omits, answer, omitted)));
    }
    let other = other_form(start, answer, &none, limit)?;
    decide_with_marks(start, &other.recast, &none, limit).left_out().map(|_| Redrawn::Same)
}

fn left_out(unexcused: Vec<Vec<AtomId>>) -> Redrawn {
    if unexcused.is_empty() { Redrawn::Same } else { Redrawn::LeavesOut(unexcused) }
}

/// As [`decide`], stereo marks as well.
pub(super) fn decide_with_marks(one: &Structure, other: &Structure, labels: &LabelIndex, limit: u64) -> Decision {
    let mut decision = decide(one, other, labels, limit);
    if let Decision::Explained(compared) = &mut decision {
        all_marks(one, other, labels, limit).add_to(compared);
    }
    decision
}

/// As [`compare`], stereo marks as well.
fn compare_with_marks(one: &Structure, other: &Structure, labels: &LabelIndex, limit: u64) -> Compared {
    let mut compared = compare(one, other, labels, limit);
    all_marks(one, other, labels, limit).add_to(&mut compared);
    compared
}

/// The marks of two drawings between which no arrow is.
fn all_marks<'a>(one: &'a Structure, other: &'a Structure, labels: &'a LabelIndex, limit: u64) -> Marks<'a> {
    Marks { start: one, arrows: &[], product: one, stated: other, labels, limit }
}
