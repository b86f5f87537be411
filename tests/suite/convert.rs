//! Banks in other formats: there and back is an equal bank, and what cannot be carried is told.

use super::cml::{atoms, bonds, marks};
use super::molecules::smiles;
use keyassay::arrows::notation;
use keyassay::bank::write::{BankWriter, Carried, Plain, Target, plain};
use keyassay::bank::{Format, Record, Settings, open};
use keyassay::limits::Limits;
use keyassay::structure::Structure;
use proptest::prelude::*;
use std::path::Path;
use std::sync::Arc;

/// The records of a bank.
fn records(format: Format, bytes: &[u8]) -> Vec<Record> {
    let settings = Arc::new(Settings { keep_extra: true, ..Settings::default() });
    let mut source = open("bank", format, Box::new(std::io::Cursor::new(bytes.to_vec())), &settings)
        .unwrap_or_else(|error| panic!("{error}"));
    let mut found = Vec::new();
    while let Ok(Some(batch)) = source.next_batch() {
        found.extend(batch.records().1);
    }
    found
}

/// A bank written in another format, and what became of its items.
fn written(records: &[Record], target: Target) -> (Vec<u8>, Vec<Carried>) {
    let mut writer = BankWriter::new(Vec::new(), target, &Limits::default()).unwrap_or_else(|error| panic!("{error}"));
    let carried =
        records.iter().map(|record| writer.record(record).unwrap_or_else(|error| panic!("{error}"))).collect();
    (writer.finish().unwrap_or_else(|error| panic!("{error}")), carried)
}

/// The items of a bank as texts.
fn items(records: &[Record]) -> Vec<Plain> {
    let of = |record: &Record| record.content.as_ref().ok().and_then(|item| plain(item, &Limits::default()).ok());
    records.iter().filter_map(of).map(|(plain, _)| plain).collect()
}

/// A drawing by its labels, whatever the order in which it is written. Without labels only its atoms are compared.
fn drawn(text: &str) -> String {
    let structure = smiles(text);
    let sorted = |text: String| {
        let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
        words.sort();
        words.join(" ")
    };
    if !structure.has_labels() {
        let elements =
            structure.atoms().map(|(_, atom)| format!("{}{:+}h{}", atom.element, atom.charge, atom.hydrogens));
        return sorted(elements.collect::<Vec<_>>().join(" "));
    }
    // Bonds are named from the smaller label.
    let turn = |bond: String| {
        let at = bond.find(['-', '=', '#', ':', '$']).unwrap_or(0);
        let (a, b) = (&bond[..at], &bond[at + 1..]);
        let sign = &bond[at..=at];
        if a <= b { format!("{a}{sign}{b}") } else { format!("{b}{sign}{a}") }
    };
    let turned: Vec<String> =
        bonds(&structure).split(' ').filter(|bond| !bond.is_empty()).map(|bond| turn(bond.to_owned())).collect();
    format!("{} | {} | {}", sorted(atoms(&structure)), sorted(turned.join(" ")), sorted(marks(&structure).join(" ; ")))
}

/// An item with what is the same under another spelling made the same.
pub(super) fn same(mut item: Plain) -> Plain {
    let labelled =
        item.steps.first().and_then(|step| step.start.as_deref()).is_some_and(|start| smiles(start).has_labels());
    for step in &mut item.steps {
        let start = step.start.take().map(|start| {
            let mut structure: Structure = smiles(&start);
            structure.label_by_position();
            drawn(&keyassay::smiles::write(&structure, keyassay::smiles::Labels::Classes))
        });
        step.start = start;
        step.answer = step.answer.take().map(|answer| drawn(&answer));
        step.arrows = step.arrows.take().map(|arrows| notation::write(&notation::read(&arrows, 1_000).arrows));
    }
    for text in item.options.iter_mut().chain(&mut item.answers) {
        if !text.is_empty() {
            *text = drawn(text);
        }
    }
    assert!(labelled || !item.steps.is_empty());
    item
}

