//! What one command hands to the next and was damaged on the way is refused, or the damage changes nothing.
//!
//! `KEYASSAY_CASES` sets how many single bits are turned over in each kind of file; a fifth as many are cut short.

use super::audits::{corpus, run, scratch};
use std::fs;
use std::path::{Path, PathBuf};

/// How many bits are turned over.
fn cases() -> usize {
    std::env::var("KEYASSAY_CASES").ok().and_then(|text| text.parse().ok()).unwrap_or(60)
}

/// The next number of a simple sequence (Knuth's MMIX constants), so that every run damages the same places.
fn next(state: &mut u64) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (*state >> 33) as usize
}

/// A file, damaged in many ways one after the other, and what a command says of each.
struct Trial<'t> {
    folder: &'t Path,
    file: PathBuf,
    /// The command that reads the file.
    command: &'t [&'t str],
    /// What it writes.
    report: PathBuf,
}

impl Trial<'_> {
    /// What the command writes; nothing where it refuses.
    fn outcome(&self) -> Result<Vec<u8>, String> {
        let _ = fs::remove_file(&self.report);
        let done = run(self.folder, self.command);
        match done.status.code() {
            Some(0 | 1) => Ok(fs::read(&self.report).expect("a report")),
            Some(2) if !done.stderr.is_empty() => Err(String::from_utf8_lossy(&done.stderr).into_owned()),
            other => panic!("{:?} ended with {other:?}", self.command),
        }
    }

    fn failures(&self) -> Vec<String> {
        let whole = fs::read(&self.file).expect("the file to damage");
        let right = self.outcome().expect("the whole file is believed");
        assert!(right.len() > 200, "there is something to say");
        let (mut failures, mut refused, mut state) = (Vec::new(), 0, 2_026);
        for case in 0..cases() + cases() / 5 {
            let place = next(&mut state) % whole.len();
            let mut damaged = whole.clone();
            if case < cases() {
                damaged[place] ^= 1 << (next(&mut state) % 8);
            } else {
                damaged.truncate(place);
            }
            fs::write(&self.file, &damaged).expect("a damaged file");
            match self.outcome() {
                Err(_) => refused += 1,
                Ok(report) if report == right => {}
                Ok(_) => failures.push(format!("{}: case {case} at byte {place}", self.file.display())),
            }
        }
        fs::write(&self.file, &whole).expect("the whole file");
        assert!(refused > 0, "nothing was refused");
        failures
    }
}

#[test]
fn damaged_files_are_refused_or_change_nothing() {
    let folder = scratch("damage");
    for bank in ["choices.csv", "sequences.jsonl"] {
        fs::copy(corpus().join("demonstration").join(bank), folder.join(bank)).expect("a bank");
    }
    let quiet = ["--quiet", "--fail-on", "never", "--write", "csv,json"];
    let audit = |more: &[&str]| {
        let done = run(&folder, &[&["audit", "choices.csv", "sequences.jsonl"], more, &quiet].concat());
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    };
    audit(&["--shard", "1/2", "--out", "parts"]);
    audit(&["--shard", "2/2", "--out", "parts"]);
    audit(&["--out", "earlier"]);
    let gather = [&["gather", "parts", "--out", "gathered"], &quiet[..]].concat();
    let since =
        [&["audit", "choices.csv", "sequences.jsonl", "--since", "earlier", "--out", "now"], &quiet[..]].concat();
    let mut failures = Vec::new();
    for shard in ["shard-0001-of-0002.jsonl", "shard-0002-of-0002.jsonl"] {
        let (file, report) = (folder.join("parts").join(shard), folder.join("gathered/audit.csv"));
        failures.extend(Trial { folder: &folder, file, command: &gather, report }.failures());
    }
    let text = fs::read_to_string(folder.join("choices.csv")).expect("a bank");
    let fewer: Vec<&str> = text.lines().take(8).collect();
    fs::write(folder.join("choices.csv"), fewer.join("\n")).expect("a shorter bank");
    let (file, report) = (folder.join("earlier/audit.json"), folder.join("now/changes.csv"));
    failures.extend(Trial { folder: &folder, file, command: &since, report }.failures());
    assert!(failures.is_empty(), "{} believed:\n{}", failures.len(), failures.join("\n"));
}

#[test]
fn an_earlier_audit_that_was_only_laid_out_anew_is_believed() {
    let folder = scratch("damage-layout");
    fs::copy(corpus().join("demonstration/choices.csv"), folder.join("choices.csv")).expect("a bank");
    let audit = |more: &[&str]| {
        let done = run(&folder, &[&["audit", "choices.csv", "--fail-on", "never", "--write", "json"], more].concat());
        let said = [done.stdout, done.stderr].concat();
        (done.status.code(), String::from_utf8_lossy(&said).into_owned())
    };
    assert_eq!(audit(&["--out", "earlier"]).0, Some(0));
    let path = folder.join("earlier/audit.json");
    let said: serde_json::Value = serde_json::from_slice(&fs::read(&path).expect("a report")).expect("JSON");
    fs::write(&path, serde_json::to_string_pretty(&said).expect("JSON")).expect("a report");
    let (status, told) = audit(&["--since", "earlier", "--out", "now"]);
    assert!(status == Some(0) && told.contains("0 new, 0 gone"), "{told}");
    let mut older = said;
    older.as_object_mut().expect("an object").remove("digest");
    fs::write(&path, older.to_string()).expect("a report");
    let (status, told) = audit(&["--since", "earlier", "--out", "now"]);
    assert!(status == Some(2) && told.contains("an older version wrote it"), "{told}");
}
