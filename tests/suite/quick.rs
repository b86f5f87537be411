//! The quick way against the judgement in full: what the one proves, the other must find nothing in, and both must tell items
//! apart by the same numbers.

use super::witness::text;
use keyassay::bank::{Format, Plain, Settings as BankSettings, Task, open};
use keyassay::findings::digest::{digest, of_product};
use keyassay::findings::quick::Prover;
use keyassay::findings::{Class, Context, Finding, Name, Settings, judge};
use serde_json::{Value, json};
use std::io::Cursor;
use std::sync::Arc;

/// Questions as they were frozen: their own answers, and what was made of them on purpose.
fn questions() -> Vec<Value> {
    let files = ["differential.jsonl", "worked-examples.jsonl"].map(text);
    let lines = files.iter().flat_map(|file| file.lines());
    lines.map(|line| serde_json::from_str(line).expect("an item")).collect()
}

/// Delocalised rings beside the arrows, in several drawings; hydrogens drawn and undrawn; species in another order.
const RINGS: [(&str, &str, &str); 11] = [
    ("[OH-:1].[CH:2](c1ccccc1)(c1ccncc1)[Br:3]", "1 -> 1-2; 2-3 -> 3", "[Br-:3].[OH:1][CH:2](c1ccccc1)c1ccncc1"),
    ("[OH-:1].[CH:2](c1ccccc1)(c1ccncc1)[Br:3]", "1 -> 1-2; 2-3 -> 3", "OC(c1ccncc1)c1ccccc1.[Br-]"),
    ("[OH-:1].[CH:2](c1ccccc1)(c1cc[nH]c1)[Br:3]", "1 -> 1-2; 2-3 -> 3", "OC(c1c[nH]cc1)c1ccccc1.[Br-]"),
    ("[OH-:1].[CH:2](c1ccccc1)(c1cccs1)[Br:3]", "1 -> 1-2; 2-3 -> 3", "OC(c1cccs1)c1ccccc1.[Br-]"),
    ("[OH-:1].[CH:2](c1ccccc1)(c1ccccc1)[Br:3]", "1 -> 1-2; 2-3 -> 3", "OC(C1=CC=CC=C1)c1ccccc1.[Br-]"),
    ("[OH-:1].[CH:2](c1ccc2ccccc2c1)(C)[Br:3]", "1 -> 1-2; 2-3 -> 3", "OC(C)c1ccc2ccccc2c1.[Br-]"),
    ("[OH-:1].[H:2][O:3][c:4]1ccccc1", "1 -> 1-2; 2-3 -> 3", "[OH2].[O-]c1ccccc1"),
    ("[OH-:1].[CH2:3](c1ccccc1)[CH2:4][Br:5]", "1 -> 1-3h; 3-3h -> 3-4; 4-5 -> 5", "O.C=Cc1ccccc1.[Br-]"),
    ("[NH2:1][c:2]1[cH:3][cH:4][cH:5][cH:6][cH:7]1", "1 -> 1-2; 2-3 -> 3", "[NH2+]=C1C=CC=C[CH-]1"),
    // Start and answer are one drawing where a delocalised ring may stand for the localised one.
    ("Cc1cccc(c1)[C:1]1=[CH:2][C:3](C)=[CH:4][CH:5]=[CH:6]1", SHIFT, "Cc1cccc(c1)C1C=C(C)C=CC=1"),
    ("c1ccccc1[C:1]1=[CH:2][CH:3]=[CH:4][CH:5]=[CH:6]1", SHIFT, "c1ccccc1C1C=CC=CC=1"),
];

/// Double bonds moved round a ring.
const SHIFT: &str = "1-2 -> 2-3; 3-4 -> 4-5; 5-6 -> 1-6";

