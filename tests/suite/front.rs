//! The front door of the library, and rows that a program gives.

use keyassay::{Bank, Class, Error, Given, Giver, Judge, Options, Rows};
use std::fmt::Write as _;
use std::io;
use std::sync::Arc;

const HEADER: [&str; 6] = ["id", "task", "start", "arrows", "answer", "prompt"];

/// A bank of enolates with chains of all lengths and long prompts: every seventh answer has lost its charge.
fn rows(count: usize) -> Vec<[String; 6]> {
    let row = |at: usize| {
        let tail = format!("{}{}{}", "C".repeat(1 + at % 20), ["O", "N"][at % 2], "C".repeat(1 + at / 40));
        let charge = if at.is_multiple_of(7) { "" } else { "-" };
        [
            format!("q{at}"),
            "resonance".to_owned(),
            format!("[CH2-:1][C:2](=[O:3]){tail}"),
            "1 -> 1-2; 2-3 -> 3".to_owned(),
            format!("[CH2:1]=[C:2]([O{charge}:3]){tail}"),
            "Where do the electrons go? ".repeat(20),
        ]
    };
    (0..count).map(row).collect()
}

fn csv(rows: &[[String; 6]], line_break: &str) -> String {
    let mut text = HEADER.join(",") + line_break;
    for row in rows {
        let _ = write!(text, "{}{line_break}", row.join(","));
    }
    text
}

/// Places and names of findings.
fn told(bank: &Bank) -> Vec<(u32, String, &'static str, String)> {
    let audit = keyassay::audit(bank).expect("the bank is read");
    let one = |(item, finding): (&keyassay::Audited, &keyassay::Finding)| {
        (item.line, item.id.clone(), finding.name.entry().name, finding.correction.clone())
    };
    audit.findings().map(one).collect()
}

/// A file is cut into pieces; whatever ends its lines, each item keeps its line.
#[test]
fn lines_are_counted_through_all_pieces_whatever_ends_them() {
    let rows = rows(1_200);
    let expected = told(&Bank::text("bank.csv", csv(&rows, "\n")).expect("it is CSV"));
    assert!(expected.len() > 300 && csv(&rows, "\n").len() > 3 << 18, "{}", expected.len());
    assert_eq!(expected.last().map(|own| own.0), Some(1_201));
    let mut failures = Vec::new();
    for line_break in ["\r\n", "\r"] {
        let found = told(&Bank::text("bank.csv", csv(&rows, line_break)).expect("it is CSV"));
        if let Some((one, other)) = found.iter().zip(&expected).find(|(one, other)| one != other) {
            failures.push(format!("{line_break:?}: {one:?}, not {other:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Rows as a program has them.
#[derive(Debug)]
struct Table(Vec<[String; 6]>);

struct Reading(Vec<[String; 6]>, usize);

impl Given for Table {
    fn begin(&self) -> io::Result<Box<dyn Giver>> {
        Ok(Box::new(Reading(self.0.clone(), 0)))
    }
}

impl Giver for Reading {
    fn give(&mut self, rows: &mut Rows) -> io::Result<bool> {
        if self.1 == 0 {
            rows.header(&HEADER.map(str::to_owned))?;
        }
        let Some(row) = self.0.get(self.1) else { return Ok(false) };
        for (at, cell) in row.iter().enumerate() {
            rows.cell(at).push_str(cell);
        }
        rows.end_row();
        self.1 += 1;
        Ok(true)
    }
}

#[test]
fn rows_say_what_the_file_says() {
    let rows = rows(700);
    let file = told(&Bank::text("bank.csv", csv(&rows, "\n")).expect("it is CSV"));
    let given = told(&Bank::given(Arc::new(Table(rows))));
    let expected: Vec<_> =
        file.into_iter().map(|(line, id, name, correction)| (line - 1, id, name, correction)).collect();
    assert_eq!(given, expected);
}

#[test]
fn rows_without_a_question_are_counted_and_named() {
    let mut rows = rows(10);
    rows.insert(3, ["Week 2".to_owned(), String::new(), String::new(), String::new(), String::new(), String::new()]);
    rows[5][0] = String::new();
    rows[5][2] = "C(".to_owned();
    let audit = keyassay::audit(&Bank::given(Arc::new(Table(rows)))).expect("the rows are read");
    assert_eq!((audit.totals().items, audit.totals().unasked), (10, 1));
    assert_eq!(audit.summary.unasked[0].1.to_string(), "1 row (line 4)");
    let nameless = audit.items.iter().find(|item| item.class == Class::Unreadable).expect("it cannot be read");
    assert_eq!((nameless.line, nameless.id.as_str(), &*nameless.file), (6, "row 6", ""));
}

#[test]
fn errors_point_at_their_character() {
    type Call = fn() -> Result<(), Error>;
    let cases: [(&str, Call, u32); 6] = [
        ("structure", || keyassay::push("C(C", "1-2 -> 2").map(drop), 2),
        ("arrows", || keyassay::push("CC", "1-2 -> 9").map(drop), 8),
        ("structure", || keyassay::infer("CC", "C[C").map(drop), 2),
        ("arrows", || keyassay::infer("CC", "CCC").map(drop), 0),
        ("structure", || keyassay::contributors("c1cccc1").map(drop), 0),
        ("structure", || keyassay::draw("C%", None, keyassay::Picture::default()).map(drop), 2),
    ];
    let mut failures = Vec::new();
    for (at, (kind, call, column)) in cases.into_iter().enumerate() {
        let found = match call() {
            Err(Error::Structure { column, .. }) => ("structure", column),
            Err(Error::Arrows { column, .. }) => ("arrows", column),
            other => {
                failures.push(format!("{at}: {other:?}"));
                continue;
            }
        };
        if found != (kind, column) {
            failures.push(format!("{at}: {found:?}, not {:?}", (kind, column)));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn verdicts_have_fingerprints_of_what_is_asked_and_answered() {
    let judge = Judge::new(&Options::default()).expect("there is no profile");
    let verdict = |start: &str, arrows: &str, answer: &str| {
        let object = format!(r#"{{"start": "{start}", "arrows": "{arrows}", "answer": "{answer}"}}"#);
        judge.object(&object).expect("it is an item")
    };
    let right = verdict("[CH2-:1][CH:2]=[O:3]", "1 -> 1-2; 2-3 -> 3", "[CH2:1]=[CH:2][O-:3]");
    let same = verdict("[O:7]=[CH:8][CH2-:9]", "8-7 -> 7; 9 -> 9-8", "[O-:7][CH:8]=[CH2:9]");
    let wrong = verdict("[CH2-:1][CH:2]=[O:3]", "1 -> 1-2; 2-3 -> 3", "[CH2:1]=[CH:2][O:3]");
    let other = verdict("[CH2-:1][CH:2]=[S:3]", "1 -> 1-2; 2-3 -> 3", "[CH2:1]=[CH:2][S-:3]");
    assert_eq!((right.class, wrong.class), (Class::Sound, Class::Faulty));
    assert!(right.question.is_some() && right.question == same.question && right.answer == same.answer);
    assert!(right.question == wrong.question && right.answer != wrong.answer);
    assert!(right.question != other.question);
    assert_eq!(verdict("C(", "1 -> 2", "C").question, None);
}
