//! `audit.xlsx`: the workbook in which an editor decides. Sheets: Decisions, Summary, Without a question.
//!
//! Rows go to the disk as they are written, so that memory does not grow with them. All cells are text or numbers: nothing of a bank
//! is ever a formula. The only formulas are links to the cards of the page.

use super::csv::spelt_out;
use super::decisions::{self, COLUMNS, Choice};
use super::file::WholeFile;
use super::html::card_href;
use super::terminal::CAUTION_UNWRAPPED;
use crate::audit::{Audited, Reporter, Summary};
use rust_xlsxwriter::{
    DataValidation, DocProperties, ExcelDateTime, Format, FormatAlign, Formula, Workbook, Worksheet, XlsxError,
};
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
/// Characters in a cell: what spreadsheet programs take.
const CELL: usize = 32_767;
/// The width of each column, in characters.
const WIDTHS: [f64; 17] =
    [16.0, 22.0, 7.0, 6.0, 10.0, 24.0, 60.0, 18.0, 9.0, 36.0, 36.0, 9.0, 11.0, 36.0, 30.0, 7.0, 20.0];

/// The place of a column.
fn column(name: &str) -> u16 {
    COLUMNS.iter().position(|own| *own == name).unwrap_or_default() as u16
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
        let book = Book::begin(folder).map_err(told)?;
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

fn told(error: XlsxError) -> io::Error {
    match error {
        XlsxError::IoError(error) => error,
        other => io::Error::other(other.to_string()),
    }
}

impl Reporter for XlsxReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        self.cards += 1;
        let href = self.page_cards.map(|page_cards| card_href(self.cards, page_cards));
        for decision in decisions::of(item) {
            if self.book.rows >= self.rows_a_book {
                let next = Book::begin(&self.folder).map_err(told)?;
                let full = std::mem::replace(&mut self.book, next);
                full.save(&self.folder.join(book_name(self.books)), None)?;
                self.books += 1;
            }
            self.book.row(&decision.cells(), href.as_deref()).map_err(told)?;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        let last = std::mem::replace(&mut self.book, Book::begin(&self.folder).map_err(told)?);
        last.save(&self.folder.join(book_name(self.books)), Some(summary))
    }
}

/// One workbook while it fills.
struct Book {
    book: Workbook,
    rows: u32,
}

impl Book {
    fn begin(folder: &Path) -> Result<Self, XlsxError> {
        let mut book = Workbook::new();
        // What waits lies where the report will lie: that disk has room for it, and nobody else reads it.
        book.set_tempdir(folder)?;
        // One audit is the same bytes whenever it is written.
        let always = ExcelDateTime::from_ymd(2000, 1, 1)?;
        book.set_properties(
            &DocProperties::new()
                .set_title("Decisions on the findings of an audit")
                .set_comment(CAUTION_UNWRAPPED)
                .set_creation_datetime(&always),
        );
        let sheet = book.add_worksheet_with_constant_memory()?;
        sheet.set_name(DECISIONS)?;
        sheet.set_freeze_panes(1, 1)?;
        for (at, width) in WIDTHS.iter().enumerate() {
            sheet.set_column_width(at as u16, *width)?;
        }
        let heading = heading();
        for (at, name) in COLUMNS.iter().enumerate() {
            sheet.write_string_with_format(0, at as u16, *name, &heading)?;
        }
        Ok(Self { book, rows: 0 })
    }

    fn row(&mut self, cells: &[impl AsRef<str>; 17], href: Option<&str>) -> Result<(), XlsxError> {
        self.rows += 1;
        let row = self.rows;
        let sheet = self.book.worksheet_from_index(0)?;
        let is_whole = ["item", "file", "now", "proposed"].iter().all(|name| {
            let cell = spelt_out(cells[usize::from(column(name))].as_ref());
            cell.encode_utf16().count() <= CELL
        });
        for (at, cell) in cells.iter().enumerate() {
            let (at, cell) = (at as u16, cell.as_ref());
            // A row that does not fit names no field: nothing of it can be applied.
            if !is_whole && (at == column("field") || at == column("check")) {
                continue;
            }
            if at == column("card")
                && let Some(href) = href
            {
                sheet.write_formula(
                    row,
                    at,
                    Formula::new(format!("HYPERLINK(\"{href}\",\"card\")")).set_result("card"),
                )?;
            } else if (at == column("line") || at == column("step"))
                && let Ok(number) = cell.parse::<u32>()
            {
                sheet.write_number(row, at, f64::from(number))?;
            } else if !cell.is_empty() {
                sheet.write_string(row, at, fitting(cell))?;
            }
        }
        Ok(())
    }

