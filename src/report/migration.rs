//! `compare.csv` and `compare.json`: what became of the items of a bank that was moved.

use super::file::WholeFile;
use super::table::Table;
use crate::migration::detail::Change;
use serde_json::{Map, Value};
use std::io::{self, Write as _};
use std::path::Path;

/// The columns of `compare.csv`, and the keys of an item in `compare.json`.
pub const COLUMNS: [&str; 11] = [
    "old_file", "old_line", "old_item", "new_file", "new_line", "new_item", "verdict", "field", "old", "new", "message",
];

/// Writes both files.
pub struct MigrationReport {
    table: Table,
    json: WholeFile,
    any: bool,
}

impl MigrationReport {
    /// Begins the files in a folder; the totals come first.
    ///
    /// # Errors
    /// They cannot be created.
    pub fn create(folder: &Path, totals: &[(&'static str, u64)]) -> io::Result<Self> {
        let table = Table::create(&folder.join("compare.csv"), &COLUMNS)?;
        let mut json = WholeFile::create(&folder.join("compare.json"))?;
        let totals: Map<String, Value> =
            totals.iter().map(|(name, count)| ((*name).to_owned(), (*count).into())).collect();
        write!(json, "{{\"tool\":{{\"name\":\"keyassay\",\"version\":\"{}\"}},", env!("CARGO_PKG_VERSION"))?;
        write!(json, "\"totals\":{},\"items\":[", Value::Object(totals))?;
        Ok(Self { table, json, any: false })
    }

    /// Writes one row: file, line and id of both items, and what became of them.
    ///
    /// # Errors
    /// The files cannot be written.
    pub fn row(&mut self, old: [String; 3], new: [String; 3], verdict: &str, change: Change) -> io::Result<()> {
        let Change { field, old: was, new: is, message } = change;
        let cells: Vec<String> =
            old.into_iter().chain(new).chain([verdict.to_owned(), field, was, is, message]).collect();
        self.table.row(&cells)?;
        let row: Map<String, Value> = COLUMNS
            .iter()
            .zip(&cells)
            .map(|(column, cell)| {
                let number = if column.ends_with("_line") { cell.parse::<u32>().ok() } else { None };
                ((*column).to_owned(), number.map_or_else(|| cell.as_str().into(), Into::into))
            })
            .collect();
        write!(self.json, "{}\n{}", if self.any { "," } else { "" }, Value::Object(row))?;
        self.any = true;
        Ok(())
    }

    /// Makes the files whole.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn finish(&mut self) -> io::Result<()> {
        self.table.finish()?;
        self.json.write_all(b"\n]}\n")?;
        self.json.finish()
    }
}
