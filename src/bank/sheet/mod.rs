//! Spreadsheets: each sheet with a header row is a table, whose rows are handed on as those of other tables are.
//!
//! The library gives cells in order and keeps hold of its file, so that it runs on a thread of its own, a few pieces ahead of whoever
//! asks. It is only given what [`check`] has gone through: a release of this program does not outlive a panic or a wild allocation.

mod beside;
mod binary;
mod check;
mod dates;
pub mod edit;
mod grid;
mod library;
mod merged;
mod records;
mod sample;
mod table;
mod tags;
mod well_formed;

pub(super) use sample::{Sampled, sample};

use super::batch::{Batch, Shared};
use super::qti::held;
use super::rows::column_name;
use super::source::{Again, OpenError, Settings};
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// Pieces that are ready before they are asked for.
const AHEAD: usize = 2;

/// What the thread that reads a workbook gives.
#[allow(clippy::large_enum_variant, reason = "nearly all that is given are pieces of sheets")]
enum Given {
    /// A sheet that is a bank begins.
    Sheet(Arc<Shared>),
    /// A piece of a sheet.
    Batch(Batch),
    /// Something to say of the workbook.
    Note(String),
    /// A sheet that is no bank, and why; whether it has columns of drawings.
    NoBank(String, bool),
    /// A sheet that an audit has written, and what it holds.
    Written(String),
    /// The workbook is no bank at all, or ends in a fault.
    Fault(String),
}

/// A workbook that is being read.
pub(super) struct WorkbookSource {
    given: Receiver<Given>,
    ahead: Option<Batch>,
    sheets: Vec<Arc<Shared>>,
    notes: Vec<String>,
}

impl WorkbookSource {
    /// Opens a workbook. Where it cannot be opened `again`, it is held in memory.
    pub(super) fn open(
        name: &str,
        reader: Box<dyn Read + Send>,
        again: Option<Again>,
        settings: &Arc<Settings>,
    ) -> Result<Self, OpenError> {
        let again = match again {
            Some(again) => again,
            None => held(reader, settings.limits.zip_entry_bytes)?,
        };
        let checked = check::check(again, &settings.limits)?;
        let (sender, given) = sync_channel(AHEAD);
        let (own_name, own_settings) = (name.to_owned(), Arc::clone(settings));
        let read = move || {
            let to = table::To { name: &own_name, settings: &own_settings, sender: &sender };
            if let Err(fault) = library::read(checked, &own_settings.limits, to) {
                // Whoever asked has gone: nobody needs it.
                let _ = sender.send(Given::Fault(fault));
            }
        };
        thread::Builder::new().name("workbook".to_owned()).spawn(read)?;
        let mut source = Self { given, ahead: None, sheets: Vec::new(), notes: Vec::new() };
        let why = source.first_batch(name)?;
        if source.ahead.is_some() || !source.sheets.is_empty() { Ok(source) } else { Err(why) }
    }

    /// Reads on to the first piece; gives why the workbook is no bank if there is none.
    fn first_batch(&mut self, name: &str) -> Result<OpenError, OpenError> {
        let (mut written, mut other) = (None, None::<(String, bool)>);
        loop {
            match self.given.recv() {
                Ok(Given::Batch(batch)) => {
                    self.ahead = Some(batch);
                    break;
                }
                Ok(Given::Fault(fault)) => return Err(OpenError::NoBank(fault)),
                Ok(Given::NoBank(told, of_drawings)) => {
                    self.notes.push(format!("{name}: {told}"));
                    if other.as_ref().is_none_or(|(_, before)| of_drawings && !before) {
                        other = Some((told, of_drawings));
                    }
                }
                Ok(Given::Written(what)) => written = written.or(Some(what)),
                Ok(given) => self.keep(name, given),
                Err(_) => break,
            }
        }
        Ok(match (written, other) {
            (Some(what), _) => OpenError::NoItems(what),
            (None, Some((why, true))) => OpenError::NoBank(why),
            (None, Some((why, false))) => OpenError::OtherTable(why),
            (None, None) => OpenError::NoItems("it has no sheet with cells".to_owned()),
        })
    }

    fn keep(&mut self, name: &str, given: Given) {
        match given {
            Given::Sheet(shared) => self.sheets.push(shared),
            Given::Note(note) | Given::NoBank(note, _) | Given::Written(note) => {
                self.notes.push(format!("{name}: {note}"));
            }
            Given::Batch(_) | Given::Fault(_) => {}
        }
    }

    /// The next piece.
    pub(super) fn next_batch(&mut self) -> io::Result<Option<Batch>> {
        if let Some(ahead) = self.ahead.take() {
            return Ok(Some(ahead));
        }
        loop {
            match self.given.recv() {
                Ok(Given::Batch(batch)) => return Ok(Some(batch)),
                Ok(Given::Fault(fault)) => return Err(io::Error::other(fault)),
                Ok(other) => {
                    let name =
                        self.sheets.first().and_then(|own| own.name.split('#').next()).unwrap_or_default().to_owned();
                    self.keep(&name, other);
                }
                Err(_) => return Ok(None),
            }
        }
    }

    /// The sheets that are banks, so far.
    pub(super) fn sheets(&self) -> &[Arc<Shared>] {
        &self.sheets
    }

    /// What there is to say of the workbook, so far.
    pub(super) fn notes(&self) -> &[String] {
        &self.notes
    }
}

/// Sends what was read; `false` where nobody listens any more.
fn send(sender: &SyncSender<Given>, given: Given) -> bool {
    sender.send(given).is_ok()
}

/// The name of a cell, by its row from 1 and its column from 0: `C17`.
pub(super) fn cell_name(row: u32, column: u32) -> String {
    format!("{}{row}", column_name(column))
}

#[cfg(test)]
mod tests {
    use super::cell_name;

    #[test]
    fn cells_are_named_as_in_sheets() {
        let cases = [(1, 0, "A1"), (17, 2, "C17"), (3, 25, "Z3"), (3, 26, "AA3"), (1_048_576, 16_383, "XFD1048576")];
        let wrong: Vec<_> = cases.into_iter().filter(|(row, column, name)| cell_name(*row, *column) != *name).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
