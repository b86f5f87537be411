//! Multiple choice: the key, the options that are right, those that are one structure, and what is wrong with the others.

use super::judged::{Case, hold, judged};
use keyassay::bank::Format;
use keyassay::findings::{Correction, Distractors, Settings};

const HEADER: &str = "id,task,start,arrows,answer,option_a,option_b,option_c,option_d,key,omits\n";

/// Deprotonation of phenol, and its right options drawn otherwise.
const CASES: &[Case] = &[
    ("q,,Oc1ccccc1.[OH-],8 -> 8-1h; 1-1h -> 1,,[O-]c1ccccc1.O,Oc1cccc[c-]1.O,,,A,", "", ""),
    ("q,,Oc1ccccc1.[OH-],8 -> 8-1h; 1-1h -> 1,,[O-]c1ccccc1.O,Oc1cccc[c-]1.O,,,1,", "", ""),
    ("q,,Oc1ccccc1.[OH-],8 -> 8-1h; 1-1h -> 1,,[O-]c1ccccc1.O,Oc1cccc[c-]1.O,,, a ,", "", ""),
    // Blank options keep their letters.
    (
        "q,,Oc1ccccc1.[OH-],8 -> 8-1h; 1-1h -> 1,,[O-]c1ccccc1.O,,Oc1cccc[c-]1.O,,C,",
        "keyed-option-wrong",
        "the key is C, but the recomputed product is option A",
    ),
    (
        "q,,Oc1ccccc1.[OH-],8 -> 8-1h; 1-1h -> 1,,[O-]C1=CC=CC=C1.O,[O-]C1C=CC=CC=1.O,Oc1cccc[c-]1.O,,A,",
        "several-options-right",
        "options A and B are each the recomputed product",
    ),
    (
        "q,,Oc1ccccc1C.[OH-],9 -> 9-1h; 1-1h -> 1,,[O-]C1=CC=CC=C1C.O,[O-]C1C=CC=CC=1C.O,[O-]C1=C(C)C=CC=C1.O,,A,",
        "several-options-right",
        "options A, B and C are each",
    ),
    // Key and product part, and two options are the product.
    (
        "q,,Oc1ccccc1.[OH-],8 -> 8-1h; 1-1h -> 1,,[O-]C1=CC=CC=C1.O,O.[O-]C1C=CC=CC=1,Oc1cccc[c-]1.O,,C,",
        "keyed-option-wrong several-options-right",
        "the recomputed product are options A and B",
    ),
    (
        "q,,CC(C)(C)Br,2-5 -> 5,,C[C-](C)C.[Br-],C[C+](C)C.[Br+],,,B,",
        "[unbalanced-charge] no-option-right",
        "no option is the recomputed product; option B, the key: Br5: stated charge +1, should be -1",
    ),
    (
        "q,,CC(C)(C)Br,2-5 -> 5,,C[C+](C)C.[Br-],[Br-].C[C+](C)C,,,,",
        "missing-field several-options-right",
        "no key that says which is right",
    ),
    ("q,,CC(C)(C)Br,2-5 -> 5,,,,,,B,", "missing-field", "the key names option 'B', but the item has no options"),
    ("q,,CC(C)(C)Br,2-5 -> 5,,C[C+](C)C.[Br-],CC(C)=C.Br,,,E,", "missing-field", "has only the options A, B"),
    ("q,,CC(C)(C)Br,2-5 -> 5,,C[C+](C)C.[Br-],CC(C)=C.Br,,,the first,", "unreadable-record", "'the first' is no key"),
    ("q,,CC(C)(C)Br,2-5 -> 5,,C[C+](C)C.[Br-],CC(C)=C.Br,,,0,", "unreadable-record", ""),
    // An answer beside the options.
    ("q,,CC(C)(C)Br,2-5 -> 5,C[C+](C)C.[Br-],CC(C)=C.Br,C[C+](C)C.[Br-],,,B,", "", ""),
    ("q,,CC(C)(C)Br,2-5 -> 5,C[C+](C)C.[Br-],CC(C)=C.Br,C[C+](C)C.[Br-],,,,", "", ""),
    ("q,,CC(C)(C)Br,2-5 -> 5,C[C+](C)C.[Br-],CC(C)=C.Br,C[C+](C)C.[Br-],,,A,", "keyed-option-wrong", ""),
    ("q,,CC(C)(C)Br,2-5 -> 5,C[C+](C)C.[Br-],,,,,A,", "", ""),
    (
        "q,,CC(C)(C)Br,5 -> 4-5,C[C+](C)C.[Br-],CC(C)=C.Br,C[C+](C)C.[Br-],,,A,",
        "hypervalent-atom keyed-option-wrong",
        "option A, the key, is not the stated answer",
    ),
    (
        "q,,CC(C)(C)Br,2-5 -> 5,CC(C)=C.Br,CC(C)=C.Br,C[C+](C)C.[Br-],,,A,",
        "mismatched-product bystander-changed keyed-option-wrong",
        "",
    ),
    // Species left out: where no option is whole, the keyed one is right with a warning, or without where the item says so.
    ("q,,CBr.[OH-],3 -> 1-3; 1-2 -> 2,,CO,C[O-],,,A,", "omitted-species", ""),
    ("q,,CBr.[OH-],3 -> 1-3; 1-2 -> 2,,CO,C[O-],,,A,[Br-]", "", ""),
    ("q,,CBr.[OH-],3 -> 1-3; 1-2 -> 2,,CO,CO.[Br-],,,B,", "[unbalanced-charge]", ""),
    ("q,,CBr.[OH-],3 -> 1-3; 1-2 -> 2,,CO,CO.[Br-],,,A,", "keyed-option-wrong", "option A: [Br-] is left out"),
    ("q,,CBr.[OH-],3 -> 1-3; 1-2 -> 2,,CO,CO.[Br-],,,A,*", "several-options-right", ""),
    // Options that are one drawing, other than right ones.
    (
        "q,,CC(C)(C)Br,2-5 -> 5,,C[C+](C)C.[Br-],CC(C)=C.Br,C=C(C)C.Br,,A,",
        "repeated-option",
        "options B and C are the same structure",
    ),
    (
        "q,,c1ccccc1[N+](=O)[O-],7-8 -> 8; 9 -> 7-9,,C1=CC=CC=C1[N+]([O-])=O,c1ccccc1N,C1C=CC=CC=1N,,A,",
        "[indistinct-answer] repeated-option",
        "",
    ),
    // Labels are what options differ in where start and product are the same drawing.
    ("q,resonance,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,,[CH2:1]=[CH:2][CH2+:3],[CH2+:1][CH:2]=[CH2:3],,,B,", "", ""),
    (
        "q,resonance,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,,[CH2:1]=[CH:2][CH2+:3],[CH2+:1][CH:2]=[CH2:3],,,A,",
        "keyed-option-wrong",
        "",
    ),
    (
        "q,resonance,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,,[CH2:1]=[CH:2][O-:3],[CH2:3]=[CH:2][O-:1],[CH2-:1][CH:2]=[O:3],,A,",
        "several-options-right",
        "",
    ),
    // Faults of wrong options are notes, of the keyed one errors.
    (
        "q,,CC(=O)C.[OH-],5 -> 2-5; 2-3 -> 3,,CC([O-])(O)C,CC(=O)(O)C,CC(O)(O)(O)C,CC(=O)(=O)[CH3-],A,",
        "[impossible-electrons] [impossible-electrons] [impossible-electrons] [hypervalent-atom] [unbalanced-charge]",
        "0 in option B, 0 in option C",
    ),
    (
        "q,,CC(=O)C.[OH-],5 -> 2-5; 2-3 -> 3,,CC([O-])(O)C,C[C-](=O)(O)C,,,B,",
        "hypervalent-atom keyed-option-wrong",
        "C#2 of option B has 10 electrons in its shell",
    ),
    // What the start draws over-full, options may too.
    ("q,,CN(=O)=O.[OH-],5 -> 5-1h; 1-1h -> 1,,[CH2-]N(=O)=O.O,C[N-](=O)=O.O,,,A,", "hypervalent-atom", ""),
    ("q,,CCO,2 -> 2-9,,CCO,CC,,,A,", "unknown-atom", ""),
];

