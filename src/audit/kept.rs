//! What a partial audit keeps of judged items.

use crate::bank::Batch;
use crate::findings::Finding;
use crate::findings::digest::Digest;
use serde::{Deserialize, Serialize};

/// What is kept of a judged item: what bank-wide findings need of it, stereo marks that were not compared, what was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Kept(pub(super) Digest, pub(super) u32, pub(super) Vec<Finding>);

impl Kept {
    /// Whether there is nothing to say of the item.
    pub(super) fn is_sound(&self) -> bool {
        self.2.is_empty() && self.1 == 0
    }
}

/// A batch and what is known of its items.
pub(super) type Known = (Batch, Option<Vec<Option<Kept>>>);
