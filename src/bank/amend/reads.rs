//! Reads a corrected copy beside its bank: whatever was not corrected says what it said before.

use super::Edit;
use crate::arrows::notation;
use crate::bank::{Arrows, Drawing, Format, Item, OpenError, Record, Settings, Source, fields, open};
use crate::smiles::{self, Labels};
use std::collections::{BTreeMap, VecDeque};
use std::io::Cursor;
use std::sync::Arc;

/// A bank and its corrected copy.
pub(super) struct Copy<'a> {
    pub name: &'a str,
    pub format: Format,
    pub before: &'a [u8],
    pub after: &'a [u8],
}

impl Copy<'_> {
    /// What in the copy says something else than in the bank, though it was not corrected, or something else than was proposed.
    ///
    /// # Errors
    /// The bank cannot be read.
    pub fn reads_otherwise(&self, settings: &Arc<Settings>, applied: &[&Edit]) -> Result<Option<String>, OpenError> {
        let mut edits: BTreeMap<(String, u32, String), Vec<&Edit>> = BTreeMap::new();
        for edit in applied {
            edits.entry((edit.file.clone(), edit.line, edit.item.clone())).or_default().push(edit);
        }
        // What keyassay does not know is kept too: it may not change either.
        let settings = Arc::new(Settings { keep_extra: true, ..Settings::clone(settings) });
        let mut before = self.records(self.before, &settings)?;
        let Ok(mut after) = self.records(self.after, &settings) else { return Ok(Some("the file".to_owned())) };
        while let Some((file, old)) = before.next()? {
            let named = |id: &str| Some(format!("line {}, {id},", old.line));
            let new = after.next().ok().flatten().map(|(_, record)| record.content);
            match (&old.content, new) {
                (Err(_), Some(Err(_))) => {}
                (Ok(old_item), Some(Ok(new_item))) => {
                    let mut own = Vec::new();
                    for file in ["", &file] {
                        own.extend(edits.remove(&(file.to_owned(), old.line, old_item.id.clone())).unwrap_or_default());
                    }
                    if is_other(old_item, &new_item, &own) {
                        return Ok(named(&old_item.id));
                    }
                }
                (Ok(item), _) => return Ok(named(&item.id)),
                (Err(_), _) => return Ok(Some(format!("line {}", old.line))),
            }
        }
        let is_more = !matches!(after.next(), Ok(None));
        Ok(is_more.then(|| "the end of the file".to_owned()))
    }

    fn records(&self, bytes: &[u8], settings: &Arc<Settings>) -> Result<Records, OpenError> {
        let source = open(self.name, self.format, Box::new(Cursor::new(bytes.to_vec())), settings)?;
        Ok(Records { source, ready: VecDeque::new() })
    }
}

/// The records of a source, one by one: the copy's are cut into other batches than the bank's.
struct Records {
    source: Source,
    ready: VecDeque<(Arc<str>, Record)>,
}

impl Records {
    fn next(&mut self) -> Result<Option<(Arc<str>, Record)>, OpenError> {
        while self.ready.is_empty() {
            let Some(batch) = self.source.next_batch()? else { return Ok(None) };
            let file = batch.file().unwrap_or_else(|| Arc::from(""));
            self.ready.extend(batch.records().1.into_iter().map(|record| (Arc::clone(&file), record)));
        }
        Ok(self.ready.pop_front())
    }
}

/// Where in an item a text stands: what kind of field, and which one of them (the step's place in the item).
type Key = (&'static str, usize);

/// Whether an item is another one than the edits make of it.
fn is_other(old: &Item, new: &Item, edits: &[&Edit]) -> bool {
    let (mut before, mut after) = (says(old), says(new));
    for edit in edits {
        let step = old.steps.iter().position(|step| step.number == edit.step).unwrap_or_default();
        let (key, is_document) = match edit.field {
            fields::Name::Key => ((KEY, 0), false),
            fields::Name::Arrows => ((ARROWS, step), is_read(old, step)),
            _ => ((ANSWER, step), is_read(old, step)),
        };
        let now = after.remove(&key).map(|text| bare(&text));
        before.remove(&key);
        // What is written into an element of a document is markup: that it reads at all was seen with the document.
        if !is_document && now.unwrap_or_default() != bare(&edit.proposed) {
            return true;
        }
    }
    before != after || old.task != new.task || old.steps.len() != new.steps.len() || !extra(old).eq(extra(new))
}

/// What an item says beyond what keyassay knows. Cells that a short row did not have are as good as blank ones.
fn extra(item: &Item) -> impl Iterator<Item = &(String, String)> {
    item.extra.iter().filter(|(_, text)| !text.is_empty())
}

const ANSWER: &str = "answer";
const ARROWS: &str = "arrows";
const KEY: &str = "key";

/// Whether a step's drawings were read with their document.
fn is_read(item: &Item, step: usize) -> bool {
    item.steps.get(step).is_some_and(|step| step.element().is_some())
}

/// A text without what is free in it: space around it and, between arrows, how they are set apart.
fn bare(text: &str) -> String {
    let parts = text.split([';', '\n', '\r']).map(str::trim).filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join(";")
}

/// All that an item says. The name that an item without an id has from its line is not of its own.
fn says(item: &Item) -> BTreeMap<Key, String> {
    let mut all = BTreeMap::new();
    let mut put = |key: Key, text: Option<String>| {
        if let Some(text) = text {
            all.insert(key, text);
        }
    };
    put(("id", 0), item.has_own_id.then(|| item.id.clone()));
    for (at, step) in item.steps.iter().enumerate() {
        put(("number", at), Some(step.number.to_string()));
        put(("start", at), step.start.as_ref().map(drawn));
        put((ARROWS, at), step.arrows.as_ref().map(arrows));
        put((ANSWER, at), step.answer.as_ref().map(drawn));
    }
    for (name, list) in [("contributor", &item.answers), ("option", &item.options)] {
        list.iter().enumerate().for_each(|(at, drawing)| put((name, at), Some(drawn(drawing))));
    }
    for (name, field) in [("major", &item.major), ("omits", &item.omits), (KEY, &item.key)] {
        put((name, 0), field.as_ref().map(|field| field.text.clone()));
    }
    put(("prompt", 0), Some(item.prompt.clone()));
    put(("tags", 0), Some(item.tags.clone()));
    all
}

fn drawn(drawing: &Drawing) -> String {
    match drawing {
        Drawing::Text(field) => field.text.clone(),
        Drawing::Read(read) => {
            format!("{} {}", read.faults.len(), smiles::write(&read.structure, Labels::Classes))
        }
    }
}

fn arrows(arrows: &Arrows) -> String {
    match arrows {
        Arrows::Text(field) => field.text.clone(),
        Arrows::Read { arrows, faults } => format!("{} {}", faults.len(), notation::write(arrows)),
    }
}
