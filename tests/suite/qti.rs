//! QTI items and packages: what is read of them, and that what is written is read back.
//!
//! The published samples of the standard may not be passed on, so the packages are our own; the elements and attributes are
//! those of the 1EdTech specifications (QTI 1.2 ASI binding; 2.1, 2.2 and 3.0 information models), from memory where no
//! schema is to be had from the package registries.

use super::audits::{audit, corpus, scratch};
use keyassay::bank::write::{BankWriter, Plain, Target, plain};
use keyassay::bank::{Format, OpenError, Record, Settings, open};
use keyassay::limits::Limits;
use keyassay::qti::zip::ZipWriter;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

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

fn zipped<'a>(entries: impl IntoIterator<Item = (&'a str, &'a [u8])>) -> Vec<u8> {
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
                found.insert(entry.name().expect("a name").into_owned(), bytes);
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

fn settings() -> Arc<Settings> {
    Arc::new(Settings { keep_extra: true, ..Settings::default() })
}

/// The records of a bank and the items that are not ours.
fn records(format: Format, bytes: Vec<u8>) -> Result<(Vec<Record>, u64), OpenError> {
    let mut source = open("bank", format, Box::new(Cursor::new(bytes)), &settings())?;
    let mut found = Vec::new();
    while let Some(batch) = source.next_batch()? {
        found.extend(batch.records().1);
    }
    Ok((found, source.not_ours()))
}

/// A package of a manifest that lists these items with these companions, and of these files.
fn package(items: &[(&str, &str)], files: &[(&str, &str)]) -> Vec<u8> {
    let resource = |(at, (href, companion)): (usize, &(&str, &str))| {
        let companion = if companion.is_empty() { String::new() } else { format!("<file href=\"{companion}\"/>") };
        format!(
            "<resource identifier=\"r{at}\" type=\"imsqti_item_xmlv2p1\" href=\"{href}\"><file href=\"{href}\"/>{companion}</resource>"
        )
    };
    let resources: String = items.iter().enumerate().map(resource).collect();
    let manifest = format!(
        "<manifest xmlns=\"http://www.imsglobal.org/xsd/imscp_v1p1\" identifier=\"m\"><organizations/><resources>{resources}</resources></manifest>"
    );
    let files = files.iter().map(|(name, text)| (*name, text.as_bytes()));
    zipped(std::iter::once(("imsmanifest.xml", manifest.as_bytes())).chain(files))
}

/// An item of 2.1 with this body and these declarations and processing.
fn item(body: &str, rest: &str) -> String {
    format!(
        "<assessmentItem xmlns=\"http://www.imsglobal.org/xsd/imsqti_v2p1\" identifier=\"q\" title=\"t\" adaptive=\"false\" timeDependent=\"false\">{rest}<itemBody>{body}</itemBody></assessmentItem>"
    )
}

const CML: &str = "<object type=\"chemical/x-cml\" data=\"q.cml\"/>";
const TWO: &str = "<cml xmlns=\"http://www.xml-cml.org/schema\">
<reaction id=\"a\"><reactantList><molecule><atomArray><atom id=\"a1\" elementType=\"C\"/></atomArray></molecule></reactantList></reaction>
<reaction id=\"q\"><reactantList><molecule><atomArray><atom id=\"n1\" elementType=\"N\"/></atomArray></molecule></reactantList></reaction>
</cml>";
const ONE: &str = "<reaction><reactantList><molecule><atomArray><atom id=\"a1\" elementType=\"O\"/></atomArray></molecule></reactantList></reaction>";
const CHOICES: &str = "<choiceInteraction responseIdentifier=\"R\" data-start=\"C\" data-arrows=\"1 -&gt; 1\"><simpleChoice identifier=\"x\" data-smiles=\"N\"/><simpleChoice identifier=\"B\" data-smiles=\"O\"/></choiceInteraction>";

/// What is read of an item, in a word or two: `start | arrows | answer | options | key`, or the first words of what is wrong.
fn told(record: &Record) -> String {
    match &record.content {
        Err(bad) => format!("bad: {}", bad.message),
        Ok(item) => {
            let (plain, _) = plain(item, &Limits::default()).expect("the drawings are right");
            let step = plain.steps.first().cloned().unwrap_or_default();
            let text = |text: Option<String>| text.unwrap_or_default();
            let sought = if item.key_sought.is_some() { "sought" } else { "" };
            format!(
                "{} | {} | {} | {} | {}{sought}",
                text(step.start),
                text(step.arrows),
                text(step.answer),
                plain.options.join(" "),
                text(plain.key)
            )
        }
    }
}

