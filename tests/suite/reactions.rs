//! Reaction SMILES with agents and with extended tails.

use super::judged::judged;
use keyassay::bank::Format;
use keyassay::findings::Settings;

/// A line, the findings it raises, and where the first of them stands.
const CASES: [(&str, &str, Option<u32>); 10] = [
    ("CC(=O)OC>[OH-]>CC([O-])(O)OC\t6 -> 6-2; 2-3 -> 3", "", None),
    ("CC(=O)OC>[OH-].[Na+]>CC([O-])(O)OC\t6 -> 6-2; 2-3 -> 3", "", None),
    ("CC(=O)OC>[OH-].[Na+]>[Na+].CC([O-])(O)OC\t6 -> 6-2; 2-3 -> 3", "", None),
    ("CC(=O)OC.[K+]>[OH-]>CC([O-])(O)OC\t7 -> 7-2; 2-3 -> 3", "omitted-species", None),
    (">[OH-].CBr>CO.[Br-]\t1 -> 1-2; 2-3 -> 3", "", None),
    ("CC(=O)OC>[OHx-]>CC([O-])(O)OC\t6 -> 6-2; 2-3 -> 3", "unreadable-structure", Some(13)),
    ("CC(C>[OH-]>C\t6 -> 6-2; 2-3 -> 3", "unreadable-structure", Some(3)),
    ("CBr>>[CH3].[Br] |$a;b;;$,^1:2,3|\t1-2 ~> 1; 1-2 ~> 2", "loose-notation", None),
    ("CBr>>C.Br |^1:2|\t1-2 ~> 1; 1-2 ~> 2", "loose-notation mismatched-product unbalanced-atoms", None),
    ("C=C>>CC |C:0.1|\t1 -> 2", "unreadable-record", Some(10)),
];

#[test]
fn agents_stand_beside_the_start() {
    let mut failures = Vec::new();
    for (line, expected, column) in CASES {
        let found = judged(line, Format::ReactionSmiles, &Settings::default());
        let findings: Vec<_> = found.iter().flat_map(|own| &own.findings).collect();
        let names: Vec<&str> = findings.iter().map(|finding| finding.name.entry().name).collect();
        let place = findings.first().and_then(|finding| finding.spot.as_ref()).map(|spot| spot.column);
        if names.join(" ") != expected || (column.is_some() && place != column) {
            failures.push(format!("{line}: {names:?} at {place:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
