//! `audit.csv`: one row a finding.

use super::table::Table;
use super::{COLUMNS, row};
use crate::audit::{Audited, Reporter, Summary};
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

/// Writes `drawings.csv`: which drawing is of which item.
pub struct Drawings {
    table: Table,
}

impl Drawings {
    /// Begins the list in a folder.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(folder: &Path) -> io::Result<Self> {
        let columns = ["file", "line", "item", "step", "drawing"];
        Ok(Self { table: Table::create(&folder.join("drawings.csv"), &columns)? })
    }

    /// Adds a drawing.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn row(&mut self, file: &str, line: u32, item: &str, step: &str, drawing: &str) -> io::Result<()> {
        self.table.row(&[file, &line.to_string(), item, step, drawing])
    }

    /// Makes the list whole.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn finish(&mut self) -> io::Result<()> {
        self.table.finish()
    }
}
