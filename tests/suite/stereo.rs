//! Drawn stereochemistry: two drawings are one stereoisomer or two, marks that mean nothing, and what an audit says.

use super::judged::{Case, hold};
use super::witness::{Disagreements, rows, text};
use keyassay::bank::Format;
use keyassay::compare::stereo::{Mark, idle_marks, same_drawing_and_stereo};
use keyassay::findings::Settings;
use keyassay::smiles::{Labels, read, write};
use keyassay::structure::Structure;

const LIMIT: u64 = 200_000;

fn drawing(smiles: &str) -> Option<Structure> {
    let reading = read(smiles);
    reading.faults.is_empty().then_some(reading.structure)
}

/// The same drawing with one mark inverted.
fn inverted(structure: &Structure, mark: Mark) -> Structure {
    let mut other = structure.clone();
    for centre in other.stereo.centres.iter_mut().filter(|centre| Mark::Centre(centre.atom) == mark) {
        centre.clockwise ^= true;
    }
    for bond in other.stereo.double_bonds.iter_mut().filter(|bond| Mark::bond(bond.ends[0], bond.ends[1]) == mark) {
        bond.same_side ^= true;
    }
    other
}

fn all_marks(structure: &Structure) -> Vec<Mark> {
    let bonds = structure.stereo.double_bonds.iter().map(|bond| Mark::bond(bond.ends[0], bond.ends[1]));
    structure.stereo.centres.iter().map(|centre| Mark::Centre(centre.atom)).chain(bonds).collect()
}

/// Strings of O'Boyle, Mayfield, Sayle, "De facto standard or a free-for-all? A benchmark for reading SMILES" (2018),
/// nextmovesoftware/smilesreading, ca29ab45: all strings of one class are one stereoisomer, and so is what CDK 2.1
/// writes for them; with a mark inverted they are another. Strings with ring digits behind branches are refused, as
/// the grammar of OpenSMILES 1.0 has no such.
#[test]
fn published_pairs_are_judged_as_published() {
    let file = text("stereo-pairs.tsv");
    let mut found = Disagreements::default();
    let all = rows(&file);
    for one in &all {
        let Some(structure) = drawing(one.get("smiles")) else {
            let refused = one.get("set") == "tetrahedral-ring-digit-after-branch";
            found.case((!refused).then(|| format!("{} is refused", one.get("smiles"))));
            continue;
        };
        let others =
            all.iter().filter(|other| (other.get("set"), other.get("class")) == (one.get("set"), one.get("class")));
        let others = others.map(|other| other.get("smiles")).chain([one.get("cdk")]).filter(|other| !other.is_empty());
        for other in others {
            let Some(other_structure) = drawing(other) else { continue };
            let same = same_drawing_and_stereo(&structure, &other_structure, LIMIT);
            found.case(
                (same != Some(true))
                    .then(|| format!("{} and {other}: {same:?}, one isomer expected", one.get("smiles"))),
            );
            for mark in all_marks(&other_structure) {
                let same = same_drawing_and_stereo(&structure, &inverted(&other_structure, mark), LIMIT);
                let wrong = same != Some(false);
                found.case(wrong.then(|| format!("{} and {other} inverted at {mark:?}: {same:?}", one.get("smiles"))));
            }
        }
    }
    found.settle(10_000);
}

