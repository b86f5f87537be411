//! Findings about the stated answer.

mod meant;
mod words;

use crate::arrows::{DrawnArrow, notation};
use crate::bank::{Drawing, Task};
use crate::compare::kekule::{OtherForm, other_form};
use crate::compare::stereo::{StereoChange, StereoDifference, only_omitted};
use crate::compare::{
    Agreement, Compared, Difference, Labelled, Search, compare, correspondence, left_out, may_have_same_atoms,
    same_drawing,
};
use crate::findings::correction::Mismatch;
use crate::findings::role::Role;
use crate::findings::rules::drawing::name;
use crate::findings::rules::stereo::{Marks, Outcome};
use crate::findings::rules::unpaired::judge_stray;
use crate::findings::settle::Taken;
use crate::findings::slips::{self, Case, Explanation, OneArrow, Shift, Shifted};
use crate::findings::{Context, Finding, Name};
use crate::smiles::{self, Labels};
use crate::source::signed;
use crate::structure::electrons::{judge, unpaired};
use crate::structure::{Atom, AtomId, Element, LabelIndex, Structure};
pub(crate) use meant::arrows_meant;
use smallvec::SmallVec;
use std::borrow::Cow;
use std::cell::{Cell, OnceCell};
use std::fmt::Write as _;
use words::{NAMED, add_difference_words, add_listed_words};
pub(crate) use words::{difference_words, labelled_like, species_words};

/// What the judgement of one answer needs.
pub(crate) struct AnswerContext<'a> {
    pub(crate) context: &'a Context<'a>,
    /// What the item asks for.
    pub(crate) task: Task,
    /// Where the answer is drawn.
    pub(crate) drawing: Option<&'a Drawing>,
    /// Whether it is the stated answer or an option.
    pub(crate) role: Role,
    /// Labels of the start.
    pub(crate) labels: &'a LabelIndex,
    /// Atoms of the start that its bank draws.
    pub(crate) drawn_atoms: usize,
    /// The arrows as written.
    pub(crate) drawn_arrows: &'a [DrawnArrow],
}

/// Atoms that a finding lists.
const LISTED: usize = 64;

impl AnswerContext<'_> {
    fn limit(&self) -> u64 {
        self.context.settings.limits.search_steps
    }

    /// Compares an answer with the product of one way to take the arrows.
    pub(crate) fn compare(&self, product: &Structure, answer: &Structure) -> Compared {
        compare(product, answer, self.labels, self.limit())
    }

    /// Whether a drawing is the product of one way to take the arrows.
    pub(crate) fn shows(&self, drawing: &Structure, way: &Taken) -> bool {
        let product = &way.pushed.product;
        left_out(product, drawing, self.labels, self.limit()).is_some()
            || self.context.any_kekule_form && other_form(product, drawing, self.labels, self.limit()).is_some()
    }

    /// Of several ways, the first that an option shows, the keyed one before the others.
    pub(crate) fn way_of_an_option(&self, ways: &[Taken]) -> Option<usize> {
        let mut options = self.context.options.iter();
        options.find_map(|option| ways.iter().position(|way| self.shows(option, way)))
    }

    /// What is needed to try the arrows under other labels.
    pub(crate) fn shift<'s>(&'s self, start: &'s Structure) -> Shift<'s> {
        Shift {
            start,
            drawn_atoms: self.drawn_atoms,
            labels: self.labels,
            arrows: self.drawn_arrows,
            task: self.task,
            octet: self.context.octet,
            limits: &self.context.settings.limits,
        }
    }

    /// Whether two structures are the same drawing but for labels.
    pub(crate) fn same(&self, a: &Structure, b: &Structure) -> bool {
        same_drawing(a, b, self.limit()) == Some(true)
    }

    /// The stereo marks of a product and a stated drawing.
    pub(crate) fn marks<'s>(&'s self, taken: &'s Taken, product: &'s Structure, stated: &'s Structure) -> Marks<'s> {
        let (start, arrows, labels) = (&taken.start, &taken.arrows, self.labels);
        Marks { start, arrows, product, stated, labels, limit: self.limit() }
    }

    /// Whether a stated drawing is the product under other labels, its stereo marks as well.
    pub(crate) fn is_relabelled(&self, taken: &Taken, product: &Structure, stated: &Structure) -> bool {
        if !may_have_same_atoms(product, stated) {
            return false;
        }
        // Labels do not count, so that they fix nothing.
        let none = LabelIndex::default();
        let (first, stated) = match correspondence(product, stated, self.limit()) {
            Search::Found(first) => (first, Cow::Borrowed(stated)),
            _ if !self.context.any_kekule_form => return false,
            _ => match other_form(product, stated, &none, self.limit()) {
                Some(OtherForm { compared, recast }) if compared.differences.omitted.is_empty() => {
                    (compared.mapping, Cow::Owned(recast))
                }
                _ => return false,
            },
        };
        let marks = Marks { labels: &none, ..self.marks(taken, product, &stated) };
        !marks.are_drawn()
            || match marks.compare(Labelled::Not, &first) {
                Outcome::Alike(_) => true,
                Outcome::Differing(_, found) => only_omitted(&found),
                Outcome::Undecided => false,
            }
    }
}

