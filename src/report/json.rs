//! `audit.json`: totals and findings.

use super::digest::{self, Content};
use super::file::WholeFile;
use super::terminal::code;
use super::{COLUMNS, row};
use crate::audit::{Audited, Normalised, Reporter, Summary, Totals};
use crate::bank::rows::Unasked;
use crate::findings::Finding;
use crate::known::Entry;
use crate::source::Mark;
use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::{Value, json};
use std::collections::HashMap;
use std::fs::File;
use std::io::{self, BufWriter, Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

/// Writes `audit.json`. Findings wait in a temporary file, because the totals come before them.
pub struct JsonReport {
    path: PathBuf,
    findings: BufWriter<File>,
    waiting: PathBuf,
    any: bool,
    content: Content,
}

impl JsonReport {
    /// Begins the report in a folder.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(folder: &Path) -> io::Result<Self> {
        let waiting = folder.join(format!("audit.json.findings.{}.tmp", std::process::id()));
        let file = File::options().read(true).write(true).create(true).truncate(true).open(&waiting)?;
        Ok(Self {
            path: folder.join("audit.json"),
            findings: BufWriter::new(file),
            waiting,
            any: false,
            content: Content::default(),
        })
    }
}

/// The totals as `audit.json` states them.
#[must_use]
pub fn totals(totals: &Totals) -> Value {
    let mut value = json!({
        "items": totals.items,
        "sound": totals.sound,
        "faulty": totals.faulty,
        "undecided": totals.undecided,
        "unreadable": totals.unreadable,
        "findings": totals.findings,
    });
    // Only packages of many subjects have items that are not ours.
    if totals.not_ours > 0 {
        value["not-ours"] = totals.not_ours.into();
    }
    if totals.unasked > 0 {
        value["without-question"] = totals.unasked.into();
    }
    value
}

/// What was read as something else, as `audit.json` states it.
fn normalised(summary: &Summary) -> Value {
    let one = |(found, own): (&char, &Normalised)| {
        let (file, line) = (own.file.as_ref(), own.line);
        json!({"character": code(*found), "read_as": own.read_as, "count": own.count, "file": file, "line": line})
    };
    summary.normalised.iter().map(one).collect()
}

/// Each file: its counts, and its length and mark, which tell whether it is the file that was audited.
fn files(summary: &Summary) -> Vec<Value> {
    let marks: HashMap<&str, Mark> = summary.marks.iter().map(|(name, mark)| (name.as_str(), *mark)).collect();
    let one = |(name, counts): &(String, Totals)| {
        let mut file = json!({
            "file": name,
            "items": counts.items,
            "sound": counts.sound,
            "faulty": counts.faulty,
            "undecided": counts.undecided,
            "unreadable": counts.unreadable,
        });
        if let (Some(mark), Some(file)) = (marks.get(name.as_str()), file.as_object_mut()) {
            file.insert("bytes".to_owned(), Value::from(mark.bytes()));
            file.insert("mark".to_owned(), Value::from(mark.to_string()));
        }
        file
    };
    summary.files.iter().map(one).collect()
}

/// Everything that `audit.json` says beside its findings, in the order of the file.
fn others(summary: &Summary) -> Vec<(&'static str, Value)> {
    let mut others = Vec::new();
    let mut add = |key, value| others.push((key, value));
    add("tool", json!({"name": "keyassay", "version": env!("CARGO_PKG_VERSION")}));
    if summary.interrupted {
        add("partial", Value::Bool(true));
    }
    add("totals", totals(&summary.totals));
    add("files", Value::Array(files(summary)));
    if !summary.unasked.is_empty() {
        let one = |(file, rows): &(String, Unasked)| json!({"file": file, "rows": rows.count, "lines": rows.lines()});
        add("without-question", summary.unasked.iter().map(one).collect());
    }
    if !summary.normalised.is_empty() {
        add("normalised", normalised(summary));
    }
    if !(summary.totals.known.is_empty() && summary.expired.is_empty() && summary.gone.is_empty()) {
        add("known", known(summary));
    }
    others
}

/// Writes a member; an array of objects has one of them a line.
fn member(out: &mut WholeFile, key: &str, value: &Value) -> io::Result<()> {
    write!(out, "\"{key}\": ")?;
    match value {
        Value::Array(list) if key == "files" => {
            out.write_all(b"[")?;
            for (at, own) in list.iter().enumerate() {
                out.write_all(if at == 0 { b"\n  " } else { b",\n  " })?;
                serde_json::to_writer(&mut *out, own)?;
            }
            out.write_all(if list.is_empty() { b"],\n" } else { b"\n],\n" })
        }
        other => writeln!(out, "{other},"),
    }
}

/// What became of the list of known findings, as `audit.json` states it.
fn known(summary: &Summary) -> Value {
    let rows = |rows: &[Entry]| -> Value {
        let one = |row: &Entry| {
            let (finding, until) = (row.finding.entry().name, &row.accepted.until);
            json!({"item": row.item, "finding": finding, "until": until, "line": row.line})
        };
        rows.iter().map(one).collect()
    };
    json!({"findings": summary.totals.known, "expired": rows(&summary.expired), "gone": rows(&summary.gone)})
}

/// One finding as `audit.json` states it: the columns of a finding by their names in alphabetical order.
struct Line<'a> {
    item: &'a Audited,
    finding: &'a Finding,
}

/// The key of the reason of a finding that is known.
const KNOWN: &str = "known";

/// The keys of a finding in alphabetical order, each with its column, if it is one.
static KEYS: LazyLock<Vec<(&'static str, Option<usize>)>> = LazyLock::new(|| {
    let columns = COLUMNS.into_iter().enumerate().map(|(at, column)| (column, Some(at)));
    let mut keys: Vec<_> = columns.chain([(KNOWN, None)]).collect();
    keys.sort_unstable();
    keys
});

impl Serialize for Line<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self { item, finding } = *self;
        let values = row(item, finding);
        let mut map = serializer.serialize_map(None)?;
        for (key, column) in KEYS.iter() {
            match (*key, column) {
                ("line", _) => map.serialize_entry(key, &item.line)?,
                ("step", _) if finding.step > 0 => map.serialize_entry(key, &finding.step)?,
                (_, Some(at)) => map.serialize_entry(key, values[*at].as_ref())?,
                (_, None) => {
                    if let Some(known) = &finding.known {
                        map.serialize_entry(key, &known.reason)?;
                    }
                }
            }
        }
        map.end()
    }
}

impl Reporter for JsonReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        for finding in &item.findings {
            self.findings.write_all(if self.any { b",\n  " } else { b"\n  " })?;
            self.any = true;
            self.findings.write_all(self.content.finding(&Line { item, finding })?)?;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        let mut file = WholeFile::create(&self.path)?;
        let others = others(summary);
        file.write_all(b"{\n")?;
        for (key, value) in &others {
            member(&mut file, key, value)?;
        }
        file.write_all(b"\"findings\": [")?;
        self.findings.flush()?;
        let waiting = self.findings.get_mut();
        waiting.rewind()?;
        io::copy(waiting, &mut file)?;
        file.write_all(if self.any { b"\n],\n" } else { b"],\n" })?;
        let digest = std::mem::take(&mut self.content)
            .digest(others.into_iter().map(|(key, value)| (key.to_owned(), value)).collect())?;
        write!(file, "\"{}\": \"{digest}\"\n}}\n", digest::KEY)?;
        file.finish()
    }
}

impl Drop for JsonReport {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.waiting);
    }
}