#[test]
fn items_are_read_as_they_are_written() {
    let declared = |inner: &str| {
        format!(
            "<responseDeclaration identifier=\"R\" cardinality=\"single\" baseType=\"identifier\">{inner}</responseDeclaration>"
        )
    };
    let keyed = |key: &str| declared(&format!("<correctResponse><value>{key}</value></correctResponse>"));
    let score = |test: &str, score: &str| {
        format!(
            "<responseIf>{test}<setOutcomeValue identifier=\"SCORE\"><baseValue baseType=\"float\">{score}</baseValue></setOutcomeValue></responseIf>"
        )
    };
    let processing = |inner: String| {
        format!("<responseProcessing><responseCondition>{inner}</responseCondition></responseProcessing>")
    };
    let matching = |key: &str| {
        format!("<match><variable identifier=\"R\"/><baseValue baseType=\"identifier\">{key}</baseValue></match>")
    };
    let role = |role: &str, file: &str| {
        format!(
            "<object type=\"chemical/x-daylight-smiles\" data=\"{file}\"><param name=\"role\" value=\"{role}\" valuetype=\"DATA\"/></object>"
        )
    };
    // Name, the item, the file beside it, what is read.
    let cases: Vec<(&str, String, (&str, &str), &str)> = vec![
        ("a companion", item(CML, ""), ("q.cml", ONE), "[OH2:1] |  |  |  | "),
        ("the reaction called as the item", item(CML, ""), ("q.cml", TWO), "[NH3:1] |  |  |  | "),
        ("the reaction of the fragment", item("<object data=\"q.cml#a\"/>", ""), ("q.cml", TWO), "[CH4:1] |  |  |  | "),
        (
            "no reaction of that name",
            item("<object data=\"q.cml#b\"/>", ""),
            ("q.cml", TWO),
            "bad: bank/q.cml: it holds 2 reactions",
        ),
        ("a missing companion", item(CML, ""), ("other.cml", ONE), "bad: the package has no file 'q.cml'"),
        (
            "a place on the web",
            item("<object type=\"chemical/x-cml\" data=\"http://example.org/q.cml\"/>", ""),
            ("q.cml", ONE),
            "bad: it shows 'http://example.org/q.cml', which is no file",
        ),
        (
            "a way out of the package",
            item("<object type=\"chemical/x-cml\" data=\"../../q.cml\"/>", ""),
            ("q.cml", ONE),
            "bad: it shows '../../q.cml', which is no file",
        ),
        (
            "a broken companion",
            item(CML, ""),
            ("q.cml", "<reaction><reactantList>"),
            "bad: bank/q.cml: the document ends inside",
        ),
        ("a companion that is text", item(CML, ""), ("q.cml", "C=O"), "bad"),
        ("an image", item("<object type=\"image/png\" data=\"q.cml\"/>", ""), ("q.png", ""), "not ours"),
        ("no chemistry", item("<p>C=O</p>", ""), ("q.smi", ""), "not ours"),
        (
            "a molecule to be named",
            item("<object type=\"chemical/x-daylight-smiles\" data=\"q.smi\"/>", ""),
            ("q.smi", "CCO"),
            "not ours",
        ),
        (
            "feedback shows what belongs to the item",
            item(
                "<feedbackBlock outcomeIdentifier=\"F\" identifier=\"f\" showHide=\"show\"><object type=\"chemical/x-cml\" data=\"q.cml\"/></feedbackBlock>",
                "",
            ),
            ("q.cml", ONE),
            "[OH2:1] |  |  |  | ",
        ),
        (
            "an object for those who cannot show it",
            item("<object data=\"q.cml\"><object data=\"lost.cml\"/></object>", ""),
            ("q.cml", ONE),
            "[OH2:1] |  |  |  | ",
        ),
        ("a role", item(&role("start", "q.smi"), ""), ("q.smi", " CCO a name\n"), "CCO |  |  |  | "),
        (
            "a line of reaction SMILES",
            item(&role("start", "q.smi"), ""),
            ("q.smi", "C>>N\t1 -> 1\tid"),
            "C | 1 -> 1 | N |  | ",
        ),
        (
            "several lines",
            item(&role("start", "q.smi"), ""),
            ("q.smi", "C\nN\n"),
            "bad: bank/q.smi: it has several lines",
        ),
        (
            "data",
            item("<p data-start=\"C\" data-arrows=\"1 -&gt; 1\" data-answer=\"N\" data-testid=\"7\"/>", ""),
            ("q.smi", ""),
            "C | 1 -> 1 | N |  | ",
        ),
        ("a key", item(CHOICES, &keyed(" B ")), ("q.smi", ""), "C | 1 -> 1 |  | N O | B"),
        (
            "the key of another response",
            item(CHOICES, &keyed("B").replace("\"R\"", "\"S\"")),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | sought",
        ),
        (
            "a key that is no choice",
            item(CHOICES, &keyed("A")),
            ("q.smi", ""),
            "bad: the key names 'A', which no choice is called",
        ),
        (
            "a mapping",
            item(
                CHOICES,
                &declared(
                    "<mapping defaultValue=\"0\"><mapEntry mapKey=\"x\" mappedValue=\"2\"/><mapEntry mapKey=\"B\" mappedValue=\"1\"/></mapping>",
                ),
            ),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | A",
        ),
        (
            "a mapping with two best",
            item(
                CHOICES,
                &declared(
                    "<mapping defaultValue=\"0\"><mapEntry mapKey=\"x\" mappedValue=\"1\"/><mapEntry mapKey=\"B\" mappedValue=\"1\"/></mapping>",
                ),
            ),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | sought",
        ),
        (
            "a plain match",
            item(CHOICES, &(declared("") + &processing(score(&matching("B"), "1")))),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | B",
        ),
        (
            "the better of two matches",
            item(CHOICES, &(declared("") + &processing(score(&matching("B"), "0.5") + &score(&matching("x"), "1")))),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | A",
        ),
        (
            "a match that is negated",
            item(CHOICES, &(declared("") + &processing(score(&format!("<not>{}</not>", matching("B")), "1")))),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | sought",
        ),
        (
            "the question elsewhere",
            item(&CHOICES.replace(" data-start=\"C\" data-arrows=\"1 -&gt; 1\"", ""), &keyed("x")),
            ("q.cml", ONE),
            "[OH2:1] |  |  | N O | A",
        ),
        (
            "a prefix",
            item("<p data-start=\"C\"/>", "").replace("<", "<q:").replace("<q:/", "</q:").replace("xmlns=", "xmlns:q="),
            ("q.smi", ""),
            "C |  |  |  | ",
        ),
        (
            "another namespace",
            item("<p data-start=\"C\"/>", "").replace("www.imsglobal.org", "example.org"),
            ("q.smi", ""),
            "bad: the manifest calls the file an item",
        ),
    ];
    let mut failures = Vec::new();
    for (name, text, (file, beside), expected) in cases {
        let bytes = package(&[("q.xml", file)], &[("q.xml", &text), (file, beside)]);
        let found = match records(Format::Package, bytes) {
            Ok((records, 1)) if records.is_empty() => "not ours".to_owned(),
            Ok((records, 0)) if records.len() == 1 => told(&records[0]),
            Ok((records, count)) => format!("{} records, {count} not ours", records.len()),
            Err(error) => error.to_string(),
        };
        let fits = if expected.starts_with("bad") { found.starts_with(expected) } else { found == expected };
        if !fits {
            failures.push(format!("{name}: {found}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn documents_are_told_apart_by_their_root() {
    let own = "<p data-start=\"C\" data-arrows=\"1 -&gt; 1\" data-answer=\"N\"/>";
    let old = "<item ident=\"q\"><itemmetadata><qtimetadata><qtimetadatafield><fieldlabel>data-start</fieldlabel><fieldentry>C</fieldentry></qtimetadatafield></qtimetadata></itemmetadata></item>";
    let kebab = "<qti-assessment-item xmlns=\"http://www.imsglobal.org/xsd/imsqtiasi_v3p0\" identifier=\"q\"><qti-item-body data-start=\"C\"/></qti-assessment-item>";
    let cases: Vec<(&str, String, &str)> = vec![
        ("2.1", item(own, ""), "C | 1 -> 1 | N |  | "),
        (
            "2.1 behind a declaration and a comment",
            format!("\u{feff}<?xml version=\"1.0\"?><!-- {} -->{}", "x".repeat(9_000), item(own, "")),
            "C | 1 -> 1 | N |  | ",
        ),
        ("3.0", kebab.to_owned(), "C |  |  |  | "),
        ("1.2", format!("<questestinterop>{old}</questestinterop>"), "C |  |  |  | "),
        ("1.2, an item alone", old.to_owned(), "C |  |  |  | "),
        (
            "1.2 with the name of a file of declarations",
            format!("<!DOCTYPE questestinterop SYSTEM \"a.dtd\">{old}"),
            "C |  |  |  | ",
        ),
        ("declarations", format!("<!DOCTYPE q [<!ENTITY a \"b\">]>{old}"), "bad: the document has a DOCTYPE"),
        (
            "a companion of an item alone",
            item(CML, ""),
            "bad: its drawing is in 'q.cml'; companions are read in a package",
        ),
        ("a reaction", ONE.to_owned(), "[OH2:1] |  |  |  | "),
        (
            "a test",
            "<assessmentTest xmlns=\"http://www.imsglobal.org/xsd/imsqti_v2p1\"/>".to_owned(),
            "holds no items: it is QTI without items",
        ),
        ("a page", "<html><body/></html>".to_owned(), "holds no items: it has neither reactions nor molecules"),
    ];
    let mut failures = Vec::new();
    for (name, text, expected) in cases {
        let found = match records(Format::Xml, text.into_bytes()) {
            Ok((records, _)) => records.first().map_or_else(String::new, told),
            Err(error) => error.to_string(),
        };
        if !found.starts_with(expected) {
            failures.push(format!("{name}: {found}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn files_of_a_package_are_found() {
    let text = item("<object data=\"f/q.cml\"/>", "");
    let named = |href: &str| item(&format!("<object data=\"{href}\"/>"), "");
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        (
            "percent signs",
            package(&[("a%20b.xml", "")], &[("a b.xml", &named("c%C3%A4.cml")), ("cä.cml", ONE)]),
            "[OH2:1] |  |  |  | ",
        ),
        (
            "separators of another system",
            package(&[("q.xml", "")], &[("q.xml", &text), ("f\\q.cml", ONE)]),
            "[OH2:1] |  |  |  | ",
        ),
        (
            "a folder above",
            package(&[("i/q.xml", "")], &[("i/q.xml", &named("../q.cml")), ("q.cml", ONE)]),
            "[OH2:1] |  |  |  | ",
        ),
        (
            "files of another system",
            package(
                &[("q.xml", "")],
                &[("q.xml", &text), ("f/q.cml", ONE), ("__MACOSX/._q.xml", "x"), ("__MACOSX/../x", "x")],
            ),
            "[OH2:1] |  |  |  | ",
        ),
        ("an item that is not there", package(&[("q.xml", "")], &[]), "bad: the package has no file 'q.xml'"),
        (
            "an item outside",
            package(&[("../q.xml", "")], &[]),
            "bad: the manifest names '../q.xml', which is no file of the package",
        ),
        ("no items", package(&[], &[]), "holds no items: its manifest lists no QTI items"),
        (
            "a folder in a package",
            zipped([("x/imsmanifest.xml", &b"<manifest/>"[..])]),
            "is no bank: it has no imsmanifest.xml at its top, but 'x/imsmanifest.xml': zip what is in the folder",
        ),
        (
            "another document as manifest",
            zipped([("imsmanifest.xml", &b"<html/>"[..])]),
            "is no bank: its imsmanifest.xml cannot be read",
        ),
    ];
    let mut failures = Vec::new();
    for (name, bytes, expected) in cases {
        let found = match records(Format::Package, bytes) {
            Ok((records, _)) => records.first().map_or_else(String::new, told),
            Err(error) => error.to_string(),
        };
        if !found.starts_with(expected) {
            failures.push(format!("{name}: {found}"));
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
        ("harrow-mere-2.1.zip", 8, 2),
        ("harrow-mere-2.2.zip", 9, 1),
        ("harrow-mere-3.0.zip", 6, 1),
        ("harrow-mere-1.2.xml", 6, 1),
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
    let number = item.key.as_deref().and_then(keyassay::bank::fields::option_number);
    item.key = number.map(|number| number.to_string()).or(item.key);
    item.prompt = item.prompt.split_whitespace().collect::<Vec<_>>().join(" ");
    item.tags = item.tags.trim().to_owned();
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
        key in prop::option::of("[A-D]|[1-4]|[x-z]|none"),
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
    assert_eq!((walk.files.len(), walk.skipped), (1, 1), "{walk:?}");
    // Named itself, it is a bank that is broken, and says so.
    let audit = audit(&folder, "package.json", &folder.join("out"));
    assert_eq!((audit.total("items"), audit.raises("unreadable-record")), (1, true), "{audit:?}");
    let walk = keyassay::bank::walk::walk(&corpus().join("qti"), None);
    let names: Vec<String> = walk
        .files
        .iter()
        .map(|(path, _)| path.file_name().unwrap_or_default().to_string_lossy().into_owned())
        .collect();
    assert!(
        names.iter().filter(|name| name.ends_with(".zip")).count() == 3 && !names.contains(&"sn2.xml".to_owned()),
        "{names:?}"
    );
}
