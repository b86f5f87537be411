//! A correction as data: what a field should say, how sure that is, and why.

use crate::bank::amend::Replacement;

/// How sure a correction is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub enum Grade {
    /// A proposal for a person to look at; never applied.
    None,
    /// The stated answer can be meant, and the arrows are replaced by those that lead there.
    Likely,
    /// The arrows are clean, and the slip lies in the answer.
    Certain,
}

impl Grade {
    /// `none`, `likely` or `certain`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Likely => "likely",
            Self::Certain => "certain",
        }
    }

    /// What it means, and what `amend` does with it.
    #[must_use]
    pub fn guide(self) -> (&'static str, &'static str) {
        match self {
            Self::Certain => (
                "One field is wrong under every reading, and the proposal is the only one that the other fields allow.",
                "`keyassay amend` applies it.",
            ),
            Self::Likely => (
                "One field is probably wrong; for the other reading two changes or more would be needed.",
                "`keyassay amend --grade likely` applies it: read these proposals first.",
            ),
            Self::None => (
                "Arrows and answer are equally suspect, or a further step explains the answer: every proposal is for a person to look at.",
                "`keyassay amend` applies it only where its row says `accept`.",
            ),
        }
    }

    /// The grade with this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::None, Self::Likely, Self::Certain].into_iter().find(|own| own.name() == name)
    }
}

/// Which field of a step a correction is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub enum Target {
    /// `answer`
    Answer,
    /// `arrows`
    Arrows,
    /// `key`
    Key,
    /// `steps`: the one step is to be a sequence.
    Steps,
}

impl Target {
    /// The field's name in banks.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Answer => "answer",
            Self::Arrows => "arrows",
            Self::Key => "key",
            Self::Steps => "steps",
        }
    }

    /// The field with this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Answer, Self::Arrows, Self::Key, Self::Steps].into_iter().find(|own| own.name() == name)
    }
}

/// What one field of one step should say.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Correction {
    /// The field.
    pub field: Target,
    /// What it says now; empty where it says nothing.
    pub stated: String,
    /// What it should say.
    pub proposed: String,
    /// Whether the proposal is markup, because the bank has markup there.
    pub is_markup: bool,
    /// How sure that is.
    pub grade: Grade,
    /// Whether nobody knows what was meant, so that nothing that is found later gives it a grade.
    #[serde(default)]
    pub is_in_doubt: bool,
    /// Why, in a sentence.
    pub why: String,
    /// Which characters of the file to write over, and with what; known only where that was asked for.
    pub replacement: Option<Replacement>,
    /// For other arrows: what the answer should say if the arrows are meant as they are; for that answer: the sequence that leads on
    /// to the stated one.
    pub instead: Option<Box<Correction>>,
}

impl Correction {
    /// The correction and what may be done instead, one after the other.
    pub fn each(&self) -> impl Iterator<Item = &Self> {
        std::iter::successors(Some(self), |own| own.instead.as_deref())
    }

    pub(super) fn new(field: Target, proposed: String, grade: Grade, why: impl Into<String>) -> Self {
        Self {
            field,
            stated: String::new(),
            proposed,
            is_markup: false,
            grade,
            is_in_doubt: false,
            why: why.into(),
            replacement: None,
            instead: None,
        }
    }
}

/// One step of the field `steps`, as a bank in JSON has it.
#[derive(serde::Serialize)]
pub(super) struct StepRow {
    /// Where the step redraws it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start: Option<String>,
    pub arrows: String,
    pub answer: String,
}

/// The field `steps` of a bank in JSON.
pub(super) fn steps_text(rows: &[StepRow]) -> String {
    // Texts are written into memory, which does not fail.
    serde_json::to_string(rows).unwrap_or_default()
}
