//! An audit in shards, gathered, is the audit of one run byte for byte; what cannot be gathered says why.

use super::audits::{corpus, run, scratch};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// Arrows that a shard does not keep: what was normalised stands on the page only.
const TYPOGRAPHIC: &str = "1 \u{2192} 1\u{2013}2; 2-3 \u{2192} 3";

/// A folder of banks: a table of several chunks in which questions and ids repeat, answers are shifted, arrows are typed with
/// typographic signs and marks of stereochemistry stand at touched atoms; and the demonstration in every format.
fn banks(folder: &Path) {
    let mut table = "id,start,arrows,answer,prompt\n".to_owned();
    for number in 0..1_600_u32 {
        let length = number % 37 + 1;
        let chain: String = (0..length).fold(String::new(), |mut chain, at| {
            let _ = write!(chain, "[CH2:{}]", 10 + at);
            chain
        });
        let isotope = 300 + number / 37;
        let start = format!("[OH-:1].[{isotope}CH3:9]{chain}[CH2:2][Br:3]");
        let product = |length, isotope| format!("[OH:1][CH2:2]{}[{isotope}CH3:9].[Br-:3]", reversed(length));
        let own = product(length, isotope);
        let (arrows, answer) = match number % 97 {
            3 => ("1 -> 1-2; 2-3 -> 3", own.replace("[Br-:3]", "[Br:3]")),
            5 => (TYPOGRAPHIC, own),
            // A run of shifted answers, in which a shard does not keep every item.
            40..=60 => {
                let next = number + 1;
                let arrows = if number % 7 < 2 { TYPOGRAPHIC } else { "1 -> 1-2; 2-3 -> 3" };
                (arrows, product(next % 37 + 1, 300 + next / 37))
            }
            7 => ("1 -> 1-2", own),
            11 => ("1 -> 1-2; 2-3 -> 3", String::new()),
            13 => ("1 -> 9-2; 2-3 -> 3", own),
            // The same question as an earlier one, and that with another answer.
            20..=22 => ("1 -> 1-2; 2-3 -> 3", "OCCC.[Br-]".to_owned()),
            _ => ("1 -> 1-2; 2-3 -> 3", own),
        };
        let start = if number % 97 == 20 { "[OH-:1].CCC[CH2:2][Br:3]".to_owned() } else { start };
        let start = if number % 97 == 30 { start.replace("[CH2:2]", "[C@@:2]([2H])([3H])") } else { start };
        let id = if number % 500 == 499 { "twice".to_owned() } else { format!("h{number}") };
        let _ = writeln!(table, "{id},{start},{arrows},{answer},of {number}");
    }
    fs::write(folder.join("harrow.csv"), table).expect("a bank can be written");
    for entry in fs::read_dir(corpus().join("demonstration")).expect("the demonstration").flatten() {
        if entry.path().is_file() {
            fs::copy(entry.path(), folder.join(entry.file_name())).expect("a bank can be copied");
        }
    }
}

fn reversed(length: u32) -> String {
    (0..length).rev().fold(String::new(), |mut chain, at| {
        let _ = write!(chain, "[CH2:{}]", 10 + at);
        chain
    })
}

/// The reports of a folder, without what tells the time.
fn reports(folder: &Path) -> BTreeMap<String, String> {
    let is_time = |line: &str| line.contains("class=\"meta\"") || line.contains("timestamp");
    let mut reports = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("reports").flatten().filter(|entry| entry.path().is_file()) {
        let text = fs::read_to_string(entry.path()).expect("a text");
        let text: Vec<&str> = text.lines().filter(|line| !is_time(line)).collect();
        reports.insert(entry.file_name().to_string_lossy().into_owned(), text.join("\n"));
    }
    reports
}

