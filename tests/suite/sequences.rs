//! Sequences of steps: what follows from an early fault is not said again, and every step is judged.

use super::judged::{Case, hold, judged};
use keyassay::bank::Format;
use keyassay::findings::{Class, Grade, Settings};

/// Steps in JSON: item, findings, words.
const JSON: &[Case] = &[
    // The start of a later step may be redrawn in any order and numbering.
    (
        r#"{"id":"same","start":"C=C.Br","steps":[{"arrows":"1-2 -> 2-3h; 3-3h -> 3","answer":"C[CH2+].[Br-]"},{"start":"[Br-].[CH2+]C","arrows":"1 -> 1-2","answer":"CCBr"}]}"#,
        "",
        "",
    ),
    // It may bring a reagent.
    (
        r#"{"id":"adds","start":"CC(=O)C.[CH3-]","steps":[{"arrows":"5 -> 2-5; 2-3 -> 3","answer":"CC(C)(C)[O-]"},{"start":"CC(C)(C)[O-].[OH3+]","arrows":"5 -> 5-6h; 6-6h -> 6","answer":"CC(C)(C)O.O"}]}"#,
        "",
        "",
    ),
    // Hydrogens drawn out are hydrogens; an aromatic ring is any of its forms.
    (
        r#"{"id":"forms","start":"Oc1ccccc1.[OH-]","steps":[{"arrows":"8 -> 8-1h; 1-1h -> 1","answer":"[O-]c1ccccc1.O"},{"start":"[H]O[H].[O-]C1=CC=CC=C1.CI","arrows":"4 -> 4-11; 11-12 -> 12","answer":"COc1ccccc1.[I-].O"}]}"#,
        "",
        "",
    ),
    (
        r#"{"id":"leaves-out","start":"CC(C)(C)Br.O","steps":[{"arrows":"2-5 -> 5","answer":"C[C+](C)C.[Br-].O"},{"start":"C[C+](C)C.O","arrows":"5 -> 2-5","answer":"CC(C)(C)[OH2+]"}]}"#,
        "2:omitted-species",
        "step 2 leaves out [Br-] of the answer of step 1",
    ),
    (
        r#"{"id":"omits","omits":"[Br-]","start":"CC(C)(C)Br.O","steps":[{"arrows":"2-5 -> 5","answer":"C[C+](C)C.[Br-].O"},{"start":"C[C+](C)C.O.CCO","arrows":"5 -> 2-5","answer":"CC(C)(C)[OH2+].CCO"}]}"#,
        "",
        "",
    ),
    (
        r#"{"id":"broken","start":"[CH3:1][C:2]([CH3:3])([CH3:4])[Br:5]","steps":[{"arrows":"2-5 -> 5","answer":"[CH3:1][C+:2]([CH3:3])[CH3:4].[Br-:5]"},{"start":"[CH3:1][CH:2]([CH3:3])[CH3:4].[Br-:5]","arrows":"2-2h -> 2","answer":"[CH3:1][C-:2]([CH3:3])[CH3:4].[Br-:5].[H+]"}]}"#,
        "2:broken-sequence",
        "C2: in the answer charge +1, redrawn 0",
    ),
    // One species is left out and another brought in.
    (
        r#"{"id":"exchange","start":"CC(=O)C.[OH-]","steps":[{"arrows":"5 -> 5-1h; 1-1h -> 1-2; 2-3 -> 3","answer":"C=C([O-])C.O"},{"start":"C=C([O-])C.CC=O","arrows":"3 -> 2-3; 1-2 -> 1-6; 6-7 -> 7","answer":"O=C(C)CC(C)[O-]"}]}"#,
        "2:omitted-species",
        "step 2 leaves out O of the answer of step 1",
    ),
    (
        r#"{"id":"exchange","omits":"O","start":"CC(=O)C.[OH-]","steps":[{"arrows":"5 -> 5-1h; 1-1h -> 1-2; 2-3 -> 3","answer":"C=C([O-])C.O"},{"start":"C=C([O-])C.CC=O","arrows":"3 -> 2-3; 1-2 -> 1-6; 6-7 -> 7","answer":"O=C(C)CC(C)[O-]"}]}"#,
        "",
        "",
    ),
    // Water is left out, hydronium brought: an arrow takes it.
    (
        r#"{"id":"state","omits":"O","start":"CC(=O)C.[OH-]","steps":[{"arrows":"5 -> 5-1h; 1-1h -> 1-2; 2-3 -> 3","answer":"C=C([O-])C.O"},{"start":"C=C([O-])C.[OH3+]","arrows":"3 -> 3-5h; 5-5h -> 5","answer":"C=C(O)C.O"}]}"#,
        "",
        "",
    ),
    (
        r#"{"id":"radical","omits":"[Cl]","start":"[Cl].C","steps":[{"arrows":"1 ~> 1-2h; 2-2h ~> 1-2h; 2-2h ~> 2","answer":"Cl.[CH3]"},{"start":"[CH3].ClCl","arrows":"1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3","answer":"CCl"}]}"#,
        "2:omitted-species",
        "step 2 leaves out Cl of the answer of step 1",
    ),
    (
        r#"{"id":"radical","omits":"[Cl]","start":"CCl","steps":[{"arrows":"1-2 ~> 1; 1-2 ~> 2","answer":"[CH3].[Cl]"},{"start":"[CH3].BrBr","arrows":"1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3","answer":"CBr.[Br]"}]}"#,
        "",
        "",
    ),
    // A chain carrier goes on alone: the next molecule comes in.
    (
        r#"{"id":"chain","omits":"CCCCBr","start":"CCC[CH2].BrBr","steps":[{"arrows":"4 ~> 4-5; 5-6 ~> 4-5; 5-6 ~> 6","answer":"CCCCBr.[Br]"},{"start":"[Br].CCCC","arrows":"1 ~> 1-2h; 2-2h ~> 1-2h; 2-2h ~> 2","answer":"Br.[CH2]CCC"}]}"#,
        "",
        "",
    ),
    // What is drawn wrongly is broken, with other species beside it or not.
    (
        r#"{"id":"wrongly","start":"CC(=O)C.[OH-]","steps":[{"arrows":"5 -> 5-1h; 1-1h -> 1-2; 2-3 -> 3","answer":"C=C([O-])C.O"},{"start":"C=C(O)C.CC=O","arrows":"3 -> 2-3; 1-2 -> 1-6; 6-7 -> 7","answer":"OC(C)=CC(C)[O-]"}]}"#,
        "2:mismatched-product 2:unbalanced-charge 2:unbalanced-atoms 2:broken-sequence",
        "O3: in the answer charge -1, redrawn 0",
    ),
    (
        r#"{"id":"spectator","start":"[CH3:1][C:2]([CH3:3])([CH3:4])[Br:5].[Na+:9].[OH2:6]","steps":[{"arrows":"2-5 -> 5","answer":"[CH3:1][C+:2]([CH3:3])[CH3:4].[Br-:5].[Na+:9].[OH2:6]"},{"start":"[CH3:1][C+:2]([CH3:3])[CH3:4].[Br:5].[Na+:9].[OH2:6]","arrows":"6 -> 2-6","answer":"[CH3:1][C:2]([CH3:3])([CH3:4])[OH2+:6].[Br:5].[Na+:9]"}]}"#,
        "2:broken-sequence",
        "Br5: in the answer charge -1, redrawn 0",
    ),
    // A wrong answer whose step goes on from the right one: one fault, said once.
    (
        r#"{"id":"mended","start":"[CH3:1][CH2:2][Br:3].[OH-:4]","steps":[{"arrows":"4 -> 2-4; 2-3 -> 3","answer":"[CH3:1][CH2:2][OH:4].[Br:3]"},{"start":"[CH3:1][CH2:2][OH:4].[Br-:3].[OH-:5]","arrows":"5 -> 5-4h; 4-4h -> 4","answer":"[CH3:1][CH2:2][O-:4].[Br-:3].[OH2:5]"}]}"#,
        "1:mismatched-product 1:unbalanced-charge",
        "",
    ),
    // A wrong answer, and steps without starts: what the right product allows is not the step's fault.
    (
        r#"{"id":"carried","start":"[CH3:1][CH:2]=[O:3].[H-:4].[OH3+:5]","steps":[{"arrows":"4 -> 2-4; 2-3 -> 3","answer":"[CH3:1][CH:2]([H:4])[O+:3].[OH3+:5]"},{"arrows":"3 -> 3-5h; 5-5h -> 5","answer":"[CH3:1][CH:2]([H:4])[OH:3].[OH2:5]"}]}"#,
        "1:mismatched-product 1:unbalanced-charge",
        "",
    ),
    // A missing answer does not end the sequence: its arrows say what follows. Hydrogens that they drew out are undrawn again.
    (
        r#"{"id":"missing-answer","start":"[NH3:1].[CH3:2][Br:3].[OH-:4]","steps":[{"arrows":"1 -> 1-2; 2-3 -> 3"},{"arrows":"4 -> 4-1h; 1-1h -> 1","answer":"[NH2:1][CH3:2].[Br-:3].[OH2:4]"},{"arrows":"1 -> 1-4h; 4-4h -> 4","answer":"[NH3+:1][CH3:2].[Br-:3].[OH-:4]"}]}"#,
        "1:missing-field",
        "the step has no stated answer",
    ),
    (
        r#"{"id":"no-end","start":"[NH3:1].[CH3:2][Br:3]","steps":[{"answer":"[NH3+:1][CH3:2"},{"arrows":"1 -> 1-2","answer":"C"}]}"#,
        "1:missing-field 1:unreadable-structure 2:missing-field",
        "the step has no arrows|step 2 redraws no start, and step 1 leaves no structure to go on from",
    ),
    (
        r#"{"id":"no-start","steps":[{"arrows":"1 -> 1-2","answer":"CO"},{"arrows":"2-2h -> 2","answer":"C[O-].[H+]"}]}"#,
        "1:missing-field",
        "the item has no start",
    ),
    // Five steps, a fault in the second: the others are judged on their own.
    (
        r#"{"id":"five","start":"[CH3:1][C:2](=[O:3])[OH:4].[OH2+:9][H:8].[CH3:5][OH:6]","steps":[{"arrows":"3 -> 3-8; 8-9 -> 9","answer":"[CH3:1][C:2](=[O+:3][H:8])[OH:4].[OH2:9].[CH3:5][OH:6]"},{"arrows":"6 -> 2-6; 2-3 -> 3","answer":"[CH3:1][C:2]([O:3][H:8])([OH:4])[OH:6][CH3:5].[OH2:9]"},{"arrows":"9 -> 9-6h; 6-6h -> 6","answer":"[CH3:1][C:2]([O:3][H:8])([OH:4])[O:6][CH3:5].[OH3+:9]"},{"arrows":"4 -> 4-9h; 9-9h -> 9","answer":"[CH3:1][C:2]([O:3][H:8])([OH2+:4])[O:6][CH3:5].[OH2:9]"},{"arrows":"3 -> 2-3; 2-4 -> 4","answer":"[CH3:1][C:2](=[O+:3][H:8])[O:6][CH3:5].[OH2:4].[OH2:9]"}]}"#,
        "2:hypervalent-atom 2:mismatched-product 2:unbalanced-charge",
        "",
    ),
    // Two faults, in steps 2 and 4.
    (
        r#"{"id":"two","start":"[CH3:1][CH:2]=[CH2:3].[Br:4][H:5].[OH2:6].[NH3:7]","steps":[{"arrows":"2-3 -> 3-5; 4-5 -> 4","answer":"[CH3:1][CH+:2][CH2:3][H:5].[Br-:4].[OH2:6].[NH3:7]"},{"arrows":"6 -> 2-6","answer":"[CH3:1][CH:2]([OH2:6])[CH2:3][H:5].[Br-:4].[NH3:7]"},{"start":"[CH3:1][CH:2]([OH2+:6])[CH2:3][H:5].[Br-:4].[NH3:7]","arrows":"7 -> 7-6h; 6-6h -> 6","answer":"[CH3:1][CH:2]([OH:6])[CH2:3][H:5].[Br-:4].[NH4+:7]"},{"arrows":"4 -> 4-7h; 7-7h -> 7","answer":"[CH3:1][CH:2]([OH:6])[CH2:3][H:5].[BrH:4].[NH4+:7]"}]}"#,
        "2:hypervalent-atom 2:mismatched-product 2:unbalanced-charge 4:mismatched-product 4:unbalanced-charge 4:unbalanced-atoms",
        "",
    ),
];

