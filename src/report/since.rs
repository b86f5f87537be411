//! What has changed since an earlier audit: `changes.csv`, and how many findings are new, gone and unchanged.

use super::csv::harmless;
use super::file::WholeFile;
use crate::audit::{Audited, Reporter, Summary};
use serde::Deserialize;
use serde::de::{Deserializer, IgnoredAny, MapAccess, Visitor};
use std::collections::HashMap;
use std::fmt;
use std::fs::File;
use std::io::{self, BufReader};
use std::path::Path;

/// The columns of `changes.csv`.
pub const COLUMNS: [&str; 7] = ["change", "file", "line", "item", "step", "finding", "message"];

/// One finding of the earlier audit.
#[derive(Debug, Clone, Deserialize)]
struct Earlier {
    #[serde(default)]
    file: String,
    #[serde(default)]
    line: serde_json::Value,
    item: String,
    #[serde(default)]
    step: serde_json::Value,
    finding: String,
    #[serde(default)]
    message: String,
}

/// What makes two findings the same one: the item, the step and the finding.
type Key = (String, String, String);

impl Earlier {
    fn key(&self) -> Key {
        let step = match &self.step {
            serde_json::Value::Number(step) => step.to_string(),
            _ => String::new(),
        };
        (self.item.clone(), step, self.finding.clone())
    }
}

/// Compares an audit with an earlier one, and writes `changes.csv`.
pub struct SinceReport {
    writer: csv::Writer<WholeFile>,
    /// Findings of the earlier audit that were not met yet, the last ones first.
    earlier: HashMap<Key, Vec<Earlier>>,
    /// The keys in the order of the earlier audit.
    order: Vec<Key>,
    new: u64,
    gone: u64,
    unchanged: u64,
}

impl SinceReport {
    /// Reads the earlier `audit.json` and begins `changes.csv` in a folder.
    ///
    /// # Errors
    /// One cannot be read, or the other cannot be created.
    pub fn create(folder: &Path, earlier: &Path) -> io::Result<Self> {
        let mut deserializer = serde_json::Deserializer::from_reader(BufReader::new(File::open(earlier)?));
        let Findings(mut findings) = Findings::deserialize(&mut deserializer)?;
        let order: Vec<Key> = findings.iter().map(Earlier::key).collect();
        let mut by_key: HashMap<Key, Vec<Earlier>> = HashMap::new();
        while let Some(finding) = findings.pop() {
            by_key.entry(finding.key()).or_default().push(finding);
        }
        let mut writer = csv::WriterBuilder::new().from_writer(WholeFile::create(&folder.join("changes.csv"))?);
        writer.write_record(COLUMNS)?;
        Ok(Self { writer, earlier: by_key, order, new: 0, gone: 0, unchanged: 0 })
    }

    /// How many findings are new, gone and unchanged.
    #[must_use]
    pub fn counts(&self) -> (u64, u64, u64) {
        (self.new, self.gone, self.unchanged)
    }
}

impl Reporter for SinceReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        for finding in &item.findings {
            let step = if finding.step == 0 { String::new() } else { finding.step.to_string() };
            let key = (item.id.clone(), step, finding.name.to_string());
            if self.earlier.get_mut(&key).and_then(Vec::pop).is_some() {
                self.unchanged += 1;
                continue;
            }
            self.new += 1;
            let (line, (_, step, name)) = (item.line.to_string(), &key);
            let row = ["new", &item.file, &line, &item.id, step, name, &finding.message];
            self.writer.write_record(row.map(harmless))?;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        if summary.interrupted {
            // Of what was not audited any more nothing is known.
            self.order.clear();
        }
        for key in std::mem::take(&mut self.order) {
            let Some(old) = self.earlier.get_mut(&key).and_then(Vec::pop) else { continue };
            self.gone += 1;
            let line = if old.line.is_null() { String::new() } else { old.line.to_string() };
            let row = ["gone", &old.file, &line, &key.0, &key.1, &key.2, &old.message];
            self.writer.write_record(row.map(harmless))?;
        }
        self.writer.flush()?;
        // The csv writer keeps its inner writer: it is finished in place.
        let done = csv::WriterBuilder::new().from_writer(WholeFile::closed());
        std::mem::replace(&mut self.writer, done).into_inner().map_err(csv::IntoInnerError::into_error)?.finish()
    }
}

/// The findings of an `audit.json`; whatever else it has is passed over.
struct Findings(Vec<Earlier>);

impl<'de> Deserialize<'de> for Findings {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Findings;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the audit.json of an audit")
            }

            fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Findings, M::Error> {
                let mut found = None;
                while let Some(key) = map.next_key::<String>()? {
                    if key == "findings" {
                        found = Some(map.next_value::<Vec<Earlier>>()?);
                    } else {
                        map.next_value::<IgnoredAny>()?;
                    }
                }
                found.map(Findings).ok_or_else(|| serde::de::Error::missing_field("findings"))
            }
        }
        deserializer.deserialize_map(Collect)
    }
}
