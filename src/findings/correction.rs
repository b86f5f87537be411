//! Corrections: what a field should say, how sure that is, and why. Data only; `keyassay amend` applies them.

mod document;
mod text;

use crate::arrows::infer::drawn;
use crate::arrows::resolve::{Resolved, resolve};
use crate::arrows::{Arrow, DrawnArrow, Moves, notation};
use crate::bank::amend::{Place, replacement};
use crate::bank::{Arrows, Chunk, Drawing, Item, Step, fields};
use crate::compare::{Compared, arrows_between};
use crate::findings::catalogue::{Name, Severity};
use crate::findings::fix::{Correction, Grade, StepRow, Target, steps_text};
use crate::findings::slips::{Completed, Explanation, OneArrow, Shift, Slip};
use crate::findings::verdict::{Doubt, Finding, StepAudit};
use crate::smiles::{self, Labels};
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Element, Structure};

use text::product_text;
pub(super) use text::{bare_product, folded};

/// The correction where the product of the author's arrows cannot be and one or two more arrows lead to the stated answer: the
/// arrows are wrong, whatever the answer.
pub(super) fn completed(finding: &mut Finding, completed: &Completed, words: String) {
    finding.explained = words;
    finding.slips = Slip::ArrowMissing.into();
    let proposed = notation::write(&completed.arrows);
    finding.correction.clone_from(&proposed);
    let why = "the arrows as they are give impossible electrons; with what was left out they lead to the stated answer";
    finding.fix = Some(Box::new(Correction::new(Target::Arrows, proposed, Grade::Likely, why)));
}

/// A mismatch that wants a correction.
pub(super) struct Mismatch<'a> {
    /// The start in the form that the arrows are taken on.
    pub start: &'a Structure,
    /// The arrows on it.
    pub arrows: &'a [Arrow],
    /// The recomputed product.
    pub product: &'a Structure,
    /// The stated answer.
    pub stated: &'a Structure,
    /// How they compare.
    pub compared: &'a Compared,
    /// What is needed to try other arrows.
    pub shift: Shift<'a>,
    /// What one arrow more or another one leads to.
    pub one_more: &'a OneArrow<'a>,
    /// Whether the item leaves species out on purpose.
    pub omits: bool,
}

/// Other arrows, and beside them what the answer should say if the arrows are meant.
fn either(arrows: &[DrawnArrow], grade: Grade, why: &'static str, instead: Correction) -> Correction {
    let instead = Some(Box::new(instead));
    Correction { instead, ..Correction::new(Target::Arrows, notation::write(arrows), grade, why) }
}

