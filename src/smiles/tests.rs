//! Reading and writing, case by case.

use super::{Labels, read, write};

/// Text, and how the localised structure is written back without labels.
const WRITTEN: &[(&str, &str)] = &[
    ("", ""),
    ("C", "C"),
    ("OCC", "OCC"),
    ("C(C)(C)C", "C(C)(C)C"),
    ("[CH2-:1][CH:2]=[O:3]", "[CH2-]C=O"),
    ("C1CCCCC1", "C1CCCCC1"),
    ("C=1CCCCC=1", "C=1CCCCC1"),
    ("C%12CC%12", "C1CC1"),
    ("[Na+].[Cl-]", "[Na+].[Cl-]"),
    ("[13CH4]", "[13CH4]"),
    ("[O--]", "[O-2]"),
    ("C[N+](=O)[O-]", "C[N+](=O)[O-]"),
    ("F/C=C/F", "F/C=C/F"),
    ("F\\C=C\\F", "F/C=C/F"),
    ("F/C=C\\F", "F/C=C\\F"),
    ("C(\\F)=C/F", "C(/F)=C\\F"),
    ("N[C@@H](C)C(=O)O", "N[C@@H](C)C(=O)O"),
    ("[C@](Br)(Cl)(F)I", "[C@](Br)(Cl)(F)I"),
    ("OC(Cl)=[C@]=C(C)F", "OC(Cl)=[C@]=C(C)F"),
    ("N1CC1.O", "N1CC1.O"),
    ("C12(CCCCC1)CCCCC2", "C12(CCCCC1)CCCCC2"),
];

/// Text, the byte at which the fault stands, and a part of the sentence.
const REFUSED: &[(&str, u32, &str)] = &[
    ("C!", 1, "unexpected '!'"),
    ("CC(C", 2, "never closed"),
    ("CC)C", 2, "closes no branch"),
    ("C1CC", 1, "ring number 1 is opened"),
    ("C-1CCCCC=1", 8, "'-' where it opens"),
    ("C11", 2, "itself"),
    ("C12CCCCC12", 9, "bonded already"),
    ("[CH4", 0, "']'"),
    ("[Cx4]", 1, "no element symbol"),
    ("[HH2]", 2, "hydrogen"),
    ("[CH4+99]", 4, "-15 to +15"),
    ("C=", 2, "an atom after the bond"),
    ("C..C", 2, "unexpected '.'"),
    ("C()", 2, "no atom"),
    ("CccccC", 1, "lie in a ring"),
    ("C/C=C", 1, "says nothing"),
    ("C/C(\\F)=C/F", 4, "contradict"),
    ("[N4+H]", 2, "out of place"),
    ("C%1", 1, "ring number"),
    ("Cé", 1, "unexpected 'é'"),
];

#[test]
fn writes_what_it_reads() {
    let mut failures = Vec::new();
    for (text, expected) in WRITTEN {
        let reading = read(text);
        let written = write(&reading.structure, Labels::Without);
        if !reading.faults.is_empty() || written != *expected {
            failures.push(format!("{text}: wrote {written}, expected {expected}; faults {:?}", reading.faults));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn refuses_with_the_place() {
    let mut failures = Vec::new();
    for (text, at, sentence) in REFUSED {
        let reading = read(text);
        let fits =
            reading.faults.first().is_some_and(|e| e.span.start == *at && e.fault.to_string().contains(sentence));
        if !fits {
            failures.push(format!("{text}: {:?}", reading.faults));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn long_and_deep_texts_are_read() {
    let chain = "C".repeat(100_000);
    assert_eq!(read(&chain).structure.atom_count(), 100_000);
    let nested = format!("C{}{}", "(C".repeat(5_000), ")".repeat(5_000));
    let reading = read(&nested);
    assert!(reading.faults.is_empty());
    assert_eq!(write(&reading.structure, Labels::Without).len(), 5_001);
}
