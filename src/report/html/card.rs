//! One card: the verdict, what the fields say and should say, the drawings; folded behind them, the sentences and the ledger.

use super::fault::{Fault, faults, sentence};
use super::fix::{Fix, fixes};
use super::ledger::{Ledger, ledger};
use super::options;
use super::other::{Named, STATED};
use super::panels::{Drawings, Panel, RECOMPUTED};
use super::text::{FILE, ID, MESSAGE, PROMPT, count, shown};
use super::{chain, joint, proposed, set};
use crate::audit::{Audited, Renderer};
use crate::bank::place_name;
use crate::findings::{Class, Finding, Name, StepAudit};
use crate::structure::OctetRule;
use askama::Template;

/// Faults of one item that its card shows, and sentences; the rest is counted. The CSV has them all.
const FAULTS: usize = 40;
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
    faults: Vec<Fault>,
    more_faults: String,
    fixes: Vec<Fix>,
    steps: Vec<Step>,
    more_steps: String,
    /// Every finding in its own words, for those who want to read them.
    sentences: Vec<Sentence>,
    has_details: bool,
}

struct Sentence {
    severity: &'static str,
    name: &'static str,
    step: u32,
    message: String,
}

#[derive(Default)]
struct Step {
    number: u32,
    panels: Vec<Panel>,
    /// The options of a multiple choice.
    options: Vec<Panel>,
    /// The sequence that is proposed instead.
    proposed: Vec<Panel>,
    ledger: Option<Ledger>,
    /// The item whose answer stands beside this one's.
    other: Option<Named>,
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
        let mut faults = faults(item);
        let more_faults = faults.len().saturating_sub(FAULTS);
        faults.truncate(FAULTS);
        let sentences: Vec<Sentence> = item.findings.iter().take(FAULTS).map(Sentence::new).collect();
        Self {
            id: shown(&item.id, ID),
            class: class_word(item.class),
            place: place_name(&shown(&item.file, FILE), item.line),
            prompt: shown(&item.prompt, PROMPT),
            tags: shown(&item.tags, PROMPT),
            more_faults: if more_faults > 0 { count(more_faults as u64, "finding") } else { String::new() },
            faults,
            fixes: fixes(item),
            more_steps: if more_steps > 0 { count(more_steps as u64, "step") } else { String::new() },
            has_details: !sentences.is_empty() || steps.iter().any(|step| step.ledger.is_some()),
            sentences,
            steps,
        }
    }
}

impl Sentence {
    fn new(finding: &Finding) -> Self {
        Self {
            severity: finding.severity.name(),
            name: finding.name.entry().name,
            step: finding.step,
            message: sentence(&shown(&finding.message(), MESSAGE)),
        }
    }
}

impl Step {
    fn new(step: &StepAudit, findings: &[&Finding], octet: OctetRule) -> Self {
        if !step.contributors.is_empty() {
            let panels = set::panels(step, findings, octet);
            return Self { number: step.number, panels, ..Self::default() };
        }
        let relabelled = findings.iter().any(|finding| finding.name == Name::RelabelledAnswer);
        let drawings = Drawings::new(step, relabelled);
        let mut panels = drawings.panels(findings, octet);
        if !step.several.is_empty() {
            // The last of the usual drawings is the stated answer.
            let stated = panels.pop().filter(|_| step.answer.is_some());
            panels = chain::panels(step, &drawings, findings, octet);
            let is_drawn = panels.last().is_some_and(|last| last.caption == STATED);
            panels.extend(stated.filter(|_| !is_drawn));
        } else if !step.options.is_empty() {
            // The keyed option stands among the others.
            panels.truncate(2);
        }
        if let Some(joint) = joint::panel(step, findings) {
            panels.insert(0, joint);
        }
        let other = name_others(&mut panels, findings);
        Self {
            number: step.number,
            panels,
            options: options::panels(step),
            proposed: proposed::panels(step, findings, octet),
            ledger: ledger(step, &drawings),
            other,
        }
    }
}

/// Says in the captions which other item has the same answer, and gives the one whose answer is another, to be shown beside.
fn name_others(panels: &mut [Panel], findings: &[&Finding]) -> Option<Named> {
    let mut beside = None;
    for (finding, other) in findings.iter().filter_map(|own| own.other.as_deref().map(|other| (own, other))) {
        let named = Named::new(other);
        let caption = |panels: &mut [Panel], of: &str, words: &str| {
            if let Some(panel) = panels.iter_mut().find(|own| own.caption.starts_with(of)) {
                panel.caption.push_str(words);
            }
        };
        match finding.name {
            Name::ConflictingAnswers if other.is_right => {
                caption(panels, RECOMPUTED, &format!(", and stated at {}", named.place));
            }
            Name::ConflictingAnswers => beside = Some(named),
            Name::MismatchedProduct => caption(panels, STATED, &format!(": the answer of {}", named.place)),
            Name::RepeatedQuestion => caption(panels, STATED, &format!(", here and at {}", named.place)),
            _ => {}
        }
    }
    beside
}
