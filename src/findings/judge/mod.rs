//! The judge: one item, its steps in stages, sequences, choices, sets of contributors.

mod choice;
mod contributors;
pub(super) mod item;
mod proposals;
mod sequence;
mod step;