impl AnswerContext<'_> {
    /// Where an answer differs by Kekulé forms of rings only: explains it by these and, where they are no difference, says so,
    /// puts its rings into the form of the product, and gives back the answer as it is drawn.
    fn allow_other_forms(
        &self,
        taken: &Taken,
        answer: &mut Structure,
        compared: &mut Compared,
        findings: &mut Vec<Finding>,
    ) -> Option<Structure> {
        if compared.agreement != Agreement::Different || compared.other_form || !compared.may_be_other_form() {
            return None;
        }
        let product = &taken.pushed.product;
        let other = other_form(product, answer, self.labels, self.limit())?;
        if !self.context.any_kekule_form {
            *compared = other.compared;
            return None;
        }
        *compared = other.as_equal();
        findings.push(self.other_kekule_form(product, answer, &other));
        Some(std::mem::replace(answer, other.recast))
    }

    fn other_kekule_form(&self, product: &Structure, answer: &Structure, other: &OtherForm) -> Finding {
        let ring = other.atoms();
        let atoms: Vec<String> = ring.iter().take(LISTED).map(|atom| name(product, *atom)).collect();
        let called: Vec<String> = ring.iter().take(LISTED).map(|atom| product.call(*atom)).collect();
        let message = format!(
            "{} draws the delocalised ring of {} in its other Kekul\u{e9} form, which is the same compound",
            self.role.words(),
            called.join(", ")
        );
        Finding {
            computed: smiles::write(product, Labels::Classes),
            stated: labelled_like(product, answer, &other.compared.mapping),
            ..Finding::new(Name::OtherKekuleForm, message).about(atoms)
        }
    }
}

/// Judges an answer that has been compared; gives back the comparison and the answer in the form it was compared in.
pub(crate) fn judge_answer(
    own: &AnswerContext<'_>,
    taken: &Taken,
    mut answer: Structure,
    mut compared: Compared,
    findings: &mut Vec<Finding>,
) -> (Compared, Structure) {
    let as_drawn = own.allow_other_forms(taken, &mut answer, &mut compared, findings);
    own.marks(taken, &taken.pushed.product, &answer).add_to(&mut compared);
    let (product, stated) = match &compared.forms {
        Some(forms) => (&forms.0, Cow::Borrowed(&forms.1)),
        None => (&taken.pushed.product, Cow::Owned(answer)),
    };
    let sides = Sides { own, taken, product, stated: &stated, compared: &compared, written: OnceCell::new() };
    match compared.agreement {
        Agreement::Equal => sides.equal(findings),
        Agreement::Undecided => {
            let message = format!(
                "whether {} is the product could not be decided within {} search steps; labels on its atoms would decide it",
                own.role.words(),
                own.limit()
            );
            findings.push(sides.with_smiles(Finding::new(Name::Undecided, message)));
        }
        Agreement::Different => sides.different(findings),
    }
    let stated = as_drawn.unwrap_or_else(|| stated.into_owned());
    (compared, stated)
}

/// What to say where start and product are the same drawing but for labels, and the answer has none.
pub(crate) fn indistinct(role: Role) -> Finding {
    let message = format!(
        "start and product are the same drawing but for labels, and {} has none: it cannot be told from an answer that was \
         never drawn",
        role.words()
    );
    Finding::new(Name::IndistinctAnswer, message)
}

struct Sides<'a> {
    own: &'a AnswerContext<'a>,
    taken: &'a Taken,
    product: &'a Structure,
    stated: &'a Structure,
    compared: &'a Compared,
    /// Product and stated answer as findings show them, once one does.
    written: OnceCell<(String, String)>,
}