impl Mismatch<'_> {
    /// What should be corrected. `as_drawn` is the text of the product with labels and all.
    pub fn correction(&self, slip: Option<&Explanation>, as_drawn: &str) -> Correction {
        let answer = |grade, why| Correction::new(Target::Answer, product_text(self, as_drawn), grade, why);
        let in_answer = slip.filter(|slip| slip.lies_in_the_answer());
        if self.compared.differences.list.is_empty() {
            // Arrows say nothing about marks where none is.
            return answer(Grade::Likely, MARKS);
        }
        if self.is_idle() {
            // Whoever drew arrows meant that something happens.
            let arrows = self.inferred().filter(|_| self.is_whole());
            return match arrows {
                Some(arrows) => either(&arrows, Grade::None, LEADS, answer(Grade::None, UNCLEAR)),
                None => answer(Grade::None, UNCLEAR),
            };
        }
        if let Some(further) = slip.and_then(|slip| self.further(slip, as_drawn, &answer)) {
            return further;
        }
        if !self.is_balanced() {
            // No arrows lead to other atoms or to another charge.
            return match (slip, in_answer) {
                (_, Some(slip)) if slip.count() == 1 || self.is_whole() => answer(Grade::Certain, CLEAN),
                (Some(_), _) => answer(Grade::Likely, UNBALANCED),
                (None, _) => answer(Grade::None, UNCLEAR),
            };
        }
        if !self.is_whole() {
            // Other arrows are not looked for among answers that leave species out.
            return answer(if in_answer.is_some() { Grade::Likely } else { Grade::None }, UNCLEAR);
        }
        if let Some(arrows) = self.one_arrow(slip) {
            return either(&arrows, Grade::None, EQUALLY, answer(Grade::None, EQUALLY));
        }
        match (slip, in_answer) {
            (_, Some(slip)) if slip.count() == 1 => answer(Grade::Certain, CLEAN),
            (_, Some(_)) => answer(Grade::Likely, TWICE),
            (Some(Explanation { shifted: Some(shifted), .. }), _) => {
                either(&shifted.arrows, Grade::Likely, LEADS, answer(Grade::None, UNCLEAR))
            }
            _ => match slip.and_then(|slip| self.arrows_of(slip)).or_else(|| self.inferred()) {
                Some(arrows) => either(&arrows, Grade::None, LEADS, answer(Grade::None, UNCLEAR)),
                None => answer(Grade::None, UNCLEAR),
            },
        }
    }

    /// The corrections where the answer is the product of a further step, or another drawing of the product: the product as answer,
    /// and the arrows with those of the further step where all of them are one step.
    fn further(
        &self,
        slip: &Explanation,
        as_drawn: &str,
        answer: &impl Fn(Grade, &'static str) -> Correction,
    ) -> Option<Correction> {
        let is = |own: Slip| slip.slips.contains(&own);
        if is(Slip::AnswerNotRedrawn) {
            // A proton that passes back leads to the start, too.
            return slip.proton.map(|_| answer(Grade::Likely, CLEAN));
        }
        if let Some(proton) = slip.proton {
            let arrows = self.shift.with_proton(self.product, proton, self.stated);
            let sequence = self.sequence(slip, as_drawn).map(Box::new);
            let answer = Correction { instead: sequence, ..answer(Grade::None, FURTHER) };
            return Some(match arrows.filter(|_| self.is_whole()) {
                Some(arrows) => either(&arrows, Grade::None, FURTHER, answer),
                None => answer,
            });
        }
        if is(Slip::Tautomer) {
            return Some(answer(Grade::Likely, TAUTOMER));
        }
        if !is(Slip::OtherContributor) {
            return None;
        }
        Some(match self.one_arrow(Some(slip)).filter(|_| self.is_whole()) {
            Some(arrows) => either(&arrows, Grade::None, EQUALLY, answer(Grade::None, EQUALLY)),
            None => answer(Grade::None, CONTRIBUTOR),
        })
    }

    /// Arrows that lead to the stated answer and are the author's but for one that is added, changed or taken out.
    pub fn one_arrow(&self, slip: Option<&Explanation>) -> Option<Vec<DrawnArrow>> {
        let of_slip = slip.filter(|slip| slip.slips.len() == 1 && slip.shifted.is_none());
        if let Some(completed) = of_slip.and_then(|slip| slip.completed.as_ref()) {
            return (completed.added.len() == 1).then(|| completed.arrows.clone());
        }
        // What was not redrawn is led to by no arrows that do anything.
        if slip.is_some_and(|slip| slip.slips == [Slip::AnswerNotRedrawn]) {
            return None;
        }
        if let Some(arrows) = of_slip.and_then(|slip| self.arrows_of(slip)) {
            return Some(arrows);
        }
        let other = self.one_more.added().or_else(|| self.one_more.changed()).map(<[_]>::to_vec);
        // Labels that are all one too high or too low are one slip, too.
        let is_shifted = || slip.is_some_and(|slip| slip.shifted.is_some());
        other.or_else(|| if is_shifted() { None } else { Some(self.shift.find(self.stated)?.arrows) })
    }

    /// The sequence of the author's step and the further one. An answer that leaves species out would leave the further step without
    /// them.
    fn sequence(&self, slip: &Explanation, as_drawn: &str) -> Option<Correction> {
        let further = slip.further.clone().filter(|_| self.is_whole() && slip.slips.len() == 1)?;
        let own = StepRow { start: None, arrows: notation::write(self.shift.arrows), answer: as_drawn.to_owned() };
        let last = StepRow { start: None, arrows: further, answer: smiles::write(self.stated, Labels::Classes) };
        Some(Correction::new(Target::Steps, steps_text(&[own, last]), Grade::None, FURTHER))
    }

    /// Whether the arrows lead back to the start.
    fn is_idle(&self) -> bool {
        let order =
            |(a, b): (AtomId, AtomId)| self.product.bond_between(a, b).map_or(0, |bond| self.product.bond(bond).order);
        self.start.bond_count() == self.product.bond_count()
            && self.start.atoms().all(|(id, atom)| self.product.atom(id).charge == atom.charge)
            && self.start.bonds().all(|(_, a, b, bond)| order((a, b)) == bond.order)
    }

    /// Whether the answer leaves no species out. A free proton that it draws elsewhere is not left out.
    fn is_whole(&self) -> bool {
        self.compared.differences.omitted.is_empty() || self.has_all()
    }

    /// Whether the stated answer has the charge and as many atoms as the start.
    fn has_all(&self) -> bool {
        self.start.net_charge() == self.stated.net_charge() && atoms_of(self.start) == atoms_of(self.stated)
    }

    /// Whether atoms and charge are those of the start, so that arrows could lead to the stated answer; species that it leaves out
    /// are counted as if it had them.
    fn is_balanced(&self) -> bool {
        let omitted = || self.compared.differences.omitted.iter().flatten().map(|atom| self.product.atom(*atom));
        let charge: i64 = omitted().map(|atom| i64::from(atom.charge)).sum();
        let atoms: i64 = omitted().map(|atom| i64::from(atom.hydrogens) + 1).sum();
        self.has_all()
            || self.start.net_charge() == self.stated.net_charge() + charge
                && atoms_of(self.start) == atoms_of(self.stated) + atoms
    }

    /// The arrows of a slip, as written where they are as written.
    fn arrows_of(&self, slip: &Explanation) -> Option<Vec<DrawnArrow>> {
        if let Some(completed) = &slip.completed {
            return Some(completed.arrows.clone());
        }
        let arrows = slip.arrows.as_ref()?;
        let as_written = |arrow: &Arrow| {
            let at = self.arrows.iter().position(|own| own == arrow)?;
            self.shift.arrows.get(at).cloned()
        };
        let name = |arrow: &Arrow| as_written(arrow).or_else(|| drawn(self.start, &[*arrow]).ok()?.pop());
        let named: Vec<DrawnArrow> = arrows.iter().map(name).collect::<Option<_>>()?;
        self.can_be_meant(named)
    }

    /// The fewest arrows from the start to the stated answer; of several ways the one that keeps most of the author's. Arrows that
    /// keep none of them, or that move a hydrogen which the author's leave alone, are another question.
    fn inferred(&self) -> Option<Vec<DrawnArrow>> {
        if self.makes_radicals() {
            return None;
        }
        let limit = self.shift.limits.search_steps / 10;
        let start = self.shift.as_drawn();
        let found = arrows_between(&start, self.stated, self.shift.labels, limit).ok()?;
        let few = found.ways.iter().filter(|way| way.len() <= MORE_ARROWS + self.arrows.len());
        let drawn = few.filter_map(|way| drawn(&found.start, way).ok());
        let kept = |way: &Vec<DrawnArrow>| way.iter().filter(|arrow| self.has_drawn(arrow)).count();
        let best = drawn.filter(|way| kept(way) > 0 && !self.moves_other_hydrogens(way)).max_by_key(|way| kept(way))?;
        self.can_be_meant(best)
    }

    /// Whether the author drew an arrow.
    fn has_drawn(&self, arrow: &DrawnArrow) -> bool {
        self.shift.arrows.iter().any(|own| own.to_string() == arrow.to_string())
    }

    /// Whether arrows move a hydrogen that the author's do not.
    fn moves_other_hydrogens(&self, arrows: &[DrawnArrow]) -> bool {
        let own = resolve(self.shift.as_drawn().into_owned(), self.shift.labels, self.shift.arrows);
        let other = resolve(self.shift.as_drawn().into_owned(), self.shift.labels, arrows);
        let carriers = |resolved: &Resolved| {
            let touched =
                resolved.arrows.iter().flat_map(|(_, open)| open.arrow.tail.atoms().chain(open.arrow.head.atoms()));
            let hydrogens = touched.filter(|atom| resolved.start.atom(*atom).element == Element::HYDROGEN);
            let carrier = |atom: AtomId| resolved.start.neighbours(atom).next().map(|(next, _)| next);
            hydrogens.map(carrier).collect::<Vec<_>>()
        };
        let known = carriers(&own);
        carriers(&other).iter().any(|carrier| !known.contains(carrier))
    }

    /// Arrows that lead to the stated answer as the audit reads them.
    fn can_be_meant(&self, arrows: Vec<DrawnArrow>) -> Option<Vec<DrawnArrow>> {
        self.shift.lead_to(&self.shift.as_drawn(), &arrows, self.stated).then_some(arrows)
    }

    /// Whether the stated answer has unpaired electrons where full-headed arrows make none: no arrows of the kind drawn
    /// lead there.
    fn makes_radicals(&self) -> bool {
        let odd = |structure: &Structure| {
            let is_odd = |id: &AtomId| Electrons::of(structure, *id).non_bonding().is_some_and(|n| n % 2 != 0);
            structure.atom_ids().filter(is_odd).count()
        };
        self.arrows.iter().all(|arrow| arrow.moves == Moves::Pair) && odd(self.stated) > odd(self.start)
    }
}

