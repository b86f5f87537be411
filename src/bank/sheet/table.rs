//! From the cells of a sheet to the rows of a table, as text that the reader of tables takes.

use super::dates::Date;
use super::library::{Book, Sheet, Want};
use super::merged::{Merged, Range};
use super::{Given, send};
use crate::bank::Format;
use crate::bank::chunk::Chunk;
use crate::bank::fields::Name;
use crate::bank::header::{WITHOUT_HEADER, no_bank};
use crate::bank::item::{BadRecord, Record};
use crate::bank::pieces::{PIECE, SEPARATOR, end_row, take, write_cell};
use crate::bank::rows::{self, HEADER_ROWS, Unasked};
use crate::bank::source::{Batch, Content, Settings, Shared};
use crate::bank::table::Header;
use crate::source::{Encoding, Span};
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Mutex};

/// Rows of a sheet, at most.
pub(super) const ROWS: u32 = 1 << 20;
/// Columns beyond the header's that may hold something.
const BEYOND: usize = 64;

/// A cell.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) enum Cell {
    /// Nothing.
    #[default]
    Empty,
    /// A text, or a number as one.
    Text(String),
    /// A date.
    Date(Date),
    /// An error of a formula.
    Error(String),
}

impl Cell {
    /// Whether it holds nothing but space.
    pub(super) fn is_empty(&self) -> bool {
        match self {
            Self::Empty => true,
            Self::Text(text) => text.trim().is_empty(),
            Self::Date(_) | Self::Error(_) => false,
        }
    }

    /// About as many bytes as it takes.
    pub(super) fn size(&self) -> usize {
        match self {
            Self::Text(text) | Self::Error(text) => text.len() + 24,
            Self::Empty | Self::Date(_) => 24,
        }
    }

    /// Its text.
    pub(super) fn shown(&self) -> String {
        match self {
            Self::Empty => String::new(),
            Self::Text(text) | Self::Error(text) => text.clone(),
            Self::Date(date) => date.iso(),
        }
    }
}

/// A sheet that is being read.
pub(super) struct Table<'a> {
    name: String,
    sheet: String,
    settings: &'a Arc<Settings>,
    sender: &'a SyncSender<Given>,
    merged: Merged,
    /// The row that is being read, from 0, and its cells.
    row: u32,
    cells: Vec<Cell>,
    /// Rows before the header, and what is known of them.
    titles: Unasked,
    best: Option<Header>,
    met: usize,
    state: State,
}

enum State {
    /// The header is looked for.
    Titles,
    /// Rows are read.
    Rows(Box<Rows>),
    /// It is no bank.
    Passed,
}

/// The rows of a bank.
struct Rows {
    shared: Arc<Shared>,
    file: Arc<str>,
    chunk: Chunk,
    id: Option<usize>,
    step: Option<usize>,
    last_id: String,
    /// What columns that are filled down held last.
    down: Vec<(usize, Cell)>,
}

/// Where the sheets of a bank go.
pub(super) struct To<'a> {
    pub(super) name: &'a str,
    pub(super) settings: &'a Arc<Settings>,
    pub(super) sender: &'a SyncSender<Given>,
}

impl Book for To<'_> {
    type Sheet<'b>
        = Table<'b>
    where
        Self: 'b;

    fn hidden(&mut self, sheet: &str) {
        send(self.sender, Given::Note(format!("the sheet '{sheet}' is hidden; it is read")));
    }

    fn sheet(&mut self, name: &str, merged: Vec<Range>) -> Table<'_> {
        Table::new(format!("{}#{name}", self.name), name, self.settings, self.sender, Merged::new(merged))
    }
}

impl Sheet for Table<'_> {
    fn cell(&mut self, place: (u32, u32), cell: Cell) -> Result<Want, String> {
        if !self.take(place, cell)? {
            return Ok(Want::Nothing);
        }
        // A sheet that is no bank need not be read to its end.
        Ok(if matches!(self.state, State::Passed) { Want::NextSheet } else { Want::More })
    }

    fn end(self) -> Result<bool, String> {
        self.finish()
    }
}

