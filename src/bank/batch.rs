//! Pieces of a bank, which may be read on any thread, and what those of one table share.

use super::Format;
use super::chunk::{Chunk, Style};
use super::cut::IsHeader;
use super::header::{FurtherHeaders, further};
use super::item::Record;
use super::json::JsonReader;
use super::plain::{Plain, Taker};
use super::reaction_smiles::ReactionSmilesReader;
use super::rows::Unasked;
use super::source::Settings;
use super::table::{Above, Header, TableReader};
use crate::source::encoding::Encoding;
use std::sync::{Arc, Mutex};

/// The part of a source that all its batches share.
#[derive(Debug)]
pub(super) struct Shared {
    pub(super) name: String,
    pub(super) format: Format,
    pub(super) encoding: Encoding,
    pub(super) header: Header,
    pub(super) settings: Arc<Settings>,
    /// Rows without a question among those that were read so far.
    pub(super) unasked: Mutex<Unasked>,
}

impl Shared {
    pub(super) fn add_unasked(&self, more: Unasked) {
        if !more.is_empty()
            && let Ok(mut own) = self.unasked.lock()
        {
            own.absorb(more);
        }
    }

    fn style(&self) -> Style {
        Style { format: self.format, delimiter: self.header.delimiter, encoding: self.encoding }
    }
}

/// A piece of a bank.
#[derive(Debug)]
pub struct Batch {
    pub(super) shared: Arc<Shared>,
    pub(super) content: Content,
    /// The file in which the records stand, where that is a file of a package.
    pub(super) file: Option<Arc<str>>,
}

#[derive(Debug)]
pub(super) enum Content {
    Text(Chunk),
    Records(Chunk, Vec<Record>),
}

impl Batch {
    /// The file in which the records stand, where that is a file of a package.
    #[must_use]
    pub fn file(&self) -> Option<Arc<str>> {
        self.file.clone()
    }

    /// About as many as there are records.
    #[must_use]
    pub fn likely_records(&self) -> usize {
        match &self.content {
            Content::Text(chunk) => chunk.records.len(),
            Content::Records(_, records) => records.len(),
        }
    }

    /// Hands the records of the batch over one by one; plain ones are offered before anything is made of them.
    pub fn hand_over(self, taker: &mut dyn Taker) {
        let Self { shared, content, file } = self;
        let content = match content {
            Content::Text(chunk) if shared.is_read_at_once() => {
                let unasked = shared.table_reader().hand_over(&shared.own(chunk), taker);
                shared.add_unasked(unasked);
                return;
            }
            other => other,
        };
        let (chunk, records) = Self { shared, content, file }.records();
        for record in records {
            match &record.content {
                Ok(item) if Plain::of(item).is_some_and(|plain| taker.plain(&plain, record.line)) => {}
                _ => taker.record(record),
            }
        }
        taker.end(&chunk);
    }

    /// The records of the batch, and the text in which their places are found.
    #[must_use]
    pub fn records(self) -> (Chunk, Vec<Record>) {
        let Self { shared, content, .. } = self;
        let from_zero = shared.settings.labels_from_zero;
        let (chunk, mut records) = match content {
            Content::Records(chunk, records) => (Chunk { style: shared.style(), ..chunk }, records),
            Content::Text(chunk) => shared.records(chunk),
        };
        if from_zero {
            records.iter_mut().flat_map(|own| &mut own.content).for_each(|item| item.labels_from_zero = true);
        }
        (chunk, records)
    }
}

impl Shared {
    /// The records of a text.
    fn records(&self, chunk: Chunk) -> (Chunk, Vec<Record>) {
        let shared = self;
        let chunk = shared.own(chunk);
        let settings = &shared.settings;
        let (tasks, file, keep_extra) = (settings.tasks(), shared.name.as_str(), settings.keep_extra);
        let records = match shared.format {
            Format::Csv | Format::Tsv | Format::Workbook => {
                let (records, unasked) = shared.table_reader().read(&chunk);
                shared.add_unasked(unasked);
                records
            }
            Format::JsonLines | Format::Json => {
                let rename = |name: &str| settings.rename(name);
                JsonReader { tasks, file, keep_extra, rename: &rename }.read(&chunk)
            }
            Format::ReactionSmiles => ReactionSmilesReader { tasks, file }.read(&chunk),
            // Read in order by their sources.
            Format::Cml | Format::Xml | Format::Qti | Format::Package => Vec::new(),
        };
        (chunk, records)
    }

    /// What tells the headers of further tables of a text.
    pub(super) fn is_header(self: &Arc<Self>) -> IsHeader {
        let (shared, further) = (Arc::clone(self), FurtherHeaders::below(&self.header, &self.settings));
        Box::new(move |row| shared.further_header(&further, row).is_some())
    }

    /// The header of a further table that a row of a text is, if it is one.
    fn further_header(&self, headers: &FurtherHeaders, row: &[u8]) -> Option<Header> {
        let rename = |name: &str| self.settings.rename(name);
        // Nearly no row may be one.
        let row = headers.may_be(row, self.header.delimiter).then(|| std::str::from_utf8(row).ok()).flatten()?;
        further(Header::read(row, Some(self.header.delimiter), &rename), &self.header)
    }

    /// The header of a further table that a piece of a text is.
    pub(super) fn header_alone(&self, chunk: &Chunk) -> Option<Header> {
        let row = chunk.records.first().filter(|_| self.parts_headers() && chunk.records.len() == 1)?;
        self.further_header(&FurtherHeaders::below(&self.header, &self.settings), row.of(&chunk.text).as_bytes())
    }

    /// Whether rows of a text may be headers of further tables.
    pub(super) fn parts_headers(&self) -> bool {
        matches!(self.format, Format::Csv | Format::Tsv) && self.settings.header_row != Some(0)
    }

    /// The same file below another header.
    pub(super) fn below_header(&self, header: Header) -> Self {
        let (name, settings) = (self.name.clone(), Arc::clone(&self.settings));
        let (format, encoding) = (self.format, self.encoding);
        Self { name, format, encoding, header, settings, unasked: Mutex::default() }
    }

    /// A piece of a table with what stands above it; `above` is then what stands above the next.
    pub(super) fn below(&self, chunk: Chunk, above: &mut Above) -> Chunk {
        if above.is_empty() {
            return chunk;
        }
        let after = self.table_reader().above_after(&chunk, above.clone());
        Chunk { above: std::mem::replace(above, after), ..chunk }
    }

    /// Whether the rows of a text may be handed over as they stand there.
    fn is_read_at_once(&self) -> bool {
        let is_table = matches!(self.format, Format::Csv | Format::Tsv | Format::Workbook);
        let is_filled = !self.settings.fill_down.is_empty();
        is_table && !self.header.has_steps() && !self.settings.labels_from_zero && !is_filled
    }

    fn table_reader(&self) -> TableReader<'_> {
        let (tasks, keep_extra) = (self.settings.tasks(), self.settings.keep_extra);
        let (columns, fill_down) = (self.settings.limits.columns, self.settings.fill_down.as_slice());
        TableReader { header: &self.header, tasks, file: &self.name, keep_extra, columns, fill_down }
    }

    /// A chunk with what the file's settings say of it.
    fn own(&self, chunk: Chunk) -> Chunk {
        Chunk { style: self.style(), record_bytes: Some(self.settings.limits.record_bytes), ..chunk }
    }
}
