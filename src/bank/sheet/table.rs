//! From the cells of a sheet to the rows of a table, as text that the reader of tables takes.

use super::beside::Beside;
use super::dates::Date;
use super::grid::{Grid, Rows};
use super::library::{Book, Want};
use super::{Given, send};
use crate::bank::Format;
use crate::bank::batch::{Batch, Content, Shared};
use crate::bank::chunk::Chunk;
use crate::bank::fields::Name;
use crate::bank::header::{FurtherHeaders, WITHOUT_HEADER, further, no_bank, told_of_further, written};
use crate::bank::item::{BadRecord, Record};
use crate::bank::pieces::{PIECE, SEPARATOR, end_row, take, write_cell};
use crate::bank::rows::{self, HEADER_ROWS, Unasked};
use crate::bank::source::Settings;
use crate::bank::table::{Above, Header};
use crate::source::{Encoding, Span};
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Mutex};

/// Columns beyond the header's that may hold something.
const BEYOND: usize = 64;
/// Bytes of a piece whose rows are steps of one item.
const LONGEST: usize = 16 * PIECE;
/// What to do about a formula without a value.
const VALUELESS: &str = "open the workbook in a spreadsheet program and save it, or type the value";

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
    /// A formula whose value is not stored.
    NoValue,
}

impl Cell {
    /// Whether it holds nothing but space.
    pub(super) fn is_empty(&self) -> bool {
        match self {
            Self::Empty | Self::NoValue => true,
            Self::Text(text) => text.trim().is_empty(),
            Self::Date(_) | Self::Error(_) => false,
        }
    }

    /// About as many bytes as it takes.
    pub(super) fn size(&self) -> usize {
        match self {
            Self::Text(text) | Self::Error(text) => text.len() + 24,
            Self::Empty | Self::Date(_) | Self::NoValue => 24,
        }
    }

    /// Its text.
    pub(super) fn shown(&self) -> String {
        match self {
            Self::Empty | Self::NoValue => String::new(),
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
    Rows(Box<BankRows>),
    /// It is no bank.
    Passed,
}

/// The rows of a bank.
struct BankRows {
    shared: Arc<Shared>,
    file: Arc<str>,
    chunk: Chunk,
    id: Option<usize>,
    step: Option<usize>,
    last_id: String,
    /// What columns that are filled from above held last.
    above: Above,
    /// Rows that are hidden.
    hidden: Unasked,
    further: FurtherHeaders,
}

/// Where the sheets of a bank go.
pub(super) struct To<'a> {
    pub(super) name: &'a str,
    pub(super) settings: &'a Arc<Settings>,
    pub(super) sender: &'a SyncSender<Given>,
}

impl Book for To<'_> {
    type Sheet<'b>
        = Grid<Table<'b>>
    where
        Self: 'b;

    fn hidden(&mut self, sheet: &str) {
        send(self.sender, Given::Note(format!("the sheet '{sheet}' is hidden; it is read")));
    }

    fn sheet(&mut self, name: &str, beside: Beside) -> Grid<Table<'_>> {
        let table = Table::new(format!("{}#{name}", self.name), name, self.settings, self.sender);
        Grid::new(name, self.settings.limits.columns, beside, table)
    }
}

impl Rows for Table<'_> {
    fn width(&self, cells: usize) -> usize {
        if let State::Rows(rows) = &self.state { rows.shared.header.texts.len() } else { cells }
    }

    fn row(&mut self, number: u32, cells: &mut Vec<Cell>, beside: &Beside) -> Want {
        if let Some(header) = self.another_header(cells) {
            return if self.begin_again(number, header) { Want::More } else { Want::Nothing };
        }
        let is_heard = match &mut self.state {
            State::Rows(rows) => {
                if beside.is_row_hidden(number - 1) && cells.iter().any(|cell| !cell.is_empty()) {
                    rows.hidden.add(number);
                }
                rows.row(number, cells, self.sender)
            }
            State::Titles => self.title(number, cells),
            State::Passed => true,
        };
        match self.state {
            _ if !is_heard => Want::Nothing,
            // A sheet that is no bank need not be read to its end.
            State::Passed => Want::NextSheet,
            State::Titles | State::Rows(_) => Want::More,
        }
    }

    fn goes_below(&self) -> bool {
        matches!(self.state, State::Rows(_))
    }

    fn end(mut self, beside: &Beside) -> bool {
        match &mut self.state {
            State::Titles => self.pass(),
            State::Rows(rows) => {
                let note = rows.hidden_places(&self.sheet, beside).map(Given::Note);
                rows.flush(self.sender) && note.is_none_or(|note| send(self.sender, note))
            }
            State::Passed => true,
        }
    }
}

