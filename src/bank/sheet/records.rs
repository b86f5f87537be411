//! Workbooks of the old kind (`.xls`, MS-XLS), read record by record out of their compound file. The library that reads `.xlsx` and
//! `.ods` takes for granted what stands in these; here nothing is looked at that is not there.

use super::beside::Beside;
use super::binary::{Data, is_of_dates, number, shows_dates};
use super::library::{Book, Sheet, Want};
use super::merged::Range;
use super::table::Cell;
use crate::bank::source::Again;
use crate::limits::Limits;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};

/// The streams that hold the records, in workbooks of 1997 and later and in those of 1995.
const STREAMS: [&str; 2] = ["Workbook", "Book"];
/// Columns of a sheet.
const COLUMNS: u16 = 256;
/// Bytes of such a file, which is held in memory as a whole.
pub(super) const XLS_BYTES: u64 = 64 << 20;

/// Reads a workbook. An error is a sentence about it.
pub(super) fn read(again: &Again, limits: &Limits, to: &mut impl Book) -> Result<(), String> {
    let mut bytes = Vec::new();
    let file = again().map_err(|error| format!("it cannot be read: {error}"))?;
    file.take(XLS_BYTES).read_to_end(&mut bytes).map_err(|error| format!("it cannot be read: {error}"))?;
    let stream = stream(&bytes)?;
    let book = Workbook::read(&stream, limits)?;
    for own in book.sheets.iter().filter(|own| own.is_hidden) {
        to.hidden(&own.name);
    }
    for own in &book.sheets {
        let broken = |why: String| format!("the sheet '{}' cannot be read to its end: {why}", own.name);
        let (cells, beside) = book.cells(stream.get(own.start..).unwrap_or_default(), limits).map_err(broken)?;
        let mut sheet = to.sheet(&own.name, beside);
        let mut is_more = true;
        for (place, cell) in cells {
            match sheet.cell(place, cell).map_err(broken)? {
                Want::More => {}
                Want::NextSheet => break,
                Want::Nothing => {
                    is_more = false;
                    break;
                }
            }
        }
        if !is_more || !sheet.end().map_err(broken)? {
            return Ok(());
        }
    }
    Ok(())
}

/// The records of the file.
fn stream(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let damaged = |error: &dyn std::fmt::Display| {
        format!("it is damaged ({error}): open it in a spreadsheet program and save it as .xlsx")
    };
    head(bytes).map_err(|error| damaged(&error))?;
    let mut compound = cfb::CompoundFile::open(Cursor::new(bytes)).map_err(|error| damaged(&error))?;
    let name = STREAMS.into_iter().find(|name| compound.is_stream(name));
    let name = name.ok_or_else(|| "it is no workbook: it has no stream of sheets".to_owned())?;
    let stream = compound.open_stream(name).map_err(|error| damaged(&error))?;
    let mut records = Vec::new();
    stream.take(bytes.len() as u64).read_to_end(&mut records).map_err(|error| damaged(&error))?;
    Ok(records)
}

/// Checks the numbers of the head for which the library makes room before it reads on (MS-CFB 2.2): the sectors of the table of
/// sectors at 44, and what it takes for those of the table beyond the head, four bytes from 62.
fn head(bytes: &[u8]) -> Result<(), &'static str> {
    let head = Data(bytes);
    let sectors = bytes.len() / 512 + 1;
    if head.long(44).unwrap_or(0) as usize > sectors || head.long(62).unwrap_or(0) > MOST_IN_HEAD {
        return Err("its head names more sectors than it has");
    }
    Ok(())
}

/// Entries of four bytes for which room is made without need, at most.
const MOST_IN_HEAD: u32 = 1 << 24;

/// Records, each with its kind (2.3).
struct Records<'s>(&'s [u8]);

impl<'s> Iterator for Records<'s> {
    type Item = (u16, &'s [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let (head, behind) = self.0.split_at_checked(4)?;
        let head = Data(head);
        let (kind, length) = (head.short(0)?, usize::from(head.short(2)?));
        let (data, rest) = behind.split_at(length.min(behind.len()));
        self.0 = rest;
        Some((kind, data))
    }
}

/// A sheet as the workbook lists it.
struct Listed {
    name: String,
    start: usize,
    is_hidden: bool,
}

/// What the sheets refer to.
#[derive(Default)]
struct Workbook {
    sheets: Vec<Listed>,
    strings: Vec<String>,
    /// By style: whether numbers are shown as dates.
    dates: Vec<bool>,
    from_1904: bool,
    /// Whether texts are in one byte a character, as in workbooks of 1995.
    is_old: bool,
}

/// A cell and its place.
type Placed = ((u32, u32), Cell);

