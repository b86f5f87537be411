//! Writes cells of a workbook and leaves every other byte of its parts as it is.

mod formulas;
mod ods;
mod parts;
mod xlsx;

pub(super) use xlsx::sheets as parts_of_sheets;

use super::check::{self, Checked, Kind};
use super::tags;
use crate::bank::source::Again;
use crate::limits::Limits;
use crate::qti::Package;
use formulas::Formulas;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use std::ops::RangeInclusive;
use std::sync::Arc;

/// A cell to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellEdit {
    /// The sheet.
    pub sheet: String,
    /// Row and column, counted from 0.
    pub place: (u32, u32),
    /// Its new text.
    pub text: String,
}

/// Why a cell is not written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CellRefusal {
    /// Its value is computed.
    #[error("the cell {0} holds a formula: change the formula")]
    Formula(String),
    /// It is one of several cells that are shown as one.
    #[error("the cell {0} is merged with others: part them first")]
    Merged(String),
    /// It is empty, and what is read there comes from another cell.
    #[error("the cell {0} is filled from another one: change that")]
    Filled(String),
    /// Others are filled from it.
    #[error("the cell {0} fills those of other questions too: fill these first")]
    FillsOthers(String),
    /// There is no such sheet in the part of the workbook where it should be.
    #[error("the cell {0} is not found in the workbook")]
    NotFound(String),
}

/// A workbook with cells written.
#[derive(Debug, Clone, Default)]
pub struct Edited {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Cells not written, by their number in the list.
    pub refused: Vec<(usize, CellRefusal)>,
    /// Formulas whose stored values are stale now.
    pub stale: Vec<String>,
}

/// Cells of one sheet, each with the number of its edit and its text.
type Wanted<'w> = BTreeMap<(u32, u32), (usize, &'w str)>;

const BINARY: &str = "workbooks of this kind (.xls, .xlsb) are not written: save it as .xlsx in a spreadsheet program, or make one with \
                      `keyassay convert BANK --to xlsx`, and audit that";

/// Writes cells.
///
/// # Errors
/// The workbook cannot be read, or is of a kind that is not written.
pub fn edit(bytes: &[u8], limits: &Limits, edits: &[CellEdit]) -> Result<Edited, String> {
    let held: Arc<[u8]> = bytes.into();
    let again: Again = Box::new(move || Ok(Box::new(Cursor::new(Arc::clone(&held)))));
    let Checked { kind, again, .. } = check::check(again, limits).map_err(|error| error.to_string())?;
    if matches!(kind, Kind::Xls | Kind::Xlsb) {
        return Err(BINARY.to_owned());
    }
    let roomy = Limits { zip_entry_bytes: limits.zip_total_bytes, ..limits.clone() };
    let mut package = Package::of_any(again, &roomy).map_err(|error| error.to_string())?;
    let mut wanted: BTreeMap<String, Wanted<'_>> = BTreeMap::new();
    for (at, own) in edits.iter().enumerate() {
        wanted.entry(own.sheet.clone()).or_default().insert(own.place, (at, own.text.as_str()));
    }
    let Written { parts, mut refused, formulas } =
        if kind == Kind::Ods { ods_parts(&mut package, &mut wanted)? } else { xlsx_parts(&mut package, &mut wanted)? };
    for ((row, column), (edit, _)) in wanted.into_values().flatten() {
        refused.push((edit, CellRefusal::NotFound(super::cell_name(row + 1, column))));
    }
    let is_refused = |at: &usize| refused.iter().any(|(own, _)| own == at);
    let done: Vec<(String, (u32, u32))> = edits
        .iter()
        .enumerate()
        .filter(|(at, _)| !is_refused(at))
        .map(|(_, own)| (own.sheet.clone(), own.place))
        .collect();
    let bytes = if done.is_empty() { bytes.to_vec() } else { parts::replaced(bytes, &parts)? };
    Ok(Edited { bytes, refused, stale: formulas.stale(&done) })
}

/// Parts of a workbook that are written, what is refused in them, and the formulas of all.
#[derive(Default)]
struct Written {
    parts: BTreeMap<String, Vec<u8>>,
    refused: Vec<(usize, CellRefusal)>,
    formulas: Formulas,
}

/// Writes what is wanted in an `.ods`; what is left of that is in no sheet of it.
fn ods_parts(package: &mut Package, wanted: &mut BTreeMap<String, Wanted<'_>>) -> Result<Written, String> {
    let mut all = Written::default();
    let content = part(package, "content.xml")?;
    if !ods::has_usual_prefixes(&content) {
        return Err(
            "its content.xml names its elements in another way than spreadsheet programs do: save it anew in one"
                .to_owned(),
        );
    }
    all.formulas.ods(&content);
    let (written, refused) = ods::written(&content, wanted);
    all.refused = refused;
    all.parts.insert("content.xml".to_owned(), written);
    Ok(all)
}

/// Writes what is wanted in an `.xlsx`; what is left of that is in no sheet of it.
fn xlsx_parts(package: &mut Package, wanted: &mut BTreeMap<String, Wanted<'_>>) -> Result<Written, String> {
    let mut all = Written::default();
    let (workbook, relations) = (part(package, "xl/workbook.xml")?, part(package, "xl/_rels/workbook.xml.rels")?);
    for (name, path) in xlsx::sheets(&workbook, &relations) {
        // A sheet of a chart has no cells.
        let Ok(content) = part(package, &path) else { continue };
        all.formulas.xlsx(&name, &content);
        if let Some(wanted) = wanted.remove(&name) {
            let (written, refused) = xlsx::written(&content, wanted);
            all.refused.extend(refused);
            all.parts.insert(path, written);
        }
    }
    Ok(all)
}

/// The bytes of a part.
fn part(package: &mut Package, name: &str) -> Result<Vec<u8>, String> {
    let mut own = Vec::new();
    package.read(name)?.read_to_end(&mut own).map_err(|error| format!("its part '{name}' cannot be read: {error}"))?;
    if own.starts_with(&[0xff, 0xfe]) || own.starts_with(&[0xfe, 0xff]) {
        return Err(format!(
            "its part '{name}' is in UTF-16, which is not written: save it anew in a spreadsheet program"
        ));
    }
    Ok(own)
}

/// Row and column of a cell's name, counted from 0.
pub(super) fn place_of(name: &str) -> Option<(u32, u32)> {
    let letters = name.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (letters, digits) = name.split_at(letters);
    Some((digits.parse::<u32>().ok()?.checked_sub(1)?, column_of(letters)?))
}

/// The number of a column by its letters, from 0.
fn column_of(letters: &str) -> Option<u32> {
    if letters.is_empty() || letters.len() > 3 {
        return None;
    }
    let digit = |own: u8| own.is_ascii_alphabetic().then(|| u32::from(own.to_ascii_uppercase() - b'A') + 1);
    letters.bytes().try_fold(0, |number: u32, own| Some(number * 26 + digit(own)?))?.checked_sub(1)
}

/// Rows and columns of an area: `B2:C9`, or one cell.
fn area_of(text: &str) -> Option<(RangeInclusive<u32>, RangeInclusive<u32>)> {
    let (first, last) = text.split_once(':').unwrap_or((text, text));
    let (first, last) = (place_of(first)?, place_of(last)?);
    Some((first.0..=last.0, first.1..=last.1))
}
