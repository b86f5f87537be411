//! The stages of a step whose start and arrows could be read: the arrows on their atoms, the way to take them, the product, the answer.
//!
//! A stage gives back what it worked out; only [`judge`] writes into the audit of the step.

use super::Asked;
use crate::arrows::resolve::{OpenArrow, Resolved, UnknownAtom, resolve};
use crate::arrows::{Arrow, ArrowFault, DrawnArrow, Place};
use crate::bank::{Accept, Task};
use crate::compare::Compared;
use crate::findings::correction::{self, bare_product};
use crate::findings::role::Role;
use crate::findings::rules::accept::drawn_as;
use crate::findings::rules::answer::{AnswerContext, judge_answer, shifted_labels};
use crate::findings::rules::arrows::{atoms, finding as arrow_finding};
use crate::findings::rules::drawing::{Drawn, electron_finding, names};
use crate::findings::rules::several;
use crate::findings::settle::{Settled, Taken, new_faults, passes_limit, settle};
use crate::findings::verdict::{Finding, StepAudit, tell};
use crate::findings::{Context, Name, slips};
use crate::smiles::{self, Labels};
use crate::source::Span;
use crate::structure::Structure;

/// Judges a step whose start and arrows could be read; its arrows as drawn are in the audit already.
pub(super) fn judge(
    asked: Asked<'_>,
    start: Drawn,
    answer: Option<Drawn>,
    audit: &mut StepAudit,
    findings: &mut Vec<Finding>,
) {
    audit.drawn_atoms = start.structure.atom_count();
    let drawn_arrows = std::mem::take(&mut audit.drawn_arrows);
    let resolved = resolve(start.structure, &start.labels, &drawn_arrows);
    let Asked { context, task, step } = asked;
    let own = AnswerContext {
        context,
        task,
        drawing: step.answer.as_ref(),
        role: Role::Answer,
        labels: &start.labels,
        drawn_atoms: audit.drawn_atoms,
        drawn_arrows: &drawn_arrows,
    };
    let stages = Stages { asked, own };
    let stated = answer.map(|drawn| drawn.structure);
    match stages.way(resolved, stated.as_ref(), findings) {
        Way::None { start, arrows } => (audit.start, audit.arrows, audit.answer) = (Some(start), arrows, stated),
        Way::One { mut taken, compared, open } => {
            audit.asked = open;
            audit.arrows_are_clean = stages.product(&taken, stated.as_ref(), findings);
            match stated {
                Some(stated) if audit.arrows_are_clean => {
                    let (compared, stated) = stages.answer(&mut taken, compared, stated, findings);
                    (audit.compared, audit.answer) = (Some(compared), Some(stated));
                }
                Some(stated) => audit.answer = Some(stated),
                None if audit.arrows_are_clean && !context.answer_is_elsewhere => {
                    add_product_as_correction(audit, &taken, findings);
                }
                None => {}
            }
            (audit.start, audit.arrows) = (Some(taken.start), taken.arrows);
            (audit.several, audit.pushed) = (taken.steps, Some(taken.pushed));
        }
    }
    audit.drawn_arrows = drawn_arrows;
    if let Some(first) = audit.several.first() {
        let finding = several::finding(audit);
        findings.push(Finding { spot: asked.spot_of_arrow(&audit.drawn_arrows, first.arrows.end), ..finding });
    }
}

/// The way to take the arrows that is judged.
#[allow(clippy::large_enum_variant, reason = "the large variant is the usual one and is moved once")]
enum Way {
    /// There is none; findings say why.
    None { start: Structure, arrows: Vec<Arrow> },
    /// The one that is judged, with its comparison where choosing took one.
    One {
        taken: Taken,
        compared: Option<Compared>,
        /// The arrows with open heads as they are drawn, where several ways were possible; else none.
        open: Vec<Arrow>,
    },
}

/// One step, stage by stage.
struct Stages<'a> {
    asked: Asked<'a>,
    own: AnswerContext<'a>,
}

