//! CSV and TSV: a header row, then one item or one step a row.

mod down;

use super::cells::{Line, cell_length, is_blank, split, unclosed_quote};
use super::chunk::Chunk;
use super::fields::{Collector, Name};
use super::item::{BadRecord, Field, Item, Record, Slot, Task, Tasks, Writing};
use super::plain::{Plain, Taker, trimmed};
use super::rows::{self, Unasked};
use crate::source::Span;
pub(super) use down::Above;

/// What the header of a table says.
#[derive(Debug, Clone, Default)]
pub struct Header {
    /// The field of each column; `None` for columns that keyassay does not know.
    pub names: Vec<Option<Name>>,
    /// The header's own names.
    pub texts: Vec<String>,
    /// The separator.
    pub delimiter: u8,
}

impl Header {
    /// Reads the header row. `rename` maps a column's own name to a field's (a profile); it gives back what it does not map.
    #[must_use]
    pub fn read(row: &str, delimiter: Option<u8>, rename: &dyn Fn(&str) -> String) -> Self {
        let delimiter = delimiter.unwrap_or_else(|| guess_delimiter(row));
        let mut reader = csv_reader(row, delimiter);
        let mut record = csv::StringRecord::new();
        let _ = reader.read_record(&mut record);
        Self::of_cells(record.iter(), delimiter, rename)
    }

    /// The header that the cells of a row would make.
    pub fn of_cells<'c>(cells: impl Iterator<Item = &'c str>, delimiter: u8, rename: &dyn Fn(&str) -> String) -> Self {
        let texts: Vec<String> = cells.map(|text| text.trim_start_matches('\u{feff}').trim().to_owned()).collect();
        let names = texts.iter().enumerate().map(|(at, text)| {
            let label = rows::column_label(at as u32);
            // A header that is spelt like the place of another column is a header.
            let by_place = || Some(rename(&label)).filter(|own| *own != label);
            let is_header = |label: &str| texts.iter().any(|own| own.eq_ignore_ascii_case(label));
            let by_place = by_place().filter(|_| !is_header(&label) || text.eq_ignore_ascii_case(&label));
            Name::from_text(&by_place.unwrap_or_else(|| rename(text)))
        });
        let names = names.collect();
        Self { names, texts, delimiter }
    }

    /// The header of a table without one: its columns are called by their places, and some beyond the last may hold notes.
    pub(super) fn of_places(width: usize, delimiter: u8, rename: &dyn Fn(&str) -> String) -> Self {
        let texts: Vec<String> = (0..width).map(|at| rows::column_label(at as u32)).collect();
        Self::of_cells(texts.iter().map(String::as_str), delimiter, rename)
    }

    /// Names columns without a name, and some beyond the last, which may hold notes.
    pub(super) fn extend_with(&mut self, name: impl Fn(usize) -> String, more: usize) {
        for _ in 0..more {
            self.texts.push(String::new());
            self.names.push(None);
        }
        for (at, text) in self.texts.iter_mut().enumerate().filter(|(_, text)| text.is_empty()) {
            *text = name(at);
        }
    }

    /// Whether the table can be a bank: it has a start and something to say about it.
    #[must_use]
    pub fn is_bank(&self) -> bool {
        let has = |name: Name| self.names.contains(&Some(name));
        has(Name::Start) && (has(Name::Arrows) || has(Name::Answer) || has(Name::Answers))
    }

    /// Whether any column is one of drawings or arrows.
    #[must_use]
    pub fn is_of_drawings(&self) -> bool {
        self.names.iter().flatten().any(|name| name.is_of_drawings())
    }

    /// Whether rows are steps of items.
    #[must_use]
    pub fn has_steps(&self) -> bool {
        self.names.contains(&Some(Name::Step))
    }
}

