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
    let mut folders = vec![corpus().join("demonstration"), corpus().join("qti")];
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
    let is_bank = |path: &PathBuf| !matches!(name(path).as_str(), "intended.tsv" | "README.md" | ".ignore");
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
    for folder in folders().into_iter().filter(|folder| !folder.ends_with("demonstration") && !folder.ends_with("qti"))
    {
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

/// What is said of each item of one file: findings, as `NAME` or `STEP:NAME`.
type Said = BTreeMap<String, BTreeSet<String>>;

/// What `intended.tsv` says of the items of each file.
fn intended() -> BTreeMap<String, Said> {
    let text = std::fs::read_to_string(corpus().join("demonstration/intended.tsv")).expect("intended.tsv is there");
    let mut intended: BTreeMap<String, Said> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let mut cells = line.split('\t').map(str::to_owned);
        let mut next = || cells.next().unwrap_or_default();
        let (file, id, findings) = (next(), next(), next());
        let said = intended.entry(file).or_default().entry(id).or_default();
        said.extend(findings.split_whitespace().map(str::to_owned));
    }
    intended
}

/// What an audit says.
fn found(audit: &Audit) -> Said {
    let mut found = Said::new();
    for row in &audit.rows {
        let finding = if row.step.is_empty() { row.finding.clone() } else { format!("{}:{}", row.step, row.finding) };
        found.entry(row.item.clone()).or_default().insert(finding);
    }
    found
}

#[test]
fn the_demonstration_raises_what_it_means_to() {
    let (folder, out) = (corpus().join("demonstration"), scratch("corpus-demonstration"));
    let mut failures = Vec::new();
    for (file, intended) in &intended() {
        let audit = audit(&folder, file, &out);
        let (found, none) = (found(&audit), BTreeSet::new());
        let ids: BTreeSet<&String> = intended.keys().chain(found.keys()).collect();
        for id in ids {
            let (meant, is) = (intended.get(id).unwrap_or(&none), found.get(id).unwrap_or(&none));
            if meant != is {
                failures.push(format!("{file} {id}: meant {meant:?}, found {is:?}"));
            }
        }
        if audit.total("items") < intended.len() as u64 {
            failures.push(format!("{file}: {} items of {} were read", audit.total("items"), intended.len()));
        }
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}
