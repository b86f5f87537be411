//! `audit.xlsx`: the workbook in which an editor decides. Sheets: Decisions, Summary, Without a question.
//!
//! Rows go to the disk as they are written, so that memory does not grow with them; a disk that is full is told like any other. All cells are text or numbers: nothing of a bank
//! is ever a formula. The only formulas are links to the cards of the page.

use super::cell::spelt_out;
use super::decisions::{self, COLUMNS, Choice};
use super::file::WholeFile;
use super::html::card_href;
use super::terminal::CAUTION_UNWRAPPED;
use crate::audit::{Audited, Reporter, Summary};
use crate::bank::write::xlsx::{About, Book as Workbook, Cell, Head, List, Style, Tail};
use std::borrow::Cow;
use std::io;
use std::path::{Path, PathBuf};

/// The sheet of decisions.
pub const DECISIONS: &str = "Decisions";
/// The sheet of counts.
pub const SUMMARY: &str = "Summary";
/// The sheet of what was passed over.
pub const PASSED_OVER: &str = "Without a question";
/// The heading over the marks of the files, in the sheet of counts.
pub const MARK_COLUMNS: [&str; 3] = super::corrections::FILE_COLUMNS;

/// Rows of decisions in one workbook. Editors scroll; programs that open a workbook hold all of it.
const ROWS: u32 = 100_000;
/// Bytes of a sheet, unpacked, after which another workbook is begun.
const SHEET: u64 = 1 << 30;
/// Characters in a cell: what spreadsheet programs take.
const CELL: usize = 32_767;
/// The width of each column, in characters.
const WIDTHS: [f64; 17] =
    [16.0, 22.0, 7.0, 6.0, 10.0, 24.0, 60.0, 18.0, 9.0, 36.0, 36.0, 9.0, 11.0, 36.0, 30.0, 7.0, 20.0];

/// The place of a column.
fn column(name: &str) -> u32 {
    COLUMNS.iter().position(|own| *own == name).unwrap_or_default() as u32
}

/// Writes `audit.xlsx`, and where there are many decisions `audit-2.xlsx` and so on.
pub struct XlsxReport {
    folder: PathBuf,
    /// Cards on one page of the report; absent, there is no page to link to.
    page_cards: Option<u64>,
    rows_a_book: u32,
    book: Book,
    books: u32,
    cards: u64,
}

impl XlsxReport {
    /// Begins the report in a folder. `page_cards` is the number of cards on one page, where pages are written as well.
    ///
    /// # Errors
    /// The folder cannot be written.
    pub fn create(folder: &Path, page_cards: Option<usize>) -> io::Result<Self> {
        let page_cards = page_cards.map(|cards| cards.max(1) as u64);
        let book = Book::begin(folder, 1)?;
        Ok(Self { folder: folder.to_owned(), page_cards, rows_a_book: ROWS, book, books: 1, cards: 0 })
    }

    /// The same with fewer decisions in one workbook.
    #[must_use]
    pub fn with_rows(self, rows_a_book: u32) -> Self {
        Self { rows_a_book: rows_a_book.max(1), ..self }
    }
}

/// The name of a workbook, counted from 1.
fn book_name(book: u32) -> String {
    if book <= 1 { "audit.xlsx".to_owned() } else { format!("audit-{book}.xlsx") }
}

impl Reporter for XlsxReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        self.cards += 1;
        let href = self.page_cards.map(|page_cards| card_href(self.cards, page_cards));
        for decision in decisions::of(item) {
            if self.book.rows >= self.rows_a_book || self.book.book.length() > SHEET {
                self.book.save(None)?;
                self.books += 1;
                self.book = Book::begin(&self.folder, self.books)?;
            }
            self.book.row(&decision.cells(), href.as_deref())?;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        self.book.save(Some(summary))
    }
}

/// One workbook while it fills.
struct Book {
    book: Workbook<WholeFile>,
    rows: u32,
}

impl Book {
    fn begin(folder: &Path, number: u32) -> io::Result<Self> {
        let file = WholeFile::create(&folder.join(book_name(number)))?;
        let about = About { title: "Decisions on the findings of an audit", comment: CAUTION_UNWRAPPED };
        let mut book = Workbook::new(file, about)?;
        // What an editor types stays what was typed.
        let style = |name: &str| if ["instead", "note"].contains(&name) { Style::Text } else { Style::Plain };
        let columns: Vec<(f64, Style)> =
            WIDTHS.iter().zip(COLUMNS).map(|(width, name)| (*width, style(name))).collect();
        book.begin(&Head { name: DECISIONS, frozen: (1, 1), columns: &columns })?;
        book.row(0, (0..).zip(COLUMNS.map(|name| Cell::Text(name, Style::Heading))))?;
        Ok(Self { book, rows: 0 })
    }

    fn row(&mut self, cells: &[impl AsRef<str>; 17], href: Option<&str>) -> io::Result<()> {
        self.rows += 1;
        let is_whole = ["item", "file", "now", "proposed"].iter().all(|name| {
            let cell = spelt_out(cells[column(name) as usize].as_ref());
            cell.encode_utf16().count() <= CELL
        });
        let texts: Vec<Cow<'_, str>> = cells.iter().map(|cell| fitting(cell.as_ref())).collect();
        let row = (0..).zip(&texts).filter_map(|(at, text)| {
            // A row that does not fit names no field: nothing of it can be applied.
            if !is_whole && (at == column("field") || at == column("check")) {
                return None;
            }
            if let (true, Some(href)) = (at == column("card"), href) {
                return Some((at, Cell::Link(href, "card")));
            }
            let is_number = at == column("line") || at == column("step");
            if let (true, Ok(number)) = (is_number, text.parse::<u32>()) {
                return Some((at, Cell::Number(f64::from(number))));
            }
            (!text.is_empty()).then_some((at, Cell::Text(text, Style::Plain)))
        });
        self.book.row(self.rows, row)
    }

