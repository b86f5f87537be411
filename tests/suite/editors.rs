//! What an editor decides in a workbook or a table reaches the bank, and nothing else does.

use super::audits::scratch;
use calamine::{Data, Reader, Xlsx, open_workbook};
use std::path::Path;
use std::process::{Command, Output};

fn keyassay(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_keyassay"));
    command.current_dir(folder).args(arguments).output().expect("the program starts")
}

/// Four items: one certain, one whose proposal has no grade or is likely, one that is only a formula to a careless program, one sound.
const BANK: &str = "id,start,arrows,answer\n\
    a,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br]\n\
    =1+1,[OH-].CI,1 -> 1-2; 2-3 -> 3,CO.[I]\n\
    c,[OH-].CCl,1 -> 1-2; 2-3 -> 3,CO.[Cl]\n\
    d,[OH-].CF,1 -> 1-2; 2-3 -> 3,CO.[F-]\n";

fn audited(name: &str) -> std::path::PathBuf {
    let folder = scratch(name);
    std::fs::write(folder.join("bank.csv"), BANK).expect("the bank can be written");
    keyassay(&folder, &["audit", "bank.csv", "--out", "audit", "--write", "csv,html,xlsx"]);
    folder
}

/// The cells of a sheet as texts.
fn sheet(path: &Path, name: &str) -> Vec<Vec<String>> {
    let mut book: Xlsx<_> = open_workbook(path).expect("a workbook");
    let range = book.worksheet_range(name).expect("the sheet is there");
    let text = |cell: &Data| if *cell == Data::Empty { String::new() } else { cell.to_string() };
    range.rows().map(|row| row.iter().map(text).collect()).collect()
}

/// A cell to write over: its row, its column, its text.
type Cell = (usize, &'static str, &'static str);

/// The decisions with cells written over: row, column, text.
fn decided(folder: &Path, cells: &[Cell]) -> Vec<Vec<String>> {
    let mut rows = sheet(&folder.join("audit/audit.xlsx"), "Decisions");
    for (row, column, text) in cells {
        let at = rows[0].iter().position(|own| own == column).expect("the column is there");
        (*text).clone_into(&mut rows[*row][at]);
    }
    rows
}

fn save_csv(path: &Path, rows: &[Vec<String>], separator: u8) {
    let mut writer = csv::WriterBuilder::new().delimiter(separator).from_path(path).expect("it can be written");
    for row in rows {
        writer.write_record(row).expect("a row");
    }
    writer.flush().expect("it can be written");
}

fn save_xlsx(path: &Path, rows: &[Vec<String>]) {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet().set_name("Decisions").expect("a name");
    for (row, cells) in rows.iter().enumerate() {
        for (column, cell) in cells.iter().enumerate() {
            sheet.write_string(row as u32, column as u16, cell).expect("a cell");
        }
    }
    book.save(path).expect("it can be written");
}

#[test]
fn the_workbook_has_what_an_editor_needs() {
    let folder = audited("editors-workbook");
    let rows = sheet(&folder.join("audit/audit.xlsx"), "Decisions");
    let ids: Vec<&str> = rows.iter().map(|row| row[0].as_str()).collect();
    assert_eq!(ids, ["item", "a", "=1+1", "c"], "{rows:?}");
    let column = |name: &str| rows[0].iter().position(|own| own == name).expect("the column is there");
    assert_eq!(rows[1][column("finding")], "mismatched-product unbalanced-charge");
    assert_eq!([&rows[1][column("now")], &rows[1][column("proposed")]], ["CO.[Br]", "CO.[Br-]"]);
    assert_eq!(rows[1][column("decision")], "", "nothing is accepted beforehand");
    let counts = sheet(&folder.join("audit/audit.xlsx"), "Summary");
    assert!(counts.iter().any(|row| row[0] == "faulty" && row[1] == "3"), "{counts:?}");
}

