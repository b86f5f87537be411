//! Cuts a stream of text into chunks of whole records, so that chunks can be read on any thread.
//!
//! The cutter looks only at what separates records: line breaks, quotes, brackets. It never holds more than one chunk and
//! the record that runs over its end.

use super::chunk::{Chunk, line_breaks};
use crate::source::Span;
use crate::source::encoding::text_of;
use std::io::{self, Read};

/// What separates records.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// Line breaks outside quotes.
    Rows {
        /// The separator of cells, which decides where a cell and so a quote may begin.
        delimiter: u8,
        /// The column whose value neighbouring rows of one item share; they stay in one chunk.
        group: Option<usize>,
    },
    /// Line breaks.
    Lines,
    /// Elements of a JSON array.
    Elements,
}

/// Rows that are looked at for the id of the steps at the end of a piece.
const LATER_STEPS: usize = 64;

/// A piece that the cutter gives.
#[derive(Debug)]
pub enum Piece {
    /// Whole records.
    Chunk(Chunk),
    /// A record that passes the limit on its length: it is passed over to its end.
    TooLong {
        /// Line on which it starts.
        line: u32,
        /// The limit in bytes.
        limit: usize,
    },
    /// The array is not well formed: what and where.
    Broken {
        /// Line.
        line: u32,
        /// What is wrong.
        message: String,
    },
}

/// Bytes that one chunk holds at least, but for the last: enough to share the cost of handing it over, small enough
/// that two threads finish together.
const CHUNK: usize = 256 << 10;
/// Bytes that are read beyond a chunk, for the end of its last record: what is left of them is copied to the next chunk.
const BEYOND: usize = 16 << 10;

/// Cuts a reader of UTF-8 text into chunks.
pub struct Cutter<R> {
    reader: R,
    cut: Cut,
    limit: usize,
    buffer: Vec<u8>,
    line: u32,
    /// Bytes before the buffer.
    offset: u64,
    ended: bool,
    state: Scan,
    /// Bytes of the buffer that the scan has passed.
    scanned: usize,
    records: Vec<Span>,
    skipping: bool,
    /// What is wrong behind the records that are still to be given.
    pending: Option<Piece>,
    /// Bytes after which a chunk is given; more where one item's rows fill a chunk.
    size: usize,
    /// Tells rows that are pieces of their own.
    is_header: Option<IsHeader>,
}

/// Says whether the bytes of a row may be the header of a further table.
pub type IsHeader = Box<dyn Fn(&[u8]) -> bool + Send>;

/// Where the scan of the buffer stands between two reads.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[allow(
    clippy::struct_excessive_bools,
    reason = "each is a fact about the byte that is scanned, and they combine freely"
)]
struct Scan {
    record_start: usize,
    quoted: bool,
    escaped: bool,
    depth: usize,
    cell_start: bool,
    in_array: bool,
    after_comma: bool,
    done: bool,
}

impl<R: Read> Cutter<R> {
    /// A cutter of `reader`, whose text starts on `line` behind `offset` bytes; a record may be `limit` bytes long.
    pub fn new(reader: R, cut: Cut, (line, offset): (u32, u64), limit: usize) -> Self {
        let state = Scan { cell_start: true, ..Scan::default() };
        Self {
            reader,
            cut,
            limit,
            buffer: Vec::new(),
            line,
            offset,
            ended: false,
            state,
            scanned: 0,
            records: Vec::new(),
            skipping: false,
            pending: None,
            size: CHUNK,
            is_header: None,
        }
    }

    /// Gives rows that may be headers as pieces of their own.
    #[must_use]
    pub fn parting_headers(self, is_header: IsHeader) -> Self {
        Self { is_header: Some(is_header), ..self }
    }

    /// Cuts what has not been given yet in another way.
    pub fn go_on(&mut self, cut: Cut, is_header: IsHeader) {
        (self.cut, self.is_header) = (cut, Some(is_header));
    }

    /// The next piece, or `None` at the end.
    ///
    /// # Errors
    /// Whatever the reader reports.
    pub fn next_piece(&mut self) -> io::Result<Option<Piece>> {
        loop {
            if self.pending.is_none() {
                self.pending = self.scan();
            }
            let whole = self.state.record_start;
            let last = self.ended || self.pending.is_some();
            if !self.records.is_empty() && (last || whole >= self.size) {
                if let Some(end) = self.end_of_groups(last) {
                    let end = self.behind_break(end)?;
                    return Ok(Some(self.give(self.end_at_header(end))));
                }
                // One item's rows fill the chunk: go on until the next item begins.
                self.size = whole + CHUNK;
            }
            if let Some(piece) = self.pending.take() {
                return Ok(Some(piece));
            }
            if self.buffer.len() - whole > self.limit || self.skipping {
                let first = !self.skipping;
                let line = self.pass_over();
                if first {
                    return Ok(Some(Piece::TooLong { line, limit: self.limit }));
                }
            }
            if self.ended {
                return Ok(self.rest());
            }
            self.fill()?;
        }
    }