/// Pairs of drawings and whether they are one stereoisomer. Tartaric acids: IUPAC Gold Book M03839 (meso compound) and E02069
/// (enantiomer); cis/trans isomers of rings: C01093; allenes: A04471 and "axial chirality", A00547; the others follow from
/// the definition of the marks in OpenSMILES 1.0, "Chirality".
const PAIRS: &[(&str, &str, bool)] = &[
    ("OC(=O)[C@H](O)[C@@H](O)C(=O)O", "OC(=O)[C@@H](O)[C@H](O)C(=O)O", false),
    ("OC(=O)[C@H](O)[C@H](O)C(=O)O", "OC(=O)[C@@H](O)[C@@H](O)C(=O)O", true),
    ("OC(=O)[C@H](O)[C@@H](O)C(=O)O", "OC(=O)[C@@H](O)[C@@H](O)C(=O)O", false),
    ("C[C@H]1CC[C@@H](C)CC1", "C[C@H]1CC[C@H](C)CC1", false),
    ("C[C@H]1CC[C@H](C)CC1", "C[C@@H]1CC[C@@H](C)CC1", true),
    // One mark alone in a symmetric ring means nothing, so that it does not matter whether it is drawn.
    ("C[C@H]1CCC(C)CC1", "CC1CCC(C)CC1", true),
    ("C[C@H](C)O", "CC(C)O", true),
    ("C[C@H](F)O", "CC(F)O", false),
    ("C[C@H](F)O", "C[C@@H](F)O", false),
    ("C[C@](F)([H])O", "C[C@@H](F)O", true),
    ("[2H][C@H](C)O", "[2H][C@@H](C)O", false),
    ("CC=[C@]=CC", "CC=[C@@]=CC", false),
    ("CC=[C@AL1]=CC", "CC=[C@]=CC", true),
    ("CC=[C@]=C(C)C", "CC=[C@@]=C(C)C", true),
    ("C[S@](=O)CC", "C[S@@](=O)CC", false),
    ("C[S@](=O)CC", "CC[S@@](=O)C", true),
    ("C[S@](=O)C", "CS(=O)C", true),
    ("C/C=C/C", "C\\C=C\\C", true),
    ("C/C=C/C", "C/C=C\\C", false),
    ("C/C=C/C", "CC=CC", false),
    ("C/C=C(/C)C", "CC=C(C)C", true),
    ("[H]/C(C)=C/C", "C/C=C\\C", true),
    ("C/C=N/O", "C/C=N\\O", false),
    ("C/C=C/C=C\\C", "C/C=C\\C=C\\C", true),
    ("C/C=C/C=C/C", "C/C=C\\C=C\\C", false),
    // Two equal molecules of opposite sense are a pair with a pair of the other order, and no pair of one sense.
    ("C[C@H](F)O.C[C@@H](F)O", "C[C@@H](F)O.C[C@H](F)O", true),
    ("C[C@H](F)O.C[C@@H](F)O", "C[C@@H](F)O.C[C@@H](F)O", false),
    // Many equal groups about one centre do not hide that it is the other one.
    (
        "C[C@H](c1cc(C(C)(C)C)cc(C(C)(C)C)c1)OC(C(C)(C)C)C(C)(C)C",
        "C[C@@H](c1cc(C(C)(C)C)cc(C(C)(C)C)c1)OC(C(C)(C)C)C(C)(C)C",
        false,
    ),
    // A centre between arms that differ in nothing but their marks.
    ("O[C@H]([C@H](F)C)[C@@H](F)C", "O[C@@H]([C@H](F)C)[C@@H](F)C", false),
    ("O[C@H]([C@H](F)C)[C@H](F)C", "O[C@@H]([C@H](F)C)[C@H](F)C", true),
    // Of three on a ring one lies on the other side: whichever it is, and neither is it the one with all on one side.
    ("F[C@H]1C[C@@H](F)C[C@H](F)C1", "F[C@H]1C[C@H](F)C[C@@H](F)C1", true),
    ("F[C@H]1C[C@@H](F)C[C@@H](F)C1", "F[C@@H]1C[C@H](F)C[C@H](F)C1", true),
    ("F[C@H]1C[C@@H](F)C[C@H](F)C1", "F[C@H]1C[C@@H](F)C[C@@H](F)C1", false),
];

