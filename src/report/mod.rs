//! Reports: one renderer a file, all from one audit.

pub mod corrections;
pub mod csv;
pub mod file;
pub mod html;
pub mod json;
pub mod junit;
pub mod known;
pub mod place;
pub mod sarif;
pub mod since;
pub mod stage;
pub mod terminal;

use crate::audit::Audited;
use crate::findings::Finding;

/// The columns of `audit.csv` and the keys of a finding in `audit.json`, in order.
pub const COLUMNS: [&str; 12] = [
    "file",
    "line",
    "item",
    "step",
    "severity",
    "finding",
    "atoms",
    "stated",
    "computed",
    "message",
    "slip",
    "correction",
];

/// The values of one finding, in the order of [`COLUMNS`].
#[must_use]
pub fn row(item: &Audited, finding: &Finding) -> [String; 12] {
    [
        item.file.to_string(),
        item.line.to_string(),
        item.id.clone(),
        if finding.step == 0 { String::new() } else { finding.step.to_string() },
        finding.severity.name().to_owned(),
        finding.name.to_string(),
        finding.atoms.join(" "),
        finding.stated.clone(),
        finding.computed.clone(),
        message(finding),
        finding.slip.clone(),
        finding.correction.clone(),
    ]
}

/// The sentence, with the place of its fault where it is about a text: the item may have begun lines before.
pub(crate) fn message(finding: &Finding) -> String {
    match &finding.spot {
        Some(spot) => {
            let file = spot.other_file().map_or_else(String::new, |file| format!("{file}, "));
            format!("{} ({file}line {}, column {})", finding.told(), spot.line, spot.column)
        }
        None => finding.told(),
    }
}
