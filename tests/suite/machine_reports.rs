//! SARIF and `JUnit`: valid where their schemas and a validator are at hand, complete, and true.

use super::audits::{self, corpus, scratch};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

/// What the program says on standard error.
fn run(folder: &Path, arguments: &[&str]) -> String {
    String::from_utf8_lossy(&audits::run(folder, arguments).stderr).into_owned()
}

fn read(path: impl AsRef<Path>) -> String {
    let path = path.as_ref();
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn sarif(folder: &Path) -> Value {
    serde_json::from_str(&read(folder.join("out/audit.sarif"))).expect("SARIF is JSON")
}

fn results(sarif: &Value) -> &[Value] {
    sarif["runs"][0]["results"].as_array().map(Vec::as_slice).unwrap_or_default()
}

/// The demonstration bank in a folder of its own, audited.
fn demonstration(name: &str) -> PathBuf {
    let folder = scratch(name);
    std::fs::create_dir(folder.join("bank")).expect("the folder can be made");
    for file in std::fs::read_dir(corpus().join("demonstration")).expect("the bank is there").flatten() {
        if file.path().is_file() && file.path().extension().is_some_and(|ending| ending != "tsv") {
            std::fs::copy(file.path(), folder.join("bank").join(file.file_name())).expect("a bank can be copied");
        }
    }
    run(&folder, &["audit", "bank", "--write", "csv,json,sarif,junit", "--out", "out", "--quiet"]);
    folder
}

/// Byte of a line and column, both from 1, columns in characters.
fn byte_at(text: &str, line: u64, column: u64) -> usize {
    let start: usize = text.split_inclusive('\n').take(line as usize - 1).map(str::len).sum();
    let rest = &text[start..];
    start + rest.char_indices().nth(column as usize - 1).map_or(rest.len(), |(at, _)| at)
}

#[test]
fn fixes_are_what_amend_writes() {
    let folder = demonstration("sarif-fixes");
    let sarif = sarif(&folder);
    let mut changes: BTreeMap<String, BTreeSet<(usize, usize, String)>> = BTreeMap::new();
    for change in results(&sarif).iter().flat_map(|own| own["fixes"].as_array().into_iter().flatten()) {
        let change = &change["artifactChanges"][0];
        let file = change["artifactLocation"]["uri"].as_str().expect("a fix has a file");
        let text = read(folder.join(file));
        let replacement = &change["replacements"][0];
        let number = |name: &str| replacement["deletedRegion"][name].as_u64().expect("a region has numbers");
        let start = byte_at(&text, number("startLine"), number("startColumn"));
        let end = byte_at(&text, number("endLine"), number("endColumn"));
        let new = replacement["insertedContent"]["text"].as_str().expect("a fix has a text");
        changes.entry(file.to_owned()).or_default().insert((start, end, new.to_owned()));
    }
    let mut failures = Vec::new();
    for (file, changes) in &changes {
        let mut text = read(folder.join(file));
        for (start, end, new) in changes.iter().rev() {
            text.replace_range(start..end, new);
        }
        let said = run(&folder, &["amend", file, "--with", "out/corrections.csv", "--out", "copy"]);
        if read(folder.join("copy")) != text {
            failures.push(format!("{file} is amended otherwise: {said}"));
        }
    }
    assert!(changes.len() >= 6, "fixes in {} files", changes.len());
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn results_are_the_rows_of_the_table() {
    let folder = demonstration("sarif-rows");
    let mut reader = csv::Reader::from_reader(read(folder.join("out/audit.csv")).as_bytes().to_vec().leak() as &[u8]);
    let rows: Vec<csv::StringRecord> = reader.records().flatten().collect();
    let sarif = sarif(&folder);
    let results = results(&sarif);
    assert_eq!(rows.len(), results.len());
    let rules = sarif["runs"][0]["tool"]["driver"]["rules"].as_array().expect("there are rules");
    let mut failures = Vec::new();
    let mut fingerprints = BTreeSet::new();
    for (row, result) in rows.iter().zip(results) {
        let place = &result["locations"][0];
        let region = &place["physicalLocation"]["region"];
        let found = [
            place["physicalLocation"]["artifactLocation"]["uri"].as_str().unwrap_or_default(),
            place["logicalLocations"][0]["name"].as_str().unwrap_or_default(),
            result["level"].as_str().unwrap_or_default(),
            result["ruleId"].as_str().unwrap_or_default(),
        ];
        if found != [&row[0], &row[2], &row[4], &row[5]] {
            failures.push(format!("{row:?}: {found:?}"));
        }
        let rule = &rules[result["ruleIndex"].as_u64().unwrap_or(0) as usize];
        if rule["id"] != result["ruleId"] || rule["help"]["text"].as_str().is_none_or(str::is_empty) {
            failures.push(format!("{row:?}: {rule}"));
        }
        let line: u64 = row[1].parse().unwrap_or(0);
        if region["startLine"].as_u64().is_none_or(|own| own < line)
            || region["startColumn"].as_u64().is_none_or(|own| own < 1)
        {
            failures.push(format!("{row:?}: {region}"));
        }
        if !fingerprints.insert(result["partialFingerprints"].to_string()) {
            failures.push(format!("{row:?}: its fingerprint is another one's"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn fingerprints_outlive_lines_and_paths() {
    let folder = scratch("sarif-fingerprints");
    let bank = read(corpus().join("demonstration/resonance.csv"));
    let (header, rows) = bank.split_once('\n').expect("the bank has a header");
    std::fs::write(folder.join("a.csv"), &bank).expect("a bank can be written");
    let more = format!("{header}\n# a line,,,,\n\n{rows}");
    std::fs::create_dir(folder.join("moved")).expect("the folder can be made");
    std::fs::write(folder.join("moved/b.csv"), more).expect("a bank can be written");
    let fingerprints = |path: &str| {
        run(&folder, &["audit", path, "--write", "sarif", "--out", "out", "--quiet"]);
        let sarif = sarif(&folder);
        let own = |own: &&Value| !own["message"]["text"].as_str().unwrap_or_default().contains("the item has no");
        results(&sarif).iter().filter(own).map(|own| own["partialFingerprints"].to_string()).collect::<BTreeSet<_>>()
    };
    let (before, whole) = (fingerprints("a.csv"), folder.join("moved/b.csv"));
    let after = fingerprints(&whole.display().to_string());
    let text = read(folder.join("out/audit.sarif"));
    assert!(before.len() > 20 && before.is_subset(&after), "{:?}", before.difference(&after).collect::<Vec<_>>());
    assert!(text.contains("\"uri\":\"moved/b.csv\""), "the path is not relative");
    assert!(!text.contains(&folder.display().to_string()), "the path of this machine is in the report");
}

#[test]
fn every_item_is_a_test_case() {
    let folder = demonstration("junit-cases");
    let totals: Value = serde_json::from_str(&read(folder.join("out/audit.json"))).expect("it is JSON");
    let total = |name: &str| totals["totals"][name].as_u64().unwrap_or(0) as usize;
    let xml = read(folder.join("out/junit.xml"));
    let sum = |attribute: &str| -> usize {
        let suites = xml.lines().filter(|line| line.starts_with("<testsuite "));
        let value = |line: &str| {
            line.split_once(&format!(" {attribute}=\""))
                .and_then(|(_, rest)| rest.split('"').next()?.parse::<usize>().ok())
        };
        suites.filter_map(value).sum()
    };
    let found = [
        ("items", sum("tests")),
        ("items", xml.matches("<testcase ").count()),
        ("faulty", sum("failures")),
        ("faulty", xml.matches("<failure ").count()),
        ("unreadable", sum("errors")),
        ("unreadable", xml.matches("<error ").count()),
        ("undecided", sum("skipped")),
    ];
    for (name, count) in found {
        assert_eq!(count, total(name), "{name}");
    }
}

#[test]
fn junit_is_valid_whatever_the_bank_holds() {
    let schemas = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/reference/schemas");
    let has_validator = Command::new("xmllint").arg("--version").output().is_ok();
    let folder = demonstration("junit-valid");
    let rude = "id,start,arrows,answer,prompt\n\"<a b=\"\"1\"\">&\u{1}\",C,1 -> 2,C,]]>\n\" \",C\u{fffe},1 -> 2,C,\nx,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3],\n";
    std::fs::write(folder.join("bank/rude \u{e9}<&.csv"), rude).expect("a bank can be written");
    std::fs::write(folder.join("bank/none.csv"), "id,answer\n1,C\n").expect("a bank can be written");
    let mut failures = Vec::new();
    for fail_on in ["error", "warning", "never"] {
        run(&folder, &["audit", "bank", "--write", "junit", "--out", "out", "--fail-on", fail_on]);
        let xml = read(folder.join("out/junit.xml"));
        if !xml.contains("none.csv (the file)") {
            failures.push(format!("{fail_on}: the file that is no bank is not told"));
        }
        for schema in ["JUnit-windyroad.xsd", "junit-10.xsd"].map(|name| schemas.join(name)) {
            if !has_validator || !schema.exists() {
                continue;
            }
            let output = Command::new("xmllint")
                .arg("--noout")
                .arg("--schema")
                .arg(schema)
                .arg(folder.join("out/junit.xml"))
                .output();
            let output = output.expect("the validator starts");
            if !output.status.success() {
                failures.push(format!("{fail_on}: {}", String::from_utf8_lossy(&output.stderr)));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