#[test]
fn gathered_shards_are_the_audit_of_one_run() {
    let folder = scratch("shards");
    fs::create_dir(folder.join("banks")).expect("a folder");
    banks(&folder.join("banks"));
    let mut failures = Vec::new();
    for (write, shards) in [("csv,json,junit", 3), ("csv,html,json", 2)] {
        let whole = format!("whole-{shards}");
        let own = ["--write", write, "--quiet", "--fail-on", "never"];
        let one = run(&folder, &[&["audit", "banks", "--out", &whole], &own[..]].concat());
        assert_eq!(one.status.code(), Some(0), "{}", String::from_utf8_lossy(&one.stderr));
        let parts = format!("parts-{shards}");
        // In any order, and one of them twice, as after a machine that was lost.
        for shard in (1..=shards).rev().chain([1]) {
            let name = format!("{shard}/{shards}");
            let done = run(&folder, &[&["audit", "banks", "--shard", &name, "--out", &parts], &own[..]].concat());
            assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        }
        let gathered = format!("gathered-{shards}");
        let done = run(&folder, &[&["gather", &parts, "--out", &gathered], &own[..]].concat());
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        let (whole, gathered) = (reports(&folder.join(whole)), reports(&folder.join(gathered)));
        assert!(whole["audit.csv"].lines().count() > 100, "there is much to find");
        for (name, text) in &whole {
            if gathered.get(name) != Some(text) {
                let other = gathered.get(name).map(String::as_str).unwrap_or_default();
                let differing = text.lines().zip(other.lines()).find(|(own, other)| own != other);
                failures.push(format!("{write}: {name}: {differing:?}"));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Folders, and why they cannot be gathered.
const REFUSED: [(&[&str], &str); 6] = [
    (&["two"], "shards are missing: 2/3"),
    (&["none"], "no partial audit"),
    (&["two", "two", "rest"], "stands there twice"),
    (&["other", "rest"], "of another audit"),
    (&["two", "torn"], "run its shard again"),
    (&["nowhere"], "nowhere"),
];

#[test]
fn what_cannot_be_gathered_says_why() {
    let folder = scratch("shards-faults");
    let bank = "id,start,arrows,answer\nh1,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,CO.[Br-]\n";
    fs::write(folder.join("bank.csv"), bank).expect("a bank");
    let shard = |shard: &str, out: &str, more: &[&str]| {
        let done = run(&folder, &[&["audit", "bank.csv", "--quiet", "--shard", shard, "--out", out], more].concat());
        (done.status.code(), String::from_utf8_lossy(&done.stderr).into_owned())
    };
    for own in ["1/3", "3/3"] {
        assert_eq!(shard(own, "two", &[]).0, Some(0));
        assert_eq!(shard(own, "other", &["--octet", "strict"]).0, Some(0));
    }
    assert_eq!(shard("2/3", "rest", &[]).0, Some(0));
    fs::create_dir(folder.join("none")).expect("a folder");
    fs::create_dir(folder.join("torn")).expect("a folder");
    let text = fs::read_to_string(folder.join("rest/shard-0002-of-0003.jsonl")).expect("a partial audit");
    let torn: Vec<&str> = text.lines().take(1).collect();
    fs::write(folder.join("torn/shard-0002-of-0003.jsonl"), torn.join("\n")).expect("a torn one");
    let gather = |folders: &[&str]| {
        let done = run(&folder, &[&["gather"], folders, &["--out", "out", "--quiet"]].concat());
        (done.status.code(), String::from_utf8_lossy(&done.stderr).into_owned())
    };
    let mut failures = Vec::new();
    for (folders, words) in REFUSED {
        let (status, stderr) = gather(folders);
        if status != Some(2) || !stderr.contains(words) {
            failures.push(format!("{folders:?}: {status:?} {stderr}"));
        }
    }
    let (status, stderr) = gather(&["two", "rest"]);
    if status != Some(0) {
        failures.push(format!("whole: {status:?} {stderr}"));
    }
    for wrong in ["0/3", "4/3", "3", "1/x"] {
        let (status, stderr) = shard(wrong, "wrong", &[]);
        if status != Some(2) || !stderr.contains("expected I/N") {
            failures.push(format!("{wrong}: {status:?} {stderr}"));
        }
    }
    fs::write(folder.join("bank.csv"), bank.replace("h1", "h2")).expect("a bank");
    let (status, stderr) = gather(&["two", "rest"]);
    if status != Some(2) || !stderr.contains("another state of the bank") {
        failures.push(format!("changed: {status:?} {stderr}"));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
