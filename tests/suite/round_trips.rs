//! Banks there and back under random profiles: an equal bank and an equal audit.
//!
//! `KEYASSAY_CASES` sets how many random banks are taken; the suite takes 200.

use super::audits::scratch;
use keyassay::audit::{Audited, Content, Input, Plan, Reporter, Summary, run};
use keyassay::bank::write::{BankWriter, Target};
use keyassay::bank::{Format, Settings, open};
use keyassay::findings::Name;
use keyassay::profile::{Profile, read};
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock};

/// A simple sequence (Knuth's MMIX constants), so that every run takes the same banks.
struct Random(u64);

impl Random {
    fn next(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % below.max(1)
    }

    fn one<'t>(&mut self, of: &[&'t str]) -> &'t str {
        of[self.next(of.len())]
    }
}

/// Questions of the frozen file of random ones.
static QUESTIONS: LazyLock<Vec<Value>> = LazyLock::new(|| {
    let text = include_str!("../../corpus/witness/differential.jsonl");
    text.lines().map(|line| serde_json::from_str(line).expect("JSON Lines")).collect()
});

/// Items of every kind that a bank has beside plain steps.
static KINDS: LazyLock<Vec<Value>> = LazyLock::new(|| {
    vec![
        json!({"start": "[CH2-]C=O", "arrows": "1 -> 1-2; 2-3 -> 3", "options": ["C=C[O-]", "", "[CH2-]C=O"], "key": "A"}),
        json!({"start": "[CH2-]C=O", "arrows": "1 -> 1-2; 2-3 -> 3", "options": ["C=C[O-]", "[CH2-]C=O"], "key": "2"}),
        json!({"start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3",
               "options": ["[CH2:1]=[CH:2][O-:3]", "[CH2:1]=[CH:2][O:3]"], "key": "A"}),
        json!({"start": "[OH-].CBr", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "OC", "omits": "*"}),
        json!({"start": "[OH-].CBr", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "OC"}),
        json!({"start": "[OH-].CBr", "arrows": "1 -> 1-2; 2-3 -> 3"}),
        json!({"start": "[OH-].CBr", "arrows": "1 -> 1-2; 2-3 -> 9", "answer": "OC.[Br-]"}),
        json!({"steps": [{"start": "[OH-].CC=O.O", "arrows": "1 -> 1-3; 3-4 -> 4", "answer": "OC(C)[O-].O"},
                         {"arrows": "4 -> 4-5h; 5-5h -> 5", "answer": "OC(C)O.[OH-]"}]}),
        json!({"steps": [{"start": "[OH-:1].[CH3:2][CH:3]=[O:4]", "arrows": "1 -> 1-3; 3-4 -> 4", "answer": "[OH:1][CH:3]([CH3:2])[O-:4]"},
                         {"start": "[OH:1][CH:3]([CH3:2])[O-:4].[OH2:9]", "arrows": "4 -> 4-9h; 9-9h -> 9",
                          "answer": "[OH:1][CH:3]([CH3:2])[OH:4].[OH:9]"}]}),
        json!({"task": "contributors", "start": "CC(=O)[O-]", "answers": ["CC(=O)[O-]", "CC([O-])=O"]}),
        json!({"task": "contributors", "start": "[CH2:1]=[CH:2][O-:3]", "answers": ["[CH2-:1][CH:2]=[O:3]"]}),
        json!({"task": "resonance", "start": "C=C[CH2+]", "arrows": "1-2 -> 2-3", "answer": "[CH2+]C=C"}),
        json!({"start": "[OH-].CC1=CC=CC=C1C(=O)O", "arrows": "1 -> 1-11h; 11-11h -> 11", "answer": "CC=1C=CC=CC=1C(=O)[O-].O"}),
        json!({"start": "[OH-].c1ccccc1O", "arrows": "1 -> 1-8h; 8-8h -> 8", "answer": "c1ccccc1[O-].O"}),
        json!({"start": "CC(C)=C.Br", "arrows": "2-4 -> 5h; 5-5h -> 5", "answer": "C[C+](C)C.[Br-]"}),
        json!({"start": "F[C@](Cl)(Br)C[NH3+].[OH-]", "arrows": "7 -> 7-6h; 6-6h -> 6", "answer": "F[C@](Cl)(Br)CN.O"}),
        json!({"start": "F[C@](Cl)(Br)C[NH3+].[OH-]", "arrows": "7 -> 7-6h; 6-6h -> 6", "answer": "F[C@@](Cl)(Br)CN.O"}),
        json!({"start": "C/C=C/C[NH3+].[OH-]", "arrows": "6 -> 6-5h; 5-5h -> 5", "answer": "CC=CCN.O"}),
        json!({"start": "[CH3:1][Br:2]", "arrows": "1-2 ~> 1; 1-2 ~> 2", "answer": "[CH3:1].[Br:2]"}),
        json!({"start": "CC(=O)OC.[OH-]", "arrows": "6 -> 6-2; 2-3 -> 3; 3 -> 2-3; 2-4 -> 4", "answer": "CC(=O)O.C[O-]"}),
        // Spellings of others.
        json!({"start": "[HH].C=C", "arrows": "1-2 -> 1; 3-4 -> 4", "answer": "[HH].[CH2+][CH2-]"}),
        json!({"start": "C(C)1CCC1.[OH-]", "arrows": "C1 -> C1-C2", "answer": "C"}),
        json!({"start": "CBr.[OH-]", "arrows": "1) 3 => 3-1, 2) 1=2 --> 2", "answer": "CO.[Br-]"}),
        json!({"start": "[CH3:1][CH3:0]", "arrows": "1-2 -> 2", "answer": "C"}),
        json!({"start": "C(C", "arrows": "1 -> 2", "answer": "CC"}),
    ]
});

