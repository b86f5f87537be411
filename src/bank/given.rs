//! Rows that a program gives: a table, or records, without a file. A row's number, counted from 1, stands for its line.
//!
//! Cells are written as the text of a table, so that whatever holds of tables in files holds of these, and the threads that judge
//! take them apart. A row that nests (steps, lists of options) comes as a JSON object instead.

use super::Format;
use super::batch::{Batch, Content, Shared};
use super::chunk::Chunk;
use super::fields::Name;
use super::header::no_bank;
use super::pieces::{PIECE, SEPARATOR, end_row, take, write_cell};
use super::rows::Unasked;
use super::source::Settings;
use super::table::{Above, Header};
use crate::source::Encoding;
use std::collections::VecDeque;
use std::fmt;
use std::io;
use std::sync::{Arc, Mutex};

/// A table that can be read from its beginning as often as somebody asks.
pub trait Given: fmt::Debug + Send + Sync {
    /// Begins to read.
    ///
    /// # Errors
    /// It can be read only once, and was.
    fn begin(&self) -> io::Result<Box<dyn Giver>>;

    /// Whether it can be read once more.
    fn stays(&self) -> bool {
        true
    }
}

/// Gives rows one after the other.
pub trait Giver: Send {
    /// Writes some of the next rows; says whether there may be more.
    ///
    /// # Errors
    /// There may be more, and they cannot be had.
    fn give(&mut self, rows: &mut Rows) -> io::Result<bool>;
}

/// Where rows are written to.
pub struct Rows {
    settings: Arc<Settings>,
    /// What the columns say, as far as they are known; made again when one comes.
    table: Arc<Shared>,
    /// Rows of each kind of text have what their pieces share.
    shared: Vec<Arc<Shared>>,
    cells: Vec<String>,
    chunk: Chunk,
    is_nested: bool,
    number: u32,
    last_id: String,
    /// What columns that are filled from above held last.
    above: Above,
    ready: VecDeque<Batch>,
}

impl Rows {
    fn new(settings: &Arc<Settings>) -> Self {
        let settings = Arc::clone(settings);
        let table = Arc::new(shared(&settings, Format::Workbook, Header { delimiter: SEPARATOR, ..Header::default() }));
        Self {
            shared: vec![Arc::clone(&table)],
            settings,
            table,
            cells: Vec::new(),
            chunk: Chunk::default(),
            is_nested: false,
            number: 0,
            last_id: String::new(),
            above: Above::default(),
            ready: VecDeque::new(),
        }
    }

    /// The columns of a table that has a header, in order.
    ///
    /// # Errors
    /// It is no bank: there is no start, or nothing that is said about it.
    pub fn header(&mut self, names: &[String]) -> io::Result<()> {
        for name in names {
            self.add_column(name)?;
        }
        if self.table.header.is_bank() { Ok(()) } else { Err(io::Error::other(no_bank(&self.table.header))) }
    }

    /// The column with this name; `near` is where it is likely to be found.
    ///
    /// # Errors
    /// There are too many.
    pub fn column(&mut self, name: &str, near: usize) -> io::Result<usize> {
        let texts = &self.table.header.texts;
        if texts.get(near).is_some_and(|own| own == name) {
            return Ok(near);
        }
        match texts.iter().position(|own| own == name) {
            Some(at) => Ok(at),
            None => self.add_column(name),
        }
    }

    fn add_column(&mut self, name: &str) -> io::Result<usize> {
        let most = self.settings.limits.columns;
        if self.table.header.texts.len() >= most {
            return Err(io::Error::other(format!("the rows pass the limit of {most} columns")));
        }
        self.flush();
        let mut header = self.table.header.clone();
        header.names.push(Name::from_text(&self.settings.rename(name)));
        header.texts.push(name.to_owned());
        // What stands above stays where columns come behind it.
        let held = std::mem::replace(&mut self.above, header.above(&self.settings.fill_down));
        for (column, text) in held {
            self.above.iter_mut().filter(|own| own.0 == column).for_each(|own| own.1.clone_from(&text));
        }
        self.table = Arc::new(shared(&self.settings, Format::Workbook, header));
        self.shared.push(Arc::clone(&self.table));
        Ok(self.table.header.texts.len() - 1)
    }