impl Workbook {
    fn read(stream: &[u8], limits: &Limits) -> Result<Self, String> {
        let mut own = Self::default();
        let mut codes: BTreeMap<u16, bool> = BTreeMap::new();
        let mut formats: Vec<u16> = Vec::new();
        let mut records = Records(stream).peekable();
        while let Some((kind, data)) = records.next() {
            let record = Data(data);
            match kind {
                0x0809 => own.is_old = record.short(0).is_some_and(|version| version < 0x0600),
                0x002f => return Err("it is encrypted: save it without a password".to_owned()),
                0x0022 => own.from_1904 = record.short(0) == Some(1),
                // BoundSheet8: where the sheet begins, its state, its kind, its name.
                0x0085 if record.byte(5) == Some(0) => {
                    let name = own.short_text(data, 6);
                    let start = record.long(0).unwrap_or(u32::MAX) as usize;
                    own.sheets.push(Listed { name, start, is_hidden: record.byte(4).is_some_and(|own| own & 3 > 0) });
                }
                0x041e => {
                    let code =
                        if own.is_old { own.short_text(data, 2) } else { text(&mut Segments::one(data, 2), false) };
                    codes.insert(record.short(0).unwrap_or(0), shows_dates(&code));
                }
                0x00e0 => formats.push(record.short(2).unwrap_or(0)),
                0x00fc => {
                    let mut parts = vec![data];
                    while let Some((_, more)) = records.next_if(|(kind, _)| *kind == 0x003c) {
                        parts.push(more);
                    }
                    own.strings = strings(parts, limits)?;
                }
                0x000a => break,
                _ => {}
            }
        }
        let is_date = |code: &u16| codes.get(code).copied().unwrap_or(is_of_dates(*code));
        own.dates = formats.iter().map(is_date).collect();
        Ok(own)
    }

    /// A text whose length is one byte.
    fn short_text(&self, data: &[u8], at: usize) -> String {
        let length = usize::from(Data(data).byte(at).unwrap_or(0));
        if self.is_old {
            return narrow(data.get(at + 1..).unwrap_or_default(), length);
        }
        let is_wide = Data(data).byte(at + 1).is_some_and(|flags| flags & 1 == 1);
        Segments::one(data, at + 2).characters(length, is_wide)
    }

    /// A text whose length is two bytes.
    fn long_text(&self, data: &[u8], at: usize) -> String {
        if self.is_old {
            let length = usize::from(Data(data).short(at).unwrap_or(0));
            return narrow(data.get(at + 2..).unwrap_or_default(), length);
        }
        text(&mut Segments::one(data, at), false)
    }

    fn number(&self, style: Option<u16>, value: f64) -> Cell {
        let is_date = style.and_then(|own| self.dates.get(usize::from(own))).copied().unwrap_or(false);
        number(value, is_date, self.from_1904)
    }

    /// The cells of a sheet in order, and what it says beside them.
    fn cells(&self, sheet: &[u8], limits: &Limits) -> Result<(Vec<Placed>, Beside), String> {
        let mut own = SheetSoFar { book: self, cells: Vec::new(), beside: Beside::default(), waits: None };
        let mut depth = 0_u32;
        for (kind, data) in Records(sheet) {
            match kind {
                0x0809 => depth += 1,
                0x000a if depth <= 1 => break,
                0x000a => depth -= 1,
                // Drawings with sheets of their own.
                _ if depth > 1 => {}
                _ => own.record(kind, data)?,
            }
            if own.cells.len() as u64 > limits.sheet_cells {
                return Err(format!("passes the limit `sheet-cells` of {}", limits.sheet_cells));
            }
        }
        own.cells.sort_by_key(|(place, _)| *place);
        Ok((own.cells, own.beside))
    }

    /// What a record that is about one cell says is in it.
    fn value(&self, kind: u16, data: &[u8]) -> Option<Cell> {
        let record = Data(data);
        let style = record.short(4);
        match kind {
            0x0203 => record.double(6).map(|own| self.number(style, own)),
            0x027e => record.long(6).map(|own| self.number(style, packed(own))),
            0x00fd => {
                let text = record.long(6).and_then(|own| self.strings.get(own as usize));
                Some(Cell::text(text.map_or("", String::as_str)))
            }
            0x0204 | 0x00d6 => Some(Cell::text(&self.long_text(data, 6))),
            0x0205 => record.byte(6).map(|own| boolean_or_error(own, record.byte(7) == Some(1))),
            // Bytes of the value of a formula, which are a number unless the last two are set (2.5.133).
            0x0006 => match (record.short(12), record.byte(6)) {
                (Some(0xffff), Some(kind @ (1 | 2))) => record.byte(8).map(|own| boolean_or_error(own, kind == 2)),
                (Some(0xffff), _) => None,
                _ => record.double(6).map(|own| self.number(style, own)),
            },
            _ => None,
        }
    }
}

