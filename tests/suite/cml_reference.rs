//! Files that other programs' authors wrote, with what they say, taken from each file by hand.
//!
//! Sources: BlueObelisk/cmlxom and BlueObelisk/cmllite-validator-code (test resources, Apache-2.0), lutaml/chemicalml (spec fixtures,
//! BSD-2-Clause), BlueObelisk/jumbo-converters (Apache-2.0). The files are looked for beside the project; the test passes
//! where they are not.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use super::cml::{arrow, picture, records};
use keyassay::cml::{Content, Fault, FaultKind};
use std::path::Path;

/// What a file says: one line a molecule or side of a reaction, then the faults as kind and marked text.
struct Expected {
    file: &'static str,
    says: &'static [&'static str],
    faults: &'static [(FaultKind, &'static str)],
}

const ETHANOL: &str =
    "ethanol a1:C a2:C a3:O a4:H a5:H a6:H a7:H a8:H a9:H | a1-a2 a2-a3 a1-a4 a1-a5 a1-a6 a2-a7 a2-a8 a3-a9";

#[rustfmt::skip]
const FILES: &[Expected] = &[
    // 2-Butene: the substituents on opposite sides; hydrogens by the valence rule.
    Expected { file: "chemicalml-molecular-ethene_with_bond_stereo.cml", says: &["m1 a1:Ch1 a2:Ch1 a3:Ch3 a4:Ch3 | a1=a2 a1-a3 a2-a4 | a3-a1 against a4-a2"], faults: &[] },
    // Two molecules of names and formulas only: nothing is drawn.
    Expected { file: "chemicalml-molecular-nested_molecules.cml", says: &["parent  | "], faults: &[] },
    // States 1 hydrogen on a carbon with two drawn and 0 on an oxygen with one drawn, an error by the schema.
    Expected { file: "chemicalml-parallel_array-ethanol_parallel.cml", says: &[ETHANOL], faults: &[(FaultKind::Structure, "1"), (FaultKind::Structure, "0")] },
    Expected { file: "cmllite-invalid-atomRefs-pointing-to-non-existent-atom-1.cml", says: &["m1  | "], faults: &[(FaultKind::Structure, "a1 a2")] },
    Expected { file: "cmllite-invalid-atomRefs2-must-contain-two-different-ids-1.cml", says: &["m1 a1:H a2:He | "], faults: &[(FaultKind::Structure, "a1 a1")] },
    Expected { file: "cmllite-invalid-duplicate-atom-ids-present-1.cml", says: &["m1 a1:H a1:He | "], faults: &[(FaultKind::RepeatedLabel, "<atom id=\"a1\" elementType=\"He\"/>")] },
    Expected { file: "cmllite-valid-atom-with-non-cml-content.cml", says: &["m1 a1:H | "], faults: &[] },
    // Valid, but "other" says nothing of electrons.
    Expected { file: "cmllite-valid-bond-order-other-should-have-dictRef.cml", says: &["m1 a1:H a2:He | a1-a2"], faults: &[(FaultKind::Structure, "other")] },
    Expected { file: "cmllite-valid-minimal-molecule-1.cml", says: &["m1  | "], faults: &[] },
    Expected { file: "cmllite-valid-repeated-atom-ids-in-different-molecules.cml", says: &["m1 a1:H | ", "m2 a1:He | "], faults: &[] },
    // An atom alone is no molecule, and a parity alone no drawing.
    Expected { file: "cmlxom-atom1.xml", says: &[], faults: &[] },
    Expected { file: "cmlxom-atomParity1.xml", says: &[], faults: &[] },
    Expected { file: "cmlxom-atomArray1.xml", says: &["a1:Oh1 a2:Nh1 a3:Ch3 | ", "a1:Oh2 a2:Nh3 a3:Ch4 | "], faults: &[] },
    Expected { file: "cmlxom-atomArray2.xml", says: &["a1:Oh1 a2:Nh1 a3:Ch3 | ", "a1:Oh1 a2:Nh1 a3:Ch3 | "], faults: &[] },
    Expected { file: "cmlxom-bond1.xml", says: &["a1:Ch3 a2:N a3:Ch1 | a3=a2 a1-a2"], faults: &[] },
    // The second mark is a hatch, without coordinates to read it by.
    Expected { file: "cmlxom-bond3.xml", says: &["a1:Ch3 a2:N a3:Ch1 a4:C a5:Ch3 a6:Br a7:Cl | a3=a2 a1-a2 a3-a4 a4-a5 a4-a6 a4-a7 | a1-a2 with a4-a3"],
        faults: &[(FaultKind::IdleStereo, "<bondStereo id=\"bs2\" convention=\"MDL:ctfile\" conventionValue=\"6\"/>")] },
    // Atoms of no element.
    Expected { file: "cmlxom-bondArray1.xml", says: &["a1:* a2:* a3:* a4:* | a1-a2 a1=a3 a3-a4", "a1:* a2:* a3:* a4:* | a1-a2 a1=a3 a3-a4"],
        faults: &[(FaultKind::Structure, "<atom id=\"a1\" />"), (FaultKind::Structure, "<atom id=\"a2\" />"), (FaultKind::Structure, "<atom id=\"a3\" />"), (FaultKind::Structure, "<atom id=\"a4\" />"),
            (FaultKind::Structure, "a1"), (FaultKind::Structure, "a2"), (FaultKind::Structure, "a3"), (FaultKind::Structure, "a4")] },
    // A chlorine atom with one unpaired electron drawn.
    Expected { file: "cmlxom-electron1.xml", says: &["m1 a1:Cl^1 | "], faults: &[] },
    // Six delocalised electrons over six bonds, atoms of no element.
    Expected { file: "cmlxom-electron2.xml", says: &["m1 a1:* a2:* a3:* a4:* a5:* a6:* | a1:a6 a2:a1 a3:a2 a4:a3 a5:a4 a6:a5"],
        faults: &[(FaultKind::Structure, "a1"), (FaultKind::Structure, "a2"), (FaultKind::Structure, "a3"), (FaultKind::Structure, "a4"), (FaultKind::Structure, "a5"), (FaultKind::Structure, "a6")] },
    Expected { file: "cmlxom-mechanismComponent1.xml", says: &[], faults: &[] },
    // Refers to molecules that are not in the file.
    Expected { file: "cmlxom-reaction1.xml", says: &["start:  | ", "answer:  | "],
        faults: &[(FaultKind::Structure, "hcl"), (FaultKind::Structure, "naoh"), (FaultKind::Structure, "nacl"), (FaultKind::Structure, "h2o")] },
    // Formulas and bare electrons.
    Expected { file: "cmlxom-reaction7.xml", says: &["start:  | ", "answer:  | "],
        faults: &[(FaultKind::Structure, "<reactant id=\"r1\" count=\"1\">"), (FaultKind::Structure, "<reactant id=\"r2\" count=\"8\">"), (FaultKind::Structure, "<reactant id=\"r3\" count=\"5\">"),
            (FaultKind::Structure, "<product id=\"p1\" count=\"4\">"), (FaultKind::Structure, "<product id=\"p2\" count=\"1\">")] },
    // Ammonia and boron trifluoride. The author drew the pair that moves on the boron, which has none.
    Expected { file: "cmlxom-reaction9a.xml",
        says: &["start: n1:Nh3 b1:B f1:F f2:F f3:F | b1-f1 b1-f2 b1-f3", "answer: n1:N+1h3 b1:B-1 f1:F f2:F f3:F | b1-n1 b1-f1 b1-f2 b1-f3", "b1 -> b1-n1"],
        faults: &[(FaultKind::Electrons, "<atom elementType=\"B\" id=\"b1\" hydrogenCount=\"0\">")] },
    // Formic acid and methanol use the same ids; the product's ids are its own; water is a formula.
    Expected { file: "cmlxom-reaction10a.xml",
        says: &["start: formic:c1:Ch1 formic:o1:Oh1 o2:O methanol:c1:Ch3 methanol:o1:Oh1 | formic:c1-formic:o1 formic:c1=o2 methanol:c1-methanol:o1", "answer: #1:Ch3 #2:Ch1 #3:Oh1 #4:O | #1-#3 #2-#3 #2=#4"],
        faults: &[(FaultKind::Structure, "<molecule id=\"water\" formula=\"H 2 O 1\"/>")] },
    // Five reactions of titles only, in three schemes.
    Expected { file: "cmlxom-reactionScheme1.xml", says: &["start:  | ", "answer:  | ", "start:  | ", "answer:  | ", "start:  | ", "answer:  | ", "start:  | ", "answer:  | ", "start:  | ", "answer:  | "],
        faults: &[(FaultKind::Structure, "<reactant title=\"A\"/>"), (FaultKind::Structure, "<product title=\"B\"/>"), (FaultKind::Structure, "<reactant title=\"B\"/>"), (FaultKind::Structure, "<product title=\"1\"/>"),
            (FaultKind::Structure, "<reactant title=\"C\"/>"), (FaultKind::Structure, "<product title=\"2\"/>"), (FaultKind::Structure, "<reactant title=\"D\"/>"), (FaultKind::Structure, "<reactant title=\"E\"/>"), (FaultKind::Structure, "<product title=\"3\"/>"),
            (FaultKind::Structure, "<reactant title=\"1\"/>"), (FaultKind::Structure, "<reactant title=\"2\"/>"), (FaultKind::Structure, "<reactant title=\"3\"/>"), (FaultKind::Structure, "<product title=\"X\"/>")] },
    // Three steps that refer to molecules which are not in the file.
    Expected { file: "cmlxom-reactionStepList1.xml", says: &["start:  | ", "answer:  | ", "start:  | ", "answer:  | ", "start:  | ", "answer:  | "],
        faults: &[(FaultKind::Structure, "A"), (FaultKind::Structure, "B"), (FaultKind::Structure, "B"), (FaultKind::Structure, "C"), (FaultKind::Structure, "C"), (FaultKind::Structure, "D")] },
    Expected { file: "cmlxom-reactiveCentre1.xml", says: &[], faults: &[] },
    Expected { file: "cmlxom-spectatorList1.xml", says: &[" | ", " | "], faults: &[] },
    Expected { file: "cmlxom-substanceList1.xml", says: &["h2o  | ", "naoh  | "], faults: &[] },
    // Partial bonds, and a charge that no atom carries.
    Expected { file: "cmlxom-transitionState1.xml", says: &["a1:Cl a2:Ch3 a3:F | a1-a2 a3-a2 | -20000,0 0,0 20000,0"],
        faults: &[(FaultKind::Structure, "partial01"), (FaultKind::Structure, "partial01"), (FaultKind::Structure, "-1")] },
    // Every hydrogen is drawn and the molecule is a doublet: the electron is where the valence rule would put a hydrogen.
    Expected { file: "jumboconverters-C2H5-radical.cml", says: &["a1:C a2:H a3:H a4:H a5:C^1 a6:H a7:H | a1-a2 a1-a3 a1-a4 a1-a5 a5-a6 a5-a7"], faults: &[] },
];

