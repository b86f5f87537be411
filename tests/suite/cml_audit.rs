//! Whole audits of CML documents: places, verdicts, and the same question in two notations.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use keyassay::audit::{Audited, Content, Input, Plan, Reporter, Summary, run};
use keyassay::bank::write::{BankWriter, Target};
use keyassay::bank::{Format, Settings, open};
use keyassay::findings::Class;
use keyassay::smiles::{Labels, write};
use keyassay::structure::canon::fingerprint;
use keyassay::structure::skeleton::Skeleton;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// Keeps the items.
#[derive(Default)]
struct Kept(Vec<Audited>);

impl Reporter for Kept {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        self.0.push(item.clone());
        Ok(())
    }

    fn finish(&mut self, _: &Summary) -> io::Result<()> {
        Ok(())
    }
}

/// The audit of a text.
fn audit(format: Format, text: &str) -> (Vec<Audited>, Summary) {
    let input = Input {
        name: "bank".to_owned(),
        format,
        encoding: None,
        content: Content::BuiltIn(Box::leak(text.to_owned().into_bytes().into_boxed_slice())),
    };
    let plan = Plan { show_sound: true, ..Plan::default() };
    let mut kept = Kept::default();
    let summary = run(&plan, &[input], &mut [&mut kept], &mut |_| {}).unwrap_or_else(|error| panic!("{error}"));
    (kept.0, summary)
}

/// `line id: findings` of each item.
fn verdicts(items: &[Audited]) -> Vec<String> {
    let line = |item: &Audited| {
        let names = item.findings.iter().map(|finding| finding.name.entry().name);
        // What one item is to another is for other tests.
        let findings: Vec<&str> =
            names.filter(|name| !["repeated-question", "conflicting-answers"].contains(name)).collect();
        format!("{} {}: {}", item.line, item.id, findings.join(" "))
    };
    items.iter().map(line).collect()
}

/// Hydroxide and formaldehyde, as an ion with this charge and this many hydrogens on the oxygen of the answer.
fn reaction(attributes: &str, charge: i8, arrows: &str) -> String {
    format!(
        "<reaction {attributes}><reactantList><reactant><molecule><atomArray>\n\
         <atom id='o1' elementType='O' formalCharge='-1' hydrogenCount='1'><electron id='e1' count='2'/></atom>\n\
         <atom id='c2' elementType='C' hydrogenCount='2'/><atom id='o3' elementType='O' hydrogenCount='0'/></atomArray>\n\
         <bondArray><bond atomRefs2='c2 o3' order='2'><electron id='e2' count='2'/></bond></bondArray></molecule></reactant></reactantList>\n\
         <productList><product><molecule><atomArray>\n\
         <atom id='o1' elementType='O' hydrogenCount='1'/><atom id='c2' elementType='C' hydrogenCount='2'/>\n\
         <atom id='o3' elementType='O' formalCharge='{charge}' hydrogenCount='0'><electron id='e2' count='2'/></atom></atomArray>\n\
         <bondArray><bond atomRefs2='o1 c2' order='1'><electron id='e1' count='2'/></bond><bond atomRefs2='c2 o3' order='1'/></bondArray>\n\
         </molecule></product></productList>{arrows}</reaction>"
    )
}

const MAP: &str =
    "\n<map convention='ka:electronFlow'><link from='o1' toSet='o1 c2'/>\n<link fromSet='c2 o3' to='o3'/></map>";