/// Atoms, hydrogens among them.
fn atoms_of(structure: &Structure) -> i64 {
    structure.atoms().map(|(_, atom)| i64::from(atom.hydrogens) + 1).sum()
}

/// Why an answer is certain.
const CLEAN: &str = "the arrows are clean and the slip lies in the answer";
/// Why the answer is wrong, though not by one slip.
const UNBALANCED: &str = "no arrows lead to the stated answer; this is what the arrows give as they are";
/// Why an answer with two slips is likely.
const TWICE: &str = "the arrows are clean, and two slips in drawing their product give the stated answer";
/// Why an answer whose marks alone differ is likely.
const MARKS: &str = "the arrows keep the stereochemistry of the start where they do not act";
/// Why nothing has a grade where a proton has moved.
const FURTHER: &str =
    "the answer is what a further step gives: the product of the arrows, or a sequence with that step, can be meant";
/// Why the answer of a resonance item in which a hydrogen moved is likely wrong.
const TAUTOMER: &str = "in resonance no atom moves: this is what the arrows give";
/// Why another contributor is no certain fault.
const CONTRIBUTOR: &str = "the answer is another contributor of what the arrows give: this is the one that they draw";
/// Why neither is preferred.
const EQUALLY: &str =
    "one arrow more or less, or another one, leads to the stated answer: arrows and answer are equally suspect";