    /// Ends the workbook and writes it; the last one has the summary.
    fn save(mut self, path: &Path, summary: Option<&Summary>) -> io::Result<()> {
        self.end_decisions().map_err(told)?;
        if let Some(summary) = summary {
            summary_sheet(self.book.add_worksheet_with_constant_memory().map_err(told)?, summary).map_err(told)?;
            passed_over_sheet(self.book.add_worksheet_with_constant_memory().map_err(told)?, summary).map_err(told)?;
        }
        let mut file = WholeFile::create(path)?;
        self.book.save_to_writer(&mut file).map_err(told)?;
        file.finish()
    }

    fn end_decisions(&mut self) -> Result<(), XlsxError> {
        let last = self.rows;
        let sheet = self.book.worksheet_from_index(0)?;
        sheet.autofilter(0, 0, last, COLUMNS.len() as u16 - 1)?;
        let names = Choice::ALL.map(|(_, name)| name);
        let list = DataValidation::new()
            .allow_list_strings(&names)?
            .set_error_title("Decision")?
            .set_error_message("accept applies the proposal, keep leaves the bank as it is, ask does nothing yet")?;
        let decision = column("decision");
        sheet.add_data_validation(1, decision, last.max(1), decision, &list)?;
        Ok(())
    }
}

fn heading() -> Format {
    Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top)
}

/// Text as a cell takes it: control characters spelt out, and cut where it is too long.
fn fitting(text: &str) -> String {
    let text = spelt_out(text);
    if text.len() <= CELL || text.encode_utf16().count() <= CELL {
        return text.into_owned();
    }
    // Cut well before the limit, which counts UTF-16 units.
    let head: String = text.chars().take(CELL / 2 - 100).collect();
    format!("{head} ... (too long for a cell: the whole stands in audit.csv)")
}

/// Writes rows of text and numbers below each other.
struct Lines<'a> {
    sheet: &'a mut Worksheet,
    row: u32,
}

impl Lines<'_> {
    fn text(&mut self, cells: &[&str], format: &Format) -> Result<(), XlsxError> {
        for (at, cell) in cells.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            self.sheet.write_string_with_format(self.row, at as u16, fitting(cell), format)?;
        }
        self.row += 1;
        Ok(())
    }

    fn count(&mut self, name: &str, count: u64) -> Result<(), XlsxError> {
        self.sheet.write_string(self.row, 0, fitting(name))?;
        self.sheet.write_number(self.row, 1, count as f64)?;
        self.row += 1;
        Ok(())
    }
}

fn summary_sheet(sheet: &mut Worksheet, summary: &Summary) -> Result<(), XlsxError> {
    sheet.set_name(SUMMARY)?;
    for (at, width) in [44.0, 14.0, 40.0].iter().enumerate() {
        sheet.set_column_width(at as u16, *width)?;
    }
    let (bold, plain) = (heading(), Format::new());
    let mut lines = Lines { sheet, row: 0 };
    if summary.interrupted {
        lines.text(&["Interrupted: these are partial results, of the items read so far."], &bold)?;
    }
    let totals = &summary.totals;
    lines.text(&["items", "count"], &bold)?;
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
    lines.text(&[], &plain)?;
    lines.text(&["finding", "count"], &bold)?;
    for (name, count) in &totals.findings {
        lines.count(name, *count)?;
    }
    lines.text(&[], &plain)?;
    // Spreadsheet programs number rows up to 1,048,576: of more files the marks stand in corrections.files.csv.
    lines.text(&MARK_COLUMNS, &bold)?;
    for (name, mark) in summary.marks.iter().take(1_000_000) {
        lines.sheet.write_number(lines.row, 1, mark.bytes() as f64)?;
        lines.sheet.write_string(lines.row, 2, format!("m{mark}"))?;
        lines.text(&[name], &plain)?;
    }
    lines.text(&[], &plain)?;
    lines.text(&[CAUTION_UNWRAPPED], &plain)
}

fn passed_over_sheet(sheet: &mut Worksheet, summary: &Summary) -> Result<(), XlsxError> {
    sheet.set_name(PASSED_OVER)?;
    for (at, width) in [44.0, 10.0, 80.0].iter().enumerate() {
        sheet.set_column_width(at as u16, *width)?;
    }
    let plain = Format::new();
    let mut lines = Lines { sheet, row: 0 };
    lines.text(&["file", "line", "why"], &heading())?;
    for (name, why) in summary.unread.iter().chain(&summary.without_items).take(1_000_000) {
        lines.text(&[name, "", why], &plain)?;
    }
    // The lines are a text: a program would make a day of `1-3`.
    for (name, rows) in summary.unasked.iter().take(1_000_000) {
        let many = if rows.count == 1 { "1 row".to_owned() } else { format!("{} rows", rows.count) };
        lines.text(&[name, &rows.lines(), &format!("{many} without a question")], &plain)?;
    }
    for (what, count) in [("files that are no bank", summary.skipped), ("files left out", summary.left_out)] {
        if count > 0 {
            lines.count(what, count)?;
        }
    }
    Ok(())
}
