//! Every cap: a profile lowers it, a bank meets it, the audit says so; and `docs/profiles.md` lists it.

use super::audits::{self, corpus, scratch};
use keyassay::limits::{Limits, names};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// One step, wrong in its charge and its hydrogens.
const STEP: &str = "id,start,arrows,answer\nl,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][OH:3]\n";
const STEPS: &str = "id,step,start,arrows,answer\n\
    t,1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]\n\
    t,2,,3 -> 3-2; 1-2 -> 1,[CH2-:1][CH:2]=[O:3]\n";
const CHOICE: &str = "id,start,arrows,option_a,option_b,key\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],C[O].[Br-],A\n";
/// A bicycle and a branched chain beside the step.
const RINGS: &str = "id,start,arrows,answer\n\
    r,[OH-:1].[CH3:2][Br:3].C1CC2CC1CC2,1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br-:3].C1CC2CC1CC2\n";
const BRANCHES: &str = "id,start,arrows,answer\n\
    b,[OH-:1].[CH3:2][Br:3].CC(C(C)C)C,1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br-:3].CC(C)C(C)C\n";
/// A head between two ends of a double bond and a cation: either end may take it.
const OPEN_HEAD: &str = "id,start,arrows,answer\n\
    h,[CH2:1]=[CH2:2].[CH3+:3],1-2 -> 3,[CH2+:2][CH2:1][CH3:3]\n";
/// A head on a bond of a ring that is double in one of its two localised forms.
const OPEN_FORM: &str = "id,start,arrows,answer\nf,[n:1]1[cH:2][cH:3][cH:4][cH:5][cH:6]1,1 -> 1-2,C\n";
/// Arrows that are longer than the structures.
const ARROWS: &str = "id,start,arrows,answer\na,[CH2-]C=O,1 -> 1-2; 2-3->3,C=C[O-]\n";
/// A cage whose atoms are all alike, drawn in another order.
const CAGE: &str = "id,start,arrows,answer\n\
    c,[OH-].CBr.C1CCC2CCCCC2C1.C1CC2CCCC2C1.C12C3C4C1C5C2C3C45,1 -> 1-2; 2-3 -> 3,\
    CO.[Br-].C1CCC2CCCCC2C1.C1CC2CCCC2C1.C12C3C4C5C1C2C3C45\n";
const SET: &str =
    "id,task,start,answers\ns,contributors,[CH2-:1][CH:2]=[O:3],[CH2-:1][CH:2]=[O:3] [CH2:1]=[CH:2][O-:3]\n";
/// Fifty items with a finding each.
const MANY: &str = "";

/// A cap, what the profile sets it to, the bank (a text, or a file of `corpus/`), and what is said or written.
const CASES: &[(&str, u64, &str, &str)] = &[
    ("file-bytes", 40, STEP, "limit `file-bytes` of 40"),
    ("record-bytes", 40, STEP, "passes the limit of 40 bytes"),
    ("record-bytes", 300, "findings/mismatched-product/raises.cml", "limit `record-bytes` of 300"),
    ("field-bytes", 5, STEP, "passes the limit of 5 bytes for one field"),
    ("field-bytes", 15, ARROWS, "the arrows are 16 bytes long and pass the limit of 15 bytes for one field"),
    ("columns", 3, STEP, "its header row passes the limit of 3 columns"),
    ("atoms", 2, STEP, "limit of 2 atoms"),
    ("atoms", 1, "findings/mismatched-product/raises.cml", "limit `atoms` of 1"),
    ("bonds", 1, STEP, "limit of 1 bonds"),
    ("arrows", 1, STEP, "limit of 1 arrows"),
    ("steps", 1, STEPS, "2 steps and passes the limit of 1"),
    ("options", 1, CHOICE, "2 options and passes the limit of 1"),
    ("options", 1, SET, "2 stated contributors and passes the limit of 1"),
    ("branches", 1, BRANCHES, "limit of 1 open branches"),
    ("ring-numbers", 1, RINGS, "limit of 1 ring numbers in use at once"),
    ("nesting", 2, "findings/mismatched-product/raises.cml", "limit `nesting` of 2"),
    ("attributes", 1, "findings/mismatched-product/raises.cml", "limit `attributes` of 1"),
    ("zip-entries", 1, "qti/harrow-mere-2.1.zip", "limit `zip-entries` of 1"),
    ("zip-entry-bytes", 1, "qti/harrow-mere-2.1.zip", "limit `zip-entry-bytes`"),
    ("zip-total-bytes", 1, "qti/harrow-mere-2.1.zip", "limit `zip-total-bytes` of 1"),
    ("zip-ratio", 1, "qti/harrow-mere-2.1.zip", "limit `zip-ratio`"),
    ("shared-strings", 1, "workbooks/department.xlsx", "limit `shared-strings` of 1"),
    ("sheet-cells", 1, "workbooks/department.ods", "limit `sheet-cells` of 1"),
    ("search-steps", 1, CAGE, "could not be decided within 1 search steps"),
    ("forms", 1, OPEN_HEAD, "limit `forms` of 1"),
    ("forms", 1, OPEN_FORM, "limit `forms` of 1"),
    ("slip-atoms", 1, STEP, "limit `slip-atoms` of 1"),
    ("contributors", 1, SET, "limit `contributors` of 1"),
    ("page-cards", 7, MANY, "audit-2.html"),
];

