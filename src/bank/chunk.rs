//! A stretch of a bank's file that holds whole records, and how a place in it is found again.

use super::Format;
use super::item::{BadRecord, Field, Item, Writing};
use crate::source::Span;
use crate::source::encoding::{Encoding, complaint};
use std::sync::atomic::{AtomicU64, Ordering};

/// How a file is written, which decides how a new text is written into it.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// The format.
    pub format: Format,
    /// The separator of cells, where there are any.
    pub delimiter: u8,
    /// The encoding.
    pub encoding: Encoding,
}

impl Default for Style {
    fn default() -> Self {
        Self { format: Format::Csv, delimiter: b',', encoding: Encoding::Utf8 }
    }
}

/// Whole records of one file, as text.
#[derive(Debug, Clone, Default)]
pub struct Chunk {
    /// The text.
    pub text: String,
    /// Line of the file on which the text starts, counted from 1.
    pub first_line: u32,
    /// Characters of that line before the text, where it does not start the line.
    pub first_column: u32,
    /// Bytes of the file before the text.
    pub offset: u64,
    /// Where each record begins and ends, where the records are not simply the lines of the text.
    pub records: Vec<Span>,
    /// Bytes that stood for no character: where SUBSTITUTE stands in the text instead, and what they were.
    pub bad_bytes: Vec<(u32, u8)>,
    /// How the file is written.
    pub style: Style,
    /// The limit on the bytes of one record, for those whose end is found before they are long enough to be passed over.
    pub record_bytes: Option<usize>,
    /// Stretches of other files that stand behind the text of its own file, in order.
    pub parts: Vec<Part>,
    /// Where each row of a sheet begins in the text, and its number; empty for texts, whose lines are counted.
    pub rows: Vec<(u32, u32)>,
    /// What columns that are filled from above held last before the text, by their places; empty where none is.
    pub above: Vec<(usize, String)>,
    /// What was counted last.
    pub(crate) counted: Counted,
}

/// A byte of the text and the line breaks before it. Places are asked for nearly in the order of the text, so that lines are
/// counted from the last one on and each byte is looked at once.
#[derive(Debug, Default)]
pub(crate) struct Counted(AtomicU64);

impl Counted {
    fn get(&self) -> (usize, u32) {
        let both = self.0.load(Ordering::Relaxed);
        ((both >> 32) as usize, both as u32)
    }

    fn set(&self, at: usize, breaks: u32) {
        // Both at once, so that chunks may be looked at from several threads.
        if let Ok(at) = u32::try_from(at) {
            self.0.store(u64::from(at) << 32 | u64::from(breaks), Ordering::Relaxed);
        }
    }
}

impl Clone for Counted {
    fn clone(&self) -> Self {
        Self(AtomicU64::new(self.0.load(Ordering::Relaxed)))
    }
}

/// A stretch of another file that belongs to a record: the companion of an item.
#[derive(Debug, Clone, Default)]
pub struct Part {
    /// Its first byte in the text of the chunk; it ends where the next part begins.
    pub start: usize,
    /// The file.
    pub file: String,
    /// Line of that file on which it starts, counted from 1.
    pub first_line: u32,
    /// Characters of that line before it.
    pub first_column: u32,
}

/// A place in a file, for people.
#[derive(Debug, Clone, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
pub struct Spot {
    /// Line, counted from 1.
    pub line: u32,
    /// Column in characters, counted from 1.
    pub column: u32,
    /// Length in characters, at least 1.
    pub length: u32,
    /// The line's text, shortened round the place where it is long.
    pub excerpt: String,
    /// Where the marked characters begin in the excerpt, in characters.
    pub mark: u32,
    /// The file, where it is another one than the item's.
    pub file: Option<String>,
    /// The cell of a sheet: `C17`.
    #[serde(default)]
    pub cell: Option<String>,
}

impl Spot {
    /// The file, where it is another one than the item's and has a name.
    #[must_use]
    pub fn other_file(&self) -> Option<&str> {
        self.file.as_deref().filter(|file| !file.is_empty())
    }

    /// The place in its file, as people look it up: `line 17, column 4`, or the cell and the character in it.
    #[must_use]
    pub fn place(&self) -> String {
        match &self.cell {
            Some(cell) => format!("cell {cell}, character {}", self.column),
            None => format!("line {}, column {}", self.line, self.column),
        }
    }
}

/// Characters of a line that an excerpt shows at most.
const EXCERPT: usize = 72;

