//! Banks: files of items, read one piece at a time.
//!
//! A [`Source`] gives [`Batch`]es in the order of the file. A batch is either text still to be read, which any thread can
//! do ([`Batch::records`]), or records that the source has read because its format can only be read in order.

pub mod amend;
mod batch;
mod cells;
pub mod chunk;
mod cml;
mod cut;
pub mod fields;
pub mod given;
mod header;
pub mod item;
mod json;
pub mod key;
mod pieces;
mod plain;
mod qti;
mod qti_item;
mod reaction_smiles;
pub mod rows;
pub mod sample;
mod sheet;
mod source;
pub(crate) mod table;
pub mod walk;
pub mod write;
mod zipped;

pub use batch::Batch;
pub use chunk::{Chunk, Spot};
pub(crate) use cml::drawing_faults;
pub use item::{Accept, Arrows, BadRecord, Drawing, DrawingFault, Field, Item, Record, Step, Task, Tasks};
pub(crate) use plain::trimmed;
pub use plain::{Plain, Taker};
pub use source::{Again, OpenError, Settings, Source, open, open_again, open_given};

/// The name of an item without an id: where it stands. Rows that a program gives stand in no file.
#[must_use]
pub fn place_name(file: &str, line: u32) -> String {
    if file.is_empty() { format!("row {line}") } else { format!("{file}:{line}") }
}

/// Whether a list of texts is one of arrows.
fn arrows_of_list(texts: &[&str]) -> bool {
    texts.iter().any(|text| text.contains(['>', '\u{2192}']))
}

/// The formats of banks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Format {
    /// Comma- or semicolon-separated table.
    Csv,
    /// Tab-separated table.
    Tsv,
    /// One JSON object a line.
    JsonLines,
    /// An array of JSON objects.
    Json,
    /// Chemical Markup Language.
    Cml,
    /// XML of either kind, told apart by its root.
    Xml,
    /// QTI items.
    Qti,
    /// A zipped content package of QTI items.
    Package,
    /// `start>>answer`, arrows and id, tab-separated.
    ReactionSmiles,
    /// A spreadsheet; which kind, its first bytes say.
    Workbook,
}

impl Format {
    /// All formats with the names by which `--as` and file endings call them.
    pub const NAMES: &'static [(&'static str, Self)] = &[
        ("csv", Self::Csv),
        ("tsv", Self::Tsv),
        ("jsonl", Self::JsonLines),
        ("ndjson", Self::JsonLines),
        ("json", Self::Json),
        ("cml", Self::Cml),
        ("xml", Self::Xml),
        ("qti", Self::Qti),
        ("zip", Self::Package),
        ("smi", Self::ReactionSmiles),
        ("rsmi", Self::ReactionSmiles),
        ("xlsx", Self::Workbook),
        ("xlsm", Self::Workbook),
        ("xlsb", Self::Workbook),
        ("xls", Self::Workbook),
        ("ods", Self::Workbook),
    ];

    /// The format with this name or file ending.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(own, _)| own.eq_ignore_ascii_case(name)).map(|(_, format)| *format)
    }
}
