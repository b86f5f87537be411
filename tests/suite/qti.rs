//! QTI items and packages: what is read of them, and that what is written is read back.
//!
//! The published samples of the standard may not be passed on, so the packages are our own; the elements and attributes are
//! those of the 1EdTech specifications (QTI 1.2 ASI binding; 2.1, 2.2 and 3.0 information models), from memory where no
//! schema is to be had from the package registries.

use super::audits::{audit, corpus, scratch};
use super::qti_items::{item, package, records};
use keyassay::bank::key::keyed;
use keyassay::bank::write::{BankWriter, Plain, Target, plain};
use keyassay::bank::{Drawing, Field, Format, Record};
use keyassay::limits::Limits;
use keyassay::qti::zip::ZipWriter;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

/// The files of a folder and those below, by their names from there.
fn parts(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut waiting = vec![folder.to_owned()];
    while let Some(open) = waiting.pop() {
        for path in std::fs::read_dir(open).into_iter().flatten().flatten().map(|entry| entry.path()) {
            if path.is_dir() {
                waiting.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap_or(&path).to_string_lossy().replace('\\', "/");
                found.insert(name, std::fs::read(&path).unwrap_or_default());
            }
        }
    }
    found
}

pub(super) fn zipped<'a>(entries: impl IntoIterator<Item = (&'a str, &'a [u8])>) -> Vec<u8> {
    let mut zip = ZipWriter::new(Vec::new());
    for (name, bytes) in entries {
        zip.entry(name, bytes).expect("memory takes it");
    }
    zip.finish().expect("memory takes it")
}

