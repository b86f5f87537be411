//! Proposes a profile from what the tables of a bank hold.
//!
//! Headers say little: they are in any language, or not there. What decides is what cells are (structures, arrows, numbers, lists) and
//! what the arrows lead to: the column that is the product is the answer. Whatever is proposed is read back as a profile, and the bank
//! under it, before it is given.

mod cells;
mod check;
mod mechanism;
mod others;
mod print;
mod push;
mod series;
mod table;
mod words;

pub use table::READ;

use crate::bank::Format;
use crate::bank::fields::Name as FieldName;
use crate::bank::rows::HEADER_ROWS;
use crate::bank::sample::{Samples, Way};
use crate::qti::Bytes;
use crate::source::Encoding;
use mechanism::Mechanism;
use others::Others;
use std::collections::BTreeSet;
use std::io;
use std::sync::Arc;
use table::Table;

/// A file of a bank.
pub struct Bank {
    /// Its name.
    pub name: String,
    /// Its format.
    pub format: Format,
    /// The beginnings of its tables.
    pub samples: Samples,
    /// Opens it.
    pub open: Arc<dyn Fn() -> io::Result<Box<dyn Bytes>> + Send + Sync>,
}

/// A proposal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposal {
    /// The profile, with what is to be said of it in comments.
    pub text: String,
    /// Items that were read under it, and those of them that come out sound.
    pub items: u64,
    /// How many of them are sound.
    pub sound: u64,
}

/// Proposes a profile for these files; `None` where no table of them is a bank.
#[must_use]
pub fn propose(banks: &[Bank]) -> Option<Proposal> {
    let guesses: Vec<FileGuess> = banks.iter().map(FileGuess::new).collect();
    let draft = print::Draft::new(&guesses)?;
    let checked = check::read(&draft.text(), banks);
    Some(Proposal { text: draft.with(&checked), items: checked.items, sound: checked.sound })
}

/// What is guessed of a file.
struct FileGuess {
    encoding: Option<Encoding>,
    /// The separator, where it has to be named.
    separator: Option<u8>,
    tables: Vec<TableGuess>,
}

impl FileGuess {
    fn new(bank: &Bank) -> Self {
        let samples = &bank.samples;
        let has_keys = samples.has_keys;
        let guessed = |way: &Way| -> (usize, Option<u8>, Vec<TableGuess>) {
            let tables: Vec<TableGuess> =
                way.tables.iter().map(|own| TableGuess::new(&Table::new(own, has_keys))).collect();
            let score = tables.iter().map(TableGuess::score).sum();
            (score, way.separator, tables)
        };
        let mut best: Option<(usize, Option<u8>, Vec<TableGuess>)> = None;
        for own in samples.ways.iter().map(guessed) {
            if best.as_ref().is_none_or(|(most, ..)| own.0 > *most) {
                best = Some(own);
            }
        }
        let (_, separator, tables) = best.unwrap_or_default();
        let shown = tables.iter().find(|own| own.is_bank()).map_or(Some(b','), |own| own.shown_separator);
        let separator =
            separator.filter(|own| Some(*own) != shown && !samples.names_separator && bank.format == Format::Csv);
        Self { encoding: samples.encoding, separator, tables }
    }
}

/// What is guessed of a table.
#[derive(Debug, Clone, Default)]
struct TableGuess {
    name: String,
    /// The line of the header.
    header: Option<u32>,
    /// Whether the header is looked for so far down.
    header_is_near: bool,
    /// Rows that ask something, and whether there are more of them.
    rows: usize,
    is_cut: bool,
    mechanism: Mechanism,
    others: Others,
    /// Each field with how a profile calls its column, and what is to be said of it.
    fields: Vec<Placed>,
    /// Columns that hold something else.
    unplaced: Vec<String>,
    /// Columns that are called like a field and hold something else.
    misnamed: Vec<(String, &'static str)>,
    /// The separator that the reader takes by itself.
    shown_separator: Option<u8>,
    /// What the column of ids holds.
    ids: BTreeSet<String>,
}

/// A column that holds a field.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Placed {
    field: String,
    column: String,
    note: String,
}

