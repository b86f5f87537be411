//! A file of a bank as a source of batches.

use super::Format;
use super::chunk::{Chunk, Style};
use super::cml::CmlSource;
use super::cut::{Cut, Cutter, Piece};
use super::given::{GivenSource, Giver};
use super::header::{Beginning, find_header, skip_byte_order_mark};
use super::item::{BadRecord, Record, Task, Tasks};
use super::json::JsonReader;
use super::plain::{Plain, Taker};
use super::qti::{self, QtiSource};
use super::reaction_smiles::ReactionSmilesReader;
use super::rows::Unasked;
use super::sheet::WorkbookSource;
use super::table::{Above, Header, TableReader};
use super::zipped::ZippedSource;
use crate::limits::Limits;
use crate::qti::{Bytes, Package};
use crate::source::Span;
use crate::source::encoding::{Decoder, Encoding, settle, start_of};
use crate::source::packed::Packing;
use std::collections::HashMap;
use std::io::{self, BufReader, Read};
use std::sync::{Arc, Mutex};

/// What the reading of a bank depends on, other than the bank.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// Caps.
    pub limits: Limits,
    /// The task of items that name none.
    pub default_task: Task,
    /// Words of the bank's own for tasks, in lower case.
    pub task_words: Vec<(String, Task)>,
    /// Names of other people's columns and keys, in lower case, and the fields they mean.
    pub columns: HashMap<String, String>,
    /// Whether fields that keyassay does not know are kept with the item.
    pub keep_extra: bool,
    /// The encoding of files without a byte order mark; UTF-8 where none is declared.
    pub encoding: Option<Encoding>,
    /// The row of a table that is its header, counted from 1; 0 where there is none; else it is looked for.
    pub header_row: Option<u32>,
    /// The separator of tables that name none; else the header shows it.
    pub separator: Option<u8>,
    /// Whether arrows count the atoms of a start without labels from 0.
    pub labels_from_zero: bool,
    /// Fields whose empty cells are filled from above.
    pub fill_down: Vec<super::fields::Name>,
}

impl Settings {
    /// How the bank names its tasks.
    pub(super) fn tasks(&self) -> Tasks<'_> {
        Tasks { default: self.default_task, words: &self.task_words }
    }

    /// The headers under which a field is found, in lower case.
    pub(super) fn headers_of<'s>(&'s self, field: &'s str) -> impl Iterator<Item = &'s str> {
        self.columns.iter().filter(move |(_, own)| *own == field).map(|(header, _)| header.as_str())
    }

    pub(super) fn rename(&self, name: &str) -> String {
        self.columns.get(&name.trim().to_lowercase()).cloned().unwrap_or_else(|| name.to_owned())
    }
}

/// Why a file is no bank.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// It cannot be read.
    #[error("cannot be read: {0}")]
    Io(#[from] io::Error),
    /// Its content is not of its format.
    #[error("is no bank: {0}")]
    NoBank(String),
    /// It is a table of something else: no column is one of a drawing or of arrows.
    #[error("is no bank: {0}")]
    OtherTable(String),
    /// It is well formed and holds no items.
    #[error("holds no items: {0}")]
    NoItems(String),
}

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

/// A bank file that is being read.
pub struct Source {
    shared: Arc<Shared>,
    pieces: Pieces,
    packing: Option<Packing>,
    /// What stands above the next rows of a table, in columns that are filled from above.
    above: Above,
}

/// What gives a source its pieces.
#[allow(clippy::large_enum_variant, reason = "there is one for each file that is open")]
enum Pieces {
    Cut(Cutter<Box<dyn Read + Send>>),
    Document(CmlSource),
    Qti(QtiSource),
    Workbook(WorkbookSource),
    Given(GivenSource),
    Zipped(ZippedSource),
}

/// Opens the same bytes once more, from their beginning.
pub type Again = Box<dyn Fn() -> io::Result<Box<dyn Bytes>> + Send>;

/// The same for its text.
pub(super) type ReadAgain = Box<dyn Fn() -> io::Result<Box<dyn Read + Send>> + Send>;