/// Loose notation that is proven the quick way.
const LOOSE: [(&str, &str, &str); 8] = [
    ("[H-:1].[OH2:2]", "1 -> 1-2h; 2-2h -> 2", "[HH].[OH-]"),
    ("[HH:7].[H-:1].[OH2:2]", "1 -> 1-2h; 2-2h -> 2", "[HH].[HH].[OH-]"),
    ("[OH-:1].[CH3:2][Br:3].[HH]", "1 => 1-2, 2-3 => 3", "[HH:0].CO.[Br-]"),
    ("[OH-:1].[CH3:2][Br:3]", "O1 -> O1-C2; C2-Br3 -> Br3", "CO.[Br-]"),
    ("[OH-].CBr", "O#1 to (1,2) and 2=3 to Br#3", "CO.[Br-]"),
    ("[OH-:1].[CH2:3]([CH3:2])[CH2:4][Br:5]", "1) 1 -> 1,3h, 3,3h -> 3,4, 4,5 -> 5", "O.C=CC.[Br-]"),
    ("[CH2-:1][CH:2]=[O:3]", "1 --> 1-2\n2. 2-3 --> 3", "C=C[O-]"),
    ("[CH2-:1][CH:2]=[CH:3][CH:4]=[O:5]", "1 -> 1-2 and 2-3 -> 3-4 and 4-5 -> 5", "C=CC=C[O-]"),
];

/// Localised rings beside delocalised ones that cannot stand for them: start and answer differ for certain.
const LOCALISED: [(&str, &str, &str); 3] = [
    ("[C:1]1(CCc2ccccc2)=[CH:2][C:3](CO)=[CH:4][CH:5]=[CH:6]1", SHIFT, "C=1(CCc2ccccc2)C=C(CO)C=CC=1"),
    ("[C:1]1(COc2ccncc2)=[CH:2][C:3](OC)=[CH:4][CH:5]=[CH:6]1", SHIFT, "COC1C=CC=C(COc2ccncc2)C=1"),
    ("[C:1]1(NCc2cccs2)=[CH:2][C:3](F)=[CH:4][CH:5]=[CH:6]1", SHIFT, "C=1(NCc2cccs2)C=C(F)C=CC=1"),
];

