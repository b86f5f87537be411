//! Tables that were put one below the other: rows are read under the header that stands above them.

use keyassay::bank::{Arrows, Drawing, Format, Settings, open};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::io::Cursor;
use std::sync::Arc;

const DRAWN: &str = "[CH2-:1][CH:2]=[O:3]";
const ARROWS: &str = "1 -> 1-2; 2-3 -> 3";
const ANSWER: &str = "[CH2:1]=[CH:2][O-:3]";

/// What each item says, what there is to say of the file, and its rows without a question.
fn read(text: &str, format: Format) -> (Vec<String>, Vec<String>, String) {
    let columns = HashMap::from([("edukt".to_owned(), "start".to_owned())]);
    let settings = Arc::new(Settings { columns, ..Settings::default() });
    let reader = Box::new(Cursor::new(text.to_owned().into_bytes()));
    let mut source = open("bank", format, reader, &settings).expect("it is a bank");
    let mut said = Vec::new();
    let drawn = |own: &Option<Drawing>| match own {
        Some(Drawing::Text(field)) => field.text.clone(),
        _ => String::new(),
    };
    while let Some(batch) = source.next_batch().expect("memory can be read") {
        for record in batch.records().1 {
            let item = match record.content {
                Ok(item) => item,
                Err(bad) => {
                    said.push(format!("{}: {}", record.line, bad.message));
                    continue;
                }
            };
            let mut own = format!("{}: {}", record.line, item.id);
            for step in &item.steps {
                let arrows = match &step.arrows {
                    Some(Arrows::Text(field)) => field.text.as_str(),
                    _ => "",
                };
                let _ = write!(own, " | {} {} {arrows} {}", step.number, drawn(&step.start), drawn(&step.answer));
            }
            said.push(own);
        }
    }
    let unasked: Vec<String> = source.unasked().into_iter().map(|(_, own)| own.lines()).collect();
    (said, source.notes(), unasked.join("; "))
}

fn item(line: u32, id: &str) -> String {
    format!("{line}: {id} | 0 {DRAWN} {ARROWS} {ANSWER}")
}

#[test]
fn rows_are_read_under_the_header_above_them() {
    let other = |line: u32, columns: &str| {
        vec![format!(
            "bank: another header stands in line {line}, whose columns are in another order: the rows below it are read under it \
             ({columns})"
        )]
    };
    let first = format!("id,start,arrows,answer\nq1,{DRAWN},{ARROWS},{ANSWER}\n");
    let cases = [
        (
            format!("{first}id,answer,start,arrows\nq2,{ANSWER},{DRAWN},{ARROWS}\n"),
            vec![item(2, "q1"), item(4, "q2")],
            other(3, "id, answer, start, arrows"),
            "",
        ),
        // Other columns, quotes, a blank line, a title, no line break at the end.
        (
            format!(
                "{first}\nSecond week,,,\n\"ID\",\"Prompt\",\"Answer\",\"Edukt\",\"Arrows\"\nq2,\"a, b\",{ANSWER},{DRAWN},{ARROWS}"
            ),
            vec![item(2, "q1"), item(6, "q2")],
            other(5, "ID, Prompt, Answer, Edukt, Arrows"),
            "4",
        ),
        // The same header again asks nothing, and no other one.
        (
            format!("{first}id,start,arrows,answer\nq2,{DRAWN},{ARROWS},{ANSWER}\n"),
            vec![item(2, "q1"), item(4, "q2")],
            vec![],
            "3",
        ),
        // Three tables, the last as the first.
        (
            format!("{first}answer,start,arrows,id\n{ANSWER},{DRAWN},{ARROWS},q2\n{}", first.replace("q1", "q3")),
            vec![item(2, "q1"), item(4, "q2"), item(6, "q3")],
            [other(3, "answer, start, arrows, id"), other(5, "id, start, arrows, answer")].concat(),
            "",
        ),
        // A header at the end, and one right below another.
        (
            format!("{first}answer,start\nid,answer,start,arrows"),
            vec![item(2, "q1")],
            [other(3, "answer, start"), other(4, "id, answer, start, arrows")].concat(),
            "",
        ),
        // Names in a question are none.
        (
            format!(
                "id,prompt,start,arrows,answer\nq1,start,{DRAWN},{ARROWS},{ANSWER}\nanswer,start,{DRAWN},{ARROWS},{ANSWER}\n"
            ),
            vec![item(2, "q1"), item(3, "answer")],
            vec![],
            "",
        ),
    ];
    let mut failures = Vec::new();
    for (text, items, notes, unasked) in cases {
        for (text, format) in
            [(text.clone(), Format::Csv), (text.replace("\"a, b\"", "a").replace(',', "\t"), Format::Tsv)]
        {
            let found = read(&text, format);
            if found != (items.clone(), notes.clone(), unasked.to_owned()) {
                failures.push(format!("{text}\n{found:#?}"));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Tables of many pieces, with steps whose ids stand in different columns.
#[test]
fn steps_stay_together_below_another_header() {
    let mut text = String::from("id,step,start,arrows,answer\n");
    for at in 0..9_000 {
        let _ = writeln!(text, "q{},{},{DRAWN},{ARROWS},{ANSWER}", at / 3, at % 3 + 1);
    }
    text.push_str("answer,start,arrows,step,id\n");
    for at in 9_000..18_000 {
        let _ = writeln!(text, "{ANSWER},{DRAWN},{ARROWS},{},q{}", at % 3 + 1, at / 3);
    }
    let (items, notes, unasked) = read(&text, Format::Csv);
    assert_eq!((items.len(), notes.len(), unasked.as_str()), (6_000, 1, ""));
    let step = |number: usize| format!(" | {number} {DRAWN} {ARROWS} {ANSWER}");
    let whole = [step(1), step(2), step(3)].concat();
    let parted = items.iter().enumerate().find(|(at, own)| !own.ends_with(&format!(": q{at}{whole}")));
    assert!(parted.is_none(), "{parted:?}");
}