/// Why other arrows are shown.
const LEADS: &str = "these arrows lead to the stated answer, which can be meant";
/// Why a product is shown that is no correction.
const UNCLEAR: &str = "the recomputed product; which of arrows and answer is meant is not clear";
/// Why a key is certain.
pub(super) const IS_PRODUCT: &str = "the arrows are clean, and this option is their product";
/// Why nothing has a grade where the start is drawn wrongly.
const IMPOSSIBLE_START: &str = "the start is drawn with impossible electrons: mend it first, then look at this again";
/// Why nothing has a grade where another answer would break the sequence.
const AGREES: &str = "the next step goes on from the answer as stated: with another one it is wrong, too, or this step is wrong otherwise";
/// More arrows than that beyond those drawn are another question.
const MORE_ARROWS: usize = 3;

/// Completes the corrections of an item: what its fields say now, and what later steps make of a changed answer.
pub(super) fn complete(chunk: &Chunk, item: &Item, steps: &[StepAudit], findings: &mut [Finding]) {
    if findings.iter().all(|finding| finding.correction.is_empty()) {
        return;
    }
    let audit = |number: u32| steps.iter().find(|audit| audit.number == number);
    let grades: Vec<(u32, Grade)> =
        item.steps.iter().map(|step| (step.number, grade_of_product(findings, audit(step.number)))).collect();
    let grade_of =
        |number: u32| grades.iter().find(|(own, _)| *own == number).map_or(Grade::Likely, |(_, grade)| *grade);
    let is_impossible = steps.iter().any(|audit| audit.doubt == Some(Doubt::Impossible));
    for finding in findings.iter_mut().filter(|finding| !finding.correction.is_empty()) {
        if finding.fix.is_none() {
            finding.fix = plain(item, finding, grade_of(finding.step)).map(Box::new);
        }
        let Some(fix) = &mut finding.fix else { continue };
        let Some(step) = item.steps.iter().find(|step| step.number == finding.step) else { continue };
        fix.complete(chunk, item, steps, step);
        if is_impossible {
            fix.leave_ungraded(IMPOSSIBLE_START);
        }
        let next = audit(step.number + 1).filter(|_| step.number > 0);
        if fix.field == Target::Answer && next.is_some_and(|own| own.doubt == Some(Doubt::RestsOnStated)) {
            fix.leave_ungraded(AGREES);
        }
        if step.element().is_none() {
            finding.correction.clone_from(&fix.proposed);
        }
    }
}