#[test]
fn files_by_others_say_what_they_say() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/reference/cml");
    let mut wrong = Vec::new();
    for expected in FILES {
        // Not there: the folder is not part of the project.
        let Ok(text) = std::fs::read_to_string(folder.join(expected.file)) else { continue };
        let (says, faults) = read(&text);
        let wanted_faults: Vec<_> = expected.faults.iter().map(|(kind, at)| (*kind, (*at).to_owned())).collect();
        if says != expected.says || faults != wanted_faults {
            wrong.push(format!("{}: {says:#?} {faults:#?}", expected.file));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What a document says and its faults.
fn read(text: &str) -> (Vec<String>, Vec<(FaultKind, String)>) {
    let (mut says, mut faults) = (Vec::new(), Vec::new());
    for record in records(text) {
        let mut take = |fault: &Fault| faults.push((fault.problem.kind(), fault.span.of(&record.text).to_owned()));
        match &record.content {
            Content::Molecule(molecule) => {
                let id = molecule.id.as_ref().map_or(String::new(), |id| format!("{id} "));
                says.push(format!("{id}{}", picture(&molecule.structure)));
                molecule.faults.iter().for_each(&mut take);
            }
            Content::Questions(questions) => {
                for step in questions.iter().flat_map(|question| &question.steps) {
                    says.extend(step.start.as_ref().map(|start| format!("start: {}", picture(start))));
                    says.extend(step.answer.as_ref().map(|answer| format!("answer: {}", picture(answer))));
                    says.extend(step.arrows.iter().flatten().map(arrow));
                    step.faults.iter().for_each(&mut take);
                }
            }
            Content::Unreadable(fault) => take(fault),
        }
    }
    (says, faults)
}