/// What the records of a sheet have said so far.
struct SheetSoFar<'b> {
    book: &'b Workbook,
    cells: Vec<Placed>,
    beside: Beside,
    /// The cell of a formula whose value is the text that follows.
    waits: Option<(u32, u32)>,
}

impl SheetSoFar<'_> {
    fn record(&mut self, kind: u16, data: &[u8]) -> Result<(), String> {
        let record = Data(data);
        match (kind, record.short(0).map(u32::from), record.short(2).map(u32::from)) {
            (0x0207, ..) => {
                if let Some(place) = self.waits.take() {
                    put(&mut self.cells, place, Cell::text(&self.book.long_text(data, 0)))?;
                }
            }
            (0x00e5, areas, _) => self.merged(data, areas.unwrap_or(0) as usize),
            (0x00bd, Some(row), Some(first)) => self.numbers((row, first), data)?,
            // Row (2.4.221), ColInfo (2.4.53): whether they are hidden.
            (0x0208, Some(row), _) if record.short(12).is_some_and(|flags| flags & 0x20 > 0) => {
                self.beside.hide_rows(row, row);
            }
            (0x007d, Some(first), Some(last)) if record.short(8).is_some_and(|flags| flags & 1 > 0) => {
                self.beside.hide_columns(first, last);
            }
            (0x0006, Some(row), Some(column)) if (record.short(12), record.byte(6)) == (Some(0xffff), Some(0)) => {
                self.waits = Some((row, column));
            }
            (_, Some(row), Some(column)) => {
                if let Some(cell) = self.book.value(kind, data) {
                    put(&mut self.cells, (row, column), cell)?;
                }
            }
            _ => {}
        }
        Ok(())
    }

    /// Packed numbers side by side.
    fn numbers(&mut self, (row, first): (u32, u32), data: &[u8]) -> Result<(), String> {
        let record = Data(data);
        for at in 0..data.len().saturating_sub(6) / 6 {
            let (style, value) = (record.short(4 + at * 6), record.long(6 + at * 6).unwrap_or(0));
            put(&mut self.cells, (row, first + at as u32), self.book.number(style, packed(value)))?;
        }
        Ok(())
    }

    fn merged(&mut self, data: &[u8], areas: usize) {
        let record = Data(data);
        for at in 0..areas.min(data.len() / 8) {
            let ends = [0, 2, 4, 6].map(|own| record.short(2 + at * 8 + own).map(u32::from));
            if let [Some(top), Some(bottom), Some(left), Some(right)] = ends {
                self.beside.merged.push(Range { first: (top, left), last: (bottom, right) });
            }
        }
    }
}

fn put(cells: &mut Vec<Placed>, place: (u32, u32), cell: Cell) -> Result<(), String> {
    if place.1 >= u32::from(COLUMNS) {
        return Err(format!(
            "it is damaged: a cell stands in column {}, and a sheet of this kind has {COLUMNS}. Open it in a spreadsheet program and \
             save it as .xlsx",
            place.1 + 1
        ));
    }
    cells.push((place, cell));
    Ok(())
}

/// A packed number (2.5.217).
pub(super) fn packed(own: u32) -> f64 {
    let double = f64::from_bits(u64::from(own & !3) << 32);
    let number = if own & 2 == 2 { f64::from(own.cast_signed() >> 2) } else { double };
    if own & 1 == 1 { number / 100.0 } else { number }
}

fn boolean_or_error(value: u8, is_error: bool) -> Cell {
    if is_error {
        return Cell::Error(super::binary::error_name(value).to_owned());
    }
    Cell::Text(if value == 0 { "FALSE" } else { "TRUE" }.to_owned())
}

/// A text of one byte a character, as Windows programs of Western Europe and America wrote it.
fn narrow(bytes: &[u8], length: usize) -> String {
    let own = bytes.get(..length.min(bytes.len())).unwrap_or_default();
    encoding_rs::WINDOWS_1252.decode_without_bom_handling(own).0.into_owned()
}

/// The shared texts, which go on from record to record.
fn strings(parts: Vec<&[u8]>, limits: &Limits) -> Result<Vec<String>, String> {
    let mut segments = Segments { parts, part: 0, at: 8 };
    let mut strings = Vec::new();
    while !segments.is_done() {
        if strings.len() as u64 >= limits.shared_strings {
            return Err(format!("passes the limit `shared-strings` of {}", limits.shared_strings));
        }
        strings.push(text(&mut segments, true));
    }
    Ok(strings)
}

/// A text with its length, its flags and, where it is rich, what is behind it (2.5.293, 2.5.294).
fn text(segments: &mut Segments<'_>, is_rich: bool) -> String {
    let length = usize::from(segments.short());
    let flags = segments.byte();
    let runs = if is_rich && flags & 8 == 8 { usize::from(segments.short()) * 4 } else { 0 };
    let more = if is_rich && flags & 4 == 4 {
        let low = usize::from(segments.short());
        usize::from(segments.short()) << 16 | low
    } else {
        0
    };
    let text = segments.characters(length, flags & 1 == 1);
    segments.skip(runs.saturating_add(more));
    text
}

