//! Cells that take their text from above: the columns that a profile names, and the ids of later steps, which people leave empty below
//! the first. A row without a question neither gives nor takes.

use super::{Chunk, Header, Name, Row, TableReader, is_blank};

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
    /// What stands above the rows behind a chunk.
    pub(in crate::bank) fn above_after(&self, chunk: &Chunk, mut above: Above) -> Above {
        self.rows(chunk, |row| {
            if self.asks(chunk, &row) {
                self.fill(&row, &mut above);
            }
        });
        above
    }

    /// The cells of a row that asks something, empty ones filled from above; they stand above the next.
    pub(super) fn fill(&self, row: &Row<'_>, above: &mut Above) -> csv::ByteRecord {
        let mut cells: Vec<&[u8]> = row.cells.iter().collect();
        // A row that is too wide was not taken apart.
        if row.is_too_wide {
            return row.cells.clone();
        }
        let cell_of = |name: Name| self.header.names.iter().position(|own| *own == Some(name));
        let number =
            cell_of(Name::Step).and_then(|at| std::str::from_utf8(cells.get(at)?).ok()?.trim().parse::<u32>().ok());
        let is_later = number.is_some_and(|number| number > 1);
        for (at, text) in above.iter_mut() {
            let is_id_of_step =
                self.header.names.get(*at) == Some(&Some(Name::Id)) && !self.fill_down.contains(&Name::Id);
            let takes = !text.is_empty() && (is_later || !is_id_of_step);
            match cells.get(*at).copied().filter(|cell| !is_blank(cell)) {
                Some(cell) => *text = String::from_utf8_lossy(cell).into_owned(),
                None if takes => {
                    if cells.len() <= *at {
                        cells.resize(*at + 1, b"");
                    }
                    cells[*at] = text.as_bytes();
                }
                // The steps below belong to a question without an id.
                None => text.clear(),
            }
        }
        csv::ByteRecord::from(cells)
    }
}