impl<'a> Table<'a> {
    fn new(
        name: String,
        sheet: &str,
        settings: &'a Arc<Settings>,
        sender: &'a SyncSender<Given>,
        merged: Merged,
    ) -> Self {
        Self {
            name,
            sheet: sheet.to_owned(),
            settings,
            sender,
            merged,
            row: 0,
            cells: Vec::new(),
            titles: Unasked::default(),
            best: None,
            met: 0,
            state: State::Titles,
        }
    }

    /// Takes the next cell, by its row and column from 0; says whether more is wanted.
    fn take(&mut self, (row, column): (u32, u32), cell: Cell) -> Result<bool, String> {
        if cell == Cell::Empty {
            return Ok(true);
        }
        if row < self.row {
            return Err(format!("the sheet '{}' has its row {} behind row {}", self.sheet, row + 1, self.row + 1));
        }
        if row >= ROWS {
            return Err(format!(
                "the sheet '{}' names the row {}, and none has more than {ROWS}",
                self.sheet,
                u64::from(row) + 1
            ));
        }
        if column as usize >= self.settings.limits.columns {
            return Err(format!(
                "the sheet '{}' passes the limit of {} columns",
                self.sheet, self.settings.limits.columns
            ));
        }
        if row > self.row && !self.advance(row)? {
            return Ok(false);
        }
        let at = column as usize;
        if self.cells.len() <= at {
            self.cells.resize(at + 1, Cell::Empty);
        }
        self.cells[at] = cell;
        Ok(true)
    }

    /// Ends the row that is read, and those without cells before the next.
    fn advance(&mut self, next: u32) -> Result<bool, String> {
        while self.row < next {
            let mut cells = std::mem::take(&mut self.cells);
            if !self.end_row(&mut cells)? {
                return Ok(false);
            }
            cells.clear();
            self.cells = cells;
            self.row += 1;
        }
        Ok(true)
    }

    fn end_row(&mut self, cells: &mut Vec<Cell>) -> Result<bool, String> {
        let columns = match &self.state {
            State::Passed => return Ok(true),
            State::Titles => cells.len() as u32,
            State::Rows(rows) => rows.shared.header.texts.len() as u32,
        };
        self.merged.fill(self.row, cells, columns)?;
        if let State::Rows(rows) = &mut self.state {
            return Ok(rows.row(self.row + 1, cells, self.sender));
        }
        Ok(self.title(cells))
    }

    /// Looks whether a row is the header.
    fn title(&mut self, cells: &[Cell]) -> bool {
        let number = self.row + 1;
        let is_blank = cells.iter().all(Cell::is_empty);
        if let (Some(0), false) = (self.settings.header_row, is_blank) {
            return self.without_header(cells);
        }
        if let Some(wanted) = self.settings.header_row.filter(|row| *row > 0) {
            if number < wanted {
                self.titles.add(number);
                return true;
            }
        } else if is_blank {
            self.titles.add(number);
            return true;
        }
        let mut texts: Vec<String> = cells.iter().map(|cell| cell.shown().trim().to_owned()).collect();
        while texts.last().is_some_and(String::is_empty) {
            texts.pop();
        }
        let rename = |name: &str| self.settings.rename(name);
        let mut header = Header::of_cells(texts.iter().map(String::as_str), SEPARATOR, &rename);
        self.met += 1;
        if header.is_bank() {
            header.extend_with(|at| rows::column_label(at as u32), BEYOND);
            return self.begin(header);
        }
        if self.best.as_ref().is_none_or(|best| header.is_of_drawings() && !best.is_of_drawings()) {
            self.best = Some(header);
        }
        self.titles.add(number);
        if self.settings.header_row.is_some() || self.met >= HEADER_ROWS {
            return self.pass();
        }
        true
    }

