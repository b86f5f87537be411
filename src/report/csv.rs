//! `audit.csv`: one row a finding.

use super::table::Table;
use super::{COLUMNS, row};
use crate::audit::{Audited, Reporter, Summary};
use std::borrow::Cow;
use std::io;
use std::path::Path;

/// Writes `audit.csv`.
pub struct CsvReport {
    table: Table,
}

impl CsvReport {
    /// Begins the report in a folder.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(folder: &Path) -> io::Result<Self> {
        Ok(Self { table: Table::create(&folder.join("audit.csv"), &COLUMNS)? })
    }
}

impl Reporter for CsvReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        for finding in &item.findings {
            self.table.row(&row(item, finding))?;
        }
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> io::Result<()> {
        self.table.finish()
    }
}

/// A cell that a spreadsheet does not take for a formula.
///
/// A cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return gets an apostrophe before it, as spreadsheets
/// themselves mark text; one that begins with apostrophes before such a character gets one more, so that taking one
/// apostrophe away always gives the cell back. SMILES begin with a letter or a bracket and are never touched.
#[must_use]
pub fn harmless(cell: &str) -> Cow<'_, str> {
    let is_risky = |cell: &str| cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
    // Nearly every cell shows by its first character that it is none.
    let may_be = cell.as_bytes().first().is_some_and(|first| !first.is_ascii_alphanumeric() && *first != b'[');
    if may_be && is_risky(cell.trim_start_matches('\'')) { format!("'{cell}").into() } else { cell.into() }
}

/// Takes back what [`harmless`] did to a cell.
#[must_use]
pub fn as_written(cell: &str) -> String {
    match cell.strip_prefix('\'') {
        Some(rest) if harmless(rest) == cell => rest.to_owned(),
        _ => cell.to_owned(),
    }
}
