//! The checks of the suite, as the targets call them.

#[path = "../tests/suite/invariants.rs"]
#[allow(dead_code, reason = "the suite uses more of it")]
mod invariants;

/// Runs the check of this name.
pub fn check(name: &str, bytes: &[u8]) {
    if let Some((_, check)) = invariants::CHECKS.iter().find(|(own, _)| *own == name) {
        check(bytes);
    }
}
