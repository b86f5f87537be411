//! `survey.csv` and `survey.json`.

use super::shown::of_value;
use super::{Section, Survey, never};
use crate::report::file::WholeFile;
use crate::report::table::Table;
use serde_json::{Map, Value, json};
use std::io::{self, Write as _};
use std::path::Path;

/// The columns of `survey.csv`.
const COLUMNS: [&str; 9] =
    ["section", "value", "count", "unit", "near_repeats", "surroundings", "first_file", "first_line", "first_item"];

/// Writes both files into a folder. What never occurs has the count 0.
///
/// # Errors
/// They cannot be written.
pub fn write_tables(survey: &Survey, folder: &Path) -> io::Result<()> {
    let mut table = Table::create(&folder.join("survey.csv"), &COLUMNS)?;
    let sections = sections(survey, &mut table)?;
    let absent = never(survey);
    for own in &absent {
        table.row(&plain(own.section, of_value(&own.value), 0))?;
    }
    let families = families(survey, &mut table)?;
    table.finish()?;
    let absent = absent.iter().map(|own| json!({"section": own.section.name(), "value": of_value(&own.value)}));
    let whole = json!({
        "tool": {"name": "keyassay", "version": env!("CARGO_PKG_VERSION")},
        "totals": {
            "items": survey.items, "steps": survey.steps, "arrows": survey.arrows,
            "not-counted": survey.unread, "with-steps-not-counted": survey.unpushed,
        },
        "sections": sections,
        "never": absent.collect::<Vec<_>>(),
        "families": families,
        "families-not-told-apart": survey.families.others,
    });
    let mut file = WholeFile::create(&folder.join("survey.json"))?;
    writeln!(file, "{whole:#}")?;
    file.finish()
}

/// A row of what is counted in a section.
fn plain(section: Section, value: String, count: u64) -> [String; 9] {
    let none = String::new;
    let (name, unit) = (section.name().to_owned(), section.unit().to_owned());
    [name, value, count.to_string(), unit, none(), none(), none(), none(), none()]
}

/// The rows of all sections, and what the other file says of them.
fn sections(survey: &Survey, table: &mut Table) -> io::Result<Map<String, Value>> {
    let mut sections = Map::new();
    for section in Section::ALL {
        let counted = survey.counts.section(section).into_iter().map(|(value, count)| (of_value(value), count));
        let others = survey.counts.others(section);
        let others = (others > 0).then(|| ("others, not told apart".to_owned(), others));
        let mut values = Vec::new();
        for (value, count) in counted.chain(others) {
            values.push(json!({"value": value, "count": count}));
            table.row(&plain(section, value, count))?;
        }
        sections.insert(section.name().to_owned(), values.into());
    }
    Ok(sections)
}

/// The rows of all families, and what the other file says of them.
fn families(survey: &Survey, table: &mut Table) -> io::Result<Vec<Value>> {
    let mut families = Vec::new();
    for own in survey.families.list() {
        let first = &own.first;
        table.row(&[
            "family".to_owned(),
            own.words.clone(),
            own.steps.to_string(),
            "steps".to_owned(),
            own.near.to_string(),
            own.surroundings.to_string(),
            first.file.to_string(),
            first.line.to_string(),
            first.item.clone(),
        ])?;
        families.push(json!({
            "centre": own.words, "steps": own.steps, "near-repeats": own.near, "surroundings": own.surroundings,
            "first": {"file": &*first.file, "line": first.line, "item": first.item},
        }));
    }
    Ok(families)
}