/// Opens a file of a bank under the name by which reports call it.
///
/// # Errors
/// The file cannot be read, or its beginning shows that it is no bank.
pub fn open(
    name: &str,
    format: Format,
    reader: Box<dyn Read + Send>,
    settings: &Arc<Settings>,
) -> Result<Source, OpenError> {
    open_again(name, format, reader, None, settings)
}

/// The source of rows that a program gives.
#[must_use]
pub fn open_given(giver: Box<dyn Giver>, settings: &Arc<Settings>) -> Source {
    let pieces = Pieces::Given(GivenSource::new(giver, settings));
    in_order("", Format::Workbook, Encoding::default(), settings, pieces)
}

/// Opens a file of a bank that can be opened `again`, where a document refers to what stands further on.
///
/// # Errors
/// The file cannot be read, or its beginning shows that it is no bank.
pub fn open_again(
    name: &str,
    format: Format,
    reader: Box<dyn Read + Send>,
    again: Option<Again>,
    settings: &Arc<Settings>,
) -> Result<Source, OpenError> {
    let (start, reader) = begun(reader)?;
    if let Some(packing) = Packing::of(&start) {
        return open_packed(name, format, (packing, reader), again, settings);
    }
    if start.is_empty() {
        return Err(OpenError::NoBank("it is empty".to_owned()));
    }
    if format == Format::Package {
        // A zip file has no encoding; the texts in it have.
        let pieces = zip_file(name, qti::opened(reader, again, settings)?, settings)?;
        return Ok(in_order(name, format, Encoding::default(), settings, pieces));
    }
    if format == Format::Workbook {
        let source = WorkbookSource::open(name, reader, again, settings)?;
        return Ok(in_order(name, format, Encoding::default(), settings, Pieces::Workbook(source)));
    }
    let again = again.map(|again| -> ReadAgain { Box::new(move || Ok(Box::new(again()?))) });
    open_document(name, format, reader, again, settings)
}

/// Opens a content package, or a zip file of banks.
fn zip_file(name: &str, package: Package, settings: &Arc<Settings>) -> Result<Pieces, OpenError> {
    if package.has_manifest() {
        return Ok(Pieces::Qti(QtiSource::package(name, package, settings)?));
    }
    // A content package that was zipped with its folder is told so, whatever else lies in it.
    if package.has_manifest_below() {
        return Err(qti::no_bank(package.no_manifest()));
    }
    ZippedSource::of(name, package, settings).map(Pieces::Zipped)
}

/// Opens a file that is no package.
fn open_document(
    name: &str,
    format: Format,
    reader: Box<dyn Read + Send>,
    again: Option<ReadAgain>,
    settings: &Arc<Settings>,
) -> Result<Source, OpenError> {
    let (reader, encoding) = decoded(reader, settings)?;
    let (format, reader) = match format {
        Format::Xml => {
            let (is_qti, reader) = qti::is_qti(reader, settings)?;
            (if is_qti { Format::Qti } else { Format::Cml }, reader)
        }
        other => (other, reader),
    };
    let pieces = match format {
        Format::Cml => {
            let again = again.map(|again| decoded_again(again, settings));
            Pieces::Document(CmlSource::open(name, reader, again, settings)?)
        }
        Format::Qti => Pieces::Qti(QtiSource::document(name, reader, settings)?),
        _ => return open_text(name, format, reader, encoding, settings),
    };
    Ok(in_order(name, format, encoding, settings, pieces))
}

/// Opens what is packed in a file.
fn open_packed(
    name: &str,
    format: Format,
    (packing, reader): (Packing, Box<dyn Read + Send>),
    again: Option<Again>,
    settings: &Arc<Settings>,
) -> Result<Source, OpenError> {
    let (start, reader) = begun(packing.unpacked(reader))?;
    if Packing::of(&start).is_some() {
        return Err(OpenError::NoBank(format!("it is packed twice ({}): unpack it once", packing.name())));
    }
    if format == Format::Package || start.starts_with(b"PK\x03\x04") {
        return Err(OpenError::NoBank(format!("a package is not read out of {}: unpack it", packing.name())));
    }
    if start.is_empty() {
        return Err(OpenError::NoBank("it is empty".to_owned()));
    }
    // Each opening unpacks it anew.
    let again = again.map(|again| -> ReadAgain { Box::new(move || Ok(packing.unpacked(Box::new(again()?)))) });
    let source = open_document(name, format, reader, again, settings)?;
    Ok(Source { packing: Some(packing), ..source })
}

