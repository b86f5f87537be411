//! The header of a table: where it is, and what it says.

use super::fields::Name;
use super::rows::{HEADER_ROWS, Unasked};
use super::source::{OpenError, Settings};
use super::table::Header;
use crate::source::encoding::{self, Encoding, complaint};
use std::io::{self, BufRead};

/// How far a table was read: the line that comes, the bytes before it, the rows without a question among them.
pub(super) struct Beginning {
    pub(super) line: u32,
    pub(super) offset: u64,
    pub(super) unasked: Unasked,
    /// A row of a table without a header, which was looked at and comes again.
    pub(super) read: Vec<u8>,
}

/// The header of a table: the first of its rows that names what a bank needs. Rows before it are titles. A first line `sep=;` names
/// the separator, as spreadsheet programs write and read it.
pub(super) fn find_header(
    reader: &mut impl BufRead,
    mut delimiter: Option<u8>,
    begun: Beginning,
    encoding: Encoding,
    settings: &Settings,
) -> Result<(Header, Beginning), OpenError> {
    if settings.header_row == Some(0) {
        return without_header(reader, delimiter, begun, settings);
    }
    let Beginning { mut line, mut offset, mut unasked, read } = begun;
    let mut best: Option<Header> = None;
    let wanted = settings.header_row.unwrap_or(0);
    for at in 0..HEADER_ROWS.max(wanted as usize) {
        let (row, length) = header_row(reader, settings.limits.record_bytes, encoding)?;
        if row.trim().is_empty() {
            break;
        }
        offset += length;
        let own_line = line + super::chunk::line_breaks(&row.as_bytes()[..row.len() - row.trim_start().len()]);
        line += super::chunk::line_breaks(row.as_bytes()).max(1);
        if let (0, Some(own)) = (at, separator(&row)) {
            delimiter = Some(own);
            continue;
        }
        if own_line < wanted {
            unasked.add(own_line);
            continue;
        }
        let header = as_header(&row, delimiter, settings)?;
        if header.is_bank() {
            return Ok((header, Beginning { line, offset, unasked, read }));
        }
        unasked.add(own_line);
        if best.as_ref().is_none_or(|best| header.is_of_drawings() && !best.is_of_drawings()) {
            best = Some(header);
        }
        if wanted > 0 {
            break;
        }
    }
    let Some(header) = best else { return Err(OpenError::NoBank("it is empty".to_owned())) };
    let why = no_bank(&header);
    Err(if header.is_of_drawings() { OpenError::NoBank(why) } else { OpenError::OtherTable(why) })
}

/// Reads a row as a header; an error where it is too wide, or that of a table which an audit has written.
fn as_header(row: &str, delimiter: Option<u8>, settings: &Settings) -> Result<Header, OpenError> {
    let columns = settings.limits.columns;
    if row.bytes().filter(|byte| matches!(byte, b',' | b';' | b'\t')).count() >= columns {
        return Err(OpenError::NoBank(format!("its header row passes the limit of {columns} columns")));
    }
    let header = Header::read(row, delimiter, &|name| settings.rename(name));
    match written(&header).filter(|_| !header.is_bank()) {
        Some(what) => Err(OpenError::NoItems(what)),
        None => Ok(header),
    }
}

/// Columns beyond the first row's that may hold something where there is no header.
const BEYOND: usize = 64;

/// The columns of a table without a header: as many as its first row has, called by their places.
fn without_header(
    reader: &mut impl BufRead,
    mut delimiter: Option<u8>,
    begun: Beginning,
    settings: &Settings,
) -> Result<(Header, Beginning), OpenError> {
    let Beginning { mut line, mut offset, unasked, .. } = begun;
    let mut read = row_bytes(reader, settings.limits.record_bytes)?;
    if let Some(own) = separator(&String::from_utf8_lossy(&read)) {
        delimiter = Some(own);
        offset += read.len() as u64;
        line += super::chunk::line_breaks(&read).max(1);
        read = row_bytes(reader, settings.limits.record_bytes)?;
    }
    let rename = |name: &str| settings.rename(name);
    let first = Header::read(&String::from_utf8_lossy(&read), delimiter, &rename);
    let width = first.names.len() + BEYOND;
    if width > settings.limits.columns {
        let why = format!("its first row passes the limit of {} columns", settings.limits.columns);
        return Err(OpenError::NoBank(why));
    }
    let header = Header::of_places(width, first.delimiter, &rename);
    if header.is_bank() {
        return Ok((header, Beginning { line, offset, unasked, read }));
    }
    Err(OpenError::NoBank(WITHOUT_HEADER.to_owned()))
}

/// What to say of a table without a header whose profile does not say what its columns hold.
pub(super) const WITHOUT_HEADER: &str = "its profile says that it has no header row (`header_row = 0`), and gives no column to \
                                         'start' with 'arrows' or 'answer': name them by their letters, as \"column B\"";

/// The separator that a row `sep=;` names.
pub(super) fn separator(row: &str) -> Option<u8> {
    let row = row.trim_matches(['\n', '\r', '"', '\u{feff}']);
    match row.get(..4).filter(|own| own.eq_ignore_ascii_case("sep=")).and(row.as_bytes().get(4..))? {
        [own] if own.is_ascii() && !own.is_ascii_alphanumeric() => Some(*own),
        _ => None,
    }
}

/// Tells the header of a further table, which stands below another and whose columns stand otherwise.
#[derive(Debug, Clone)]
pub(super) struct FurtherHeaders {
    /// How the column of the start may be called: hardly any other row has a cell that is one of these.
    starts: Vec<String>,
}

