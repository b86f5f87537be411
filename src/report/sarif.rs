//! `audit.sarif`: the findings as SARIF 2.1.0 (OASIS), for services that show them beside the lines of a repository.

mod parts;

use super::file::WholeFile;
use super::place::relative;
use crate::audit::{Audited, Reporter, Summary};
use crate::bank::Spot;
use crate::findings::{Finding, Grade, Name, Severity};
use crate::source::Mark;
use parts::{
    ArtifactLocation, Fix, Location, LogicalLocation, Message, Notification, PhysicalLocation, Properties, Region,
    SarifResult, Suppression,
};
use serde_json::{Value, json};
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";
/// How fingerprints are made; another way of making them needs another name, so that old and new ones are not compared.
const FINGERPRINT: &str = "keyassayFinding/v1";

/// Writes `audit.sarif`, a result at a time.
pub struct SarifReport {
    file: WholeFile,
    /// The folder from which paths go.
    base: PathBuf,
    any: bool,
    /// The places of the rules in the catalogue.
    rules: HashMap<Name, usize>,
}

impl SarifReport {
    /// Begins the report in a folder; paths of files go from `base`.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(folder: &Path, base: &Path) -> io::Result<Self> {
        let mut file = WholeFile::create(&folder.join("audit.sarif"))?;
        let rules: Vec<Value> = Name::ALL.iter().map(|name| rule(*name)).collect();
        let version = env!("CARGO_PKG_VERSION");
        let driver = json!({"name": "keyassay", "version": version, "semanticVersion": version, "rules": rules});
        write!(file, "{{\n\"$schema\": \"{SCHEMA}\",\n\"version\": \"2.1.0\",\n\"runs\": [{{\n")?;
        writeln!(file, "\"tool\": {},", json!({"driver": driver}))?;
        write!(file, "\"columnKind\": \"unicodeCodePoints\",\n\"results\": [")?;
        let rules = Name::ALL.iter().enumerate().map(|(at, name)| (*name, at)).collect();
        Ok(Self { file, base: base.to_owned(), any: false, rules })
    }

    fn result<'a>(&self, item: &'a Audited, finding: &'a Finding, occurrence: usize) -> SarifResult<'a> {
        let place = finding.spot.as_ref().and_then(Spot::other_file).unwrap_or(&item.file);
        let artifact = ArtifactLocation::of(relative(place, &self.base));
        let mut text = finding.message();
        if !finding.correction.is_empty() {
            text = format!("{text}. It should say: {}", finding.correction).into();
        }
        let certain = finding.fix.as_deref().filter(|fix| fix.grade == Grade::Certain);
        let justification = finding.known.as_ref().map(|known| known.reason.as_str());
        SarifResult {
            rule_id: finding.name.entry().name,
            rule_index: self.rules.get(&finding.name).copied().unwrap_or(0),
            level: level(finding.severity),
            message: Message { text },
            fixes: certain.and_then(|fix| Fix::of(fix, &artifact)).into_iter().collect(),
            locations: [Location {
                physical_location: PhysicalLocation {
                    artifact_location: artifact,
                    region: Some(Region::of(item, finding)),
                },
                logical_locations: vec![LogicalLocation {
                    name: &item.id,
                    fully_qualified_name: logical_name(item, finding),
                    kind: "item",
                }],
            }],
            partial_fingerprints: BTreeMap::from([(FINGERPRINT, fingerprint(item, finding, occurrence))]),
            properties: Properties {
                stated: &finding.stated,
                computed: &finding.computed,
                slip: finding.slips.names(),
                atoms: &finding.atoms,
                correction: &finding.correction,
            },
            suppressions: justification
                .map(|justification| Suppression { kind: "external", status: "accepted", justification })
                .into_iter()
                .collect(),
        }
    }
}

impl Reporter for SarifReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        let mut seen: Vec<(Name, u32)> = Vec::new();
        for finding in &item.findings {
            let kind = (finding.name, finding.step);
            let occurrence = seen.iter().filter(|own| **own == kind).count();
            seen.push(kind);
            let result = self.result(item, finding, occurrence);
            self.file.write_all(if self.any { b",\n" } else { b"\n" })?;
            self.any = true;
            serde_json::to_writer(&mut self.file, &result)?;
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        let notification = |(name, why): &(String, String)| Notification {
            level: "error",
            message: Message { text: format!("not read: {why}").into() },
            locations: [Location {
                physical_location: PhysicalLocation {
                    artifact_location: ArtifactLocation::of(relative(name, &self.base)),
                    region: None,
                },
                logical_locations: Vec::new(),
            }],
        };
        let unread: Vec<Notification<'_>> = summary.unread.iter().map(notification).collect();
        let invocation =
            json!({"executionSuccessful": summary.unread.is_empty(), "toolExecutionNotifications": unread});
        write!(self.file, "\n],\n\"invocations\": [{invocation}]\n}}]\n}}\n")?;
        self.file.finish()
    }
}

fn level(severity: Severity) -> &'static str {
    severity.name()
}

/// A rule from its row of the catalogue.
fn rule(name: Name) -> Value {
    let entry = name.entry();
    let help = format!("{}\n\nFor example: {}", entry.remedy, entry.example);
    let markdown = format!("{}\n\nFor example:\n\n```text\n{}\n```", entry.remedy, entry.example);
    json!({
        "id": entry.name,
        "shortDescription": {"text": entry.meaning},
        "fullDescription": {"text": format!("{} {}", entry.meaning, entry.remedy)},
        "help": {"text": help, "markdown": markdown},
        "defaultConfiguration": {"level": level(entry.severity)},
    })
}

fn logical_name(item: &Audited, finding: &Finding) -> String {
    if finding.step == 0 { item.id.clone() } else { format!("{}/step {}", item.id, finding.step) }
}

/// A number that stays as it is while lines are added, files are moved and wording is mended: of the item, the step and the
/// finding. An item without an id of its own is known by what it states.
fn fingerprint(item: &Audited, finding: &Finding, occurrence: usize) -> String {
    let has_own_id = item.id != crate::bank::place_name(&item.file, item.line);
    let item: Cow<'_, str> = if has_own_id {
        item.id.as_str().into()
    } else if finding.stated.is_empty() {
        finding.message()
    } else {
        finding.stated.as_str().into()
    };
    let step = finding.step;
    Mark::of(format!("{item}\n{step}\n{}\n{occurrence}", finding.name.entry().name).as_bytes()).to_string()
}
