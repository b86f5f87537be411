//! A zip file that is no content package and holds banks: tables, JSON, CML, QTI documents, reaction SMILES, workbooks.
//!
//! Each is read as it would be beside the others in a folder, in the order of names. What cannot be read is told once, under the
//! name of its entry.

use super::Format;
use super::batch::{Batch, Content, Shared};
use super::item::Record;
use super::qti::{bad_entry, told};
use super::rows::Unasked;
use super::source::{OpenError, Settings, Source, open};
use super::walk;
use crate::qti::Package;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// A zip file of banks that is being read.
pub(super) struct ZippedSource {
    name: String,
    settings: Arc<Settings>,
    package: Package,
    /// What is still to be opened.
    entries: std::vec::IntoIter<(String, Format)>,
    /// What cannot be read, still to be told.
    faults: std::vec::IntoIter<(String, String)>,
    open: Option<(Box<Source>, Arc<str>)>,
    unasked: Vec<(String, Unasked)>,
    notes: Vec<String>,
    not_ours: u64,
}

/// The banks of a zip file by their names, in order.
fn banks(package: &Package) -> Vec<(String, Format)> {
    let names = package.names().into_iter().filter(|(name, _)| !is_hidden(name));
    let named = names.filter_map(|(name, _)| Some((name.to_owned(), walk::of_file(Path::new(name))?)));
    named.filter(|(_, format)| *format != Format::Package).collect()
}

/// Whether a file or a folder on the way to it is hidden, as `.git` is.
fn is_hidden(name: &str) -> bool {
    name.split('/').any(|part| part.starts_with('.'))
}

impl ZippedSource {
    /// Opens the banks of a zip file, if it holds any.
    pub(super) fn of(name: &str, package: Package, settings: &Arc<Settings>) -> Result<Self, OpenError> {
        let entries = banks(&package);
        if entries.is_empty() {
            let why = package.no_manifest();
            return Err(OpenError::NoBank(format!("{why}; and no file in it has the ending of a bank")));
        }
        let inner: Vec<&str> = package.names().into_iter().map(|(name, _)| name).collect();
        let left: Vec<&&str> =
            inner.iter().filter(|own| walk::of_file(Path::new(own)) == Some(Format::Package)).collect();
        let notes =
            left.iter().map(|own| format!("{name}/{own}: a package in a zip file is not read: unpack it")).collect();
        let faults = told(&package, |_| false).into_iter();
        let readable = entries.into_iter().filter(|(own, _)| package.has(own)).collect::<Vec<_>>().into_iter();
        Ok(Self {
            name: name.to_owned(),
            settings: Arc::clone(settings),
            entries: readable,
            faults,
            package,
            open: None,
            unasked: Vec::new(),
            notes,
            not_ours: 0,
        })
    }

    /// Rows without a question of the banks that were read.
    pub(super) fn unasked(&self) -> Vec<(String, Unasked)> {
        let open = self.open.iter().flat_map(|(source, _)| source.unasked());
        self.unasked.iter().cloned().chain(open).collect()
    }

    /// What else there is to say of them.
    pub(super) fn notes(&self) -> Vec<String> {
        let open = self.open.iter().flat_map(|(source, _)| source.notes());
        self.notes.iter().cloned().chain(open).collect()
    }

    /// Items without chemistry, so far.
    pub(super) fn not_ours(&self) -> u64 {
        self.not_ours + self.open.as_ref().map_or(0, |(source, _)| source.not_ours())
    }

    /// The next piece of the next bank. `shared` is the zip file's own.
    pub(super) fn next_batch(&mut self, shared: &Arc<Shared>) -> io::Result<Option<Batch>> {
        let tell = |entry: String, message: String| -> Batch {
            let (chunk, records, file): (_, Vec<Record>, _) = bad_entry(entry, message);
            Batch { shared: Arc::clone(shared), content: Content::Records(chunk, records), file }
        };
        if let Some((entry, message)) = self.faults.next() {
            return Ok(Some(tell(entry, message)));
        }
        loop {
            if let Some((source, file)) = &mut self.open {
                match source.next_batch() {
                    Ok(Some(batch)) => {
                        let file = batch.file.clone().or_else(|| Some(Arc::clone(file)));
                        return Ok(Some(Batch { file, ..batch }));
                    }
                    Ok(None) => self.close(),
                    Err(error) => {
                        let entry = file.strip_prefix(&format!("{}/", self.name)).unwrap_or(file).to_owned();
                        self.close();
                        return Ok(Some(tell(entry, format!("the entry could not be read to its end: {error}"))));
                    }
                }
                continue;
            }
            let Some((entry, format)) = self.entries.next() else { return Ok(None) };
            match self.open_entry(&entry, format) {
                Ok(source) => {
                    self.open = Some((Box::new(source), Arc::from(format!("{}/{entry}", self.name))));
                }
                Err(OpenError::OtherTable(why) | OpenError::NoItems(why)) => {
                    self.notes.push(format!("passed over: {}/{entry}: {why}", self.name));
                }
                Err(error) => return Ok(Some(tell(entry, format!("the entry {error}")))),
            }
        }
    }

    fn open_entry(&mut self, entry: &str, format: Format) -> Result<Source, OpenError> {
        let unpacked = self.package.read(entry).map_err(OpenError::NoBank)?;
        open(&format!("{}/{entry}", self.name), format, Box::new(unpacked), &self.settings)
    }

    fn close(&mut self) {
        if let Some((source, _)) = self.open.take() {
            self.unasked.extend(source.unasked());
            self.notes.extend(source.notes());
            self.not_ours += source.not_ours();
        }
    }
}
