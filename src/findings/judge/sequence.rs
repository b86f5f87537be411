//! The steps of an item: each is judged from its own redrawn start or from the answer of the step before it.
//!
//! An early fault does not drown the later steps. Where an answer is wrong and the next step redraws no start, that step
//! is judged from the answer as stated and, if that does not do, from the product that the arrows before it lead to:
//! only what is wrong under both is the step's own fault.

mod redrawn;

use crate::bank::{Item, Step};
use crate::compare::Compared;
use crate::compare::difference::is_folded;
use crate::findings::judge::proposals::judge_step;
use crate::findings::judge::step::{Asked, Start};
use crate::findings::verdict::{Doubt, StepAudit};
use crate::findings::{Context, Finding, Name, Severity};
use crate::structure::stereo::Neighbour;
use crate::structure::{AtomId, Label, Structure};
use redrawn::judge_redrawn;

/// Steps that a message names.
const NAMED: usize = 6;

/// Judges the steps of an item.
pub(crate) fn judge_steps(context: &Context<'_>, item: &Item, findings: &mut Vec<Finding>) -> Vec<StepAudit> {
    if let [only] = item.steps.as_slice()
        && only.number <= 1
    {
        let start = only.start.as_ref().map_or_else(no_start, Start::Drawn);
        return vec![judge_step(Asked { context, task: item.task, step: only }, start, findings)];
    }
    let mut sequence = Sequence { context, item, findings, done: Vec::with_capacity(item.steps.len()) };
    for step in sequence.in_order() {
        sequence.judge(step);
    }
    sequence.done
}

fn no_start<'a>() -> Start<'a> {
    Start::Missing("the item has no start".to_owned())
}

struct Sequence<'a> {
    context: &'a Context<'a>,
    item: &'a Item,
    findings: &'a mut Vec<Finding>,
    done: Vec<StepAudit>,
}

impl<'a> Sequence<'a> {
    /// The steps by number, and findings where the bank counts otherwise than 1, 2, 3.
    fn in_order(&mut self) -> Vec<&'a Step> {
        let mut steps: Vec<&Step> = self.item.steps.iter().collect();
        // Steps without a number come last.
        let place = |step: &&Step| step.number.wrapping_sub(1);
        let numbered = || self.item.steps.iter().filter(|step| step.number > 0);
        if !numbered().is_sorted_by_key(|step| step.number) {
            let order: Vec<String> = numbered().take(NAMED).map(|step| step.number.to_string()).collect();
            let message = format!(
                "the steps stand in the order {}{}: put them in the order in which they happen",
                order.join(", "),
                if steps.len() > NAMED { ", …" } else { "" }
            );
            self.findings.push(Finding::new(Name::UnreadableRecord, message));
        }
        steps.sort_by_key(place);
        let mut expected = 1;
        for step in &steps {
            let number = step.number;
            let (name, message) = if number == 0 {
                (Name::MissingField, "a row of the sequence has no step number".to_owned())
            } else if number < expected {
                (Name::UnreadableRecord, format!("step {number} stands there twice"))
            } else if number > expected {
                let missing = if number == expected + 1 {
                    format!("step {expected} is")
                } else {
                    format!("steps {expected} to {} are", number - 1)
                };
                let message = format!(
                    "{missing} missing before step {number}: the steps of one item share its id and stand together"
                );
                (Name::MissingField, message)
            } else {
                expected += 1;
                continue;
            };
            self.findings.push(Finding { step: number, ..Finding::new(name, message) });
            expected = number.max(expected - 1) + 1;
        }
        steps
    }

    fn judge(&mut self, step: &Step) {
        let is_last = self.item.steps.iter().all(|other| other.number <= step.number);
        let answer_is_elsewhere = self.context.answer_is_elsewhere && is_last;
        let options = if is_last { self.context.options } else { &[] };
        let context = Context { answer_is_elsewhere, options, ..*self.context };
        let before = self.done.iter().rposition(|audit| audit.number > 0 && audit.number + 1 == step.number);
        let before = before.map(|at| &self.done[at]);
        let asked = Asked { context: &context, task: self.item.task, step };
        let mut findings = Vec::new();
        let audit = match (&step.start, before) {
            (Some(drawing), _) => {
                let mut audit = judge_step(asked, Start::Drawn(drawing), &mut findings);
                if let Some(before) = before {
                    let rests = judge_redrawn(&context, before, &audit, drawing, &mut findings);
                    audit.doubt = audit.doubt.or(rests.then_some(Doubt::RestsOnStated));
                }
                audit
            }
            (None, Some(before)) => go_on(asked, before, &mut findings),
            (None, None) if step.number <= 1 => judge_step(asked, no_start(), &mut findings),
            (None, None) => {
                let message = format!("step {} redraws no start, and the step before it is missing", step.number);
                judge_step(asked, Start::Missing(message), &mut findings)
            }
        };
        self.findings.append(&mut findings);
        self.done.push(audit);
    }
}

