//! An item as its bank writes it: what is kept of each item of both banks.

use super::print::{arrows_text, drawing_text, of_text, then};
use crate::bank::{Accept, Arrows, Drawing, Item, Plain, Record, trimmed};
use crate::structure::canon::mix;

/// An item by its id and its texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Written {
    /// Of the id, where the bank gives one; else 0.
    pub id: u64,
    /// Of the fields as they are written; 0 where the record is not well formed.
    pub text: u64,
    /// The line on which the item starts.
    pub line: u32,
    /// How many steps, options and contributors it has, with what else decides how its texts are taken; 0 where texts are not all
    /// that there is to it.
    shape: u16,
}

/// A longer field may pass a limit by the space round it, which texts leave out.
const LONG: usize = 8192;

impl Written {
    /// A plain item, as it would be as a record.
    #[must_use]
    pub fn plain(plain: &Plain<'_>, line: u32) -> Self {
        let mut text = mix(plain.task as u64);
        for own in [plain.start, plain.answer, plain.arrows] {
            text = then(text, of_text(trimmed(own)));
        }
        let is_short = plain.start.len().max(plain.answer.len()).max(plain.arrows.len()) < LONG;
        Self {
            id: plain.id.map_or(0, of_id),
            text: rest(text, [None; 3], plain.accept),
            line,
            shape: if is_short { shape([1, 0, 0], false) } else { 0 },
        }
    }

    /// A record.
    #[must_use]
    pub fn record(record: &Record) -> Self {
        match &record.content {
            Ok(item) => Self {
                id: if item.has_own_id { of_id(&item.id) } else { 0 },
                text: of_fields(item),
                line: record.line,
                shape: of_shape(item),
            },
            // A record that is not well formed may still say which item it is.
            Err(bad) => {
                let id = bad.id.as_ref().filter(|id| !id.trim().is_empty());
                Self { id: id.map_or(0, |id| of_id(id)), line: record.line, ..Self::default() }
            }
        }
    }

    /// Whether two items are written alike.
    #[must_use]
    pub fn is_as(&self, other: &Self) -> bool {
        self.text == other.text && self.text != 0
    }

    /// Whether two items that are written alike say the same without a look at what they say, where both are judged by the same settings.
    #[must_use]
    pub fn is_sure(&self, other: &Self) -> bool {
        self.shape == other.shape && self.shape != 0
    }
}

/// An id, never 0.
#[must_use]
pub fn of_id(id: &str) -> u64 {
    of_text(id) | 1
}

/// The fields of an item as they are written.
fn of_fields(item: &Item) -> u64 {
    let mut sum = mix(item.task as u64);
    let drawing = |own: &Drawing| match own {
        Drawing::Text(field) => of_text(trimmed(&field.text)),
        Drawing::Read(_) => of_text(&drawing_text(own)),
    };
    for step in &item.steps {
        for own in [&step.start, &step.answer] {
            sum = then(sum, own.as_ref().map_or(0, drawing));
        }
        sum = then(
            sum,
            match &step.arrows {
                None => 0,
                Some(Arrows::Text(field)) => of_text(trimmed(&field.text)),
                Some(read) => of_text(&arrows_text(read)),
            },
        );
    }
    for own in item.options.iter().chain(&item.answers) {
        sum = then(sum, drawing(own));
    }
    let others = [&item.key, &item.omits, &item.major];
    rest(sum, others.map(|own| own.as_ref().map(|own| own.text.trim())), item.accept)
}

fn rest(sum: u64, others: [Option<&str>; 3], accept: Option<Accept>) -> u64 {
    let sum = others.into_iter().fold(sum, |sum, own| then(sum, own.map_or(0, of_text)));
    then(sum, accept.map_or(0, |own| own as u64 + 1)).max(1)
}

/// Steps, options and contributors counted, and whether labels count from 0; never 0.
fn shape(counts: [usize; 3], from_zero: bool) -> u16 {
    let sum = counts.into_iter().fold(u64::from(from_zero), |sum, count| then(sum, count as u64));
    (sum as u16).max(1)
}

fn of_shape(item: &Item) -> u16 {
    let drawings = item.steps.iter().flat_map(|step| [&step.start, &step.answer]).flatten();
    let mut drawings = drawings.chain(&item.options).chain(&item.answers);
    let is_text = drawings.all(|own| matches!(own, Drawing::Text(field) if field.text.len() < LONG));
    let mut arrows = item.steps.iter().filter_map(|step| step.arrows.as_ref());
    let is_text = is_text && arrows.all(|own| matches!(own, Arrows::Text(field) if field.text.len() < LONG));
    let mut others = [&item.key, &item.omits, &item.major].into_iter().flatten();
    let is_text = is_text && others.all(|own| own.text.len() < LONG);
    if is_text { shape([item.steps.len(), item.options.len(), item.answers.len()], item.labels_from_zero) } else { 0 }
}
