//! The library that reads workbooks, sheet by sheet and cell by cell.

use super::check::Kind;
use super::dates::Date;
use super::merged::{Merged, Range};
use super::table::{Cell, Table};
use super::{Given, send};
use crate::bank::source::{Again, Settings};
use crate::qti::Bytes;
use calamine::{
    CellErrorType, Data, DataRef, Dimensions, ExcelDateTime, Ods, Reader, SheetType, SheetVisible, Xls, Xlsb, Xlsx,
};
use std::fmt::Display;
use std::io::BufReader;
use std::sync::Arc;
use std::sync::mpsc::SyncSender;

type File = BufReader<Box<dyn Bytes>>;

/// Reads a workbook and sends what is in it. An error is a sentence about the workbook.
pub(super) fn read(
    kind: Kind,
    again: &Again,
    name: &str,
    settings: &Arc<Settings>,
    sender: &SyncSender<Given>,
) -> Result<(), String> {
    let file = BufReader::new(again().map_err(|error| format!("it cannot be read: {error}"))?);
    let to = To { name, settings, sender };
    match kind {
        Kind::Xlsx => xlsx(open(file)?, &to),
        Kind::Xlsb => xlsb(open(file)?, &to),
        Kind::Xls => {
            let book: Xls<File> = open(file)?;
            let merged = |book: &Xls<File>, sheet: &str| book.merge_cells_by_sheet_name(sheet).unwrap_or_default();
            whole(book, merged, &to)
        }
        Kind::Ods => whole::<Ods<File>>(open(file)?, |_, _| Vec::new(), &to),
    }
}

/// Where sheets go.
struct To<'a> {
    name: &'a str,
    settings: &'a Arc<Settings>,
    sender: &'a SyncSender<Given>,
}

fn open<B: Reader<File>>(file: File) -> Result<B, String>
where
    B::Error: Display,
{
    B::new(file).map_err(|error| format!("the workbook cannot be read: {error}"))
}

impl To<'_> {
    /// Begins a sheet.
    fn table(&self, sheet: &str, merged: &[Dimensions]) -> Table<'_> {
        let ranges = merged.iter().map(|own| Range { first: own.start, last: own.end }).collect();
        Table::new(format!("{}#{sheet}", self.name), sheet, self.settings, self.sender, Merged::new(ranges))
    }
}

/// The sheets of cells with their names; hidden ones are told.
fn sheets<B: Reader<File>>(book: &B, sender: &SyncSender<Given>) -> Vec<String> {
    let mut names = Vec::new();
    for sheet in book.sheets_metadata() {
        if sheet.typ != SheetType::WorkSheet {
            continue;
        }
        if sheet.visible != SheetVisible::Visible {
            send(sender, Given::Note(format!("the sheet '{}' is hidden; it is read", sheet.name)));
        }
        names.push(sheet.name.clone());
    }
    names
}

fn broken(sheet: &str, error: &dyn Display) -> String {
    format!("the sheet '{sheet}' cannot be read to its end: {error}")
}

fn xlsx(mut book: Xlsx<File>, to: &To<'_>) -> Result<(), String> {
    for sheet in sheets(&book, to.sender) {
        let merged = book.merge_cells_by_sheet_name(&sheet).map_err(|error| broken(&sheet, &error))?;
        let mut reader = book.worksheet_cells_reader(&sheet).map_err(|error| broken(&sheet, &error))?;
        let next = || {
            let cell = reader.next_cell().map_err(|error| broken(&sheet, &error))?;
            Ok(cell.map(|cell| (cell.get_position(), Cell::of_ref(cell.get_value()))))
        };
        if !one_by_one(to.table(&sheet, &merged), next)? {
            return Ok(());
        }
    }
    Ok(())
}

fn xlsb(mut book: Xlsb<File>, to: &To<'_>) -> Result<(), String> {
    for sheet in sheets(&book, to.sender) {
        let mut reader = book.worksheet_cells_reader(&sheet).map_err(|error| broken(&sheet, &error))?;
        let next = || {
            let cell = reader.next_cell().map_err(|error| broken(&sheet, &error))?;
            Ok(cell.map(|cell| (cell.get_position(), Cell::of_ref(cell.get_value()))))
        };
        if !one_by_one(to.table(&sheet, &[]), next)? {
            return Ok(());
        }
    }
    Ok(())
}

/// A sheet whose cells come one by one; whether anybody still wants more.
fn one_by_one(
    mut table: Table<'_>,
    mut next: impl FnMut() -> Result<Option<((u32, u32), Cell)>, String>,
) -> Result<bool, String> {
    while let Some((place, cell)) = next()? {
        if !table.cell(place, cell)? {
            return Ok(false);
        }
    }
    table.end()
}

/// A workbook whose sheets the library reads as wholes.
fn whole<B: Reader<File>>(mut book: B, merged: impl Fn(&B, &str) -> Vec<Dimensions>, to: &To<'_>) -> Result<(), String>
where
    B::Error: Display,
{
    for sheet in sheets(&book, to.sender) {
        let ranges = merged(&book, &sheet);
        let range = book.worksheet_range(&sheet).map_err(|error| broken(&sheet, &error))?;
        let mut table = to.table(&sheet, &ranges);
        let (top, left) = range.start().unwrap_or_default();
        for (row, cells) in range.rows().enumerate() {
            for (column, value) in cells.iter().enumerate() {
                if !table.cell((top + row as u32, left + column as u32), Cell::of(value))? {
                    return Ok(());
                }
            }
        }
        if !table.end()? {
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
            DataRef::String(text) => Self::text(text),
            DataRef::SharedString(text) => Self::text(text),
            DataRef::Int(number) => Self::Text(number.to_string()),
            DataRef::Float(number) => Self::Text(as_stored(*number)),
            DataRef::Bool(yes) => Self::Text(if *yes { "TRUE" } else { "FALSE" }.to_owned()),
            DataRef::DateTime(date) => Self::date(date),
            DataRef::DateTimeIso(text) => Self::iso(text),
            DataRef::DurationIso(text) => Self::Text(text.clone()),
            DataRef::Error(error) => Self::error(error),
        }
    }

    fn text(text: &str) -> Self {
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

/// A number as it is stored: `7`, not `7.0`.
fn as_stored(number: f64) -> String {
    format!("{number}")
}