impl TableGuess {
    fn new(table: &Table<'_>) -> Self {
        let mechanism = mechanism::find(table);
        let others = others::find(table, &mechanism);
        let header = table.header;
        let mut own = Self {
            name: table.sample.name.clone(),
            header: header.and_then(|at| table.sample.rows.get(at)).map(|(line, _)| *line),
            header_is_near: header.is_none_or(|at| at < HEADER_ROWS),
            rows: table.data.len(),
            is_cut: table.sample.is_cut || table.data.len() == table::ROWS,
            shown_separator: table.shown_separator(),
            mechanism,
            others,
            ..Self::default()
        };
        if let Some(id) = own.others.id {
            own.ids =
                table.data.iter().map(|row| table.cell(*row, id).to_owned()).filter(|id| !id.is_empty()).collect();
        }
        let placed = own.placed();
        own.fields = placed
            .iter()
            .map(|(field, at)| Placed {
                field: field.clone(),
                column: table.name(*at),
                note: own.note(table, field, *at),
            })
            .collect();
        let is_placed = |at: &usize| placed.iter().any(|(_, own)| own == at);
        for at in (0..table.columns.len()).filter(|at| !is_placed(at)) {
            let header = table.header_text(at);
            let is_field = |text: &str| FieldName::from_text(text).is_some_and(|own| own != FieldName::Tags);
            if let Some(field) =
                super::FIELDS.iter().find(|own| own.eq_ignore_ascii_case(header)).filter(|_| is_field(header))
            {
                own.misnamed.push((header.to_owned(), field));
            }
            if table.columns[at].filled > 0 {
                own.unplaced.push(format!("'{}' ({})", table.name(at), print::kind_of(&table.columns[at])));
            }
        }
        own
    }

    /// Whether the table is a bank.
    fn is_bank(&self) -> bool {
        let own = &self.mechanism;
        own.start.is_some() && (own.arrows.is_some() || own.answer.is_some() || own.answers.is_some())
    }

    /// How much speaks for a way to take a file apart.
    fn score(&self) -> usize {
        if !self.is_bank() {
            return 0;
        }
        1 + self.rows + 100 * self.mechanism.fitting + self.fields.len()
    }

    /// The fields that were found, each with its column.
    fn placed(&self) -> Vec<(String, usize)> {
        let Self { mechanism, others, .. } = self;
        let single = [
            ("id", others.id),
            ("task", others.task),
            ("step", others.step),
            ("start", mechanism.start),
            ("arrows", mechanism.arrows),
            ("answer", mechanism.answer),
            ("answers", mechanism.answers),
            ("omits", mechanism.omits),
            ("accept", others.accept),
            ("options", mechanism.list),
        ];
        let mut placed: Vec<(String, usize)> =
            single.into_iter().filter_map(|(name, at)| Some((name.to_owned(), at?))).collect();
        let letters = (b'a'..=b'z').map(char::from);
        placed.extend(letters.zip(&mechanism.options).map(|(letter, at)| (format!("option_{letter}"), *at)));
        let behind = [("key", mechanism.key), ("prompt", others.prompt), ("tags", others.tags)];
        placed.extend(behind.into_iter().filter_map(|(name, at)| Some((name.to_owned(), at?))));
        placed
    }

    /// What is to be said of a guess: how many rows it reads.
    fn note(&self, table: &Table<'_>, field: &str, at: usize) -> String {
        let (column, rows, own) = (&table.columns[at], self.rows, &self.mechanism);
        let of = |count: usize, what: &str| format!("{count} of {rows} rows {what}");
        match field {
            "start" | "omits" => of(column.drawings, "read as structures"),
            "arrows" if own.from_zero => {
                of(column.arrows, "read as arrows") + "; they count atoms from 0: only so do they lead to the answers"
            }
            "arrows" => of(column.arrows, "read as arrows"),
            "answer" if column.filled == 0 => "nothing is filled in yet: taken for its name".to_owned(),
            "answer" if own.fitting > 0 && own.options.is_empty() => {
                let (fitting, tried) = (own.fitting, own.tried);
                of(column.drawings, "read as structures")
                    + &format!("; the product in {fitting} of {tried} rows that were pushed")
            }
            "answer" => of(column.drawings, "read as structures") + "; taken for its place: no row proves it",
            "answers" | "options" => of(column.lists + column.drawings, "read as structures"),
            "key" => format!(
                "names the option that is the product in {} of {} rows that were pushed",
                own.fitting, own.tried
            ),
            _ if field.starts_with("option_") => of(column.drawings, "read as structures"),
            "step" => of(column.numbers, "count steps"),
            _ => of(column.filled, "are filled"),
        }
    }
}