/// A random item as an object of JSON.
fn item(random: &mut Random, at: usize) -> Value {
    let mut item = if random.next(2) == 0 {
        let question = &QUESTIONS[random.next(QUESTIONS.len())];
        let own = ["start", "arrows", "answer", "task"].map(|name| (name.to_owned(), question[name].clone()));
        Value::Object(own.into_iter().filter(|(_, value)| value.is_string()).collect::<Map<_, _>>())
    } else {
        KINDS[random.next(KINDS.len())].clone()
    };
    let is_set = item["task"] == "contributors";
    match random.next(4) {
        0 if !is_set => {
            item.as_object_mut().map(|own| own.remove("task"));
        }
        1 if !is_set => item["task"] = "step".into(),
        _ => {}
    }
    let texts = ["", "Show the <next> step & its \"product\"", "two\nlines", "\u{e4}, \u{2192}; tab\there", " spaced "];
    if random.next(3) > 0 || item.get("steps").is_some() {
        item["id"] = format!("{}{at}", random.one(&["q", "Q-", "set 2, no. ", "\u{df}"])).into();
    }
    item["prompt"] = random.one(&texts).into();
    item["tags"] = random.one(&["", "sn2 basics", "a,b"]).into();
    item["source"] = random.one(&["", "p. 7"]).into();
    match random.next(6) {
        0 => item["accept"] = "contributor".into(),
        1 => item["accept"] = "drawing".into(),
        _ => {}
    }
    item
}

/// A bank in one of the formats that people type.
fn bank(random: &mut Random, items: &[Value]) -> (&'static str, Format, String) {
    match random.next(4) {
        0 => ("json", Format::Json, Value::from(items.to_vec()).to_string()),
        1 => {
            let lines = items.iter().fold(String::new(), |mut lines, item| {
                let _ = writeln!(lines, "{item}");
                lines
            });
            ("jsonl", Format::JsonLines, lines)
        }
        kind => table(items, if kind == 2 { b',' } else { b'\t' }),
    }
}

const COLUMNS: [&str; 16] = [
    "id", "task", "step", "start", "arrows", "answer", "answers", "accept", "omits", "key", "prompt", "tags", "source",
    "option_a", "option_b", "option_c",
];

fn table(items: &[Value], separator: u8) -> (&'static str, Format, String) {
    let mut rows = csv::WriterBuilder::new().delimiter(separator).from_writer(Vec::new());
    rows.write_record(COLUMNS).expect("memory");
    for item in items {
        let one = [item.clone()];
        let steps = item["steps"].as_array().map_or(&one[..], |steps| steps);
        for (at, step) in steps.iter().enumerate() {
            let cell = |name: &str| -> String {
                let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
                match name {
                    "id" | "task" => text(&item[name]),
                    "step" if steps.len() > 1 => (at + 1).to_string(),
                    "step" => String::new(),
                    "start" | "arrows" | "answer" => text(&step[name]),
                    _ if at > 0 => String::new(),
                    "answers" => {
                        let list = item["answers"].as_array().into_iter().flatten();
                        list.map(text).collect::<Vec<_>>().join(" ")
                    }
                    "option_a" | "option_b" | "option_c" => {
                        let number = usize::from(name.as_bytes()[7] - b'a');
                        text(&item["options"][number])
                    }
                    _ => text(&item[name]),
                }
            };
            rows.write_record(COLUMNS.iter().map(|name| cell(name))).expect("memory");
        }
    }
    let text = String::from_utf8(rows.into_inner().expect("memory")).expect("text");
    if separator == b',' { ("csv", Format::Csv, text) } else { ("tsv", Format::Tsv, text) }
}

