//! What judgement depends on, other than the item.

use crate::bank::{Accept, Chunk};
use crate::findings::rules::drawing::DrawingReader;
use crate::findings::rules::omits::Omits;
use crate::limits::Limits;
use crate::smiles;
use crate::structure::{OctetRule, Structure};

/// How grave it is that a wrong option of a multiple choice is itself over-full or unbalanced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Distractors {
    /// A note: that is often its purpose.
    #[default]
    Usual,
    /// An error.
    Strict,
}

/// What judgement depends on, other than the item.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Settings {
    /// Caps.
    pub limits: Limits,
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// How structures are read.
    pub smiles: smiles::Options,
    /// How faults of wrong options are judged.
    pub distractors: Distractors,
    /// Which drawings of the product are right in items that do not say.
    pub accept: Accept,
}

/// The surroundings of one item.
#[allow(clippy::struct_excessive_bools, reason = "each is a condition of its own")]
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// The settings of the run.
    pub settings: &'a Settings,
    /// The text in which places are found.
    pub chunk: &'a Chunk,
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// Whether the answer stands in options or in a set, so that a step without one lacks nothing.
    pub answer_is_elsewhere: bool,
    /// Whether only the product is wanted, so that a step without an answer lacks nothing.
    pub product_only: bool,
    /// Which drawings of the product are right.
    pub accept: Accept,
    /// Species that the item leaves out on purpose.
    pub omits: Option<&'a Omits>,
    /// Whether other Kekulé forms of rings are the same drawing: in `resonance` a contributor is a drawing, elsewhere a compound is meant.
    pub any_kekule_form: bool,
    /// The options, the keyed one first: they decide where arrows can be read in several ways.
    pub options: &'a [&'a Structure],
    /// The number of the first atom of a start without labels.
    pub first_label: u32,
}

impl<'a> Context<'a> {
    /// The surroundings of the items of one chunk.
    #[must_use]
    pub fn new(settings: &'a Settings, chunk: &'a Chunk) -> Self {
        Self {
            settings,
            chunk,
            octet: settings.octet,
            answer_is_elsewhere: false,
            product_only: false,
            accept: settings.accept,
            omits: None,
            any_kekule_form: true,
            options: &[],
            first_label: 1,
        }
    }

    pub(crate) fn reader(&self) -> DrawingReader<'a> {
        DrawingReader {
            chunk: self.chunk,
            limits: &self.settings.limits,
            octet: self.octet,
            options: &self.settings.smiles,
        }
    }
}
