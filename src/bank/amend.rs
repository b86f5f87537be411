//! A corrected copy of a bank: every byte outside the corrected fields stays as it is.
//!
//! The bank is read as an audit reads it; a field's place in the file follows from its place in its chunk. A field is
//! only written over where it still says what the correction says that it says. The copy is read back: a copy in which
//! anything else reads otherwise is not given.

mod reads;
mod workbook;

use super::cells::closing_quote;
use super::chunk::Style;
use super::item::{Arrows, Drawing, Field, Item, Slot, Step, Writing};
use super::sheet::edit::CellRefusal;
use super::{Chunk, Format, OpenError, Settings, fields, open};
use crate::cml;
use crate::source::Span;
use crate::source::encoding::{Encoding, decode};
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

/// One field to correct.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// The file of the item, where the bank holds several (sheets); empty for any.
    pub file: String,
    /// Line on which the item starts.
    pub line: u32,
    /// The item's id.
    pub item: String,
    /// The step; 0 where the item is no sequence or the field is the item's own.
    pub step: u32,
    /// The field.
    pub field: fields::Name,
    /// What it says now.
    pub stated: String,
    /// What it is to say.
    pub proposed: String,
}

/// Why a field was left as it is.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The bank has no such item where the correction says.
    #[error("there is no such item on that line")]
    NoItem,
    /// The item has no such step.
    #[error("the item has no such step")]
    NoStep,
    /// There is no place for the field.
    #[error("the bank has no place for the field: add its column or key first")]
    NoPlace,
    /// The field says something else by now.
    #[error("the field says something else than the correction states")]
    SaysOtherwise,
    /// The format cannot hold the text at that place.
    #[error("the text cannot be written there: {0}")]
    Unwritable(&'static str),
    /// The encoding of the file cannot hold the text.
    #[error("the text cannot be written there: {1} has no '{0}'")]
    NotInEncoding(char, Encoding),
    /// Another correction at the same place came before.
    #[error("another correction at the same place was applied: audit the copy again for what is left")]
    Twice,
    /// The cell of a workbook cannot be written.
    #[error("{0}")]
    Cell(#[from] CellRefusal),
    /// With the corrections, something else in the bank would be read otherwise.
    #[error("{0} would be read otherwise with it: correct it by hand")]
    Disturbs(String),
}

/// A corrected bank.
#[derive(Debug, Clone, Default)]
pub struct Amended {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Corrections applied.
    pub applied: usize,
    /// Corrections not applied, by their number in the list, and why.
    pub refused: Vec<(usize, Refusal)>,
    /// Formulas of a workbook whose stored values are stale until it is recalculated.
    pub stale: Vec<String>,
}

/// A cell has no place among the lines of a text.
const WORKBOOK: &str = "it is a cell of a workbook, which `keyassay amend` writes";
const QTI: &str = "items of QTI are corrected in the program that they come from; corrections.csv says what to change";

/// Applies corrections to the bytes of a bank.
///
/// # Errors
/// The bank cannot be read.
pub fn amend(
    name: &str,
    format: Format,
    bytes: &[u8],
    settings: &Arc<Settings>,
    edits: &[Edit],
) -> Result<Amended, OpenError> {
    if format == Format::Workbook {
        return workbook::amend(name, bytes, settings, edits);
    }
    let mut by_item: BTreeMap<(u32, String), Vec<usize>> = BTreeMap::new();
    for (at, edit) in edits.iter().enumerate() {
        by_item.entry((edit.line, edit.item.clone())).or_default().push(at);
    }
    let mut amended = Amended::default();
    let mut changes: Vec<Change> = Vec::new();
    let mut source = open(name, format, Box::new(std::io::Cursor::new(bytes.to_vec())), settings)?;
    let format = source.format();
    if let Some(why) = not_amended(&source) {
        return Err(OpenError::NoBank(why));
    }
    let encoding = source.encoding();
    let decoded = decode(bytes, encoding);
    while let Some(batch) = source.next_batch()? {
        let (chunk, records) = batch.records();
        for record in &records {
            let Ok(item) = &record.content else { continue };
            for at in by_item.remove(&(record.line, item.id.clone())).unwrap_or_default() {
                match change(&chunk, item, &edits[at], &decoded) {
                    Ok((place, text)) => changes.push(Change { edit: at, place, text }),
                    Err(why) => amended.refused.push((at, why)),
                }
            }
        }
    }
    amended.refused.extend(by_item.into_values().flatten().map(|at| (at, Refusal::NoItem)));
    amended.refused.extend(part_from_first(&mut changes).into_iter().map(|at| (at, Refusal::Twice)));
    amended.bytes = replace(bytes, &decoded, encoding, &changes);
    let applied: Vec<&Edit> = changes.iter().map(|change| &edits[change.edit]).collect();
    let copy = reads::Copy { name, format, before: bytes, after: &amended.bytes };
    if let Some(what) = copy.reads_otherwise(settings, &applied)? {
        amended.refused.extend(changes.drain(..).map(|change| (change.edit, Refusal::Disturbs(what.clone()))));
        amended.bytes = bytes.to_vec();
    }
    amended.refused.sort_by_key(|(at, _)| *at);
    amended.applied = changes.len();
    Ok(amended)
}

/// Why a bank of this kind is not amended, if it is not.
fn not_amended(source: &crate::bank::Source) -> Option<String> {
    if let Some(packing) = source.packing() {
        return Some(format!("it is packed ({}): unpack it, then amend it", packing.name()));
    }
    if source.is_zip_of_banks() {
        return Some("it is a zip file of banks: unpack it, then amend each of them".to_owned());
    }
    matches!(source.format(), Format::Qti | Format::Package).then(|| QTI.to_owned())
}

/// What an edit writes where in the decoded text.
struct Change {
    /// The number of the edit.
    edit: usize,
    place: Range<usize>,
    text: Vec<u8>,
}

/// Orders the changes by their places, of which each may be written once; gives the edits that are left out for that.
fn part_from_first(changes: &mut Vec<Change>) -> Vec<usize> {
    changes.sort_by_key(|change| (change.place.start, change.edit));
    let (mut end, mut last) = (0, None);
    let mut twice = Vec::new();
    changes.retain(|change| {
        let is_free = change.place.start >= end && last != Some(change.place.start);
        if is_free {
            (end, last) = (change.place.end, Some(change.place.start));
        } else {
            twice.push(change.edit);
        }
        is_free
    });
    twice
}

/// Writes the changes, which are in order and do not overlap, into a copy.
fn replace(bytes: &[u8], decoded: &[u8], encoding: Encoding, changes: &[Change]) -> Vec<u8> {
    let mut copy = Vec::with_capacity(bytes.len() + changes.len() * 16);
    let (mut done, mut seen) = (0, 0);
    let in_file = |range: Range<usize>| encoding.length_in_file(decoded.get(range).unwrap_or_default());
    for Change { place, text, .. } in changes {
        let start = done + in_file(seen..place.start);
        copy.extend_from_slice(bytes.get(done..start).unwrap_or_default());
        copy.extend_from_slice(text);
        done = start + in_file(place.clone());
        seen = place.end;
    }
    copy.extend_from_slice(bytes.get(done..).unwrap_or_default());
    copy
}

/// A field as it stands, or where it could stand.
enum FieldPlace<'a> {
    Field(&'a Field),
    Slot(&'a Slot),
    /// The content of an element of a document.
    Content(Span),
}

/// Which field of an item is meant.
#[derive(Debug, Clone, Copy)]
pub struct Place<'a> {
    /// The step; 0 where the item is no sequence or the field is the item's own.
    pub step: u32,
    /// The field.
    pub field: fields::Name,
    /// What it says.
    pub stated: &'a str,
}

/// Characters of a file to write over, and with what. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Replacement {
    /// The line of the first character.
    pub line: u32,
    /// Its column.
    pub column: u32,
    /// The line behind the last character.
    pub end_line: u32,
    /// The column behind it.
    pub end_column: u32,
    /// What is to stand there.
    pub text: String,
}