    /// Ends the workbook; the last one has the summary.
    fn save(&mut self, summary: Option<&Summary>) -> io::Result<()> {
        let names = Choice::ALL.map(|(_, name)| name);
        let told = "accept applies the proposal, keep leaves the bank as it is, ask does nothing yet";
        let list = List { column: column("decision"), last: self.rows, words: &names, told: ("Decision", told) };
        let filter = Some((self.rows + 1, COLUMNS.len() as u32));
        self.book.end(&Tail { filter, lists: &[list] })?;
        if let Some(summary) = summary {
            summary_sheet(&mut self.book, summary)?;
            passed_over_sheet(&mut self.book, summary)?;
        }
        self.book.finish()?.finish()
    }
}

/// Text as a cell takes it: control characters spelt out, and cut where it is too long.
fn fitting(text: &str) -> Cow<'_, str> {
    let text = spelt_out(text);
    if text.len() <= CELL || text.encode_utf16().count() <= CELL {
        return text;
    }
    // Cut well before the limit, which counts UTF-16 units.
    let head: String = text.chars().take(CELL / 2 - 100).collect();
    format!("{head} ... (too long for a cell: the whole stands in audit.csv)").into()
}

/// Writes rows of text and numbers below each other.
struct Lines<'a> {
    book: &'a mut Workbook<WholeFile>,
    row: u32,
}

impl<'a> Lines<'a> {
    /// Begins a sheet.
    fn of_sheet(book: &'a mut Workbook<WholeFile>, name: &str, widths: [f64; 3]) -> io::Result<Self> {
        let columns = widths.map(|width| (width, Style::Plain));
        book.begin(&Head { name, frozen: (0, 0), columns: &columns })?;
        Ok(Self { book, row: 0 })
    }

    fn row(&mut self, cells: &[Cell<'_>]) -> io::Result<()> {
        let texts: Vec<Cow<'_, str>> =
            cells.iter().map(|cell| if let Cell::Text(text, _) = cell { fitting(text) } else { "".into() }).collect();
        let fitted = cells.iter().zip(&texts).map(|(cell, text)| match cell {
            Cell::Text(_, style) => Cell::Text(text, *style),
            other => *other,
        });
        let filled = (0..).zip(fitted).filter(|(_, cell)| !matches!(cell, Cell::Text("", _)));
        self.book.row(self.row, filled)?;
        self.row += 1;
        Ok(())
    }

    fn text(&mut self, cells: &[&str], style: Style) -> io::Result<()> {
        let cells: Vec<Cell<'_>> = cells.iter().map(|text| Cell::Text(text, style)).collect();
        self.row(&cells)
    }

    fn count(&mut self, name: &str, count: u64) -> io::Result<()> {
        self.row(&[Cell::Text(name, Style::Plain), Cell::Number(count as f64)])
    }

    fn end(self) -> io::Result<()> {
        self.book.end(&Tail::default())
    }
}

fn summary_sheet(book: &mut Workbook<WholeFile>, summary: &Summary) -> io::Result<()> {
    let mut lines = Lines::of_sheet(book, SUMMARY, [44.0, 14.0, 40.0])?;
    if summary.interrupted {
        lines.text(&["Interrupted: these are partial results, of the items read so far."], Style::Heading)?;
    }
    let totals = &summary.totals;
    lines.text(&["items", "count"], Style::Heading)?;
    for (name, count) in [
        ("items", totals.items),
        ("sound", totals.sound),
        ("faulty", totals.faulty),
        ("undecided", totals.undecided),
        ("unreadable", totals.unreadable),
        ("with warnings", totals.warned),
    ] {
        lines.count(name, count)?;
    }
    lines.text(&[], Style::Plain)?;
    lines.text(&["finding", "count"], Style::Heading)?;
    for (name, count) in &totals.findings {
        lines.count(name, *count)?;
    }
    lines.text(&[], Style::Plain)?;
    // Spreadsheet programs number rows up to 1,048,576: of more files the marks stand in corrections.files.csv.
    lines.text(&MARK_COLUMNS, Style::Heading)?;
    for (name, mark) in summary.marks.iter().take(1_000_000) {
        let own = format!("m{mark}");
        let name = Cell::Text(name, Style::Plain);
        lines.row(&[name, Cell::Number(mark.bytes() as f64), Cell::Text(&own, Style::Plain)])?;
    }
    lines.text(&[], Style::Plain)?;
    lines.text(&[CAUTION_UNWRAPPED], Style::Plain)?;
    lines.end()
}

fn passed_over_sheet(book: &mut Workbook<WholeFile>, summary: &Summary) -> io::Result<()> {
    let mut lines = Lines::of_sheet(book, PASSED_OVER, [44.0, 10.0, 80.0])?;
    lines.text(&["file", "line", "why"], Style::Heading)?;
    for (name, why) in summary.unread.iter().chain(&summary.without_items).take(1_000_000) {
        lines.text(&[name, "", why], Style::Plain)?;
    }
    // The lines are a text: a program would make a day of `1-3`.
    for (name, rows) in summary.unasked.iter().take(1_000_000) {
        let many = if rows.count == 1 { "1 row".to_owned() } else { format!("{} rows", rows.count) };
        lines.text(&[name, &rows.lines(), &format!("{many} without a question")], Style::Plain)?;
    }
    for (what, count) in [("files that are no bank", summary.skipped), ("files left out", summary.left_out)] {
        if count > 0 {
            lines.count(what, count)?;
        }
    }
    lines.end()
}