/// What JSON steps may say of themselves.
const JSON_STEPS: &[Case] = &[
    // Their numbers,
    (
        r#"{"id":"q","start":"C=C.Br","steps":[{"step":2,"arrows":"3 -> 2-3","answer":"CCBr"},{"step":1,"arrows":"1-2 -> 2-3h; 3-3h -> 3","answer":"C[CH2+].[Br-]"}]}"#,
        "unreadable-record",
        "the steps stand in the order 2, 1",
    ),
    (
        r#"{"id":"q","start":"C","steps":[{"step":"first","arrows":"1-1h -> 1","answer":"[CH3-].[H+]"}]}"#,
        "unreadable-record",
        "is no number of a step",
    ),
    // and what they leave out.
    (
        r#"{"id":"q","start":"CC(C)(C)Br.O","steps":[{"arrows":"2-5 -> 5","answer":"C[C+](C)C.O","omits":"[Br-]"},{"arrows":"5 -> 2-5","answer":"CC(C)(C)[OH2+]"}]}"#,
        "",
        "",
    ),
];

/// Steps as rows of a table.
const ROWS: &[Case] = &[
    ("q,1,C=C.Br,1-2 -> 2-3h; 3-3h -> 3,C[CH2+].[Br-],\nq,2,,3 -> 2-3,CCBr,", "", ""),
    // Rows in another order are put in order.
    (
        "q,2,,3 -> 2-3,CCBr,\nq,1,C=C.Br,1-2 -> 2-3h; 3-3h -> 3,C[CH2+].[Br-],",
        "unreadable-record",
        "the steps stand in the order 2, 1",
    ),
    (
        "q,1,C=C.Br,1-2 -> 2-3h; 3-3h -> 3,C[CH2+].[Br-],\nq,3,C[CH2+].[Br-],3 -> 2-3,CCBr,",
        "3:missing-field",
        "step 2 is missing before step 3",
    ),
    ("q,3,C[CH2+].[Br-],3 -> 2-3,CCBr,", "3:missing-field", "steps 1 to 2 are missing before step 3"),
    (
        "q,1,C=C.Br,1-2 -> 2-3h; 3-3h -> 3,C[CH2+].[Br-],\nq,1,C[CH2+].[Br-],3 -> 2-3,CCBr,",
        "1:unreadable-record",
        "step 1 stands there twice",
    ),
    (
        "q,1,C=C.Br,1-2 -> 2-3h; 3-3h -> 3,C[CH2+].[Br-],\nq,,C[CH2+].[Br-],3 -> 2-3,CCBr,",
        "missing-field",
        "a row of the sequence has no step number",
    ),
    // What a later row leaves out on purpose counts.
    ("q,1,C=C.Br,1-2 -> 2-3h; 3-3h -> 3,C[CH2+].[Br-],\nq,2,,1-1h -> 1-2,C=C.[H+],[Br-]", "", ""),
];