impl Stages<'_> {
    /// Which way the arrows are taken.
    fn way(&self, resolved: Resolved, stated: Option<&Structure>, findings: &mut Vec<Finding>) -> Way {
        let Resolved { start, arrows, faults } = resolved;
        if !faults.is_empty() {
            self.tell_unknown(faults, findings);
            findings.extend(self.shifted(&start, stated));
            return Way::None { start, arrows: Vec::new() };
        }
        tell_open_heads(&start, &arrows, self.own.drawn_arrows, findings);
        let forms = self.own.context.settings.limits.forms;
        let too_many_ways = passes_limit(&start, &arrows, forms).then(|| passed_limit(&start, forms));
        let ways = match settle(start, &arrows, self.own.context.octet, forms) {
            Settled::Possible(ways) => ways,
            Settled::Faulty(start, arrows, faults) => {
                self.tell_faults(&start, &arrows, &faults, findings);
                findings.extend(self.shifted(&start, stated));
                return Way::None { start, arrows };
            }
        };
        findings.extend(too_many_ways);
        let as_asked = || arrows.iter().map(|(_, arrow)| arrow.as_asked()).collect();
        let open = if ways.len() > 1 { as_asked() } else { Vec::new() };
        let (taken, compared) = choose(&self.own, ways, stated, findings);
        Way::One { taken, compared, open }
    }

    /// Arrows that name no atom.
    fn tell_unknown(&self, mut unknown: Vec<(usize, Span, UnknownAtom)>, findings: &mut Vec<Finding>) {
        // One wrong label stands at the tail and at the head of one arrow: `2-9 -> 9`.
        unknown.dedup_by(|own, before| (own.0, &own.2) == (before.0, &before.2));
        tell(findings, &unknown, |(number, span, why)| {
            let finding = Finding::new(Name::UnknownAtom, format!("arrow {number}: {why}"));
            Finding { spot: self.asked.arrow_spot(*span), ..finding }
        });
    }

    /// Arrows that have no product.
    fn tell_faults(&self, start: &Structure, arrows: &[Arrow], faults: &[ArrowFault], findings: &mut Vec<Finding>) {
        let drawn = self.own.drawn_arrows;
        tell(findings, faults, |fault| {
            let finding = arrow_finding(start, arrows, drawn, *fault);
            Finding { spot: self.asked.spot_of_arrow(drawn, fault.arrow()), ..finding }
        });
    }

    /// What to say where the arrows lead to the stated answer under other labels.
    fn shifted(&self, start: &Structure, stated: Option<&Structure>) -> Option<Finding> {
        self.own.shift(start).find(stated?).map(|shifted| shifted_labels(&shifted))
    }

    /// Judges the product; whether it can be, so that the answer is compared with it.
    fn product(&self, taken: &Taken, stated: Option<&Structure>, findings: &mut Vec<Finding>) -> bool {
        let before = findings.len();
        judge_product(self.own.context, self.own.task, taken, findings);
        let is_clean = findings.len() == before;
        if is_idle(taken) && !taken.arrows.is_empty() {
            findings.push(Finding::new(Name::IdleArrows, "the arrows lead back to the start as drawn"));
        }
        if !is_clean {
            findings.extend(self.shifted(&taken.start, stated));
            if let Some(stated) = stated {
                complete_arrows(&self.own, taken, stated, &mut findings[before..]);
            }
        }
        is_clean
    }

    /// Compares the stated answer with the product and judges it; gives back the comparison and the answer as it was compared.
    fn answer(
        &self,
        taken: &mut Taken,
        compared: Option<Compared>,
        stated: Structure,
        findings: &mut Vec<Finding>,
    ) -> (Compared, Structure) {
        let mut compared = compared.unwrap_or_else(|| self.own.compare(&taken.pushed.product, &stated));
        if let Some(drawn) = accepted(&self.own, taken, &stated, &compared) {
            taken.pushed.product = drawn;
            compared = self.own.compare(&taken.pushed.product, &stated);
        }
        judge_answer(&self.own, taken, stated, compared, findings)
    }
}

/// The product drawn as the stated answer, where the item takes any contributor and the answer is another one.
fn accepted(own: &AnswerContext<'_>, taken: &Taken, answer: &Structure, compared: &Compared) -> Option<Structure> {
    let is_wanted = own.context.accept == Accept::Contributor && !compared.is_equal();
    is_wanted.then(|| drawn_as(own.context, &taken.pushed.product, answer, own.labels))?
}

/// Where the product has impossible electrons, looks for arrows that were left out.
fn complete_arrows(own: &AnswerContext<'_>, taken: &Taken, stated: &Structure, findings: &mut [Finding]) {
    let is_of_electrons = |finding: &&mut Finding| finding.name != Name::SigmaInResonance && finding.slips.is_empty();
    let Some(finding) = findings.iter_mut().find(is_of_electrons) else { return };
    if stated.is_empty() || taken.start.net_charge() != stated.net_charge() {
        return;
    }
    let one_arrow = slips::OneArrow::new(own.shift(&taken.start), &taken.arrows, &taken.pushed.product, stated);
    if let Some(completed) = one_arrow.complete() {
        correction::completed(finding, &completed, slips::arrow_missing(&completed).sentence);
    }
}

/// Heads on a bonded atom, which the notation allows and a reader may take for a lone pair.
fn tell_open_heads(
    start: &Structure,
    arrows: &[(usize, OpenArrow)],
    drawn: &[DrawnArrow],
    findings: &mut Vec<Finding>,
) {
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
        finding.correction = bare_product(audit, &taken.start, &taken.pushed.product);
    }
}