/// Banks whose every item is there in every format.
const BANK: &str = "\
id,task,start,arrows,answer,omits,key,option_a,option_b,prompt,tags,source,step
q1,,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br-:3],,,,,Substitute & <name>,sn2 basics,p. 7,
q2,resonance,C=C[CH2+],1-2 -> 2-3,[CH2+]C=C,,,,,,,,
q3,,[CH2:1]=[CH2:2].[H:3][Br:4],1-2 -> 1-3; 3-4 -> 4,[CH2+]C,*,,,,,,,
q4,,[CH3:1][C:2](=[O:3])[O-:4],4 -> 2-4; 2-3 -> 3,,,B,[CH3:1][C:2](=[O:3])[O-:4],[CH3:1][C:2]([O-:3])=[O:4],,,,
q5,,[N:1]#[C:2][CH2:3][Br:4],3-4 ~> 3; 3-4 ~> 4,[N:1]#[C:2][CH2:3].[Br:4],,,,,,,,
q6,,[OH-:1].[CH2:2]=[O:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH2:2][O-:3],,,,,two steps,,,1
q6,,,3 -> 2-3; 1-2 -> 1,[OH-:1].[CH2:2]=[O:3],,,,,,,,2
q7,,[NH3:1].[C@:2]([F:3])([Cl:4])([Br:5])[CH:6]=[13CH2:7],1h -> 1,[NH2-:1].[H+].[C@:2]([F:3])([Cl:4])([Br:5])[CH:6]=[13CH2:7],,,,,,,,
q8,,[CH3:1][I:2].[OH-:3],3 -> 1-3; 1-2 -> 2,,,\"A, B\",[CH3:1][OH:3].[I-:2],[I-:2].[OH:3][CH3:1],,,,
";

#[test]
fn there_and_back_is_an_equal_bank() {
    let first = records(Format::Csv, BANK.as_bytes());
    let wanted: Vec<Plain> = items(&first).into_iter().map(same).collect();
    assert_eq!(wanted.len(), 8);
    for (target, format) in [
        (Target::Csv, Format::Csv),
        (Target::JsonLines, Format::JsonLines),
        (Target::Cml, Format::Cml),
        (Target::Qti, Format::Package),
    ] {
        let (there, carried) = written(&first, target);
        assert!(carried.iter().all(|own| *own == Carried::default()), "{target:?}: {carried:?}");
        let second = records(format, &there);
        for back in [Target::Csv, Target::JsonLines] {
            let (again, carried) = written(&second, back);
            assert!(carried.iter().all(|own| *own == Carried::default()), "{target:?}, {back:?}: {carried:?}");
            let format = if back == Target::Csv { Format::Csv } else { Format::JsonLines };
            let found: Vec<Plain> = items(&records(format, &again)).into_iter().map(same).collect();
            assert_eq!(found, wanted, "{target:?}, {back:?}\n{}", String::from_utf8_lossy(&there));
        }
    }
}

/// Which drawings are right goes with the item into each format and back.
#[test]
fn what_is_accepted_is_kept() {
    let bank = "id,start,arrows,answer,accept\n\
        q,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,[CH2+:1][CH:2]=[CH2:3],contributor\n\
        r,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,[CH2+:1][CH:2]=[CH2:3],drawing\n";
    let first = records(Format::Csv, bank.as_bytes());
    let wanted = [Some("contributor"), Some("drawing")];
    for (target, format) in [
        (Target::Csv, Format::Csv),
        (Target::JsonLines, Format::JsonLines),
        (Target::Cml, Format::Cml),
        (Target::Qti, Format::Package),
    ] {
        let (there, _) = written(&first, target);
        let found: Vec<Option<&str>> = items(&records(format, &there)).into_iter().map(|item| item.accept).collect();
        assert_eq!(found, wanted, "{target:?}\n{}", String::from_utf8_lossy(&there));
    }
}

/// The key counts the options: a blank one keeps its place.
#[test]
fn blank_options_keep_their_places() {
    let bank = "id,start,arrows,option_a,option_b,option_c,key\n\
        q,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,,[CH2:1]=[CH:2][O-:3],[CH2:1]=[CH:2][O:3],B\n";
    let first = records(Format::Csv, bank.as_bytes());
    for (target, format) in [(Target::JsonLines, Format::JsonLines), (Target::Cml, Format::Cml)] {
        let (there, _) = written(&first, target);
        let (again, _) = written(&records(format, &there), Target::Csv);
        let text = String::from_utf8_lossy(&again).into_owned();
        let found: Vec<Plain> = items(&records(Format::Csv, &again)).into_iter().map(same).collect();
        assert_eq!(found, items(&first).into_iter().map(same).collect::<Vec<_>>(), "{target:?}: {text}");
    }
}