impl Correction {
    /// Takes away its grade, and that of what is proposed instead, for good.
    fn leave_ungraded(&mut self, why: &str) {
        let mut next = Some(self);
        while let Some(own) = next {
            (own.grade, own.is_in_doubt) = (Grade::None, true);
            why.clone_into(&mut own.why);
            next = own.instead.as_deref_mut();
        }
    }

    fn complete(&mut self, chunk: &Chunk, item: &Item, steps: &[StepAudit], step: &Step) {
        self.stated = stated(item, step, self.field);
        if self.field == Target::Answer {
            keep_the_sequence(item, steps, step.number, self);
        }
        if step.element().is_some() || (self.field == Target::Answer && document::is_cml_in_a_field(item, step)) {
            self.as_cml(chunk, steps, step);
        }
        // Sequences are written as the text fields of a bank, and a step of a sequence is none of its own.
        let is_plain = || item.steps.len() == 1 && step.element().is_none() && !document::is_cml_in_a_field(item, step);
        self.instead.take_if(|own| own.field == Target::Steps && !is_plain());
        if let Some(instead) = &mut self.instead {
            instead.complete(chunk, item, steps, step);
        }
    }

    /// Rewrites a correction as CML, where the bank has CML: what cannot be written is for a person to look at.
    fn as_cml(&mut self, chunk: &Chunk, steps: &[StepAudit], step: &Step) {
        let audit = steps.iter().find(|audit| audit.number == step.number);
        let rewritten = match (self.field, audit) {
            (Target::Answer, Some(audit)) if step.element().is_some() => document::products(chunk, step, audit),
            (Target::Answer, Some(audit)) => document::field_molecule(audit)
                .map(|proposed| document::Rewritten { stated: self.stated.clone(), proposed }),
            (Target::Arrows, _) => document::links(chunk, step, &self.proposed),
            _ => None,
        };
        match rewritten {
            Some(document::Rewritten { stated, proposed }) => {
                (self.stated, self.proposed, self.is_markup) = (stated, proposed, true);
            }
            None => self.grade = Grade::None,
        }
    }
}

