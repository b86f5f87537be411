//! Arrows inferred from two structures lead from one to the other, and are those of the textbooks.

use super::slips::Random;
use super::witness::text;
use keyassay::arrows::infer::drawn;
use keyassay::arrows::resolve::resolve;
use keyassay::arrows::{Arrow, notation, push};
use keyassay::compare::{arrows_between, decide};
use keyassay::smiles::{self, Labels};
use keyassay::structure::localise::localise;
use keyassay::structure::{AtomId, LabelIndex, Structure};
use std::collections::BTreeSet;

const STEPS: u64 = 200_000;

fn read(text: &str) -> Structure {
    let reading = smiles::read(text);
    assert!(reading.faults.is_empty(), "{text}: {:?}", reading.faults);
    let mut structure = reading.structure;
    localise(&mut structure).expect("a localised form");
    structure
}

/// Every set of arrows that is given, as texts.
fn inferred(start: &str, answer: &str) -> Result<Vec<String>, String> {
    let mut start = read(start);
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    let found = arrows_between(&start, &read(answer), &labels, STEPS).map_err(|why| why.to_string())?;
    found
        .ways
        .iter()
        .map(|way| drawn(&found.start, way).map(|way| notation::write(&way)).map_err(|why| why.to_string()))
        .collect()
}

/// Pushes arrows given as text and compares with the answer.
fn leads(start: &str, arrows: &str, answer: &str) -> bool {
    let mut start = read(start);
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    let resolved = resolve(start, &labels, &notation::read(arrows, 1_000).arrows);
    let arrows: Vec<Arrow> = resolved.arrows.iter().map(|(_, open)| open.arrow).collect();
    resolved.faults.is_empty()
        && push(&resolved.start, &arrows).is_ok_and(|pushed| {
            decide(&pushed.product, &read(answer), &labels, STEPS).left_out().is_some_and(<[_]>::is_empty)
        })
}

/// Arrows as a set, however they and their places are ordered.
fn as_set(arrows: &str) -> BTreeSet<String> {
    let place = |place: String| {
        let mut atoms: Vec<&str> = place.split('-').collect();
        atoms.sort_unstable();
        atoms.join("-")
    };
    let arrow = |arrow: &keyassay::arrows::DrawnArrow| {
        format!("{} {} {}", place(arrow.tail.to_string()), arrow.moves.electrons(), place(arrow.head.to_string()))
    };
    notation::read(arrows, 1_000).arrows.iter().map(arrow).collect()
}

