//! One step: its start, its arrows, the recomputed product, the stated answer.

mod stages;

use crate::arrows::notation::Normalised;
use crate::arrows::{DrawnArrow, notation, symbols};
use crate::bank::{Arrows, Drawing, Spot, Step, Task};
use crate::compare::stereo::Mark;
use crate::findings::role::Role;
use crate::findings::rules::drawing::{DrawingReader, Drawn, name_of};
use crate::findings::rules::loose;
use crate::findings::rules::stereo::{not_judged, report_idle_marks};
use crate::findings::rules::unpaired::judge_stray;
use crate::findings::verdict::{Doubt, Finding, StepAudit, tell};
use crate::findings::{Context, Name};
use crate::source::Span;
use crate::structure::{LabelIndex, Structure};

/// Where a step starts from.
pub(crate) enum Start<'a> {
    /// Its own drawing.
    Drawn(&'a Drawing),
    /// The answer of the step before.
    Before(Structure),
    /// Nothing, and the sentence that says so.
    Missing(String),
}

/// What a step asks.
#[derive(Clone, Copy)]
pub(crate) struct Asked<'a> {
    pub(crate) context: &'a Context<'a>,
    pub(crate) task: Task,
    pub(crate) step: &'a Step,
}

impl Asked<'_> {
    /// Where a span of the arrows stands.
    fn arrow_spot(&self, span: Span) -> Option<Spot> {
        match &self.step.arrows {
            Some(Arrows::Text(field)) => Some(self.context.chunk.spot_in(field, span)),
            Some(Arrows::Read { .. }) => Some(self.context.chunk.spot(span)),
            None => None,
        }
    }

    /// Where an arrow stands, counted from 0.
    fn spot_of_arrow(&self, drawn: &[DrawnArrow], at: usize) -> Option<Spot> {
        self.arrow_spot(drawn.get(at).map_or(Span::at(0), |arrow| arrow.span))
    }
}

/// Judges one step.
pub(crate) fn judge_step(asked: Asked<'_>, start: Start<'_>, findings: &mut Vec<Finding>) -> StepAudit {
    let Asked { context, step, .. } = asked;
    let reader = context.reader();
    let from = findings.len();
    let mut audit = StepAudit { number: step.number, ..StepAudit::default() };
    let drawn_start = if let Start::Drawn(drawing) = start { Some(drawing) } else { None };
    let start = read_start(context, start, &mut audit, findings);
    let arrows = read_arrows(context, step, start.as_ref(), &mut audit, findings);
    let answer = step.answer.as_ref().map(|drawing| reader.read(drawing, Role::Answer, findings));
    if step.answer.is_none() && !context.answer_is_elsewhere && !context.product_only {
        findings.push(Finding::new(Name::MissingField, format!("the {} has no stated answer", called(step))));
    }
    let answer = answer.filter(|drawn| drawn.usable);
    let odd = start.as_ref().is_some_and(|drawn| drawn.odd);
    match (start, arrows) {
        (Some(start), Some(arrows)) => {
            audit.drawn_arrows = arrows;
            stages::judge(asked, start, answer, &mut audit, findings);
        }
        // Without arrows the start can still be shown.
        (start, _) => {
            audit.start = start.map(|drawn| drawn.structure);
            audit.answer = answer.map(|drawn| drawn.structure);
        }
    }
    if let (true, Some(structure), Some(drawing)) = (odd, &audit.start, drawn_start) {
        let touched = |atom| audit.arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom));
        judge_stray(&reader, drawing, structure, Role::Start, &touched, findings);
    }
    judge_marks(&reader, [drawn_start, step.answer.as_ref()], &mut audit, findings);
    for finding in &mut findings[from..] {
        finding.step = step.number;
    }
    audit
}

