//! `audit.csv`: one row a finding.

use super::file::WholeFile;
use super::{COLUMNS, row};
use crate::audit::{Audited, Reporter, Summary};
use std::borrow::Cow;
use std::io;
use std::path::Path;

/// Writes `audit.csv`.
pub struct CsvReport {
    writer: csv::Writer<WholeFile>,
}

impl CsvReport {
    /// Begins the report in a folder.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(folder: &Path) -> io::Result<Self> {
        let mut writer = csv::WriterBuilder::new().from_writer(WholeFile::create(&folder.join("audit.csv"))?);
        writer.write_record(COLUMNS)?;
        Ok(Self { writer })
    }
}

impl Reporter for CsvReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        for finding in &item.findings {
            write_row(&mut self.writer, &row(item, finding))?;
        }
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> io::Result<()> {
        self.writer.flush()?;
        // The csv writer keeps its inner writer: it is finished in place.
        let done = csv::WriterBuilder::new().from_writer(WholeFile::closed());
        std::mem::replace(&mut self.writer, done).into_inner().map_err(csv::IntoInnerError::into_error)?.finish()
    }
}

/// Writes one row of [`harmless`] cells.
pub(super) fn write_row<W: io::Write>(writer: &mut csv::Writer<W>, cells: &[impl AsRef<str>]) -> csv::Result<()> {
    for cell in cells {
        writer.write_field(&*harmless(cell.as_ref()))?;
    }
    writer.write_record(None::<&[u8]>)
}

/// A cell that a spreadsheet does not take for a formula.
///
/// A cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return gets an apostrophe before it, as spreadsheets
/// themselves mark text; one that begins with apostrophes before such a character gets one more, so that taking one
/// apostrophe away always gives the cell back. SMILES begin with a letter or a bracket and are never touched.
#[must_use]
pub fn harmless(cell: &str) -> Cow<'_, str> {
    let risky = cell.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r']);
    if risky { format!("'{cell}").into() } else { cell.into() }
}

/// Takes back what [`harmless`] did to a cell.
#[must_use]
pub fn as_written(cell: &str) -> String {
    match cell.strip_prefix('\'') {
        Some(rest) if harmless(rest) == cell => rest.to_owned(),
        _ => cell.to_owned(),
    }
}
