//! The library that reads workbooks, sheet by sheet and cell by cell.

use super::beside::{Beside, OfSheets};
use super::binary;
use super::check::{Checked, Kind};
use super::dates::Date;
use super::merged::Range;
use super::records;
use super::table::Cell;
use crate::bank::source::Again;
use crate::bank::write::xlsx::spelt;
use crate::limits::Limits;
use crate::qti::Bytes;
use calamine::{CellErrorType, Data, DataRef, Dimensions, ExcelDateTime, Ods, Reader, SheetType, SheetVisible, Xlsx};
use std::borrow::Cow;
use std::fmt::Display;
use std::io::BufReader;

type File = BufReader<Box<dyn Bytes>>;

/// What else is wanted of a workbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Want {
    /// The next cell.
    More,
    /// The next sheet.
    NextSheet,
    /// Nothing.
    Nothing,
}

/// Takes the sheets of a workbook.
pub(super) trait Book {
    /// Takes the cells of one sheet.
    type Sheet<'b>: Sheet
    where
        Self: 'b;

    /// Hears of a hidden sheet, before any is read.
    fn hidden(&mut self, sheet: &str);

    /// Begins a sheet.
    fn sheet(&mut self, name: &str, beside: Beside) -> Self::Sheet<'_>;
}

/// Takes the cells of a sheet, in the order of its rows.
pub(super) trait Sheet {
    /// Takes a cell, by its row and column from 0.
    fn cell(&mut self, place: (u32, u32), cell: Cell) -> Result<Want, String>;

    /// Ends the sheet; says whether another is wanted.
    fn end(self) -> Result<bool, String>;
}

/// Reads a workbook. An error is a sentence about the workbook.
pub(super) fn read(checked: Checked, limits: &Limits, mut to: impl Book) -> Result<(), String> {
    let Checked { kind, again, beside } = checked;
    match kind {
        Kind::Xlsb => binary::read(again, limits, &mut to),
        Kind::Xlsx => xlsx(open(&again)?, beside, &mut to),
        Kind::Xls => records::read(&again, limits, &mut to),
        Kind::Ods => whole::<Ods<File>>(open(&again)?, beside, &mut to),
    }
}

fn open<B: Reader<File>>(again: &Again) -> Result<B, String>
where
    B::Error: Display,
{
    let file = BufReader::new(again().map_err(|error| format!("it cannot be read: {error}"))?);
    B::new(file).map_err(|error| format!("the workbook cannot be read: {error}"))
}

fn ranges(merged: &[Dimensions]) -> Vec<Range> {
    merged.iter().map(|own| Range { first: own.start, last: own.end }).collect()
}

/// The sheets of cells with their names; hidden ones are told.
fn sheets<B: Reader<File>>(book: &B, to: &mut impl Book) -> Vec<String> {
    let mut names = Vec::new();
    for sheet in book.sheets_metadata() {
        if sheet.typ != SheetType::WorkSheet {
            continue;
        }
        if sheet.visible != SheetVisible::Visible {
            to.hidden(&sheet.name);
        }
        names.push(sheet.name.clone());
    }
    names
}

fn broken(sheet: &str, error: &dyn Display) -> String {
    format!("the sheet '{sheet}' cannot be read to its end: {error}")
}

fn xlsx(mut book: Xlsx<File>, mut of_sheets: OfSheets, to: &mut impl Book) -> Result<(), String> {
    for sheet in sheets(&book, to) {
        let merged = book.merge_cells_by_sheet_name(&sheet).map_err(|error| broken(&sheet, &error))?;
        let mut reader = book.worksheet_cells_reader(&sheet).map_err(|error| broken(&sheet, &error))?;
        let next = || {
            let cell = reader.next_cell().map_err(|error| broken(&sheet, &error))?;
            Ok(cell.map(|cell| (cell.get_position(), Cell::of_ref(cell.get_value()))))
        };
        let mut beside = of_sheets.remove(&sheet).unwrap_or_default();
        beside.merged = ranges(&merged);
        if !one_by_one(to.sheet(&sheet, beside), next)? {
            return Ok(());
        }
    }
    Ok(())
}

