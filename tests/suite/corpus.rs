//! The banks of `corpus/`: their counts, the findings meant to be raised, and the audits kept beside them.

use super::audits::{Audit, audit, corpus, scratch};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Files of a folder, sorted by name; folders left out.
fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(|path| path.is_file()).collect();
    files.sort();
    files
}

/// The folders that hold the banks of the corpus.
fn folders() -> Vec<PathBuf> {
    let mut folders = vec![corpus().join("demonstration")];
    let findings = std::fs::read_dir(corpus().join("findings")).into_iter().flatten().flatten();
    folders.extend(findings.map(|entry| entry.path()));
    folders.sort();
    folders
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Every bank beside its folder.
fn banks() -> Vec<(PathBuf, String)> {
    let is_bank = |path: &PathBuf| !matches!(name(path).as_str(), "intended.tsv" | "README.md");
    folders()
        .into_iter()
        .flat_map(|folder| files(&folder).into_iter().filter(is_bank).map(move |file| (folder.clone(), name(&file))))
        .collect()
}

/// The kept audit of a bank: made anew where `KEYASSAY_BLESS` is set, compared otherwise.
fn kept(folder: &Path, bank: &str, audit: &Audit) -> Option<String> {
    let path = folder.join("expected").join(format!("{bank}.csv"));
    if std::env::var_os("KEYASSAY_BLESS").is_some() {
        std::fs::create_dir_all(folder.join("expected")).expect("the folder can be made");
        std::fs::write(&path, &audit.csv).expect("the audit can be kept");
        return None;
    }
    let expected = std::fs::read_to_string(&path).unwrap_or_default();
    if expected == audit.csv {
        return None;
    }
    let differing = audit.csv.lines().zip(expected.lines()).find(|(now, then)| now != then);
    let (now, then) = differing.unwrap_or(("(more or fewer rows)", ""));
    Some(format!("{}/{bank}: the audit is not the kept one\n  now  {now}\n  kept {then}", name(folder)))
}

#[test]
fn every_bank_adds_up_and_gives_its_kept_audit() {
    let out = scratch("corpus-banks");
    let mut failures = Vec::new();
    for (folder, bank) in banks() {
        let audit = audit(&folder, &bank, &out);
        failures.extend(audit.faults().into_iter().map(|fault| format!("{}/{bank}: {fault}", name(&folder))));
        if audit.total("items") == 0 {
            failures.push(format!("{}/{bank}: no item was read: {}", name(&folder), audit.stderr));
        }
        failures.extend(kept(&folder, &bank, &audit));
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}

#[test]
fn findings_are_raised_and_not_raised() {
    let out = scratch("corpus-findings");
    let mut failures = Vec::new();
    for folder in folders().into_iter().filter(|folder| !folder.ends_with("demonstration")) {
        let finding = name(&folder);
        let mut sides = BTreeSet::new();
        for file in files(&folder) {
            let bank = name(&file);
            let should = bank.starts_with("raises.");
            sides.insert(should);
            let audit = audit(&folder, &bank, &out);
            if audit.raises(&finding) != should {
                let found: BTreeSet<&str> = audit.rows.iter().map(|row| row.finding.as_str()).collect();
                failures.push(format!("{finding}/{bank}: raised {found:?} {}", audit.stderr));
            }
        }
        if sides.len() != 2 {
            failures.push(format!("{finding}: a bank that raises it and one that does not are needed"));
        }
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}

/// What `intended.tsv` says of each item: findings, as `NAME` or `STEP:NAME`.
fn intended() -> BTreeMap<String, BTreeSet<String>> {
    let text = std::fs::read_to_string(corpus().join("demonstration/intended.tsv")).expect("intended.tsv is there");
    let mut intended: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let mut cells = line.split('\t');
        let id = cells.next().unwrap_or_default().to_owned();
        let findings = cells.next().unwrap_or_default().split_whitespace().map(str::to_owned);
        intended.entry(id).or_default().extend(findings);
    }
    intended
}

/// What an audit says of each item, in the same form.
fn found(audit: &Audit) -> BTreeMap<String, BTreeSet<String>> {
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for row in &audit.rows {
        let finding = if row.step.is_empty() { row.finding.clone() } else { format!("{}:{}", row.step, row.finding) };
        let id = row.item.rsplit('/').next().unwrap_or_default().to_owned();
        found.entry(id).or_default().insert(finding);
    }
    found
}

#[test]
fn the_demonstration_raises_what_it_means_to() {
    let out = scratch("corpus-demonstration");
    let audit = audit(&corpus(), "demonstration", &out);
    let mut failures = audit.faults();
    let (intended, found) = (intended(), found(&audit));
    let none = BTreeSet::new();
    let ids: BTreeSet<&String> = intended.keys().chain(found.keys()).collect();
    for id in ids {
        let (meant, is) = (intended.get(id).unwrap_or(&none), found.get(id).unwrap_or(&none));
        if meant != is {
            failures.push(format!("{id}: meant {meant:?}, found {is:?}"));
        }
        if !intended.contains_key(id) {
            failures.push(format!("{id}: intended.tsv does not name it"));
        }
    }
    if audit.total("items") < intended.len() as u64 {
        failures.push(format!("{} items of {} were read", audit.total("items"), intended.len()));
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}
