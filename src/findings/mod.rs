//! Judgement: what is wrong with an item, under which names.

pub mod bankwide;
pub mod catalogue;
mod correction;
pub mod digest;
mod fix;
mod judge;
pub(crate) mod painted;
pub mod quick;
mod role;
mod rules;
mod settle;
pub mod slips;
mod verdict;

pub use crate::bank::key::letter as option_letter;
pub use catalogue::{Entry, Name, Severity};
pub use correction::find_places;
pub use fix::{Correction, Grade, Target};
pub use judge::item::{Judgement, judge};
pub use rules::content;
pub use rules::context::{Context, Distractors, Settings};
pub use rules::several::{SequenceStep, cut_words, sequence_of, start_text};
use verdict::tell;
pub use verdict::{Accepted, Class, Doubt, Finding, OptionAudit, Other, StepAudit, classify};
