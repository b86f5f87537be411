//! Banks that were moved: what became of each item.

use keyassay::audit::{Content, Input, sweep};
use keyassay::bank::walk::walk;
use keyassay::bank::{Format, Plain, Settings};
use keyassay::findings::quick::Outliner;
use keyassay::findings::{Context, Settings as JudgeSettings};
use keyassay::migration::detail::{change, details};
use keyassay::migration::pair::by_id;
use keyassay::migration::print::of_outline;
use keyassay::migration::{contents, index, judged};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;

fn bank(name: &str, text: &str) -> Vec<Input> {
    let bytes: &'static [u8] = Box::leak(text.to_owned().into_bytes().into_boxed_slice());
    vec![Input { name: name.to_owned(), format: Format::Csv, encoding: None, content: Content::BuiltIn(bytes) }]
}

/// Each row as `old>new verdict field`.
fn compared(old: &str, new: &str) -> Vec<String> {
    let (settings, judging) = (Arc::new(Settings::default()), JudgeSettings::default());
    let inputs = [bank("old", old), bank("new", new)];
    let indexed = [0, 1].map(|at| index(&settings, &inputs[at], &mut |_| ()).unwrap_or_else(|error| panic!("{error}")));
    let pairing = by_id(&indexed[0].items, &indexed[1].items, &HashMap::new(), true);
    let mut at = 0..;
    let said = pairing.chosen().map(|chosen| {
        let at = at.next().unwrap_or_default();
        let said = contents(&settings, &judging, &inputs[at], &indexed[at], chosen, &mut |_| ());
        said.unwrap_or_else(|error| panic!("{error}"))
    });
    let rows = pairing.rows(&said[0], &said[1]);
    let again = [0, 1].map(|at| {
        let wanted: Vec<(u32, bool)> = (0..indexed[at].items.len() as u32).map(|own| (own, true)).collect();
        details(&settings, &judging, &inputs[at], &indexed[at], &wanted).unwrap_or_else(|error| panic!("{error}"))
    });
    let name = |side: usize, at: Option<u32>| at.map(|at| again[side][&at].id.clone()).unwrap_or_default();
    rows.iter()
        .map(|row| {
            let of = |side: usize, at: Option<u32>| at.and_then(|at| again[side].get(&at));
            let field = change(row, of(0, row.old_place()), of(1, row.new_place())).field;
            let text =
                format!("{}>{} {} {field}", name(0, row.old_place()), name(1, row.new_place()), row.verdict.name());
            text.trim_end().to_owned()
        })
        .collect()
}

const SHIFT: &str = "[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,[CH2+:1][CH:2]=[CH2:3]";
const CYANIDE: &str = "[C-:1]#N.[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,N#[C:1][CH3:2].[Br-:3]";