/// Stereo marks that cannot mean anything, each once, and the number of those that are not compared.
fn judge_marks(
    reader: &DrawingReader<'_>,
    [drawn_start, drawn_answer]: [Option<&Drawing>; 2],
    audit: &mut StepAudit,
    findings: &mut Vec<Finding>,
) {
    let has_marks = |structure: &Structure| !structure.stereo.is_empty() || !structure.stereo.idle_marks.is_empty();
    let (start, answer) = (audit.start.as_ref().filter(|own| has_marks(own)), audit.answer.as_ref());
    let mapping = audit.compared.as_ref().map(|compared| &compared.mapping);
    let mut known = Vec::new();
    if let (Some(start), Some(drawing)) = (start, drawn_start) {
        known = report_idle_marks(reader, drawing, start, Role::Start, &|_| false, findings);
    }
    if let (Some(answer), Some(drawing)) = (answer.filter(|own| has_marks(own)), drawn_answer) {
        let is_known = |mark: Mark| {
            mapping
                .and_then(|mapping| mark.map(|atom| mapping.computed(atom)))
                .is_some_and(|mark| known.contains(&mark))
        };
        report_idle_marks(reader, drawing, answer, Role::Answer, &is_known, findings);
    }
    if let Some(start) = &audit.start {
        audit.stereo_not_judged = not_judged(start, &audit.arrows, answer.zip(mapping));
    }
}

/// What messages call a step: the whole item where it has no other.
fn called(step: &Step) -> &'static str {
    if step.number == 0 { "item" } else { "step" }
}

fn read_start(
    context: &Context<'_>,
    start: Start<'_>,
    audit: &mut StepAudit,
    findings: &mut Vec<Finding>,
) -> Option<Drawn> {
    let reader = context.reader();
    let mut drawn = match start {
        Start::Missing(message) => {
            findings.push(Finding::new(Name::MissingField, message));
            return None;
        }
        Start::Before(structure) => {
            let labels = LabelIndex::new(&structure);
            Drawn { structure, labels, usable: true, odd: false }
        }
        Start::Drawn(drawing) => {
            let mut drawn = reader.read(drawing, Role::Start, findings);
            if drawn.usable {
                let (known, before) = (|_| false, findings.len());
                drawn.odd = reader.judge_electrons(&drawn.structure, Some(drawing), Role::Start, known, findings) > 0;
                audit.doubt = (findings.len() > before).then_some(Doubt::Impossible);
            }
            drawn
        }
    };
    audit.start_is_labelled = !drawn.structure.label_by_position_from(context.first_label);
    if !audit.start_is_labelled {
        drawn.labels = LabelIndex::new(&drawn.structure);
    }
    drawn.usable.then_some(drawn)
}

fn read_arrows(
    context: &Context<'_>,
    step: &Step,
    start: Option<&Drawn>,
    audit: &mut StepAudit,
    findings: &mut Vec<Finding>,
) -> Option<Vec<DrawnArrow>> {
    match &step.arrows {
        None => {
            findings.push(Finding::new(Name::MissingField, format!("the {} has no arrows", called(step))));
            None
        }
        Some(Arrows::Read { arrows, faults }) => {
            tell(findings, faults, |fault| {
                Finding::new(name_of(fault.kind), fault.message.clone()).at(context.chunk.spot(fault.span))
            });
            faults.is_empty().then(|| arrows.clone())
        }
        Some(Arrows::Text(field)) if field.text.len() > context.settings.limits.field_bytes => {
            let (length, limit) = (field.text.len(), context.settings.limits.field_bytes);
            let message =
                format!("the arrows are {length} bytes long and pass the limit of {limit} bytes for one field");
            let at = context.chunk.spot_in(field, Span::at(0));
            findings.push(Finding::new(Name::UnreadableArrows, message).at(at));
            None
        }
        Some(Arrows::Text(field)) => {
            let mut reading = notation::read(&field.text, context.settings.limits.arrows);
            if let Some(start) = start {
                let by_position = !audit.start_is_labelled;
                reading.is_loose |= symbols::read(&mut reading.arrows, &start.structure, &start.labels, by_position);
            }
            if reading.is_loose && reading.faults.is_empty() {
                findings.push(loose::of_arrows(&reading.arrows));
            }
            let own = |own: &Normalised| own.span.of(&field.text).chars().next().map(|found| (found, own.read_as));
            audit.normalised = reading.normalised.iter().filter_map(own).collect();
            tell(findings, &reading.faults, |error| {
                let message = format!("the arrows: {}", error.fault);
                Finding::new(Name::UnreadableArrows, message).at(context.chunk.spot_in(field, error.span))
            });
            reading.faults.is_empty().then_some(reading.arrows)
        }
    }
}
