//! `corrections.csv`: what fields should say, one row a field, for `keyassay amend`; beside it `corrections.files.csv`, which
//! says what the files were when they were audited.

use super::decisions::Held;
use super::number;
use super::table::Table;
use crate::audit::{Audited, Reporter, Summary};
use crate::findings::{Correction, Grade};
use smallvec::SmallVec;
use std::borrow::Cow;
use std::io;
use std::path::{Path, PathBuf};

/// The columns of `corrections.csv`, in order. `decision`, `instead` and `note` are for the editor.
pub const COLUMNS: [&str; 13] = [
    "file", "line", "item", "step", "field", "stated", "proposed", "grade", "why", "decision", "instead", "note",
    "check",
];
/// The columns of `corrections.files.csv`, in order.
pub const FILE_COLUMNS: [&str; 3] = ["file", "bytes", "mark"];
/// The name of the list of corrections.
pub const NAME: &str = "corrections.csv";

/// Where the list of files lies that belongs to a list of corrections: `corrections.files.csv` beside `corrections.csv`.
#[must_use]
pub fn files_beside(corrections: &Path) -> PathBuf {
    corrections.with_extension("files.csv")
}

/// Writes `corrections.csv` and `corrections.files.csv`.
pub struct CorrectionsReport {
    folder: PathBuf,
    table: Table,
}

impl CorrectionsReport {
    /// Begins the report in a folder.
    ///
    /// # Errors
    /// The file cannot be created.
    pub fn create(folder: &Path) -> io::Result<Self> {
        Ok(Self { folder: folder.to_owned(), table: Table::create(&folder.join(NAME), &COLUMNS)? })
    }
}

/// The values of one correction, in the order of [`COLUMNS`].
#[must_use]
pub fn row<'a>(item: &'a Audited, step: u32, correction: &'a Correction) -> [Cow<'a, str>; 13] {
    let mut cells: [Cow<'a, str>; 13] = [
        (*item.file).into(),
        number(item.line).into(),
        item.id.as_str().into(),
        if step == 0 { "".into() } else { number(step).into() },
        correction.field.name().into(),
        correction.stated.as_str().into(),
        correction.proposed.as_str().into(),
        correction.grade.name().into(),
        correction.why.as_str().into(),
        "".into(),
        "".into(),
        "".into(),
        "".into(),
    ];
    let held = Held {
        file: &cells[0],
        line: &cells[1],
        item: &cells[2],
        step: &cells[3],
        finding: "",
        field: &cells[4],
        now: &cells[5],
        proposed: &cells[6],
        grade: &cells[7],
    };
    cells[12] = held.check().into();
    cells
}

/// The corrections of an item with their steps. A mismatch and the finding that explains it may propose the same: one field is
/// corrected once. Where either of two fields may be wrong, both proposals are given.
#[must_use]
pub fn of_item(item: &Audited) -> SmallVec<[(u32, &Correction); 2]> {
    let mut own: SmallVec<[(u32, &Correction); 2]> = SmallVec::new();
    for finding in &item.findings {
        let Some(fix) = &finding.fix else { continue };
        for fix in fix.each() {
            if !own.iter().any(|(step, other)| *step == finding.step && other.field == fix.field) {
                own.push((finding.step, fix));
            }
        }
    }
    own
}

/// How many corrections there are, by how sure they are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ByGrade {
    /// Certain ones.
    pub certain: u64,
    /// Likely ones.
    pub likely: u64,
    /// Those without a grade.
    pub ungraded: u64,
}

impl ByGrade {
    /// Counts those of an item.
    pub fn add(&mut self, item: &Audited) {
        for (_, fix) in of_item(item) {
            match fix.grade {
                Grade::Certain => self.certain += 1,
                Grade::Likely => self.likely += 1,
                Grade::None => self.ungraded += 1,
            }
        }
    }

    /// All of them.
    #[must_use]
    pub fn all(self) -> u64 {
        self.certain + self.likely + self.ungraded
    }
}

impl Reporter for CorrectionsReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        of_item(item).into_iter().try_for_each(|(step, fix)| self.table.row(&row(item, step, fix)))
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        self.table.finish()?;
        let mut files = Table::create(&files_beside(&self.folder.join(NAME)), &FILE_COLUMNS)?;
        for (name, mark) in &summary.marks {
            files.row(&[name.as_str(), &mark.bytes().to_string(), &mark.to_string()])?;
        }
        files.finish()
    }
}
