//! What has changed since an earlier audit: `changes.csv`, and how many findings are new, gone and unchanged.

use super::digest::{self, Content};
use super::table::Table;
use crate::audit::{Audited, Reporter, Summary};
use rustc_hash::{FxHashMap, FxHasher};
use serde::Deserialize;
use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};
use smallvec::SmallVec;
use std::fmt;
use std::fs::File;
use std::hash::{Hash as _, Hasher as _};
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

impl Earlier {
    /// The step as the table has it.
    fn step(&self) -> String {
        match &self.step {
            serde_json::Value::Number(step) => step.to_string(),
            _ => String::new(),
        }
    }
}

/// A number of what makes two findings the same one: the item, the step and the finding.
fn number_of(item: &str, step: &str, finding: &str) -> u64 {
    let mut hasher = FxHasher::default();
    (item, step, finding).hash(&mut hasher);
    hasher.finish()
}

/// Compares an audit with an earlier one, and writes `changes.csv`.
pub struct SinceReport {
    table: Table,
    /// Findings of the earlier audit in their order; `None` once they are met.
    earlier: Vec<Option<Earlier>>,
    /// Their places by number, the first ones last.
    places: FxHashMap<u64, SmallVec<[u32; 2]>>,
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
        let Said { findings, content, mut others } = Said::deserialize(&mut deserializer)?;
        deserializer.end()?;
        let stated = others.remove(digest::KEY);
        let own = content.digest(others)?;
        match stated {
            Some(Value::String(stated)) if stated == own => {}
            None => return Err(io::Error::other(WITHOUT_DIGEST)),
            Some(_) => return Err(io::Error::other(DAMAGED)),
        }
        let mut places: FxHashMap<u64, SmallVec<[u32; 2]>> = FxHashMap::default();
        for (at, own) in findings.iter().enumerate().rev() {
            places.entry(number_of(&own.item, &own.step(), &own.finding)).or_default().push(at as u32);
        }
        let table = Table::create(&folder.join("changes.csv"), &COLUMNS)?;
        let earlier = findings.into_iter().map(Some).collect();
        Ok(Self { table, earlier, places, new: 0, gone: 0, unchanged: 0 })
    }

    /// Takes the first finding of the earlier audit that is this one, if there is one left.
    fn meet(&mut self, item: &str, step: &str, finding: &str) -> bool {
        let Some(places) = self.places.get_mut(&number_of(item, step, finding)) else { return false };
        let is_same = |own: &Earlier| own.item == item && own.finding == finding && own.step() == step;
        let is_it = |at: &u32| self.earlier[*at as usize].as_ref().is_some_and(is_same);
        let Some(found) = places.iter().rposition(is_it) else { return false };
        self.earlier[places.remove(found) as usize] = None;
        true
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
            let name = finding.name.entry().name;
            if self.meet(&item.id, &step, name) {
                self.unchanged += 1;
                continue;
            }
            self.new += 1;
            let line = item.line.to_string();
            let row = ["new", &item.file, &line, &item.id, &step, name, &finding.message()];
            self.table.row(&row)?;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        if summary.interrupted {
            // Of what was not audited any more nothing is known.
            self.earlier.clear();
        }
        for old in std::mem::take(&mut self.earlier).into_iter().flatten() {
            self.gone += 1;
            let line = if old.line.is_null() { String::new() } else { old.line.to_string() };
            let step = old.step();
            let row = ["gone", &old.file, &line, &old.item, &step, &old.finding, &old.message];
            self.table.row(&row)?;
        }
        self.table.finish()
    }
}

/// What to say of an `audit.json` without a digest.
const WITHOUT_DIGEST: &str =
    "it has no digest: an older version wrote it, or it was changed. Audit the earlier state again with this version";
/// What to say of an `audit.json` whose digest does not fit.
const DAMAGED: &str = "its digest is not that of what it says: it was changed or damaged since it was written";

/// What an `audit.json` says.
#[derive(Default)]
struct Said {
    findings: Vec<Earlier>,
    content: Content,
    others: Map<String, Value>,
}

impl<'de> Deserialize<'de> for Said {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Said;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the audit.json of an audit")
            }

            fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Said, M::Error> {
                let mut said = Said::default();
                let mut has_findings = false;
                while let Some(key) = map.next_key::<String>()? {
                    if key != "findings" {
                        said.others.insert(key, map.next_value()?);
                    } else if std::mem::replace(&mut has_findings, true) {
                        return Err(M::Error::duplicate_field("findings"));
                    } else {
                        map.next_value_seed(Findings(&mut said))?;
                    }
                }
                if has_findings { Ok(said) } else { Err(M::Error::missing_field("findings")) }
            }
        }
        deserializer.deserialize_map(Collect)
    }
}

/// Takes the findings one by one, so that only what is compared stays in memory.
struct Findings<'s>(&'s mut Said);

impl<'de> DeserializeSeed<'de> for Findings<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Findings<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of findings")
    }

    fn visit_seq<S: SeqAccess<'de>>(self, mut list: S) -> Result<(), S::Error> {
        while let Some(finding) = list.next_element::<Value>()? {
            self.0.content.finding(&finding).map_err(S::Error::custom)?;
            self.0.findings.push(serde_json::from_value(finding).map_err(S::Error::custom)?);
        }
        Ok(())
    }
}
