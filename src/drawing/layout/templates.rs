//! Cages that people draw in one way, matched on the bare skeleton.

use super::skeleton::Skeleton;
use crate::drawing::geometry::Position;

/// The points of a known cage where the whole block is one.
pub(super) fn whole(_block: &Skeleton) -> Option<Vec<Position>> {
    None
}
