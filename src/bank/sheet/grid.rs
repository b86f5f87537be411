//! From cells that come one by one to the rows of a sheet: merged cells are filled, rows without a cell come as empty ones.

use super::beside::Beside;
use super::library::{Sheet, Want};
use super::merged::Merged;
use super::table::Cell;

/// Rows of a sheet, at most.
pub(super) const ROWS: u32 = 1 << 20;

/// Takes the rows of a sheet.
pub(super) trait Rows {
    /// How many columns merged cells are filled in, in a row that has so many.
    fn width(&self, cells: usize) -> usize;

    /// Takes a row, by its number from 1.
    fn row(&mut self, number: u32, cells: &mut Vec<Cell>, beside: &Beside) -> Want;

    /// Whether merged cells below the last row that is written count.
    fn goes_below(&self) -> bool;

    /// Ends the sheet; says whether another is wanted.
    fn end(self, beside: &Beside) -> bool;
}

/// A sheet that is being read.
pub(super) struct Grid<R> {
    sheet: String,
    /// Columns that a row may have.
    columns: usize,
    merged: Merged,
    beside: Beside,
    /// The row that is being read, from 0, and its cells.
    row: u32,
    cells: Vec<Cell>,
    to: R,
}

impl<R: Rows> Grid<R> {
    pub(super) fn new(sheet: &str, columns: usize, mut beside: Beside, to: R) -> Self {
        let merged = Merged::new(std::mem::take(&mut beside.merged));
        Self { sheet: sheet.to_owned(), columns, merged, beside, row: 0, cells: Vec::new(), to }
    }

    /// Ends the row that is read.
    fn end_row(&mut self) -> Result<Want, String> {
        let mut cells = std::mem::take(&mut self.cells);
        for column in self.beside.take_valueless(self.row) {
            let at = column as usize;
            if at < self.columns && cells.len() <= at {
                cells.resize(at + 1, Cell::Empty);
            }
            if let Some(cell) = cells.get_mut(at).filter(|cell| cell.is_empty()) {
                *cell = Cell::NoValue;
            }
        }
        let width = self.to.width(cells.len());
        self.merged.fill(self.row, &mut cells, width as u32)?;
        let want = self.to.row(self.row + 1, &mut cells, &self.beside);
        cells.clear();
        self.cells = cells;
        self.row += 1;
        Ok(want)
    }
}

impl<R: Rows> Sheet for Grid<R> {
    fn cell(&mut self, (row, column): (u32, u32), cell: Cell) -> Result<Want, String> {
        if cell == Cell::Empty {
            return Ok(Want::More);
        }
        let sheet = &self.sheet;
        if row < self.row {
            return Err(format!("the sheet '{sheet}' has its row {} behind row {}", row + 1, self.row + 1));
        }
        if row >= ROWS {
            return Err(format!(
                "the sheet '{sheet}' names the row {}, and none has more than {ROWS}",
                u64::from(row) + 1
            ));
        }
        if column as usize >= self.columns {
            return Err(format!("the sheet '{sheet}' passes the limit of {} columns", self.columns));
        }
        while self.row < row {
            match self.end_row()? {
                Want::More => {}
                other => return Ok(other),
            }
        }
        let at = column as usize;
        if self.cells.len() <= at {
            self.cells.resize(at + 1, Cell::Empty);
        }
        self.cells[at] = cell;
        Ok(Want::More)
    }

    fn end(mut self) -> Result<bool, String> {
        let mut want = Want::More;
        if !self.cells.is_empty() {
            want = self.end_row()?;
        }
        // Merged cells may go on below the last row that is written.
        while want == Want::More && self.to.goes_below() && self.merged.reach(self.row) && self.row < ROWS {
            want = self.end_row()?;
        }
        Ok(want != Want::Nothing && self.to.end(&self.beside))
    }
}