/// A text with one of its characters replaced, doubled or taken out, as a number decides.
fn spoiled(text: &str, number: u64) -> String {
    const OTHERS: &[u8] = b"()[]123hH+-=#.cCnNoO:;~> @/%*";
    let mut bytes = text.as_bytes().to_vec();
    let at = (number >> 8) as usize % bytes.len().max(1);
    match number % 4 {
        0 if !bytes.is_empty() => drop(bytes.remove(at)),
        1 => bytes.insert(at, OTHERS[(number >> 40) as usize % OTHERS.len()]),
        2 if !bytes.is_empty() => bytes.insert(at, bytes[at]),
        _ if !bytes.is_empty() => bytes[at] = OTHERS[(number >> 40) as usize % OTHERS.len()],
        _ => {}
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Every question as it is, without labels in its answer, with another's answer, and with one character wrong.
fn bank() -> String {
    let own: Vec<Value> = questions();
    let rings = RINGS.into_iter().chain(LOCALISED).chain(LOOSE);
    let rings = rings.map(|(start, arrows, answer)| json!({"start": start, "arrows": arrows, "answer": answer}));
    let mut number = 0x1234_5678_9abc_def1_u64;
    let mut next = || {
        // Xorshift (G. Marsaglia, J. Stat. Softw. 8 (2003) 14).
        number ^= number << 13;
        number ^= number >> 7;
        number ^= number << 17;
        number
    };
    let mut lines = Vec::new();
    let all: Vec<Value> = rings.chain(own).collect();
    for (at, item) in all.iter().enumerate() {
        let text = |field: &str| item[field].as_str().unwrap_or_default().to_owned();
        let mut add = |field: &str, value: String, which: &str| {
            let mut other = item.clone();
            other["id"] = format!("{at}-{which}-{field}").into();
            if !field.is_empty() {
                other[field] = value.into();
            }
            lines.push(other.to_string());
        };
        add("", String::new(), "own");
        let mut bare = keyassay::smiles::read(&text("answer")).structure;
        bare.clear_labels();
        add("answer", keyassay::smiles::write(&bare, keyassay::smiles::Labels::Without), "bare");
        add("answer", all[(at + 1) % all.len()]["answer"].as_str().unwrap_or_default().to_owned(), "other");
        for field in ["start", "arrows", "answer", "answer"] {
            add(field, spoiled(&text(field), next()), "spoiled");
        }
    }
    lines.join("\n")
}

#[test]
fn what_is_proven_quickly_is_sound_in_full() {
    let settings = Settings::default();
    let mut prover = Prover::new(&settings);
    let reader = Box::new(Cursor::new(bank().into_bytes()));
    let mut source = open("bank", Format::JsonLines, reader, &Arc::new(BankSettings::default())).expect("a bank");
    let (mut failures, mut proven, mut attempted, mut sound) = (Vec::new(), 0, 0, 0);
    while let Some(batch) = source.next_batch().expect("a text") {
        let (chunk, records) = batch.records();
        let context = Context::new(&settings, &chunk);
        for record in records {
            let judgement = judge(&context, &record, "bank");
            let is_sound = judgement.class == Class::Sound;
            let Ok(item) = &record.content else { continue };
            sound += usize::from(is_sound);
            let full = digest(item, &judgement.steps, None);
            let Some(plain) = Plain::of(item) else { continue };
            let Some(quick) = prover.prove(&plain) else {
                let Some(attempt) = prover.attempt(plain.task) else { continue };
                attempted += 1;
                if digest(item, &judgement.steps, Some(attempt)) != full {
                    failures.push(format!("{}: {attempt:?} {full:?}", item.id));
                }
                continue;
            };
            proven += 1;
            let same_product = Some(prover.product()) == of_product(&judgement.steps);
            let same_findings = judgement.findings.iter().eq(&quick.notes);
            if !is_sound || !same_findings || quick.digest != full || !same_product || judgement.stereo_not_judged() > 0
            {
                let names: Vec<_> = judgement.findings.iter().map(|finding| finding.name.entry().name).collect();
                failures.push(format!("{}: {names:?} {quick:?} {full:?} {same_product}", item.id));
            }
        }
    }
    assert!(failures.is_empty(), "{} of {proven}:\n{}", failures.len(), failures[..failures.len().min(20)].join("\n"));
    assert!(attempted * 4 > proven, "only {attempted} items are attempted, {proven} proven");
    assert!(proven * 2 > sound, "only {proven} of {sound} sound items are proven the quick way");
}

#[test]
fn localised_rings_beside_delocalised_ones_are_proven() {
    let mut prover = Prover::new(&Settings::default());
    let mut failures = Vec::new();
    for (start, arrows, answer) in LOCALISED {
        let item = Plain { id: None, task: Task::Resonance, start, arrows, answer, accept: None, prompt: "", tags: "" };
        if prover.prove(&item).is_none_or(|proof| !proof.notes.is_empty()) {
            failures.push(start);
        }
    }
    assert!(failures.is_empty(), "not proven: {failures:?}");
}

#[test]
fn common_loose_notation_is_proven() {
    let mut prover = Prover::new(&Settings::default());
    let mut failures = Vec::new();
    for (start, arrows, answer) in LOOSE {
        let item = Plain { id: None, task: Task::Step, start, arrows, answer, accept: None, prompt: "", tags: "" };
        let notes = prover.prove(&item).map(|proof| proof.notes);
        let is_said = |notes: &Vec<Finding>| notes.iter().any(|note| note.name == Name::LooseNotation);
        if !notes.as_ref().is_some_and(is_said) {
            failures.push(format!("{start} {arrows}: {notes:?}"));
        }
    }
    assert!(failures.is_empty(), "not proven:\n{}", failures.join("\n"));
}
