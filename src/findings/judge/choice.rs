//! Multiple choice: the options, the key, and which of them the arrows lead to.

mod ground;
mod key;

use crate::bank::key::letter as option_letter;
use crate::bank::key::{NoKey, keyed};
use crate::bank::{Drawing, Field, Item};
use crate::compare::kekule::is_other_form;
use crate::compare::stereo::same_drawing_and_stereo;
use crate::compare::{Agreement, Labelled, decide, same_drawing};
use crate::findings::role::Role;
use crate::findings::rules::answer::judge_answer;
use crate::findings::rules::context::Distractors;
use crate::findings::rules::drawing::Drawn;
use crate::findings::verdict::{OptionAudit, StepAudit};
use crate::findings::{Context, Finding, Name, Severity};
use crate::smiles::{self, Labels};
use crate::source::signed;
use crate::structure::canon::{Colours, Orders};
use crate::structure::electrons::{faults, judge};
use crate::structure::skeleton::Skeleton;
use crate::structure::{LabelIndex, Structure};
use ground::{Ground, Standing};
use std::collections::BTreeMap;

/// One drawn option.
struct Opt<'a> {
    /// Its place, counted from 0; blank options keep theirs.
    at: usize,
    drawing: &'a Drawing,
    structure: Structure,
}

impl Opt<'_> {
    fn role(&self) -> Role {
        Role::Option(self.at)
    }
}

/// The options of an item, read.
pub(crate) struct Choice<'a> {
    item: &'a Item,
    options: Vec<Opt<'a>>,
    /// Options that are drawn, readable or not.
    drawn: usize,
    /// The places of the keyed options, in order; none where there is no key or it names no option.
    keys: Vec<usize>,
}

impl<'a> Choice<'a> {
    /// Reads options and key.
    pub(crate) fn read(context: &Context<'_>, item: &'a Item, findings: &mut Vec<Finding>) -> Self {
        let mut choice = Self { item, options: Vec::new(), drawn: 0, keys: Vec::new() };
        let mut is_drawn = vec![false; item.options.len()];
        for (at, drawing) in item.options.iter().enumerate() {
            if matches!(drawing, Drawing::Text(field) if field.is_blank()) {
                continue;
            }
            is_drawn[at] = true;
            let Drawn { structure, usable, .. } = context.reader().read(drawing, Role::Option(at), findings);
            if usable {
                choice.options.push(Opt { at, drawing, structure });
            }
        }
        choice.drawn = is_drawn.iter().filter(|drawn| **drawn).count();
        choice.read_key(context, &is_drawn, findings);
        choice
    }

    fn read_key(&mut self, context: &Context<'_>, is_drawn: &[bool], findings: &mut Vec<Finding>) {
        let has_answer = self.item.steps.last().is_some_and(|step| step.answer.is_some());
        let Some(key) = &self.item.key else { return };
        let at = |finding: Finding| finding.at(context.chunk.spot_in(key, crate::source::Span::new(0, key.text.len())));
        match keyed(&key.text, &self.item.options) {
            Ok(keys) => self.keys = keys,
            // A key beside an answer and no options at all has nothing to add.
            Err(_) if self.drawn == 0 && has_answer => {}
            Err(NoKey::Beyond(part)) => {
                let letters: Vec<String> =
                    (0..is_drawn.len()).filter(|at| is_drawn[*at]).take(26).map(option_letter).collect();
                let has = if letters.is_empty() {
                    "has no options".to_owned()
                } else {
                    format!("has only the options {}", letters.join(", "))
                };
                let message = format!("the key names option '{part}', but the item {has}");
                findings.push(at(Finding::new(Name::MissingField, message)));
            }
            Err(NoKey::OfSeveral(part)) => {
                let message = format!("the key '{part}' is the text of several options: name the one by its letter");
                findings.push(at(Finding::new(Name::UnreadableRecord, message)));
            }
            Err(NoKey::Unreadable(part)) => {
                let message = format!(
                    "'{part}' is no key: expected the letter or the number of an option, A or 1 for the first, or several of \
                     them (A, D)"
                );
                findings.push(at(Finding::new(Name::UnreadableRecord, message)));
            }
        }
    }

    /// The options that can be read, with their places and drawings.
    pub(crate) fn options(&self) -> impl Iterator<Item = (usize, &'a Drawing, &Structure)> {
        self.options.iter().map(|option| (option.at, option.drawing, &option.structure))
    }

    /// Whether an option is keyed.
    pub(crate) fn is_keyed(&self, at: usize) -> bool {
        self.keys.contains(&at)
    }

