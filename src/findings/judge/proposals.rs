//! Proposed arrows. They are put into their step, and the step is judged again: a proposal removes its finding and adds none.

use crate::arrows::infer::drawn;
use crate::arrows::{AtomName, DrawnArrow, Place, notation};
use crate::bank::{Arrows, Drawing, Step, Task};
use crate::compare::arrows_between;
use crate::findings::catalogue::{Name, Severity};
use crate::findings::fix::{Correction, Grade, Target};
use crate::findings::judge::step::{self, Asked, Start};
use crate::findings::verdict::{Finding, StepAudit};
use crate::structure::{LabelIndex, Structure};

/// Sets of arrows that are held against the rules of the task, at most.
const TRIED: usize = 8;

/// Judges a step. Where it has no arrows, some are proposed; proposed arrows that do not do are taken back.
pub(crate) fn judge_step(asked: Asked<'_>, start: Start<'_>, findings: &mut Vec<Finding>) -> StepAudit {
    let from = findings.len();
    let drawing = if let Start::Drawn(drawing) = start { Some(drawing) } else { None };
    let audit = step::judge_step(asked, start, findings);
    propose_arrows(asked, drawing, &audit, &mut findings[from..]);
    take_back(asked, drawing, &audit, &mut findings[from..]);
    audit
}

/// Where a step has start and answer but no arrows: the fewest that lead there, as the step's correction.
///
/// The step is judged once more with them: they are proposed only where nothing at all is then found, other than notes.
/// `findings` are those of the step.
fn propose_arrows(asked: Asked<'_>, start: Option<&Drawing>, audit: &StepAudit, findings: &mut [Finding]) {
    if asked.step.arrows.is_some() || asked.task == Task::Contributors {
        return;
    }
    let (Some(from), Some(to)) = (&audit.start, &audit.answer) else { return };
    let is_other = |own: &&Finding| own.name != Name::MissingField && own.severity > Severity::Note;
    if findings.iter().any(|own| is_other(&own)) {
        return;
    }
    let Some(missing) = findings.iter_mut().find(|own| own.name == Name::MissingField) else { return };
    let labels = LabelIndex::new(from);
    let limit = asked.context.settings.limits.search_steps / 10;
    let Ok(found) = arrows_between(from, to, &labels, limit) else { return };
    let texts = found.ways.iter().take(TRIED).filter_map(|way| Some(notation::write(&drawn(&found.start, way).ok()?)));
    let mut fitting = texts.filter(|text| {
        let own = match start {
            Some(drawing) => Start::Drawn(drawing),
            None => Start::Before(from.clone()),
        };
        fits(asked, own, text)
    });
    let Some(first) = fitting.next() else { return };
    let is_only = fitting.next().is_none() && !found.is_cut_short && found.ways.len() <= TRIED;
    let (grade, why) = if is_only {
        (Grade::Likely, "the arrows are missing, and these are the only ones, of the fewest, that lead to the answer")
    } else {
        (Grade::None, "the arrows are missing, and several sets of as many lead to the answer: this is the usual one")
    };
    missing.correction.clone_from(&first);
    missing.fix = Some(Box::new(Correction::new(Target::Arrows, first, grade, why)));
}

/// Whether a step with these arrows is without error or warning.
fn fits(asked: Asked<'_>, start: Start<'_>, text: &str) -> bool {
    let reading = notation::read(text, asked.context.settings.limits.arrows);
    reading.faults.is_empty() && {
        let findings = judged_with(asked, start, reading.arrows);
        findings.iter().all(|finding| finding.severity == Severity::Note)
    }
}

/// Takes back proposed arrows that would leave the finding or bring another one. `findings` are those of the step.
///
/// Arrows are proposed once they have been shown to lead to the stated answer without a fault of theirs. What that does not show is
/// said of rings that are drawn delocalised, whose forms may lead to different outcomes, and of stereo marks, which are compared where
/// no arrow is: only steps that have either are judged again.
fn take_back(asked: Asked<'_>, start: Option<&Drawing>, audit: &StepAudit, findings: &mut [Finding]) {
    let (Some(drawing), Some(from)) = (start, &audit.start) else { return };
    for at in 0..findings.len() {
        let Some(fix) = findings[at].fix.as_ref().filter(|fix| fix.field == Target::Arrows) else { continue };
        let arrows = notation::read(&fix.proposed, asked.context.settings.limits.arrows).arrows;
        if asked.step.arrows.is_none() || !(has_marks(from, audit) || touches_a_ring(from, &arrows)) {
            continue;
        }
        let then = judged_with(asked, Start::Drawn(drawing), arrows);
        let is_new = |own: &Finding| {
            own.severity > Severity::Note
                && (own.name == findings[at].name || !findings.iter().any(|known| known.name == own.name))
        };
        if then.iter().any(is_new) {
            drop_arrows(&mut findings[at]);
        }
    }
}

/// What is found in a step with other arrows.
fn judged_with(asked: Asked<'_>, start: Start<'_>, arrows: Vec<DrawnArrow>) -> Vec<Finding> {
    let step = &Step { arrows: Some(Arrows::Read { arrows, faults: Vec::new() }), ..asked.step.clone() };
    let mut findings = Vec::new();
    step::judge_step(Asked { step, ..asked }, start, &mut findings);
    findings
}

/// Leaves of a correction of the arrows what it says of the answer.
fn drop_arrows(finding: &mut Finding) {
    finding.fix = finding.fix.take().and_then(|mut fix| fix.instead.take());
    finding.correction = finding.fix.as_ref().map(|fix| fix.proposed.clone()).unwrap_or_default();
}

fn has_marks(start: &Structure, audit: &StepAudit) -> bool {
    !start.stereo.is_empty() || audit.answer.as_ref().is_some_and(|answer| !answer.stereo.is_empty())
}

/// Whether arrows touch an atom with a delocalised bond.
fn touches_a_ring(start: &Structure, arrows: &[DrawnArrow]) -> bool {
    if !start.is_delocalised() {
        return false;
    }
    let labels = LabelIndex::new(start);
    let in_ring = |name: &AtomName| {
        let atom = labels.get(&name.label);
        atom.is_some_and(|atom| start.neighbours(atom).any(|(_, bond)| start.bond(bond).aromatic))
    };
    let touches = |place: &Place<AtomName>| match place {
        Place::Atom(a) => in_ring(a),
        Place::Bond(a, b) => in_ring(a) || in_ring(b),
    };
    arrows.iter().any(|arrow| touches(&arrow.tail) || touches(&arrow.head))
}
