//! keyassay audits banks of curved-arrow questions: it recomputes every stated answer from its arrows.
//!
//! The way of one item: [`bank`] reads a record, [`smiles`] its drawings into [`structure`]s, [`arrows`] its arrows;
//! [`mod@arrows::push`] sums the arrows, [`compare`] holds the product against the stated answer, [`findings`] name what is
//! wrong, [`mod@audit`] does so for every record in parallel, [`report`] tells people and programs.
//!
//! The core by hand, for a start without delocalised bonds:
//!
//! ```
//! use keyassay::arrows::resolve::{readings, resolve};
//! use keyassay::arrows::{infer::drawn, notation, push};
//! use keyassay::compare::{arrows_between, compare};
//! use keyassay::smiles::{self, Labels};
//! use keyassay::structure::LabelIndex;
//!
//! let start = smiles::read("[CH2-:1][CH:2]=[O:3]").structure;
//! let labels = LabelIndex::new(&start);
//! let written = notation::read("1 -> 1-2; 2-3 -> 3", 100);
//! assert!(written.faults.is_empty());
//! let resolved = resolve(start.clone(), &labels, &written.arrows);
//! let arrows = readings(&resolved.arrows, 1).next().expect("there is a first reading");
//! let pushed = push(&resolved.start, &arrows).expect("each tail finds its electrons");
//! assert_eq!(smiles::write(&pushed.product, Labels::Classes), "[CH2:1]=[CH:2][O-:3]");
//!
//! let stated = smiles::read("[CH2:1]=[CH:2][O:3]").structure;
//! let compared = compare(&pushed.product, &stated, &labels, 10_000);
//! let words = compared.differences.list[0].words(&pushed.product, &stated);
//! assert_eq!(words, "O3: stated charge 0, should be -1");
//!
//! let found = arrows_between(&start, &pushed.product, &labels, 10_000).expect("there are arrows");
//! let way = drawn(&found.start, &found.ways[0]).expect("they can be written");
//! assert_eq!(notation::write(&way), "1 -> 1-2; 2-3 -> 3");
//! ```

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
