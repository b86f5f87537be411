//! Cells of an `.ods` (ODF 1.3, part 3, 9.1): rows and cells that stand for several are parted where one of them changes.

use super::tags::{Tag, Tags};
use super::{CellRefusal, Wanted};
use crate::bank::sheet::cell_name;
use std::collections::BTreeMap;

const ROWS: &str = "table:number-rows-repeated";
const COLUMNS: &str = "table:number-columns-repeated";
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
                let row = Row { tag, content: content.get(tag.end..end).unwrap_or_default(), first, behind };
                refused.extend(row.written(later, &mut out));
                done = end;
            }
            _ => {}
        }
    }
    out.extend_from_slice(content.get(done..).unwrap_or_default());
    (out, refused)
}

/// A row, or several that are the same.
struct Row<'c> {
    tag: Tag<'c>,
    /// What stands behind its tag, the closing one included.
    content: &'c [u8],
    first: u32,
    behind: u32,
}

impl Row<'_> {
    fn written(&self, mut wanted: Wanted<'_>, out: &mut Vec<u8>) -> Vec<(usize, CellRefusal)> {
        let mut refused = Vec::new();
        let mut at = self.first;
        let same = |times: u32, out: &mut Vec<u8>| {
            if times > 0 {
                out.extend_from_slice(&self.tag.repeated(ROWS, times));
                out.extend_from_slice(self.content);
            }
        };
        while let Some(row) = wanted.keys().next().map(|(row, _)| *row) {
            let later = wanted.split_off(&(row + 1, 0));
            let own = std::mem::replace(&mut wanted, later);
            same(row - at, out);
            let whole = self.behind - self.first == 1;
            let tag = if whole { self.tag.text.to_vec() } else { self.tag.repeated(ROWS, 1) };
            refused.extend(cells(row, (&self.tag, &tag), self.content, own, out));
            at = row + 1;
        }
        same(self.behind - at, out);
        refused
    }
}

/// Writes one row with its cells.
fn cells(
    row: u32,
    (tag, text): (&Tag<'_>, &[u8]),
    content: &[u8],
    mut wanted: Wanted<'_>,
    out: &mut Vec<u8>,
) -> Vec<(usize, CellRefusal)> {
    let mut refused = Vec::new();
    let name = |column: u32| cell_name(row + 1, column);
    if tag.is_empty {
        out.extend_from_slice(text.strip_suffix(b"/>").unwrap_or(text));
        out.push(b'>');
    } else {
        out.extend_from_slice(text);
    }
    let mut tags = Tags::new(content);
    let (mut done, mut next) = (0, 0_u32);
    // A row that was empty closes behind what is put into it.
    let mut close = content.len();
    while let Some(cell) = tags.next() {
        if cell.is_end {
            close = cell.start;
            break;
        }
        let is_covered = cell.local() == b"covered-table-cell";
        if !is_covered && cell.local() != b"table-cell" {
            tags.pass(&cell, b"");
            continue;
        }
        let times = cell.number("number-columns-repeated").unwrap_or(1).max(1);
        let (first, behind) = (next, next.saturating_add(times));
        next = behind;
        let (end, _) = tags.pass(&cell, b"");
        let mut own: Vec<(u32, (usize, &str))> = Vec::new();
        while let Some((place, value)) = wanted.pop_first() {
            if place.1 >= behind {
                wanted.insert(place, value);
                break;
            }
            own.push((place.1, value));
        }
        let spans = ["number-columns-spanned", "number-rows-spanned"];
        let is_merged = is_covered || spans.iter().any(|own| cell.number(own).is_some_and(|own| own > 1));
        let has_formula = cell.attribute("formula").is_some();
        own.retain(|(column, (edit, _))| {
            let why = match (is_merged, has_formula) {
                (true, _) => CellRefusal::Merged(name(*column)),
                (_, true) => CellRefusal::Formula(name(*column)),
                _ => return true,
            };
            refused.push((*edit, why));
            false
        });
        if own.is_empty() {
            continue;
        }
        out.extend_from_slice(content.get(done..cell.start).unwrap_or_default());
        let inner = content.get(cell.end..end).unwrap_or_default();
        let same = |times: u32, out: &mut Vec<u8>| {
            if times > 0 {
                out.extend_from_slice(&cell.repeated(COLUMNS, times));
                out.extend_from_slice(inner);
            }
        };
        let mut at = first;
        for (column, (_, text)) in own {
            same(column - at, out);
            value(out, &cell, inner, text);
            at = column + 1;
        }
        same(behind - at, out);
        done = end;
    }
    out.extend_from_slice(content.get(done..close).unwrap_or_default());
    for ((_, column), (_, text)) in wanted {
        if column > next {
            out.extend_from_slice(format!("<table:table-cell {COLUMNS}=\"{}\"/>", column - next).as_bytes());
        }
        out.extend_from_slice(b"<table:table-cell office:value-type=\"string\">");
        paragraphs(out, text);
        out.extend_from_slice(b"</table:table-cell>");
        next = column + 1;
    }
    if tag.is_empty {
        out.extend_from_slice(b"</table:table-row>");
    } else {
        out.extend_from_slice(content.get(close..).unwrap_or_default());
    }
    refused
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
