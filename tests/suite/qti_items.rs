//! What is read of QTI: companions, data, keys, packages.

use super::qti::zipped;
use keyassay::bank::write::plain;
use keyassay::bank::{Format, OpenError, Record, Settings, open};
use keyassay::limits::Limits;
use std::io::Cursor;
use std::sync::Arc;

fn settings() -> Arc<Settings> {
    Arc::new(Settings { keep_extra: true, ..Settings::default() })
}

/// The records of a bank and the items that are not ours.
pub(super) fn records(format: Format, bytes: Vec<u8>) -> Result<(Vec<Record>, u64), OpenError> {
    let mut source = open("bank", format, Box::new(Cursor::new(bytes)), &settings())?;
    let mut found = Vec::new();
    while let Some(batch) = source.next_batch()? {
        found.extend(batch.records().1);
    }
    Ok((found, source.not_ours()))
}

/// A package of a manifest that lists these items with these companions, and of these files.
pub(super) fn package(items: &[(&str, &str)], files: &[(&str, &str)]) -> Vec<u8> {
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
pub(super) fn item(body: &str, rest: &str) -> String {
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

/// Name, the item, the file beside it, what is read.
type Case = (&'static str, String, (&'static str, &'static str), &'static str);

fn companions() -> Vec<Case> {
    let role = |role: &str, file: &str| {
        format!(
            "<object type=\"chemical/x-daylight-smiles\" data=\"{file}\"><param name=\"role\" value=\"{role}\" valuetype=\"DATA\"/></object>"
        )
    };
    vec![
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
    ]
}

fn declared(inner: &str) -> String {
    format!(
        "<responseDeclaration identifier=\"R\" cardinality=\"single\" baseType=\"identifier\">{inner}</responseDeclaration>"
    )
}

fn keyed(key: &str) -> String {
    declared(&format!("<correctResponse><value>{key}</value></correctResponse>"))
}

fn score(test: &str, score: &str) -> String {
    format!(
        "<responseIf>{test}<setOutcomeValue identifier=\"SCORE\"><baseValue baseType=\"float\">{score}</baseValue></setOutcomeValue></responseIf>"
    )
}

fn processing(inner: &str) -> String {
    format!("<responseProcessing><responseCondition>{inner}</responseCondition></responseProcessing>")
}

fn matching(key: &str) -> String {
    format!("<match><variable identifier=\"R\"/><baseValue baseType=\"identifier\">{key}</baseValue></match>")
}

fn keys() -> Vec<Case> {
    vec![
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
            item(CHOICES, &(declared("") + &processing(&score(&matching("B"), "1")))),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | B",
        ),
        (
            "the better of two matches",
            item(CHOICES, &(declared("") + &processing(&(score(&matching("B"), "0.5") + &score(&matching("x"), "1"))))),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | A",
        ),
        (
            "a match that is negated",
            item(CHOICES, &(declared("") + &processing(&score(&format!("<not>{}</not>", matching("B")), "1")))),
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
            item("<p data-start=\"C\"/>", "").replace('<', "<q:").replace("<q:/", "</q:").replace("xmlns=", "xmlns:q="),
            ("q.smi", ""),
            "C |  |  |  | ",
        ),
        (
            "another namespace",
            item("<p data-start=\"C\"/>", "").replace("www.imsglobal.org", "example.org"),
            ("q.smi", ""),
            "bad: the manifest calls the file an item",
        ),
    ]
}

fn several_keys() -> Vec<Case> {
    vec![
        (
            "several keys",
            item(CHOICES, &keyed("B").replace("single", "multiple").replace("</value>", "</value><value>x</value>")),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | B, A",
        ),
        (
            "a mapping of which several score",
            item(
                CHOICES,
                &declared(
                    "<mapping defaultValue=\"0\"><mapEntry mapKey=\"x\" mappedValue=\"1\"/><mapEntry mapKey=\"B\" mappedValue=\"0.5\"/><mapEntry mapKey=\"z\" mappedValue=\"-1\"/></mapping>",
                )
                .replace("single", "multiple"),
            ),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | A, B",
        ),
        (
            "a match with several",
            item(
                CHOICES,
                &(declared("").replace("single", "multiple")
                    + &processing(&score(
                        "<match><variable identifier=\"R\"/><multiple><baseValue baseType=\"identifier\">x</baseValue><baseValue baseType=\"identifier\">B</baseValue></multiple></match>",
                        "1",
                    ))),
            ),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | A, B",
        ),
        (
            "members that score one by one",
            item(
                CHOICES,
                &(declared("").replace("single", "multiple")
                    + &processing(
                        &(score(&matching("B").replace("match", "member"), "0.5")
                            + &score(&matching("x").replace("match", "member"), "0.5")),
                    )),
            ),
            ("q.smi", ""),
            "C | 1 -> 1 |  | N O | B, A",
        ),
    ]
}

#[test]
fn items_are_read_as_they_are_written() {
    let mut failures = Vec::new();
    for (name, text, (file, beside), expected) in companions().into_iter().chain(keys()).chain(several_keys()) {
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

/// Conditions of 1.2 of which several hold at once, or each scores for itself.
#[test]
fn several_keys_of_conditions() {
    let document = |cardinality: &str, conditions: &str| {
        let field = |name: &str, text: &str| {
            format!(
                "<qtimetadatafield><fieldlabel>data-{name}</fieldlabel><fieldentry>{text}</fieldentry></qtimetadatafield>"
            )
        };
        let label = |name: &str, smiles: &str| {
            format!(
                "<response_label ident=\"{name}\"><material><mattext texttype=\"chemical/x-daylight-smiles\">{smiles}</mattext></material></response_label>"
            )
        };
        format!(
            "<questestinterop><item ident=\"q\"><itemmetadata><qtimetadata>{}{}</qtimetadata></itemmetadata><presentation><response_lid ident=\"R\" rcardinality=\"{cardinality}\"><render_choice>{}{}{}</render_choice></response_lid></presentation><resprocessing>{conditions}</resprocessing></item></questestinterop>",
            field("start", "C"),
            field("arrows", "1 -&gt; 1"),
            label("A", "N"),
            label("B", "O"),
            label("C", "F"),
        )
    };
    let equal = |name: &str| format!("<varequal respident=\"R\">{name}</varequal>");
    let condition = |inner: &str, score: &str| {
        format!(
            "<respcondition><conditionvar>{inner}</conditionvar><setvar action=\"Add\">{score}</setvar></respcondition>"
        )
    };
    let all = format!("<and>{}<not>{}</not>{}</and>", equal("A"), equal("B"), equal("C"));
    let cases = [
        ("all at once", "Multiple", condition(&all, "100"), "A, C"),
        ("side by side", "Multiple", condition(&(equal("A") + &equal("C")), "1"), "A, C"),
        ("one by one", "Multiple", condition(&equal("A"), "50") + &condition(&equal("C"), "50"), "A, C"),
        ("with a penalty", "Multiple", condition(&equal("A"), "50") + &condition(&equal("B"), "-50"), "A"),
        ("one of two", "Multiple", condition(&format!("<or>{}{}</or>", equal("A"), equal("C")), "1"), "sought"),
        ("one choice", "Single", condition(&all, "100"), "sought"),
        ("another response", "Multiple", condition(&all.replace("\"R\"", "\"S\""), "100"), "sought"),
    ];
    let mut failures = Vec::new();
    for (name, cardinality, conditions, expected) in cases {
        let (records, _) = records(Format::Xml, document(cardinality, &conditions).into_bytes()).expect("it is a bank");
        let found = told(&records[0]);
        if found != format!("C | 1 -> 1 |  | N O F | {expected}") {
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