#[test]
fn documents_are_audited_with_their_lines() {
    let step_two = "<reaction><productList><product><molecule><atomArray><atom id='o1' elementType='O' hydrogenCount='1'/>\
                    <atom id='c2' elementType='C' hydrogenCount='2'/><atom id='o3' elementType='O'/></atomArray>\
                    <bondArray><bond atomRefs2='o1 c2' order='1'/><bond atomRefs2='c2 o3' order='1'/></bondArray></molecule></product></productList>\
                    <map convention='x:electronFlow'><link from='o3' fromType='atom' to='o3'/></map></reaction>";
    let text = format!(
        "<cml>\n{}\n{}\n{}\n<reactionScheme id='two'>\n{}\n{}</reactionScheme>\n{}</cml>",
        reaction("id='sound'", -1, MAP),
        reaction("title='by identity' electronMap='USE_IDS'", -1, ""),
        reaction("id='wrong'", 0, MAP),
        reaction("id='s1'", -1, MAP),
        step_two,
        reaction("", -1, &MAP.replace("'c2 o3'", "'c2 z9'")),
    );
    let (items, summary) = audit(Format::Cml, &text);
    let line_of = |what: &str| text.lines().position(|line| line.contains(what)).map_or(0, |at| at + 1);
    let mut found = verdicts(&items);
    // What the second step comes to is for other tests; that it is judged as a step is for this one.
    let second = found.remove(3);
    assert!(second.starts_with(&format!("{} two:", line_of("id='two'"))), "{second}");
    let last =
        text.lines().rev().position(|line| line.contains("<reaction >")).map_or(0, |at| text.lines().count() - at);
    assert_eq!(
        found,
        [
            format!("{} sound: ", line_of("id='sound'")),
            format!("{} by identity: ", line_of("by identity")),
            format!("{} wrong: mismatched-product unbalanced-charge", line_of("id='wrong'")),
            format!("{last} bank:{last}: unknown-atom"),
        ]
    );
    assert_eq!(summary.totals.items, 5);
    let spot = items[4].findings[0].spot.clone().unwrap_or_default();
    assert_eq!((spot.line as usize, spot.column), (line_of("z9"), 19), "{spot:?}");
    let steps: Vec<u32> = items[3].steps.iter().map(|step| step.number).collect();
    assert_eq!(steps, [1, 2]);
}

#[test]
fn one_question_in_two_notations_has_one_verdict() {
    let row = |answer: &str| format!("id,start,arrows,answer\nq,[OH-:1].[CH2:2]=[O:3],1 -> 1-2; 2-3 -> 3,{answer}\n");
    for (charge, answer) in [(-1, "[OH:1][CH2:2][O-:3]"), (0, "[OH:1][CH2:2][O:3]")] {
        let (cml, _) = audit(Format::Cml, &reaction("id='q'", charge, MAP));
        let (csv, _) = audit(Format::Csv, &row(answer));
        let names = |items: &[Audited]| {
            let of = |item: &Audited| item.findings.iter().map(|finding| finding.name.entry().name).collect::<Vec<_>>();
            items.iter().map(|item| (item.class, of(item))).collect::<Vec<_>>()
        };
        assert_eq!(names(&cml), names(&csv), "{answer}");
        let product = |items: &[Audited]| {
            let pushed = items[0].steps[0].pushed.as_ref();
            pushed.map(|pushed| write(&pushed.product, Labels::Without))
        };
        assert_eq!(product(&cml), product(&csv), "{answer}");
    }
}

#[test]
fn a_field_may_hold_cml() {
    let molecule = |charge: i8, order: u8| {
        format!(
            "<molecule><atomArray><atom id='n1' elementType='N' formalCharge='{charge}' hydrogenCount='2'/><atom id='c2' elementType='C' hydrogenCount='2'/></atomArray>\
             <bondArray><bond atomRefs2='n1 c2' order='{order}'/></bondArray></molecule>"
        )
    };
    let line = |start: &str| {
        serde_json::json!({"id": "q", "start": start, "arrows": "n1-c2 -> n1", "answer": "NC"}).to_string()
    };
    let (items, _) = audit(Format::JsonLines, &line(&molecule(1, 2)));
    assert_eq!(items[0].class, Class::Faulty, "{:?}", items[0].findings);
    assert!(items[0].steps[0].pushed.is_some(), "the arrows name ids of the field");
    let bad = molecule(1, 2).replace("order='2'", "order='hbond'");
    let (items, _) = audit(Format::JsonLines, &line(&bad));
    let finding = &items[0].findings[0];
    assert_eq!(finding.name.entry().name, "unreadable-structure");
    let spot = finding.spot.clone().unwrap_or_default();
    let marked: String = spot.excerpt.chars().skip(spot.mark as usize).take(spot.length as usize).collect();
    assert_eq!(marked, "hbond");
}

