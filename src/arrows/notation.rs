//! The text notation of arrows, read as it is defined ([`grammar`](super::grammar)) or in another spelling that has one reading, and
//! written back.

pub(crate) use super::grammar::pieces;
use super::grammar::read_notation;
pub use super::grammar::{ArrowsError, ArrowsFault, ArrowsReading, DASHES, Normalised, write};
use super::loose;

/// Reads an arrow field; at most `limit` arrows. A fault ends its arrow, and reading goes on with the next one.
#[must_use]
pub fn read(text: &str, limit: usize) -> ArrowsReading {
    let reading = read_notation(text, limit);
    let is_long = || reading.faults.iter().any(|error| matches!(error.fault, ArrowsFault::TooMany(_)));
    if reading.faults.is_empty() || is_long() {
        return reading;
    }
    match loose::read(text, limit) {
        Some(loose) => ArrowsReading { normalised: reading.normalised, ..loose },
        None => reading,
    }
}