impl Sides<'_> {
    fn equal(&self, findings: &mut Vec<Finding>) {
        self.omitted(findings);
        self.stereo(findings);
        let unlabelled = self.compared.labelled == Labelled::Not;
        if unlabelled && !self.taken.arrows.is_empty() && self.own.same(&self.taken.start, self.product) {
            findings.push(indistinct(self.own.role));
        }
    }

    /// Names the species left out, but for those that the item leaves out on purpose.
    fn omitted(&self, findings: &mut Vec<Finding>) {
        let omitted = &self.compared.differences.omitted;
        if omitted.is_empty() {
            return;
        }
        let unexcused = crate::findings::rules::omits::unexcused(self.own.context.omits, self.product, omitted);
        if unexcused.is_empty() {
            return;
        }
        let atoms = unexcused.iter().flatten().take(64).map(|atom| name(self.product, *atom)).collect();
        let message = format!("{} leaves out {}", self.own.role.words(), species_words(self.product, &unexcused));
        findings.push(self.with_smiles(Finding::new(Name::OmittedSpecies, message).about(atoms)));
    }

    fn different(&self, findings: &mut Vec<Finding>) {
        let labelled = self.compared.labelled != Labelled::Not;
        let start_is_product = || self.own.same(&self.taken.start, self.product);
        // Sums mostly tell that it is not relabelled; that the arrows change nothing takes a search.
        if labelled && self.own.is_relabelled(self.taken, self.product, self.stated) && !start_is_product() {
            let message = format!(
                "{} is the recomputed product, but numbers its atoms otherwise than the start",
                self.own.role.words()
            );
            findings
                .push(self.with_smiles(Finding::new(Name::RelabelledAnswer, message).about(self.differing_atoms())));
            return;
        }
        self.judge_stated_electrons(findings);
        let case = self.case();
        let shift = self.own.shift(&self.taken.start);
        let one_arrow = OneArrow::new(shift, case.arrows, case.product, case.stated);
        let slip = match self.compared.differences.list.as_slice() {
            // Slips are looked for in what electrons and atoms say.
            [] => None,
            _ => slips::find(&case, &shift, &one_arrow),
        };
        let slip = slip.map(|slip| match self.left_out_words() {
            Some(words) => slip.leaving_out(&words),
            None => slip,
        });
        let mut mismatch = self.mismatch(slip.as_ref(), &one_arrow);
        if slip.is_none() && case.left.get() == 0 {
            let limit = self.own.context.settings.limits.slip_atoms;
            let _ = write!(mismatch.what, "; the search for a slip met its limit `slip-atoms` of {limit}");
        }
        findings.push(mismatch);
        self.charge(findings);
        self.atoms(findings);
        self.bystanders(findings);
        self.stereo(findings);
        if self.is_start(slip.as_ref()) {
            let message = "the stated answer is the start as it was before the arrows";
            findings.push(self.with_smiles(Finding::new(Name::AnswerIsStart, message)));
        }
        findings.extend(slip.and_then(|slip| slip.shifted).map(|shifted| shifted_labels(&shifted)));
    }

    /// The species that the answer leaves out and that the item does not allow it to leave out.
    fn left_out_words(&self) -> Option<String> {
        let omitted = &self.compared.differences.omitted;
        // Without a correspondence that fits, a species may have no partner and be drawn all the same.
        let atoms = |of: &Structure| of.atoms().map(|(_, atom)| usize::from(atom.hydrogens) + 1).sum::<usize>();
        if omitted.is_empty() || atoms(self.stated) >= atoms(&self.taken.start) {
            return None;
        }
        let unexcused = crate::findings::rules::omits::unexcused(self.own.context.omits, self.product, omitted);
        (!unexcused.is_empty()).then(|| species_words(self.product, &unexcused))
    }

    /// Electrons of the answer, but for faults that start or product show at the same atom.
    fn judge_stated_electrons(&self, findings: &mut Vec<Finding>) {
        let octet = self.own.context.octet;
        let known = |atom: AtomId| {
            self.compared.mapping.computed(atom).is_some_and(|computed| judge(self.product, computed, octet).is_some())
        };
        let reader = self.own.context.reader();
        let odd = reader.judge_electrons(self.stated, self.own.drawing, self.own.role, known, findings);
        // One unpaired electron has none to be paired with.
        if let (2.., Some(drawing)) = (odd, self.own.drawing) {
            // What the product has too, the start has shown or the arrows have made.
            let known = |atom: AtomId| {
                let computed = self.compared.mapping.computed(atom);
                computed.is_some_and(|atom| self.is_touched(atom) || unpaired(self.product, atom) > 0)
            };
            judge_stray(&reader, drawing, self.stated, self.own.role, &known, findings);
        }
    }

    fn mismatch(&self, slip: Option<&Explanation>, one_arrow: &OneArrow<'_>) -> Finding {
        // Room for what most mismatches take.
        let mut message = String::with_capacity(384);
        message.push_str("the stated answer is not the recomputed product: ");
        add_difference_words(&mut message, self.product, self.stated, self.compared);
        let mut finding =
            self.with_smiles(Finding::new(Name::MismatchedProduct, message).about(self.differing_atoms()));
        if let Some(slip) = slip {
            finding.slips = slip.slips.as_slice().into();
            finding.explained.clone_from(&slip.sentence);
        }
        let fix = self.to_correct(one_arrow).correction(slip, &finding.computed);
        finding.correction.clone_from(&fix.proposed);
        finding.fix = Some(Box::new(fix));
        finding
    }

    /// The mismatch, for its correction.
    fn to_correct<'s>(&'s self, one_more: &'s OneArrow<'_>) -> Mismatch<'s> {
        Mismatch {
            start: &self.taken.start,
            arrows: &self.taken.arrows,
            product: self.product,
            stated: self.stated,
            compared: self.compared,
            shift: self.own.shift(&self.taken.start),
            one_more,
            omits: self.own.context.omits.is_some(),
        }
    }

    /// The mismatch, for the search for the slip behind it.
    fn case(&self) -> Case<'_> {
        let limits = &self.own.context.settings.limits;
        Case {
            start: &self.taken.start,
            arrows: &self.taken.arrows,
            product: self.product,
            stated: self.stated,
            compared: self.compared,
            labels: self.own.labels,
            task: self.own.task,
            steps: limits.search_steps / 100,
            left: Cell::new(limits.slip_atoms),
            sums: slips::Sums::default(),
        }
    }

    fn differing_atoms(&self) -> Vec<String> {
        self.names_of(&self.compared.differences.list)
    }

    /// The atoms of the product that differ, each name once.
    fn names_of<'d>(&self, list: impl IntoIterator<Item = &'d Difference>) -> Vec<String> {
        let mut seen: SmallVec<[AtomId; 8]> = SmallVec::new();
        let mut names: Vec<String> = Vec::new();
        for atom in list.into_iter().flat_map(|difference| difference.atoms()) {
            if names.len() >= LISTED {
                break;
            }
            if seen.contains(&atom) {
                continue;
            }
            if seen.len() < LISTED {
                seen.push(atom);
            }
            // Two atoms may go by one name.
            let name = name(self.product, atom);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    }

    fn charge(&self, findings: &mut Vec<Finding>) {
        let omitted: i64 = self.omitted_atoms().map(|atom| i64::from(self.product.atom(atom).charge)).sum();
        let (start, stated) = (self.taken.start.net_charge(), self.stated.net_charge() + omitted);
        if start != stated {
            let drawn = signed(self.stated.net_charge());
            let mut message =
                format!("the net charge is {} in the start and {drawn} in the stated answer", signed(start));
            if omitted != 0 {
                let species = species_words(self.product, &self.compared.differences.omitted);
                let _ = write!(message, ", with what it leaves out ({species}) {}", signed(stated));
            }
            findings.push(self.with_smiles(Finding::new(Name::UnbalancedCharge, message)));
        }
    }

    fn omitted_atoms(&self) -> impl Iterator<Item = AtomId> {
        self.compared.differences.omitted.iter().flatten().copied()
    }

    fn atoms(&self, findings: &mut Vec<Finding>) {
        // Drawings have few elements, so that a list is shorter to look through than a map.
        let mut balance: SmallVec<[(Element, i64); 8]> = SmallVec::new();
        let mut add = |element: Element, more: i64| match balance.iter_mut().find(|(own, _)| *own == element) {
            Some((_, balance)) => *balance += more,
            None => balance.push((element, more)),
        };
        let mut hydrogens = 0;
        let mut count = |atom: &Atom, sign: i64| {
            add(atom.element, sign);
            hydrogens += sign * i64::from(atom.hydrogens);
        };
        self.taken.start.atoms().for_each(|(_, atom)| count(atom, -1));
        self.stated.atoms().for_each(|(_, atom)| count(atom, 1));
        self.omitted_atoms().for_each(|atom| count(self.product.atom(atom), 1));
        add(Element::HYDROGEN, hydrogens);
        balance.retain(|(_, more)| *more != 0);
        if !balance.is_empty() {
            balance.sort_unstable();
            let words: Vec<String> = balance
                .iter()
                .map(|(element, more)| {
                    format!("{} {} {}", more.abs(), element.symbol(), if *more > 0 { "more" } else { "fewer" })
                })
                .collect();
            let message = format!("the stated answer has other atoms than the start: {}", words.join(", "));
            findings.push(self.with_smiles(Finding::new(Name::UnbalancedAtoms, message)));
        }
    }

    fn is_touched(&self, atom: AtomId) -> bool {
        self.taken.arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom))
    }

    fn bond_is_touched(&self, a: AtomId, b: AtomId) -> bool {
        use crate::arrows::Place;
        let between = |place: Place<AtomId>| matches!(place, Place::Bond(x, y) if (x, y) == (a, b) || (x, y) == (b, a));
        self.taken.arrows.iter().any(|arrow| between(arrow.tail) || between(arrow.head))
    }

    /// Marks that contradict each other, and marks that one side draws and the other does not.
    fn stereo(&self, findings: &mut Vec<Finding>) {
        let (inverted, omitted): (Vec<_>, Vec<_>) =
            self.compared.differences.stereo.iter().copied().partition(|own| own.change == StereoChange::Inverted);
        if !inverted.is_empty() {
            let said = "the stated answer is drawn in other stereochemistry where no arrow is";
            findings.push(self.about_marks(Name::StereoChanged, said, &inverted));
        }
        if !omitted.is_empty() {
            let said = "stereo marks are drawn on one side only, where no arrow is";
            findings.push(self.about_marks(Name::StereoOmitted, said, &omitted));
        }
    }

    fn about_marks(&self, name_of: Name, said: &str, found: &[StereoDifference]) -> Finding {
        let mut words: Vec<String> = found.iter().take(NAMED).map(|own| own.words(self.product)).collect();
        if found.len() > NAMED {
            words.push(format!("and {} more", found.len() - NAMED));
        }
        let mut atoms: Vec<String> = Vec::new();
        for atom in found.iter().flat_map(|own| own.mark.atoms()).take(LISTED) {
            let name = name(self.product, atom);
            if !atoms.contains(&name) {
                atoms.push(name);
            }
        }
        self.with_smiles(Finding::new(name_of, format!("{said}: {}", words.join("; "))).about(atoms))
    }

    fn bystanders(&self, findings: &mut Vec<Finding>) {
        let untouched: Vec<&Difference> = self
            .compared
            .differences
            .list
            .iter()
            .filter(|difference| match difference {
                Difference::Bond(a, b, ..) => !self.bond_is_touched(*a, *b),
                Difference::Extra(_) => true,
                other => !other.atoms().any(|atom| self.is_touched(atom)),
            })
            .collect();
        if untouched.is_empty() {
            return;
        }
        let atoms = self.names_of(untouched.iter().copied());
        let mut message = "the stated answer differs where no arrow is: ".to_owned();
        add_listed_words(&mut message, self.product, self.stated, untouched.iter().copied());
        findings.push(self.with_smiles(Finding::new(Name::BystanderChanged, message).about(atoms)));
    }

    /// Whether the answer is the start. Hydrogens that arrows drew out do not matter: they are compared by count.
    fn is_start(&self, slip: Option<&Explanation>) -> bool {
        if self.stated.is_empty() || !self.compared.differences.omitted.is_empty() {
            return false;
        }
        // The search for a slip begins with the same question.
        slip.is_some_and(|slip| slip.slips == [slips::Slip::AnswerNotRedrawn])
            || left_out(&self.taken.start, self.stated, self.own.labels, self.own.limit()).is_some()
    }

    /// The structures as SMILES; the stated one with the labels of the atoms that its own stand for.
    fn with_smiles(&self, mut finding: Finding) -> Finding {
        let (computed, stated) = self.written.get_or_init(|| {
            let stated = labelled_like(self.product, self.stated, &self.compared.mapping);
            (smiles::write(self.product, Labels::Classes), stated)
        });
        finding.computed.clone_from(computed);
        finding.stated.clone_from(stated);
        finding
    }
}

/// The finding that the arrows count the atoms one off, with the arrows as they should be.
pub(crate) fn shifted_labels(shifted: &Shifted) -> Finding {
    let arrows = notation::write(&shifted.arrows);
    let message =
        format!("the arrows lead to the stated answer once every label is moved {} by one: {arrows}", shifted.way());
    let mut finding = Finding::new(Name::ShiftedLabels, message);
    finding.slips = slips::Slip::LabelsOffByOne.into();
    finding.correction = arrows;
    finding
}
