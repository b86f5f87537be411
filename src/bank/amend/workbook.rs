//! A corrected copy of a workbook: the cells concerned, and nothing else.

use super::reads::Copy;
use super::{Amended, Edit, FieldPlace, Place, Refusal, find};
use crate::bank::sheet::edit::{CellEdit, CellRefusal, edit};
use crate::bank::{Chunk, Format, Item, OpenError, Settings, open};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Applies corrections to the bytes of a workbook.
///
/// # Errors
/// It cannot be read, or is of a kind that is not written.
pub(super) fn amend(name: &str, bytes: &[u8], settings: &Arc<Settings>, edits: &[Edit]) -> Result<Amended, OpenError> {
    let mut amended = Amended::default();
    let mut cells: Vec<(usize, CellEdit)> = Vec::new();
    let waiting = by_item(edits);
    let mut seen = BTreeSet::new();
    let mut met = vec![false; edits.len()];
    let mut source = open(name, Format::Workbook, Box::new(std::io::Cursor::new(bytes.to_vec())), settings)?;
    while let Some(batch) = source.next_batch()? {
        let file = batch.file().unwrap_or_default();
        let sheet = file.get(name.len() + 1..).unwrap_or_default().to_owned();
        let (chunk, records) = batch.records();
        for record in &records {
            let Ok(item) = &record.content else { continue };
            let own = waiting.get(&(record.line, item.id.as_str())).map(Vec::as_slice).unwrap_or_default();
            for at in own.iter().copied().filter(|at| edits[*at].file.is_empty() || *edits[*at].file == *file) {
                met[at] = true;
                match cell(&chunk, item, &edits[at], settings) {
                    Err(why) => amended.refused.push((at, why)),
                    Ok(place) if !seen.insert((sheet.clone(), place)) => amended.refused.push((at, Refusal::Twice)),
                    Ok(place) => {
                        cells.push((at, CellEdit { sheet: sheet.clone(), place, text: edits[at].proposed.clone() }));
                    }
                }
            }
        }
    }
    amended.refused.extend((0..edits.len()).filter(|at| !met[*at]).map(|at| (at, Refusal::NoItem)));
    let list: Vec<CellEdit> = cells.iter().map(|(_, cell)| cell.clone()).collect();
    let edited = edit(bytes, &settings.limits, &list).map_err(OpenError::NoBank)?;
    let number = |at: usize| cells.get(at).map_or(0, |(edit, _)| *edit);
    let refused: Vec<(usize, Refusal)> =
        edited.refused.into_iter().map(|(at, why)| (number(at), Refusal::Cell(why))).collect();
    let is_done = |at: &&usize| !refused.iter().any(|(own, _)| own == *at);
    let all: Vec<usize> = cells.iter().map(|(at, _)| *at).collect();
    let done: Vec<usize> = all.iter().filter(is_done).copied().collect();
    amended.refused.extend(refused);
    (amended.bytes, amended.stale) = (edited.bytes, edited.stale);
    let applied: Vec<&Edit> = done.iter().map(|at| &edits[*at]).collect();
    let copy = Copy { name, format: Format::Workbook, before: bytes, after: &amended.bytes };
    amended.applied = done.len();
    if let Some(what) = copy.reads_otherwise(settings, &applied)? {
        amended.refused.extend(done.into_iter().map(|at| (at, Refusal::Disturbs(what.clone()))));
        (amended.bytes, amended.applied) = (bytes.to_vec(), 0);
        amended.stale.clear();
    }
    amended.refused.sort_by_key(|(at, _)| *at);
    Ok(amended)
}

/// The edits of each item, by its line and name.
fn by_item(edits: &[Edit]) -> BTreeMap<(u32, &str), Vec<usize>> {
    let mut all: BTreeMap<(u32, &str), Vec<usize>> = BTreeMap::new();
    for (at, own) in edits.iter().enumerate() {
        all.entry((own.line, own.item.as_str())).or_default().push(at);
    }
    all
}

/// The cell of a field, by row and column from 0.
fn cell(chunk: &Chunk, item: &Item, edit: &Edit, settings: &Settings) -> Result<(u32, u32), Refusal> {
    let place = Place { step: edit.step, field: edit.field, stated: &edit.stated };
    let (start, before, says) = match find(chunk, item, place)? {
        FieldPlace::Field(field) => (field.start, 0, field.text.as_str()),
        // Separators that the row lacks stand for cells.
        FieldPlace::Slot(slot) => (slot.span.start, slot.before.len() as u32, ""),
        FieldPlace::Content(_) => return Err(Refusal::NoPlace),
    };
    if says != edit.stated {
        return Err(Refusal::SaysOtherwise);
    }
    if let Some(bad) = edit.proposed.chars().find(|own| own.is_control() && *own != '\n') {
        return Err(Refusal::Unwritable(if bad == '\t' { "it has a tab" } else { "it has a control character" }));
    }
    let (row, column) = chunk.cell_place(start as usize).ok_or(Refusal::NoPlace)?;
    let place = (row - 1, column + before);
    if settings.fill_down.contains(&edit.field) {
        let name = crate::bank::sheet::cell_name(row, place.1);
        return Err(Refusal::Cell(CellRefusal::FillsOthers(name)));
    }
    Ok(place)
}
