//! Banks that mean harm to whoever opens the reports: with a spreadsheet, a browser, a terminal, a code host.

use super::audits::{run, scratch};
use keyassay::report::cell::as_written;
use std::collections::BTreeSet;
use std::fs;

/// Beginnings that a spreadsheet runs, deletes or moves (OWASP, CSV injection).
const RISKY: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];
const IDS: [&str; 8] = [
    "=1+1",
    "+1",
    "-1 -> 2",
    "@SUM(A1)",
    "=HYPERLINK(\"http://127.0.0.1:1/?\"&A1)",
    "'=1",
    "''-x",
    "=cmd|' /C calc'!A0",
];

/// A bank whose items have such names and such structures; each answer has a charge too few.
fn bank() -> String {
    let item = |id: &&str| {
        serde_json::json!({
            "id": id, "prompt": id, "tags": id,
            "start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "[CH2:1]=[CH:2][O:3]",
        })
    };
    let structures = RISKY.map(
        |risky| serde_json::json!({"id": format!("{risky}s"), "start": format!("{risky}C"), "arrows": "1 -> 1-2"}),
    );
    let lines: Vec<String> = IDS.iter().map(item).chain(structures).map(|item| item.to_string()).collect();
    lines.join("\n")
}

#[test]
fn cells_of_all_tables_are_harmless_and_can_be_taken_back() {
    let folder = scratch("attack-cells");
    fs::write(folder.join("=bank.jsonl"), bank()).expect("the bank can be written");
    let arguments = ["audit", "=bank.jsonl", "--out", "out", "--write-known", "known.csv", "--fail-on", "never"];
    let said = run(&folder, &arguments);
    let again = run(&folder, &["audit", "=bank.jsonl", "--out", "out", "--since", "out", "--fail-on", "never"]);
    let known = run(&folder, &["audit", "=bank.jsonl", "--out", "again", "--known", "known.csv"]);
    let mut failures = Vec::new();
    for name in ["out/audit.csv", "out/corrections.csv", "out/corrections.files.csv", "out/changes.csv", "known.csv"] {
        let Ok(text) = fs::read_to_string(folder.join(name)) else {
            failures.push(format!("there is no {name}: {said:?} {again:?}"));
            continue;
        };
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().flatten().collect();
        let cells = rows.iter().flatten();
        failures.extend(cells.clone().filter(|cell| cell.starts_with(RISKY)).map(|cell| format!("{name}: {cell:?}")));
        let cells: BTreeSet<String> = cells.map(as_written).collect();
        if name == "out/audit.csv" {
            failures.extend(IDS.iter().filter(|id| !cells.contains(**id)).map(|id| format!("{name} has lost {id:?}")));
        }
    }
    // What is taken back names the items still: the list of known findings holds, the corrections find their place.
    if known.status.code() != Some(0) {
        failures.push(format!("known: {known:?}"));
    }
    let amended = run(&folder, &["amend", "=bank.jsonl", "--with", "out/corrections.csv", "--out", "new.jsonl"]);
    let new = fs::read_to_string(folder.join("new.jsonl")).unwrap_or_default();
    if new.matches("[CH2:1]=[CH:2][O-:3]").count() != IDS.len() {
        failures.push(format!("amend: {amended:?}\n{new}"));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn the_terminal_shows_no_control_characters_of_banks_and_their_names() {
    let folder = scratch("attack-terminal");
    let name = "\u{1b}[2J\u{1b}]0;owned\u{7}\u{202e}.jsonl";
    let item = serde_json::json!({
        "id": "\u{1b}[31mred\u{9b}2J", "start": "\u{1b}C", "arrows": "\u{1b}[A", "answer": "\u{8}\u{8}\u{8}", "key": "\u{1b}c",
    });
    fs::write(folder.join(name), format!("{item}\n")).expect("the bank can be written");
    fs::write(folder.join("other.csv"), "\u{1b}[31m,price\nspoon,2\n").expect("a file can be written");
    let mut failures = Vec::new();
    let commands: [&[&str]; 6] = [
        &["audit", ".", "--out", "out"],
        &["audit", name, "--out", "out", "--write", "csv"],
        &["audit", "\u{1b}[2Jnone.csv"],
        &["push", "\u{1b}[2JC", "1 -> \u{1b}"],
        &["amend", name, "--with", "out/corrections.csv", "--out", "new.jsonl"],
        &["convert", name, "--to", "csv", "--out", "new.csv"],
    ];
    for arguments in commands {
        let output = run(&folder, arguments);
        let shown = [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
        let steers =
            |c: char| (c.is_control() && c != '\n') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        if shown.contains(steers) {
            failures.push(format!("{arguments:?}: {shown:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn pages_forbid_what_they_do_not_need() {
    let folder = scratch("attack-policy");
    fs::write(folder.join("bank.jsonl"), bank()).expect("the bank can be written");
    run(&folder, &["audit", "bank.jsonl", "--out", "out", "--write", "html"]);
    let page = fs::read_to_string(folder.join("out/audit.html")).unwrap_or_default();
    let head = page.split("</head>").next().unwrap_or_default();
    let policy = head.split("http-equiv=\"Content-Security-Policy\" content=\"").nth(1);
    let policy = policy.and_then(|rest| rest.split('"').next()).unwrap_or_default().replace("&#39;", "'");
    let rules: Vec<&str> = policy.split(';').map(str::trim).collect();
    // A browser heeds what stands behind the policy only: it comes before anything that could load or run.
    let before = head.split("Content-Security-Policy").next().unwrap_or_default();
    assert!(!before.contains("<style") && !before.contains("<script") && !before.contains("<link"), "{before}");
    assert!(rules.contains(&"default-src 'none'"), "{policy}");
    assert!(rules.contains(&"base-uri 'none'") && rules.contains(&"form-action 'none'"), "{policy}");
    let scripts = rules.iter().find(|rule| rule.starts_with("script-src")).copied().unwrap_or_default();
    assert!(scripts.starts_with("script-src 'sha256-") && !scripts.contains("unsafe"), "{policy}");
    assert!(!policy.contains("http") && !policy.contains('*') && !policy.contains("data:"), "{policy}");
}

#[test]
fn sarif_names_files_by_relative_paths_alone() {
    let folder = scratch("attack-sarif");
    fs::create_dir_all(folder.join("sets/a b")).expect("folders can be made");
    fs::create_dir_all(folder.join("work")).expect("folders can be made");
    for path in ["sets/a b/bank.jsonl", "work/c:bank.jsonl", "work/bank.jsonl"] {
        fs::write(folder.join(path), bank()).expect("the bank can be written");
    }
    let work = fs::canonicalize(folder.join("work")).expect("it is there");
    let absolute = |path: &str| work.join(path).display().to_string();
    let cases = [
        ("bank.jsonl".to_owned(), "bank.jsonl"),
        ("./bank.jsonl".to_owned(), "bank.jsonl"),
        (absolute("bank.jsonl"), "bank.jsonl"),
        ("c:bank.jsonl".to_owned(), "c%3Abank.jsonl"),
        ("../sets/a b/bank.jsonl".to_owned(), "../sets/a%20b/bank.jsonl"),
        (absolute("../sets/a b/bank.jsonl"), "../sets/a%20b/bank.jsonl"),
    ];
    let mut failures = Vec::new();
    for (path, expected) in cases {
        run(&work, &["audit", &path, "--out", "out", "--write", "sarif"]);
        let text = fs::read_to_string(work.join("out/audit.sarif")).unwrap_or_default();
        let sarif: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
        let mut found = BTreeSet::new();
        let results = sarif["runs"][0]["results"].as_array().into_iter().flatten();
        for result in results {
            let changed = result["fixes"][0]["artifactChanges"][0]["artifactLocation"]["uri"].as_str();
            let place = &result["locations"][0]["physicalLocation"]["artifactLocation"];
            found.extend(changed.into_iter().chain(place["uri"].as_str()).map(str::to_owned));
            if place["uriBaseId"] != "%SRCROOT%" {
                failures.push(format!("{path}: {place}"));
            }
        }
        if found != BTreeSet::from([expected.to_owned()]) {
            failures.push(format!("{path}: {found:?}, expected {expected}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