/// A sheet whose cells come one by one; whether anybody still wants more.
fn one_by_one(
    mut sheet: impl Sheet,
    mut next: impl FnMut() -> Result<Option<((u32, u32), Cell)>, String>,
) -> Result<bool, String> {
    while let Some((place, cell)) = next()? {
        match sheet.cell(place, cell)? {
            Want::More => {}
            Want::NextSheet => break,
            Want::Nothing => return Ok(false),
        }
    }
    sheet.end()
}

/// A workbook whose sheets the library reads as wholes.
fn whole<B: Reader<File>>(mut book: B, mut of_sheets: OfSheets, to: &mut impl Book) -> Result<(), String>
where
    B::Error: Display,
{
    for sheet in sheets(&book, to) {
        let range = book.worksheet_range(&sheet).map_err(|error| broken(&sheet, &error))?;
        let (top, left) = range.start().unwrap_or_default();
        let mut cells = range.rows().enumerate().flat_map(|(row, cells)| {
            let place = move |column: usize| (top + row as u32, left + column as u32);
            cells.iter().enumerate().map(move |(column, value)| (place(column), Cell::of(value)))
        });
        let beside = of_sheets.remove(&sheet).unwrap_or_default();
        if !one_by_one(to.sheet(&sheet, beside), || Ok(cells.next()))? {
            return Ok(());
        }
    }
    Ok(())
}

impl Cell {
    fn of(data: &Data) -> Self {
        match data {
            Data::Empty => Self::Empty,
            Data::String(text) => Self::text(text),
            Data::Int(number) => Self::Text(number.to_string()),
            Data::Float(number) => Self::Text(as_stored(*number)),
            Data::Bool(yes) => Self::Text(if *yes { "TRUE" } else { "FALSE" }.to_owned()),
            Data::DateTime(date) => Self::date(date),
            Data::DateTimeIso(text) => Self::iso(text),
            Data::DurationIso(text) => Self::Text(text.clone()),
            Data::Error(error) => Self::error(error),
        }
    }

    fn of_ref(data: &DataRef<'_>) -> Self {
        match data {
            DataRef::Empty => Self::Empty,
            DataRef::String(text) => Self::text(&as_meant(text)),
            DataRef::SharedString(text) => Self::text(&as_meant(text)),
            DataRef::Int(number) => Self::Text(number.to_string()),
            DataRef::Float(number) => Self::Text(as_stored(*number)),
            DataRef::Bool(yes) => Self::Text(if *yes { "TRUE" } else { "FALSE" }.to_owned()),
            DataRef::DateTime(date) => Self::date(date),
            DataRef::DateTimeIso(text) => Self::iso(text),
            DataRef::DurationIso(text) => Self::Text(text.clone()),
            DataRef::Error(error) => Self::error(error),
        }
    }

    pub(super) fn text(text: &str) -> Self {
        match text {
            "" => Self::Empty,
            // Where the library gives errors as texts.
            "#N/A" | "#DIV/0!" | "#VALUE!" | "#REF!" | "#NAME?" | "#NUM!" | "#NULL!" => Self::Error(text.to_owned()),
            _ => Self::Text(text.to_owned()),
        }
    }

    fn date(date: &ExcelDateTime) -> Self {
        let (year, month, day, ..) = date.to_ymd_hms_milli();
        // A time of the day, or a length of time, is no date.
        if date.is_duration() || date.as_f64() < 1.0 {
            return Self::Text(as_stored(date.as_f64()));
        }
        Self::Date(Date::new((year, month, day)))
    }

    fn iso(text: &str) -> Self {
        Date::of_iso(text).map_or_else(|| Self::Text(text.to_owned()), Self::Date)
    }

    fn error(error: &CellErrorType) -> Self {
        Self::Error(error.to_string())
    }
}

/// A text of an `.xlsx` with its characters that are spelt out: `_x000D_` is the end of a line.
fn as_meant(text: &str) -> Cow<'_, str> {
    if !text.contains("_x") {
        return text.into();
    }
    let (mut out, mut rest) = (String::with_capacity(text.len()), text);
    while let Some(at) = rest.find("_x") {
        let (before, behind) = rest.split_at(at);
        out.push_str(before);
        let own = spelt(behind);
        out.push(own.unwrap_or('_'));
        rest = behind.get(if own.is_some() { 7 } else { 1 }..).unwrap_or_default();
    }
    out.push_str(rest);
    out.into()
}

/// A number as it is stored: `7`, not `7.0`.
fn as_stored(number: f64) -> String {
    format!("{number}")
}
