//! One card: what was found in an item, its drawings, its ledger, what it should say.

use super::ledger::{Ledger, ledger};
use super::panels::{Drawings, Panel};
use super::set;
use super::text::{CORRECTION, FILE, ID, MESSAGE, PROMPT, count, shown, slip_words};
use crate::audit::{Audited, Renderer};
use crate::bank::Spot;
use crate::compare::Differences;
use crate::findings::slips::SAID;
use crate::findings::{Class, Finding, Grade, Name, StepAudit};
use crate::structure::OctetRule;
use askama::Template;
use std::fmt::Write as _;

/// Findings of one item that its card shows; the rest is counted. The CSV has them all.
const FINDINGS: usize = 40;
/// Differences of one mismatch that a card names.
const DIFFERENCES: usize = 12;
/// Steps of one item that a card draws.
const STEPS: usize = 12;

/// Draws cards.
#[derive(Debug, Clone, Copy, Default)]
pub struct CardRenderer {
    /// Which shells are over-full, so that the atoms concerned are ringed.
    pub octet: OctetRule,
}

impl Renderer for CardRenderer {
    fn card(&self, item: &Audited) -> String {
        // A template writes into memory, which does not fail.
        Card::new(item, self.octet).render().unwrap_or_default()
    }
}

/// A class in a word and a sign that does not need colour.
pub(super) fn class_word(class: Class) -> &'static str {
    match class {
        Class::Sound => "sound",
        Class::Faulty => "faulty",
        Class::Undecided => "undecided",
        Class::Unreadable => "unreadable",
    }
}

#[derive(Template)]
#[template(path = "card.html")]
struct Card {
    id: String,
    class: &'static str,
    place: String,
    prompt: String,
    tags: String,
    findings: Vec<Found>,
    more_findings: String,
    steps: Vec<Step>,
    more_steps: String,
    corrections: Vec<Correction>,
}

struct Found {
    severity: &'static str,
    name: &'static str,
    step: u32,
    message: String,
    differences: Vec<String>,
    more_differences: String,
    slip: String,
    slip_words: String,
    spot: Option<Marked>,
    /// What to do, where no correction says it.
    remedy: &'static str,
}

/// A line of the bank with the characters that are wrong.
struct Marked {
    /// The file, where it is another one than the item's.
    file: String,
    line: u32,
    column: u32,
    before: String,
    wrong: String,
    after: String,
}

struct Step {
    number: u32,
    panels: Vec<Panel>,
    ledger: Option<Ledger>,
}

struct Correction {
    label: String,
    value: String,
    too_long: bool,
    why: String,
}

impl Card {
    fn new(item: &Audited, octet: OctetRule) -> Self {
        // Findings of step 0 are about the whole item.
        let wanted = |step: &&StepAudit| {
            item.findings.is_empty() || item.findings.iter().any(|own| own.step == step.number || own.step == 0)
        };
        let findings: Vec<&Finding> = item.findings.iter().collect();
        let own =
            |number| findings.iter().copied().filter(|own| own.step == number || own.step == 0).collect::<Vec<_>>();
        let shown_steps = item.steps.iter().filter(wanted).take(STEPS);
        let steps: Vec<Step> = shown_steps.map(|step| Step::new(step, &own(step.number), octet)).collect();
        let more_steps = item.steps.iter().filter(wanted).count() - steps.len();
        let mut gravest = findings.clone();
        gravest.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
        let more_findings = item.findings.len().saturating_sub(FINDINGS);
        Self {
            id: shown(&item.id, ID),
            class: class_word(item.class),
            place: format!("{}:{}", shown(&item.file, FILE), item.line),
            prompt: shown(&item.prompt, PROMPT),
            tags: shown(&item.tags, PROMPT),
            findings: gravest.into_iter().take(FINDINGS).map(|finding| Found::new(finding, item)).collect(),
            more_findings: if more_findings > 0 { count(more_findings as u64, "finding") } else { String::new() },
            steps,
            more_steps: if more_steps > 0 { count(more_steps as u64, "step") } else { String::new() },
            corrections: corrections(item),
        }
    }
}

impl Step {
    fn new(step: &StepAudit, findings: &[&Finding], octet: OctetRule) -> Self {
        if !step.contributors.is_empty() {
            return Self { number: step.number, panels: set::panels(step, findings, octet), ledger: None };
        }
        let relabelled = findings.iter().any(|finding| finding.name == Name::RelabelledAnswer);
        let drawings = Drawings::new(step, relabelled);
        Self { number: step.number, panels: drawings.panels(findings, octet), ledger: ledger(step, &drawings) }
    }
}