    /// The place behind a line break of which a record has ended with the first byte: CR LF is one break, and stays in one piece.
    fn behind_break(&mut self, end: usize) -> io::Result<usize> {
        if end.checked_sub(1).and_then(|last| self.buffer.get(last)) != Some(&b'\r') {
            return Ok(end);
        }
        if end == self.buffer.len() && !self.ended {
            self.fill()?;
        }
        if self.buffer.get(end) != Some(&b'\n') {
            return Ok(end);
        }
        self.scanned = self.scanned.max(end + 1);
        self.state.record_start = self.state.record_start.max(end + 1);
        Ok(end + 1)
    }

    /// How many bytes of the buffer are whole items: all whole records, or, where rows are grouped and more may follow,
    /// those before the last group.
    fn end_of_groups(&self, last: bool) -> Option<usize> {
        let Cut::Rows { delimiter, group: Some(column) } = self.cut else { return Some(self.state.record_start) };
        if last {
            return Some(self.state.record_start);
        }
        let value = |record: &Span| {
            let row = self.buffer.get(record.start as usize..record.end as usize)?;
            let mut reader = csv::ReaderBuilder::new().has_headers(false).delimiter(delimiter).from_reader(row);
            let mut cells = csv::ByteRecord::new();
            reader.read_byte_record(&mut cells).ok()?;
            cells.get(column).map(<[u8]>::to_vec)
        };
        let is_filled = |record: &Span| value(record).is_some_and(|own| !own.trim_ascii().is_empty());
        // Later steps may leave the id of the first empty; a long table without ids is not kept together for that.
        let last = self.records.iter().rev().take(LATER_STEPS).position(is_filled).unwrap_or(0);
        let last = self.records.len().checked_sub(last + 1)?;
        let group = self.records.get(last).map(value)?;
        let is_other = |record: &Span| value(record) != group && (group.is_none() || is_filled(record));
        let other = self.records.get(..last)?.iter().rposition(is_other)?;
        let begins = |record: &Span| value(record) == group;
        let other = other + self.records.get(other + 1..)?.iter().position(begins)?;
        self.records.get(other + 1).map(|first| first.start as usize)
    }

    /// Where a piece up to a byte ends if headers in it are pieces of their own.
    fn end_at_header(&self, end: usize) -> usize {
        let Some(is_header) = &self.is_header else { return end };
        let bytes = |record: &Span| self.buffer.get(record.start as usize..record.end as usize).unwrap_or_default();
        let given = self.records.iter().take_while(|record| (record.start as usize) < end);
        let Some(at) = given.map(bytes).position(is_header) else { return end };
        // The first row is one, or there are rows before it.
        self.records.get(at.max(1)).map_or(end, |record| end.min(record.start as usize))
    }