#[test]
fn a_reference_ahead_is_followed_where_the_bank_can_be_opened_again() {
    let ion =
        "<molecule id='later'><atomArray><atom id='i1' elementType='I' formalCharge='-1'/></atomArray></molecule>";
    let question = "<reaction id='q'><reactantList><reactant ref='later'/></reactantList><productList><product ref='later'/></productList>\
                    <map convention='x:electronFlow'/></reaction>";
    let (items, _) = audit(Format::Cml, &format!("<cml>{question}{question}{ion}</cml>"));
    let names: Vec<String> = verdicts(&items);
    assert_eq!(names.len(), 2);
    assert!(names.iter().all(|name| !name.contains("unreadable")), "{names:?}");
}

#[test]
fn documents_without_questions_are_counted_apart() {
    let cases = [
        ("<cml><molecule id='a'/><molecule/></cml>", "2 molecules and no reaction, so no question"),
        ("<cml/>", "it has neither reactions nor molecules"),
        ("<reactionList/>", "it has neither reactions nor molecules"),
    ];
    for (text, says) in cases {
        let (items, summary) = audit(Format::Cml, text);
        assert!(items.is_empty() && summary.unread.is_empty());
        assert_eq!(summary.without_items, [("bank".to_owned(), says.to_owned())]);
    }
}

/// A bank in CML.
fn in_cml(format: Format, bytes: &[u8]) -> String {
    let settings = Arc::new(Settings::default());
    let mut source = open("bank", format, Box::new(io::Cursor::new(bytes.to_vec())), &settings)
        .unwrap_or_else(|error| panic!("{error}"));
    let mut writer =
        BankWriter::new(Vec::new(), Target::Cml, &settings.limits).unwrap_or_else(|error| panic!("{error}"));
    while let Ok(Some(batch)) = source.next_batch() {
        for record in batch.records().1 {
            writer.record(&record).unwrap_or_else(|error| panic!("{error}"));
        }
    }
    String::from_utf8(writer.finish().unwrap_or_default()).unwrap_or_default()
}

