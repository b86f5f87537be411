//! Drawn stereochemistry where no arrow touches.

use super::Finding;
use crate::compare::Mapping;
use crate::structure::{AtomId, Structure};

/// Compares the marks at atoms and bonds that no arrow touches.
pub(super) fn judge_stereo(
    _product: &Structure,
    _stated: &Structure,
    _mapping: &Mapping,
    _is_touched: &dyn Fn(AtomId) -> bool,
    _findings: &mut Vec<Finding>,
) {
}
