//! Several steps drawn as one: the cut against every other cut, and the proposed sequence judged again.

use super::judged::{Judged, judged};
use super::slips::Random;
use keyassay::arrows::resolve::{readings, resolve};
use keyassay::arrows::{Arrow, cut, notation, push};
use keyassay::bank::Format;
use keyassay::findings::{Correction, Grade, Settings, Target};
use keyassay::smiles;
use keyassay::structure::electrons::{Electrons, faults};
use keyassay::structure::{LabelIndex, OctetRule, Structure};
use serde_json::{Value, json};

/// Start, arrows, the cut by hand, and the answer.
const BY_HAND: &[(&str, &str, &str, &str)] = &[
    (
        "[NH2-:1].[CH3:2][C:3]#[N:4].[CH3:5][I:6]",
        "1 -> 1-2h; 2-2h -> 2; 2 -> 2-5; 5-6 -> 6",
        "1-2 | 3-4",
        "[NH3:1].[CH2:2]([CH3:5])[C:3]#[N:4].[I-:6]",
    ),
    // The second attack needs the pair that the loss of the proton leaves.
    (
        "[NH3:1].[CH3:2][I:3].[CH3:4][I:5].[NH3:6]",
        "1 -> 1-2; 2-3 -> 3; 6 -> 6-1h; 1-1h -> 1; 1 -> 1-4; 4-5 -> 5",
        "1-4 | 5-6",
        "[NH2+:1]([CH3:2])[CH3:4].[I-:3].[I-:5].[NH4+:6]",
    ),
    // A proton that goes on: its bond to the oxygen of water is not drawn in the start.
    ("CC(C)=O.[OH3+].N", "4 -> 4-5h; 5-5h -> 5; 6 -> 6-5h; 4-5h -> 4", "1-2 | 3-4", "CC(C)=O.O.[NH4+]"),
    // A free proton on the way.
    (
        "CC(=O)O.N",
        "4-4h -> 4; 5 -> 5-4h; 5-4h -> 5; 4 -> 4-4h; 4-4h -> 4; 5 -> 5-4h",
        "1-2 | 3-4 | 5-6",
        "CC(=O)[O-].[NH4+]",
    ),
    // Aromatic: the ring's form follows from the tails.
    ("c1ccccc1.[Br+]", "1-2 -> 1-7; 1-1h -> 1-2; 7 -> 7-1h; 7-1h -> 7", "1-3 | 4", "c1ccc([Br])cc1.[H+]"),
];

fn judged_one(item: &Value) -> Judged {
    judged(&item.to_string(), Format::JsonLines, &Settings::default()).remove(0)
}

/// What is said of an item that has these proposed steps.
fn faults_of_sequence(start: &str, steps: &str) -> Option<String> {
    let steps: Value = serde_json::from_str(steps).expect("steps");
    let item = json!({"id": "q", "start": start, "steps": steps});
    let again = judged_one(&item);
    (!again.names().is_empty()).then(|| format!("{item}: {}\n    {}", again.names(), again.messages()))
}

