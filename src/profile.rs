//! Profiles: what a department sets for its banks once, in a TOML file beside them.
//!
//! A profile is read whole or refused: every key that it may not have, and every value that a key cannot take, is a
//! [`Fault`] at its place. Where a profile is looked for is the command line's business.

pub mod guess;
mod nearest;
mod read;

pub use nearest::nearest;
pub use read::{FIELDS, KEYS, read};

use crate::bank;
use crate::bank::{Accept, Task};
use crate::findings::{self, Distractors, Name, Severity};
use crate::limits::Limits;
use crate::smiles;
use crate::source::{Encoding, Span};
use crate::structure::OctetRule;
use std::collections::{BTreeMap, HashMap};

/// What a profile sets; what it does not set is as usual.
#[derive(Debug, Clone, Default)]
pub struct Profile {
    /// The task of items that name none.
    pub task: Task,
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// Whether notation beyond the standard is an error.
    pub strict_smiles: bool,
    /// Which drawings of the product are right in items that do not say.
    pub accept: Accept,
    /// How faults of wrong options are judged.
    pub distractors: Distractors,
    /// The encoding of files without a byte order mark.
    pub encoding: Option<Encoding>,
    /// The encoding of files by patterns of their paths; the last that fits counts.
    pub encodings: Vec<(String, Encoding)>,
    /// The list of known findings, as a path from the profile's folder.
    pub known: Option<String>,
    /// The row of a table that is its header, counted from 1; 0 where there is none; else it is looked for.
    pub header_row: Option<u32>,
    /// The separator of tables that name none; else the header shows it.
    pub separator: Option<u8>,
    /// Whether arrows count the atoms of a start without labels from 0.
    pub labels_from_zero: bool,
    /// Fields whose empty cells are filled from above.
    pub fill_down: Vec<bank::fields::Name>,
    /// Patterns of the files that are banks, from the profile's folder; none: all that look like banks.
    pub files: Vec<String>,
    /// The headers under which fields are found, by field.
    pub columns: BTreeMap<&'static str, Vec<String>>,
    /// Severities other than the catalogue's.
    pub severities: BTreeMap<Name, Severity>,
    /// Words of the bank's own for tasks, in lower case.
    pub task_words: Vec<(String, bank::Task)>,
    /// Caps.
    pub limits: Limits,
    /// What the profile says, in its order: for people who ask what applies and from where.
    pub stated: Vec<Stated>,
}

/// One key of a profile as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stated {
    /// The key with its table: `limits.atoms`.
    pub key: String,
    /// The value.
    pub value: String,
    /// The line.
    pub line: u32,
}

/// Why a profile is refused, at one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong.
    pub message: String,
    /// What to do; empty where the message says it.
    pub remedy: String,
    /// Where, in the bytes of the profile.
    pub span: Span,
}

impl Profile {
    /// How banks are read under this profile.
    #[must_use]
    pub fn bank(&self) -> bank::Settings {
        bank::Settings {
            limits: self.limits.clone(),
            default_task: self.task,
            task_words: self.task_words.clone(),
            columns: self.names(),
            keep_extra: false,
            encoding: self.encoding,
            header_row: self.header_row,
            separator: self.separator,
            labels_from_zero: self.labels_from_zero,
            fill_down: self.fill_down.clone(),
        }
    }

    /// How items are judged under this profile.
    #[must_use]
    pub fn judge(&self) -> findings::Settings {
        findings::Settings {
            limits: self.limits.clone(),
            octet: self.octet,
            smiles: smiles::Options { limits: self.limits.clone(), ..smiles::Options::default() },
            distractors: self.distractors,
            accept: self.accept,
        }
    }

    /// The field of each header. A field that the profile finds under other headers is not found under its own name, unless
    /// that is one of them.
    fn names(&self) -> HashMap<String, String> {
        let own = self.columns.keys().map(|field| ((*field).to_owned(), String::new()));
        let given = self
            .columns
            .iter()
            .flat_map(|(field, headers)| headers.iter().map(|header| (column_key(header), (*field).to_owned())));
        own.chain(given).collect()
    }
}

/// How a header is looked up: in lower case; a column that is named by its number is named by its letter.
fn column_key(header: &str) -> String {
    let key = header.trim().to_lowercase();
    let number = key.strip_prefix("column ").and_then(|own| own.trim().parse::<u32>().ok()).filter(|own| *own > 0);
    number.map_or(key, |number| bank::rows::column_label(number - 1).to_lowercase())
}
