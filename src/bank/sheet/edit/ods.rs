//! Cells of an `.ods` (ODF 1.3, part 3, 9.1): rows and cells that stand for several are parted where one of them changes.

use super::tags::{Tag, Tags};
use super::{CellRefusal, Wanted};
use crate::bank::sheet::cell_name;
use std::collections::BTreeMap;

const ROWS: &str = "table:number-rows-repeated";
const COLUMNS: &str = "table:number-columns-repeated";
/// The name of a cell that others of its range hide.
const COVERED: &[u8] = b"covered-table-cell";
/// What says the value of a cell.
const VALUE: [&str; 8] = [
    "value-type",
    "value",
    "string-value",
    "date-value",
    "time-value",
    "boolean-value",
    "currency",
    "number-columns-repeated",
];

/// Whether the part calls what is written here by the usual prefixes.
pub(super) fn has_usual_prefixes(content: &[u8]) -> bool {
    let first = Tags::new(content).next();
    let is_bound = |prefix: &str| {
        let wanted = format!("xmlns:{prefix}=\"urn:oasis:names:tc:opendocument:xmlns:{prefix}:1.0\"");
        first.is_some_and(|tag| memchr::memmem::find(tag.text, wanted.as_bytes()).is_some())
    };
    ["table", "office", "text"].into_iter().all(is_bound)
}

/// Writes cells of the sheets; gives those that are refused.
pub(super) fn written(
    content: &[u8],
    sheets: &mut BTreeMap<String, Wanted<'_>>,
) -> (Vec<u8>, Vec<(usize, CellRefusal)>) {
    let mut out = Vec::with_capacity(content.len() + 4096);
    let (mut done, mut refused) = (0, Vec::new());
    let mut tags = Tags::new(content);
    let mut own: Option<Wanted<'_>> = None;
    let (mut tables, mut next) = (0_usize, 0_u32);
    while let Some(tag) = tags.next() {
        match tag.local() {
            b"table" if tag.is_end => tables = tables.saturating_sub(1),
            b"table" if tag.opens() => {
                tables += 1;
                if tables == 1 {
                    own = tag.attribute("name").and_then(|name| sheets.remove(&*name));
                    next = 0;
                }
            }
            b"table-row" if !tag.is_end && tables == 1 => {
                let times = tag.number("number-rows-repeated").unwrap_or(1).max(1);
                let (first, behind) = (next, next.saturating_add(times));
                next = behind;
                let (end, _) = tags.pass(&tag, b"");
                let Some(wanted) = &mut own else { continue };
                let mut later = wanted.split_off(&(first, 0));
                let rest = later.split_off(&(behind, 0));
                *wanted = rest;
                if later.is_empty() {
                    continue;
                }
                out.extend_from_slice(content.get(done..tag.start).unwrap_or_default());
                let row = Repeated { tag, content: content.get(tag.end..end).unwrap_or_default(), first, behind };
                refused.extend(row.rows(later, &mut out));
                done = end;
            }
            _ => {}
        }
    }
    out.extend_from_slice(content.get(done..).unwrap_or_default());
    (out, refused)
}

/// A row or a cell, or several that are the same.
struct Repeated<'c> {
    tag: Tag<'c>,
    /// What stands behind its tag, the closing one included.
    content: &'c [u8],
    first: u32,
    behind: u32,
}