/// Finds the places in the file that the corrections of an item write over, as `keyassay amend` finds them.
pub fn find_places(chunk: &Chunk, item: &Item, findings: &mut [Finding]) {
    for finding in findings {
        let mut next = finding.fix.as_deref_mut();
        while let Some(fix) = next {
            fix.replacement = fields::Name::from_text(fix.field.name()).and_then(|field| {
                let place = Place { step: finding.step, field, stated: &fix.stated };
                replacement(chunk, item, place, &fix.proposed).ok()
            });
            next = fix.instead.as_deref_mut();
        }
    }
}

/// Makes a mismatch one whose answer belongs to another item: of whatever else would explain it nothing is left.
pub(super) fn answer_of_another_item(finding: &mut Finding, whose: &str) {
    whose.clone_into(&mut finding.explained);
    finding.slips = Slip::AnswerOfAnotherItem.into();
    let Some(fix) = &mut finding.fix else { return };
    if let Some(instead) = fix.instead.take() {
        *fix = instead;
    }
    if fix.grade == Grade::None {
        // In a sequence nothing is certain that a later step goes on from.
        fix.grade = if finding.step == 0 { Grade::Certain } else { Grade::Likely };
    }
    fix.why = format!("the arrows are clean and the stated answer is {whose}");
    // Where the bank is a document, the finding shows the product and the correction its element.
    finding.correction.clone_from(if fix.is_markup { &finding.computed } else { &fix.proposed });
}

/// Corrections of findings other than mismatches.
fn plain(item: &Item, finding: &Finding, unanswered: Grade) -> Option<Correction> {
    let proposed = finding.correction.clone();
    match finding.name {
        Name::MissingField if item.options.is_empty() => {
            let why = "the answer is missing, and the arrows are clean";
            Some(Correction::new(Target::Answer, proposed, unanswered, why))
        }
        Name::MissingField => Some(Correction::new(Target::Key, proposed, Grade::Certain, IS_PRODUCT)),
        Name::ShiftedLabels => {
            let why = "these arrows lead to the stated answer: every label is moved by one";
            Some(Correction::new(Target::Arrows, proposed, Grade::Likely, why))
        }
        _ => None,
    }
}

/// How sure the product of clean arrows is where the answer is missing: a mark at an atom that arrows touch is for a person to
/// draw, and an item with a warning for a person to look at.
fn grade_of_product(findings: &[Finding], audit: Option<&StepAudit>) -> Grade {
    let has_marks = audit.is_none_or(|audit| audit.stereo_not_judged > 0);
    let is_warned = findings.iter().any(|finding| finding.severity == Severity::Warning);
    if has_marks || is_warned { Grade::Likely } else { Grade::Certain }
}

/// What a field says now.
fn stated(item: &Item, step: &Step, field: Target) -> String {
    match field {
        Target::Key => item.key.as_ref().map(|field| field.text.clone()).unwrap_or_default(),
        Target::Answer => match &step.answer {
            Some(Drawing::Text(field)) => field.text.clone(),
            Some(Drawing::Read(read)) => smiles::write(&read.structure, Labels::Classes),
            None => String::new(),
        },
        Target::Steps => String::new(),
        Target::Arrows => match &step.arrows {
            Some(Arrows::Text(field)) => field.text.clone(),
            Some(Arrows::Read { arrows, .. }) => notation::write(arrows),
            None => String::new(),
        },
    }
}

/// A step that redraws no start goes on from the answer before it, by its labels or by the order of its atoms: a changed answer keeps the
/// numbers of the old one.
fn keep_the_sequence(item: &Item, steps: &[StepAudit], number: u32, fix: &mut Correction) {
    let goes_on = item.steps.iter().any(|step| number > 0 && step.number == number + 1 && step.start.is_none());
    if !goes_on {
        return;
    }
    let own = steps.iter().find(|audit| audit.number == number);
    match own.and_then(text::with_old_numbers) {
        Some(text) => fix.proposed = text,
        None => fix.grade = Grade::None,
    }
}
