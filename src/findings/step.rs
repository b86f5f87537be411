//! One step: its start, its arrows, the recomputed product, the stated answer.

use super::answer::{AnswerContext, judge_answer, shifted_labels};
use super::arrows::{atoms, finding as arrow_finding};
use super::contributors::drawn_as;
use super::correction::{self, bare_product, propose_arrows, take_back};
use super::drawing::{DrawingReader, Drawn, Role, electron_finding, names};
use super::settle::{Settled, Taken, new_faults, passes_limit, settle};
use super::several;
use super::slips;
use super::stereo::{not_judged, report_idle_marks};
use super::unpaired::judge_stray;
use super::{Context, Finding, Name, loose, tell};
use crate::arrows::notation::Normalised;
use crate::arrows::resolve::{OpenArrow, resolve};
use crate::arrows::{Arrow, CutStep, DrawnArrow, Place, Pushed, notation, symbols};
use crate::bank::{Accept, Arrows, Drawing, Spot, Step, Task};
use crate::compare::Compared;
use crate::compare::stereo::Mark;
use crate::smiles::{self, Labels};
use crate::source::Span;
use crate::structure::{LabelIndex, Structure};

/// Everything that was worked out about one step, for reports, slips and corrections.
#[derive(Debug, Clone, Default)]
pub struct StepAudit {
    /// The step's number; 0 for the only step of an item.
    pub number: u32,
    /// The start with labels, localised, hydrogens that arrows name drawn out.
    pub start: Option<Structure>,
    /// Whether the labels of the start are its own; else they are positions.
    pub start_is_labelled: bool,
    /// Atoms of the start as drawn; those behind them are hydrogens that arrows drew out.
    pub drawn_atoms: usize,
    /// The arrows as written.
    pub drawn_arrows: Vec<DrawnArrow>,
    /// Typographic characters of the arrow field, each with what it was read as.
    pub normalised: Vec<(char, &'static str)>,
    /// The arrows on the atoms of the start.
    pub arrows: Vec<Arrow>,
    /// The arrows with open heads as they are drawn, on the atom alone, where more than one reading of them is possible; else none.
    pub asked: Vec<Arrow>,
    /// The steps that the arrows are cut into, where they are several drawn as one; else none.
    pub several: Vec<CutStep>,
    /// The product, where the arrows have one.
    pub pushed: Option<Pushed>,
    /// The stated answer, localised.
    pub answer: Option<Structure>,
    /// How the answer compares with the product, if it was compared.
    pub compared: Option<Compared>,
    /// Whether the arrows are free of faults and the product's electrons are possible.
    pub arrows_are_clean: bool,
    /// Stereo marks that were not compared, at atoms that arrows touch.
    pub stereo_not_judged: u32,
    /// The stated contributors that can be read, each with the name of its drawing: `contributor 1`, `option A`.
    pub contributors: Vec<(String, Structure)>,
    /// The options of a multiple choice that can be read, on its last step.
    pub options: Vec<OptionAudit>,
}

/// What was worked out about an option of a multiple choice.
#[derive(Debug, Clone)]
pub struct OptionAudit {
    /// Its place, counted from 0.
    pub at: usize,
    /// What it draws.
    pub structure: Structure,
    /// Whether the key names it.
    pub is_keyed: bool,
    /// Whether it is the recomputed product; `None` where that was not decided or there is no product.
    pub is_right: Option<bool>,
}

/// Where a step starts from.
pub(super) enum Start<'a> {
    /// Its own drawing.
    Drawn(&'a Drawing),
    /// The answer of the step before.
    Before(Structure),
    /// Nothing, and the sentence that says so.
    Missing(String),
}

/// Judges one step.
pub(super) fn judge_step(
    context: &Context<'_>,
    task: Task,
    step: &Step,
    start: Start<'_>,
    findings: &mut Vec<Finding>,
) -> StepAudit {
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
            push_and_compare(context, task, step, start, answer, &mut audit, findings);
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
    propose_arrows(context, task, step, drawn_start, &audit, &mut findings[from..]);
    take_back(context, task, step, drawn_start, &audit, &mut findings[from..]);
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

/// The product drawn as the stated answer, where the item takes any contributor and the answer is another one.
fn accepted(own: &AnswerContext<'_>, taken: &Taken, answer: &Structure, compared: &Compared) -> Option<Structure> {
    let is_wanted = own.context.accept == Accept::Contributor && !compared.is_equal();
    is_wanted.then(|| drawn_as(own.context, &taken.pushed.product, answer, own.labels))?
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
                let known = |_| false;
                drawn.odd = reader.judge_electrons(&drawn.structure, Some(drawing), Role::Start, known, findings) > 0;
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
                let name = Name::from_text(fault.finding).unwrap_or(Name::UnreadableArrows);
                Finding::new(name, fault.message.clone()).at(context.chunk.spot(fault.span))
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

/// Where a span of the arrows stands.
fn arrow_spot(context: &Context<'_>, step: &Step, span: Span) -> Option<Spot> {
    match &step.arrows {
        Some(Arrows::Text(field)) => Some(context.chunk.spot_in(field, span)),
        Some(Arrows::Read { .. }) => Some(context.chunk.spot(span)),
        None => None,
    }
}

fn push_and_compare(
    context: &Context<'_>,
    task: Task,
    step: &Step,
    start: Drawn,
    answer: Option<Drawn>,
    audit: &mut StepAudit,
    findings: &mut Vec<Finding>,
) {
    audit.drawn_atoms = start.structure.atom_count();
    let resolved = resolve(start.structure, &start.labels, &audit.drawn_arrows);
    let drawn_arrows = &audit.drawn_arrows;
    let answer_context = AnswerContext {
        context,
        task,
        drawing: step.answer.as_ref(),
        role: Role::Answer,
        labels: &start.labels,
        drawn_atoms: audit.drawn_atoms,
        drawn_arrows,
    };
    let shifted = |start: &Structure| {
        let stated = &answer.as_ref()?.structure;
        answer_context.shift(start).find(stated).map(|shifted| shifted_labels(&shifted))
    };
    let mut unknown = resolved.faults;
    // One wrong label stands at the tail and at the head of one arrow: `2-9 -> 9`.
    unknown.dedup_by(|own, before| (own.0, &own.2) == (before.0, &before.2));
    tell(findings, &unknown, |(number, span, why)| {
        let finding = Finding::new(Name::UnknownAtom, format!("arrow {number}: {why}"));
        Finding { spot: arrow_spot(context, step, *span), ..finding }
    });
    if !unknown.is_empty() {
        findings.extend(shifted(&resolved.start));
        audit.start = Some(resolved.start);
        audit.answer = answer.map(|drawn| drawn.structure);
        return;
    }
    head_findings(&resolved.start, &resolved.arrows, &audit.drawn_arrows, findings);
    let forms = context.settings.limits.forms;
    let too_many_ways =
        passes_limit(&resolved.start, &resolved.arrows, forms).then(|| passed_limit(&resolved.start, forms));
    let ways = match settle(resolved.start, &resolved.arrows, context.octet, forms) {
        Settled::Possible(ways) => ways,
        Settled::Faulty(start, arrows, faults) => {
            tell(findings, &faults, |fault| {
                let finding = arrow_finding(&start, &arrows, &audit.drawn_arrows, *fault);
                let span = audit.drawn_arrows.get(fault.arrow()).map_or(Span::at(0), |arrow| arrow.span);
                Finding { spot: arrow_spot(context, step, span), ..finding }
            });
            findings.extend(shifted(&start));
            (audit.start, audit.arrows) = (Some(start), arrows);
            audit.answer = answer.map(|drawn| drawn.structure);
            return;
        }
    };
    let shown = answer.as_ref().map(|drawn| &drawn.structure);
    findings.extend(too_many_ways);
    if ways.len() > 1 {
        audit.asked = resolved.arrows.iter().map(|(_, arrow)| arrow.as_asked()).collect();
    }
    let (mut taken, judged) = choose(&answer_context, ways, shown, findings);
    let faults_before = findings.len();
    judge_product(context, task, &taken, findings);
    audit.arrows_are_clean = findings.len() == faults_before;
    if is_idle(&taken) && !taken.arrows.is_empty() {
        findings.push(Finding::new(Name::IdleArrows, "the arrows lead back to the start as drawn"));
    }
    if !audit.arrows_are_clean {
        findings.extend(shifted(&taken.start));
        if let Some(answer) = &answer {
            complete_arrows(&answer_context, &taken, &answer.structure, &mut findings[faults_before..]);
        }
    }
    match (answer, judged) {
        (Some(answer), judged) if audit.arrows_are_clean => {
            let compare = || answer_context.compare(&taken.pushed.product, &answer.structure);
            let mut compared = judged.unwrap_or_else(compare);
            if let Some(drawn) = accepted(&answer_context, &taken, &answer.structure, &compared) {
                taken.pushed.product = drawn;
                compared = answer_context.compare(&taken.pushed.product, &answer.structure);
            }
            let (compared, stated) = judge_answer(&answer_context, &taken, answer.structure, compared, findings);
            audit.compared = Some(compared);
            audit.answer = Some(stated);
        }
        (Some(answer), _) => audit.answer = Some(answer.structure),
        (None, _) if audit.arrows_are_clean && !context.answer_is_elsewhere => {
            add_product_as_correction(audit, &taken, findings);
        }
        (None, _) => {}
    }
    audit.start = Some(taken.start);
    audit.arrows = taken.arrows;
    audit.several = taken.steps;
    audit.pushed = Some(taken.pushed);
    if let Some(step_in_one) = audit.several.first() {
        let span = audit.drawn_arrows.get(step_in_one.arrows.end).map_or(Span::at(0), |arrow| arrow.span);
        let finding = several::finding(audit);
        findings.push(Finding { spot: arrow_spot(context, step, span), ..finding });
    }
}

/// Where the product has impossible electrons, looks for arrows that were left out.
fn complete_arrows(own: &AnswerContext<'_>, taken: &Taken, stated: &Structure, findings: &mut [Finding]) {
    let is_of_electrons = |finding: &&mut Finding| finding.name != Name::SigmaInResonance && finding.slip.is_empty();
    let Some(finding) = findings.iter_mut().find(is_of_electrons) else { return };
    if stated.is_empty() || taken.start.net_charge() != stated.net_charge() {
        return;
    }
    if let Some(completed) = own.shift(&taken.start).complete(&taken.arrows, &taken.pushed.product, stated) {
        correction::completed(finding, &completed, &slips::arrow_missing(&completed).sentence);
    }
}

/// Heads on a bonded atom, which the notation allows and a reader may take for a lone pair.
fn head_findings(start: &Structure, arrows: &[(usize, OpenArrow)], drawn: &[DrawnArrow], findings: &mut Vec<Finding>) {
    for (number, open) in arrows.iter().filter(|(_, open)| open.head_on_bonded_atom) {
        let text = drawn.get(number - 1).map(ToString::to_string).unwrap_or_default();
        if let Place::Bond(a, b) = open.arrow.head {
            let (from, to) = (start.call(a), start.call(b));
            let message = format!(
                "arrow {number} ({text}) ends on {to}, which is bonded to {from} already: it is read as a pi bond {from}-{to}"
            );
            findings.push(Finding::new(Name::AmbiguousHead, message).about(atoms(start, &[open.arrow.head])));
        }
    }
}

/// Of several ways to take the arrows, the one that the stated answer or an option shows; where none is shown, the first,
/// and a finding. With it the comparison, where choosing took one.
fn choose(
    answer_context: &AnswerContext<'_>,
    mut ways: Vec<Taken>,
    shown: Option<&Structure>,
    findings: &mut Vec<Finding>,
) -> (Taken, Option<Compared>) {
    if ways.len() == 1 {
        return (ways.swap_remove(0), None);
    }
    let agrees = shown.and_then(|answer| ways.iter().position(|way| answer_context.shows(answer, way)));
    let agrees = agrees.or_else(|| answer_context.way_of_an_option(&ways));
    // Where the answer shows none of the ways, it is read as meant by the one that it is closest to.
    let mut compared: Vec<Compared> = match (agrees, shown) {
        (None, Some(answer)) => ways.iter().map(|way| answer_context.compare(&way.pushed.product, answer)).collect(),
        _ => Vec::new(),
    };
    let closest = (0..compared.len()).min_by_key(|at| compared[*at].differences.list.len());
    let at = agrees.or(closest).unwrap_or(0);
    let several_forms = ways.iter().any(|way| way.form != ways[0].form);
    let products: Vec<String> = ways.iter().map(|way| smiles::write(&way.pushed.product, Labels::Classes)).collect();
    if several_forms {
        let message =
            format!("the localised forms of the aromatic start lead to different outcomes: {}", products.join(" or "));
        findings.push(Finding::new(Name::UndeterminedForm, message));
    } else if agrees.is_none() {
        let message = format!("the arrows can be read in {} ways, which lead to {}", ways.len(), products.join(" or "));
        findings.push(Finding::new(Name::AmbiguousHead, message));
    }
    let compared = if compared.is_empty() { None } else { Some(compared.swap_remove(at)) };
    (ways.swap_remove(at), compared)
}

/// What to say where not every localised form or reading of an arrow could be tried.
fn passed_limit(start: &Structure, limit: usize) -> Finding {
    let (name, what) = if start.is_delocalised() {
        (Name::UndeterminedForm, "the aromatic start has more localised forms at its arrows")
    } else {
        (Name::AmbiguousHead, "the arrows can be read in more ways")
    };
    Finding::new(name, format!("{what} than the limit `forms` of {limit} lets be tried: the others were left out"))
}

/// Judges the product's electrons and, for resonance, its sigma bonds.
fn judge_product(context: &Context<'_>, task: Task, taken: &Taken, findings: &mut Vec<Finding>) {
    let Taken { start, pushed, .. } = taken;
    let faults = new_faults(start, pushed, &taken.arrows, context.octet);
    tell(findings, &faults, |(atom, fault)| electron_finding(&pushed.product, *atom, *fault, Role::Product));
    if task != Task::Resonance {
        return;
    }
    for change in pushed.bonds.iter().filter(|change| (change.before == 0) != (change.after == 0)) {
        let (a, b) = change.between;
        let verb = if change.before == 0 { "make" } else { "break" };
        let message = format!(
            "the arrows {verb} the sigma bond {}-{}: in resonance only pi and non-bonding electrons move",
            start.call(a),
            start.call(b)
        );
        findings.push(Finding::new(Name::SigmaInResonance, message).about(names(start, &[a, b])));
    }
}

fn is_idle(taken: &Taken) -> bool {
    let Taken { start, pushed, .. } = taken;
    pushed.bonds.iter().all(|change| change.before == change.after)
        && start.atoms().all(|(id, atom)| pushed.product.atom(id).charge == atom.charge)
}

/// Where the answer is missing, the product is what it should say.
fn add_product_as_correction(audit: &StepAudit, taken: &Taken, findings: &mut [Finding]) {
    // Findings of earlier steps have their number already.
    let missing = findings.iter_mut().rfind(|finding| finding.name == Name::MissingField && finding.step == 0);
    if let Some(finding) = missing {
        finding.computed = smiles::write(&taken.pushed.product, Labels::Classes);
        finding.correction = bare_product(&taken.pushed.product, audit.drawn_atoms, audit.start_is_labelled);
    }
}
