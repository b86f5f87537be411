//! A list of known findings as `keyassay audit --write-known` starts one.

use super::table::Table;
use crate::audit::{Audited, Reporter, Summary};
use crate::findings::{Name, Severity};
use crate::known::COLUMNS;
use rustc_hash::FxHashSet;
use std::io;
use std::path::Path;

/// The reason of findings that nobody has given one for.
pub const REASON: &str = "found by the first audit, to be looked at";

/// The reason of findings that an editor keeps without a note.
const KEPT: &str = "kept by an editor";

/// Writes a list of findings that an editor keeps: item, finding and reason. Gives the rows written.
///
/// # Errors
/// The file cannot be written.
pub fn write_kept<'a>(path: &Path, rows: impl Iterator<Item = [&'a str; 3]>) -> io::Result<usize> {
    let mut table = Table::create(path, &COLUMNS)?;
    let mut written: FxHashSet<(&str, &str)> = FxHashSet::default();
    for [item, finding, reason] in rows {
        if written.insert((item, finding)) {
            table.row(&[item, finding, if reason.is_empty() { KEPT } else { reason }, ""])?;
        }
    }
    table.finish()?;
    Ok(written.len())
}

/// Writes the list: one row for each item and finding.
pub struct KnownReport {
    table: Table,
    threshold: Severity,
    /// What has a row: the list is read only if each has one.
    rows: FxHashSet<(String, Name)>,
    written: u64,
}

impl KnownReport {
    /// Begins a list of what is at or above a severity.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(path: &Path, threshold: Severity) -> io::Result<Self> {
        Ok(Self { table: Table::create(path, &COLUMNS)?, threshold, rows: FxHashSet::default(), written: 0 })
    }

    /// Rows written.
    #[must_use]
    pub fn written(&self) -> u64 {
        self.written
    }
}

impl Reporter for KnownReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        for finding in item.findings.iter().filter(|own| own.severity >= self.threshold || own.known.is_some()) {
            // Items that share an id share the row.
            if !self.rows.insert((item.id.clone(), finding.name)) {
                continue;
            }
            let (reason, until) = match &finding.known {
                Some(own) => (own.reason.as_str(), own.until.as_str()),
                None => (REASON, ""),
            };
            self.table.row(&[item.id.as_str(), finding.name.entry().name, reason, until])?;
            self.written += 1;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        if summary.interrupted {
            // Half a list is none.
            self.written = 0;
            return Ok(());
        }
        self.table.finish()
    }
}