#[test]
fn cuts_by_hand_and_their_sequences() {
    let mut failures = Vec::new();
    for (start, arrows, expected, answer) in BY_HAND {
        let found = judged_one(&json!({"id": "q", "start": start, "arrows": arrows, "answer": answer}));
        let names = found.names();
        if names != "steps-in-one" || !found.messages().contains(&format!("cut as {expected}:")) {
            failures.push(format!("{start} {arrows}: {names}\n    {}", found.messages()));
            continue;
        }
        failures.extend(faults_of_sequence(start, &found.findings[0].correction));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// What a cut costs by the rule: steps, open octets and charges between, then the latest cut; `None` where it is none.
fn cost(
    start: &Structure,
    arrows: &[Arrow],
    ends: &[usize],
) -> Option<(usize, usize, i64, Vec<std::cmp::Reverse<usize>>)> {
    let mut before = start.clone();
    let (mut from, mut open, mut charges) = (0, 0, 0);
    for end in ends {
        before = push(&before, &arrows[from..*end]).ok()?.product;
        from = *end;
        if !faults(&before, OctetRule::Usual).is_empty() {
            return None;
        }
        if *end < arrows.len() {
            let full = |hydrogen: bool| if hydrogen { 2 } else { 8 };
            let is_open = |(id, atom): (_, &keyassay::structure::Atom)| {
                Electrons::of(&before, id).shell().is_some_and(|shell| shell < full(atom.element.symbol() == "H"))
            };
            open += before.atoms().filter(|own| is_open(*own)).count();
            charges += before.atoms().map(|(_, atom)| i64::from(atom.charge).abs()).sum::<i64>();
        }
    }
    Some((ends.len(), open, charges, ends.iter().map(|end| std::cmp::Reverse(*end)).collect()))
}

/// Every cut is tried, with the push itself as the judge.
#[test]
fn the_best_of_all_cuts_is_found() {
    const STARTS: &[&str] =
        &["CC(=O)C.[OH-]", "[NH3].CC(=O)Cl", "C=CC=O.[CH3-]", "CC#N.O.[H+]", "C=C.BrBr", "[O-][N+]=O.N"];
    let mut random = Random(20);
    let (mut cuts, mut none) = (0, 0);
    let mut failures = Vec::new();
    for round in 0..20_000 {
        let start = STARTS[round % STARTS.len()];
        let mut structure = smiles::read(start).structure;
        structure.label_by_position();
        let count = structure.atom_count();
        let places: Vec<String> = structure
            .bonds()
            .map(|(_, a, b, _)| format!("{}-{}", a.index() + 1, b.index() + 1))
            .chain((1..=count).map(|at| at.to_string()))
            .collect();
        // A chain: each arrow begins near where the one before it ended.
        let mut text: Vec<String> = Vec::new();
        let mut last = places[random.below(places.len())].clone();
        for _ in 0..random.below(5) + 2 {
            let shares = |a: &str, b: &str| a.split('-').any(|own| b.split('-').any(|other| own == other));
            let pair = format!("{}-{}", last.split('-').next().unwrap_or("1"), random.below(count) + 1);
            let mut near: Vec<&String> = places.iter().filter(|place| shares(place, &last)).collect();
            near.push(&pair);
            let head = near[random.below(near.len())].clone();
            text.push(format!("{last} -> {head}"));
            last = if random.below(3) > 0 { head } else { places[random.below(places.len())].clone() };
        }
        let reading = notation::read(&text.join("; "), 100);
        let resolved = resolve(structure.clone(), &LabelIndex::new(&structure), &reading.arrows);
        if !reading.faults.is_empty() || !resolved.faults.is_empty() {
            continue;
        }
        let Some(arrows) = readings(&resolved.arrows, 1).next() else { continue };
        if push(&resolved.start, &arrows).is_ok() {
            continue;
        }
        let all = (1..1_u32 << (arrows.len() - 1)).map(|bits| {
            let inner = (1..arrows.len()).filter(|at| bits >> (at - 1) & 1 == 1);
            inner.chain([arrows.len()]).collect::<Vec<usize>>()
        });
        let best = all.filter_map(|ends| Some((cost(&resolved.start, &arrows, &ends)?, ends))).min();
        let found = cut(&resolved.start, &arrows, OctetRule::Usual);
        let ends = found.map(|cut| cut.steps.iter().map(|step| step.arrows.end).collect::<Vec<_>>());
        if ends != best.clone().map(|(_, ends)| ends) {
            failures.push(format!("{start} {}: {ends:?}, but {best:?}", text.join("; ")));
        }
        if best.is_some() { cuts += 1 } else { none += 1 }
    }
    assert!(
        failures.is_empty(),
        "{} of {}\n{}",
        failures.len(),
        cuts + none,
        failures[..failures.len().min(5)].join("\n")
    );
    assert!(cuts > 200 && none > 200, "{cuts} cuts, {none} without");
}

/// Start, arrows, and an answer that a proton transfer makes of their product.
const FURTHER: &[(&str, &str, &str)] = &[
    ("N.CC(=O)Cl", "1 -> 1-3; 3-5 -> 5", "CC(N)=O.Cl"),
    ("CC(C)=O.[OH-]", "5 -> 1h-5; 1-1h -> 1-2; 2-4 -> 4", "CC(O)=C.[OH-]"),
    ("[NH2:4][CH3:9].[CH3:1][CH:2]=[O:3]", "4 -> 4-2; 2-3 -> 3", "[NH:4]([CH3:9])[CH:2]([CH3:1])[OH:3]"),
    ("C[O-].CC(=O)OCC", "2 -> 2-4; 4-5 -> 5", "COC(C)(O)OCC"),
    ("OCC=O.N", "5 -> 3-5; 3-4 -> 4", "OCC(O)N"),
];

#[test]
fn a_further_step_is_proposed_as_a_sequence_that_is_sound() {
    let mut failures = Vec::new();
    let mut proposed = 0;
    for (start, arrows, answer) in FURTHER {
        let item = json!({"id": "q", "start": start, "arrows": arrows, "answer": answer});
        let found = judged_one(&item);
        let fixes = found.findings.iter().filter_map(|finding| finding.fix.as_deref());
        let Some(fix) = fixes.flat_map(Correction::each).find(|fix| fix.field == Target::Steps) else {
            // A proton that is lost and not taken up is no proton transfer.
            if found.messages().contains("a further step") {
                failures.push(format!("{item}: no sequence\n    {}", found.messages()));
            }
            continue;
        };
        proposed += 1;
        if fix.grade != Grade::None {
            failures.push(format!("{item}: a sequence is graded"));
        }
        failures.extend(faults_of_sequence(start, &fix.proposed));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(proposed >= 3, "{proposed}");
}