/// What to write where, so that a field says something else.
///
/// # Errors
/// The field cannot be written.
pub fn replacement(chunk: &Chunk, item: &Item, place: Place<'_>, proposed: &str) -> Result<Replacement, Refusal> {
    let (span, text) = new_text(chunk, item, place, proposed)?;
    let (start, end) = (chunk.spot(Span::at(span.start as usize)), chunk.spot(Span::at(span.end as usize)));
    Ok(Replacement { line: start.line, column: start.column, end_line: end.line, end_column: end.column, text })
}

/// Which bytes of the decoded file are to be written over, and with what.
fn change(chunk: &Chunk, item: &Item, edit: &Edit, bytes: &[u8]) -> Result<(Range<usize>, Vec<u8>), Refusal> {
    let place = Place { step: edit.step, field: edit.field, stated: &edit.stated };
    let (span, text) = new_text(chunk, item, place, &edit.proposed)?;
    let old = span.of(&chunk.text);
    let start = usize::try_from(chunk.offset).unwrap_or(usize::MAX).saturating_add(span.start as usize);
    let range = start..start.saturating_add(old.len());
    // The reader and this writer must see the same bytes, or nothing is written.
    if bytes.get(range.clone()) != Some(old.as_bytes()) {
        return Err(Refusal::NoPlace);
    }
    let encoding = chunk.style.encoding;
    let new = encoding.encode(&text).map_err(|missing| Refusal::NotInEncoding(missing, encoding))?;
    Ok((range, new))
}

