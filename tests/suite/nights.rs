//! One night after another: known findings, and what has changed.

use super::audits::scratch;
use std::path::Path;
use std::process::Command;

/// Status and what was said.
fn audit(folder: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .current_dir(folder)
        .args(["audit", "bank.csv", "--write", "csv,json,sarif,junit,html", "--out", "out"])
        .args(arguments)
        .output()
        .expect("the program starts");
    let text = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    (output.status.code(), text)
}

fn write(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).expect("the file can be written");
}

fn read(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap_or_default()
}

const BANK: &str = "id,start,arrows,answer\n\
    hm1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][OH:3]\n\
    hm2,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br-:3]\n\
    hm3,[OH-:1].[CH3:2][Cl:3],1 -> 1-2; 4 -> 3,[OH:1][CH3:2].[Cl-:3]\n";

#[test]
fn known_findings_are_counted_apart_and_fail_nothing() {
    let folder = scratch("nights-known");
    write(&folder, "bank.csv", BANK);
    let mut failures = Vec::new();
    let mut expect = |what: &str, found: &(Option<i32>, String), status: i32, words: &[&str]| {
        let missing: Vec<&&str> = words.iter().filter(|word| !found.1.contains(**word)).collect();
        if found.0 != Some(status) || !missing.is_empty() {
            failures.push(format!("{what}: status {:?}, missing {missing:?}\n{:.2000}", found.0, found.1));
        }
    };
    let first = audit(&folder, &["--write-known", "known.csv"]);
    expect("first night", &first, 1, &["4 known findings written"]);
    let list = read(&folder, "known.csv");
    expect(
        "the list",
        &(Some(0), list.clone()),
        0,
        &["item,finding,reason,until\n", "hm1,mismatched-product,", "hm3,unknown-atom,"],
    );
    expect("it is never written over", &audit(&folder, &["--write-known", "known.csv"]), 2, &["is there already"]);
    let second = audit(&folder, &["--known", "known.csv"]);
    expect("second night", &second, 0, &["4 known, not counted above", "3 items: 1 sound, 2 faulty"]);
    let json = read(&folder, "out/audit.json");
    let told = [
        json.clone(),
        read(&folder, "out/audit.csv"),
        read(&folder, "out/audit.sarif"),
        read(&folder, "out/junit.xml"),
        read(&folder, "out/audit.html"),
    ];
    expect(
        "the reports",
        &(Some(0), told.join("\n")),
        0,
        &[
            "\"findings\":{}",
            "\"mismatched-product\":1",
            "\"known\":\"found by the first audit, to be looked at\"",
            "(known: found by the first audit, to be looked at)",
            "\"suppressions\":[{\"kind\":\"external\",\"status\":\"accepted\",\"justification\":\"found by the first audit, to be looked at\"}]",
            "<skipped message=\"known: mismatched-product: found by the first audit, to be looked at\"/>",
            "Known: Found by the first audit, to be looked at.",
            "failures=\"0\" errors=\"0\" skipped=\"2\"",
        ],
    );
    write(&folder, "keyassay.toml", "known = \"known.csv\"\n");
    expect("by the profile", &audit(&folder, &[]), 0, &["4 known"]);
    let fault = BANK.replace("[OH:1][CH3:2].[Br-:3]", "[OH:1][CH3:2].[Br:3]");
    write(&folder, "bank.csv", &fault);
    expect("a new fault", &audit(&folder, &[]), 1, &["1  mismatched-product", "4 known"]);
    write(&folder, "bank.csv", &BANK.replace("4 -> 3", "2-3 -> 3"));
    expect(
        "mended",
        &audit(&folder, &[]),
        0,
        &["3 known", "known, and gone: hm3 unknown-atom (line 5): take the row out"],
    );
    write(&folder, "bank.csv", BANK);
    write(&folder, "old.csv", &list.replace("looked at\",\n", "looked at\",2001-01-31\n"));
    let expired = audit(&folder, &["--known", "old.csv"]);
    expect(
        "its day has passed",
        &expired,
        1,
        &["its day has passed: hm1 mismatched-product (line 2, until 2001-01-31)"],
    );
    write(&folder, "later.csv", &list.replace("looked at\",\n", "looked at\",9999-12-31\n"));
    let carried = audit(&folder, &["--known", "later.csv", "--write-known", "next.csv"]);
    expect("its day is to come", &carried, 0, &["4 known"]);
    expect("what is carried over", &(Some(0), read(&folder, "next.csv")), 0, &["9999-12-31"]);
    write(&folder, "wrong.csv", &list.replace("hm3,unknown-atom", "hm3,unknown-atmo"));
    let wrong = audit(&folder, &["--known", "wrong.csv"]);
    expect(
        "a wrong list",
        &wrong,
        2,
        &["error, wrong.csv:5:5", "there is no finding 'unknown-atmo'", "did you mean 'unknown-atom'?"],
    );
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn what_has_changed_since_is_told() {
    let folder = scratch("nights-since");
    write(&folder, "bank.csv", BANK);
    audit(&folder, &[]);
    std::fs::rename(folder.join("out"), folder.join("before")).expect("the folder can be moved");
    let mended = BANK.replace("4 -> 3", "2-3 -> 3").replace("[OH:1][CH3:2].[Br-:3]", "[OH:1][CH3:2].[Br:3]");
    write(&folder, "bank.csv", &mended.replace("hm1,", "new,C,,C\nhm1,"));
    let (_, said) = audit(&folder, &["--since", "before"]);
    let changes = read(&folder, "out/changes.csv");
    let rows: Vec<String> = changes.lines().map(|line| line.split(',').take(6).collect::<Vec<_>>().join(",")).collect();
    let expected = [
        "change,file,line,item,step,finding",
        "new,bank.csv,2,new,,missing-field",
        "new,bank.csv,4,hm2,,mismatched-product",
        "new,bank.csv,4,hm2,,unbalanced-charge",
        "gone,bank.csv,4,hm3,,unknown-atom",
    ];
    assert_eq!(rows, expected, "{said}");
    assert!(said.contains("since before: 3 new, 1 gone, 3 unchanged (changes.csv)"), "{said}");
    let (status, said) = audit(&folder, &["--since", "nowhere"]);
    assert!(status == Some(2) && said.contains("--since takes the folder of an earlier audit"), "{said}");
    write(&folder, "before/audit.json", "{\"totals\":{}}");
    let (status, said) = audit(&folder, &["--since", "before"]);
    assert!(
        status == Some(2) && said.contains("cannot compare with before/audit.json: missing field `findings`"),
        "{said}"
    );
}
