//! What an editor decides: one row a fault that needs a decision, with what it would change and a check of that.
//!
//! The editor's cells are `decision`, `instead` and `note`. Everything that says which field of which bank would change is held by
//! the row's check: a row whose cells were damaged on the way, or that a spreadsheet program wrote otherwise, is refused, not applied.

use super::{message, number};
use crate::audit::Audited;
use crate::findings::{Correction, Finding, Name, Severity};
use crate::source::Marker;
use std::borrow::Cow;

/// The columns of the sheet of decisions, in order.
pub const COLUMNS: [&str; 17] = [
    "item", "file", "line", "step", "severity", "finding", "message", "slip", "field", "now", "proposed", "grade",
    "decision", "instead", "note", "card", "check",
];

/// What an editor may decide, as the cells say it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// The proposal is applied.
    Accept,
    /// The bank stays as it is, and the finding goes to the list of known findings.
    Keep,
    /// Somebody else is to be asked: nothing is done.
    Ask,
}

impl Choice {
    /// All of them with their names.
    pub const ALL: [(Self, &'static str); 3] = [(Self::Accept, "accept"), (Self::Keep, "keep"), (Self::Ask, "ask")];

    /// The choice that a cell names, whatever its case and the space around it; none where the cell is empty.
    ///
    /// # Errors
    /// The cell names no choice.
    pub fn read(cell: &str) -> Result<Option<Self>, NoChoice> {
        let cell = cell.trim();
        if cell.is_empty() {
            return Ok(None);
        }
        let own = Self::ALL.iter().find(|(_, name)| name.eq_ignore_ascii_case(cell));
        own.map(|(choice, _)| Some(*choice)).ok_or(NoChoice)
    }
}

/// A cell that names no choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("it is none of accept, keep, ask")]
pub struct NoChoice;

/// One fault of an item: the finding that tells it, those that only tell more of it, and what would be corrected.
#[derive(Debug)]
pub struct Decision<'a> {
    item: &'a Audited,
    findings: Vec<&'a Finding>,
    fix: Option<&'a Correction>,
}

/// The decisions that an item needs: its errors and warnings that are not known, and notes that propose something.
#[must_use]
pub fn of(item: &Audited) -> Vec<Decision<'_>> {
    let mut all: Vec<Decision<'_>> = Vec::new();
    let needs = |finding: &&Finding| {
        finding.known.is_none() && (finding.severity >= Severity::Warning || finding.fix.is_some())
    };
    for finding in item.findings.iter().filter(needs) {
        let fix = finding.fix.as_deref();
        match all.iter_mut().find(|own| own.tells(finding)) {
            Some(own) => {
                own.findings.push(finding);
                own.fix = own.fix.or(fix);
            }
            None => all.push(Decision { item, findings: vec![finding], fix }),
        }
    }
    all
}

impl Decision<'_> {
    /// Whether a finding is about the fault of this decision: it says more of the mismatch, or corrects the same field.
    fn tells(&self, finding: &Finding) -> bool {
        let Some(first) = self.findings.first().filter(|first| first.step == finding.step) else { return false };
        let is_beside = first.name == Name::MismatchedProduct && finding.name.is_name_of_mismatch();
        let same_field = self.fix.zip(finding.fix.as_deref()).is_some_and(|(own, other)| own.field == other.field);
        is_beside || same_field
    }

    /// The names of the findings, the telling one first.
    #[must_use]
    pub fn names(&self) -> String {
        let names: Vec<&str> = self.findings.iter().map(|finding| finding.name.entry().name).collect();
        names.join(" ")
    }

    /// The cells of its row, in the order of [`COLUMNS`], without the editor's and without the card.
    #[must_use]
    pub fn cells(&self) -> [Cow<'_, str>; 17] {
        let first = self.findings.first().copied();
        let step = first.map_or(0, |first| first.step);
        let severity = self.findings.iter().map(|finding| finding.severity).max().unwrap_or(Severity::Note);
        let messages: Vec<Cow<'_, str>> = self.findings.iter().map(|finding| message(finding)).collect();
        let [field, now, proposed, grade] = match self.fix {
            Some(fix) => [fix.field.name(), fix.stated.as_str(), fix.proposed.as_str(), fix.grade.name()],
            None => [""; 4],
        };
        let mut cells: [Cow<'_, str>; 17] = [
            self.item.id.as_str().into(),
            (*self.item.file).into(),
            number(self.item.line).into(),
            if step == 0 { "".into() } else { number(step).into() },
            severity.name().into(),
            self.names().into(),
            messages.join("; ").into(),
            first.map_or_else(|| "".into(), |first| first.slips.names()),
            field.into(),
            now.into(),
            proposed.into(),
            grade.into(),
            "".into(),
            "".into(),
            "".into(),
            "".into(),
            "".into(),
        ];
        let held = Held {
            file: &cells[1],
            line: &cells[2],
            item: &cells[0],
            step: &cells[3],
            finding: &cells[5],
            field,
            now,
            proposed,
            grade,
        };
        cells[16] = held.check().into();
        cells
    }
}

/// What a check holds: the cells that say which field of which bank would change, and how.
#[derive(Debug, Clone, Copy)]
pub struct Held<'a> {
    /// The file of the bank.
    pub file: &'a str,
    /// The line of the item.
    pub line: &'a str,
    /// The item's id.
    pub item: &'a str,
    /// The step; empty where the item is no sequence.
    pub step: &'a str,
    /// The names of the findings; empty in a list of corrections.
    pub finding: &'a str,
    /// The field.
    pub field: &'a str,
    /// What it says now.
    pub now: &'a str,
    /// What is proposed.
    pub proposed: &'a str,
    /// How sure that is.
    pub grade: &'a str,
}

impl Held<'_> {
    /// The check: a letter, so that no spreadsheet program takes it for a number, and 16 digits of base 16.
    ///
    /// Line ends and space at the ends of a cell do not count: programs change them. It guards against damage, not against people.
    #[must_use]
    pub fn check(&self) -> String {
        let Self { file, line, item, step, finding, field, now, proposed, grade } = *self;
        let mut marker = Marker::default();
        for cell in [file, line, item, step, finding, field, now, proposed, grade] {
            // Nearly no cell has one.
            let plain: Cow<'_, str> =
                if cell.contains('\r') { cell.replace("\r\n", "\n").replace('\r', "\n").into() } else { cell.into() };
            let cell = plain.trim();
            marker.take(&(cell.len() as u64).to_le_bytes());
            marker.take(cell.as_bytes());
        }
        let mark = marker.mark().to_string();
        format!("k{}", mark.get(..16).unwrap_or(&mark))
    }
}
