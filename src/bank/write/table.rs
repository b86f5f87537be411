//! A comma-separated table: a column for every field that any item has, a row for every item or step.

use super::plain::{Plain, PlainStep};
use super::sheets::{self, CELL, ROWS, Sheet};
use std::io::{self, Write};
use std::ops::Range;

/// Writes a table.
pub(super) fn write(out: &mut impl Write, items: &[Plain]) -> io::Result<()> {
    let columns = columns(items);
    let mut writer = csv::Writer::from_writer(out);
    for row in rows(&columns, items) {
        writer.write_record(row)?;
    }
    writer.flush()
}

/// The rows of items, the header first.
fn rows<'a>(columns: &'a [Column], items: &'a [Plain]) -> impl Iterator<Item = Vec<String>> + 'a {
    let header = columns.iter().map(Column::name).collect();
    let rows = items.iter().flat_map(move |item| {
        let row = move |(at, step)| columns.iter().map(|column| column.cell(item, at, step)).collect();
        item.steps.iter().enumerate().map(row)
    });
    std::iter::once(header).chain(rows)
}

/// Writes a workbook. What does not go on one sheet goes on others, the steps of an item together.
pub(super) fn write_book(out: &mut impl Write, items: &[Plain], as_ods: bool) -> io::Result<()> {
    let columns = columns(items);
    let widths: Vec<f64> = columns.iter().map(|column| if column.is_wide() { 28.0 } else { 14.0 }).collect();
    let mut stretches = Vec::new();
    let (mut first, mut count) = (0, 1);
    for (at, item) in items.iter().enumerate() {
        if count + item.steps.len() > ROWS {
            stretches.push(first..at);
            (first, count) = (at, 1);
        }
        count += item.steps.len();
    }
    stretches.push(first..items.len());
    let sheet = |(at, own): (usize, Range<usize>)| Sheet {
        name: if at == 0 { "Bank".to_owned() } else { format!("Bank {}", at + 1) },
        rows: Box::new(rows(&columns, items.get(own).unwrap_or_default())),
        widths: widths.clone(),
        lists: Vec::new(),
    };
    let sheets: Vec<Sheet<'_>> = stretches.into_iter().enumerate().map(sheet).collect();
    if as_ods { sheets::ods(out, sheets).map(drop) } else { sheets::xlsx(out, sheets).map(drop) }
}

/// Why an item does not go into the cells of a workbook.
pub(super) fn too_long(item: &Plain) -> Option<String> {
    let columns = columns(std::slice::from_ref(item));
    let mut cells = item
        .steps
        .iter()
        .enumerate()
        .flat_map(|(at, step)| columns.iter().map(move |column| (column.name(), column.cell(item, at, step))));
    let is_long = |text: &str| text.len() > CELL && text.encode_utf16().count() > CELL;
    let (name, _) = cells.find(|(_, text)| is_long(text))?;
    Some(format!("its {name} is longer than the {CELL} characters that a cell takes"))
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
    /// Whether it holds drawings, arrows or texts.
    fn is_wide(&self) -> bool {
        matches!(self, Self::Known("start" | "arrows" | "answer" | "answers" | "prompt") | Self::Option(_))
    }

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