#[test]
fn steps_are_judged_on_their_own() {
    hold("", Format::JsonLines, &Settings::default(), JSON);
    hold("", Format::JsonLines, &Settings::default(), JSON_STEPS);
    hold("id,step,start,arrows,answer,omits\n", Format::Csv, &Settings::default(), ROWS);
}

#[test]
fn too_many_steps_are_a_finding() {
    let row = |step: usize| format!("q,{step},C,1-1h -> 1,[CH3-].[H+]\n");
    let rows: String = (1..=1_001).map(row).collect();
    let text = format!("id,step,start,arrows,answer\n{rows}");
    let items = judged(&text, Format::Csv, &Settings::default());
    assert_eq!(
        items.iter().map(|item| (item.names(), item.class)).collect::<Vec<_>>(),
        [("unreadable-record".to_owned(), Class::Unreadable)]
    );
}

#[test]
fn an_answer_that_the_next_step_goes_on_from_is_corrected_without_a_grade() {
    let first = r#"{"start":"[OH-].CC(=O)OC","arrows":"1 -> 1-3; 3-4 -> 4","answer":"#;
    let (own, other) = ("CC([O-])(S)OC", "CC([O-])(O)OC");
    let next = |start: &str, answer: &str| {
        let start = if start.is_empty() { String::new() } else { format!("\"start\":\"{start}\",") };
        format!(r#"{{{start}"arrows":"3 -> 2-3; 2-5 -> 5","answer":"{answer}"}}"#)
    };
    let cases = [
        ("redrawn alike", next(own, "CC(=O)S.C[O-]"), Grade::None),
        ("redrawn as the product", next(other, "CC(=O)O.C[O-]"), Grade::Certain),
        ("not redrawn, alike", next("", "CC(=O)S.C[O-]"), Grade::None),
        ("not redrawn, as the product", next("", "CC(=O)O.C[O-]"), Grade::Certain),
    ];
    let mut failures = Vec::new();
    for (name, next, expected) in cases {
        let text = format!("{{\"id\":\"q\",\"steps\":[{first}\"{own}\"}},{next}]}}\n");
        let items = judged(&text, Format::JsonLines, &Settings::default());
        let fixes = items.iter().flat_map(|item| &item.findings).filter_map(|finding| finding.fix.as_deref());
        let grades: Vec<Grade> = fixes.map(|fix| fix.grade).collect();
        if grades != [expected] {
            failures.push(format!("{name}: {grades:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