/// The first bytes of a file, and the whole of it.
pub(super) fn begun(mut reader: Box<dyn Read + Send>) -> io::Result<(Vec<u8>, Box<dyn Read + Send>)> {
    let start = start_of(&mut reader)?;
    Ok((start.clone(), Box::new(io::Cursor::new(start).chain(reader))))
}

/// A source whose format can only be read in order.
fn in_order(name: &str, format: Format, encoding: Encoding, settings: &Arc<Settings>, pieces: Pieces) -> Source {
    let (name, header, settings) = (name.to_owned(), Header::default(), Arc::clone(settings));
    let unasked = Mutex::default();
    Source {
        shared: Arc::new(Shared { name, format, encoding, header, settings, unasked }),
        pieces,
        packing: None,
        above: Above::default(),
    }
}

/// Opens a file whose records are cut out of its text, to be read on any thread.
fn open_text(
    name: &str,
    format: Format,
    reader: Box<dyn Read + Send>,
    encoding: Encoding,
    settings: &Arc<Settings>,
) -> Result<Source, OpenError> {
    let mut reader = BufReader::with_capacity(1 << 16, reader);
    let mut offset = skip_byte_order_mark(&mut reader)?;
    let limit = settings.limits.record_bytes;
    let (mut header, mut unasked) = (Header::default(), Unasked::default());
    let (mut line, mut read) = (1, Vec::new());
    let cut = match format {
        Format::Csv | Format::Tsv => {
            let tab = (format == Format::Tsv).then_some(b'\t');
            let begun = Beginning { line, offset, unasked, read: Vec::new() };
            let found = find_header(&mut reader, tab.or(settings.separator), begun, encoding, settings)?;
            let (own, begun) = found;
            (header, line, offset, unasked, read) = (own, begun.line, begun.offset, begun.unasked, begun.read);
            let id = header.names.iter().position(|own| *own == Some(super::fields::Name::Id));
            Cut::Rows { delimiter: header.delimiter, group: id.filter(|_| header.has_steps()) }
        }
        Format::Json => Cut::Elements,
        _ => Cut::Lines,
    };
    let (name, settings, unasked) = (name.to_owned(), Arc::clone(settings), Mutex::new(unasked));
    let above = header.above(&settings.fill_down);
    let shared = Arc::new(Shared { name, format, encoding, header, settings, unasked });
    let reader: Box<dyn Read + Send> = Box::new(io::Cursor::new(read).chain(reader));
    let pieces = Pieces::Cut(Cutter::new(reader, cut, (line, offset), limit));
    Ok(Source { shared, pieces, packing: None, above })
}

/// The text of a file, and the encoding that it turned out to have.
pub(super) fn decoded(
    mut reader: Box<dyn Read + Send>,
    settings: &Settings,
) -> Result<(Box<dyn Read + Send>, Encoding), OpenError> {
    let start = start_of(&mut reader)?;
    let encoding = settle(&start, settings.encoding).map_err(OpenError::NoBank)?;
    let whole = io::Cursor::new(start).chain(reader);
    Ok((Box::new(Decoder::new(whole, encoding, settings.limits.file_bytes)), encoding))
}

fn decoded_again(again: ReadAgain, settings: &Arc<Settings>) -> ReadAgain {
    let settings = Arc::clone(settings);
    Box::new(move || decoded(again()?, &settings).map(|(reader, _)| reader).map_err(io::Error::other))
}

impl Source {
    /// The encoding of the file.
    #[must_use]
    pub fn encoding(&self) -> Encoding {
        self.shared.encoding
    }