impl<'a> Table<'a> {
    fn new(name: String, sheet: &str, settings: &'a Arc<Settings>, sender: &'a SyncSender<Given>) -> Self {
        let (titles, state) = (Unasked::default(), State::Titles);
        Self { name, sheet: sheet.to_owned(), settings, sender, titles, best: None, met: 0, state }
    }

    /// Looks whether a row is the header.
    fn title(&mut self, number: u32, cells: &[Cell]) -> bool {
        let is_blank = cells.iter().all(Cell::is_empty);
        if let (Some(0), false) = (self.settings.header_row, is_blank) {
            return self.without_header(number, cells);
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
        if let Some(what) = written(&header) {
            self.state = State::Passed;
            return send(self.sender, Given::Written(format!("the sheet '{}' holds {what}", self.sheet)));
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
        let rows = BankRows::new(&self.name, header, std::mem::take(&mut self.titles), self.settings);
        let is_heard = send(self.sender, Given::Sheet(Arc::clone(&rows.shared)));
        self.state = State::Rows(Box::new(rows));
        is_heard
    }

    /// The header of another table further down, whose columns stand otherwise.
    fn another_header(&self, cells: &[Cell]) -> Option<Header> {
        let State::Rows(rows) = &self.state else { return None };
        let names_start = |cell: &Cell| matches!(cell, Cell::Text(text) if rows.further.is_start(text.as_bytes()));
        if self.settings.header_row == Some(0) || !cells.iter().any(names_start) {
            return None;
        }
        let texts: Vec<String> = cells.iter().map(|cell| cell.shown().trim().to_owned()).collect();
        let rename = |name: &str| self.settings.rename(name);
        let header = Header::of_cells(texts.iter().map(String::as_str), SEPARATOR, &rename);
        further(header, &rows.shared.header)
    }

    /// Begins the rows below another header.
    fn begin_again(&mut self, number: u32, mut header: Header) -> bool {
        let told = told_of_further(&header, &format!("row {number}"));
        if !send(self.sender, Given::Note(format!("the sheet '{}': {told}", self.sheet))) {
            return false;
        }
        header.extend_with(|at| rows::column_label(at as u32), BEYOND);
        let mut hidden = Unasked::default();
        if let State::Rows(rows) = &mut self.state {
            if !rows.flush(self.sender) {
                return false;
            }
            hidden = std::mem::take(&mut rows.hidden);
        }
        let is_heard = self.begin(header);
        if let State::Rows(rows) = &mut self.state {
            rows.hidden = hidden;
        }
        is_heard
    }

    /// Takes the first row of a sheet that has no header.
    fn without_header(&mut self, number: u32, cells: &[Cell]) -> bool {
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
            State::Rows(rows) => rows.row(number, cells, self.sender),
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
}

impl BankRows {
    fn new(name: &str, header: Header, titles: Unasked, settings: &Arc<Settings>) -> Self {
        let at = |name: Name| header.names.iter().position(|own| *own == Some(name));
        let (id, step) = (at(Name::Id), at(Name::Step));
        let above = header.above(&settings.fill_down);
        let further = FurtherHeaders::below(&header, settings);
        let shared = Shared {
            name: name.to_owned(),
            format: Format::Workbook,
            encoding: Encoding::default(),
            header,
            settings: Arc::clone(settings),
            unasked: Mutex::new(titles),
        };
        let (file, last_id, hidden) = (Arc::from(name), String::new(), Unasked::default());
        Self { shared: Arc::new(shared), file, chunk: Chunk::default(), id, step, last_id, above, hidden, further }
    }

    /// Takes a row, by its number from 1; says whether more is wanted.
    fn row(&mut self, number: u32, cells: &[Cell], sender: &SyncSender<Given>) -> bool {
        let text = |at: Option<usize>| at.and_then(|at| cells.get(at)).map(Cell::shown).unwrap_or_default();
        let id = text(self.id).trim().to_owned();
        // Rows of one item stay together; the id of a later step may be that of the row above.
        let is_later = text(self.step).trim().parse().is_ok_and(|own: u32| own > 1);
        let goes_on = self.step.is_some() && (id == self.last_id || (id.is_empty() && is_later));
        if self.chunk.text.len() >= PIECE && !(goes_on && self.chunk.text.len() < LONGEST) && !self.flush(sender) {
            return false;
        }
        if !(id.is_empty() && is_later) {
            self.last_id = id;
        }
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
        let chunk = self.taken();
        self.send(Content::Records(chunk, vec![record]), sender)
    }

    /// The rows and columns that are hidden and were read, as a sentence.
    fn hidden_places(&self, sheet: &str, beside: &Beside) -> Option<String> {
        let header = &self.shared.header;
        let columns: Vec<String> = (0..)
            .zip(&header.names)
            .filter(|(at, name)| name.is_some() && beside.is_column_hidden(*at))
            .filter_map(|(at, _)| Some(format!("{} ('{}')", rows::column_name(at), header.texts.get(at as usize)?)))
            .collect();
        let rows = (!self.hidden.is_empty()).then(|| format!("rows that are hidden ({})", self.hidden.lines()));
        let columns = (!columns.is_empty()).then(|| format!("columns that are hidden: {}", columns.join(", ")));
        let what = [rows, columns].into_iter().flatten().collect::<Vec<_>>().join(" and ");
        (!what.is_empty()).then(|| format!("the sheet '{sheet}' has {what}; they are read"))
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
                Cell::NoValue if name.is_of_drawings() || name == Name::Id => {
                    Some((at, format!("the column '{column}' holds a formula whose value is not stored: {VALUELESS}")))
                        .filter(|_| self.asks(cells))
                }
                _ => None,
            }
        })
    }