/// Which part of the chunk is to be written over, and with what.
fn new_text(chunk: &Chunk, item: &Item, place: Place<'_>, proposed: &str) -> Result<(Span, String), Refusal> {
    match chunk.style.format {
        Format::Qti | Format::Package => return Err(Refusal::Unwritable(QTI)),
        Format::Workbook => return Err(Refusal::Unwritable(WORKBOOK)),
        _ => {}
    }
    let found = find(chunk, item, place)?;
    let says = match &found {
        FieldPlace::Field(field) => field.text.as_str(),
        FieldPlace::Slot(_) => "",
        FieldPlace::Content(span) => span.of(&chunk.text),
    };
    if says != place.stated {
        return Err(Refusal::SaysOtherwise);
    }
    let (span, before, writing) = match found {
        FieldPlace::Field(field) => (written(chunk, field)?, "", field.writing),
        FieldPlace::Slot(slot) => (slot.span, slot.before.as_str(), slot.writing),
        FieldPlace::Content(span) => (span, "", Writing::Plain),
    };
    if chunk.style.format == Format::ReactionSmiles && place.field == fields::Name::Answer && proposed.contains('>') {
        return Err(Refusal::Unwritable("it has a '>', which parts the sides of the line"));
    }
    let text = write(proposed, writing, span.of(&chunk.text), chunk.style)?;
    Ok((span, format!("{before}{text}")))
}

fn find<'a>(chunk: &Chunk, item: &'a Item, place: Place<'_>) -> Result<FieldPlace<'a>, Refusal> {
    if place.field == fields::Name::Key {
        return item
            .key
            .as_ref()
            .map(FieldPlace::Field)
            .or(item.key_slot.as_ref().map(FieldPlace::Slot))
            .ok_or(Refusal::NoPlace);
    }
    let is_own = |step: &&Step| step.number == place.step;
    let step = item.steps.iter().find(is_own).ok_or(Refusal::NoStep)?;
    if let Some(element) = step.element() {
        let name = if place.field == fields::Name::Arrows { "map" } else { "productList" };
        let text = chunk.text.get(element.start as usize..).map(cml::whole_element).unwrap_or_default();
        let is_stated = |content: &cml::ElementContent| content.span.of(text) == place.stated;
        let content = cml::contents(text, name).into_iter().find(is_stated).ok_or(Refusal::SaysOtherwise)?;
        let at = |at: u32| (element.start + at) as usize;
        return Ok(FieldPlace::Content(Span::new(at(content.span.start), at(content.span.end))));
    }
    match (place.field, &step.answer, &step.arrows) {
        (fields::Name::Answer, Some(Drawing::Text(field)), _)
        | (fields::Name::Arrows, _, Some(Arrows::Text(field))) => Ok(FieldPlace::Field(field)),
        (fields::Name::Answer, None, _) => step.answer_slot.as_ref().map(FieldPlace::Slot).ok_or(Refusal::NoPlace),
        (fields::Name::Arrows, _, None) => step.arrows_slot.as_ref().map(FieldPlace::Slot).ok_or(Refusal::NoPlace),
        _ => Err(Refusal::NoPlace),
    }
}

/// The whole of a field as it is written in its chunk, quotes or brackets included.
fn written(chunk: &Chunk, field: &Field) -> Result<Span, Refusal> {
    let start = field.start as usize;
    let rest = chunk.text.get(start..).unwrap_or_default();
    let length = match field.writing {
        Writing::Plain => Some(field.text.len()).filter(|_| rest.starts_with(&field.text)),
        Writing::Quoted => {
            let end = rest.starts_with('"').then(|| closing_quote(rest)).flatten().map(|quote| quote + 1);
            end.filter(|end| ends_cell(rest.as_bytes().get(*end), chunk.style.delimiter))
        }
        Writing::JsonString => json_string(rest),
        Writing::Joined if matches!(chunk.style.format, Format::Json | Format::JsonLines) => json_list(rest),
        Writing::Joined | Writing::Parts(..) => None,
    };
    length.map(|length| Span::new(start, start + length)).ok_or(Refusal::NoPlace)
}

