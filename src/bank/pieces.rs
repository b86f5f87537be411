//! Rows that come as cells, written as the text of a table: what holds of tables in files holds of them.

use super::chunk::Chunk;
use crate::source::Span;

/// Separates cells in the text of a row: a character that no cell holds, so that hardly any needs quotes (ISO/IEC 6429, unit separator).
pub(super) const SEPARATOR: u8 = 0x1f;
/// Bytes of a piece.
pub(super) const PIECE: usize = 128 << 10;

/// Writes a cell, in quotes where it needs them.
pub(super) fn write_cell(text: &mut String, cell: &str) {
    if !cell.bytes().any(|byte| matches!(byte, b'"' | b'\n' | b'\r' | SEPARATOR)) {
        text.push_str(cell);
        return;
    }
    text.push('"');
    text.push_str(&cell.replace('"', "\"\""));
    text.push('"');
}

/// Ends the row with this number that begins at `start`.
pub(super) fn end_row(piece: &mut Chunk, start: usize, number: u32) {
    piece.rows.push((start as u32, number));
    piece.records.push(Span::new(start, piece.text.len()));
    piece.text.push('\n');
}

/// Takes a piece that is whole.
pub(super) fn take(piece: &mut Chunk) -> Chunk {
    let piece = std::mem::take(piece);
    let first_line = piece.rows.first().map_or(1, |(_, row)| *row);
    Chunk { first_line, ..piece }
}
