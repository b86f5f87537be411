//! Whether a bank that was moved still asks and answers the same: its items matched with those of the old one.
//!
//! Both banks are read once for their items as they are written ([`written`]), by which items are matched ([`pair`]). Only of items that
//! this does not settle it is worked out what they ask and answer ([`mod@print`]), without a judgement where that can be done; only items
//! that a row tells more of are read again and judged ([`detail`]).

pub mod detail;
mod index;
pub mod pair;
pub mod print;
mod stereo;
pub mod written;

pub use index::{Chosen, Contents, Indexed, contents, index, judged};
