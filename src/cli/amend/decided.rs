//! What the rows of a list of corrections or of a sheet of decisions say.

use super::sheet::{self, Table};
use crate::arrows::notation;
use crate::bank::amend::Edit;
use crate::bank::fields;
use crate::findings::{Grade, Target};
use crate::report::cell::{as_written, read_out};
use crate::report::corrections;
use crate::report::decisions::{self, Choice, Held};
use crate::smiles;
use anyhow::Context as _;
use std::path::Path;

/// Which of the two lists it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum List {
    /// `corrections.csv`: what nobody decided on is applied by its grade.
    Corrections,
    /// The sheet of decisions: what nobody decided on is left.
    Decisions,
}

/// A row.
pub(super) struct Row {
    /// The file of the bank.
    pub(super) file: String,
    /// The line of the item and its id, for messages.
    pub(super) line: u32,
    pub(super) item: String,
    /// The names of its findings, separated by spaces; empty in a list of corrections.
    pub(super) findings: String,
    pub(super) grade: Grade,
    pub(super) note: String,
    /// What it would change; none where it proposes nothing and names no field.
    pub(super) edit: Option<Edit>,
    pub(super) decided: Decided,
}

/// What is to be done with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Decided {
    /// Nobody has said.
    Open,
    /// The proposal is applied.
    Accept,
    /// Another text takes its place.
    Instead(String),
    /// The bank stays as it is.
    Keep,
    /// Somebody is to be asked.
    Ask,
    /// The row cannot be followed.
    Bad(String),
}

/// The rows, and what the workbook says of the files of the bank.
pub(super) struct Decisions {
    pub(super) list: List,
    pub(super) rows: Vec<Row>,
    pub(super) marks: Option<Vec<[String; 3]>>,
}

const OLDER: &str = "is of an older version, whose rows have no check: audit the bank again, or go on with --unchecked";

/// Reads a list.
pub(super) fn read(path: &Path, unchecked: bool) -> anyhow::Result<Decisions> {
    let Table { rows, marks } = sheet::read(path)?;
    let name = path.display();
    let mut rows = rows.into_iter().enumerate();
    let (_, header) = rows.next().with_context(|| format!("{name} is empty"))?;
    let header: Vec<String> = header.iter().map(|cell| cell.trim().to_lowercase()).collect();
    let has = |column: &str| header.iter().any(|own| own == column);
    let list = if has("why") { List::Corrections } else { List::Decisions };
    let needed: &[&str] = match list {
        List::Corrections => &corrections::COLUMNS[..9],
        List::Decisions => &decisions::COLUMNS,
    };
    let optional = ["message", "slip", "severity", "card", "note", "check"];
    if let Some(missing) = needed.iter().find(|own| !has(own) && !optional.contains(own)) {
        anyhow::bail!("{name} has no column '{missing}': it is neither a corrections.csv nor a sheet of decisions");
    }
    anyhow::ensure!(has("check") || unchecked, "{name} {OLDER}");
    let cells = Columns { header, list };
    let rows: Vec<Row> = rows
        .filter(|(_, row)| row.iter().any(|cell| !cell.trim().is_empty()))
        .map(|(at, row)| cells.row(&row).with_context(|| format!("{name}: row {}", at + 1)))
        .collect::<anyhow::Result<_>>()?;
    Ok(Decisions { list, rows, marks })
}

/// Where the columns stand.
struct Columns {
    header: Vec<String>,
    list: List,
}

impl Columns {
    fn cell(&self, row: &[String], column: &str) -> String {
        let at = self.header.iter().position(|own| own == column);
        let cell = at.and_then(|at| row.get(at)).map(String::as_str).unwrap_or_default();
        // Only the CSV of an audit guards cells by an apostrophe.
        if self.list == List::Corrections { as_written(cell) } else { read_out(cell) }
    }

