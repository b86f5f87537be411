//! A file of a bank as a source of batches.

use super::Format;
use super::batch::{Batch, Content, Shared};
use super::chunk::Chunk;
use super::cml::CmlSource;
use super::cut::{Cut, Cutter, Piece};
use super::fields::Name;
use super::given::{GivenSource, Giver};
use super::header::{Beginning, find_header, skip_byte_order_mark, told_of_further};
use super::item::{BadRecord, Record, Task, Tasks};
use super::qti::{self, QtiSource};
use super::rows::Unasked;
use super::sheet::WorkbookSource;
use super::table::{Above, Header};
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

/// A bank file that is being read.
pub struct Source {
    shared: Arc<Shared>,
    pieces: Pieces,
    packing: Option<Packing>,
    /// What stands above the next rows of a table, in columns that are filled from above.
    above: Above,
    /// Tables of a text that stood above the one that is read.
    passed: Vec<Arc<Shared>>,
    /// What there is to say of the tables below them.
    notes: Vec<String>,
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
        passed: Vec::new(),
        notes: Vec::new(),
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
            rows_below(&header)
        }
        Format::Json => Cut::Elements,
        _ => Cut::Lines,
    };
    let (name, settings, unasked) = (name.to_owned(), Arc::clone(settings), Mutex::new(unasked));
    let above = header.above(&settings.fill_down);
    let shared = Arc::new(Shared { name, format, encoding, header, settings, unasked });
    let reader: Box<dyn Read + Send> = Box::new(io::Cursor::new(read).chain(reader));
    let mut cutter = Cutter::new(reader, cut, (line, offset), limit);
    if shared.parts_headers() {
        cutter = cutter.parting_headers(shared.is_header());
    }
    let (passed, notes) = (Vec::new(), Vec::new());
    Ok(Source { shared, pieces: Pieces::Cut(cutter), packing: None, above, passed, notes })
}

/// How the rows below a header are cut.
fn rows_below(header: &Header) -> Cut {
    let id = header.names.iter().position(|own| *own == Some(Name::Id));
    Cut::Rows { delimiter: header.delimiter, group: id.filter(|_| header.has_steps()) }
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
            _ => &self.passed,
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
            _ => self.notes.clone(),
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
        match &mut self.pieces {
            Pieces::Cut(_) => self.next_of_text(),
            Pieces::Document(document) => {
                let records = document.next_records()?;
                let batch = |(chunk, records)| Batch {
                    shared: Arc::clone(&self.shared),
                    content: Content::Records(chunk, records),
                    file: None,
                };
                Ok(records.map(batch))
            }
            Pieces::Workbook(workbook) => workbook.next_batch(),
            Pieces::Given(given) => given.next_batch(),
            Pieces::Zipped(zipped) => zipped.next_batch(&self.shared),
            Pieces::Qti(source) => {
                let given = source.next_given()?;
                let batch = |(chunk, records, file)| Batch {
                    shared: Arc::clone(&self.shared),
                    content: Content::Records(chunk, records),
                    file,
                };
                Ok(given.map(batch))
            }
        }
    }

    /// The next batch of a text.
    fn next_of_text(&mut self) -> io::Result<Option<Batch>> {
        let piece = loop {
            let Pieces::Cut(cutter) = &mut self.pieces else { return Ok(None) };
            match cutter.next_piece()? {
                None => return Ok(None),
                Some(Piece::Chunk(chunk)) => match self.shared.header_alone(&chunk) {
                    Some(header) => self.go_on_below(header, &chunk),
                    None => break Piece::Chunk(chunk),
                },
                Some(piece) => break piece,
            }
        };
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

    /// Reads what follows under another header.
    fn go_on_below(&mut self, header: Header, chunk: &Chunk) {
        let before = chunk.records.first().and_then(|own| chunk.text.get(..own.start as usize)).unwrap_or_default();
        let line = chunk.first_line + super::chunk::line_breaks(before.as_bytes());
        self.notes.push(format!("{}: {}", self.shared.name, told_of_further(&header, &format!("line {line}"))));
        self.above = header.above(&self.shared.settings.fill_down);
        let shared = Arc::new(self.shared.below_header(header));
        self.passed.push(std::mem::replace(&mut self.shared, shared));
        if let Pieces::Cut(cutter) = &mut self.pieces {
            cutter.go_on(rows_below(&self.shared.header), self.shared.is_header());
        }
    }
}