#[test]
fn pairs_are_one_isomer_or_two() {
    let mut failures = Vec::new();
    for (one, two, expected) in PAIRS {
        let (Some(a), Some(b)) = (drawing(one), drawing(two)) else {
            failures.push(format!("{one} or {two} cannot be read"));
            continue;
        };
        for (a, b) in [(&a, &b), (&b, &a)] {
            let same = same_drawing_and_stereo(a, b, LIMIT);
            if same != Some(*expected) {
                failures.push(format!("{one} and {two}: {same:?}"));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Natural products and sugars with their marks, from memory; what is tested needs no name to be right.
const MARKED: &[&str] = &[
    "OC[C@H]1O[C@@H](O)[C@H](O)[C@@H](O)[C@@H]1O",
    "C[C@H](CCCC(C)C)[C@H]1CC[C@@H]2[C@@]1(CC[C@H]3[C@H]2CC=C4[C@@]3(CC[C@@H](C4)O)C)C",
    "COc1ccc2nccc([C@@H](O)[C@@H]3C[C@@H]4CCN3C[C@@H]4C=C)c2c1",
    "CN1CC[C@]23c4c5ccc(O)c4O[C@H]2[C@@H](O)C=C[C@H]3[C@H]1C5",
    "C/C=C/C=C/C(=O)O",
    "CC1=C(C(C)(C)CCC1)/C=C/C(C)=C/C=C/C(C)=C/CO",
    "N[C@@H](C)C(=O)N[C@@H](CO)C(=O)O",
    "C1[C@H]2C[C@@H]1C=C2",
    "O[C@H]1[C@H](O)[C@@H](O)[C@H](O)[C@@H](O)[C@@H]1O",
];

/// However a drawing is written it is one isomer, and with one mark inverted another, unless the mark means nothing (none of
/// these has three marks of which two are alike).
#[test]
fn rewriting_keeps_the_isomer_and_inverting_does_not() {
    let mut failures = Vec::new();
    for smiles in MARKED {
        let Some(structure) = drawing(smiles) else {
            failures.push(format!("{smiles} cannot be read"));
            continue;
        };
        let idle = idle_marks(&structure, LIMIT);
        let written = write(&structure, Labels::Without);
        let again = drawing(&written);
        if again.map(|again| same_drawing_and_stereo(&structure, &again, LIMIT)) != Some(Some(true)) {
            failures.push(format!("{smiles} and {written} are not one isomer"));
        }
        for mark in all_marks(&structure) {
            let same = same_drawing_and_stereo(&structure, &inverted(&structure, mark), LIMIT);
            if same != Some(idle.contains(&mark)) {
                failures.push(format!("{smiles} inverted at {mark:?}: {same:?}, idle {idle:?}"));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

const HEADER: &str = "id,start,arrows,answer,option_a,option_b,option_c,key\n";

/// Items: what is touched is not judged, what is not touched must stay.
const ITEMS: &[Case] = &[
    ("q,[I-].C[C@H](F)CCBr,1 -> 1-6; 6-7 -> 7,C[C@H](F)CCI.[Br-],,,,", "", ""),
    (
        "q,[I-].C[C@H](F)CCBr,1 -> 1-6; 6-7 -> 7,C[C@@H](F)CCI.[Br-],,,,",
        "mismatched-product stereo-changed",
        "C3: the stereochemistry is the opposite",
    ),
    ("q,[I-].C[C@H](F)CCBr,1 -> 1-6; 6-7 -> 7,CC(F)CCI.[Br-],,,,", "stereo-omitted", "C3: the stereo mark is missing"),
    ("q,[I-].CC(F)CCBr,1 -> 1-6; 6-7 -> 7,C[C@H](F)CCI.[Br-],,,,", "stereo-omitted", "C3: a stereo mark is added"),
    // Labels say which atom is which.
    (
        "q,[I-:1].[CH3:2][C@H:3]([F:4])[CH2:5][CH2:6][Br:7],1 -> 1-6; 6-7 -> 7,[F:4][C@@H:3]([CH3:2])[CH2:5][CH2:6][I:1].[Br-:7],,,,",
        "",
        "",
    ),
    (
        "q,[I-:1].[CH3:2][C@H:3]([F:4])[CH2:5][CH2:6][Br:7],1 -> 1-6; 6-7 -> 7,[F:4][C@H:3]([CH3:2])[CH2:5][CH2:6][I:1].[Br-:7],,,,",
        "mismatched-product stereo-changed",
        "",
    ),
    // Both a charge and a centre are wrong.
    (
        "q,[I-:1].[CH3:2][C@H:3]([F:4])[CH2:5][CH2:6][Br:7],1 -> 1-6; 6-7 -> 7,[F:4][C@H:3]([CH3:2])[CH2:5][CH2:6][I:1].[Br:7],,,,",
        "mismatched-product unbalanced-charge stereo-changed",
        "Br7: stated charge 0, should be -1; C3: the stereochemistry",
    ),
    // Inversion and retention at the carbon that the arrows touch.
    ("q,[OH-].C[C@H](F)Br,1 -> 1-3; 3-5 -> 5,C[C@H](F)O.[Br-],,,,", "", ""),
    ("q,[OH-].C[C@H](F)Br,1 -> 1-3; 3-5 -> 5,C[C@@H](F)O.[Br-],,,,", "", ""),
    ("q,[OH-].C[C@H](F)Br,1 -> 1-3; 3-5 -> 5,CC(F)O.[Br-],,,,", "", ""),
    // The double bond that the arrows make has no geometry to keep.
    ("q,[OH-].C[C@H](F)[C@H](F)Br,1 -> 1-3h; 3-3h -> 3-5; 5-7 -> 7,C/C(F)=C/F.[Br-].O,,,,", "", ""),
    (
        "q,CC/C=C/CCCl.[SH-],8 -> 6-8; 6-7 -> 7,CC/C=C\\CCS.[Cl-],,,,",
        "mismatched-product stereo-changed",
        "double bond C3-C4: the stereochemistry is the opposite",
    ),
    // A symmetric molecule beside the step, drawn in another order.
    ("q,[OH-].CBr.OC(=O)[C@H](O)[C@H](O)C(=O)O,1 -> 1-2; 2-3 -> 3,CO.[Br-].OC(=O)[C@@H](O)[C@@H](O)C(=O)O,,,,", "", ""),
    (
        "q,[OH-].CBr.OC(=O)[C@H](O)[C@@H](O)C(=O)O,1 -> 1-2; 2-3 -> 3,CO.[Br-].OC(=O)[C@@H](O)[C@H](O)C(=O)O,,,,",
        "mismatched-product stereo-changed",
        "",
    ),
    // Of two equal arms the arrows touch one: the marks of the other are judged, whichever it is in the answer.
    (
        "q,[I-].C[C@H](Br)CC[C@H](Br)C,1 -> 1-3; 3-4 -> 4,C[C@H](Br)CCC(I)C.[Br-],,,,",
        "mismatched-product stereo-changed",
        "",
    ),
    ("q,[I-].C[C@H](Br)CC[C@H](Br)C,1 -> 1-3; 3-4 -> 4,C[C@@H](Br)CCC(I)C.[Br-],,,,", "", ""),
    // Marks that mean nothing are notes, once, and are not compared.
    (
        "q,C[C@](C)(O)CCBr.[I-],8 -> 6-8; 6-7 -> 7,C[C@@](C)(O)CCI.[Br-],,,,",
        "[idle-stereo]",
        "C2 of the start carries a stereo mark that cannot mean anything",
    ),
    ("q,CC(C)(O)CCBr.[I-],8 -> 6-8; 6-7 -> 7,C[C@@](C)(O)CCI.[Br-],,,,", "[idle-stereo]", "of the stated answer"),
    ("q,CC/CCBr.[I-],6 -> 4-6; 4-5 -> 5,CCCCI.[Br-],,,,", "[idle-stereo]", "has no double bond or centre"),
    ("q,C/C=C(/C)CBr.[I-],6 -> 5-7; 5-6 -> 6,,,,,", "missing-field detached-head", ""),
    (
        "q,[OH-].CC/C=C(\\C)C.CBr,1 -> 1-8; 8-9 -> 9,CC/C=C(/C)C.CO.[Br-],,,,",
        "[idle-stereo]",
        "double bond C4-C5 of the start",
    ),
    // Enantiomers are two options. At a touched centre only one of them may be right, and no audit of electrons tells which.
    ("q,[I-].C[C@H](F)CCBr,1 -> 1-6; 6-7 -> 7,,C[C@H](F)CCI.[Br-],C[C@@H](F)CCI.[Br-],,A", "", ""),
    (
        "q,[I-].C[C@H](F)CCBr,1 -> 1-6; 6-7 -> 7,,C[C@H](F)CCI.[Br-],C[C@@H](F)CCI.[Br-],,B",
        "keyed-option-wrong",
        "option B: C3: the stereochemistry is the opposite",
    ),
    ("q,[OH-].C[C@H](F)Br,1 -> 1-3; 3-5 -> 5,,C[C@H](F)O.[Br-],C[C@@H](F)O.[Br-],,A", "", ""),
    (
        "q,[OH-].C[C@H](F)Br,1 -> 1-3; 3-5 -> 5,,C[C@H](F)O.[Br-],C[C@@H](F)O.[Br-],O[C@@H](F)C.[Br-],A",
        "several-options-right",
        "options A and C are each",
    ),
    ("q,[OH-].CCBr,1 -> 1-3; 3-4 -> 4,,CCO.[Br-],C[C@H](F)O.[Br-],C[C@@H](F)O.[Br-],A", "", ""),
    ("q,[OH-].CCBr,1 -> 1-3; 3-4 -> 4,,CCO.[Br-],C[C@H](F)O.[Br-],O[C@@H](F)C.[Br-],A", "repeated-option", ""),
];

/// A sequence: the redrawn start is the answer before, its marks as well.
const STEPS: &[Case] = &[
    (
        r#"{"id":"q","start":"[I-].C[C@H](F)CCBr","steps":[{"arrows":"1 -> 1-6; 6-7 -> 7","answer":"C[C@H](F)CCI.[Br-]"},{"start":"[Br-].ICC[C@@H](F)C","arrows":"1 -> 1-3; 2-3 -> 2","answer":"[I-].BrCC[C@@H](F)C"}]}"#,
        "",
        "",
    ),
    (
        r#"{"id":"q","start":"[I-].C[C@H](F)CCBr","steps":[{"arrows":"1 -> 1-6; 6-7 -> 7","answer":"C[C@H](F)CCI.[Br-]"},{"start":"[Br-].ICC[C@H](F)C","arrows":"1 -> 1-3; 2-3 -> 2","answer":"[I-].BrCC[C@H](F)C"}]}"#,
        "2:broken-sequence",
        "the stereochemistry is the opposite",
    ),
];

#[test]
fn marks_are_judged_where_no_arrow_is() {
    hold(HEADER, Format::Csv, &Settings::default(), ITEMS);
    hold("", Format::JsonLines, &Settings::default(), STEPS);
}

/// The marks that were not compared are counted, each once.
#[test]
fn marks_that_are_not_judged_are_counted() {
    let count = |item: &str| {
        let items = super::judged::judged(&format!("{HEADER}{item}\n"), Format::Csv, &Settings::default());
        items.iter().map(|item| item.marks_passed_over).sum::<u32>()
    };
    let counts = [
        "q,[I-].C[C@H](F)CCBr,1 -> 1-6; 6-7 -> 7,C[C@H](F)CCI.[Br-],,,,",
        "q,[OH-].C[C@H](F)Br,1 -> 1-3; 3-5 -> 5,C[C@@H](F)O.[Br-],,,,",
        "q,[OH-].CC(F)Br,1 -> 1-3; 3-5 -> 5,C[C@@H](F)O.[Br-],,,,",
        "q,[OH-].C[C@H](F)[C@H](F)Br,1 -> 1-3h; 3-3h -> 3-5; 5-7 -> 7,C/C(F)=C/F.[Br-].O,,,,",
    ]
    .map(count);
    assert_eq!(counts, [0, 1, 1, 3]);
}
