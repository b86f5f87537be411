//! What a sheet says beside its cells: which are merged, what is hidden, which formulas have no value.

use super::merged::Range;
use std::collections::BTreeMap;

/// What a sheet says beside its cells; rows and columns from 0.
#[derive(Debug, Clone, Default)]
pub(super) struct Beside {
    pub(super) merged: Vec<Range>,
    /// Rows that are hidden, by the first of each stretch with the last.
    rows: BTreeMap<u32, u32>,
    /// Columns that are hidden, in the same way.
    columns: BTreeMap<u32, u32>,
    /// Cells with a formula whose value is not stored.
    valueless: BTreeMap<u32, Vec<u32>>,
    /// How many these are.
    count: u32,
}

/// Stretches of hidden rows or columns that are kept of a sheet.
const STRETCHES: usize = 1 << 16;
/// Cells without a value that are kept of a sheet.
const VALUELESS: u32 = 1 << 20;

impl Beside {
    /// Notes hidden rows, which come in their order.
    pub(super) fn hide_rows(&mut self, first: u32, last: u32) {
        hide(&mut self.rows, first, last);
    }

    /// Notes hidden columns.
    pub(super) fn hide_columns(&mut self, first: u32, last: u32) {
        hide(&mut self.columns, first, last);
    }

    /// Notes a cell whose formula has no value.
    pub(super) fn no_value(&mut self, (row, column): (u32, u32)) -> Result<(), String> {
        self.count += 1;
        if self.count > VALUELESS {
            return Err(format!(
                "has more than {VALUELESS} formulas without a value: open the workbook in a spreadsheet program and save it"
            ));
        }
        self.valueless.entry(row).or_default().push(column);
        Ok(())
    }

    pub(super) fn is_row_hidden(&self, row: u32) -> bool {
        holds(&self.rows, row)
    }

    pub(super) fn is_column_hidden(&self, column: u32) -> bool {
        holds(&self.columns, column)
    }

    /// The columns of a row whose formulas have no value; they are asked for once.
    pub(super) fn take_valueless(&mut self, row: u32) -> Vec<u32> {
        self.valueless.remove(&row).unwrap_or_default()
    }
}

fn hide(stretches: &mut BTreeMap<u32, u32>, first: u32, last: u32) {
    if let Some((_, before)) = stretches.range_mut(..=first).next_back()
        && first <= before.saturating_add(1)
    {
        *before = last.max(*before);
    } else if stretches.len() < STRETCHES {
        stretches.insert(first, last);
    }
}

fn holds(stretches: &BTreeMap<u32, u32>, at: u32) -> bool {
    stretches.range(..=at).next_back().is_some_and(|(_, last)| at <= *last)
}

/// What the sheets of a workbook say beside their cells, by their names or those of their parts.
pub(super) type OfSheets = BTreeMap<String, Beside>;

/// Gathers it from the tags of an XML part, as they go by.
#[derive(Default)]
pub(super) struct Gatherer {
    pub(super) sheets: OfSheets,
    /// The sheet that is read.
    name: String,
    /// The row and column that come next, and how often the row is repeated.
    row: u32,
    column: u32,
    repeats: u32,
    /// The cell that is open: whether it has a formula, and a value.
    cell: Option<Open>,
}

#[derive(Clone, Copy)]
struct Open {
    place: (u32, u32),
    has_formula: bool,
    has_value: bool,
}

impl Gatherer {
    pub(super) fn own(&mut self) -> &mut Beside {
        self.sheets.entry(self.name.clone()).or_default()
    }

    /// Begins a sheet.
    pub(super) fn sheet(&mut self, name: &str) {
        *self = Self { sheets: std::mem::take(&mut self.sheets), name: name.to_owned(), ..Self::default() };
    }

    /// Begins a row of an `.xlsx`, by its number from 1 where it has one.
    pub(super) fn row(&mut self, number: Option<u32>, is_hidden: bool) {
        let row = number.map_or(self.row, |own| own.saturating_sub(1));
        (self.row, self.column) = (row.saturating_add(1), 0);
        if is_hidden {
            self.own().hide_rows(row, row);
        }
    }

    /// Begins a cell of an `.xlsx`, by its place where it has one; a text that is the value of a formula may be empty.
    pub(super) fn cell(&mut self, place: Option<(u32, u32)>, is_text: bool) {
        let place = place.unwrap_or((self.row.saturating_sub(1), self.column));
        self.column = place.1.saturating_add(1);
        self.cell = Some(Open { place, has_formula: false, has_value: is_text });
    }

    pub(super) fn formula(&mut self) {
        self.cell.iter_mut().for_each(|own| own.has_formula = true);
    }

    pub(super) fn value(&mut self) {
        self.cell.iter_mut().for_each(|own| own.has_value = true);
    }

    pub(super) fn end_cell(&mut self) -> Result<(), String> {
        match self.cell.take() {
            Some(Open { place, has_formula: true, has_value: false }) => self.own().no_value(place),
            _ => Ok(()),
        }
    }

    /// Begins a row of an `.ods`, which stands for as many.
    pub(super) fn repeated_row(&mut self, repeats: u64, is_hidden: bool) {
        (self.repeats, self.column) = (narrow(repeats), 0);
        if is_hidden {
            let (first, last) = (self.row, self.row.saturating_add(self.repeats - 1));
            self.own().hide_rows(first, last);
        }
    }

    /// Ends it.
    pub(super) fn end_repeated_row(&mut self) {
        self.row = self.row.saturating_add(self.repeats);
    }

    /// A cell of an `.ods`, which stands for as many beside each other.
    pub(super) fn repeated_cell(&mut self, repeats: u64, is_valueless: bool) -> Result<(), String> {
        let place = (self.row, self.column);
        self.column = self.column.saturating_add(narrow(repeats));
        if is_valueless { self.own().no_value(place) } else { Ok(()) }
    }

    /// Columns of an `.ods`, which stand before its rows.
    pub(super) fn columns(&mut self, repeats: u64, is_hidden: bool) {
        let (first, next) = (self.column, self.column.saturating_add(narrow(repeats)));
        self.column = next;
        if is_hidden {
            self.own().hide_columns(first, next - 1);
        }
    }
}

/// A count of at least one.
fn narrow(count: u64) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX).max(1)
}

#[cfg(test)]
mod tests {
    use super::Beside;

    #[test]
    fn what_is_hidden_is_known_by_its_place() {
        let mut beside = Beside::default();
        for (first, last) in [(2, 2), (3, 5), (9, 9)] {
            beside.hide_rows(first, last);
        }
        let hidden: Vec<u32> = (0..12).filter(|row| beside.is_row_hidden(*row)).collect();
        assert_eq!((hidden, beside.rows.len()), (vec![2, 3, 4, 5, 9], 2));
        assert!(!beside.is_column_hidden(0));
    }
}