/// Data that goes on in the records behind.
struct Segments<'s> {
    parts: Vec<&'s [u8]>,
    part: usize,
    at: usize,
}

impl<'s> Segments<'s> {
    fn one(data: &'s [u8], at: usize) -> Self {
        Self { parts: vec![data], part: 0, at }
    }

    fn rest(&self) -> &'s [u8] {
        self.parts.get(self.part).and_then(|own| own.get(self.at..)).unwrap_or_default()
    }

    /// Goes to the next record where this one is at its end.
    fn go_on(&mut self) -> bool {
        let mut has_gone = false;
        while self.rest().is_empty() && self.part < self.parts.len() {
            (self.part, self.at) = (self.part + 1, 0);
            has_gone = true;
        }
        has_gone
    }

    fn is_done(&mut self) -> bool {
        self.go_on();
        self.part >= self.parts.len()
    }

    fn byte(&mut self) -> u8 {
        self.go_on();
        let own = self.rest().first().copied().unwrap_or(0);
        self.at += 1;
        own
    }

    fn short(&mut self) -> u16 {
        let low = self.byte();
        u16::from_le_bytes([low, self.byte()])
    }

    fn skip(&mut self, mut bytes: usize) {
        while bytes > 0 && !self.is_done() {
            let own = self.rest().len().min(bytes);
            self.at += own;
            bytes -= own;
        }
    }

    /// Characters. In each record in which they go on stands anew how wide they are.
    fn characters(&mut self, length: usize, mut is_wide: bool) -> String {
        let mut units: Vec<u16> = Vec::with_capacity(length.min(1 << 15));
        while units.len() < length {
            if self.go_on() {
                if self.part >= self.parts.len() {
                    break;
                }
                is_wide = self.byte() & 1 == 1;
                continue;
            }
            let width = if is_wide { 2 } else { 1 };
            let rest = self.rest();
            let count = (rest.len() / width).min(length - units.len());
            if count == 0 {
                // Half a character.
                self.at += rest.len();
                continue;
            }
            let own = rest.get(..count * width).unwrap_or_default();
            if is_wide {
                units.extend(own.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])));
            } else {
                units.extend(own.iter().map(|byte| u16::from(*byte)));
            }
            self.at += count * width;
        }
        char::decode_utf16(units).map(|own| own.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::{Cell, Limits, Range, Workbook, packed, strings};

    fn record(kind: u16, data: &[u16]) -> Vec<u8> {
        let words = [&[kind, data.len() as u16 * 2], data].concat();
        words.iter().flat_map(|word| word.to_le_bytes()).collect()
    }

    #[test]
    fn texts_go_on_in_the_next_record_in_another_width() {
        let first = [&[0; 8][..], &[5, 0, 0, b'a', b'b']].concat();
        let second = [&[1_u8][..], &[b'c', 0, 0x42, 0x04, b'e', 0], &[1, 0, 0, b'x']].concat();
        let found = strings(vec![&first, &second], &Limits::default());
        assert_eq!(found, Ok(vec!["abc\u{442}e".to_owned(), "x".to_owned()]));
    }

    #[test]
    fn numbers_are_unpacked() {
        let found = [0x3ff0_0000, 0x3ff0_0001, 7 << 2 | 2, 700 << 2 | 3].map(|own| packed(own).to_string());
        assert_eq!(found, ["1", "0.01", "7", "7"]);
    }

    #[test]
    fn cells_are_read_in_order_and_those_that_lie_about_their_places_refused() {
        let book = Workbook { strings: vec!["a".to_owned()], ..Workbook::default() };
        let begin = record(0x0809, &[0x0600, 0x10]);
        let late = record(0x00fd, &[2, 1, 0, 0, 0]);
        let early = record(0x0205, &[1, 0, 0, 0x0001]);
        let merged = record(0x00e5, &[1, 1, 2, 3, 4]);
        let sheet = [begin.clone(), late, early, merged, record(0x000a, &[]), record(0x0205, &[9, 0, 0, 1])].concat();
        let found = book.cells(&sheet, &Limits::default()).expect("it can be read");
        let text = |text: &str| Cell::Text(text.to_owned());
        assert_eq!(found.0, [((1, 0), text("TRUE")), ((2, 1), text("a"))]);
        assert_eq!(found.1.merged, [Range { first: (1, 3), last: (2, 4) }]);
        let beyond = [begin, record(0x0205, &[0, 256, 0, 1])].concat();
        assert!(book.cells(&beyond, &Limits::default()).is_err());
    }
}
