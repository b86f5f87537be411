//! Tables as CSV (RFC 4180, lines end with LF), a row at a time: the same bytes as the csv crate writes, for less.

use super::cell::{guarded, harmless, is_plain};
use super::file::WholeFile;
use std::borrow::Cow;
use std::io::{self, Write};
use std::path::Path;

/// A table that is written into a file.
pub(crate) struct Table {
    file: WholeFile,
    line: Vec<u8>,
}

impl Table {
    /// Begins a table with its header.
    ///
    /// # Errors
    /// The file cannot be created.
    pub(crate) fn create(path: &Path, columns: &[&str]) -> io::Result<Self> {
        let mut table = Self { file: WholeFile::create(path)?, line: Vec::new() };
        table.row(columns)?;
        Ok(table)
    }

    /// Writes one row of [`harmless`] cells.
    ///
    /// # Errors
    /// The file cannot be written.
    pub(crate) fn row(&mut self, cells: &[impl AsRef<str>]) -> io::Result<()> {
        self.lay(cells, guarded);
        // Nearly no row has anything to spell out, and one look at all of it costs less than one at each cell.
        if !is_plain(&self.line) {
            self.lay(cells, harmless);
        }
        self.line.push(b'\n');
        self.file.write_all(&self.line)
    }

    /// Puts the cells of a row together.
    fn lay(&mut self, cells: &[impl AsRef<str>], guard: impl Fn(&str) -> Cow<'_, str>) {
        self.line.clear();
        for (at, cell) in cells.iter().enumerate() {
            if at > 0 {
                self.line.push(b',');
            }
            add_cell(&mut self.line, &guard(cell.as_ref()));
        }
    }

    /// Makes the file whole.
    ///
    /// # Errors
    /// The disk refuses.
    pub(crate) fn finish(&mut self) -> io::Result<()> {
        self.file.finish()
    }
}

/// Adds a cell, between quotes where it would else be taken for more than one.
fn add_cell(line: &mut Vec<u8>, cell: &str) {
    let bytes = cell.as_bytes();
    if !needs_quotes(bytes) {
        line.extend_from_slice(bytes);
        return;
    }
    line.push(b'"');
    for (at, part) in cell.split('"').enumerate() {
        if at > 0 {
            line.extend_from_slice(b"\"\"");
        }
        line.extend_from_slice(part.as_bytes());
    }
    line.push(b'"');
}

/// Whether a cell has a character that ends a cell or a row, or a quote.
fn needs_quotes(cell: &[u8]) -> bool {
    // Nearly no cell has one: of a long one so many bytes are looked at at once as there are.
    let (long, rest) = cell.as_chunks::<16>();
    long.iter().any(any_special) || rest.iter().any(|byte| IS_SPECIAL[usize::from(*byte)])
}

const SPECIAL: [u8; 4] = *b",\"\n\r";

/// By byte: whether it is one of them.
const IS_SPECIAL: [bool; 256] = {
    let (mut table, mut at) = ([false; 256], 0);
    while at < SPECIAL.len() {
        table[SPECIAL[at] as usize] = true;
        at += 1;
    }
    table
};

#[inline]
fn any_special(block: &[u8; 16]) -> bool {
    let is_any = |byte: &u8| SPECIAL.iter().fold(0, |any, own| any | u8::from(byte == own));
    block.iter().fold(0, |any, byte| any | is_any(byte)) != 0
}

#[cfg(test)]
mod tests {
    use super::add_cell;

    /// Longer than a block.
    const SENTENCE: &str = "the net charge is 0 in the start, -1 in the answer";

    #[test]
    fn cells_are_written_as_the_csv_crate_writes_them() {
        let texts =
            ["", "a", "a b", ",", "\"", "a\"b\"", "\"\"", "a\nb", "\r", "é,ü", " a ", "a;b\tc", "[CH2:1]=O", SENTENCE];
        let mut failures = Vec::new();
        for text in texts {
            let mut line = b"x,".to_vec();
            add_cell(&mut line, text);
            let mut expected = csv::WriterBuilder::new().from_writer(Vec::new());
            expected.write_record(["x", text]).expect("a row");
            let expected = expected.into_inner().expect("a table");
            if [&line[..], b"\n"].concat() != expected {
                failures.push(format!("{text:?}: {}", String::from_utf8_lossy(&line)));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
