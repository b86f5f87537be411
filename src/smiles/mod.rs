//! SMILES, read and written (OpenSMILES 1.0).

mod bracket;
pub(crate) mod brackets;
mod direction;
mod direction_marks;
mod error;
pub(crate) mod grammar;
mod hints;
mod loose;
mod read;
#[cfg(test)]
mod tests;
mod write;

pub(crate) use bracket::Mark;
pub use error::{SmilesError, SmilesFault};
pub use loose::{LooseForm, LooseKind};
pub(crate) use loose::{reaction_tails, split_tail};
pub use read::{Options, Reading, read, read_with};
pub(crate) use read::{bare_symbol, understood_hydrogens};
pub use write::{Labels, write, write_part};
pub(crate) use write::{write_in_order, write_labelled};
