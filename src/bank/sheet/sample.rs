//! The first rows of the sheets of a workbook as they stand there, for whoever has to find out what their columns hold.

use super::check;
use super::library::{self, Book, Sheet, Want};
use super::merged::{Merged, Range};
use super::table::{Cell, ROWS};
use crate::bank::source::{Again, OpenError, Settings};

/// A sheet, or the beginning of one.
#[derive(Debug, Clone, Default)]
pub struct Sampled {
    /// Its name.
    pub name: String,
    /// Its rows that hold something, each with its number from 1.
    pub rows: Vec<(u32, Vec<String>)>,
    /// Whether it goes on.
    pub is_cut: bool,
}

/// Reads so many rows of each sheet.
pub fn sample(again: Again, settings: &Settings, rows: usize) -> Result<Vec<Sampled>, OpenError> {
    let (kind, again) = check::check(again, &settings.limits)?;
    let mut sheets = Vec::new();
    let book = Sampler { sheets: &mut sheets, most: rows, columns: settings.limits.columns };
    library::read(kind, again, &settings.limits, book).map_err(OpenError::NoBank)?;
    Ok(sheets)
}

struct Sampler<'s> {
    sheets: &'s mut Vec<Sampled>,
    most: usize,
    columns: usize,
}

impl Book for Sampler<'_> {
    type Sheet<'b>
        = SampledSheet<'b>
    where
        Self: 'b;

    fn hidden(&mut self, _sheet: &str) {}

    fn sheet(&mut self, name: &str, merged: Vec<Range>) -> SampledSheet<'_> {
        let own = Sampled { name: name.to_owned(), ..Sampled::default() };
        let (merged, most, columns) = (Merged::new(merged), self.most, self.columns);
        SampledSheet { sheets: self.sheets, own, merged, row: 0, cells: Vec::new(), width: 0, most, columns }
    }
}

struct SampledSheet<'s> {
    sheets: &'s mut Vec<Sampled>,
    own: Sampled,
    merged: Merged,
    row: u32,
    cells: Vec<Cell>,
    /// The columns of the widest row so far.
    width: usize,
    most: usize,
    columns: usize,
}

impl Sheet for SampledSheet<'_> {
    fn cell(&mut self, (row, column): (u32, u32), cell: Cell) -> Result<Want, String> {
        if cell == Cell::Empty || column as usize >= self.columns {
            return Ok(Want::More);
        }
        if row >= ROWS {
            return Err(format!("the sheet '{}' names a row that no sheet has", self.own.name));
        }
        if row < self.row {
            return Err(format!("the sheet '{}' has its row {} behind row {}", self.own.name, row + 1, self.row + 1));
        }
        while self.row < row {
            self.end_row()?;
            self.row += 1;
        }
        if self.own.rows.len() >= self.most {
            self.own.is_cut = true;
            return Ok(Want::NextSheet);
        }
        let at = column as usize;
        if self.cells.len() <= at {
            self.cells.resize(at + 1, Cell::Empty);
        }
        self.cells[at] = cell;
        Ok(Want::More)
    }

    fn end(mut self) -> Result<bool, String> {
        if !self.own.is_cut {
            self.end_row()?;
        }
        self.sheets.push(self.own);
        Ok(true)
    }
}

impl SampledSheet<'_> {
    fn end_row(&mut self) -> Result<(), String> {
        let mut cells = std::mem::take(&mut self.cells);
        self.width = self.width.max(cells.len());
        self.merged.fill(self.row, &mut cells, self.width as u32)?;
        if cells.iter().any(|cell| !cell.is_empty()) {
            self.own.rows.push((self.row + 1, cells.iter().map(Cell::shown).collect()));
        }
        Ok(())
    }
}