impl Chunk {
    /// The line on which a byte of the chunk stands.
    #[must_use]
    pub fn line_of(&self, at: usize) -> u32 {
        if let Some((_, row)) = self.row_at(at) {
            return row;
        }
        self.first_line + line_breaks(&self.text.as_bytes()[..at.min(self.text.len())])
    }

    /// Where the row of a sheet begins that holds a byte, and its number.
    pub(super) fn row_at(&self, at: usize) -> Option<(usize, u32)> {
        let next = self.rows.partition_point(|(start, _)| *start as usize <= at);
        self.rows.get(next.checked_sub(1)?).map(|(start, row)| (*start as usize, *row))
    }

    /// The cell of a sheet that holds a byte: its row from 1 and its column from 0.
    pub(super) fn cell_place(&self, at: usize) -> Option<(u32, u32)> {
        let row = self.row_at(at)?;
        Some((row.1, self.cell_at(at, row).2))
    }

    /// The bytes of the cell that holds a byte, within its quotes, and its column.
    fn cell_at(&self, at: usize, (row_start, _): (usize, u32)) -> (usize, usize, u32) {
        let (mut start, mut column) = (row_start, 0);
        loop {
            let rest = self.text.get(start..).unwrap_or_default();
            let length = super::cells::cell_length(rest, self.style.delimiter);
            let is_last = rest.as_bytes().get(length) != Some(&self.style.delimiter);
            if at <= start + length || is_last {
                let quote = usize::from(rest.starts_with('"') && length > 1);
                return (start + quote, start + length - quote, column);
            }
            start += length + 1;
            column += 1;
        }
    }

    /// Finds a span of the chunk.
    #[must_use]
    pub fn spot(&self, span: Span) -> Spot {
        let (start, end) = (self.boundary(span.start as usize), self.boundary(span.end as usize));
        let next = self.parts.partition_point(|part| part.start <= start);
        let part = next.checked_sub(1).map(|at| &self.parts[at]);
        let from = self.boundary(part.map_or(0, |part| part.start));
        let to = self.boundary(self.parts.get(next).map_or(self.text.len(), |part| part.start));
        let cell = self.row_at(start).map(|row| (row.1, self.cell_at(start, row)));
        let (from, to) = cell.as_ref().map_or((from, to), |(_, (from, to, _))| (*from, *to));
        let (start, end) = (start.clamp(from, to.max(from)), end.clamp(from, to.max(from)));
        let bytes = self.text.as_bytes();
        let line_start = memchr::memrchr2(b'\n', b'\r', &bytes[from..start]).map_or(from, |at| from + at + 1);
        let line_end = memchr::memchr2(b'\n', b'\r', &bytes[start..to]).map_or(to, |at| start + at);
        let own = &self.text[line_start..start];
        let column = own.chars().count();
        let (first_line, first_column) =
            part.map_or((self.first_line, self.first_column), |part| (part.first_line, part.first_column));
        let before = if line_start == from && cell.is_none() { first_column } else { 0 };
        let length = self.text[start..end.clamp(start, line_end)].chars().count().max(1);
        let shown = own.char_indices().rev().take(EXCERPT / 2);
        let (mark, first) = shown.fold((0, own.len()), |(count, _), (at, _)| (count + 1, at));
        let excerpt: String = self.text[line_start + first..line_end].chars().take(EXCERPT).collect();
        let line = match &cell {
            Some((row, _)) => *row,
            None => first_line + self.breaks_before(start, from),
        };
        Spot {
            line,
            column: before + column as u32 + 1,
            length: length as u32,
            excerpt: excerpt.replace('\t', " ").replace('\u{1a}', "\u{fffd}"),
            mark,
            file: part.map(|part| part.file.clone()),
            cell: cell.map(|(row, (_, _, column))| super::sheet::cell_name(row, column)),
        }
    }

    /// Line breaks between the beginning of the text, or of a part of it, and a byte.
    fn breaks_before(&self, at: usize, from: usize) -> u32 {
        let bytes = self.text.as_bytes();
        let (known, breaks) = self.counted.get();
        // Lines of a part are counted from its own beginning.
        if from > 0 || known > at {
            return line_breaks(&bytes[from..at]);
        }
        let breaks = breaks + line_breaks(&bytes[known..at]);
        // Between CR and LF a break is counted that is none of its own.
        if at.checked_sub(1).is_none_or(|before| bytes[before] != b'\r') {
            self.counted.set(at, breaks);
        }
        breaks
    }

    /// Finds a span of a field's text.
    #[must_use]
    pub fn spot_in(&self, field: &Field, span: Span) -> Spot {
        let start = self.raw(field, span.start as usize);
        let end = self.raw(field, span.end as usize);
        self.spot(Span::new(start, end.max(start)))
    }