    /// Begins the rows below a header.
    fn begin(&mut self, header: Header) -> bool {
        let rows = Rows::new(&self.name, header, std::mem::take(&mut self.titles), self.settings);
        let is_heard = send(self.sender, Given::Sheet(Arc::clone(&rows.shared)));
        self.state = State::Rows(Box::new(rows));
        is_heard
    }

    /// Takes the first row of a sheet that has no header.
    fn without_header(&mut self, cells: &[Cell]) -> bool {
        let rename = |name: &str| self.settings.rename(name);
        let header = Header::of_places(cells.len() + BEYOND, SEPARATOR, &rename);
        if !header.is_bank() {
            self.state = State::Passed;
            let told = format!("the sheet '{}' is passed over: {WITHOUT_HEADER}", self.sheet);
            return send(self.sender, Given::NoBank(told, false));
        }
        if !self.begin(header) {
            return false;
        }
        match &mut self.state {
            State::Rows(rows) => rows.row(self.row + 1, &mut cells.to_vec(), self.sender),
            State::Titles | State::Passed => true,
        }
    }

    /// Passes over the sheet, which is no bank.
    fn pass(&mut self) -> bool {
        self.state = State::Passed;
        let Some(header) = self.best.take() else {
            return send(self.sender, Given::NoBank(format!("the sheet '{}' is empty", self.sheet), false));
        };
        let told = format!("the sheet '{}' is passed over: {}", self.sheet, no_bank(&header));
        send(self.sender, Given::NoBank(told, header.is_of_drawings()))
    }

    /// Ends the sheet.
    fn finish(mut self) -> Result<bool, String> {
        let mut cells = std::mem::take(&mut self.cells);
        if !cells.is_empty() && !self.end_row(&mut cells)? {
            return Ok(false);
        }
        // Merged cells may go on below the last row that is written.
        self.row += 1;
        while matches!(self.state, State::Rows(_)) && self.merged.reach(self.row) {
            cells.clear();
            if !self.end_row(&mut cells)? {
                return Ok(false);
            }
            self.row += 1;
        }
        match &mut self.state {
            State::Titles => Ok(self.pass()),
            State::Rows(rows) => Ok(rows.flush(self.sender)),
            State::Passed => Ok(true),
        }
    }
}

impl Rows {
    fn new(name: &str, header: Header, titles: Unasked, settings: &Arc<Settings>) -> Self {
        let at = |name: Name| header.names.iter().position(|own| *own == Some(name));
        let (id, step) = (at(Name::Id), at(Name::Step));
        let filled_down = |name: &Name| settings.fill_down.contains(name);
        let down = header.names.iter().enumerate().filter(|(_, name)| name.as_ref().is_some_and(filled_down));
        let down = down.map(|(at, _)| (at, Cell::Empty)).collect();
        let shared = Shared {
            name: name.to_owned(),
            format: Format::Workbook,
            encoding: Encoding::default(),
            header,
            settings: Arc::clone(settings),
            unasked: Mutex::new(titles),
        };
        let (file, last_id) = (Arc::from(name), String::new());
        Self { shared: Arc::new(shared), file, chunk: Chunk::default(), id, step, last_id, down }
    }

    /// Takes a row, by its number from 1; says whether more is wanted.
    fn row(&mut self, number: u32, cells: &mut Vec<Cell>, sender: &SyncSender<Given>) -> bool {
        self.fill_down(cells);
        let id = self.id.and_then(|at| cells.get(at)).map(Cell::shown).unwrap_or_default().trim().to_owned();
        // Rows of one item stay together.
        let goes_on = self.step.is_some() && id == self.last_id;
        if self.chunk.text.len() >= PIECE && !goes_on && !self.flush(sender) {
            return false;
        }
        self.last_id = id;
        let fault = self.fault(cells);
        if fault.is_some() && !self.flush(sender) {
            return false;
        }
        let start = self.chunk.text.len();
        self.write(number, cells);
        let Some((column, message)) = fault else { return true };
        let span = self.span_of(start, column);
        let id = Some(self.last_id.clone()).filter(|id| !id.is_empty());
        let record = Record { line: number, content: Err(BadRecord { is_item: true, id, message, span }) };
        let chunk = take(&mut self.chunk);
        self.send(Content::Records(chunk, vec![record]), sender)
    }