    fn fill(&mut self) -> io::Result<()> {
        let from = self.buffer.len();
        // A record that is longer than that takes as much once more.
        let full = self.size + BEYOND;
        self.buffer.resize(if from < full { full } else { from + CHUNK }, 0);
        let mut filled = from;
        while filled < self.buffer.len() {
            match self.reader.read(&mut self.buffer[filled..]) {
                Ok(0) => {
                    self.ended = true;
                    break;
                }
                Ok(count) => filled += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        self.buffer.truncate(filled);
        Ok(())
    }

    /// Gives the records up to byte `end` of the buffer.
    fn give(&mut self, end: usize) -> Piece {
        let mut rest = Vec::with_capacity(CHUNK + BEYOND);
        rest.extend_from_slice(&self.buffer[end..]);
        self.buffer.truncate(end);
        let bytes = std::mem::replace(&mut self.buffer, rest);
        let (first_line, offset) = (self.line, self.offset);
        self.line += line_breaks(&bytes);
        self.offset += end as u64;
        let split = self.records.partition_point(|record| (record.start as usize) < end);
        let mut later = self.records.split_off(split);
        for record in &mut later {
            *record = Span::new(record.start as usize - end, record.end as usize - end);
        }
        let records = std::mem::replace(&mut self.records, later);
        self.scanned -= end;
        self.state.record_start -= end;
        self.size = CHUNK;
        let (text, bad_bytes) = text_of(bytes);
        Piece::Chunk(Chunk { text, first_line, offset, records, bad_bytes, ..Chunk::default() })
    }

    /// The last record, where no separator follows it.
    fn rest(&mut self) -> Option<Piece> {
        let start = self.state.record_start;
        if self.skipping || self.cut == Cut::Elements || !has_content(&self.buffer[start..]) {
            self.line += line_breaks(&self.buffer);
            self.buffer.clear();
            self.state.record_start = 0;
            self.scanned = 0;
            return None;
        }
        let end = self.buffer.len();
        self.records.push(Span::new(start, end));
        self.state.record_start = end;
        Some(self.give(end))
    }

    /// Forgets what there is of a record that is too long, up to where the scan stands; says on which line that began.
    fn pass_over(&mut self) -> u32 {
        self.skipping = true;
        let line = self.line;
        self.line += line_breaks(&self.buffer);
        self.offset += self.buffer.len() as u64;
        self.buffer.clear();
        self.scanned = 0;
        self.state.record_start = 0;
        line
    }

    fn scan(&mut self) -> Option<Piece> {
        match self.cut {
            Cut::Lines => self.scan_lines(),
            Cut::Rows { delimiter, .. } => self.scan_rows(delimiter),
            Cut::Elements => return self.scan_elements(),
        }
        None
    }

    /// Ends the record that byte `at` closes; the next one starts behind it.
    fn end_record(&mut self, at: usize) {
        let start = self.state.record_start;
        if !std::mem::take(&mut self.skipping) && has_content(&self.buffer[start..at]) {
            self.records.push(Span::new(start, at));
        }
        self.state.record_start = at + 1;
    }

    /// Ends an element of an array. One of nothing is kept where a comma makes it one, so that its place is reported.
    fn end_element(&mut self, at: usize, comma: bool) {
        let start = self.state.record_start;
        if (comma || self.state.after_comma) && !self.skipping && !has_content(&self.buffer[start..at]) {
            self.records.push(Span::new(start, at));
        }
        self.state.after_comma = comma;
        self.end_record(at);
    }

    fn scan_lines(&mut self) {
        while let Some(found) = memchr::memchr2(b'\n', b'\r', &self.buffer[self.scanned..]) {
            let at = self.scanned + found;
            self.end_record(at);
            self.scanned = at + 1;
            if self.scanned >= self.size {
                return;
            }
        }
        self.scanned = self.buffer.len();
    }

    fn scan_rows(&mut self, delimiter: u8) {
        while self.scanned < self.buffer.len() && self.state.record_start < self.size {
            let from = self.scanned;
            // A row without quotes, the usual one, is found by its line break alone.
            if !self.state.quoted {
                let rest = &self.buffer[from..];
                let Some(end) = memchr::memchr3(b'\n', b'\r', b'"', rest) else {
                    self.state.cell_start = rest.last() == Some(&delimiter);
                    self.scanned = self.buffer.len();
                    return;
                };
                let at = from + end;
                if rest[end] == b'"' {
                    let before = if end > 0 { rest[end - 1] == delimiter } else { self.state.cell_start };
                    self.state.quoted = before;
                    self.state.cell_start = false;
                } else {
                    self.end_record(at);
                    self.state.cell_start = true;
                }
                self.scanned = at + 1;
                continue;
            }
            let Some(end) = memchr::memchr(b'"', &self.buffer[from..]) else {
                self.scanned = self.buffer.len();
                return;
            };
            // A doubled quote closes and opens again at once.
            self.state.quoted = false;
            self.state.cell_start = true;
            self.scanned = from + end + 1;
        }
    }

    fn scan_elements(&mut self) -> Option<Piece> {
        while self.scanned < self.buffer.len() && self.state.record_start < self.size {
            let byte = self.buffer[self.scanned];
            let at = self.scanned;
            self.scanned += 1;
            if self.state.quoted {
                match byte {
                    _ if self.state.escaped => self.state.escaped = false,
                    b'\\' => self.state.escaped = true,
                    b'"' => self.state.quoted = false,
                    _ => {}
                }
                continue;
            }
            match byte {
                b'[' if !self.state.in_array && !self.state.done => {
                    self.state.in_array = true;
                    self.state.record_start = at + 1;
                }
                _ if !self.state.in_array => {
                    if !byte.is_ascii_whitespace() && !matches!(byte, 0xef | 0xbb | 0xbf) {
                        return Some(self.broken(
                            at,
                            "expected one array of items: '[' at the beginning and nothing after its ']'",
                        ));
                    }
                    self.state.record_start = at + 1;
                }
                b'"' => self.state.quoted = true,
                b'[' | b'{' => self.state.depth += 1,
                b']' if self.state.depth == 0 => {
                    self.end_element(at, false);
                    self.state.in_array = false;
                    self.state.done = true;
                }
                b']' | b'}' => self.state.depth = self.state.depth.saturating_sub(1),
                b',' if self.state.depth == 0 => self.end_element(at, true),
                _ => {}
            }
        }
        let is_open = self.ended && self.state.in_array && self.scanned == self.buffer.len();
        is_open.then(|| self.never_closed())
    }

    /// Where the array ends with the text, before its bracket.
    fn never_closed(&mut self) -> Piece {
        let at = self.buffer.len();
        self.state.in_array = false;
        let start = self.state.record_start;
        if has_content(&self.buffer[start..]) {
            self.records.push(Span::new(start, at));
            self.state.record_start = at;
        }
        self.broken(at, "the array is never closed: expected ']'")
    }

    fn broken(&mut self, at: usize, message: &str) -> Piece {
        let line = self.line + line_breaks(&self.buffer[..at]);
        // Nothing behind this place can be trusted to be an element.
        self.state.done = true;
        self.state.in_array = false;
        self.ended = true;
        self.buffer.truncate(at);
        self.scanned = at;
        Piece::Broken { line, message: message.to_owned() }
    }
}

fn has_content(bytes: &[u8]) -> bool {
    !bytes.trim_ascii().is_empty()
}