/// The separator that the header row uses most: comma, semicolon or tab.
#[must_use]
pub fn guess_delimiter(row: &str) -> u8 {
    let mut quoted = false;
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    for byte in row.bytes() {
        quoted ^= byte == b'"';
        for (delimiter, count) in &mut counts {
            *count += i32::from(!quoted && byte == *delimiter);
        }
    }
    counts.iter().rev().max_by_key(|(_, count)| *count).map_or(b',', |(delimiter, _)| *delimiter)
}

fn csv_reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .buffer_capacity(text.len().clamp(64, 1 << 16))
        .from_reader(text.as_bytes())
}

/// How the rows of a table become items.
pub struct TableReader<'a> {
    /// The header.
    pub header: &'a Header,
    /// How tasks are named.
    pub tasks: Tasks<'a>,
    /// The file's name in ids of items that have none.
    pub file: &'a str,
    /// Whether unknown columns are kept.
    pub keep_extra: bool,
    /// Cells that a row may have.
    pub columns: usize,
    /// Fields whose empty cells take their text from above.
    pub fill_down: &'a [Name],
}

/// A row of a chunk: its cells, the bytes that it stands on, its line.
struct Row<'a> {
    cells: &'a csv::ByteRecord,
    start: usize,
    end: usize,
    line: u32,
    /// Whether it has more cells than a row may have; then they are not taken apart.
    is_too_wide: bool,
}