    /// The format, as it turned out where its name left it open.
    #[must_use]
    pub fn format(&self) -> Format {
        self.shared.format
    }

    /// How the file is packed, if it is.
    #[must_use]
    pub fn packing(&self) -> Option<Packing> {
        self.packing
    }

    /// Whether it is a zip file whose banks are read one after the other.
    #[must_use]
    pub fn is_zip_of_banks(&self) -> bool {
        matches!(self.pieces, Pieces::Zipped(_))
    }

    /// Rows without a question among those that were read so far, by file or sheet.
    #[must_use]
    pub fn unasked(&self) -> Vec<(String, Unasked)> {
        let of = |shared: &Shared| {
            let own = shared.unasked.lock().map(|own| own.clone()).unwrap_or_default();
            (!own.is_empty()).then(|| (shared.name.clone(), own))
        };
        if let Pieces::Zipped(zipped) = &self.pieces {
            return zipped.unasked();
        }
        let sheets: &[Arc<Shared>] = match &self.pieces {
            Pieces::Workbook(workbook) => workbook.sheets(),
            Pieces::Given(given) => given.shared(),
            _ => &[],
        };
        let mut all: Vec<(String, Unasked)> = Vec::new();
        for (name, own) in sheets.iter().chain([&self.shared]).filter_map(|shared| of(shared)) {
            // Several tables of one sheet.
            match all.last_mut() {
                Some((before, unasked)) if *before == name => unasked.absorb(own),
                _ => all.push((name, own)),
            }
        }
        all
    }

    /// What else there is to say of the file: sheets that are no table, hidden ones.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        match &self.pieces {
            Pieces::Workbook(workbook) => workbook.notes().to_vec(),
            Pieces::Zipped(zipped) => zipped.notes(),
            _ => Vec::new(),
        }
    }

    /// Items of other subjects that were passed over so far: they have no chemistry.
    #[must_use]
    pub fn not_ours(&self) -> u64 {
        match &self.pieces {
            Pieces::Qti(source) => source.not_ours(),
            Pieces::Zipped(zipped) => zipped.not_ours(),
            Pieces::Cut(_) | Pieces::Document(_) | Pieces::Workbook(_) | Pieces::Given(_) => 0,
        }
    }

    /// The next batch, or `None` at the end.
    ///
    /// # Errors
    /// The file cannot be read further.
    pub fn next_batch(&mut self) -> io::Result<Option<Batch>> {
        let cutter = match &mut self.pieces {
            Pieces::Cut(cutter) => cutter,
            Pieces::Document(document) => {
                let records = document.next_records()?;
                let batch = |(chunk, records)| Batch {
                    shared: Arc::clone(&self.shared),
                    content: Content::Records(chunk, records),
                    file: None,
                };
                return Ok(records.map(batch));
            }
            Pieces::Workbook(workbook) => return workbook.next_batch(),
            Pieces::Given(given) => return given.next_batch(),
            Pieces::Zipped(zipped) => return zipped.next_batch(&self.shared),
            Pieces::Qti(source) => {
                let given = source.next_given()?;
                let batch = |(chunk, records, file)| Batch {
                    shared: Arc::clone(&self.shared),
                    content: Content::Records(chunk, records),
                    file,
                };
                return Ok(given.map(batch));
            }
        };
        let Some(piece) = cutter.next_piece()? else { return Ok(None) };
        let bad = |line: u32, message: String| {
            let record =
                Record { line, content: Err(BadRecord { is_item: true, id: None, message, span: Span::at(0) }) };
            Content::Records(Chunk { first_line: line, ..Chunk::default() }, vec![record])
        };
        let content = match piece {
            Piece::Chunk(chunk) => Content::Text(self.shared.below(chunk, &mut self.above)),
            Piece::TooLong { line, limit } => bad(line, super::chunk::too_long(limit)),
            Piece::Broken { line, message } => bad(line, message),
        };
        Ok(Some(Batch { shared: Arc::clone(&self.shared), content, file: None }))
    }
}
