//! Writing banks: the items of one format as another.
//!
//! Fields that are text stay the text that they are wherever the target holds text. What a target cannot carry is told, item by
//! item; an item that cannot be read in its own bank cannot be carried at all.

mod document;
mod from_one;
mod json;
mod package;
mod plain;
pub mod sheets;
mod table;
pub mod template;
pub mod xlsx;

pub use plain::{Plain, PlainStep, plain};

use super::item::{Item, Record};
use crate::limits::Limits;
use crate::qti::write::PackageWriter;
use std::io::{self, Write};

/// The formats that banks are written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// Comma-separated table.
    Csv,
    /// One JSON object a line.
    JsonLines,
    /// Chemical Markup Language.
    Cml,
    /// A workbook, `.xlsx`.
    Xlsx,
    /// A workbook, `.ods`.
    Ods,
    /// A zipped content package of QTI 2.2 items with CML companions.
    Qti,
}

/// What became of an item.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Carried {
    /// Why the item is not in the target; `None` where it is.
    pub left_out: Option<String>,
    /// What of it the target cannot carry.
    pub lost: Vec<String>,
}

/// Writes items one after the other.
pub struct BankWriter<W: Write> {
    output: Output<W>,
    limits: Limits,
}

enum Output<W: Write> {
    /// A table's columns are known when all items are.
    Table(W, Vec<Plain>),
    /// The same as a workbook; whether as `.ods`.
    Book(W, Vec<Plain>, bool),
    Lines(W),
    Document(crate::cml::Writer<W>),
    Package(PackageWriter<W>, package::Names),
}

impl<W: Write> BankWriter<W> {
    /// Begins a bank.
    ///
    /// # Errors
    /// Writing fails.
    pub fn new(out: W, target: Target, limits: &Limits) -> io::Result<Self> {
        let output = match target {
            Target::Csv => Output::Table(out, Vec::new()),
            Target::Xlsx => Output::Book(out, Vec::new(), false),
            Target::Ods => Output::Book(out, Vec::new(), true),
            Target::JsonLines => Output::Lines(out),
            Target::Cml => Output::Document(crate::cml::Writer::new(out)?),
            Target::Qti => Output::Package(PackageWriter::new(out), package::Names::default()),
        };
        Ok(Self { output, limits: limits.clone() })
    }

    /// Writes a record.
    ///
    /// # Errors
    /// Writing fails.
    pub fn record(&mut self, record: &Record) -> io::Result<Carried> {
        match &record.content {
            Ok(item) if item.labels_from_zero => self.item(&from_one::from_one(item, &self.limits)),
            Ok(item) => self.item(item),
            Err(bad) => Ok(Carried { left_out: Some(bad.message.clone()), lost: Vec::new() }),
        }
    }

    fn item(&mut self, item: &Item) -> io::Result<Carried> {
        let left_out = |why: String| Carried { left_out: Some(why), lost: Vec::new() };
        if let Output::Document(writer) = &mut self.output {
            let question = match document::question(item, &self.limits) {
                Ok(question) => question,
                Err(why) => return Ok(left_out(why)),
            };
            let lost = writer.question(&question)?;
            return Ok(Carried { left_out: None, lost: lost.iter().map(ToString::to_string).collect() });
        }
        if let Output::Package(writer, names) = &mut self.output {
            let (written, lost) = match names.written(item, &self.limits) {
                Ok(found) => found,
                Err(why) => return Ok(left_out(why)),
            };
            writer.item(&written)?;
            return Ok(Carried { left_out: None, lost });
        }
        let (plain, lost) = match plain(item, &self.limits) {
            Ok(found) => found,
            Err(why) => return Ok(left_out(why)),
        };
        match &mut self.output {
            Output::Table(_, items) => items.push(plain),
            Output::Book(_, items, _) => match table::too_long(&plain) {
                Some(why) => return Ok(left_out(why)),
                None => items.push(plain),
            },
            Output::Lines(out) => json::write(out, &plain)?,
            Output::Document(_) | Output::Package(..) => {}
        }
        Ok(Carried { left_out: None, lost })
    }

    /// Ends the bank.
    ///
    /// # Errors
    /// Writing fails.
    pub fn finish(self) -> io::Result<W> {
        match self.output {
            Output::Table(mut out, items) => {
                table::write(&mut out, &items)?;
                Ok(out)
            }
            Output::Book(mut out, items, as_ods) => {
                table::write_book(&mut out, &items, as_ods)?;
                Ok(out)
            }
            Output::Lines(mut out) => {
                out.flush()?;
                Ok(out)
            }
            Output::Document(writer) => writer.finish(),
            Output::Package(writer, _) => writer.finish(),
        }
    }
}