impl TableReader<'_> {
    /// Reads the rows of a chunk. Rows that are steps of one item are gathered into it. Gives the rows without a question beside.
    #[must_use]
    pub fn read(&self, chunk: &Chunk) -> (Vec<Record>, Unasked) {
        let mut records: Vec<Record> = Vec::new();
        let mut unasked = Unasked::default();
        let mut above = chunk.above.clone();
        self.rows(chunk, |row| {
            if self.asks(chunk, &row) {
                let filled = self.fill(&row, &mut above);
                let row = Row { cells: filled.as_ref().unwrap_or(row.cells), ..row };
                self.add(&mut records, self.record(chunk, &row));
            } else {
                unasked.add(row.line);
            }
        });
        (records, unasked)
    }

    /// Hands the rows of a chunk over, each an item of its own; plain ones are offered as they stand there. Gives the rows without a
    /// question.
    pub fn hand_over(&self, chunk: &Chunk, taker: &mut dyn Taker) -> Unasked {
        let mut unasked = Unasked::default();
        if memchr::memchr(b'"', chunk.text.as_bytes()).is_none() {
            self.hand_over_lines(chunk, taker, &mut unasked);
        } else {
            self.rows(chunk, |row| {
                if self.plain(chunk, &row).is_some_and(|plain| taker.plain(&plain, row.line)) {
                } else if self.asks(chunk, &row) {
                    taker.record(self.record(chunk, &row));
                } else {
                    unasked.add(row.line);
                }
            });
        }
        taker.end(chunk);
        unasked
    }

    fn asks(&self, chunk: &Chunk, row: &Row<'_>) -> bool {
        let cells = || row.cells.iter().map(|cell| std::str::from_utf8(cell).unwrap_or("\u{1a}"));
        let raw = || chunk.text.get(row.start..row.end).unwrap_or_default();
        // What a quote that is never closed holds nobody knows.
        row.is_too_wide || self.cells_ask(cells) || unclosed_quote(raw(), self.header.delimiter).is_some()
    }

    fn cells_ask<'c, I: Iterator<Item = &'c str>>(&self, cells: impl Fn() -> I) -> bool {
        let names = self.header.names.iter().copied().chain(std::iter::repeat(None));
        rows::asks(names.zip(cells())) && !rows::repeats(&self.header.texts, cells())
    }

    /// The same where no quote is: a row is a line, and cells are what stands between separators.
    fn hand_over_lines(&self, chunk: &Chunk, taker: &mut dyn Taker, unasked: &mut Unasked) {
        let mut lines = LineCounter { chunk, at: 0, line: chunk.first_line };
        for own in &chunk.records {
            let (start, end) = (own.start as usize, own.end as usize);
            let text = own.of(&chunk.text);
            let line = lines.at(start);
            lines.skip_to(end);
            if self.plain_line(chunk, text).is_some_and(|plain| taker.plain(&plain, line)) {
                continue;
            }
            if self.is_too_wide(text) {
                let row = Row { cells: &csv::ByteRecord::new(), start, end, line, is_too_wide: true };
                taker.record(self.record(chunk, &row));
                continue;
            }
            let cells = split(text, self.header.delimiter);
            if text.trim().is_empty() {
            } else if !self.cells_ask(|| cells.iter().copied()) {
                unasked.add(line);
            } else {
                // The line break is the row's.
                let span = (start, chunk.text.len().min(end + 1));
                let content = self.item(chunk, &cells, span, line);
                taker.record(Record { line, content: chunk.whole(content, span) });
            }
        }
    }

    /// A line without quotes as a plain item, if it is one.
    fn plain_line<'c>(&self, chunk: &Chunk, text: &'c str) -> Option<Plain<'c>> {
        let is_whole = chunk.bad_bytes.is_empty() && chunk.record_bytes.is_none_or(|limit| text.len() < limit);
        if !is_whole || self.keep_extra {
            return None;
        }
        let mut cells = Cells { plain: Plain::of_task(self.tasks.default), tasks: self.tasks };
        let mut rest = Some(text);
        for name in &self.header.names {
            let Some(text) = rest else { break };
            let (cell, behind) = match memchr::memchr(self.header.delimiter, text.as_bytes()) {
                Some(at) => (text.get(..at)?, text.get(at + 1..)),
                None => (text, None),
            };
            rest = behind;
            cells.take(*name, cell)?;
        }
        // Cells beyond those of the header are a fault.
        cells.finish().filter(|_| rest.is_none())
    }

    /// Goes through the rows.
    fn rows(&self, chunk: &Chunk, mut each: impl FnMut(Row<'_>)) {
        let mut lines = LineCounter { chunk, at: 0, line: chunk.first_line };
        let mut from = 0;
        // Each cell takes memory beyond its text: a row of a million is not taken apart.
        for wide in chunk.records.iter().filter(|row| self.is_too_wide(row.of(&chunk.text))) {
            let (start, end) = (wide.start as usize, wide.end as usize);
            self.rows_between(chunk, (from, start), &mut lines, &mut each);
            each(Row { cells: &csv::ByteRecord::new(), start, end, line: lines.at(start), is_too_wide: true });
            from = end;
        }
        self.rows_between(chunk, (from, chunk.text.len()), &mut lines, &mut each);
    }

    fn is_too_wide(&self, row: &str) -> bool {
        // So many cells need as many separators, so that most rows are not looked at.
        row.len() >= self.columns && {
            let mut quoted = false;
            let separators = row.bytes().filter(|byte| {
                quoted ^= *byte == b'"';
                !quoted && *byte == self.header.delimiter
            });
            separators.count() >= self.columns
        }
    }

    fn rows_between(
        &self,
        chunk: &Chunk,
        (from, to): (usize, usize),
        lines: &mut LineCounter<'_>,
        each: &mut impl FnMut(Row<'_>),
    ) {
        let mut reader = csv_reader(chunk.text.get(from..to).unwrap_or_default(), self.header.delimiter);
        let mut cells = csv::ByteRecord::new();
        loop {
            let before = from + reader.position().byte() as usize;
            let start = skip_breaks(&chunk.text, before);
            match reader.read_byte_record(&mut cells) {
                Ok(false) => break,
                // A line of nothing but space is no row.
                Ok(true) if cells.len() == 1 && cells.iter().all(is_blank) => {}
                // Bytes are read from memory and may be any: there is no error.
                Ok(true) | Err(_) => {
                    let (line, end) = (lines.at(start), from + reader.position().byte() as usize);
                    each(Row { cells: &cells, start, end, line, is_too_wide: false });
                }
            }
        }
    }

    /// The row as a plain item, if it is one: no quotes, nothing in columns that mean more.
    fn plain<'c>(&self, chunk: &'c Chunk, row: &Row<'_>) -> Option<Plain<'c>> {
        let raw = chunk.text.get(row.start..row.end)?;
        let is_whole = chunk.bad_bytes.is_empty() && chunk.record_bytes.is_none_or(|limit| raw.len() <= limit);
        if !is_whole
            || row.is_too_wide
            || self.keep_extra
            || row.cells.len() > self.header.names.len()
            || memchr::memchr(b'"', raw.as_bytes()).is_some()
        {
            return None;
        }
        let mut cells = Cells { plain: Plain::of_task(self.tasks.default), tasks: self.tasks };
        let mut at = row.start;
        for (cell, name) in row.cells.iter().zip(&self.header.names) {
            let text = chunk.text.get(at..at + cell.len())?;
            at += cell.len() + 1;
            cells.take(*name, text)?;
        }
        cells.finish()
    }

    fn record(&self, chunk: &Chunk, row: &Row<'_>) -> Record {
        let (start, end, line) = (row.start, row.end, row.line);
        if row.is_too_wide {
            let message = format!("the row passes the limit of {} cells", self.columns);
            return Record {
                line,
                content: Err(BadRecord { is_item: true, id: None, message, span: Span::at(start) }),
            };
        }
        let content = match csv::StringRecord::from_byte_record(row.cells.clone()) {
            Ok(cells) => self.item(chunk, &cells.iter().collect::<Line<'_>>(), (start, end), line),
            Err(error) => {
                let message = format!("the row cannot be read: {error}");
                Err(BadRecord { is_item: true, id: None, message, span: Span::at(start) })
            }
        };
        Record { line, content: chunk.whole(content, (start, end)) }
    }

    /// Adds a record, or its step to the item before where it goes on with that. Rows that are no steps are items of
    /// their own, also where they repeat an id.
    fn add(&self, records: &mut Vec<Record>, record: Record) {
        let numbered = |item: &Item| item.steps.iter().any(|step| step.number > 0);
        match (records.last_mut(), record) {
            (Some(Record { content: Ok(before), .. }), Record { content: Ok(item), .. })
                if self.header.has_steps()
                    && item.has_own_id
                    && item.id == before.id
                    && (numbered(&item) || numbered(before)) =>
            {
                before.absorb(item);
            }
            (_, record) => records.push(record),
        }
    }

    /// The item of a row, given by its cells and the bytes that it stands on.
    fn item(&self, chunk: &Chunk, row: &[&str], (start, end): (usize, usize), line: u32) -> Result<Item, BadRecord> {
        let raw = chunk.text.get(start..end).unwrap_or_default();
        if let Some(span) = unclosed_quote(raw, self.header.delimiter) {
            let message = "a quoted cell is never closed: expected '\"' before the end of the row".to_owned();
            let span = Span::new(start + span, start + span + 1);
            return Err(BadRecord { is_item: true, id: None, message, span });
        }
        if row.iter().skip(self.header.names.len()).any(|cell| !cell.trim().is_empty()) {
            return Err(self.too_many_cells(row, Span::new(start, end)));
        }
        let mut collector = Collector::default();
        let mut cell_start = start;
        for (at, cell) in row.iter().enumerate() {
            let quoted = chunk.text.as_bytes().get(cell_start) == Some(&b'"');
            match self.header.names.get(at) {
                Some(Some(name)) if !cell.is_empty() => {
                    let writing = if quoted { Writing::Quoted } else { Writing::Plain };
                    collector.take(*name, Field { text: (*cell).to_owned(), start: cell_start as u32, writing });
                }
                Some(None) if self.keep_extra => {
                    collector.extra(self.header.texts.get(at).map_or("", String::as_str), cell);
                }
                Some(Some(name @ (Name::Answer | Name::Arrows | Name::Key))) => {
                    let (writing, end) = if quoted { (Writing::Quoted, 2) } else { (Writing::Plain, 0) };
                    let span = Span::new(cell_start, cell_start + end);
                    collector.slot(*name, Slot { span, before: String::new(), writing });
                }
                _ => {}
            }
            let rest = || chunk.text.get(cell_start..end).unwrap_or_default();
            // What came from above does not stand here.
            let as_read = !quoted && chunk.above.is_empty();
            let length = if as_read { cell.len() } else { cell_length(rest(), self.header.delimiter) };
            cell_start = (cell_start + length + 1).min(end);
        }
        self.slots_behind(row_end(raw, start), row.len(), &mut collector);
        collector.finish(self.tasks, || super::place_name(self.file, line))
    }

    /// What to say of a row with more cells than the header names.
    fn too_many_cells(&self, row: &[&str], span: Span) -> BadRecord {
        let names = &self.header.names;
        let id = names.iter().position(|name| *name == Some(Name::Id)).and_then(|at| row.get(at));
        let message = format!(
            "the row has {} cells, the header names {}: a separator inside a cell needs quotes round the cell",
            row.len(),
            names.len()
        );
        BadRecord { is_item: true, id: id.map(|id| (*id).to_owned()), message, span }
    }

    /// Places for fields whose cells a short row does not have.
    fn slots_behind(&self, end: Span, cells: usize, collector: &mut Collector) {
        for (at, name) in self.header.names.iter().enumerate().skip(cells) {
            if let Some(name @ (Name::Answer | Name::Arrows | Name::Key)) = name {
                let before = String::from(char::from(self.header.delimiter)).repeat(at + 1 - cells);
                collector.slot(*name, Slot { span: end, before, writing: Writing::Plain });
            }
        }
    }
}

/// The cells of a row on their way to a plain item.
struct Cells<'c, 't> {
    plain: Plain<'c>,
    tasks: Tasks<'t>,
}

impl<'c> Cells<'c, '_> {
    /// Takes the cell of a column; `None` where it makes the item more than a plain one.
    fn take(&mut self, column: Option<Name>, text: &'c str) -> Option<()> {
        let Some(name) = column else { return Some(()) };
        // A blank cell is an absent one.
        if is_blank(text.as_bytes()) {
            return Some(());
        }
        let plain = &mut self.plain;
        match name {
            Name::Id => plain.id = Some(trimmed(text)),
            Name::Task => plain.task = self.tasks.named(text)?,
            Name::Start => plain.start = text,
            Name::Arrows => plain.arrows = text,
            Name::Answer => plain.answer = text,
            Name::Prompt => plain.prompt = text,
            Name::Tags => plain.tags = text,
            _ => return None,
        }
        Some(())
    }

    fn finish(self) -> Option<Plain<'c>> {
        let Plain { task, start, arrows, answer, .. } = self.plain;
        let is_plain = task != Task::Contributors && !(start.is_empty() || arrows.is_empty() || answer.is_empty());
        is_plain.then_some(self.plain)
    }
}

/// The place behind the last cell of a row.
fn row_end(raw: &str, start: usize) -> Span {
    Span::at(start + raw.trim_end_matches(['\n', '\r']).len())
}

/// Counts lines as records go by, each byte once.
struct LineCounter<'a> {
    chunk: &'a Chunk,
    at: usize,
    line: u32,
}

impl LineCounter<'_> {
    /// Passes bytes among which there is no line break.
    fn skip_to(&mut self, byte: usize) {
        self.at = byte;
    }

    fn at(&mut self, byte: usize) -> u32 {
        if let Some((_, row)) = self.chunk.row_at(byte) {
            return row;
        }
        let text = self.chunk.text.as_bytes();
        if text.get(self.at..byte) == Some(b"\n") {
            self.line += 1;
            self.at = byte;
        }
        if let Some(passed) = text.get(self.at..byte) {
            self.line += super::chunk::line_breaks(passed);
            self.at = byte;
        }
        self.line
    }
}

/// The csv crate passes over empty lines: a record starts behind them.
fn skip_breaks(text: &str, mut at: usize) -> usize {
    while matches!(text.as_bytes().get(at), Some(b'\n' | b'\r')) {
        at += 1;
    }
    at
}
