//! An empty bank to fill in: the columns, two worked examples, the fields explained.

use super::sheets::{self, Sheet};
use crate::bank::Task;
use serde_json::{Value, json};
use std::io::{self, Write};

/// The kinds of templates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A comma-separated table.
    Csv,
    /// JSON Lines.
    JsonLines,
    /// A workbook, `.xlsx`.
    Xlsx,
    /// A workbook, `.ods`.
    Ods,
}

/// The fields with what they hold and the width of their columns.
const FIELDS: [(&str, &str, f64); 13] = [
    ("id", "the name of the question; no other question has it", 22.0),
    (
        "task",
        "step: one elementary step (also where nothing stands here); resonance: electrons move, no atom does",
        12.0,
    ),
    ("start", "the drawn start as SMILES; several species with a dot between them", 26.0),
    (
        "arrows",
        "the curved arrows, tail -> head, with semicolons between them; atoms are called by their labels ([CH2:7]) or, where there are none, by their places 1, 2, ...",
        26.0,
    ),
    ("answer", "the structure after the arrows; empty: an audit works it out", 26.0),
    ("omits", "species that the answer leaves out on purpose; * stands for any", 12.0),
    ("option_a", "multiple choice: the first drawn option", 20.0),
    ("option_b", "the second one", 20.0),
    ("option_c", "the third one", 20.0),
    ("option_d", "the fourth one; more columns may follow", 20.0),
    ("key", "the letter of the right option; several with a comma between them", 8.0),
    ("prompt", "the text of the question; it is never interpreted", 40.0),
    ("tags", "words of your own; they are never interpreted", 16.0),
];

/// The worked examples, in the order of the fields.
const EXAMPLES: [[&str; 13]; 2] = [
    [
        "example-substitution",
        "step",
        "[OH-].CBr",
        "1 -> 1-2; 2-3 -> 3",
        "OC.[Br-]",
        "",
        "",
        "",
        "",
        "",
        "",
        "Hydroxide displaces bromide. Draw the products.",
        "example",
    ],
    [
        "example-enolate",
        "resonance",
        "[CH2-:1][CH:2]=[O:3]",
        "1 -> 1-2; 2-3 -> 3",
        "",
        "",
        "[CH2:1]=[CH:2][O-:3]",
        "[CH2-:1][CH:2]=[O:3]",
        "[CH2:1]=[CH:2][OH:3]",
        "",
        "A",
        "Which drawing do the arrows lead to?",
        "example",
    ],
];

const ABOUT: &str = "Overwrite the examples with questions of your own.";

/// Writes a template. `caution` is what people have to read beside it.
///
/// # Errors
/// Writing fails.
pub fn template<W: Write>(mut out: W, kind: Kind, caution: &str) -> io::Result<W> {
    match kind {
        Kind::Csv => csv_table(&mut out, caution)?,
        Kind::JsonLines => json_lines(&mut out, caution)?,
        Kind::Xlsx => return sheets::xlsx(out, sheets(caution)),
        Kind::Ods => return sheets::ods(out, sheets(caution)),
    }
    Ok(out)
}

/// The explanations stand above the header, as titles do.
fn csv_table(out: &mut impl Write, caution: &str) -> io::Result<()> {
    let mut rows = csv::WriterBuilder::new().flexible(true).from_writer(out);
    rows.write_record([ABOUT])?;
    rows.write_record([caution])?;
    for (name, meaning, _) in FIELDS {
        rows.write_record([format!("{name}: {meaning}")])?;
    }
    rows.write_record(FIELDS.map(|(name, ..)| name))?;
    for example in EXAMPLES {
        rows.write_record(example)?;
    }
    rows.flush()
}

/// The explanations are a field of the first example, which no reader interprets.
fn json_lines(out: &mut impl Write, caution: &str) -> io::Result<()> {
    for (at, example) in EXAMPLES.iter().enumerate() {
        let mut object = serde_json::Map::new();
        let mut options = Vec::new();
        for ((name, ..), text) in FIELDS.iter().zip(example).filter(|(_, text)| !text.is_empty()) {
            match *name {
                "arrows" => drop(object.insert((*name).to_owned(), text.split("; ").collect())),
                option if option.starts_with("option_") => options.push(Value::from(*text)),
                name => drop(object.insert(name.to_owned(), json!(text))),
            }
        }
        if !options.is_empty() {
            object.insert("options".to_owned(), options.into());
        }
        if at == 0 {
            let meanings: Vec<String> = FIELDS.iter().map(|(name, meaning, _)| format!("{name}: {meaning}")).collect();
            object.insert(
                "explained".to_owned(),
                json!([&[ABOUT.to_owned(), caution.to_owned()][..], &meanings].concat()),
            );
        }
        writeln!(out, "{}", Value::Object(object))?;
    }
    Ok(())
}

fn sheets(caution: &str) -> Vec<Sheet<'static>> {
    let texts = |row: &[&str]| -> Vec<String> { row.iter().map(|own| (*own).to_owned()).collect() };
    let mut rows = vec![texts(&FIELDS.map(|(name, ..)| name))];
    rows.extend(EXAMPLES.iter().map(|example| texts(example)));
    let at = |field: &str| FIELDS.iter().position(|(name, ..)| *name == field).unwrap_or(0) as u16;
    let tasks = [Task::Step, Task::Resonance].map(Task::name).to_vec();
    let bank = Sheet {
        name: "Bank".to_owned(),
        rows: Box::new(rows.into_iter()),
        widths: FIELDS.map(|(.., width)| width).to_vec(),
        lists: vec![(at("task"), tasks), (at("key"), vec!["A", "B", "C", "D"])],
    };
    let mut explained = vec![texts(&["field", "what it holds"])];
    explained.extend(FIELDS.iter().map(|(name, meaning, _)| texts(&[name, meaning])));
    explained.extend([texts(&["", ABOUT]), texts(&["", caution])]);
    let fields = Sheet {
        name: "Fields".to_owned(),
        rows: Box::new(explained.into_iter()),
        widths: vec![12.0, 90.0],
        lists: Vec::new(),
    };
    vec![bank, fields]
}