    /// Where a byte of a field's text stands in the chunk.
    fn raw(&self, field: &Field, offset: usize) -> usize {
        let start = field.start as usize;
        match field.writing {
            Writing::Plain => start + offset,
            Writing::Joined => start,
            Writing::Parts(first, _) if offset <= first as usize => start + offset,
            Writing::Parts(_, gap) => start + offset + gap as usize,
            Writing::Quoted => {
                start + 1 + offset + field.text.bytes().take(offset).filter(|byte| *byte == b'"').count()
            }
            Writing::JsonString => start + 1 + json_offset(self.text.get(start + 1..).unwrap_or_default(), offset),
        }
    }

    /// What was read of the record between two bytes, unless it is too long or some of its bytes stand for no character.
    pub(super) fn whole(
        &self,
        content: Result<Item, BadRecord>,
        (start, end): (usize, usize),
    ) -> Result<Item, BadRecord> {
        if let Some(limit) = self.record_bytes.filter(|limit| end - start > *limit) {
            return Err(BadRecord { is_item: true, id: None, message: too_long(limit), span: Span::at(start) });
        }
        let from = self.bad_bytes.partition_point(|(at, _)| (*at as usize) < start);
        let own = self.bad_bytes[from..].iter().take_while(|(at, _)| (*at as usize) < end);
        let (mut own, count) = (own.clone(), own.count());
        let Some((at, byte)) = own.next() else { return content };
        let id = match content {
            Ok(item) => item.has_own_id.then_some(item.id),
            Err(bad) => bad.id,
        };
        let more = if count > 1 { format!(" ({count} such bytes in this record)") } else { String::new() };
        Err(BadRecord {
            is_item: true,
            id: id.filter(|id| !id.contains('\u{1a}')),
            message: format!("{}{more}", complaint(*byte, self.style.encoding)),
            span: Span::new(*at as usize, *at as usize + 1),
        })
    }

    fn boundary(&self, at: usize) -> usize {
        let mut at = at.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }
}

/// What to say of a record that is too long.
#[must_use]
pub fn too_long(limit: usize) -> String {
    format!("the record passes the limit of {limit} bytes and is passed over to its end")
}

/// Line breaks in a text: LF, CR, and CR LF as one.
#[must_use]
pub fn line_breaks(text: &[u8]) -> u32 {
    let lf = memchr::memchr_iter(b'\n', text).count();
    let lone_cr = memchr::memchr_iter(b'\r', text).filter(|at| text.get(at + 1) != Some(&b'\n')).count();
    (lf + lone_cr) as u32
}

/// How many bytes of a written JSON string make up the first `decoded` bytes of its text.
fn json_offset(written: &str, decoded: usize) -> usize {
    let bytes = written.as_bytes();
    let (mut at, mut done) = (0, 0);
    while done < decoded && at < bytes.len() {
        let (step, gives) = match (bytes[at], bytes.get(at + 1)) {
            (b'\\', Some(b'u')) => {
                let code = written.get(at + 2..at + 6).and_then(|hex| u32::from_str_radix(hex, 16).ok()).unwrap_or(0);
                // Each half of a surrogate pair stands for two of the four bytes that the pair gives.
                let gives = match code {
                    0..=0x7f => 1,
                    0x80..=0x7ff | 0xd800..=0xdfff => 2,
                    _ => 3,
                };
                (6, gives)
            }
            (b'\\', _) => (2, 1),
            _ => (1, 1),
        };
        at += step;
        done += gives;
    }
    at.min(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::Chunk;
    use crate::source::Span;

    #[test]
    fn lines_are_the_same_in_whatever_order_places_are_asked_for() {
        let mut failures = Vec::new();
        for text in ["", "a\nb\r\nc\rd", "\r\n\r\n", "\r\r\n\n\r", "ü\r\nß\n", "no break"] {
            let places: Vec<usize> = (0..=text.len()).collect();
            let (mut back, mut mixed) = (places.clone(), places.clone());
            back.reverse();
            mixed.sort_by_key(|at| at * 5 % 7);
            for order in [places, back, mixed] {
                let chunk = Chunk { text: text.to_owned(), first_line: 3, ..Chunk::default() };
                for at in order.into_iter().filter(|at| text.is_char_boundary(*at)) {
                    let (line, expected) = (chunk.spot(Span::at(at)).line, chunk.line_of(at));
                    if line != expected {
                        failures.push(format!("{text:?} {at}: {line}, not {expected}"));
                    }
                }
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
