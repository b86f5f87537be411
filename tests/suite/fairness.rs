//! What one item is told because of another: never a fault where its own arrows prove it right, and the same whatever the order,
//! the shards and the way in.

use super::audits::{run, scratch};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// Items by the name of their group: the id, the other fields, what it is told about conflicts.
const ITEMS: &[(&str, &str, Option<&str>)] = &[
    // One wrong answer, a right one and the same right one once more, one that is not stated.
    ("hydroxide-wrong", ",[OH-].CBr,1 -> 1-2; 2-3 -> 3,OC.Br,,,", Some("note")),
    ("hydroxide-right", ",CBr.[OH-],3 -> 3-1; 1-2 -> 2,CO.[Br-],,,", None),
    ("hydroxide-again", ",[OH-:7].[CH3:3][Br:9],7 -> 7-3; 3-9 -> 9,[CH3:3][OH:7].[Br-:9],,,", None),
    ("hydroxide-silent", ",[OH-].CBr,1 -> 1-2; 2-3 -> 3,,,,", None),
    // An open head, read in both ways, and wrongly.
    ("open-inner", ",CC(C)=C.Br,2-4 -> 5h; 5-5h -> 5,C[C+](C)C.[Br-],,,", Some("warning")),
    ("open-outer", ",CC(C)=C.Br,2-4 -> 5h; 5-5h -> 5,CC(C)[CH2+].[Br-],,,", Some("warning")),
    ("open-wrong", ",CC(C)=C.Br,2-4 -> 5h; 5-5h -> 5,CC(C)C.[Br-],,,", Some("note")),
    // An open head that is read one way only, by all.
    ("other-open-1", ",C=CC.Cl,1-2 -> 4h; 4-4h -> 4,C[CH+]C.[Cl-],,,", None),
    ("other-open-2", ",CC=C.Cl,2-3 -> 4h; 4-4h -> 4,C[CH+]C.[Cl-],,,", None),
    // A choice, keyed rightly and wrongly.
    ("choice-right", ",[CH2-]C=O,1 -> 1-2; 2-3 -> 3,,C=C[O-],[CH2-]C=O,A", None),
    ("choice-wrong", ",[CH2-]C=O,1 -> 1-2; 2-3 -> 3,,C=C[O-],[CH2-]C=O,B", Some("note")),
    // A task of its own is another question.
    ("resonance", "resonance,[CH2-]C=O,1 -> 1-2; 2-3 -> 3,C=C[O-],,,", None),
    // Kekulé forms of one answer are one answer.
    ("ring-1", ",[OH-].CC1=CC=CC=C1C(=O)O,1 -> 1-11h; 11-11h -> 11,CC1=CC=CC=C1C(=O)[O-].O,,,", None),
    ("ring-2", ",[OH-].CC1=CC=CC=C1C(=O)O,1 -> 1-11h; 11-11h -> 11,CC=1C=CC=CC=1C(=O)[O-].O,,,", None),
];

/// A sequence is several rows, so that it stands beside the others.
const SEQUENCES: [(&str, [&str; 2], Option<&str>); 2] = [
    (
        "steps-wrong",
        [",[OH-].CC=O,1 -> 1-3; 3-4 -> 4,CC(O)[O-],,,", ",CC(O)[O-].O,4 -> 4-5h; 5-5h -> 5,CC(O)O.O,,,"],
        Some("note"),
    ),
    (
        "steps-right",
        [",[OH-].CC=O,1 -> 1-3; 3-4 -> 4,CC(O)[O-],,,", ",CC(O)[O-].O,4 -> 4-5h; 5-5h -> 5,CC(O)O.[OH-],,,"],
        None,
    ),
];

/// The bank with its items in some order.
fn bank(order: &[usize]) -> String {
    let mut bank = "id,step,task,start,arrows,answer,option_a,option_b,key\n".to_owned();
    for at in order {
        if let Some((id, rest, _)) = ITEMS.get(*at) {
            let _ = writeln!(bank, "{id},,{rest}");
        } else {
            let (id, rows, _) = SEQUENCES[at - ITEMS.len()];
            for (step, row) in (1..).zip(rows) {
                let _ = writeln!(bank, "{id},{step},{row}");
            }
        }
    }
    bank
}

/// Severity of `conflicting-answers` and whether there is any error that another item is the reason of, by item.
fn told(folder: &Path) -> BTreeMap<String, Vec<(String, String)>> {
    let text = fs::read_to_string(folder.join("audit.json")).expect("an audit");
    let audit: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let mut told: BTreeMap<String, Vec<(String, String)>> = BTreeMap::new();
    for finding in audit["findings"].as_array().expect("findings") {
        let text = |key: &str| finding[key].as_str().unwrap_or_default().to_owned();
        told.entry(text("item")).or_default().push((text("finding"), text("severity")));
    }
    told
}

#[test]
fn what_an_item_is_told_of_others_is_fair_in_any_order() {
    let folder = scratch("fairness");
    let count = ITEMS.len() + SEQUENCES.len();
    let wanted: BTreeMap<&str, Option<&str>> = ITEMS
        .iter()
        .map(|(id, _, told)| (*id, *told))
        .chain(SEQUENCES.iter().map(|(id, _, told)| (*id, *told)))
        .collect();
    assert_eq!(count, 16, "the orders below are orders of 16 items");
    let mut failures = Vec::new();
    for turn in 0..6 {
        // Forwards, backwards, and turned by a step that has no factor with the count, which is 16.
        let order: Vec<usize> = match turn {
            0 => (0..count).collect(),
            1 => (0..count).rev().collect(),
            _ => (0..count).map(|at| (at * [3, 5, 7, 9][turn - 2] + turn) % count).collect(),
        };
        fs::write(folder.join("bank.csv"), bank(&order)).expect("a bank");
        let own = ["--quiet", "--fail-on", "never", "--write", "csv,json"];
        let done = run(&folder, &[&["audit", "bank.csv", "--out", "whole"], &own[..]].concat());
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        let whole = told(&folder.join("whole"));
        for (id, severity) in &wanted {
            let own = whole.get(*id).cloned().unwrap_or_default();
            let conflict = own.iter().find(|(name, _)| name == "conflicting-answers").map(|(_, own)| own.as_str());
            if conflict != *severity {
                failures.push(format!("turn {turn}: {id}: {conflict:?}, not {severity:?}"));
            }
            let is_right = severity.is_none_or(|own| own == "warning") && *id != "hydroxide-silent";
            if is_right && own.iter().any(|(_, severity)| severity == "error") {
                failures.push(format!("turn {turn}: {id} is right and has {own:?}"));
            }
        }
        for shard in ["1/3", "2/3", "3/3"] {
            run(&folder, &[&["audit", "bank.csv", "--shard", shard, "--out", "parts"], &own[..]].concat());
        }
        run(&folder, &[&["gather", "parts", "--out", "gathered"], &own[..]].concat());
        let again = run(&folder, &[&["audit", "bank.csv", "--since", "whole", "--out", "again"], &own[..]].concat());
        let changes = fs::read_to_string(folder.join("again/changes.csv")).unwrap_or_default();
        if changes.lines().count() != 1 {
            failures.push(format!("turn {turn}: {changes} {}", String::from_utf8_lossy(&again.stderr)));
        }
        let text = |name: &str| fs::read_to_string(folder.join(name).join("audit.csv")).unwrap_or_default();
        if text("whole") != text("gathered") {
            failures.push(format!("turn {turn}: gathered shards differ"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
