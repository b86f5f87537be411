//! Faults on the terminal: the line, the mark under the character, what to do, in 80 columns and without colours in a pipe.

use super::audits::scratch;
use std::path::Path;
use std::process::Command;

fn said(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("the program starts");
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// What is under the marks of a complaint, marks taken away from both.
fn marked(text: &str) -> Option<String> {
    let lines: Vec<&str> = text.lines().collect();
    let at = lines.iter().position(|line| line.contains('^'))?;
    let (line, marks) = (lines.get(at.checked_sub(1)?)?, lines[at]);
    let from = marks.chars().position(|own| own == '^')?;
    let count = marks.chars().filter(|own| *own == '^').count();
    Some(line.chars().skip(from).take(count).collect())
}

#[test]
fn faults_are_shown_at_their_place() {
    let folder = scratch("terminal");
    let long = "x".repeat(300);
    let bank = format!(
        "id,prompt,start,arrows,answer\n\
         short,,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2#3 -> 3,[CH2:1]=[CH:2][O-:3]\n\
         long,{long},[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 7,{}\n\
         \u{1b}[31mrude,\u{e9}\u{1b}]0;t\u{7},C1CC,1 -> 2,C\n",
        "C".repeat(400)
    );
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    std::fs::write(folder.join("wrong.toml"), "# sets of 2009\ncolumms = 3\n").expect("the profile can be written");
    std::fs::write(folder.join("known.csv"), "item,finding\nshort,emty-tail\n").expect("the list can be written");
    let audit = said(&folder, &["audit", "bank.csv", "--out", "out", "--write", "csv"]);
    let parts: Vec<&str> = audit.split("\n\n").collect();
    let first = |arguments: &[&str]| said(&folder, arguments);
    let cases = [
        (parts.first().copied().unwrap_or_default().to_owned(), "#", "bank.csv:2:40", "Write TAIL -> HEAD"),
        (parts.get(1).copied().unwrap_or_default().to_owned(), "7", "bank.csv:3:", "Use the labels of the start"),
        (parts.get(2).copied().unwrap_or_default().to_owned(), "1", "bank.csv:4:", "Mend the structure"),
        (first(&["push", "[CH2-:1][CH:2]=[O:3", "1 -> 1-2"]), "[", "unreadable-structure", "Mend the structure"),
        (first(&["push", "[CH2-:1][CH:2]=[O:3]", "1 -> 1-2; 2#3 -> 3"]), "#", "unreadable-arrows", "Write TAIL"),
        (first(&["infer", "C(", "C"]), "", "the start", "Mend the structure"),
        (first(&["contributors", "c1ccnc1"]), "c1ccnc1", "no localised form", "Draw the hydrogen"),
        (first(&["draw", "CX"]), "X", "the structure", "Mend the structure"),
        (
            first(&["audit", "bank.csv", "--profile", "wrong.toml"]),
            "columms",
            "wrong.toml:2:1",
            "did you mean 'columns'?",
        ),
        (
            first(&["audit", "bank.csv", "--known", "known.csv"]),
            "emty-tail",
            "known.csv:2:7",
            "did you mean 'empty-tail'?",
        ),
    ];
    let mut failures = Vec::new();
    for (text, place, message, remedy) in cases {
        let shown = marked(&text).unwrap_or_default();
        if !(shown.starts_with(place) && text.contains(message) && text.contains(remedy)) {
            failures.push(format!("expected {place}, {message}, {remedy}; marked {shown}\n{text}"));
        }
        if let Some(line) = text.lines().find(|line| line.chars().count() > 80) {
            failures.push(format!("wider than 80 columns: {line}"));
        }
        if text.contains(|own: char| own.is_control() && own != '\n') {
            failures.push(format!("has control characters: {text:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
