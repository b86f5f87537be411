//! Runs the program's audit on a file and reads what it wrote.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// One row of `audit.csv`, as far as the tests look at it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    pub item: String,
    pub step: String,
    pub finding: String,
}

/// What an audit gave.
#[derive(Debug)]
pub struct Audit {
    /// The exit status; `None` where a signal ended the program.
    pub status: Option<i32>,
    pub stderr: String,
    /// `audit.csv` as written; empty where there is none.
    pub csv: String,
    pub rows: Vec<Row>,
    /// The numbers under `totals` in `audit.json`; empty where there is none.
    pub totals: BTreeMap<String, u64>,
}

impl Audit {
    /// A number of `totals`; 0 where it is absent.
    pub fn total(&self, name: &str) -> u64 {
        self.totals.get(name).copied().unwrap_or(0)
    }

    /// Whether a finding of this name was raised.
    pub fn raises(&self, finding: &str) -> bool {
        self.rows.iter().any(|row| row.finding == finding)
    }

    /// What no audit may do, whatever its input: end by a signal, panic, lose count of its items.
    pub fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        if !matches!(self.status, Some(0..=2)) {
            faults.push(format!("ended with {:?}: {}", self.status, self.stderr));
        }
        if self.stderr.contains("panicked") {
            faults.push(format!("panicked: {}", self.stderr));
        }
        let parts = ["sound", "faulty", "undecided", "unreadable"].map(|part| self.total(part));
        if self.total("items") != parts.iter().sum::<u64>() {
            faults.push(format!("items do not add up: {:?}", self.totals));
        }
        faults
    }
}

/// Runs the program in a folder.
pub fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("the program starts")
}

/// The repository's corpus.
pub fn corpus() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus")
}

/// An empty folder for one test's files; `name` must differ between tests.
pub fn scratch(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("the scratch folder can be made");
    folder
}

/// Audits `path` with `folder` as the working directory, so that reports name files as the corpus does.
pub fn audit(folder: &Path, path: &str, out: &Path) -> Audit {
    audit_writing(folder, path, out, "csv,json")
}

/// The same with these reports.
pub fn audit_writing(folder: &Path, path: &str, out: &Path, reports: &str) -> Audit {
    let _ = std::fs::remove_dir_all(out);
    let output = Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .current_dir(folder)
        .args(["audit", path, "--write", reports, "--quiet", "--out"])
        .arg(out)
        .output()
        .expect("the program starts");
    read(&output, out)
}

fn read(output: &Output, out: &Path) -> Audit {
    let text = |name: &str| std::fs::read_to_string(out.join(name)).unwrap_or_default();
    let csv = text("audit.csv");
    let json: serde_json::Value = serde_json::from_str(&text("audit.json")).unwrap_or_default();
    let numbers = json["totals"].as_object().into_iter().flatten();
    Audit {
        status: output.status.code(),
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        rows: rows(&csv),
        csv,
        totals: numbers.filter_map(|(name, number)| Some((name.clone(), number.as_u64()?))).collect(),
    }
}

/// The rows of an `audit.csv`, by the names in its header.
pub fn rows(csv: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().cloned().unwrap_or_default();
    let mut rows = Vec::new();
    for record in reader.records().map_while(Result::ok) {
        let cell = |name: &str| {
            let column = header.iter().position(|own| own == name);
            column.and_then(|at| record.get(at)).unwrap_or_default().to_owned()
        };
        rows.push(Row { item: cell("item"), step: cell("step"), finding: cell("finding") });
    }
    rows
}