impl FurtherHeaders {
    pub(super) fn below(header: &Header, settings: &Settings) -> Self {
        let named = header.names.iter().zip(&header.texts).filter(|(name, _)| **name == Some(Name::Start));
        let named = named.map(|(_, text)| text.as_str());
        Self { starts: settings.headers_of("start").chain(named).chain(["start"]).map(str::to_owned).collect() }
    }

    /// Whether a cell is called as the column of the start is, in quotes or not.
    pub(super) fn is_start(&self, cell: &[u8]) -> bool {
        let cell = cell.trim_ascii();
        let cell = cell.strip_prefix(b"\"").and_then(|own| own.strip_suffix(b"\"")).unwrap_or(cell).trim_ascii();
        self.starts.iter().any(|own| own.as_bytes().eq_ignore_ascii_case(cell))
    }

    /// Whether the row of a text may be a header: it holds neither arrows nor atoms in brackets, and a cell called as the start is.
    pub(super) fn may_be(&self, row: &[u8], delimiter: u8) -> bool {
        memchr::memchr2(b'[', b'>', row).is_none()
            && row.split(|byte| *byte == delimiter).any(|cell| self.is_start(cell))
    }
}

/// The header that a row is, where it is that of a bank and its columns stand otherwise than those above.
pub(super) fn further(header: Header, above: &Header) -> Option<Header> {
    let own = |names: &[Option<Name>], at: usize| names.get(at).copied().flatten();
    let columns = header.names.len().max(above.names.len());
    let is_other = (0..columns).any(|at| own(&header.names, at) != own(&above.names, at));
    (is_other && header.is_bank()).then_some(header)
}

/// What to say of a further header: its line or row, and its columns.
pub(super) fn told_of_further(header: &Header, place: &str) -> String {
    let columns: Vec<&str> = header.texts.iter().map(String::as_str).filter(|own| !own.is_empty()).collect();
    format!(
        "another header stands in {place}, whose columns are in another order: the rows below it are read under it ({})",
        columns.join(", ")
    )
}

/// Why a table with this header is no bank.
pub(super) fn no_bank(header: &Header) -> String {
    let has = |name: Name| header.names.contains(&Some(name));
    let lacks = match (has(Name::Start), has(Name::Arrows) || has(Name::Answer) || has(Name::Answers)) {
        (true, _) => "and beside 'start' neither 'arrows' nor 'answer'",
        (false, true) => "but no 'start'",
        (false, false) => "but no 'start', 'arrows' or 'answer'",
    };
    let names: Vec<String> = header.texts.iter().map(|text| format!("'{text}'")).collect();
    let names = names.join(", ");
    format!(
        "its header names the columns {names}, {lacks}: a profile can map other names, and `keyassay profile` proposes one"
    )
}

/// Columns of tables that are written, by which each is known: reports and lists are kept beside banks, and are none.
const WRITTEN: [(&[&str], &str); 4] = [
    (&["file", "line", "item", "severity", "finding"], "the findings of an audit"),
    (&["file", "line", "item", "field", "proposed", "grade"], "the corrections that an audit proposes"),
    (&["file", "bytes", "mark"], "what the files of a bank were when they were audited"),
    (&["item", "finding", "reason", "until"], "a list of known findings"),
];

/// What a table is that an audit has written, where its header says so.
pub(super) fn written(header: &Header) -> Option<String> {
    let has = |own: &&str| header.texts.iter().any(|text| text.eq_ignore_ascii_case(own));
    let (_, what) = WRITTEN.iter().find(|(columns, _)| columns.iter().all(&has))?;
    Some(format!("{what}, which is a report and no bank"))
}

/// Passes over a byte order mark and gives its length.
pub(super) fn skip_byte_order_mark(reader: &mut impl BufRead) -> io::Result<u64> {
    if reader.fill_buf()?.starts_with(b"\xef\xbb\xbf") {
        reader.consume(3);
        return Ok(3);
    }
    Ok(0)
}

/// The header row with its line break, and its length in the file: everything up to the first line break outside quotes that
/// follows a cell.
fn header_row(reader: &mut impl BufRead, limit: usize, encoding: Encoding) -> Result<(String, u64), OpenError> {
    let row = row_bytes(reader, limit)?;
    let length = row.len() as u64;
    match encoding::text_of(row) {
        (row, bad) if bad.is_empty() => Ok((row, length)),
        (_, bad) => {
            let byte = bad.first().map_or(0, |(_, byte)| *byte);
            Err(OpenError::NoBank(format!("in its header row {}", complaint(byte, encoding))))
        }
    }
}

/// The bytes of a row with its line break.
fn row_bytes(reader: &mut impl BufRead, limit: usize) -> Result<Vec<u8>, OpenError> {
    let mut row: Vec<u8> = Vec::new();
    let mut quoted = false;
    loop {
        let buffer = reader.fill_buf()?;
        if buffer.is_empty() {
            break;
        }
        let mut end = None;
        for (at, byte) in buffer.iter().enumerate() {
            quoted ^= *byte == b'"';
            if !quoted && matches!(byte, b'\n' | b'\r') && !row.iter().chain(&buffer[..at]).all(u8::is_ascii_whitespace)
            {
                end = Some(at + 1);
                break;
            }
        }
        let take = end.unwrap_or(buffer.len());
        row.extend_from_slice(&buffer[..take]);
        reader.consume(take);
        if end.is_some() {
            // CR LF is one break: the header's, not the first row's.
            if row.last() == Some(&b'\r') && reader.fill_buf()?.first() == Some(&b'\n') {
                reader.consume(1);
                row.push(b'\n');
            }
            break;
        }
        if row.len() > limit {
            return Err(OpenError::NoBank(format!("its header row passes the limit of {limit} bytes")));
        }
    }
    Ok(row)
}