/// Iodomethane and hydroxide: the product in three drawings, and two others.
const SEVERAL: &[Case] = &[
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,\"A, C\",", "", ""),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,A and C,", "", ""),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,AC,", "", ""),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,1; 3,", "", ""),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,CO.[I-] OC.[I-],", "", ""),
    (
        "q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,A B C,",
        "keyed-option-wrong",
        "option B, one of the keys, is not the recomputed product, which are options A and C",
    ),
    (
        "q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],[I-].CO,\"A, C\",",
        "several-options-right",
        "option D is the recomputed product, and the keys are A and C",
    ),
    (
        "q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,\"B, C\",",
        "keyed-option-wrong several-options-right",
        "",
    ),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,[O-]C.I,[O-]CI,,,\"A, B\",", "no-option-right", ""),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,\"A, E\",", "missing-field", "names option 'E'"),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,OC.[I-],,(a),", "several-options-right", "options A and C are"),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,,,Option 1,", "", ""),
    ("q,,CI.[OH-],3 -> 1-3; 1-2 -> 2,,CO.[I-],[O-]C.I,,,CO.[I-],", "", ""),
    // Contributors: the keys are the legal ones.
    ("q,contributors,[CH2-]C=O,,,C=C[O-],C=CO,[CH2-][C+][O-],CC=O,A,", "", ""),
    (
        "q,contributors,CC(=O)[O-],,,CC(=O)[O-],CC([O-])=O,CC(O)=O,CC(=O)=O,\"A, B\",",
        "[indistinct-contributor]",
        "options A and B are one drawing",
    ),
    (
        "q,contributors,[CH2-]C=O,,,[CH2-]C=O,C=C[O-],C=CO,,A,",
        "several-options-right",
        "option B is a legal contributor too, and the key is A",
    ),
    (
        "q,contributors,[CH2-]C=O,,,[CH2-]C=O,C=C[O-],C=CO,,ABC,",
        "keyed-option-wrong",
        "option C, one of the keys, is no legal contributor; option C: contributors have the same atoms",
    ),
    ("q,contributors,[CH2-]C=O,,,CC=O,C=CO,,,A,", "no-option-right", ""),
    ("q,contributors,[CH2-]C=O,,,[CH2-]C=O,C=CO,,,,", "missing-field", "no key that says which are right"),
    ("q,contributors,[CH2-]C=O,,,[CH2-]C=O,C=C[O-],C=C[O-],,ABC,", "repeated-option", "option C is the same"),
    ("q,contributors,[CH2-]C=O,,,C=C[O-],C=CO,,,F,", "missing-field", "names option 'F'"),
];