    /// Fills empty cells of a question from above, where the profile says so, and the id of later steps.
    fn fill_down(&mut self, cells: &mut Vec<Cell>) {
        if self.down.is_empty() && (self.step.is_none() || self.id.is_none()) {
            return;
        }
        let names = &self.shared.header.names;
        let shown: Vec<(Option<Name>, String)> =
            names.iter().zip(cells.iter()).map(|(name, cell)| (*name, cell.shown())).collect();
        if !rows::asks(shown.iter().map(|(name, text)| (*name, text.as_str()))) {
            return;
        }
        let mut fill = |at: usize, cell: Cell| {
            if cells.len() <= at {
                cells.resize(at + 1, Cell::Empty);
            }
            if cells[at].is_empty() {
                cells[at] = cell;
            }
        };
        let is_later = self
            .step
            .and_then(|at| shown.get(at))
            .is_some_and(|(_, text)| text.trim().parse().is_ok_and(|own: u32| own > 1));
        if let (Some(id), true, false) = (self.id, is_later, self.last_id.is_empty()) {
            fill(id, Cell::Text(self.last_id.clone()));
        }
        for (at, above) in &self.down {
            fill(*at, above.clone());
        }
        for (at, above) in &mut self.down {
            *above = cells.get(*at).cloned().unwrap_or_default();
        }
    }

    /// What is wrong with a row that asks something: an error or a date where a drawing or arrows belong.
    fn fault(&self, cells: &[Cell]) -> Option<(usize, String)> {
        self.shared.header.names.iter().zip(cells).enumerate().find_map(|(at, (name, cell))| {
            let name = (*name)?;
            let column = self.shared.header.texts.get(at).map_or("", String::as_str);
            match cell {
                Cell::Error(error)
                    if name.is_of_drawings() || matches!(name, Name::Id | Name::Task | Name::Key | Name::Step) =>
                {
                    let what = "of a formula: mend the formula or type the value";
                    Some((at, format!("the column '{column}' holds the error {error} {what}")))
                }
                Cell::Date(date) if name.is_of_drawings() => Some((at, date.told(column))),
                _ => None,
            }
        })
    }

    fn write(&mut self, number: u32, cells: &[Cell]) {
        let filled = cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1);
        let start = self.chunk.text.len();
        let text = &mut self.chunk.text;
        // A row without cells is a row of blank ones.
        for at in 0..filled.max(2) {
            if at > 0 {
                text.push(char::from(SEPARATOR));
            }
            if let Some(cell) = cells.get(at) {
                write_cell(text, &cell.shown());
            }
        }
        end_row(&mut self.chunk, start, number);
    }

    /// The bytes of a cell of the row that begins at `start`.
    fn span_of(&self, start: usize, column: usize) -> Span {
        let mut at = start;
        for _ in 0..column {
            let rest = self.chunk.text.get(at..).unwrap_or_default();
            at += crate::bank::table::cell_length(rest, SEPARATOR) + 1;
        }
        let rest = self.chunk.text.get(at..).unwrap_or_default();
        Span::new(at, at + crate::bank::table::cell_length(rest, SEPARATOR))
    }

    fn flush(&mut self, sender: &SyncSender<Given>) -> bool {
        if self.chunk.text.is_empty() {
            return true;
        }
        let chunk = take(&mut self.chunk);
        self.send(Content::Text(chunk), sender)
    }

    fn send(&self, content: Content, sender: &SyncSender<Given>) -> bool {
        let batch = Batch { shared: Arc::clone(&self.shared), content, file: Some(Arc::clone(&self.file)) };
        send(sender, Given::Batch(batch))
    }
}
