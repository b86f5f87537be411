//! One table: its rows by what their cells are, its header, its columns.

use super::cells::Kind;
use crate::bank::rows::column_label;
use crate::bank::sample::Sample;
use crate::bank::table::guess_delimiter;

/// Columns of a table that are looked at.
const COLUMNS: usize = 256;
/// Rows below the header that are looked at.
pub(super) const ROWS: usize = 1_000;
/// Rows of a table that are read: titles stand above, categories between.
pub const READ: usize = 1_200;

/// A table whose cells are known by their kinds.
pub(super) struct Table<'s> {
    pub(super) sample: &'s Sample,
    kinds: Vec<Vec<Kind>>,
    pub(super) columns: Vec<Column>,
    /// The row of the header among the rows of the sample.
    pub(super) header: Option<usize>,
    /// The rows that ask something.
    pub(super) data: Vec<usize>,
    /// Whether columns are keys, which have no places.
    has_keys: bool,
}

/// What is counted of a column, in the rows that ask something.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Column {
    pub(super) filled: usize,
    pub(super) drawings: usize,
    pub(super) sure: usize,
    pub(super) near_drawings: usize,
    pub(super) lists: usize,
    pub(super) arrows: usize,
    pub(super) near_arrows: usize,
    pub(super) numbers: usize,
}

impl Column {
    fn add(&mut self, kind: Kind) {
        self.filled += usize::from(kind != Kind::Blank);
        match kind {
            Kind::Drawing(sure) => {
                self.drawings += 1;
                self.sure += usize::from(sure);
            }
            Kind::NearDrawing => self.near_drawings += 1,
            Kind::Drawings => self.lists += 1,
            Kind::Arrows => self.arrows += 1,
            Kind::NearArrows => self.near_arrows += 1,
            Kind::Number(_) => self.numbers += 1,
            Kind::Blank | Kind::Text => {}
        }
    }

    /// Whether the column holds structures.
    pub(super) fn is_drawn(&self) -> bool {
        self.is_most(self.drawings + self.near_drawings) && self.sure > 0 && self.sure * 4 >= self.drawings
    }

    /// Whether it holds arrows.
    pub(super) fn is_of_arrows(&self) -> bool {
        self.is_most(self.arrows + self.near_arrows) && self.arrows > 0
    }

    /// Whether it holds lists of structures, some of one structure.
    pub(super) fn is_of_lists(&self) -> bool {
        self.lists > 0 && self.is_most(self.lists + self.drawings) && self.lists * 2 >= self.drawings
    }

    /// Whether so many cells are most of the filled ones. A single header or remark among them counts for nothing: a table may have just
    /// one row below its header.
    fn is_most(&self, cells: usize) -> bool {
        cells * 2 > self.filled.saturating_sub(1)
    }
}

impl<'s> Table<'s> {
    pub(super) fn new(sample: &'s Sample, has_keys: bool) -> Self {
        let of_row = |(_, row): &(u32, Vec<String>)| row.iter().take(COLUMNS).map(|cell| Kind::of(cell)).collect();
        let kinds: Vec<Vec<Kind>> = sample.rows.iter().map(of_row).collect();
        let all: Vec<usize> = (0..kinds.len()).collect();
        let mut table = Self { sample, kinds, columns: Vec::new(), header: None, data: Vec::new(), has_keys };
        table.columns = table.counted(&all);
        table.data = table.asking();
        table.columns = table.counted(&table.data);
        table.header = table.find_header();
        if let Some(header) = table.header {
            table.data.retain(|row| *row > header);
        }
        table
    }

    fn counted(&self, rows: &[usize]) -> Vec<Column> {
        let width = self.kinds.iter().map(Vec::len).max().unwrap_or(0);
        let mut columns = vec![Column::default(); width];
        for row in rows {
            let kinds = self.kinds.get(*row).map(Vec::as_slice).unwrap_or_default();
            columns.iter_mut().zip(kinds).for_each(|(column, kind)| column.add(*kind));
        }
        columns
    }

    /// The columns of which something holds.
    pub(super) fn which(&self, holds: impl Fn(&Column) -> bool) -> Vec<usize> {
        self.columns.iter().enumerate().filter(|(_, own)| holds(own)).map(|(at, _)| at).collect()
    }