#[test]
fn the_demonstration_has_the_same_verdicts_in_cml() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/demonstration");
    let mut wrong = Vec::new();
    let mut compared = 0;
    for (name, format) in [
        ("choices.csv", Format::Csv),
        ("steps.csv", Format::Csv),
        ("resonance.csv", Format::Csv),
        ("mechanisms.jsonl", Format::JsonLines),
        ("sequences.jsonl", Format::JsonLines),
    ] {
        let bytes = std::fs::read(folder.join(name)).unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (before, _) = audit(format, &text);
        let (after, _) = audit(Format::Cml, &in_cml(format, &bytes));
        for item in &after {
            let told = |item: &Audited| {
                // What items are to each other changes where some are left out; ids are names, which no shift by one moves; what
                // is spelt loosely is written in the notation.
                let apart = [
                    "repeated-question",
                    "conflicting-answers",
                    "shifted-answers",
                    "shifted-labels",
                    "repeated-id",
                    "loose-notation",
                ];
                let findings: Vec<&str> = item.findings.iter().map(|finding| finding.name.entry().name).collect();
                let findings: Vec<&str> = findings.into_iter().filter(|name| !apart.contains(name)).collect();
                let of_step = |step: &keyassay::findings::StepAudit| {
                    step.pushed.as_ref().map(|pushed| fingerprint(&Skeleton::new(&pushed.product)))
                };
                (findings, item.steps.iter().map(of_step).collect::<Vec<_>>())
            };
            let same: Vec<&Audited> = before.iter().filter(|own| own.id == item.id).collect();
            if let [only] = &same[..] {
                compared += 1;
                if told(only) != told(item) {
                    wrong.push(format!("{name} {}: {:?} {:?}", item.id, told(only), told(item)));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(compared > 180, "only {compared} items were compared");
}

/// Commands that take a structure take one that is given as CML, with its ids as labels.
#[test]
fn structures_on_the_command_line_may_be_cml() {
    let formate = |first: &str, charged: &str, orders: [&str; 2]| {
        let atom = |id: &str, element: &str| {
            let charge = if id == charged { " formalCharge='-1'" } else { "" };
            format!("<atom id='{id}' elementType='{element}'{charge}/>")
        };
        let bond = |(ends, order): (&str, &str)| format!("<bond atomRefs2='{ends}' order='{order}'/>");
        let atoms: String = [(first, "O"), ("c2", "C"), ("o3", "O")].map(|(id, element)| atom(id, element)).concat();
        let ends = [format!("{first} c2"), "c2 o3".to_owned()];
        let bonds: String = ends.iter().zip(orders).map(|(ends, order)| bond((ends, order))).collect();
        format!("<molecule><atomArray>{atoms}</atomArray><bondArray>{bonds}</bondArray></molecule>")
    };
    let (start, answer) = (formate("o1", "o1", ["S", "D"]), formate("o1", "o3", ["D", "S"]));
    let arrows = "o1 -> o1-c2; c2-o3 -> o3";
    let cases: [(Vec<&str>, &str); 5] = [
        (vec!["infer", &start, &answer], arrows),
        (vec!["push", &start, arrows], "O=C[O-]"),
        (vec!["contributors", &start], arrows),
        (vec!["draw", &start], "<svg"),
        (
            vec!["infer", "<molecule><atomArray><atom id='a' elementType='Q'/></atomArray></molecule>", "C"],
            "\"Q\" is no element",
        ),
    ];
    let mut failures = Vec::new();
    for (arguments, says) in cases {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_keyassay")).args(&arguments).output();
        let output = output.expect("the program runs");
        let text = [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
        if !text.contains(says) {
            failures.push(format!("{arguments:?}: {text}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// A displacement as programs write it that number the atoms of each molecule from `a0` on and give molecules no ids.
const NUMBERED: &str = r#"<?xml version="1.0"?><!DOCTYPE cml SYSTEM "cml.dtd">
<cml xmlns="http://www.xml-cml.org/schema" xmlns:ka="urn:keyassay:arrows"><reaction id="r1"><reactantList>
<reactant><molecule><atomArray><atom id="a0" elementType="O" formalCharge="-1" hydrogenCount="1"/></atomArray></molecule></reactant>
<reactant><molecule><atomArray><atom id="a0" elementType="C" hydrogenCount="3"/><atom id="a1" elementType="Br"/></atomArray>
<bondArray><bond atomRefs2="a0 a1" order="S"/></bondArray></molecule></reactant></reactantList><productList>
<product><molecule><atomArray><atom id="a0" elementType="C" hydrogenCount="3"/><atom id="a1" elementType="O" hydrogenCount="1"/></atomArray>
<bondArray><bond atomRefs2="a0 a1" order="S"/></bondArray></molecule></product>
<product><molecule><atomArray><atom id="a0" elementType="Br" formalCharge="-1"/></atomArray></molecule></product></productList>
<map convention="ka:electronFlow" dictRef="ka:arrows">
<link from="m1:a0" fromType="atom" toSet="m1:a0 m2:a0" toType="bond" role="pair"/>
<link fromSet="m2:a0 a1" fromType="bond" to="a1" toType="atom" role="pair"/></map></reaction></cml>"#;

#[test]
fn molecules_without_ids_are_numbered() {
    let cases = [
        (NUMBERED.to_owned(), ""),
        (NUMBERED.replace("from=\"m1:a0\"", "from=\"a0\""), "unreadable-arrows"),
        (NUMBERED.replace("from=\"m1:a0\"", "from=\"m3:a0\""), "unknown-atom"),
        (NUMBERED.replace("\"cml.dtd\"", "\"cml.dtd\" [<!ENTITY a 'b'>]"), "unreadable-record"),
        (NUMBERED.replacen("hydrogenCount=\"3\"", "hydrogenCount=\"30\"", 1), "unreadable-structure"),
    ];
    let mut wrong = Vec::new();
    for (text, expected) in cases {
        let (items, _) = audit(Format::Cml, &text);
        let findings = items.iter().flat_map(|item| &item.findings);
        let names: Vec<&str> = findings.map(|finding| finding.name.entry().name).collect();
        if items.len() != 1 || names.join(" ") != expected {
            wrong.push(format!("{expected}: {names:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