    /// The places of the keyed options.
    pub(crate) fn keys(&self) -> &[usize] {
        &self.keys
    }

    /// Places as the key counts them: numbers where it has numbers, else letters.
    pub(crate) fn as_key(&self, places: &[usize]) -> String {
        let has_digit = |key: &Field| key.text.bytes().any(|byte| byte.is_ascii_digit());
        let has_letter = |key: &Field| key.text.trim().bytes().any(|byte| byte.is_ascii_alphabetic());
        let by_number = self.item.key.as_ref().is_some_and(|key| has_digit(key) && !has_letter(key));
        let name = |at: &usize| if by_number { (at + 1).to_string() } else { option_letter(*at) };
        places.iter().map(name).collect::<Vec<_>>().join(", ")
    }

    /// Whether the options say what the answer is, so that none has to be stated beside them.
    pub(crate) fn states_the_answer(&self) -> bool {
        self.drawn > 0 || self.item.key.is_some()
    }

    /// The options that can be read, the keyed one first.
    pub(crate) fn keyed_first(&self) -> Vec<&Structure> {
        let mut options: Vec<&Opt<'a>> = self.options.iter().collect();
        options.sort_by_key(|option| !self.is_keyed(option.at));
        options.into_iter().map(|option| &option.structure).collect()
    }