/// A random profile.
fn profile(random: &mut Random) -> (String, Profile) {
    let mut text = String::new();
    let mut put = |line: &str| {
        text.push_str(line);
        text.push('\n');
    };
    put(random.one(&["", "task = \"resonance\"", "task = \"step\""]));
    put(random.one(&["", "accept = \"contributor\""]));
    put(random.one(&["", "octet = \"strict\""]));
    put(random.one(&["", "", "labels = 0", "labels = 1"]));
    put(random.one(&["", "smiles = \"strict\"", "smiles = \"loose\""]));
    put(random.one(&["", "distractors = \"strict\""]));
    put(random.one(&[
        "",
        "[severity]\nomitted-species = \"error\"\nother-kekule-form = \"warning\"\nunknown-atom = \"note\"",
    ]));
    let read = read(&text).unwrap_or_else(|faults| panic!("{text}: {faults:?}"));
    (text, read)
}

/// What an audit says of an item that no way of writing may change.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Said {
    id: String,
    prompt: String,
    tags: String,
    class: String,
    findings: Findings,
}

#[derive(Default)]
struct Collected {
    said: Vec<Said>,
}

/// Ids that the bank does not give say where an item stands.
fn is_own(id: &str) -> bool {
    !id.contains(".bank:") && !id.contains(".zip")
}

impl Reporter for Collected {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        // Notes of a spelling go with the spelling; two findings of the bank name other items.
        let bank_wide = [Name::LooseNotation, Name::RepeatedQuestion, Name::ConflictingAnswers, Name::ShiftedAnswers];
        let own = item.findings.iter().filter(|own| !bank_wide.contains(&own.name));
        let findings = own.map(|own| {
            (own.step, own.name.entry().name, format!("{:?}", own.severity), own.slips.names().into_owned())
        });
        let strict = item.findings.iter().any(|own| own.name == Name::LooseNotation);
        self.said.push(Said {
            id: if is_own(&item.id) { item.id.clone() } else { String::new() },
            // Space around a text is the format's.
            prompt: item.prompt.trim().to_owned(),
            tags: item.tags.clone(),
            // An error for its spelling makes an item faulty, and goes with it.
            class: if strict { String::new() } else { format!("{:?}", item.class) },
            findings: findings.collect(),
        });
        Ok(())
    }

    fn finish(&mut self, _: &Summary) -> io::Result<()> {
        Ok(())
    }

    fn wants_sound(&self) -> bool {
        true
    }
}

fn audit(path: &Path, format: Format, profile: &Profile) -> Vec<Said> {
    let plan = Plan {
        bank: Arc::new(profile.bank()),
        judge: profile.judge(),
        severities: profile.severities.clone(),
        show_sound: true,
        ..Plan::default()
    };
    let (name, encoding) = ("the.bank".to_owned(), None);
    let input = Input { name, format, encoding, content: Content::Path(path.to_owned()) };
    let mut collected = Collected::default();
    let summary = run(&plan, &[input], &mut [&mut collected], &mut |_| {}).expect("an audit in memory");
    assert!(summary.unread.is_empty(), "{:?}", summary.unread);
    collected.said
}

/// What became of a record: whether it is in the other bank, and whether a bond was told that the other cannot carry. Whatever else is
/// told (ids that became numbers, coordinates) changes no verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Became {
    Equal,
    Told,
    LeftOut,
}

/// Writes a bank as another one; gives what became of its records.
fn convert(from: (&Path, Format), profile: &Profile, target: Target, to: &Path) -> Vec<Became> {
    let settings = Arc::new(Settings { keep_extra: true, ..profile.bank() });
    let bytes = fs::read(from.0).expect("a bank");
    let mut source = open("the.bank", from.1, Box::new(io::Cursor::new(bytes)), &settings).expect("a bank");
    let mut writer = BankWriter::new(Vec::new(), target, &profile.limits).expect("memory");
    let mut kept = Vec::new();
    while let Some(batch) = source.next_batch().expect("a bank") {
        for record in &batch.records().1 {
            let carried = writer.record(record).expect("memory");
            kept.push(match (carried.left_out, carried.lost.iter().all(|own| !own.contains("order"))) {
                (Some(_), _) => Became::LeftOut,
                (None, false) => Became::Told,
                (None, true) => Became::Equal,
            });
        }
    }
    fs::write(to, writer.finish().expect("memory")).expect("a bank");
    kept
}

