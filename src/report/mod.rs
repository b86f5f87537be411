//! Reports: one renderer a file, all from one audit.

pub mod cell;
pub mod corrections;
pub mod csv;
pub mod decisions;
mod digest;
pub mod file;
pub mod html;
pub mod json;
pub mod junit;
pub mod known;
pub mod migration;
pub mod place;
pub mod sarif;
pub mod since;
pub mod stage;
pub(crate) mod table;
pub mod terminal;
pub mod xlsx;

use crate::audit::Audited;
use crate::findings::Finding;
use crate::source::add_number;
use std::borrow::Cow;

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
pub fn row<'a>(item: &'a Audited, finding: &'a Finding) -> [Cow<'a, str>; 12] {
    [
        (*item.file).into(),
        number(item.line).into(),
        item.id.as_str().into(),
        if finding.step == 0 { "".into() } else { number(finding.step).into() },
        finding.severity.name().into(),
        finding.name.entry().name.into(),
        match finding.atoms.as_slice() {
            [only] => only.as_str().into(),
            atoms => atoms.join(" ").into(),
        },
        finding.stated.as_str().into(),
        finding.computed.as_str().into(),
        message(finding),
        finding.slips.names(),
        finding.correction.as_str().into(),
    ]
}

/// A number as a cell.
fn number(number: u32) -> String {
    let mut text = String::with_capacity(10);
    add_number(&mut text, number.into());
    text
}

/// The sentence, with the place of its fault where it is about a text: the item may have begun lines before.
pub(crate) fn message(finding: &Finding) -> Cow<'_, str> {
    match &finding.spot {
        Some(spot) => {
            let file = spot.other_file().map_or_else(String::new, |file| format!("{file}, "));
            format!("{} ({file}{})", finding.told(), spot.place()).into()
        }
        None => finding.told(),
    }
}
