//! A comma-separated table: a column for every field that any item has, a row for every item or step.

use super::plain::{Plain, PlainStep};
use std::io::{self, Write};

/// Writes a table.
pub(super) fn write(out: &mut impl Write, items: &[Plain]) -> io::Result<()> {
    let columns = columns(items);
    let mut rows = csv::Writer::from_writer(out);
    rows.write_record(columns.iter().map(Column::name))?;
    for item in items {
        for (at, step) in item.steps.iter().enumerate() {
            rows.write_record(columns.iter().map(|column| column.cell(item, at, step)))?;
        }
    }
    rows.flush()
}

/// A column of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Column {
    Known(&'static str),
    Option(usize),
    Extra(String),
}

/// Columns in this order, left out where no item has the field; id, start, arrows and answer are always there.
const KNOWN: [&str; 13] =
    ["id", "task", "step", "start", "arrows", "answer", "answers", "major", "accept", "omits", "key", "prompt", "tags"];

fn columns(items: &[Plain]) -> Vec<Column> {
    let always = ["id", "start", "arrows", "answer"];
    let filled = |name: &&'static str| {
        let own = Column::Known(name);
        let any = |item: &Plain| item.steps.iter().enumerate().any(|(at, step)| !own.cell(item, at, step).is_empty());
        always.contains(name) || items.iter().any(any)
    };
    let mut columns: Vec<Column> = KNOWN.iter().filter(|name| filled(name)).map(|name| Column::Known(name)).collect();
    let options = items.iter().map(|item| item.options.len()).max().unwrap_or(0);
    columns.extend((0..options).map(Column::Option));
    let mut seen = rustc_hash::FxHashSet::default();
    for (name, _) in items.iter().flat_map(|item| &item.extra) {
        if seen.insert(name) {
            columns.push(Column::Extra(name.clone()));
        }
    }
    columns
}

impl Column {
    fn name(&self) -> String {
        match self {
            Self::Known(name) => (*name).to_owned(),
            Self::Option(at) => match u8::try_from(*at) {
                Ok(small @ 0..=25) => format!("option_{}", char::from(b'a' + small)),
                _ => format!("option_{}", at + 1),
            },
            Self::Extra(name) => name.clone(),
        }
    }

    /// The cell of a step's row. What belongs to the whole item stands in the first row.
    fn cell(&self, item: &Plain, at: usize, step: &PlainStep) -> String {
        let text = |text: &Option<String>| text.clone().unwrap_or_default();
        let first = |text: String| if at == 0 { text } else { String::new() };
        match self {
            Self::Known("id") => text(&item.id),
            Self::Known("task") => {
                if item.names_task {
                    item.task.name().to_owned()
                } else {
                    String::new()
                }
            }
            Self::Known("step") => {
                if item.steps.len() > 1 {
                    (at + 1).to_string()
                } else {
                    String::new()
                }
            }
            Self::Known("start") => text(&step.start),
            Self::Known("arrows") => text(&step.arrows),
            Self::Known("answer") => text(&step.answer),
            Self::Known("answers") => first(item.answers.join(" ")),
            Self::Known("major") => first(text(&item.major)),
            Self::Known("accept") => first(item.accept.unwrap_or_default().to_owned()),
            Self::Known("omits") => first(text(&item.omits)),
            Self::Known("key") => first(text(&item.key)),
            Self::Known("prompt") => first(item.prompt.clone()),
            Self::Known("tags") => first(item.tags.clone()),
            Self::Known(_) => String::new(),
            Self::Option(number) => first(item.options.get(*number).cloned().unwrap_or_default()),
            Self::Extra(name) => {
                first(item.extra.iter().find(|(own, _)| own == name).map_or(String::new(), |(_, text)| text.clone()))
            }
        }
    }
}
