//! Which drawing of an item a finding is about, and what it is called.

use crate::bank::key::letter as option_letter;

/// Which drawing of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    Start,
    Answer,
    Product,
    Option(usize),
    Contributor(usize),
    Omits,
}

impl Role {
    /// How messages call it, with its article where it needs one.
    pub(super) fn words(self) -> String {
        match self {
            Self::Start => "the start".to_owned(),
            Self::Answer => "the stated answer".to_owned(),
            Self::Product => "the recomputed product".to_owned(),
            Self::Option(at) => format!("option {}", option_letter(at)),
            Self::Contributor(at) => format!("contributor {}", at + 1),
            Self::Omits => "what the item leaves out on purpose ('omits')".to_owned(),
        }
    }
}