    fn keyed_option(&self) -> Option<&Opt<'a>> {
        self.options.iter().find(|option| self.is_keyed(option.at))
    }

    /// Holds the options against the product of the last step.
    pub(crate) fn judge(&self, context: &Context<'_>, step: Option<&mut StepAudit>, findings: &mut Vec<Finding>) {
        // An answer beside the options says which one is right.
        let has_answer = self.item.steps.last().is_some_and(|step| step.answer.is_some());
        if self.item.key.is_none() && !has_answer {
            let mut message = format!("the item has {} options and no key that says which is right", self.drawn);
            if let Some(sought) = self.item.key_sought {
                message.push_str(": ");
                message.push_str(sought);
            }
            findings.push(Finding::new(Name::MissingField, message));
        }
        if self.options.is_empty() {
            return;
        }
        let Some(step) = step else { return };
        let ground = Ground::new(context, step);
        // Without a product, labels may be all that options differ in.
        let labels_matter = ground.as_ref().is_none_or(|ground| ground.labels_matter);
        let Some(ground) = &ground else {
            self.electrons(context, None, findings);
            self.key_and_answer(context, step, findings);
            self.repeated(context, labels_matter, &[], findings);
            step.options = self.told(&[]);
            return;
        };
        let standing = self.standing(ground);
        step.options = self.told(&standing);
        self.electrons(context, Some(ground), findings);
        self.charges(ground, &standing, findings);
        self.key_and_product(ground, &standing, step, findings);
        self.repeated(context, labels_matter, &standing, findings);
    }

    /// The options for reports.
    fn told(&self, standing: &[Standing]) -> Vec<OptionAudit> {
        let one = |(number, option): (usize, &Opt<'_>)| OptionAudit {
            at: option.at,
            structure: option.structure.clone(),
            is_keyed: self.is_keyed(option.at),
            is_right: standing.get(number).and_then(|standing| match standing {
                Standing::Right | Standing::LeavesOut | Standing::OmitsMarks => Some(true),
                Standing::Wrong => Some(false),
                Standing::Undecided => None,
            }),
        };
        self.options.iter().enumerate().map(one).collect()
    }

    /// How each option stands to the product. Where an option draws the whole of it, those that leave species out are wrong.
    fn standing(&self, ground: &Ground<'_>) -> Vec<Standing> {
        let mut standing: Vec<Standing> =
            self.options.iter().map(|option| ground.standing(&option.structure)).collect();
        if standing.contains(&Standing::Right) {
            for own in standing.iter_mut().filter(|own| matches!(own, Standing::LeavesOut | Standing::OmitsMarks)) {
                *own = Standing::Wrong;
            }
        }
        standing
    }

    /// Over-full and impossible atoms of options. Atoms that product or start show as well are no fault of the option.
    fn electrons(&self, context: &Context<'_>, ground: Option<&Ground<'_>>, findings: &mut Vec<Finding>) {
        for option in &self.options {
            let structure = &option.structure;
            if faults(structure, context.octet).is_empty() {
                continue;
            }
            let compared = ground.map(|ground| (ground, ground.compare(structure)));
            let known = |atom| {
                let computed = compared.as_ref().and_then(|(ground, compared)| {
                    Some((&ground.taken.pushed.product, compared.mapping.computed(atom)?))
                });
                computed.is_some_and(|(product, atom)| judge(product, atom, context.octet).is_some())
            };
            let from = findings.len();
            context.reader().judge_electrons(structure, Some(option.drawing), option.role(), known, findings);
            if !self.is_keyed(option.at) {
                soften(context, &mut findings[from..]);
            }
        }
    }

    /// Options whose net charge is neither the start's nor that of an option that is right.
    fn charges(&self, ground: &Ground<'_>, standing: &[Standing], findings: &mut Vec<Finding>) {
        let start = ground.taken.start.net_charge();
        let right: Vec<i64> = self
            .options
            .iter()
            .zip(standing)
            .filter(|(_, standing)| standing.is_right())
            .map(|(option, _)| option.structure.net_charge())
            .collect();
        let differing: Vec<String> = self
            .options
            .iter()
            .map(|option| (option, option.structure.net_charge()))
            .filter(|(option, charge)| !self.is_keyed(option.at) && *charge != start && !right.contains(charge))
            .map(|(option, charge)| format!("{} in {}", signed(charge), option.role().words()))
            .collect();
        if !differing.is_empty() {
            let message = format!("the net charge is {} in the start and {}", signed(start), differing.join(", "));
            findings.push(Finding::new(Name::UnbalancedCharge, message));
            let from = findings.len() - 1;
            soften(ground.context, &mut findings[from..]);
        }
    }

    /// Whether the key, and only the key, is the product.
    fn key_and_product(
        &self,
        ground: &Ground<'_>,
        standing: &[Standing],
        step: &mut StepAudit,
        findings: &mut Vec<Finding>,
    ) {
        let numbers = 0..self.options.len();
        let right: Vec<usize> = numbers.clone().filter(|at| standing[*at].is_right()).collect();
        let keyed: Vec<usize> = numbers.clone().filter(|at| self.is_keyed(self.options[*at].at)).collect();
        let undecided = numbers.clone().find(|at| standing[*at] == Standing::Undecided);
        if right.is_empty() {
            match undecided {
                Some(at) => findings.push(ground.undecided(&self.options[at])),
                None => findings.push(self.none_right(ground, keyed.first().copied())),
            }
        } else {
            for at in keyed.iter().filter(|at| !right.contains(at)) {
                match standing[*at] {
                    Standing::Undecided => findings.push(ground.undecided(&self.options[*at])),
                    _ => findings.push(self.key_wrong(ground, *at, &right)),
                }
            }
        }
        if let [only] = right.as_slice()
            && let Some(no_key) = findings.iter_mut().rfind(|own| own.name == Name::MissingField && own.step == 0)
            && self.item.key.is_none()
        {
            no_key.correction = option_letter(self.options[*only].at);
        }
        findings.extend(self.several_right(ground, &right, &keyed));
        let shown = keyed.first().or(right.first()).copied();
        self.keep_for_report(ground, standing, shown, step, findings);
    }

    /// Options that are right beside the key; with several keys those that are not keyed.
    fn several_right(&self, ground: &Ground<'_>, right: &[usize], keyed: &[usize]) -> Option<Finding> {
        let alike = self.not_told_apart(ground, right);
        let letters = |of: &[usize]| of.iter().map(|at| option_letter(self.options[*at].at)).collect::<Vec<_>>();
        let computed = || smiles::write(&ground.taken.pushed.product, Labels::Classes);
        // A key that cannot be read may name them all.
        if self.keys.is_empty() && self.item.key.is_some() {
            return None;
        }
        if self.keys.len() < 2 {
            let message = format!("options {} are each the recomputed product", join_and(&letters(&alike)));
            let found = Finding { computed: computed(), ..Finding::new(Name::SeveralOptionsRight, message) };
            return (alike.len() > 1).then_some(found);
        }
        let more: Vec<usize> = alike.into_iter().filter(|at| !keyed.contains(at)).collect();
        if more.is_empty() {
            return None;
        }
        let (options, are) = if more.len() == 1 { ("option", "is") } else { ("options", "are") };
        let keys: Vec<String> = self.keys.iter().map(|at| option_letter(*at)).collect();
        let message = format!(
            "{options} {} {are} the recomputed product, and the keys are {}",
            join_and(&letters(&more)),
            join_and(&keys)
        );
        let places: Vec<usize> = right.iter().map(|at| self.options[*at].at).collect();
        let correction = self.as_key(&places);
        Some(Finding { computed: computed(), correction, ..Finding::new(Name::SeveralOptionsRight, message) })
    }

    /// Of options that are right, those that something else than marks that are not judged tells from each other, or
    /// nothing does. Two that differ in the stereochemistry of a touched atom alone may be one right and one wrong.
    fn not_told_apart(&self, ground: &Ground<'_>, right: &[usize]) -> Vec<usize> {
        let structure = |at: usize| &self.options[at].structure;
        let limit = ground.limit();
        let by_marks_alone = |a: usize, b: usize| {
            (!structure(a).stereo.is_empty() || !structure(b).stereo.is_empty())
                && same_drawing(structure(a), structure(b), limit) == Some(true)
                && same_drawing_and_stereo(structure(a), structure(b), limit) == Some(false)
        };
        let alike = |a: &usize| right.iter().any(|b| a != b && !by_marks_alone(*a, *b));
        right.iter().copied().filter(alike).collect()
    }

    /// Where the arrows have no product, whether the key at least agrees with the answer stated beside it.
    fn key_and_answer(&self, context: &Context<'_>, step: &StepAudit, findings: &mut Vec<Finding>) {
        let (Some(option), Some(answer)) = (self.keyed_option(), &step.answer) else { return };
        let limit = context.settings.limits.search_steps;
        let decision = decide(answer, &option.structure, &LabelIndex::new(answer), limit);
        if decision.agreement() == Agreement::Different {
            let message = format!("{}, the key, is not the stated answer", option.role().words());
            let stated = smiles::write(&option.structure, Labels::Classes);
            findings.push(Finding { stated, ..Finding::new(Name::KeyedOptionWrong, message) });
        }
    }

    /// The step of an item without an answer of its own shows the keyed option as what is stated.
    fn keep_for_report(
        &self,
        ground: &Ground<'_>,
        standing: &[Standing],
        shown: Option<usize>,
        step: &mut StepAudit,
        findings: &mut Vec<Finding>,
    ) {
        let Some(shown) = shown.filter(|_| step.answer.is_none()) else { return };
        let option = &self.options[shown];
        let compared = ground.compare(&option.structure);
        // What is wrong with a wrong option has been said by the names for options.
        if !standing[shown].is_right() {
            step.answer =
                Some(compared.forms.as_ref().map_or_else(|| option.structure.clone(), |forms| forms.1.clone()));
            step.compared = Some(compared);
            return;
        }
        let own = ground.answering(Some(option));
        let (compared, stated) = judge_answer(&own, &ground.taken, option.structure.clone(), compared, findings);
        (step.compared, step.answer) = (Some(compared), Some(stated));
    }

    fn none_right(&self, ground: &Ground<'_>, keyed: Option<usize>) -> Finding {
        let product = &ground.taken.pushed.product;
        let mut message = "no option is the recomputed product".to_owned();
        let mut stated = String::new();
        let mut labels = Labels::Classes;
        if let Some(keyed) = keyed {
            let option = &self.options[keyed];
            let compared = ground.compare(&option.structure);
            let (words, drawn) = ground.differing(option, &compared);
            message = format!("{message}; {}, the key: {words}", option.role().words());
            stated = drawn;
            if compared.labelled == Labelled::Not {
                labels = Labels::Without;
            }
        }
        let computed = smiles::write(product, Labels::Classes);
        Finding {
            stated,
            computed,
            correction: smiles::write(product, labels),
            ..Finding::new(Name::NoOptionRight, message)
        }
    }

    fn key_wrong(&self, ground: &Ground<'_>, keyed: usize, right: &[usize]) -> Finding {
        let option = &self.options[keyed];
        let compared = ground.compare(&option.structure);
        let (words, stated) = ground.differing(option, &compared);
        let letters: Vec<String> = right.iter().map(|at| option_letter(self.options[*at].at)).collect();
        let (are, options) = if letters.len() == 1 { ("is", "option") } else { ("are", "options") };
        let places: Vec<usize> = right.iter().map(|at| self.options[*at].at).collect();
        let computed = smiles::write(&ground.taken.pushed.product, Labels::Classes);
        // The correction counts as the key does.
        let (message, correction) = if self.keys.len() < 2 {
            let message = format!(
                "the key is {}, but the recomputed product {are} {options} {}; {}: {words}",
                option_letter(option.at),
                join_and(&letters),
                option.role().words()
            );
            (message, self.as_key(&places[..places.len().min(1)]))
        } else {
            let name = option.role().words();
            let message = format!(
                "{name}, one of the keys, is not the recomputed product, which {are} {options} {}; {name}: {words}",
                join_and(&letters)
            );
            (message, self.as_key(&places))
        };
        let is_open = right.len() > 1 && self.keys.len() < 2;
        let fix = Some(Box::new(key::correction(ground, option, &compared, &correction, is_open)));
        Finding { stated, computed, correction, fix, ..Finding::new(Name::KeyedOptionWrong, message) }
    }

    /// Options that are one structure, other than by both being right.
    fn repeated(&self, context: &Context<'_>, labels_matter: bool, standing: &[Standing], findings: &mut Vec<Finding>) {
        let right = |at: usize| standing.get(at).is_some_and(|standing| standing.is_right());
        for group in self.equal_options(context, labels_matter) {
            if group.iter().filter(|at| !right(**at)).count() == 0 {
                continue;
            }
            let words: Vec<String> = group.iter().map(|at| option_letter(self.options[*at].at)).collect();
            let message = format!("options {} are the same structure", join_and(&words));
            let stated = group.first().map(|at| smiles::write(&self.options[*at].structure, Labels::Classes));
            findings
                .push(Finding { stated: stated.unwrap_or_default(), ..Finding::new(Name::RepeatedOption, message) });
        }
    }

    /// Groups of two or more options that are one drawing, in order.
    fn equal_options(&self, context: &Context<'_>, labels_matter: bool) -> Vec<Vec<usize>> {
        let limit = context.settings.limits.search_steps;
        let skeletons: Vec<Skeleton> = self.options.iter().map(|option| Skeleton::new(&option.structure)).collect();
        let orders = skeletons.iter().fold(Orders::Drawn, |orders, own| match (orders, Orders::for_both(own, own)) {
            (Orders::Loose, _) | (_, Orders::Loose) => Orders::Loose,
            (Orders::Free, _) | (_, Orders::Free) => Orders::Free,
            _ => Orders::Drawn,
        });
        // Equal drawings have equal fingerprints: only options that share one are compared.
        let mut by_print: BTreeMap<u128, Vec<Vec<usize>>> = BTreeMap::new();
        for (at, skeleton) in skeletons.iter().enumerate() {
            let groups = by_print.entry(Colours::new(skeleton, orders).whole()).or_default();
            let own = &self.options[at].structure;
            let is_equal = |group: &Vec<usize>| {
                group
                    .first()
                    .is_some_and(|first| same_option(&self.options[*first].structure, own, labels_matter, limit))
            };
            match groups.iter_mut().find(|group| is_equal(group)) {
                Some(group) => group.push(at),
                None => groups.push(vec![at]),
            }
        }
        let mut groups: Vec<Vec<usize>> = by_print.into_values().flatten().collect();
        groups.sort_unstable();
        if context.any_kekule_form && groups.len() <= MOST_FORMS {
            groups = self.with_other_forms(groups, limit);
        }
        groups.retain(|group| group.len() > 1);
        groups
    }

    /// Groups joined whose drawings are Kekulé forms of one compound.
    fn with_other_forms(&self, groups: Vec<Vec<usize>>, limit: u64) -> Vec<Vec<usize>> {
        let mut joined: Vec<Vec<usize>> = Vec::with_capacity(groups.len());
        for group in groups {
            let drawing = |group: &Vec<usize>| group.first().map(|at| &self.options[*at].structure);
            let is_form = |other: &&mut Vec<usize>| {
                drawing(other).zip(drawing(&group)).is_some_and(|(a, b)| is_other_form(a, b, limit))
            };
            match joined.iter_mut().find(is_form) {
                Some(other) => other.extend(group),
                None => joined.push(group),
            }
        }
        joined
    }
}

/// Options of more drawings than that are not compared by their Kekulé forms.
const MOST_FORMS: usize = 32;

/// Whether two options are one drawing. Where labels matter and both have them, under their labels.
fn same_option(a: &Structure, b: &Structure, labels_matter: bool, limit: u64) -> bool {
    if labels_matter && a.has_labels() && b.has_labels() {
        let decision = decide(a, b, &LabelIndex::new(a), limit);
        return decision.left_out().is_some_and(<[_]>::is_empty) && same_drawing_and_stereo(a, b, limit) == Some(true);
    }
    same_drawing_and_stereo(a, b, limit) == Some(true)
}

/// Faults of a wrong option are often its purpose.
fn soften(context: &Context<'_>, findings: &mut [Finding]) {
    if context.settings.distractors == Distractors::Usual {
        for finding in findings {
            finding.severity = Severity::Note;
        }
    }
}

/// `A`, `A and B`, `A, B and C`.
pub(crate) fn join_and(words: &[String]) -> String {
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}
