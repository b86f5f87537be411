//! Where an item stands.

use crate::bank::place_name;
use crate::findings::Other;
use std::fmt;
use std::sync::Arc;

/// Where an item stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) file: Arc<str>,
    pub(super) line: u32,
}

impl Place {
    /// The item that stands here, as a finding names it.
    pub(super) fn other(&self, is_right: bool) -> Other {
        Other { file: self.file.to_string(), line: self.line, is_right }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&place_name(&self.file, self.line))
    }
}
