//! The first rows of the sheets of a workbook as they stand there, for whoever has to find out what their columns hold.

use super::beside::Beside;
use super::check::{self, Checked};
use super::grid::{Grid, Rows};
use super::library::{self, Book, Want};
use super::table::Cell;
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
    let checked: Checked = check::check(again, &settings.limits)?;
    let mut sheets = Vec::new();
    let book = Sampler { sheets: &mut sheets, most: rows, columns: settings.limits.columns };
    library::read(checked, &settings.limits, book).map_err(OpenError::NoBank)?;
    Ok(sheets)
}

struct Sampler<'s> {
    sheets: &'s mut Vec<Sampled>,
    most: usize,
    columns: usize,
}

impl Book for Sampler<'_> {
    type Sheet<'b>
        = Grid<SampledSheet<'b>>
    where
        Self: 'b;

    fn hidden(&mut self, _sheet: &str) {}

    fn sheet(&mut self, name: &str, beside: Beside) -> Grid<SampledSheet<'_>> {
        let own = Sampled { name: name.to_owned(), ..Sampled::default() };
        let sheet = SampledSheet { sheets: self.sheets, own, width: 0, most: self.most };
        Grid::new(name, self.columns, beside, sheet)
    }
}

struct SampledSheet<'s> {
    sheets: &'s mut Vec<Sampled>,
    own: Sampled,
    /// The columns of the widest row so far.
    width: usize,
    most: usize,
}

impl Rows for SampledSheet<'_> {
    fn width(&self, cells: usize) -> usize {
        self.width.max(cells)
    }

    fn row(&mut self, number: u32, cells: &mut Vec<Cell>, _beside: &Beside) -> Want {
        self.width = self.width.max(cells.len());
        if cells.iter().all(Cell::is_empty) {
            return Want::More;
        }
        if self.own.rows.len() >= self.most {
            self.own.is_cut = true;
            return Want::NextSheet;
        }
        self.own.rows.push((number, cells.iter().map(Cell::shown).collect()));
        Want::More
    }

    fn goes_below(&self) -> bool {
        false
    }

    fn end(self, _beside: &Beside) -> bool {
        self.sheets.push(self.own);
        true
    }
}
