//! Judgement: what is wrong with an item, under which names.

mod answer;
mod arrows;
pub mod bankwide;
pub mod catalogue;
mod choice;
pub mod content;
mod contributors;
mod correction;
pub mod digest;
mod drawing;
mod item;
mod loose;
mod omits;
pub(crate) mod painted;
pub mod quick;
mod sequence;
mod settle;
mod several;
pub mod slips;
mod step;
mod stereo;
mod unpaired;

pub use crate::bank::key::letter as option_letter;
pub use catalogue::{Entry, Name, Severity};
pub use correction::{Correction, Grade, Target, find_places};
pub use item::{Context, Distractors, Judgement, Settings, judge};
pub use several::{SequenceStep, cut_words, sequence_of};
pub use step::{OptionAudit, StepAudit};

use crate::bank::Spot;
use slips::Slips;
use std::borrow::Cow;
use std::sync::Arc;

/// One finding of one item.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Finding {
    /// Which.
    pub name: Name,
    /// How grave, after the profile.
    pub severity: Severity,
    /// The step, counted as the bank counts; 0 where the item is no sequence or the finding is about the whole item.
    pub step: u32,
    /// Labels of the atoms that it concerns.
    pub atoms: Vec<String>,
    /// The stated structure as SMILES with labels; empty where there is none.
    pub stated: String,
    /// The recomputed structure as SMILES with labels; empty where there is none.
    pub computed: String,
    /// What is wrong, as a sentence.
    pub what: String,
    /// The slip that explains it, or two of them; empty where none is known.
    pub slips: Slips,
    /// What the stated answer is, where a slip explains it: words that follow "The stated answer is".
    pub explained: String,
    /// What the field should say; empty where that is not known.
    pub correction: String,
    /// The same as data, where a field of the bank can be corrected.
    pub fix: Option<Box<Correction>>,
    /// Where in the file, for findings about a text.
    pub spot: Option<Spot>,
    /// The other item, for findings about two.
    pub other: Option<Box<Other>>,
    /// Why it is known and accepted, if it is.
    #[serde(skip)]
    pub known: Option<Arc<Accepted>>,
}

/// Another item that a finding is about.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Other {
    /// Its file.
    pub file: String,
    /// Its line.
    pub line: u32,
    /// Whether its answer is known to be what the arrows of both lead to.
    pub is_right: bool,
}

/// Why a finding is known and nothing to be told of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    /// Why it is accepted, as a person wrote it.
    pub reason: String,
    /// The last day on which it is: `2027-03-31`; empty where there is none.
    pub until: String,
}

impl Finding {
    /// What is wrong and what explains it, as sentences.
    #[must_use]
    pub fn message(&self) -> Cow<'_, str> {
        match self.explanation() {
            Some(explanation) => [&self.what, ". ", &explanation].concat().into(),
            None => self.what.as_str().into(),
        }
    }

    /// The sentence that says which slip gives the stated answer.
    #[must_use]
    pub fn explanation(&self) -> Option<String> {
        (!self.explained.is_empty()).then(|| ["The stated answer is ", &self.explained].concat())
    }

    /// The message, and for a known finding why it is accepted.
    #[must_use]
    pub fn told(&self) -> Cow<'_, str> {
        match &self.known {
            Some(known) => format!("{} (known: {})", self.message(), known.reason).into(),
            None => self.message(),
        }
    }

    /// A finding with its usual severity and nothing but a sentence.
    #[must_use]
    pub fn new(name: Name, what: impl Into<String>) -> Self {
        Self {
            name,
            severity: name.entry().severity,
            step: 0,
            atoms: Vec::new(),
            stated: String::new(),
            computed: String::new(),
            what: what.into(),
            slips: Slips::default(),
            explained: String::new(),
            correction: String::new(),
            fix: None,
            spot: None,
            other: None,
            known: None,
        }
    }

    /// The same at a place of the file.
    #[must_use]
    pub fn at(self, spot: Spot) -> Self {
        Self { spot: Some(spot), ..self }
    }

    /// The same about these atoms.
    #[must_use]
    pub fn about(self, atoms: Vec<String>) -> Self {
        Self { atoms, ..self }
    }
}

/// Adds a finding for each fault, up to [`TOLD`](crate::limits::TOLD); what is left is one finding more, with the number.
fn tell<F>(findings: &mut Vec<Finding>, faults: &[F], finding: impl FnMut(&F) -> Finding) {
    if faults.is_empty() {
        return;
    }
    let told = faults.len().min(crate::limits::TOLD);
    findings.extend(faults[..told].iter().map(finding));
    if let Some(last) = findings.last().filter(|_| faults.len() > told) {
        let what = format!("and {} more of this kind, which are not told one by one", faults.len() - told);
        let rest = Finding { what, atoms: Vec::new(), ..last.clone() };
        findings.push(rest);
    }
}

/// The ways an item can come out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Class {
    /// Nothing wrong; warnings are counted beside.
    Sound,
    /// At least one error.
    Faulty,
    /// The comparison could not be decided.
    Undecided,
    /// It could not be read.
    Unreadable,
}

/// How an item comes out: unreadable before faulty before undecided before sound.
#[must_use]
pub fn classify(findings: &[Finding]) -> Class {
    if findings.iter().any(|finding| finding.name.makes_unreadable()) {
        Class::Unreadable
    } else if findings.iter().any(|finding| finding.severity == Severity::Error) {
        Class::Faulty
    } else if findings.iter().any(|finding| finding.name == Name::Undecided) {
        Class::Undecided
    } else {
        Class::Sound
    }
}
