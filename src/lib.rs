//! keyassay audits banks of curved-arrow questions: it recomputes every stated answer from its arrows.
//!
//! The way of one item: [`bank`] reads a record, [`smiles`] its drawings into [`structure`]s, [`arrows`] its arrows;
//! [`mod@arrows::push`] sums the arrows, [`compare`] holds the product against the stated answer, [`findings`] name what is
//! wrong, [`mod@audit`] does so for every record in parallel, [`report`] tells people and programs.

pub mod arrows;
pub mod audit;
pub mod bank;
pub mod cli;
pub mod cml;
pub mod compare;
pub mod demonstration;
pub mod drawing;
pub mod findings;
pub mod known;
pub mod limits;
pub mod migration;
pub mod profile;
pub mod qti;
pub mod report;
pub mod resonance;
pub mod smiles;
pub mod source;
pub mod structure;
pub mod survey;
pub mod xml;

mod front;

pub use audit::{Audited, Summary, Totals};
pub use bank::given::{Given, Giver, Rows};
pub use findings::{Class, Finding, Severity};
pub use front::*;
pub use structure::OctetRule;