    /// Rows that ask something: arrows stand there, or structures in two columns, or in the only one.
    fn asking(&self) -> Vec<usize> {
        let drawn = self.which(|own| own.is_drawn() || own.is_of_lists());
        let arrows = self.which(Column::is_of_arrows);
        let is_sure = |row: &Vec<Kind>| {
            let is_drawn = |at: &&usize| row.get(**at).is_some_and(|kind| kind.is_drawn() || *kind == Kind::Drawings);
            // Headers may read as structures: `B` and `C` over the options.
            let is_sure = |at: &usize| row.get(*at).is_some_and(|kind| *kind != Kind::Drawing(false));
            let count = drawn.iter().filter(is_drawn).count();
            let count = if drawn.iter().filter(is_drawn).any(is_sure) { count } else { 0 };
            let has_arrows = arrows.iter().any(|at| row.get(*at).is_some_and(|kind| kind.is_of_arrows()));
            has_arrows || (count > 0 && (count > 1 || drawn.len() == 1 || !arrows.is_empty()))
        };
        let asking = self.kinds.iter().enumerate().filter(|(_, row)| is_sure(row)).map(|(at, _)| at);
        asking.take(ROWS).collect()
    }

    /// The header: of the rows above the first that asks something, the one that names most of the columns in question.
    fn find_header(&self) -> Option<usize> {
        if self.has_keys {
            return Some(0);
        }
        let first = *self.data.first()?;
        let wanted = self.which(|own| own.is_drawn() || own.is_of_arrows() || own.is_of_lists());
        let names = |row: usize| {
            let cells = &self.sample.rows.get(row).map(|(_, cells)| cells.as_slice()).unwrap_or_default();
            let is_filled = |at: usize| cells.get(at).is_some_and(|cell| !cell.trim().is_empty());
            let named = wanted.iter().filter(|at| is_filled(**at)).count();
            let filled = (0..cells.len()).filter(|at| is_filled(*at)).count();
            (named, filled)
        };
        let best =
            (0..first).map(|row| (names(row), row)).filter(|((named, filled), _)| *named > 0 && *filled > 1).max();
        best.map(|(_, row)| row)
    }

    /// A cell, without space around it.
    pub(super) fn cell(&self, row: usize, column: usize) -> &'s str {
        self.sample.rows.get(row).and_then(|(_, cells)| cells.get(column)).map_or("", |cell| cell.trim())
    }

    pub(super) fn kind(&self, row: usize, column: usize) -> Kind {
        self.kinds.get(row).and_then(|kinds| kinds.get(column)).copied().unwrap_or(Kind::Blank)
    }

    /// The header's own text of a column; empty where there is none.
    pub(super) fn header_text(&self, column: usize) -> &'s str {
        self.header.map_or("", |row| self.cell(row, column)).trim_start_matches('\u{feff}')
    }

    /// How a profile calls a column: by its header, or by its place where no other column may be meant.
    pub(super) fn name(&self, column: usize) -> String {
        let own = self.header_text(column);
        let is_same = |at: &usize| self.header_text(*at).to_lowercase() == own.to_lowercase();
        if own.is_empty() || (0..self.columns.len()).filter(is_same).count() > 1 || own.contains(['\n', '\r']) {
            return column_label(column as u32);
        }
        own.to_owned()
    }

    /// Rows that ask something, some of them, from all over the table.
    pub(super) fn spread(&self, most: usize) -> Vec<usize> {
        let step = (self.data.len() / most.max(1)).max(1);
        self.data.iter().step_by(step).take(most).copied().collect()
    }

    /// How often something holds of the cells of a column.
    pub(super) fn count(&self, column: usize, holds: impl Fn(usize) -> bool) -> usize {
        self.data.iter().filter(|row| self.kind(**row, column) != Kind::Blank && holds(**row)).count()
    }

    /// The separator that the reader takes for a header, or a first row, like this one: the one that stands there most often.
    pub(super) fn shown_separator(&self) -> Option<u8> {
        let (_, cells) = self.sample.rows.get(self.header.unwrap_or(0))?;
        let separator = self.sample.separator?;
        let row: Vec<String> = cells.iter().map(|cell| in_quotes(cell, separator)).collect();
        Some(guess_delimiter(&row.join(&char::from(separator).to_string())))
    }
}

/// A cell as programs write it: in quotes where it needs them.
fn in_quotes(cell: &str, separator: u8) -> String {
    let needs = cell.contains([char::from(separator), '"', '\n', '\r']);
    if needs { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell.to_owned() }
}