/// What an audit under these caps says, writes in its table, and how it names its files.
fn told(folder: &Path, limits: &str, bank: &str) -> String {
    std::fs::write(folder.join("limits.toml"), limits).expect("the profile can be written");
    let out = folder.join("out");
    let _ = std::fs::remove_dir_all(&out);
    let output = audits::run(folder, &["audit", bank, "--profile", "limits.toml", "--out", "out"]);
    let mut text = String::from_utf8_lossy(&output.stderr).into_owned();
    text += &String::from_utf8_lossy(&output.stdout);
    text += &std::fs::read_to_string(out.join("audit.csv")).unwrap_or_default();
    for file in std::fs::read_dir(out).into_iter().flatten().flatten() {
        text += &file.file_name().to_string_lossy();
    }
    text
}

#[test]
fn every_limit_is_named_where_it_is_met() {
    let folder = scratch("limits");
    let mut failures = Vec::new();
    for (limit, cap, bank, says) in CASES {
        let path = if bank.contains('\n') || bank.is_empty() {
            let text = if bank.is_empty() { many() } else { (*bank).to_owned() };
            std::fs::write(folder.join("bank.csv"), text).expect("the bank can be written");
            "bank.csv".to_owned()
        } else {
            corpus().join(bank).display().to_string()
        };
        let met = told(&folder, &format!("[limits]\n{limit} = {cap}\n"), &path);
        if !met.contains(says) {
            failures.push(format!("{limit} = {cap}: expected {says}:\n{met}"));
        }
        if told(&folder, "", &path).contains(says) {
            failures.push(format!("{limit}: met as it is built in"));
        }
    }
    let tried: BTreeSet<&str> = CASES.iter().map(|(limit, ..)| *limit).collect();
    let all: BTreeSet<&str> = names().iter().copied().collect();
    assert_eq!(tried, all, "each limit has a case");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Fifty wrong items.
fn many() -> String {
    let row = STEP.lines().nth(1).expect("it has a row");
    let rows: Vec<String> = (0..50).map(|at| row.replacen('l', &format!("l{at}"), 1)).collect();
    format!("id,start,arrows,answer\n{}\n", rows.join("\n"))
}

/// The table of `docs/profiles.md`: each cap with what is built in.
#[test]
fn every_limit_is_documented() {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/profiles.md"));
    let text = text.expect("the document is there");
    let rows = text.lines().filter_map(|line| line.strip_prefix("| `")?.split_once("` | "));
    let told: BTreeMap<String, u64> = rows
        .filter_map(|(name, rest)| {
            let digits: String = rest.split(" | ").next()?.chars().filter(char::is_ascii_digit).collect();
            Some((name.to_owned(), digits.parse().ok()?))
        })
        .collect();
    let built_in = serde_json::to_string(&Limits::default()).expect("the limits can be written");
    let built_in: BTreeMap<String, u64> = serde_json::from_str(&built_in).expect("they are numbers");
    assert_eq!(told, built_in);
}