    fn row(&self, row: &[String]) -> anyhow::Result<Row> {
        let cell = |column: &str| self.cell(row, column);
        let now = if self.list == List::Corrections { "stated" } else { "now" };
        let [file, line, item, step] = ["file", "line", "item", "step"].map(cell);
        let [field, now, proposed, grade] = ["field", now, "proposed", "grade"].map(cell);
        let findings = if self.list == List::Decisions { cell("finding") } else { String::new() };
        let held = Held {
            file: &file,
            line: &line,
            item: &item,
            step: &step,
            finding: &findings,
            field: &field,
            now: &now,
            proposed: &proposed,
            grade: &grade,
        };
        let is_whole = !self.header.iter().any(|own| own == "check") || held.check() == cell("check").trim();
        let number = |text: &str, what: &str| -> anyhow::Result<u32> {
            text.trim().parse().ok().with_context(|| format!("the {what} '{text}' is no number"))
        };
        let line = if is_whole { number(&line, "line")? } else { line.trim().parse().unwrap_or(0) };
        let mut decided = self.decided(row);
        if !is_whole && (decided != Decided::Open || self.list == List::Corrections) {
            let why = "a cell other than decision, instead and note was changed on the way: audit the bank again";
            decided = Decided::Bad(why.to_owned());
        }
        let mut edit = None;
        let mut own_grade = Grade::None;
        if is_whole && !field.is_empty() {
            own_grade = Grade::from_name(&grade).context("the grade is none of certain, likely, none")?;
            let step = if step.is_empty() { 0 } else { number(&step, "step")? };
            let name = Target::from_name(&field).and_then(|target| fields::Name::from_text(target.name()));
            let name = name.context("the field is none of answer, arrows, key, steps")?;
            edit =
                Some(Edit { file: file.clone(), line, item: item.clone(), step, field: name, stated: now, proposed });
        }
        let note = cell("note");
        let mut own = Row { file, line, item, findings, grade: own_grade, note, edit, decided };
        own.settle();
        Ok(own)
    }

    fn decided(&self, row: &[String]) -> Decided {
        let instead = self.cell(row, "instead").trim().to_owned();
        let decision = self.cell(row, "decision");
        match Choice::read(&decision) {
            Err(_) => Decided::Bad(format!("the decision '{}' is none of accept, keep, ask", decision.trim())),
            Ok(Some(Choice::Keep)) if !instead.is_empty() => {
                Decided::Bad("the decision is to keep, and another text stands under instead".to_owned())
            }
            Ok(Some(Choice::Keep)) => Decided::Keep,
            Ok(Some(Choice::Ask)) => Decided::Ask,
            Ok(_) if !instead.is_empty() => Decided::Instead(instead),
            Ok(Some(Choice::Accept)) => Decided::Accept,
            Ok(None) => Decided::Open,
        }
    }
}

impl Row {
    /// Makes the edit what was decided; what cannot be followed is said.
    fn settle(&mut self) {
        let bad = match (&mut self.edit, &self.decided) {
            (Some(edit), Decided::Accept | Decided::Instead(_)) if edit.field == fields::Name::Steps => {
                "a sequence is several steps where the bank has one: write them into the bank by hand".to_owned()
            }
            (None, Decided::Accept) => "the row proposes nothing to accept".to_owned(),
            (None, Decided::Instead(_)) => "the row names no field: write the text into the bank".to_owned(),
            (Some(edit), Decided::Instead(text)) => {
                let Some(why) = unreadable(edit, text) else {
                    edit.proposed.clone_from(text);
                    return;
                };
                why
            }
            _ => return,
        };
        self.decided = Decided::Bad(bad);
    }
}

/// Why a text that an editor wrote cannot stand in its field.
fn unreadable(edit: &Edit, text: &str) -> Option<String> {
    let is_markup = |text: &str| text.trim_start().starts_with('<');
    if is_markup(&edit.stated) || is_markup(&edit.proposed) || is_markup(text) {
        let both = is_markup(text) && (is_markup(&edit.stated) || is_markup(&edit.proposed));
        return (!both).then(|| "the bank has CML at this place, and the text under instead is other".to_owned());
    }
    match edit.field {
        fields::Name::Answer => {
            let fault = smiles::read(text).faults.into_iter().next()?;
            Some(format!("the text under instead cannot be read: {}", fault.fault))
        }
        fields::Name::Arrows => {
            let fault = notation::read(text, usize::MAX).faults.into_iter().next()?;
            Some(format!("the text under instead cannot be read: {}", fault.fault))
        }
        _ => None,
    }
}
