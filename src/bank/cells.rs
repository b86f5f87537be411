//! Where the cells of a row begin and end.

use smallvec::SmallVec;

/// The cells of a row. Nearly none has more than find room here.
pub(super) type Line<'a> = SmallVec<[&'a str; 16]>;

/// The cells of a line without quotes.
pub(super) fn split(text: &str, delimiter: u8) -> Line<'_> {
    let mut from = 0;
    let ends = memchr::memchr_iter(delimiter, text.as_bytes()).chain([text.len()]);
    ends.filter_map(|end| text.get(std::mem::replace(&mut from, end + 1)..end)).collect()
}

/// Whether a cell holds nothing but space.
pub(super) fn is_blank(cell: &[u8]) -> bool {
    // Nearly every cell shows at once that it does not.
    if cell.first().is_some_and(u8::is_ascii_graphic) {
        return false;
    }
    std::str::from_utf8(cell).is_ok_and(|text| text.trim().is_empty())
}

/// Where a quoted cell opens that the end of the row does not close. A quote opens a cell only at its beginning; elsewhere it is
/// a character like others.
pub(super) fn unclosed_quote(raw: &str, delimiter: u8) -> Option<usize> {
    memchr::memchr(b'"', raw.as_bytes())?;
    let mut at = 0;
    while at < raw.len() {
        let cell = raw.get(at..)?;
        if cell.starts_with('"') && closing_quote(cell).is_none() {
            return Some(at);
        }
        at += cell_length(cell, delimiter) + 1;
    }
    None
}

/// Where the quotes of a cell close that begins with one. A doubled quote stands for one.
pub(super) fn closing_quote(cell: &str) -> Option<usize> {
    let bytes = cell.as_bytes();
    let mut at = 1;
    loop {
        let quote = at + memchr::memchr(b'"', bytes.get(at..)?)?;
        if bytes.get(quote + 1) != Some(&b'"') {
            return Some(quote);
        }
        at = quote + 2;
    }
}

/// Bytes of the cell with which a text begins, as it is written: to its separator or the end of its row. What stands behind its
/// closing quote belongs to it, quotes and all.
pub(super) fn cell_length(text: &str, delimiter: u8) -> usize {
    let quoted = if text.starts_with('"') { closing_quote(text).map_or(text.len(), |quote| quote + 1) } else { 0 };
    let rest = text.as_bytes().get(quoted..).unwrap_or_default();
    quoted + memchr::memchr3(delimiter, b'\n', b'\r', rest).unwrap_or(rest.len())
}