/// Judges a step that redraws no start.
fn go_on(asked: Asked<'_>, before: &StepAudit, findings: &mut Vec<Finding>) -> StepAudit {
    let from = findings.len();
    let Some(stated) = &before.answer else {
        let start = computed_start(before).map_or_else(
            || {
                let message = format!(
                    "step {} redraws no start, and step {} leaves no structure to go on from",
                    asked.step.number, before.number
                );
                Start::Missing(message)
            },
            Start::Before,
        );
        return judge_step(asked, start, findings);
    };
    let mut audit = judge_step(asked, Start::Before(stated.clone()), findings);
    let is_wrong = before.compared.as_ref().is_some_and(|compared| !compared.is_equal());
    audit.doubt = is_wrong.then_some(Doubt::RestsOnStated);
    let is_faulty = |findings: &[Finding]| findings.iter().any(|finding| finding.severity == Severity::Error);
    if before.compared.as_ref().is_none_or(Compared::is_equal) || !is_faulty(&findings[from..]) {
        return audit;
    }
    // The answer before is wrong, which has been said: what follows from that is not said again.
    let Some(computed) = computed_start(before) else { return audit };
    let mut second = Vec::new();
    let other = judge_step(asked, Start::Before(computed), &mut second);
    if is_faulty(&second) {
        return audit;
    }
    findings.truncate(from);
    findings.append(&mut second);
    other
}

/// The product of a step as the start of the next: with the labels that its stated answer would have, and with the
/// hydrogens undrawn that only its arrows drew out.
fn computed_start(before: &StepAudit) -> Option<Structure> {
    let product = &before.pushed.as_ref().filter(|_| before.arrows_are_clean)?.product;
    let is_drawn_out = |atom: AtomId| atom.index() >= before.drawn_atoms && is_folded(product, atom);
    let mut start = product.part(|atom| !is_drawn_out(atom));
    let kept: Vec<AtomId> = product.atom_ids().filter(|atom| !is_drawn_out(*atom)).collect();
    for (new, old) in kept.iter().enumerate() {
        let folded = product.neighbours(*old).filter(|(next, _)| is_drawn_out(*next)).count();
        start.atom_mut(AtomId::new(new)).hydrogens += folded as u16;
    }
    let new_of = |old: AtomId| kept.binary_search(&old).ok().map(AtomId::new);
    let mut stereo = product.stereo.clone();
    for centre in &mut stereo.centres {
        for neighbour in &mut centre.neighbours {
            if matches!(neighbour, Neighbour::Atom(atom) if is_drawn_out(*atom)) {
                *neighbour = Neighbour::Hydrogen;
            }
        }
    }
    start.stereo = stereo.renumbered(new_of);
    if let (Some(compared), Some(answer)) = (&before.compared, &before.answer)
        && !answer.has_labels()
    {
        start.clear_labels();
        for (new, old) in kept.iter().enumerate() {
            if let Some(stated) = compared.mapping.stated(*old) {
                start.set_label(AtomId::new(new), &Label::Number(stated.index() as u32 + 1));
            }
        }
    }
    Some(start)
}
