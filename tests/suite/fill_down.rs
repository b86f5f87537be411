//! Empty cells of tables that take their text from above: as a table with every cell filled.

use keyassay::bank::fields::Name;
use keyassay::bank::{Arrows, Drawing, Format, Settings, open};
use std::fmt::Write as _;
use std::io::Cursor;
use std::sync::Arc;

/// Each item: its line and what it says.
fn items(text: &str, settings: Settings) -> Vec<String> {
    let reader = Box::new(Cursor::new(text.to_owned().into_bytes()));
    let mut source = open("bank", Format::Csv, reader, &Arc::new(settings)).expect("it is a bank");
    let mut said = Vec::new();
    while let Some(batch) = source.next_batch().expect("memory can be read") {
        for record in batch.records().1 {
            let item = record.content.expect("each row is an item");
            let mut own = format!("{} {}", record.line, item.id);
            for step in &item.steps {
                let start = match &step.start {
                    Some(Drawing::Text(field)) => field.text.trim(),
                    _ => "",
                };
                let arrows = match &step.arrows {
                    Some(Arrows::Text(field)) => field.text.as_str(),
                    _ => "",
                };
                let _ = write!(own, " | {} {start} {arrows}", step.number);
            }
            said.push(own);
        }
    }
    said
}

/// A table longer than any piece of it that is read at once.
fn table(is_filled: bool, with_steps: bool) -> String {
    let mut text = String::from(if with_steps { "id,step,start,arrows,answer\n" } else { "id,start,arrows,answer\n" });
    for at in 0..6_000 {
        let first = at % 3 == 0;
        let id = if with_steps { format!("q{}", at / 3) } else { format!("q{at}") };
        let start = format!("\"C{}=O\"", "C".repeat(at / 3 % 7));
        let (id, start) = match (is_filled || first, with_steps) {
            (true, false) => (id, start),
            (false, false) => (id, String::from(" ")),
            (true, true) => (id, if first { start } else { String::new() }),
            (false, true) => (String::new(), String::new()),
        };
        let step = if with_steps { format!("{},", at % 3 + 1) } else { String::new() };
        let _ =
            writeln!(text, "{id},{step}{start},1-2 -> 2; 2 -> 1-2; 1-2 -> {},CC{}=O", at % 2 + 1, "C".repeat(at % 40));
        if at % 500 == 0 {
            text.push_str("Chapter,,,\n");
        }
    }
    text
}

#[test]
fn cells_filled_from_above_are_read_as_those_that_are_written() {
    let down = Settings { fill_down: vec![Name::Start], ..Settings::default() };
    let cases = [(false, down), (true, Settings::default())];
    let mut failures = Vec::new();
    for (with_steps, settings) in cases {
        let (left, filled) =
            (items(&table(false, with_steps), settings), items(&table(true, with_steps), Settings::default()));
        let expected = if with_steps { 2_000 } else { 6_000 };
        if left.len() != expected || filled.len() != expected {
            failures.push(format!("steps {with_steps}: {} and {} items", left.len(), filled.len()));
        }
        let differ = left.iter().zip(&filled).find(|(left, filled)| left != filled);
        failures.extend(differ.map(|(left, filled)| format!("steps {with_steps}: {left}, filled {filled}")));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
