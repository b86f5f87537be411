//! The objects of SARIF 2.1.0 that a result of ours has; the numbers are those of its sections.

use crate::audit::Audited;
use crate::findings::{Correction, Finding};
use serde::Serialize;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// 3.27.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct SarifResult<'a> {
    pub(super) rule_id: &'static str,
    pub(super) rule_index: usize,
    pub(super) level: &'static str,
    pub(super) message: Message<'a>,
    pub(super) locations: [Location<'a>; 1],
    pub(super) partial_fingerprints: BTreeMap<&'static str, String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) fixes: Vec<Fix<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) suppressions: Vec<Suppression<'a>>,
    pub(super) properties: Properties<'a>,
}

/// 3.11.
#[derive(Serialize)]
pub(super) struct Message<'a> {
    pub(super) text: Cow<'a, str>,
}

/// 3.28.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Location<'a> {
    pub(super) physical_location: PhysicalLocation,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) logical_locations: Vec<LogicalLocation<'a>>,
}

/// 3.29.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct PhysicalLocation {
    pub(super) artifact_location: ArtifactLocation,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) region: Option<Region>,
}

/// 3.4.
#[derive(Clone, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct ArtifactLocation {
    uri: String,
    uri_base_id: &'static str,
}

impl ArtifactLocation {
    /// A file by its path from the root of the sources.
    pub(super) fn of(uri: String) -> Self {
        Self { uri, uri_base_id: "%SRCROOT%" }
    }
}

/// 3.30.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Region {
    start_line: u32,
    start_column: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    end_line: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    end_column: Option<u32>,
}

impl Region {
    /// The characters that a finding is about; where it is about the item, the line on which that starts.
    pub(super) fn of(item: &Audited, finding: &Finding) -> Self {
        let (start_line, start_column, end_column) = match &finding.spot {
            Some(spot) => (spot.line, spot.column.max(1), Some(spot.column.max(1) + spot.length)),
            None => (item.line, 1, None),
        };
        Self { start_line: start_line.max(1), start_column, end_line: None, end_column }
    }
}

/// 3.33.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct LogicalLocation<'a> {
    pub(super) name: &'a str,
    pub(super) fully_qualified_name: String,
    pub(super) kind: &'static str,
}

/// 3.35.
#[derive(Serialize)]
pub(super) struct Suppression<'a> {
    pub(super) kind: &'static str,
    pub(super) status: &'static str,
    pub(super) justification: &'a str,
}

/// What else is known of a finding (3.8: names of our own).
#[derive(Serialize)]
pub(super) struct Properties<'a> {
    #[serde(skip_serializing_if = "str::is_empty")]
    pub(super) stated: &'a str,
    #[serde(skip_serializing_if = "str::is_empty")]
    pub(super) computed: &'a str,
    #[serde(skip_serializing_if = "str::is_empty")]
    pub(super) slip: Cow<'static, str>,
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    pub(super) atoms: &'a [String],
    #[serde(skip_serializing_if = "str::is_empty")]
    pub(super) correction: &'a str,
}

/// 3.55.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Fix<'a> {
    description: Message<'a>,
    artifact_changes: [ArtifactChange<'a>; 1],
}

/// 3.56.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct ArtifactChange<'a> {
    artifact_location: ArtifactLocation,
    replacements: [Replacement<'a>; 1],
}

/// 3.57.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Replacement<'a> {
    deleted_region: Region,
    inserted_content: Message<'a>,
}

impl<'a> Fix<'a> {
    /// What `amend` would write, if its place is known.
    pub(super) fn of(fix: &'a Correction, artifact: &ArtifactLocation) -> Option<Self> {
        let new = fix.replacement.as_ref()?;
        let deleted_region = Region {
            start_line: new.line,
            start_column: new.column,
            end_line: Some(new.end_line),
            end_column: Some(new.end_column),
        };
        let inserted_content = Message { text: new.text.as_str().into() };
        Some(Self {
            description: Message { text: fix.why.as_str().into() },
            artifact_changes: [ArtifactChange {
                artifact_location: artifact.clone(),
                replacements: [Replacement { deleted_region, inserted_content }],
            }],
        })
    }
}

/// 3.58.
#[derive(Serialize)]
pub(super) struct Notification<'a> {
    pub(super) level: &'static str,
    pub(super) message: Message<'a>,
    pub(super) locations: [Location<'a>; 1],
}