    /// A cell of the row that comes, by its column.
    pub fn cell(&mut self, column: usize) -> &mut String {
        if self.cells.len() <= column {
            self.cells.resize_with(column + 1, String::new);
        }
        &mut self.cells[column]
    }

    /// Forgets the cells that were written of the row that comes.
    pub fn clear(&mut self) {
        self.cells.iter_mut().for_each(String::clear);
    }

    /// Ends a row of cells.
    pub fn end_row(&mut self) {
        self.number += 1;
        let header = &self.table.header;
        let cell =
            |name: Name| header.names.iter().position(|own| *own == Some(name)).and_then(|at| self.cells.get(at));
        let id = cell(Name::Id).map(|own| own.trim().to_owned()).unwrap_or_default();
        // Rows of one item stay together.
        let goes_on = !id.is_empty() && id == self.last_id && header.has_steps();
        if self.is_nested || (self.chunk.text.len() >= PIECE && !goes_on) {
            self.flush();
        }
        self.last_id = id;
        let start = self.chunk.text.len();
        // A row without cells is a row of blank ones.
        for at in 0..self.table.header.texts.len().max(2) {
            if at > 0 {
                self.chunk.text.push(char::from(SEPARATOR));
            }
            if let Some(cell) = self.cells.get_mut(at) {
                write_cell(&mut self.chunk.text, cell);
                cell.clear();
            }
        }
        end_row(&mut self.chunk, start, self.number);
    }

    /// A row that nests, as a JSON object without line breaks.
    pub fn nested(&mut self, object: &str) {
        self.number += 1;
        if !self.is_nested || self.chunk.text.len() >= PIECE {
            self.flush();
        }
        self.is_nested = true;
        self.last_id.clear();
        let start = self.chunk.text.len();
        self.chunk.text.extend(object.chars().map(|c| if c == '\n' || c == '\r' { ' ' } else { c }));
        end_row(&mut self.chunk, start, self.number);
    }

    fn flush(&mut self) {
        let is_nested = std::mem::take(&mut self.is_nested);
        if self.chunk.text.is_empty() {
            return;
        }
        let chunk = take(&mut self.chunk);
        let shared = if is_nested { self.records() } else { Arc::clone(&self.table) };
        let chunk = if is_nested { chunk } else { shared.below(chunk, &mut self.above) };
        self.ready.push_back(Batch { shared, content: Content::Text(chunk), file: None });
    }

    /// What pieces of nested rows share.
    fn records(&mut self) -> Arc<Shared> {
        if let Some(own) = self.shared.iter().find(|own| own.format == Format::JsonLines) {
            return Arc::clone(own);
        }
        let own = Arc::new(shared(&self.settings, Format::JsonLines, Header::default()));
        self.shared.push(Arc::clone(&own));
        own
    }
}

fn shared(settings: &Arc<Settings>, format: Format, header: Header) -> Shared {
    Shared {
        name: String::new(),
        format,
        encoding: Encoding::default(),
        header,
        settings: Arc::clone(settings),
        unasked: Mutex::new(Unasked::default()),
    }
}

/// Rows on their way to batches.
pub(super) struct GivenSource {
    giver: Box<dyn Giver>,
    rows: Rows,
    has_ended: bool,
}

impl GivenSource {
    pub(super) fn new(giver: Box<dyn Giver>, settings: &Arc<Settings>) -> Self {
        Self { giver, rows: Rows::new(settings), has_ended: false }
    }

    /// The next piece.
    pub(super) fn next_batch(&mut self) -> io::Result<Option<Batch>> {
        while self.rows.ready.is_empty() && !self.has_ended {
            self.has_ended = !self.giver.give(&mut self.rows)?;
            if self.has_ended {
                self.rows.flush();
            }
        }
        Ok(self.rows.ready.pop_front())
    }

    /// What pieces share, so far.
    pub(super) fn shared(&self) -> &[Arc<Shared>] {
        &self.rows.shared
    }
}
