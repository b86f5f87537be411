//! Reading the frozen answers of others (`corpus/witness`, described in its README), auditing them, collecting disagreements.

use serde::Deserialize;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::process::Command;

/// A frozen file.
pub(super) fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/witness").join(name)
}

/// Reference data that lie beside a checkout in some places; checks pass without them.
pub(super) fn beside(name: &str) -> Option<PathBuf> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/reference").join(name);
    path.exists().then_some(path)
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

/// What one audit says: the names of errors and of undecided comparisons by item, and how many items were read.
pub(super) struct Audit {
    found: HashMap<String, HashSet<String>>,
    pub(super) items: u64,
}

impl Audit {
    /// Errors of an item, and `undecided`. What a bank says as a whole is passed over: small questions of one pattern meet again.
    pub(super) fn of(&self, item: &str) -> Vec<&str> {
        const BANK_WIDE: &[&str] = &["repeated-question", "conflicting-answers", "shifted-answers", "shifted-labels"];
        let found = self.found.get(item).into_iter().flatten().map(String::as_str);
        found.filter(|name| !BANK_WIDE.contains(name)).collect()
    }
}

#[derive(Deserialize)]
struct Reported {
    item: String,
    severity: String,
    finding: String,
}

/// Audits a bank as a user does.
pub(super) fn audit(bank: &Path, name: &str) -> Audit {
    let out = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    let status = Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .args(["audit", "--quiet", "--fail-on", "never", "--write", "csv,json", "--out"])
        .args([&out, bank])
        .status()
        .expect("the program runs");
    assert!(status.success(), "{name}: {status}");
    let mut found: HashMap<String, HashSet<String>> = HashMap::new();
    for row in csv::Reader::from_path(out.join("audit.csv")).expect("a report").deserialize() {
        let row: Reported = row.expect("a row of the report");
        if row.severity == "error" || row.finding == "undecided" {
            found.entry(row.item).or_default().insert(row.finding);
        }
    }
    let json = std::fs::read_to_string(out.join("audit.json")).expect("a report");
    let report: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    Audit { found, items: report["totals"]["items"].as_u64().expect("a total") }
}