impl Repeated<'_> {
    /// Writes it as it is, so many times.
    fn same(&self, attribute: &str, times: u32, out: &mut Vec<u8>) {
        if times > 0 {
            out.extend_from_slice(&self.tag.repeated(attribute, times));
            out.extend_from_slice(self.content);
        }
    }

    /// Writes rows with the cells wanted in them.
    fn rows(&self, mut wanted: Wanted<'_>, out: &mut Vec<u8>) -> Vec<(usize, CellRefusal)> {
        let mut refused = Vec::new();
        let mut at = self.first;
        while let Some(row) = wanted.keys().next().map(|(row, _)| *row) {
            let later = wanted.split_off(&(row + 1, 0));
            let own = std::mem::replace(&mut wanted, later);
            self.same(ROWS, row - at, out);
            let whole = self.behind - self.first == 1;
            let tag = if whole { self.tag.text.to_vec() } else { self.tag.repeated(ROWS, 1) };
            refused.extend(cells((&self.tag, &tag), self.content, own, out));
            at = row + 1;
        }
        self.same(ROWS, self.behind - at, out);
        refused
    }

    /// Takes what is wanted in these cells of a row, by their columns, but for what cannot be written.
    fn taken<'w>(&self, wanted: &mut Wanted<'w>, refused: &mut Vec<(usize, CellRefusal)>) -> Vec<(u32, &'w str)> {
        let spans = ["number-columns-spanned", "number-rows-spanned"];
        let mut own = Vec::new();
        while let Some(((row, column), (edit, text))) = wanted.pop_first() {
            if column >= self.behind {
                wanted.insert((row, column), (edit, text));
                break;
            }
            let name = || cell_name(row + 1, column);
            if self.tag.local() == COVERED || spans.iter().any(|own| self.tag.number(own).is_some_and(|own| own > 1)) {
                refused.push((edit, CellRefusal::Merged(name())));
            } else if self.tag.attribute("formula").is_some() {
                refused.push((edit, CellRefusal::Formula(name())));
            } else {
                own.push((column, text));
            }
        }
        own
    }

    /// Writes cells, some of them with another text.
    fn cells(&self, texts: Vec<(u32, &str)>, out: &mut Vec<u8>) {
        let mut at = self.first;
        for (column, text) in texts {
            self.same(COLUMNS, column - at, out);
            value(out, &self.tag, self.content, text);
            at = column + 1;
        }
        self.same(COLUMNS, self.behind - at, out);
    }
}

/// Writes one row with its cells.
fn cells(
    (tag, text): (&Tag<'_>, &[u8]),
    content: &[u8],
    mut wanted: Wanted<'_>,
    out: &mut Vec<u8>,
) -> Vec<(usize, CellRefusal)> {
    let mut refused = Vec::new();
    // A row that was empty closes behind what is put into it.
    out.extend_from_slice(if tag.is_empty { text.strip_suffix(b"/>").unwrap_or(text) } else { text });
    out.extend_from_slice(if tag.is_empty { b">" } else { b"" });
    let mut tags = Tags::new(content);
    let (mut done, mut next, mut close) = (0, 0_u32, content.len());
    while let Some(tag) = tags.next() {
        if tag.is_end {
            close = tag.start;
            break;
        }
        let (end, _) = tags.pass(&tag, b"");
        if tag.local() != COVERED && tag.local() != b"table-cell" {
            continue;
        }
        let times = tag.number("number-columns-repeated").unwrap_or(1).max(1);
        let inner = content.get(tag.end..end).unwrap_or_default();
        let cell = Repeated { tag, content: inner, first: next, behind: next.saturating_add(times) };
        next = cell.behind;
        let own = cell.taken(&mut wanted, &mut refused);
        if !own.is_empty() {
            out.extend_from_slice(content.get(done..tag.start).unwrap_or_default());
            cell.cells(own, out);
            done = end;
        }
    }
    out.extend_from_slice(content.get(done..close).unwrap_or_default());
    new_cells(next, wanted, out);
    out.extend_from_slice(content.get(close..).unwrap_or_default());
    if tag.is_empty {
        out.extend_from_slice(b"</table:table-row>");
    }
    refused
}

/// Writes cells behind the last of a row.
fn new_cells(mut next: u32, wanted: Wanted<'_>, out: &mut Vec<u8>) {
    for ((_, column), (_, text)) in wanted {
        if column > next {
            out.extend_from_slice(format!("<table:table-cell {COLUMNS}=\"{}\"/>", column - next).as_bytes());
        }
        out.extend_from_slice(b"<table:table-cell office:value-type=\"string\">");
        paragraphs(out, text);
        out.extend_from_slice(b"</table:table-cell>");
        next = column + 1;
    }
}

/// Writes a cell with another text; comments and drawings stay in it.
fn value(out: &mut Vec<u8>, cell: &Tag<'_>, inner: &[u8], text: &str) {
    out.extend_from_slice(&cell.without(&VALUE));
    out.extend_from_slice(b" office:value-type=\"string\">");
    let mut tags = Tags::new(inner);
    while let Some(tag) = tags.next().filter(|tag| !tag.is_end) {
        let (end, _) = tags.pass(&tag, b"");
        if tag.local() != b"p" {
            out.extend_from_slice(inner.get(tag.start..end).unwrap_or_default());
        }
    }
    paragraphs(out, text);
    out.extend_from_slice(b"</table:table-cell>");
}

fn paragraphs(out: &mut Vec<u8>, text: &str) {
    let mut own = String::new();
    crate::bank::write::sheets::paragraphs(&mut own, text);
    out.extend_from_slice(own.as_bytes());
}
