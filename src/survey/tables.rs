//! `survey.csv` and `survey.json`.

use super::shown::of_value;
use super::{Section, Survey, never};
use crate::report::file::WholeFile;
use crate::report::table::Table;
use serde_json::json;
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
    let mut sections = serde_json::Map::new();
    let mut row = |cells: [String; 9]| table.row(&cells);
    let plain = |section: Section, value: String, count: u64| {
        let none = String::new;
        let (name, unit) = (section.name().to_owned(), section.unit().to_owned());
        [name, value, count.to_string(), unit, none(), none(), none(), none(), none()]
    };
    for section in Section::ALL {
        let mut values = Vec::new();
        for (value, count) in survey.counts.section(section) {
            row(plain(section, of_value(value), count))?;
            values.push(json!({"value": of_value(value), "count": count}));
        }
        if survey.counts.others(section) > 0 {
            let count = survey.counts.others(section);
            row(plain(section, "others, not told apart".to_owned(), count))?;
            values.push(json!({"value": "others, not told apart", "count": count}));
        }
        sections.insert(section.name().to_owned(), values.into());
    }
    let absent = never(survey);
    for own in &absent {
        row(plain(own.section, of_value(&own.value), 0))?;
    }
    let mut families = Vec::new();
    for own in survey.families.list() {
        let first = &own.first;
        row([
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
