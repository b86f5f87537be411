//! What judgement says: findings and how an item comes out, and what was worked out about its steps.

use crate::arrows::{Arrow, CutStep, DrawnArrow, Pushed};
use crate::bank::Spot;
use crate::compare::Compared;
use crate::findings::catalogue::{Name, Severity};
use crate::findings::fix::Correction;
use crate::findings::slips::Slips;
use crate::structure::Structure;
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
pub(super) fn tell<F>(findings: &mut Vec<Finding>, faults: &[F], finding: impl FnMut(&F) -> Finding) {
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

/// Everything that was worked out about one step, for reports, slips and corrections.
#[derive(Debug, Clone, Default)]
pub struct StepAudit {
    /// The step's number; 0 for the only step of an item.
    pub number: u32,
    /// The start with labels, localised, hydrogens that arrows name drawn out.
    pub start: Option<Structure>,
    /// Whether the labels of the start are its own; else they are positions.
    pub start_is_labelled: bool,
    /// Why corrections that rest on its start have no grade, if they have none.
    pub doubt: Option<Doubt>,
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

/// Why nobody knows whether the start of a step is what was meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// Its electrons are impossible as drawn.
    Impossible,
    /// It goes on from the answer that is stated before it, though that is not the product there.
    RestsOnStated,
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