/// What was done, the old and the new items, the rows.
type Case = (&'static str, &'static [&'static str], &'static [&'static str], &'static [&'static str]);

const CASES: &[Case] = &[
    ("nothing", &["a,SHIFT"], &["a,SHIFT"], &["a>a same"]),
    (
        "labels, order and shafts",
        &["a,SHIFT"],
        &["a,[CH2+:9][CH:5]=[CH2:4],4-5 \u{2192} 5-9,[CH2+:4][CH:5]=[CH2:9]"],
        &["a>a rewritten"],
    ),
    (
        "other Kekulé form",
        &["a,C1=CC=CC=C1C([CH3:1])=[O:2].[H+:3],2 -> 2-3,C1=CC=CC=C1C([CH3:1])=[OH+:2]"],
        &["a,C1C=CC=CC=1C([CH3:1])=[O:2].[H+:3],2 -> 2-3,C1C=CC=CC=1C([CH3:1])=[OH+:2]"],
        &["a>a rewritten"],
    ),
    ("id", &["a,SHIFT"], &["b,SHIFT"], &["a>b renamed"]),
    (
        "answer",
        &["a,CYANIDE"],
        &["a,[C-:1]#N.[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,N#[C:1][CH3:2].[Br:3]"],
        &["a>a changed answer"],
    ),
    (
        "the answer's labels alone",
        &["a,SHIFT"],
        &["a,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,[CH2:1]=[CH:2][CH2+:3]"],
        &["a>a changed answer"],
    ),
    ("arrows", &["a,CYANIDE"], &["a,[C-:1]#N.[CH3:2][Br:3],1 -> 1-2,N#[C:1][CH3:2].[Br-:3]"], &["a>a changed arrows"]),
    (
        "start",
        &["a,CYANIDE"],
        &["a,[C-:1]#N.[CH3:2][Cl:3],1 -> 1-2; 2-3 -> 3,N#[C:1][CH3:2].[Br-:3]"],
        &["a>a changed start"],
    ),
    (
        "a stereo mark",
        &["a,F[C@](Cl)(I)C[O-:1].[H+:2],1 -> 1-2,F[C@](Cl)(I)C[OH:1]"],
        &["a,F[C@@](Cl)(I)C[O-:1].[H+:2],1 -> 1-2,F[C@](Cl)(I)C[OH:1]"],
        &["a>a changed start"],
    ),
    (
        "the same mark written otherwise",
        &["a,F[C@](Cl)(I)C[O-:1].[H+:2],1 -> 1-2,F[C@](Cl)(I)C[OH:1]"],
        &["a,[H+:2].Cl[C@@](F)(I)C[O-:1],1 -> 1-2,[OH:1]C[C@@](F)(Cl)I"],
        &["a>a rewritten"],
    ),
    (
        "lost and added",
        &["a,SHIFT", "b,CYANIDE"],
        &["a,SHIFT", "c,[OH-:1].[H+:2],1 -> 1-2,[OH2:1]"],
        &["a>a same", "b> lost", ">c added"],
    ),
    ("not readable", &["a,SHIFT"], &["a,C(,1 -> 2,C"], &["a>a doubtful"]),
    ("one id twice", &["a,SHIFT"], &["a,SHIFT", "a,CYANIDE"], &["a>a doubtful", ">a doubtful"]),
    ("not readable and without an id", &["a,SHIFT"], &["a,SHIFT", ",C(,1 -> 2,C"], &["a>a same", ">new:3 doubtful"]),
    ("no ids, one question twice", &[",SHIFT", ",SHIFT"], &[",SHIFT"], &["old:2>new:2 doubtful", "old:3> doubtful"]),
    ("symmetric, labels gone", &["a,SHIFT"], &["a,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,[CH2+]C=C"], &["a>a doubtful"]),
];

/// What the rows of a bank of one or more items become.
#[test]
fn items_come_to_what_was_done_to_them() {
    let mut failures = Vec::new();
    for (what, old, new, expected) in CASES {
        let text = |items: &[&str]| {
            let items = items.join("\n").replace("SHIFT", SHIFT).replace("CYANIDE", CYANIDE);
            format!("id,start,arrows,answer\n{items}\n")
        };
        let rows = compared(&text(old), &text(new));
        if rows != *expected {
            failures.push(format!("{what}: {rows:?}, expected {expected:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// What says how an answer is taken: species left out, drawings accepted, the contributor that counts most; and heads that are open.
#[test]
fn the_other_fields_come_to_what_was_done_to_them() {
    let omits = |own: &str| format!("id,start,arrows,answer,omits\na,CC(C)(C)Br,2-5 -> 5,C[C+](C)C,{own}\n");
    let accept = |own: &str| format!("id,start,arrows,answer,accept\na,{SHIFT},{own}\n");
    let set =
        |answers: &str, major: &str| format!("id,task,start,answers,major\na,contributors,CC(N)=O,{answers},{major}\n");
    let arrow = |own: &str| format!("id,start,arrows,answer\na,[CH3:4][CH:1]=[CH2:2].[H+:3],{own},C[CH+]C\n");
    let hydrogens = |own: &str| format!("id,start,arrows,answer\na,[CH3:1][NH-:2],{own},C[NH-]\n");
    let cases = [
        ("species written otherwise", omits("[Br-] O"), omits("[OH2].[Br-]"), "a>a rewritten"),
        ("a species less", omits("[Br-] O"), omits("[Br-]"), "a>a changed omits"),
        ("any species", omits("[Br-]"), omits("*"), "a>a changed omits"),
        ("what is the default", accept(""), accept("drawing"), "a>a rewritten"),
        ("any contributor", accept(""), accept("contributor"), "a>a changed accept"),
        (
            "members in another order",
            set("CC(N)=O CC(=[NH2+])[O-]", "1"),
            set("CC(=[NH2+])[O-] CC(N)=O", "B"),
            "a>a rewritten",
        ),
        (
            "another major one",
            set("CC(N)=O CC(=[NH2+])[O-]", "1"),
            set("CC(N)=O CC(=[NH2+])[O-]", "2"),
            "a>a changed major",
        ),
        ("an open head and its bond", arrow("1-2 -> 3"), arrow("1-2 -> 2-3"), "a>a rewritten"),
        ("the other end of it", arrow("1-2 -> 2-3"), arrow("1-2 -> 1-3"), "a>a changed arrows"),
        (
            "hydrogens of one atom",
            hydrogens("1-1h -> 1-1h2; 1-1h2 -> 1"),
            hydrogens("1-1h2 -> 1-1h; 1-1h2 -> 1"),
            "a>a changed arrows",
        ),
        (
            "the same under other numbers",
            hydrogens("1-1h -> 1-1h2; 1-1h2 -> 1"),
            hydrogens("1-1h3 -> 1-1h; 1-1h -> 1"),
            "a>a rewritten",
        ),
        (
            "a start without a localised form",
            "id,start,arrows,answer\na,c1ccccc1.[H+],1-2 -> 1-7,C1=C[CH+]C=CC1\n".to_owned(),
            "id,start,arrows,answer\na,c1cccc1.[H+],1-2 -> 1-6,C1=C[CH+]C=CC1\n".to_owned(),
            "a>a changed start",
        ),
    ];
    let failures: Vec<String> = cases
        .iter()
        .map(|(what, old, new, expected)| (what, compared(old, new), *expected))
        .filter(|(_, rows, expected)| rows != &[*expected])
        .map(|(what, rows, expected)| format!("{what}: {rows:?}, expected {expected}"))
        .collect();
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// A record that is not well formed is matched by its id.
#[test]
fn records_that_are_not_well_formed_are_doubtful() {
    let bank = format!("id,start,arrows,answer,accept\na,{SHIFT},whatever\nb,{SHIFT},\n");
    assert_eq!(compared(&bank, &bank), ["a>a doubtful", "b>b same"]);
}

/// Options and keys.
#[test]
fn choices_come_to_what_was_done_to_them() {
    let item = |options: &str, key: &str| {
        format!("id,start,arrows,option_a,option_b,key\na,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,{options},{key}\n")
    };
    let (right, wrong) = ("[CH2+:1][CH:2]=[CH2:3]", "[CH2-:1][CH:2]=[CH2:3]");
    let old = item(&format!("{right},{wrong}"), "A");
    let cases = [
        (item(&format!("{right},{wrong}"), "1"), "a>a rewritten"),
        (item(&format!("{right},{wrong}"), "B"), "a>a changed key"),
        (item(&format!("{right},[CH3:1][CH:2]=[CH2:3]"), "A"), "a>a changed options"),
        (item(&format!("{wrong},{right}"), "B"), "a>a changed options key"),
    ];
    let failures: Vec<String> = cases
        .iter()
        .map(|(new, expected)| (compared(&old, new), *expected))
        .filter(|(rows, expected)| rows != &[*expected])
        .map(|(rows, expected)| format!("{rows:?}, expected {expected}"))
        .collect();
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// What the quick way makes of an item is what a judgement makes of it: over all banks of the corpus that can be read.
#[test]
fn an_outline_is_what_a_judgement_comes_to() {
    let judging = JudgeSettings::default();
    let mut outliner = Outliner::new(&judging);
    let (mut failures, mut outlined, mut left) = (Vec::new(), 0, 0);
    let walk = walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus"), None);
    let input = |(path, format): &(PathBuf, Format)| Input {
        name: path.display().to_string(),
        format: *format,
        encoding: None,
        content: Content::Path(path.clone()),
    };
    let inputs: Vec<Input> = walk.files.iter().map(input).collect();
    let swept = sweep(
        &Arc::new(Settings::default()),
        &inputs,
        |_, _, batch| batch.records(),
        |input, (chunk, records)| {
            let context = Context::new(&judging, &chunk);
            for record in &records {
                let Some(plain) = record.content.as_ref().ok().and_then(Plain::of) else { continue };
                let Some(outline) = outliner.outline(&plain) else {
                    left += 1;
                    continue;
                };
                outlined += 1;
                let quick = of_outline(&outline, plain.task, plain.accept.unwrap_or_default());
                if quick != judged(&context, record, "").1.content() {
                    failures.push(format!("{}, line {}", inputs[input].name, record.line));
                }
            }
            Ok(())
        },
    );
    swept.unwrap_or_else(|error| panic!("{error}"));
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(outlined > 300, "only {outlined} items were outlined, {left} were not");
}

fn run(arguments: &[&str]) -> (i32, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("the program runs: {error}"));
    (output.status.code().unwrap_or(-1), String::from_utf8_lossy(&output.stdout).into_owned())
}

/// Each file of the demonstration is the same as itself, and as what `convert` makes of those that it can write whole.
#[test]
fn a_converted_bank_is_the_same_bank() {
    let folder = std::env::temp_dir().join(format!("keyassay-moved-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap_or_else(|error| panic!("{error}"));
    let path = |name: &str| folder.join(name).display().to_string();
    let mut failures = Vec::new();
    for bank in ["contributors.jsonl", "choices.csv", "steps.csv"] {
        let bank = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/demonstration").join(bank).display().to_string();
        let moved = path("moved.jsonl");
        run(&["convert", &bank, "--to", "jsonl", "--out", &moved]);
        for other in [&bank, &moved] {
            let (status, told) = run(&["compare", &bank, "--with", other, "--out", &path("out")]);
            if status != 0 {
                failures.push(format!("{bank} with {other}: status {status}\n{told}"));
            }
        }
    }
    let _ = std::fs::remove_dir_all(&folder);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// The book of the demonstration: the working of sound items, the others withheld, the caution on it, in both shapes.
#[test]
fn the_answer_book_gives_sound_items_and_withholds_the_rest() {
    let folder = std::env::temp_dir().join(format!("keyassay-book-{}", std::process::id()));
    let out = folder.display().to_string();
    let (status, told) = run(&["answers", "--out", &out]);
    let (bare, _) = run(&["answers", "--out", &out, "--format", "markdown", "--without", "working"]);
    let text = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap_or_default();
    let (page, markdown) = (text("answers.html"), text("answers.md"));
    let first_picture = text("answer-0001.svg");
    let _ = std::fs::remove_dir_all(&folder);
    assert_eq!((status, bare), (0, 0), "{told}");
    let expected = [
        (&page, "<article class=\"answer\"", true),
        (&page, "along this string only", true),
        (&page, "keep their charges", true),
        (&page, "Net charge:", true),
        (&page, "is wrong.", true),
        (&page, "mismatched-product:", true),
        (&page, "no laboratory procedure", true),
        (&page, "<script", false),
        (&markdown, "answer-0001.svg", true),
        (&markdown, "no laboratory procedure", true),
        (&markdown, "Net charge:", false),
        (&first_picture, "<svg", true),
    ];
    let failures: Vec<&str> =
        expected.iter().filter(|(text, part, is_there)| text.contains(part) != *is_there).map(|own| own.1).collect();
    assert!(failures.is_empty(), "{failures:?}");
}

/// What the sentences of a push say, of arrows that move pairs and single electrons, swing round atoms, and meet at one bond.
#[test]
fn the_working_is_what_the_arrows_do() {
    let cases = [
        (
            ["[CH3:1][O:2][O:3][CH3:4]", "2-3 ~> 2; 2-3 ~> 3"],
            "O2 and O3 are left with an unpaired electron each.",
            true,
        ),
        (["[CH3:1][O:2][O:3][CH3:4]", "2-3 ~> 2; 2-3 ~> 3"], "to a ring", false),
        (
            ["[Cl:1].[H:2][CH3:3]", "1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3"],
            "The unpaired electron of Cl1 is paired now. C3 is left with an unpaired electron.",
            true,
        ),
        (["[CH2:1]=[CH:2][CH2+:3]", "1-2 -> 2-3"], "C2 stays at the pair that moves and keeps its charge.", true),
        (
            ["[CH3:1][Mg:2][Br:6].[O:3]=[CH2:5]", "1-2 -> 1-5; 3-5 -> 3; 2-6 -> 6"],
            "only Mg2 (by +1) and Br6 (0 to -1) change charge",
            true,
        ),
        (["[CH2:1]=[O:2]", "1-2 -> 2; 1-2 -> 2"], "Arrow 2: the sigma pair of the bond C1-O2 moves", true),
        (["[CH2:1].[CH2:2]", "1 -> 1-2; 2 -> 1-2"], "Arrow 2: a lone pair of C2 moves, and makes a pi bond", true),
    ];
    let failures: Vec<String> = cases
        .iter()
        .map(|([start, arrows], words, is_there)| (words, run(&["push", start, arrows]).1, *is_there))
        .filter(|(words, told, is_there)| told.contains(**words) != *is_there)
        .map(|(words, told, _)| format!("{words}: {told}"))
        .collect();
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