#[test]
fn options_are_held_to_the_product() {
    hold(HEADER, Format::Csv, &Settings::default(), CASES);
    hold(HEADER, Format::Csv, &Settings::default(), SEVERAL);
    let json = |key: &str| {
        format!(
            r#"{{"id":"q","start":"CI.[OH-]","arrows":"3 -> 1-3; 1-2 -> 2","options":["CO.[I-]","[O-]C.I","OC.[I-]"],"key":{key}}}"#
        )
    };
    for key in [r#"["A","C"]"#, "[1,3]", r#""A, C""#, r#"["(a)","Option 3"]"#] {
        let items = judged(&json(key), Format::JsonLines, &Settings::default());
        assert_eq!(items[0].names(), "", "{key}: {}", items[0].messages());
    }
}

#[test]
fn strict_distractors_are_errors() {
    let settings = Settings { distractors: Distractors::Strict, ..Settings::default() };
    let case = "q,,CC(=O)C.[OH-],5 -> 2-5; 2-3 -> 3,,CC([O-])(O)C,CC(=O)(O)C,,,A,";
    hold(HEADER, Format::Csv, &settings, &[(case, "impossible-electrons unbalanced-charge", "")]);
}

/// A bond that goes to a third atom makes one of two bonds: the keyed option shows which.
#[test]
fn the_key_settles_an_open_head() {
    let items = judged(
        "id,start,arrows,option_a,option_b,key\nq,C=CC.[H+],1-2 -> 4,C[CH+]C,[CH2+]CC,A\nr,C=CC.[H+],1-2 -> 4,C[CH+]C,[CH2+]CC,B\n",
        Format::Csv,
        &Settings::default(),
    );
    let names: Vec<String> = items.iter().map(super::judged::Judged::names).collect();
    assert_eq!(names, ["", ""]);
}

/// A thousand options cost a thousand fingerprints, and are compared only where these are equal.
#[test]
fn many_options_are_grouped() {
    let options: Vec<String> = (0..900).map(|at| format!("\"{}O\"", "C".repeat(1 + at % 450))).collect();
    let text = format!(
        "{{\"id\":\"q\",\"start\":\"CBr.[OH-]\",\"arrows\":\"3 -> 1-3; 1-2 -> 2\",\"key\":\"1\",\"omits\":\"*\",\"options\":[{}]}}\n",
        options.join(",")
    );
    let items = judged(&text, Format::JsonLines, &Settings::default());
    let repeated = items[0].findings.iter().filter(|finding| finding.name.to_string() == "repeated-option").count();
    assert_eq!((repeated, items[0].names().contains("several-options-right")), (449, true));
}

#[test]
fn a_key_is_certain_only_where_no_one_arrow_leads_to_the_keyed_option() {
    // Options are what slips lead to, so that one wrong arrow leads to another option.
    let cases = [
        ("the key is wrong", "1 -> 1-3; 3-4 -> 4", "CC([O-])(O)Cl,CC(O)(O)Cl,CC([O-])([OH2+])Cl", "B", "key certain A"),
        (
            "an arrow is wrong",
            "1 -> 1-3; 3-5 -> 5",
            "CC([O-])(O)Cl,CC(=O)O.[Cl-],CC(=O)[O-].Cl",
            "A",
            "key none B|arrows none 1 -> 1-3; 3-4 -> 4",
        ),
        ("two are right", "1 -> 1-3; 3-4 -> 4", "CC(O)(O)Cl,CC([O-])(O)Cl,OC(C)([O-])Cl", "A", "key none B"),
    ];
    let mut failures = Vec::new();
    for (name, arrows, options, key, expected) in cases {
        let text = format!("{HEADER}q,,[OH-].CC(=O)Cl,{arrows},,{options},,{key},\n");
        let items = judged(&text, Format::Csv, &Settings::default());
        let findings = items.iter().flat_map(|item| &item.findings);
        let fixes = findings.filter_map(|finding| finding.fix.as_deref()).flat_map(Correction::each);
        let said: Vec<String> =
            fixes.map(|fix| format!("{} {} {}", fix.field.name(), fix.grade.name(), fix.proposed)).collect();
        if said.join("|") != expected {
            failures.push(format!("{name}: {said:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
