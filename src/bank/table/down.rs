//! Cells that take their text from above: the columns that a profile names, and the ids of later steps, which people leave empty below
//! the first. A row without a question neither gives nor takes.

use super::{Chunk, Header, Name, Row, TableReader, csv_reader, is_blank};
use std::borrow::Cow;

/// What a column held last, by its place.
pub(in crate::bank) type Above = Vec<(usize, String)>;

impl Header {
    /// The columns that are filled from above, with nothing above them yet. The id's is among them where rows are steps.
    pub(in crate::bank) fn above(&self, fill_down: &[Name]) -> Above {
        let is_down = |name: &Name| fill_down.contains(name) || (*name == Name::Id && self.has_steps());
        let columns = self.names.iter().enumerate().filter(|(_, name)| name.as_ref().is_some_and(is_down));
        columns.map(|(at, _)| (at, String::new())).collect()
    }
}

impl TableReader<'_> {
    /// What stands above the rows behind a chunk: looked for from its end, where it mostly is.
    pub(in crate::bank) fn above_after(&self, chunk: &Chunk, mut above: Above) -> Above {
        let mut open: Vec<usize> = (0..above.len()).collect();
        let mut cells = csv::ByteRecord::new();
        for own in chunk.records.iter().rev() {
            if open.is_empty() {
                break;
            }
            let text = own.of(&chunk.text);
            if self.is_too_wide(text) {
                continue;
            }
            // Bytes are read from memory and may be any: there is no error.
            let _ = csv_reader(text, self.header.delimiter).read_byte_record(&mut cells);
            let row =
                Row { cells: &cells, start: own.start as usize, end: own.end as usize, line: 0, is_too_wide: false };
            if !self.asks(chunk, &row) {
                continue;
            }
            let is_later = self.is_later_step(&cells);
            open.retain(|at| {
                let Some((column, text)) = above.get_mut(*at) else { return false };
                match filled(&cells, *column) {
                    Some(cell) => *text = cell.into_owned(),
                    // The steps below belong to a question without an id.
                    None if !is_later && self.is_id_of_steps(*column) => text.clear(),
                    None => return true,
                }
                false
            });
        }
        above
    }

    /// The cells of a row that asks something, where empty ones are filled from above. What the row holds stands above the next.
    pub(super) fn fill(&self, row: &Row<'_>, above: &mut Above) -> Option<csv::ByteRecord> {
        // A row that is too wide was not taken apart.
        if row.is_too_wide {
            return None;
        }
        let is_later = self.is_later_step(row.cells);
        let mut more: Option<Vec<Vec<u8>>> = None;
        for (at, text) in above.iter_mut() {
            match filled(row.cells, *at) {
                Some(cell) if cell == *text => {}
                Some(cell) => *text = cell.into_owned(),
                None if !is_later && self.is_id_of_steps(*at) => text.clear(),
                None if text.is_empty() => {}
                None => {
                    let cells = more.get_or_insert_with(|| row.cells.iter().map(<[u8]>::to_vec).collect());
                    if cells.len() <= *at {
                        cells.resize(*at + 1, Vec::new());
                    }
                    cells[*at] = text.clone().into_bytes();
                }
            }
        }
        more.map(csv::ByteRecord::from)
    }

    /// Whether a row is a step after the first.
    fn is_later_step(&self, cells: &csv::ByteRecord) -> bool {
        let step = self.header.names.iter().position(|own| *own == Some(Name::Step));
        let number = step.and_then(|at| filled(cells, at)?.trim().parse::<u32>().ok());
        number.is_some_and(|number| number > 1)
    }

    /// Whether a column holds ids that only later steps take from above.
    fn is_id_of_steps(&self, column: usize) -> bool {
        self.header.names.get(column) == Some(&Some(Name::Id)) && !self.fill_down.contains(&Name::Id)
    }
}

/// The text of a cell that is not blank.
fn filled(cells: &csv::ByteRecord, column: usize) -> Option<Cow<'_, str>> {
    cells.get(column).filter(|cell| !is_blank(cell)).map(String::from_utf8_lossy)
}
