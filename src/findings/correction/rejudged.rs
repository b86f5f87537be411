//! Proposed arrows are put into their step, and the step is judged again: a proposal removes its finding and adds none.
//!
//! Arrows are proposed once they have been shown to lead to the stated answer without a fault of theirs. What that does not show is
//! said of rings that are drawn delocalised, whose forms may lead to different outcomes, and of stereo marks, which are compared where
//! no arrow is: only steps that have either are judged again.

use super::super::catalogue::Severity;
use super::super::step::{Asked, Start, StepAudit, judge_step};
use super::super::{Context, Finding};
use super::Target;
use crate::arrows::{AtomName, DrawnArrow, Place, notation};
use crate::bank::{Arrows, Drawing, Step};
use crate::structure::{LabelIndex, Structure};

/// Takes back proposed arrows that would leave the finding or bring another one. `findings` are those of the step.
pub(in crate::findings) fn take_back(
    asked: Asked<'_>,
    start: Option<&Drawing>,
    audit: &StepAudit,
    findings: &mut [Finding],
) {
    let (Some(drawing), Some(from), false) = (start, &audit.start, asked.context.is_trial) else { return };
    let context = &Context { is_trial: true, ..*asked.context };
    let asked = Asked { context, ..asked };
    for at in 0..findings.len() {
        let Some(fix) = findings[at].fix.as_ref().filter(|fix| fix.field == Target::Arrows) else { continue };
        let arrows = notation::read(&fix.proposed, context.settings.limits.arrows).arrows;
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
pub(super) fn judged_with(asked: Asked<'_>, start: Start<'_>, arrows: Vec<DrawnArrow>) -> Vec<Finding> {
    let step = &Step { arrows: Some(Arrows::Read { arrows, faults: Vec::new() }), ..asked.step.clone() };
    let mut findings = Vec::new();
    judge_step(Asked { step, ..asked }, start, &mut findings);
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
