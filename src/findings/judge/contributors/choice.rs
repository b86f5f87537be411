//! Multiple choice among drawings: the options are contributors, and the keys are the legal ones.

use super::{Set, Stated};
use crate::bank::Item;
use crate::bank::key::letter as option_letter;
use crate::findings::fix::{Correction, Grade, Target};
use crate::findings::judge::choice::{Choice, join_and};
use crate::findings::{Finding, Name};

/// Why a key should say what is proposed.
const WHY: &str = "these options are legal contributors, and the others are not";

impl Set<'_> {
    /// Holds the options of an item, and its key, to the rules of resonance.
    pub(super) fn options(
        &self,
        item: &Item,
        choice: &Choice<'_>,
        options: &mut [Stated<'_>],
        findings: &mut Vec<Finding>,
    ) {
        let mut broken: Vec<(usize, Finding)> = Vec::new();
        for own in &mut *options {
            let mut found = Vec::new();
            own.is_legal = self.judge_one(own, &mut found);
            for finding in found {
                match finding.name {
                    Name::IllegalContributor => broken.push((own.at, finding)),
                    _ => findings.push(finding),
                }
            }
        }
        let is_undecided = options.len() > broken.len() + options.iter().filter(|own| own.is_legal).count();
        let legal: Vec<usize> = options.iter().filter(|own| own.is_legal).map(|own| own.at).collect();
        if item.key.is_none() && item.answers.is_empty() {
            let message = format!("the item has {} options and no key that says which are right", options.len());
            let proposed = choice.as_key(&legal);
            findings.push(proposing(Finding::new(Name::MissingField, message), proposed, Grade::Certain));
        }
        if legal.is_empty() && !options.is_empty() && !is_undecided {
            findings.push(Finding::new(Name::NoOptionRight, "no option is a legal contributor of the start"));
            return;
        }
        for (at, finding) in broken.into_iter().filter(|(at, _)| choice.is_keyed(*at)) {
            findings.push(wrongly_keyed(choice, at, &legal, finding));
        }
        let more: Vec<usize> = legal.iter().copied().filter(|at| !choice.is_keyed(*at)).collect();
        if !choice.keys().is_empty() && !more.is_empty() {
            findings.push(not_keyed(choice, &more, &legal));
        }
    }
}

fn wrongly_keyed(choice: &Choice<'_>, at: usize, legal: &[usize], broken: Finding) -> Finding {
    let which = if choice.keys().len() > 1 { "one of the keys" } else { "the key" };
    let what = format!("option {}, {which}, is no legal contributor; {}", option_letter(at), broken.what);
    let finding = Finding { name: Name::KeyedOptionWrong, what, ..broken };
    proposing(finding, choice.as_key(legal), Grade::Likely)
}

fn not_keyed(choice: &Choice<'_>, more: &[usize], legal: &[usize]) -> Finding {
    let letters = |of: &[usize]| join_and(&of.iter().map(|at| option_letter(*at)).collect::<Vec<_>>());
    let (option, is, a, s) = if more.len() == 1 { ("option", "is", "a ", "") } else { ("options", "are", "", "s") };
    let (key, keyed) = if choice.keys().len() == 1 { ("key", "is") } else { ("keys", "are") };
    let message = format!(
        "{option} {} {is} {a}legal contributor{s} too, and the {key} {keyed} {}",
        letters(more),
        letters(choice.keys())
    );
    proposing(Finding::new(Name::SeveralOptionsRight, message), choice.as_key(legal), Grade::Likely)
}

/// A finding that proposes a key; none where there is nothing to propose.
fn proposing(finding: Finding, proposed: String, grade: Grade) -> Finding {
    if proposed.is_empty() {
        return finding;
    }
    let fix = Some(Box::new(Correction::new(Target::Key, proposed.clone(), grade, WHY)));
    Finding { correction: proposed, fix, ..finding }
}
