//! The demonstration bank, built into the program: the problem sets of a college that does not exist.

use crate::audit::{Content, Input};
use crate::bank::Format;

/// The files of the bank as inputs of an audit.
#[must_use]
pub fn inputs() -> Vec<Input> {
    let file = |name: &str, format, bytes| Input {
        name: format!("demonstration/{name}"),
        format,
        encoding: None,
        content: Content::BuiltIn(bytes),
    };
    vec![
        file("carbonyls.cml", Format::Cml, include_bytes!("../corpus/demonstration/carbonyls.cml")),
        file("choices.csv", Format::Csv, include_bytes!("../corpus/demonstration/choices.csv")),
        file("contributors.jsonl", Format::JsonLines, include_bytes!("../corpus/demonstration/contributors.jsonl")),
        file("mechanisms.jsonl", Format::JsonLines, include_bytes!("../corpus/demonstration/mechanisms.jsonl")),
        file("migrated-2016.csv", Format::Csv, include_bytes!("../corpus/demonstration/migrated-2016.csv")),
        file("resonance.csv", Format::Csv, include_bytes!("../corpus/demonstration/resonance.csv")),
        file("sequences.jsonl", Format::JsonLines, include_bytes!("../corpus/demonstration/sequences.jsonl")),
        file("steps.csv", Format::Csv, include_bytes!("../corpus/demonstration/steps.csv")),
    ]
}