/// Whether a byte behind a closing quote ends the cell. What follows it otherwise is read as a part of the cell.
fn ends_cell(next: Option<&u8>, delimiter: u8) -> bool {
    next.is_none_or(|next| *next == delimiter || matches!(next, b'\n' | b'\r'))
}

/// Length of a JSON string.
fn json_string(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut at = 1;
    while bytes.first() == Some(&b'"') {
        match bytes.get(at)? {
            b'"' => return Some(at + 1),
            b'\\' => at += 2,
            _ => at += 1,
        }
    }
    None
}

/// Length of a JSON list of strings.
fn json_list(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut at = 1;
    while bytes.first() == Some(&b'[') {
        match bytes.get(at)? {
            b']' => return Some(at + 1),
            b'"' => at += json_string(text.get(at..)?)?,
            _ => at += 1,
        }
    }
    None
}

/// The new text as its format writes it at a place where `old` stands.
fn write(text: &str, writing: Writing, old: &str, style: Style) -> Result<String, Refusal> {
    let is_table = matches!(style.format, Format::Csv | Format::Tsv);
    match writing {
        _ if style.format == Format::ReactionSmiles => {
            let fits = !text.contains(['\t', '\n', '\r']);
            fits.then(|| text.to_owned()).ok_or(Refusal::Unwritable("it has a tab or a line break"))
        }
        _ if style.format == Format::Cml => Ok(text.to_owned()),
        Writing::Plain if is_table => {
            let plain = !text.contains([char::from(style.delimiter), '"', '\n', '\r']);
            Ok(if plain { text.to_owned() } else { in_quotes(text) })
        }
        Writing::Quoted => Ok(in_quotes(text)),
        Writing::Joined | Writing::Parts(..) => Ok(in_list(text, old)),
        Writing::Plain | Writing::JsonString => Ok(in_json(text)),
    }
}

fn in_quotes(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

fn in_json(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

/// Arrows as a list, its elements set apart like those of the old one.
fn in_list(text: &str, old: &str) -> String {
    let first = json_string(old.get(old.find('"').unwrap_or(0)..).unwrap_or_default()).unwrap_or(0);
    let opening = &old[..old.find('"').unwrap_or(1).min(old.len())];
    let behind_first = old.get(opening.len() + first..).unwrap_or_default();
    let comma = behind_first.find('"').map_or(", ", |quote| &behind_first[..quote]);
    let closing = old.rfind('"').map_or("]", |quote| &old[quote + 1..]);
    let elements: Vec<String> = text.split([';', '\n']).map(|arrow| in_json(arrow.trim())).collect();
    format!("{opening}{}{closing}", elements.join(comma))
}

#[cfg(test)]
mod tests {
    use super::{Style, Writing, write};
    use crate::bank::Format;
    use crate::source::Encoding;

    #[test]
    fn fields_are_written_as_they_were() {
        let csv = Style { format: Format::Csv, delimiter: b',', encoding: Encoding::Utf8 };
        let semicolons = Style { delimiter: b';', ..csv };
        let json = Style { format: Format::Json, ..csv };
        let reaction = Style { format: Format::ReactionSmiles, ..csv };
        let cases = [
            (csv, Writing::Plain, "x", "C=O", "C=O"),
            (csv, Writing::Plain, "x", "1 -> 1-2; 2-3 -> 3", "1 -> 1-2; 2-3 -> 3"),
            (semicolons, Writing::Plain, "x", "1 -> 1-2; 2-3 -> 3", "\"1 -> 1-2; 2-3 -> 3\""),
            (csv, Writing::Quoted, "\"x\"", "C=O", "\"C=O\""),
            (csv, Writing::Quoted, "\"x\"", "a\"b", "\"a\"\"b\""),
            (json, Writing::JsonString, "\"x\"", "C/C=C\\C", "\"C/C=C\\\\C\""),
            (json, Writing::Joined, "[\"a\", \"b\"]", "1 -> 2; 2 -> 3", "[\"1 -> 2\", \"2 -> 3\"]"),
            (json, Writing::Joined, "[\n  \"a\",\n  \"b\"\n]", "c; d; e", "[\n  \"c\",\n  \"d\",\n  \"e\"\n]"),
            (json, Writing::Joined, "[\"a\",\"b\"]", "c", "[\"c\"]"),
            (reaction, Writing::Plain, "x", "C=O", "C=O"),
        ];
        let mut failures = Vec::new();
        for (style, writing, old, text, expected) in cases {
            let new = write(text, writing, old, style);
            if new.as_deref() != Ok(expected) {
                failures.push(format!("{text} over {old}: {new:?}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