impl Found {
    fn new(finding: &Finding, item: &Audited) -> Self {
        let entry = finding.name.entry();
        let (told, explained) = split_explanation(finding);
        let (mut message, mut differences, mut more) = (shown(told, MESSAGE), Vec::new(), String::new());
        if finding.name == Name::MismatchedProduct
            && let Some((list, left)) = named_differences(finding, item)
        {
            entry.meaning.clone_into(&mut message);
            differences = list;
            more = if left > 0 { count(left as u64, "more difference") } else { String::new() };
        }
        Self {
            severity: finding.severity.name(),
            name: entry.name,
            step: finding.step,
            message: match &finding.known {
                Some(known) => format!("{} Known: {}", sentence(&message), sentence(&shown(&known.reason, MESSAGE))),
                None => sentence(&message),
            },
            differences,
            more_differences: more,
            slip: finding.slip.clone(),
            slip_words: if explained.is_empty() {
                slip_words(&finding.slip)
            } else {
                sentence(&shown(explained, MESSAGE))
            },
            spot: finding.spot.as_ref().map(Marked::new),
            remedy: if finding.correction.is_empty() && finding.computed.is_empty() { entry.remedy } else { "" },
        }
    }
}

/// A message and the sentence that explains the slip, which ends it where a slip was found.
fn split_explanation(finding: &Finding) -> (&str, &str) {
    let at = if finding.slip.is_empty() { None } else { finding.message.rfind(SAID) };
    match at.and_then(|at| finding.message.split_at_checked(at)) {
        Some((told, explained)) => (told, explained.trim_start_matches(". ")),
        None => (&finding.message, ""),
    }
}

/// The differences of a mismatch one by one, and how many are left; none where the search for them met its limit.
fn named_differences(finding: &Finding, item: &Audited) -> Option<(Vec<String>, usize)> {
    let step = item.steps.iter().find(|step| step.number == finding.step)?;
    let compared = step.compared.as_ref().filter(|compared| compared.smallest)?;
    let drawings = Drawings::new(step, false);
    let (product, stated) = (drawings.product?, drawings.stated.as_ref()?);
    let Differences { list, stereo, .. } = &compared.differences;
    let words = list.iter().map(|difference| difference.words(product, stated));
    let words = words.chain(stereo.iter().map(|own| own.words(product))).take(DIFFERENCES);
    let left = (list.len() + stereo.len()).saturating_sub(DIFFERENCES);
    Some((words.map(|words| shown(&words, MESSAGE)).collect(), left))
}

/// A message as a sentence: it begins with a capital, but for names of atoms and quoted text, and ends with a full stop.
fn sentence(message: &str) -> String {
    let mut rest = message.chars();
    let mut out = match rest.next() {
        Some(first) if rest.clone().next().is_some_and(|second| second.is_lowercase() || second == ' ') => {
            first.to_uppercase().chain(rest).collect()
        }
        _ => message.to_owned(),
    };
    if out.ends_with(char::is_alphanumeric) {
        out.push('.');
    }
    out
}

impl Marked {
    fn new(spot: &Spot) -> Self {
        let (mark, length) = (spot.mark as usize, spot.length as usize);
        let part = |from: usize, many: usize| -> String {
            shown(&spot.excerpt.chars().skip(from).take(many).collect::<String>(), MESSAGE)
        };
        let marked = part(mark, length);
        Self {
            file: spot.other_file().map_or_else(String::new, |file| shown(file, FILE)),
            line: spot.line,
            column: spot.column,
            before: part(0, mark),
            // Where something is missing at the end of a line, the mark stands behind it.
            wrong: if marked.is_empty() { "\u{2423}".to_owned() } else { marked },
            after: part(mark + length, usize::MAX),
        }
    }
}

/// Proposed corrections, each once.
fn corrections(item: &Audited) -> Vec<Correction> {
    let mut all: Vec<Correction> = Vec::new();
    let several = item.steps.len() > 1;
    for finding in item.findings.iter().filter(|finding| !finding.correction.is_empty()).take(FINDINGS) {
        let too_long = finding.correction.len() > CORRECTION;
        let value = if too_long { String::new() } else { shown(&finding.correction, CORRECTION) };
        let (mut label, mut why) = ("Proposed correction".to_owned(), String::new());
        if let Some(fix) = &finding.fix {
            label = format!("Proposed {}", fix.field.name());
            why = sentence(&shown(&fix.why, MESSAGE));
            why.insert_str(
                0,
                match fix.grade {
                    Grade::Certain => "Certain: ",
                    Grade::Likely => "Likely: ",
                    Grade::None => "To be looked at: ",
                },
            );
        }
        if several && finding.step > 0 {
            let _ = write!(label, " of step {}", finding.step);
        }
        if !all.iter().any(|own| own.value == value && own.label == label) {
            all.push(Correction { label, value, too_long, why });
        }
    }
    all
}