#[test]
fn delocalised_drawings_stay_delocalised() {
    let bank = "id,start,arrows,answer\nq,[NH2:1][c:2]1ccccc1,1 -> 1-2,[NH2:1][c:2]1ccccc1\n";
    let (document, _) = written(&records(Format::Csv, bank.as_bytes()), Target::Cml);
    let (lines, carried) = written(&records(Format::Cml, &document), Target::JsonLines);
    assert_eq!(carried, [Carried::default()]);
    let text = String::from_utf8_lossy(&lines).into_owned();
    assert!(text.contains("order=\\\"A\\\"") && text.contains("a1 -> a1-a2"), "{text}");
    let (again, _) = written(&records(Format::JsonLines, &lines), Target::Cml);
    assert_eq!(String::from_utf8_lossy(&again), String::from_utf8_lossy(&document));
}

#[test]
fn what_is_not_carried_is_told() {
    let left_out = |bank: &str| {
        let carried = written(&records(Format::Csv, bank.as_bytes()), Target::Cml).1;
        carried.into_iter().filter_map(|own| own.left_out).collect::<Vec<_>>()
    };
    let row = |start: &str, arrows: &str| format!("id,start,arrows,answer\nq,{start},{arrows},C\n");
    assert_eq!(left_out(&row("C(", "1 -> 1")).len(), 1);
    assert_eq!(left_out(&row("C", "1 ->")).len(), 1);
    assert_eq!(
        left_out(&row("[CH4:1].[CH4:1]", "1 -> 1")),
        ["two atoms of one drawing carry the label 1; ids are unique"]
    );
    let document = "<reaction id='q'><reactantList><molecule><atomArray><atom id='cl' elementType='Cl' x2='1' y2='2'/></atomArray></molecule></reactantList>\
                    <map convention='x:electronFlow'><link from='cl' to='cl'/></map></reaction>";
    let (text, carried) = written(&records(Format::Cml, document.as_bytes()), Target::Csv);
    assert_eq!(String::from_utf8_lossy(&text), "id,start,arrows,answer\nq,[ClH:1],1 -> 1,\n");
    assert_eq!(
        carried[0].lost,
        ["the ids of its atoms, which are numbers now: cl is 1", "the coordinates of its drawings: SMILES has none"]
    );
}

#[test]
fn the_demonstration_goes_there_and_back() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/demonstration");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        let is_list = path.extension().is_some_and(|ending| ending == "tsv");
        let Some(format) = keyassay::bank::walk::of_file(&path).filter(|_| !is_list) else { continue };
        let bytes = std::fs::read(&path).unwrap_or_default();
        let (document, carried) = written(&records(format, &bytes), Target::Cml);
        let count = carried.iter().filter(|own| own.left_out.is_none()).count();
        let once = records(Format::Cml, &document);
        assert_eq!(items(&once).len(), count, "{}", path.display());
        let (lines, _) = written(&once, Target::JsonLines);
        let (again, _) = written(&records(Format::JsonLines, &lines), Target::Cml);
        assert_eq!(items(&records(Format::Cml, &again)), items(&once), "{}", path.display());
        seen += count;
    }
    assert!(seen > 200, "{seen} items were seen");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn free_text_survives(prompt in "[ -~äöü€]{0,20}", tags in "[ -~]{0,12}") {
        let line = serde_json::json!({"id": "q", "start": "[CH4:1]", "arrows": "1h -> 1", "answer": "[CH3-:1].[H+]", "prompt": prompt, "tags": tags});
        let first = records(Format::JsonLines, line.to_string().as_bytes());
        let (document, _) = written(&first, Target::Cml);
        let (back, _) = written(&records(Format::Cml, &document), Target::JsonLines);
        let (wanted, found) = (items(&first), items(&records(Format::JsonLines, &back)));
        prop_assert_eq!(wanted[0].prompt.trim(), found[0].prompt.trim());
        prop_assert_eq!(wanted[0].tags.trim(), found[0].tags.trim());
    }
}