    /// Whether a row asks a question.
    fn asks(&self, cells: &[Cell]) -> bool {
        let names = self.shared.header.names.iter().copied();
        let shown: Vec<(Option<Name>, String)> = names.zip(cells.iter().map(Cell::shown)).collect();
        rows::asks(shown.iter().map(|(name, text)| (*name, text.as_str())))
    }

    fn write(&mut self, number: u32, cells: &[Cell]) {
        let is_shown = |cell: &Cell| !cell.is_empty() || *cell == Cell::NoValue;
        let filled = cells.iter().rposition(is_shown).map_or(0, |last| last + 1);
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
            at += crate::bank::cells::cell_length(rest, SEPARATOR) + 1;
        }
        let rest = self.chunk.text.get(at..).unwrap_or_default();
        Span::new(at, at + crate::bank::cells::cell_length(rest, SEPARATOR))
    }

    fn flush(&mut self, sender: &SyncSender<Given>) -> bool {
        if self.chunk.text.is_empty() {
            return true;
        }
        let chunk = self.taken();
        self.send(Content::Text(chunk), sender)
    }

    /// The piece that is whole, with what stands above it.
    fn taken(&mut self) -> Chunk {
        let chunk = take(&mut self.chunk);
        self.shared.below(chunk, &mut self.above)
    }

    fn send(&self, content: Content, sender: &SyncSender<Given>) -> bool {
        let batch = Batch { shared: Arc::clone(&self.shared), content, file: Some(Arc::clone(&self.file)) };
        send(sender, Given::Batch(batch))
    }
}
