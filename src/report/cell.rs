//! Cells of tables: text that no spreadsheet takes for a formula, no terminal for a command, and that can be read back.

use std::borrow::Cow;
use std::fmt::Write as _;

/// A cell that neither a spreadsheet nor a terminal takes for anything but text.
///
/// A cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return gets an apostrophe before it, as spreadsheets
/// themselves mark text; one that begins with apostrophes before such a character gets one more, so that taking one
/// apostrophe away always gives the cell back. SMILES begin with a letter or a bracket and are never touched. Control
/// characters other than tabs and line ends, with which a text could steer a terminal that shows the table, are written as
/// their number: `\u{1b}`.
#[must_use]
pub fn harmless(cell: &str) -> Cow<'_, str> {
    match spelt_out(cell) {
        Cow::Borrowed(cell) => guarded(cell),
        Cow::Owned(cell) => guarded(&cell).into_owned().into(),
    }
}

/// As [`harmless`], of a cell in which nothing needs to be spelt out.
pub(crate) fn guarded(cell: &str) -> Cow<'_, str> {
    let is_risky = |cell: &str| cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
    // Nearly every cell shows by its first character that it is none.
    let may_be = cell.as_bytes().first().is_some_and(|first| !first.is_ascii_alphanumeric() && *first != b'[');
    if may_be && is_risky(cell.trim_start_matches('\'')) { format!("'{cell}").into() } else { cell.into() }
}

/// How a control character that is spelt out begins.
const SPELT: &str = "\\u{";

fn steers(c: char) -> bool {
    c.is_control() && !matches!(c, '\t' | '\n' | '\r')
}

/// The cell with its control characters as numbers. A cell that has [`SPELT`] itself gets its backslash as a number.
#[must_use]
pub fn spelt_out(cell: &str) -> Cow<'_, str> {
    if is_plain(cell.as_bytes()) {
        return cell.into();
    }
    if !cell.contains(steers) && !cell.contains(SPELT) {
        return cell.into();
    }
    let mut out = String::with_capacity(cell.len() + 8);
    for (at, c) in cell.char_indices() {
        if steers(c) || cell[at..].starts_with(SPELT) {
            // Writing into a string does not fail.
            let _ = write!(out, "{SPELT}{:x}}}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out.into()
}

/// Whether no byte of a text can be of a control character or of [`SPELT`]. Line ends count as such here.
pub(crate) fn is_plain(text: &[u8]) -> bool {
    // Control characters beyond ASCII begin with the byte 0xc2; a backslash stands in SMILES too.
    let may_be =
        |byte: u8| u8::from(byte < 0x20) | u8::from(byte == 0x7f) | u8::from(byte == 0xc2) | u8::from(byte == b'\\');
    // Nearly every text is plain: all of it is looked at, so many bytes at once as there are.
    text.iter().fold(0, |any, byte| any | may_be(*byte)) == 0
}

/// Takes back what [`spelt_out`] did.
#[must_use]
pub fn read_out(cell: &str) -> String {
    let mut out = String::with_capacity(cell.len());
    let mut rest = cell;
    while let Some((before, behind)) = rest.split_once(SPELT) {
        out.push_str(before);
        let number = behind.split_once('}').and_then(|(digits, rest)| {
            let number = u32::from_str_radix(digits, 16).ok().and_then(char::from_u32)?;
            Some((number, rest))
        });
        if let Some((c, behind)) = number {
            out.push(c);
            rest = behind;
        } else {
            out.push_str(SPELT);
            rest = behind;
        }
    }
    out.push_str(rest);
    out
}

/// Takes back what [`harmless`] did to a cell.
#[must_use]
pub fn as_written(cell: &str) -> String {
    let own = match cell.strip_prefix('\'') {
        Some(rest) if rest.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r']) => rest,
        _ => cell,
    };
    read_out(own)
}
