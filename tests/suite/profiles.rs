//! Profiles: what they set takes effect everywhere, and what they cannot set is refused at its place.

use super::audits::{self, scratch};
use std::path::Path;

/// Status, standard output and standard error.
fn run(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = audits::run(folder, arguments);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

fn write(folder: &Path, name: &str, text: &str) {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().expect("it lies in a folder")).expect("the folder can be made");
    std::fs::write(path, text).expect("the file can be written");
}

const AUDIT: [&str; 5] = ["audit", "--write", "csv", "--out", "out"];

fn findings(folder: &Path, arguments: &[&str]) -> String {
    let (_, out, err) = run(folder, &[&AUDIT, arguments].concat());
    std::fs::read_to_string(folder.join("out/audit.csv")).unwrap_or_default() + &out + &err
}

/// A row in other people's columns, whose start has a five-valent nitrogen's worth of trouble under no rule.
const ROW: &str =
    "nr,Edukt,Pfeile,Produkt,answer\n1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][OH:3],see sheet\n";
const COLUMNS: &str =
    "[columns]\nid = \"nr\"\nstart = \"Edukt\"\narrows = [\"Pfeile\", \"arrows\"]\nanswer = \"Produkt\"\n";

#[test]
fn a_misspelt_key_is_named_with_its_line_and_the_nearest_right_one() {
    let folder = scratch("profiles-misspelt");
    write(&folder, "bank.csv", ROW);
    write(&folder, "keyassay.toml", "# sets of 2009\ntask = \"step\"\noctett = \"strict\"\n");
    let (status, _, err) = run(&folder, &["audit", "bank.csv", "--out", "out"]);
    let expected = "error, keyassay.toml:3:1\n  there is no key 'octett'\n      octett = \"strict\"\n      ^^^^^^\n  did you mean 'octet'?\n";
    assert_eq!((status, err.as_str()), (Some(2), expected));
    assert!(!folder.join("out").exists(), "nothing is written under a refused profile");
}