/// The packages of the corpus hold what lies beside them in `parts/`. `KEYASSAY_BLESS=1` packs them anew.
#[test]
fn packages_of_the_corpus_are_their_parts() {
    let folder = corpus().join("qti");
    let folders: Vec<PathBuf> =
        std::fs::read_dir(folder.join("parts")).into_iter().flatten().flatten().map(|entry| entry.path()).collect();
    assert!(folders.len() >= 3, "the parts were not found");
    let mut failures = Vec::new();
    for own in folders {
        let name = format!("{}.zip", own.file_name().unwrap_or_default().to_string_lossy());
        let parts = parts(&own);
        if std::env::var_os("KEYASSAY_BLESS").is_some() {
            let entries = parts.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice()));
            std::fs::write(folder.join(&name), zipped(entries)).expect("the package can be written");
        }
        // By another implementation than the one that packed it.
        let bytes = std::fs::read(folder.join(&name)).unwrap_or_default();
        let mut found = BTreeMap::new();
        if let Ok(mut archive) = zip::ZipArchive::new(Cursor::new(bytes)) {
            for at in 0..archive.len() {
                let mut entry = archive.by_index(at).expect("the entry is there");
                let mut bytes = Vec::new();
                entry.read_to_end(&mut bytes).expect("the entry is whole");
                found.insert(entry.name().to_owned(), bytes);
            }
        }
        let differing: Vec<&String> =
            parts.keys().chain(found.keys()).filter(|name| parts.get(*name) != found.get(*name)).collect();
        if !differing.is_empty() {
            failures.push(format!("{name}: {differing:?} differ; KEYASSAY_BLESS=1 packs it anew"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn places_in_companions_are_those_of_their_files() {
    let folder = scratch("qti-places");
    let broken = "C=O.C(";
    let body = "<object data=\"d/q.smi\"><param name=\"role\" value=\"start\" valuetype=\"DATA\"/></object>\n<p data-arrows=\"1 -&gt; 1\" data-answer=\"C\"/>";
    let bytes = package(&[("i.xml", "")], &[("i.xml", &item(body, "")), ("d/q.smi", &format!("\n{broken}\n"))]);
    std::fs::write(folder.join("p.zip"), bytes).expect("the package can be written");
    let page = super::audits::audit_writing(&folder, "p.zip", &folder.join("out"), "csv,json,html");
    assert!(page.raises("unreadable-structure"), "{page:?}");
    let html = std::fs::read_to_string(folder.join("out/audit.html")).unwrap_or_default();
    assert!(html.contains("p.zip/d/q.smi, line 2, column 7"), "{html}");
    assert!(page.csv.contains("\np.zip/i.xml,1,q,"), "{}", page.csv);
}

#[test]
fn counts_name_what_is_not_ours() {
    let out = scratch("qti-counts");
    let mut failures = Vec::new();
    for (bank, items, not_ours) in [
        ("harrow-mere-2.1.zip", 9, 2),
        ("harrow-mere-2.2.zip", 9, 1),
        ("harrow-mere-3.0.zip", 7, 1),
        ("harrow-mere-1.2.xml", 7, 1),
    ] {
        let audit = audit(&corpus().join("qti"), bank, &out);
        if (audit.total("items"), audit.total("not-ours")) != (items, not_ours) {
            failures.push(format!("{bank}: {:?}", audit.totals));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// A bank written in another format and read again, as texts; `None` for drawings that CML cannot say.
fn through(bank: &[Record], target: Target, format: Format) -> Vec<Option<Plain>> {
    let mut writer = BankWriter::new(Vec::new(), target, &Limits::default()).expect("memory takes it");
    for record in bank {
        writer.record(record).expect("memory takes it");
    }
    let bytes = writer.finish().expect("memory takes it");
    let (records, not_ours) = records(format, bytes).expect("it is a bank");
    assert_eq!(not_ours, 0);
    let texts = |record: &Record| plain(record.content.as_ref().expect("an item"), &Limits::default()).ok();
    records.iter().map(|record| texts(record).map(|(plain, _)| plain)).collect()
}

/// What is the same under another spelling made the same: letters and numbers of options, space round text.
fn same(mut item: Plain) -> Plain {
    let option = |text: &String| Drawing::Text(Field { text: text.clone(), ..Field::default() });
    let options: Vec<Drawing> = item.options.iter().map(option).collect();
    let places = item.key.as_deref().and_then(|key| keyed(key, &options).ok());
    item.key = places.map(|places| format!("{places:?}")).or(item.key);
    item.prompt = item.prompt.split_whitespace().collect::<Vec<_>>().join(" ");
    item.tags.trim().to_owned().clone_into(&mut item.tags);
    item.extra.sort();
    item
}

/// CML goes there and back by a test of its own; a package must say the same.
#[test]
fn random_questions_go_through_a_package() {
    let bank = std::fs::read(corpus().join("witness/differential.jsonl")).expect("the frozen file is there");
    let (bank, _) = records(Format::JsonLines, bank).expect("it is a bank");
    let by_document = through(&bank, Target::Cml, Format::Cml);
    let by_package = through(&bank, Target::Qti, Format::Package);
    assert_eq!(by_document.len(), by_package.len());
    assert!(by_document.iter().flatten().count() > 500, "{} items went through", by_document.len());
    for (document, package) in by_document.into_iter().zip(by_package) {
        assert_eq!(document.map(same), package.map(same));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn banks_go_through_a_package(
        ids in prop::collection::vec("[A-Za-z0-9_.:/ äß'-]{1,12}", 1..4),
        prompt in "[ -~äö\n]{0,20}",
        tags in "[ -~]{0,12}",
        key in prop::option::of("[A-D]|[1-4]|[A-D], [A-D]|[a-d]\\) [a-d]\\)|[x-z]|none"),
        options in prop::collection::vec(prop::sample::select(vec!["", "C=C[O-]", "[CH2-]C=O", "[CH2:1]=[CH:2][O-:3]", "C/C=C\\C"]), 0..4),
        task in prop::sample::select(vec!["step", "resonance"]),
    ) {
        let mut text = String::new();
        for id in &ids {
            let line = serde_json::json!({
                "id": id.trim(), "task": task, "start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3",
                "answer": "[CH2:1]=[CH:2][O-:3]", "options": options, "key": key, "prompt": prompt, "tags": tags,
            });
            text.push_str(&line.to_string());
            text.push('\n');
        }
        prop_assume!(ids.iter().all(|id| !id.trim().is_empty()));
        let (bank, _) = records(Format::JsonLines, text.into_bytes()).expect("it is a bank");
        let texts = |record: &Record| plain(record.content.as_ref().expect("an item"), &Limits::default()).ok();
        let wanted: Vec<Plain> = bank.iter().filter_map(texts).map(|(own, _)| same(super::convert::same(own))).collect();
        let package = through(&bank, Target::Qti, Format::Package).into_iter().flatten();
        // Options that are all blank are no choices.
        let mut wanted = wanted;
        for own in wanted.iter_mut().filter(|own| own.options.iter().all(String::is_empty)) {
            own.options.clear();
        }
        let found: Vec<Plain> = package.map(|own| same(super::convert::same(own))).collect();
        prop_assert_eq!(wanted, found);
    }
}

#[test]
fn a_walk_passes_over_settings_and_parts() {
    let folder = scratch("qti-walk");
    let item = "{\"id\": \"a\", \"start\": \"[CH4:1]\", \"arrows\": \"1h -> 1\", \"answer\": \"[CH3-:1].[H+]\"}";
    std::fs::write(folder.join("package.json"), format!("\u{feff}\n {item}")).expect("the file can be written");
    std::fs::write(folder.join("bank.json"), format!("[{item}]")).expect("the file can be written");
    let walk = keyassay::bank::walk::walk(&folder, None);
    assert_eq!((walk.files.len(), walk.objects.len()), (1, 1), "{walk:?}");
    // Named itself, it is a bank that is broken, and says so.
    let audit = audit(&folder, "package.json", &folder.join("out"));
    assert_eq!((audit.total("items"), audit.raises("unreadable-record")), (1, true), "{audit:?}");
    let walk = keyassay::bank::walk::walk(&corpus().join("qti"), None);
    let named =
        |ending: &str| walk.files.iter().filter(|(path, _)| path.extension().is_some_and(|own| own == ending)).count();
    assert_eq!((named("zip"), named("xml")), (3, 1), "{walk:?}");
}