type Findings = BTreeSet<(u32, &'static str, String, String)>;

/// That positions may have been counted otherwise can be told only where they were not drawn as labels on the way.
fn counts_otherwise(wanted: &Findings, found: &Findings) -> bool {
    let names = |own: &Findings| -> BTreeSet<(u32, &'static str, String)> {
        let others = own.iter().filter(|own| own.1 != "shifted-labels");
        others.map(|(step, name, severity, _)| (*step, *name, severity.clone())).collect()
    };
    let by_one = |own: &Findings| own.iter().any(|own| own.3.contains("labels-off-by-one"));
    by_one(wanted) && names(wanted) == names(found)
}

/// How two audits differ in their first item that is another.
fn difference(wanted: &[(&Said, Became)], found: &[Said]) -> Option<String> {
    if wanted.len() != found.len() {
        return Some(format!("{} items, not {}", found.len(), wanted.len()));
    }
    let same = |own: &Said, other: &Said| {
        let class = own.class.is_empty() || other.class.is_empty() || own.class == other.class;
        // Some formats give every item an id.
        let id = own.id.is_empty() || own.id == other.id;
        let findings = own.findings == other.findings || counts_otherwise(&own.findings, &other.findings);
        class && id && findings && (&own.prompt, &own.tags) == (&other.prompt, &other.tags)
    };
    let mut pairs = wanted.iter().zip(found);
    let differing = pairs.find(|((own, became), other)| *became == Became::Equal && !same(own, other));
    differing.map(|((own, _), other)| format!("{own:?}\n   {other:?}"))
}

#[test]
fn there_and_back_is_an_equal_bank_and_an_equal_audit() {
    let cases = std::env::var("KEYASSAY_CASES").ok().and_then(|text| text.parse().ok()).unwrap_or(200);
    let folder = scratch(&format!("round-trips-{}", std::process::id()));
    let mut random = Random(20_261_130);
    let (mut failures, mut judged, mut told) = (Vec::new(), 0_usize, 0_usize);
    let targets = [
        (Target::Csv, Format::Csv),
        (Target::JsonLines, Format::JsonLines),
        (Target::Cml, Format::Cml),
        (Target::Qti, Format::Package),
    ];
    for case in 0..cases {
        let count = 1 + random.next(5);
        let items: Vec<Value> = (0..count).map(|at| item(&mut random, at)).collect();
        let (ending, format, text) = bank(&mut random, &items);
        let (settings, profile) = profile(&mut random);
        let at = |name: &str| -> PathBuf { folder.join(name) };
        fs::write(at("first"), &text).expect("a bank");
        let first = audit(&at("first"), format, &profile);
        judged += first.len();
        for (there, there_format) in targets {
            let kept = convert((&at("first"), format), &profile, there, &at("there"));
            if kept.iter().all(|own| *own == Became::LeftOut) {
                continue;
            }
            told += kept.iter().filter(|own| **own == Became::Told).count();
            let there_is = first.iter().zip(&kept).filter(|(_, became)| **became != Became::LeftOut);
            let wanted: Vec<(&Said, Became)> = there_is.map(|(own, became)| (own, *became)).collect();
            let mut ways = vec![("there", wanted.clone(), audit(&at("there"), there_format, &profile))];
            for (back, back_format) in [targets[0], targets[1]] {
                let kept = convert((&at("there"), there_format), &profile, back, &at("back"));
                // What could not be carried there cannot be read on the way back.
                let pairs = wanted.iter().copied().zip(&kept);
                let stays =
                    pairs.filter(|((_, on_the_way), back)| **back != Became::LeftOut || *on_the_way != Became::Told);
                let wanted: Vec<(&Said, Became)> = stays.map(|(own, _)| own).collect();
                // A bank of which nothing came back is an empty file, which no audit reads; what should have come is missed all the same.
                let came = kept.iter().any(|own| *own != Became::LeftOut);
                let found = if came { audit(&at("back"), back_format, &profile) } else { Vec::new() };
                ways.push(("back", wanted, found));
            }
            for (way, wanted, found) in ways {
                if let Some(difference) = difference(&wanted, &found) {
                    failures
                        .push(format!("case {case}, {ending} to {there:?}, {way}:\n   {difference}\n{settings}{text}"));
                    break;
                }
            }
        }
        if failures.len() > 4 {
            break;
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n\n"));
    assert!(judged > cases && told * 200 < judged, "{judged} items in {cases} banks, {told} not carried whole");
}