type Effect = (&'static str, &'static [&'static str], &'static [&'static str], &'static [&'static str]);

/// Profile, arguments, what the findings and the summary hold, what they do not.
const EFFECTS: &[Effect] = &[
    (
        COLUMNS,
        &["bank"],
        &["2 items", "a.csv,2,1,,error,mismatched-product", "Profile: bank/keyassay.toml"],
        &["unreadable-"],
    ),
    (
        "files = \"2009/\"\n[columns]\nid = \"nr\"\nstart = \"edukt\"\narrows = \"pfeile\"\nanswer = \"produkt\"\n",
        &["bank"],
        &["1 item:", "1 file is left out: by the profile"],
        &[],
    ),
    (
        "files = [\"!drafts\"]\n",
        &["bank", "--explain-profile"],
        &["files = [\"!drafts\"]", "bank/keyassay.toml:1"],
        &[],
    ),
    (
        "octet = \"strict\"\n",
        &["bank", "--explain-profile", "--octet", "usual"],
        &["octet = \"usual\"", "--octet"],
        &[],
    ),
    ("octet = \"strict\"\n", &["plain.csv", "--profile", "bank/keyassay.toml"], &["hypervalent-atom"], &[]),
    (
        "octet = \"strict\"\n",
        &["plain.csv", "--profile", "bank/keyassay.toml", "--octet", "usual"],
        &["1 sound"],
        &["hypervalent"],
    ),
    ("octet = \"strict\"\n", &["plain.csv"], &["1 sound"], &["Profile"]),
    ("task = \"resonance\"\n", &["long.csv", "--profile", "bank/keyassay.toml"], &["1 sound"], &[]),
    (
        "[severity]\nmismatched-product = \"note\"\nunbalanced-charge = \"warning\"\nunbalanced-atoms = \"note\"\n[columns]\nid = \"nr\"\nstart = \"edukt\"\narrows = \"pfeile\"\nanswer = \"produkt\"\n",
        &["bank/2009"],
        &["1 sound", "1 with warnings", "note,mismatched-product", "warning,unbalanced-charge"],
        &["error,"],
    ),
    (
        "[limits]\natoms = 2\n",
        &["long.csv", "--profile", "bank/keyassay.toml"],
        &["unreadable-structure", "limit of 2 atoms"],
        &[],
    ),
    ("[limits]\nbonds = 1\n", &["long.csv", "--profile", "bank/keyassay.toml"], &["limit of 1 bonds"], &[]),
    (
        "[limits]\narrows = 1\n",
        &["long.csv", "--profile", "bank/keyassay.toml"],
        &["the field passes the limit of 1 arrows"],
        &[],
    ),
    (
        "[limits]\nfield-bytes = 5\n",
        &["long.csv", "--profile", "bank/keyassay.toml"],
        &["passes the limit of 5 bytes"],
        &[],
    ),
    (
        "[limits]\nrecord-bytes = 40\n",
        &["long.csv", "--profile", "bank/keyassay.toml"],
        &["passes the limit of 40 bytes"],
        &[],
    ),
    (
        "[limits]\nfile-bytes = 40\n",
        &["long.csv", "--profile", "bank/keyassay.toml"],
        &["limit `file-bytes` of 40"],
        &[],
    ),
    (
        "[limits]\nsteps = 1\n",
        &["../steps.csv", "--profile", "keyassay.toml"],
        &["2 steps and passes the limit of 1"],
        &[],
    ),
    ("encoding = \"windows-1252\"\n", &["old.csv", "--profile", "bank/keyassay.toml"], &["1 sound"], &["unreadable-"]),
    (
        "[encodings]\n\"*.csv\" = \"utf-8\"\n\"old.csv\" = \"latin-1\"\n",
        &["old.csv", "--profile", "keyassay.toml"],
        &["1 sound"],
        &["unreadable-"],
    ),
];

#[test]
fn profiles_take_effect() {
    let folder = scratch("profiles-effect");
    write(&folder, "bank/2009/a.csv", ROW);
    write(&folder, "bank/drafts/b.csv", &ROW.replace("\n1,", "\n2,"));
    write(&folder, "plain.csv", "id,start,arrows,answer\ns1,C[S:1](=[O:2])(C)=O,1-2 -> 2,C[S+:1]([O-:2])(C)=O\n");
    write(
        &folder,
        "long.csv",
        "id,start,arrows,answer\nl1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]\n",
    );
    let steps = "id,step,start,arrows,answer\nt,1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]\nt,2,,3 -> 3-2; 1-2 -> 1,[CH2-:1][CH:2]=[O:3]\n";
    write(&folder, "steps.csv", steps);
    let old: Vec<u8> = "id,start,arrows,answer\n\u{e9},[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]\n"
        .chars()
        .map(|own| own as u8)
        .collect();
    std::fs::write(folder.join("old.csv"), &old).expect("the file can be written");
    std::fs::write(folder.join("bank/old.csv.kept"), &old).expect("the file can be written");
    let mut failures = Vec::new();
    for (profile, arguments, holds, lacks) in EFFECTS {
        write(&folder, "bank/keyassay.toml", profile);
        // Where the profile is named without its folder, the audit runs in that folder.
        let inside = arguments.contains(&"keyassay.toml");
        let here = if inside { folder.join("bank") } else { folder.clone() };
        if inside {
            std::fs::copy(folder.join("bank/old.csv.kept"), folder.join("bank/old.csv"))
                .expect("the file can be copied");
        }
        let found = findings(&here, arguments);
        let _ = std::fs::remove_file(folder.join("bank/old.csv"));
        let missing = holds.iter().filter(|word| !found.contains(**word));
        let extra = lacks.iter().filter(|word| found.contains(**word));
        failures.extend(missing.map(|word| format!("{profile}{arguments:?}: expected {word}\n{found}")));
        failures.extend(extra.map(|word| format!("{profile}{arguments:?}: expected no {word}\n{found}")));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn other_commands_read_banks_as_the_audit_does() {
    let folder = scratch("profiles-commands");
    write(&folder, "bank.csv", ROW);
    write(&folder, "keyassay.toml", COLUMNS);
    findings(&folder, &["bank.csv"]);
    let mut failures = Vec::new();
    let (_, out, err) =
        run(&folder, &["amend", "bank.csv", "--with", "out/corrections.csv", "--grade", "likely", "--out", "copy.csv"]);
    let copy = std::fs::read_to_string(folder.join("copy.csv")).unwrap_or_default();
    if copy != ROW.replace("[OH:3]", "[O-:3]") {
        failures.push(format!("amend: {out}{err}{copy}"));
    }
    let (_, out, err) = run(&folder, &["convert", "bank.csv", "--to", "jsonl", "--out", "bank.jsonl"]);
    let lines = std::fs::read_to_string(folder.join("bank.jsonl")).unwrap_or_default();
    if !(lines.contains("\"start\":\"[CH2-:1][CH:2]=[O:3]\"") && lines.contains("see sheet")) {
        failures.push(format!("convert: {out}{err}{lines}"));
    }
    let limited = "octet = \"strict\"\n[limits]\natoms = 2\nsearch-steps = 1\ncontributors = 1\n";
    write(&folder, "small.toml", limited);
    let commands: [(&[&str], &str); 6] = [
        (&["push", "CCC", "1-2 -> 2", "--profile", "small.toml"], "limit of 2 atoms"),
        (&["draw", "CCC", "--profile", "small.toml"], "limit of 2 atoms"),
        (&["infer", "CCC", "CCC", "--profile", "small.toml"], "limit of 2 atoms"),
        (&["contributors", "CCC", "--profile", "small.toml"], "limit of 2 atoms"),
        (&["contributors", "C=O", "--all", "--profile", "small.toml"], "the search met its limit"),
        (&["push", "O=[S:1]=[O:2]", "1-2 -> 2", "--octet", "strict"], "10 electrons"),
    ];
    for (arguments, expected) in commands {
        let (_, out, err) = run(&folder, arguments);
        let said = format!("{out}{err}").split_whitespace().collect::<Vec<_>>().join(" ");
        if !said.contains(expected) {
            failures.push(format!("{arguments:?}: {out}{err}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn banks_under_two_profiles_are_not_mixed() {
    let folder = scratch("profiles-two");
    write(&folder, "one/a.csv", ROW);
    write(&folder, "one/keyassay.toml", COLUMNS);
    write(&folder, "two/b.csv", ROW);
    let (status, _, err) = run(&folder, &["audit", "one", "two", "--out", "out"]);
    assert!(status == Some(2) && err.contains("audit them apart, or give --profile"), "{status:?} {err}");
}

/// Tables of other things that lie beside banks: what an audit of the folder says, and whether it ends well.
#[test]
fn tables_of_other_things_are_passed_over_and_named() {
    let sound = "id,start,arrows,answer\n1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]\n";
    let passed = "passed over: bank/other.csv: its header names the columns";
    let cases = [
        ("no profile", "id,name,key\n1,Ada,2\n", "", Some(0), passed),
        ("a bank that lost its start", "id,arrows,answer\n1,1 -> 2,C\n", "", Some(1), "not read: bank/other.csv"),
        ("names that a profile maps", "nr,Edukt,Pfeile,Produkt\n", COLUMNS, Some(0), ""),
        ("names that no profile maps", "nr,Edukt,Pfeile,Produkt\n", "", Some(0), passed),
    ];
    let mut failures = Vec::new();
    for (at, (case, other, profile, wanted, said)) in cases.into_iter().enumerate() {
        let folder = scratch(&format!("profiles-other-{at}"));
        let mapped = sound.replace("id,start,arrows,answer", "nr,Edukt,Pfeile,Produkt");
        write(&folder, "bank/sound.csv", if profile.is_empty() { sound } else { &mapped });
        write(&folder, "bank/other.csv", other);
        if !profile.is_empty() {
            write(&folder, "keyassay.toml", profile);
        }
        let (status, out, err) = run(&folder, &[&AUDIT[..], &["bank"]].concat());
        let all = out.clone() + &err;
        let is_counted = out.contains("no bank and was passed over") == (said == passed);
        if status != wanted || !all.contains(said) || all.contains("passed over: ") != (said == passed) || !is_counted {
            failures.push(format!("{case}: {status:?}\n{all}"));
        }
    }
    // Named itself, it is said to be no bank.
    let folder = scratch("profiles-other-named");
    write(&folder, "other.csv", "id,name\n1,Ada\n");
    let (status, out, err) = run(&folder, &[&AUDIT[..], &["other.csv"]].concat());
    if status != Some(2) || !err.contains("is no bank: its header names the columns 'id', 'name'") {
        failures.push(format!("named itself: {status:?}\n{out}{err}"));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Items whose fields have other names: they are named once an item, and not where nothing is missing.
#[test]
fn other_names_of_fields_are_told_where_a_field_is_missing() {
    let hint = "which name no field: a profile can map other names";
    let full =
        "\"start\": \"[CH2-:1][CH:2]=[O:3]\", \"arrows\": \"1 -> 1-2; 2-3 -> 3\", \"answer\": \"[CH2:1]=[CH:2][O-:3]\"";
    let cases = [
        (
            "{\"id\": 1, \"begin\": \"C\", \"moves\": \"1 -> 2\"}".to_owned(),
            "; it has 'begin', 'moves', which name no",
            1,
        ),
        (format!("{{\"id\": 1, \"level\": 3, {full}}}"), "", 0),
        ("{\"id\": 1, \"start\": \"C\", \"answer\": \"C\"}".to_owned(), "the item has no arrows", 0),
    ];
    let mut failures = Vec::new();
    for (at, (line, holds, count)) in cases.into_iter().enumerate() {
        let folder = scratch(&format!("profiles-names-{at}"));
        write(&folder, "bank.jsonl", &(line.clone() + "\n"));
        let found = findings(&folder, &["bank.jsonl", "--quiet"]);
        if !found.contains(holds) || found.matches(hint).count() != count {
            failures.push(format!("{line}\n{found}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
