//! Families of a survey, held to a judgement made by hand before the program was asked.

use std::collections::BTreeMap;
use std::process::Command;

/// The family that a chemist puts a step into, its id, start and arrows, and why.
const BY_HAND: &[(char, &str, &str, &str, &str)] = &[
    ('A', "acid and ammonia", "CC(=O)O.N", "5 -> 5-4h; 4-4h -> 4", "N takes H from O, whose neighbour is C"),
    ('A', "a longer acid", "CCC(=O)O.N", "6 -> 6-5h; 5-5h -> 5", "the chain begins three bonds away"),
    (
        'A',
        "its hydrogen drawn",
        "[NH3:4].[O:1]=[C:2]([CH3:3])[O:5][H:6]",
        "4 -> 4-6; 5-6 -> 5",
        "drawn or not, one hydrogen",
    ),
    ('B', "acid and amine", "CC(=O)O.CN", "6 -> 6-4h; 4-4h -> 4", "the N has a neighbour"),
    (
        'A',
        "phenol and ammonia",
        "Oc1ccccc1.N",
        "8 -> 8-1h; 1-1h -> 1",
        "the neighbour of O is C again; what that C is comes later",
    ),
    ('C', "displacement", "[OH-:1].[CH3:2][Br:3]", "1 -> 1-2; 2-3 -> 3", "O onto a C without neighbours, Br leaves"),
    ('C', "with its sodium", "CBr.[OH-].[Na+]", "3 -> 1-3; 1-2 -> 2", "another order, and an ion that looks on"),
    ('D', "at a longer chain", "[OH-:1].[CH3:2][CH2:3][Br:4]", "1 -> 1-3; 3-4 -> 4", "the C has a neighbour"),
    ('E', "by sulfur", "[SH-:1].[CH3:2][Br:3]", "1 -> 1-2; 2-3 -> 3", "S, not O"),
    ('F', "phenolate", "[O-:1]c1ccccc1.[CH3:2][I:3]", "1 -> 1-2; 2-3 -> 3", "an O with C, and I leaves"),
    ('F', "ethoxide", "CC[O-].CI", "3 -> 3-4; 4-5 -> 5", "the same centre as with phenolate"),
    ('F', "methoxide", "C[O-].CI", "2 -> 2-3; 3-4 -> 4", "and again"),
    ('G', "ionisation", "CC(C)(C)Br", "2-5 -> 5", "a C with three C loses Br"),
    ('G', "of a longer chain", "CCC(C)(C)Br", "3-6 -> 6", "still three C"),
    ('H', "of the chloride", "CC(C)(C)Cl", "2-5 -> 5", "Cl, not Br"),
    ('I', "chlorine in light", "[Cl:1][Cl:2]", "1-2 ~> 1; 1-2 ~> 2", "single electrons to both ends"),
    ('J', "a peroxide", "COOC", "2-3 ~> 2; 2-3 ~> 3", "O and O, each with a C"),
    ('J', "a peroxy ester", "CC(=O)OOC", "4-5 ~> 4; 4-5 ~> 5", "the carbonyl is beyond the neighbours"),
    ('K', "a cyanohydrin", "[C-:1]#N.[CH3:2][CH:3]=[O:4]", "1 -> 1-3; 3-4 -> 4", "C of cyanide onto C=O with one C"),
    ('K', "of propanal", "CCC=O.[C-]#N", "5 -> 3-5; 3-4 -> 4", "the same neighbours"),
];

/// Near repeats by hand: steps of one family whose surroundings are alike out to two bonds, hydrogens left out.
const NEAR: &[(char, u64)] = &[('A', 3), ('C', 2)];

#[test]
fn families_are_those_of_a_chemist() {
    let folder = std::env::temp_dir().join(format!("keyassay-families-{}", std::process::id()));
    let bank = folder.join("bank.csv");
    let rows = BY_HAND.iter().map(|(_, id, start, arrows, _)| format!("{id},{start},{arrows},C\n"));
    let text: String = ["id,start,arrows,answer\n".to_owned()].into_iter().chain(rows).collect();
    let written = std::fs::create_dir_all(&folder).and_then(|()| std::fs::write(&bank, text));
    written.unwrap_or_else(|error| panic!("{error}"));
    let done = Command::new(env!("CARGO_BIN_EXE_keyassay")).arg("survey").arg(&bank).arg("--out").arg(&folder).output();
    let json = std::fs::read(folder.join("survey.json")).unwrap_or_default();
    let _ = std::fs::remove_dir_all(&folder);
    let survey: serde_json::Value = serde_json::from_slice(&json).unwrap_or_else(|error| panic!("{error}: {done:?}"));
    // By the first item of each family: how many, and how many near repeats.
    let mut expected: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    let first = |family: char| BY_HAND.iter().find(|own| own.0 == family).map_or("", |own| own.1);
    for (family, ..) in BY_HAND {
        expected.entry(first(*family)).or_default().0 += 1;
    }
    for (family, count) in NEAR {
        expected.entry(first(*family)).or_default().1 = *count;
    }
    let families = survey["families"].as_array().map(Vec::as_slice).unwrap_or_default();
    let number = |own: &serde_json::Value, key: &str| own[key].as_u64().unwrap_or(u64::MAX);
    let found: BTreeMap<&str, (u64, u64)> = families
        .iter()
        .map(|own| {
            let name = own["first"]["item"].as_str().unwrap_or_default();
            (name, (number(own, "steps"), number(own, "near-repeats")))
        })
        .collect();
    assert_eq!(found, expected, "{families:#?}");
}
