//! Workbooks that are written: banks in every format say the same, and templates are sound.

use super::audits::{run, scratch};
use calamine::{Data, Ods, Reader, Xlsx, open_workbook};
use std::path::Path;

const BANK: &str = "id,task,step,start,arrows,answer,omits,option_a,option_b,key,prompt,note\n\
    =1+1,,,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],,,,,\"Two\nlines,  and spaces\",kept\n\
    +a,,,[OH-].CI,1 -> 1-2; 2-3 -> 3,CO.[I],,,,,,\n\
    -b,resonance,,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3],,,,,,\n\
    @c,,,[OH-].CCl,1 -> 1-2; 2-3 -> 3,CO,[Cl-],,,,,\n\
    choice,,,[OH-].CF,1 -> 1-2; 2-3 -> 3,,,CO.[F-],CO.F,A,Which?,\n\
    wrong,,,[OH-].CCBr,1 -> 1-3; 3-4 -> 4,,,CCO.Br,CCO.[Br-],A,,\n\
    chain,,1,[OH-:1].[CH2:2]=[O:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH2:2][O-:3],,,,,,\n\
    chain,,2,,3 -> 2-3; 1-2 -> 1,[OH-:1].[CH2:2]=[O:3],,,,,,\n\
    0012,,,[OH-].CBr,2 -> 1-2,C,,,,,,\n";

/// Item, step and finding of each row.
fn verdicts(folder: &Path, bank: &str) -> Vec<[String; 3]> {
    run(folder, &["audit", bank, "--out", "out", "--write", "csv"]);
    let mut reader = csv::Reader::from_path(folder.join("out/audit.csv")).expect("the audit is there");
    reader.records().flatten().map(|row| [row[2].to_owned(), row[3].to_owned(), row[5].to_owned()]).collect()
}

#[test]
fn a_bank_says_the_same_in_every_format() {
    let folder = scratch("round-trips");
    std::fs::write(folder.join("bank.csv"), BANK).expect("the bank can be written");
    run(&folder, &["convert", "bank.csv", "--to", "jsonl", "--out", "first.jsonl"]);
    let first = std::fs::read_to_string(folder.join("first.jsonl")).expect("it is there");
    let expected = verdicts(&folder, "bank.csv");
    let mut failures = Vec::new();
    if expected.len() < 5 {
        failures.push(format!("too little is wrong: {expected:?}"));
    }
    let formats =
        [("csv", "csv"), ("jsonl", "jsonl"), ("xlsx", "xlsx"), ("ods", "ods"), ("cml", "cml"), ("qti", "zip")];
    for (format, ending) in formats {
        let name = format!("as-{format}.{ending}");
        let output = run(&folder, &["convert", "bank.csv", "--to", format, "--out", &name]);
        if output.status.code() != Some(0) {
            failures.push(format!("{format}: {output:?}"));
        }
        // QTI names items by identifiers of its own kind.
        let found = verdicts(&folder, &name);
        let same =
            |at: usize| found.get(at).map(|own| (&own[1], &own[2])) == expected.get(at).map(|own| (&own[1], &own[2]));
        if found.len() != expected.len() || !(0..found.len()).all(same) || (format != "qti" && found != expected) {
            failures.push(format!("{format}: {found:?}\nnot {expected:?}"));
        }
        run(&folder, &["convert", &name, "--to", "jsonl", "--out", "back.jsonl"]);
        let back = std::fs::read_to_string(folder.join("back.jsonl")).expect("it is there");
        let is_text = matches!(format, "csv" | "jsonl" | "xlsx" | "ods");
        if is_text && back != first {
            failures.push(format!("{format}: {back}\nnot {first}"));
        }
    }
    let texts = |cells: &calamine::Range<Data>| {
        cells.used_cells().all(|(_, _, cell)| matches!(cell, Data::String(_) | Data::Empty))
    };
    let mut xlsx: Xlsx<_> = open_workbook(folder.join("as-xlsx.xlsx")).expect("a workbook");
    let mut ods: Ods<_> = open_workbook(folder.join("as-ods.ods")).expect("a workbook");
    for (cells, formulas) in [
        (xlsx.worksheet_range("Bank").expect("cells"), xlsx.worksheet_formula("Bank").expect("formulas")),
        (ods.worksheet_range("Bank").expect("cells"), ods.worksheet_formula("Bank").expect("formulas")),
    ] {
        let id = cells.get((1, 0)).map(ToString::to_string).unwrap_or_default();
        if id != "=1+1" || !texts(&cells) || formulas.used_cells().any(|(_, _, own)| !own.is_empty()) {
            failures.push(format!("{cells:?} {formulas:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn templates_are_sound_and_explain_the_fields() {
    let folder = scratch("templates");
    let mut failures = Vec::new();
    for name in ["new.csv", "new.jsonl", "new.xlsx", "new.ods"] {
        let made = run(&folder, &["template", name]);
        let output = run(&folder, &["audit", name, "--out", "out", "--write", "csv"]);
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        if made.status.code() != Some(0) || !said.contains("2 items: 2 sound") || !said.contains("0 with warnings") {
            failures.push(format!("{name}: {made:?} {output:?}"));
        }
        // What somebody has filled in is not written over.
        if run(&folder, &["template", name]).status.code() != Some(2) {
            failures.push(format!("{name} is written over"));
        }
    }
    let csv = std::fs::read_to_string(folder.join("new.csv")).expect("it is there");
    let jsonl = std::fs::read_to_string(folder.join("new.jsonl")).expect("it is there");
    for field in ["omits: ", "option_a: ", "key: ", "no laboratory procedure"] {
        if !csv.contains(field) || !jsonl.contains(field) {
            failures.push(format!("no '{field}'"));
        }
    }
    let output = run(&folder, &["template", "new.doc"]);
    if output.status.code() != Some(2) {
        failures.push(format!("{output:?}"));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