#[test]
fn decisions_reach_the_bank() {
    let folder = audited("editors-decisions");
    let rows = decided(
        &folder,
        &[(1, "decision", "Accept "), (2, "instead", "OC.[I-]"), (3, "decision", "keep"), (3, "note", "by design")],
    );
    let expected = BANK.replace("CO.[Br]", "CO.[Br-]").replace("CO.[I]", "OC.[I-]");
    let mut failures = Vec::new();
    save_csv(&folder.join("saved.csv"), &rows, b',');
    save_csv(&folder.join("german.csv"), &rows, b';');
    save_xlsx(&folder.join("saved.xlsx"), &rows);
    for (at, name) in ["saved.csv", "german.csv", "saved.xlsx"].into_iter().enumerate() {
        let known = format!("known-{at}.csv");
        let output =
            keyassay(&folder, &["amend", "bank.csv", "--with", name, "--out", "new.csv", "--write-known", &known]);
        let new = std::fs::read_to_string(folder.join("new.csv")).unwrap_or_default();
        let list = std::fs::read_to_string(folder.join(&known)).unwrap_or_default();
        let is_list =
            list.contains("c,mismatched-product,by design,\n") && list.contains("c,unbalanced-charge,by design,\n");
        if new != expected || !is_list || output.status.code() != Some(0) {
            failures.push(format!("{name}: {new:?} {list:?} {output:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    // What is kept fails no night, and the rest is sound.
    let output = keyassay(&folder, &["audit", "new.csv", "--out", "again", "--known", "known-0.csv"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
}

#[test]
fn what_is_left_is_told() {
    let folder = audited("editors-left");
    let cases: &[(&[Cell], &str, i32)] = &[
        (&[], "3 left as they are: not decided", 0),
        (&[(1, "decision", "ask")], "1 left as it is: to ask", 0),
        (&[(1, "decision", "yes")], "not applied: line 2, a: the decision 'yes' is none of accept, keep, ask", 1),
        (&[(1, "instead", "C(")], "not applied: line 2, a: the text under instead cannot be read", 1),
        (&[(1, "decision", "keep"), (1, "instead", "C")], "another text stands under instead", 1),
        (&[(1, "decision", "accept"), (1, "proposed", "C")], "was changed on the way", 1),
        (&[(1, "decision", "accept"), (1, "line", "3")], "was changed on the way", 1),
        (&[(1, "decision", "accept"), (1, "check", "")], "was changed on the way", 1),
    ];
    let mut failures = Vec::new();
    for (cells, says, status) in cases {
        save_csv(&folder.join("saved.csv"), &decided(&folder, cells), b',');
        let output = keyassay(&folder, &["amend", "bank.csv", "--with", "saved.csv", "--out", "new.csv"]);
        let stdout = String::from_utf8_lossy(&output.stdout);
        let new = std::fs::read_to_string(folder.join("new.csv")).unwrap_or_default();
        if !stdout.contains(says) || output.status.code() != Some(*status) || new != BANK {
            failures.push(format!("{cells:?}: {output:?} {new}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// One bit of a row that is to be applied: the bank gets what the audit proposed, or nothing.
#[test]
fn damaged_rows_change_nothing_else() {
    let folder = scratch("editors-damage");
    let bank =
        "id,start,arrows,answer\na,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br]\nb,[OH-].CI,1 -> 1-2; 2-3 -> 3,CO.[I-]\n";
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    keyassay(&folder, &["audit", "bank.csv", "--out", "audit", "--write", "csv"]);
    let list = std::fs::read(folder.join("audit/corrections.csv")).expect("it is there");
    std::fs::copy(folder.join("audit/corrections.files.csv"), folder.join("damaged.files.csv")).expect("it is there");
    let corrected = bank.replace("CO.[Br]", "CO.[Br-]");
    let from = list.iter().position(|byte| *byte == b'\n').expect("a header") + 1;
    let mut failures = Vec::new();
    let mut refused = 0;
    for at in from..list.len() {
        let mut damaged = list.clone();
        damaged[at] ^= 1 << (at % 7);
        std::fs::write(folder.join("damaged.csv"), &damaged).expect("it can be written");
        let _ = std::fs::remove_file(folder.join("new.csv"));
        let output = keyassay(&folder, &["amend", "bank.csv", "--with", "damaged.csv", "--out", "new.csv"]);
        match std::fs::read_to_string(folder.join("new.csv")) {
            Ok(new) if new == corrected => {}
            Ok(new) if new == bank && output.status.code() != Some(0) => refused += 1,
            Err(_) if output.status.code() == Some(2) => refused += 1,
            // A bit in the editor's own cells is the editor's.
            other => failures.push(format!("byte {at}: {other:?} {output:?} {}", String::from_utf8_lossy(&damaged))),
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(refused > 40, "only {refused} were refused");
}

#[test]
fn a_bank_without_answers_or_arrows_is_filled() {
    let folder = scratch("editors-unanswered");
    let bank = "id,start,arrows,answer\n\
        plain,[OH-].CBr,1 -> 1-2; 2-3 -> 3,\n\
        marked,C[C@H](F)Br.[OH-],5 -> 2-5; 2-4 -> 4,\n\
        warned,C=O.[H+],2 -> 3,\n\
        faulty,[OH-].CBr,2 -> 1-2,\n\
        arrows,[OH-].CBr,,CO.[Br-]\n";
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    keyassay(&folder, &["audit", "bank.csv", "--out", "audit", "--write", "csv"]);
    let list = std::fs::read_to_string(folder.join("audit/corrections.csv")).expect("it is there");
    let graded: Vec<(String, String, String)> = csv::Reader::from_reader(list.as_bytes())
        .records()
        .flatten()
        .map(|row| (row[2].to_owned(), row[4].to_owned(), row[7].to_owned()))
        .collect();
    let graded: Vec<[&str; 3]> = graded.iter().map(|(a, b, c)| [a.as_str(), b.as_str(), c.as_str()]).collect();
    assert_eq!(
        graded,
        [
            ["plain", "answer", "certain"],
            ["marked", "answer", "likely"],
            ["warned", "answer", "certain"],
            ["arrows", "arrows", "likely"]
        ],
        "{list}"
    );
    keyassay(
        &folder,
        &["amend", "bank.csv", "--with", "audit/corrections.csv", "--grade", "likely", "--out", "new.csv"],
    );
    let output = keyassay(&folder, &["audit", "new.csv", "--out", "again", "--write", "json"]);
    let stdout = String::from_utf8_lossy(&output.stdout);
    assert!(stdout.contains("5 items: 4 sound, 0 faulty, 0 undecided, 1 unreadable"), "{stdout}");
}

#[test]
fn a_bank_is_drawn_item_by_item() {
    let folder = scratch("editors-drawings");
    let bank = "id,start,arrows,answer\na/b,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\na b,[OH-].CI,1 -> 1-2; 2-3 -> 3,CO.[I-]\nbad,C(,1 -> 1-2,C\n";
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    let output = keyassay(&folder, &["draw", "--bank", "bank.csv", "--out", "drawings", "--numbers", "--product"]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    let mut names: Vec<String> = std::fs::read_dir(folder.join("drawings"))
        .expect("the folder is there")
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    assert_eq!(names, ["a_b-2.svg", "a_b.svg", "drawings.csv"]);
    let svg = std::fs::read_to_string(folder.join("drawings/a_b.svg")).expect("it is there");
    assert!(["1", "2", "3"].iter().all(|label| svg.contains(&format!(">{label}</text>"))), "{svg}");
    let output = keyassay(&folder, &["draw", "CBr", "--out", "picture.png"]);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(2) && stderr.contains("not as .png"), "{stderr}");
}
