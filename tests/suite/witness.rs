//! Reading the frozen answers of others (`corpus/witness`, described in its README) and collecting disagreements.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A frozen file.
pub(super) fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/witness").join(name)
}

/// The text of a frozen file.
pub(super) fn text(name: &str) -> String {
    std::fs::read_to_string(path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// One row of a tab-separated file, by the names of its header.
pub(super) struct Row<'a>(HashMap<&'a str, &'a str>);

impl<'a> Row<'a> {
    /// The cell of a column.
    pub(super) fn get(&self, column: &str) -> &'a str {
        self.0.get(column).copied().unwrap_or_else(|| panic!("no column {column}"))
    }

    /// The numbers of a cell, separated by spaces.
    pub(super) fn numbers(&self, column: &str) -> Vec<i32> {
        self.get(column).split_whitespace().map(|word| word.parse().expect("a number")).collect()
    }
}

/// The rows of a tab-separated text with a header.
pub(super) fn rows(text: &str) -> Vec<Row<'_>> {
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().unwrap_or_default().split('\t').collect();
    lines.map(|line| Row(header.iter().copied().zip(line.split('\t')).collect())).collect()
}

/// Disagreements, asserted once so that all of them are seen.
#[derive(Default)]
pub(super) struct Disagreements {
    cases: usize,
    found: Vec<String>,
}

impl Disagreements {
    /// Counts a case and keeps its disagreement.
    pub(super) fn case(&mut self, disagreement: Option<String>) {
        self.cases += 1;
        self.found.extend(disagreement);
    }

    /// Fails with the first disagreements, or where fewer cases were seen than the file promises.
    pub(super) fn settle(self, least: usize) {
        let shown = self.found.iter().take(40).map(String::as_str).collect::<Vec<_>>().join("\n");
        assert!(self.found.is_empty(), "{} of {} cases differ:\n{shown}", self.found.len(), self.cases);
        assert!(self.cases >= least, "only {} cases, expected {least}", self.cases);
    }
}