#[test]
fn textbook_arrows_are_inferred() {
    // By hand: the textbook's arrows are the mirror image of those given, or run round the same ring the other way.
    const MIRRORED: &[(&str, &str)] = &[("worked-36", "the two carbons of ethene are alike")];
    let (mut failures, mut same) = (Vec::new(), 0);
    for line in text("worked-examples.jsonl").lines().filter(|line| !line.contains("\"expect\"")) {
        let item: serde_json::Value = serde_json::from_str(line).expect("an item");
        let field = |name: &str| item[name].as_str().unwrap_or_default();
        let ways = inferred(field("start"), field("answer"));
        let wanted = as_set(field("arrows"));
        let ways = ways.unwrap_or_else(|why| vec![why]);
        let is_given = ways.iter().any(|way| as_set(way) == wanted);
        same += usize::from(is_given);
        let is_mirrored = MIRRORED.iter().any(|(id, _)| *id == field("id"));
        let as_short =
            ways.iter().all(|way| as_set(way).len() == wanted.len() && leads(field("start"), way, field("answer")));
        if !as_short || is_given == is_mirrored {
            failures.push(format!("{}: {} | {} | {ways:?}", field("id"), field("start"), field("arrows")));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert_eq!(same, 51 - MIRRORED.len());
}

#[test]
fn reasons_are_given_where_no_arrows_lead() {
    let cases = [
        ("CC", "CCC", "1 C more"),
        ("CO", "C[O-]", "1 H fewer"),
        ("[CH3:1][OH:2]", "[CH3:1][OH2+:2]", "1 H more"),
        ("[Na+].[Cl-]", "[Na].[Cl-]", "net charge is 0 in the start and -1"),
        ("CC=O", "CC=O", "nothing has to move"),
        ("[Na].[Cl]", "[Na+].[Cl-]", "share no bond"),
        ("[CH3:1][NH2:2]", "[NH2:1][CH3:2]", "another atom"),
        ("CC(C)([H])[CH+]C", "C[C+](C)C([2H])C", "H#5 of the answer is none of the start's atoms"),
        ("CC(C)[CH+]C", "C[C+](C)C([2H])C", "is none of the start's atoms"),
        ("CC(C)([2H])[CH+]C", "C[C+](C)CC", "another atom"),
    ];
    let mut failures = Vec::new();
    for (start, answer, sentence) in cases {
        match inferred(start, answer) {
            Err(why) if why.contains(sentence) => {}
            other => failures.push(format!("{start} {answer}: {other:?}")),
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn conventional_arrows_are_inferred() {
    // Common practice, no source.
    let cases = [
        ("[OH-].CBr", "CO.[Br-]", "1 -> 1-2; 2-3 -> 3"),
        ("BrBr", "[Br].[Br]", "1-2 ~> 1; 1-2 ~> 2"),
        ("[CH3].[CH3]", "CC", "1 ~> 1-2; 2 ~> 1-2"),
        ("[CH2:1][CH:2]=[CH2:3]", "[CH2:1]=[CH:2][CH2:3]", "1 ~> 1-2; 2-3 ~> 3; 2-3 ~> 1-2"),
        ("[Br].C=C", "BrC[CH2]", "1 ~> 1-3; 2-3 ~> 2; 2-3 ~> 1-3"),
        ("N.[H]Br", "[NH4+].[Br-]", "1 -> 1-2; 2-3 -> 3"),
        ("N.Br", "[NH4+].[Br-]", "1 -> 1-2h; 2-2h -> 2"),
        ("[NH3:1].[OH:2][CH:3]=[O:4]", "[NH4+:1].[O-:2][CH:3]=[O:4]", "1 -> 1-2h; 2-2h -> 2"),
        ("C[N+](C)(C)CC[O-]", "CN(C)C.C1CO1", "7 -> 5-7; 2-5 -> 2"),
        ("[H+].CC=C", "C[CH+]C", "3-4 -> 1-4"),
    ];
    let mut failures = Vec::new();
    for (start, answer, arrows) in cases {
        let ways = inferred(start, answer);
        if ways.as_ref().map(|ways| ways[0].as_str()) != Ok(arrows) {
            failures.push(format!("{start} {answer}: {ways:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// A random arrow on a random place of a drawing, pair or single electron, heads on bonds that are there or made anew.
fn random_arrow(start: &Structure, random: &mut Random) -> Option<String> {
    let atoms: Vec<AtomId> = start.atom_ids().collect();
    let name = |atom: AtomId| (atom.index() + 1).to_string();
    let a = random.pick(&atoms)?;
    let around: Vec<AtomId> = start.neighbours(a).map(|(next, _)| next).collect();
    let hydrogen = (start.atom(a).hydrogens > 0 && random.below(4) == 0).then(|| format!("{}h", name(a)));
    let b = hydrogen.or_else(|| random.pick(&around).map(name))?;
    let far = random.pick(&atoms).filter(|far| *far != a).map(name)?;
    let (a, shaft) = (name(a), if random.below(6) == 0 { "~>" } else { "->" });
    Some(match random.below(5) {
        0 => format!("{a} {shaft} {a}-{b}"),
        1 => format!("{a}-{b} {shaft} {a}"),
        2 => format!("{a}-{b} {shaft} {b}"),
        3 => format!("{a} {shaft} {a}-{far}"),
        _ => format!("{a}-{b} {shaft} {a}-{far}"),
    })
}

/// Random drawings are pushed forward, the arrows inferred from both ends, and pushed again.
///
/// `KEYASSAY_CASES` sets how many; molecules from `structures.tsv` (RDKit's `first_5K.smi`), one or two of them.
#[test]
fn inferred_arrows_lead_back_to_the_answer() {
    let cases: usize = std::env::var("KEYASSAY_CASES").ok().and_then(|text| text.parse().ok()).unwrap_or(1_500);
    let file = text("structures.tsv");
    let molecules: Vec<&str> =
        file.lines().skip(1).filter_map(|line| line.split('\t').nth(1)).filter(|smiles| smiles.len() < 40).collect();
    assert!(molecules.len() > 1_000);
    let mut random = Random(0x0A44_0115);
    let (mut done, mut longer, mut failures) = (0, 0, Vec::new());
    while done < cases {
        let mut smiles = random.pick(&molecules).unwrap_or("C").to_owned();
        if random.below(2) == 0 {
            smiles = format!("{smiles}.{}", random.pick(&molecules).unwrap_or("C"));
        }
        let mut start = read(&smiles);
        start.label_by_position();
        // Written localised, so that both ends are the same form.
        let written = smiles::write(&start, Labels::Classes);
        let drawn: Vec<String> = (0..=random.below(4)).filter_map(|_| random_arrow(&start, &mut random)).collect();
        let (start, arrows) = (read(&written), drawn.join("; "));
        let labels = LabelIndex::new(&start);
        let resolved = resolve(start, &labels, &notation::read(&arrows, 99).arrows);
        let pushed: Vec<Arrow> = resolved.arrows.iter().map(|(_, open)| open.arrow).collect();
        let Ok(product) = push(&resolved.start, &pushed) else { continue };
        let answer = smiles::write(&product.product, Labels::Classes);
        // The notation cannot carry every product of nonsense arrows (five-fold bonds).
        if !smiles::read(&answer).faults.is_empty() || !leads(&written, &arrows, &answer) {
            continue;
        }
        done += 1;
        match inferred(&written, &answer) {
            Ok(ways) => {
                longer += usize::from(as_set(&ways[0]).len() > pushed.len());
                for way in ways.iter().filter(|way| !leads(&written, way, &answer)) {
                    failures.push(format!("{written} | {arrows} | {answer}: {way} leads elsewhere"));
                }
            }
            Err(why) if why.contains("nothing has to move") => {}
            Err(why) => failures.push(format!("{written} | {arrows} | {answer}: {why}")),
        }
    }
    println!("{done} cases, {longer} with more arrows than pushed, {} failures", failures.len());
    assert!(failures.is_empty(), "{} of {done}\n{}", failures.len(), failures[..failures.len().min(20)].join("\n"));
    assert_eq!(longer, 0);
}
