//! Whether a bank that was moved still asks and answers the same: its items matched with those of the old one.
//!
//! Both banks are read once for a few numbers an item ([`mod@print`]), from which items are matched ([`pair`]). Only items that a row
//! tells more of are read again ([`detail`]).

pub mod detail;
mod index;
pub mod pair;
pub mod print;
mod stereo;

pub use index::{Indexed, index};
