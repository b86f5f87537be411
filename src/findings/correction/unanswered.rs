//! Banks that are still to be filled: the product where the answer is missing, arrows where the arrows are.

use super::super::Finding;
use super::super::catalogue::{Name, Severity};
use super::super::step::{Asked, Start, StepAudit};
use super::rejudged::judged_with;
use super::{Correction, Grade, Target};
use crate::arrows::infer::drawn;
use crate::arrows::notation;
use crate::bank::{Drawing, Task};
use crate::compare::arrows_between;

/// Sets of arrows that are held against the rules of the task, at most.
const TRIED: usize = 8;

/// How sure the product of clean arrows is where the answer is missing: a mark at an atom that arrows touch is for a person to
/// draw, and an item with a warning for a person to look at.
pub(super) fn grade_of_product(findings: &[Finding], audit: Option<&StepAudit>) -> Grade {
    let has_marks = audit.is_none_or(|audit| audit.stereo_not_judged > 0);
    let is_warned = findings.iter().any(|finding| finding.severity == Severity::Warning);
    if has_marks || is_warned { Grade::Likely } else { Grade::Certain }
}

/// Where a step has start and answer but no arrows: the fewest that lead there, as the step's correction.
///
/// The step is judged once more with them: they are proposed only where nothing at all is then found, other than notes.
/// `findings` are those of the step.
pub(in crate::findings) fn propose_arrows(
    asked: Asked<'_>,
    start: Option<&Drawing>,
    audit: &StepAudit,
    findings: &mut [Finding],
) {
    if asked.step.arrows.is_some() || asked.task == Task::Contributors {
        return;
    }
    let (Some(from), Some(to)) = (&audit.start, &audit.answer) else { return };
    let is_other = |own: &&Finding| own.name != Name::MissingField && own.severity > Severity::Note;
    if findings.iter().any(|own| is_other(&own)) {
        return;
    }
    let Some(missing) = findings.iter_mut().find(|own| own.name == Name::MissingField) else { return };
    let labels = crate::structure::LabelIndex::new(from);
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
