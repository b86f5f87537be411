//! Corrected copies of banks: only the corrected fields change, and the corrected faults are gone.

use super::audits::{Audit, audit, scratch};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn amend(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .current_dir(folder)
        .arg("amend")
        .args(arguments)
        .output()
        .expect("the program starts")
}

/// A bank, the grade from which it is corrected, and the bank as it should be then.
struct Case {
    name: &'static str,
    grade: &'static str,
    bank: &'static str,
    expected: &'static str,
}

const CASES: &[Case] = &[
    Case {
        name: "plain.csv",
        grade: "certain",
        bank: "id,start,arrows,answer\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br]\ny,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\n",
        expected: "id,start,arrows,answer\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\ny,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\n",
    },
    Case {
        name: "quoted-crlf-bom.csv",
        grade: "certain",
        bank: "\u{feff}\"id\";\"answer\";\"note; long\";start;arrows\r\n\"x\";\"CO.[Br]\";\"say \"\"so\"\"\";[OH-].CBr;\"1 -> 1-2; 2-3 -> 3\"\r\n\r\n",
        expected: "\u{feff}\"id\";\"answer\";\"note; long\";start;arrows\r\n\"x\";\"CO.[Br-]\";\"say \"\"so\"\"\";[OH-].CBr;\"1 -> 1-2; 2-3 -> 3\"\r\n\r\n",
    },
    Case {
        name: "old-mac.csv",
        grade: "certain",
        bank: "id,start,arrows,answer\rx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br]\ry,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\r",
        expected: "id,start,arrows,answer\rx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\ry,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\r",
    },
    Case {
        name: "blank-cells.csv",
        grade: "certain",
        bank: "id,arrows,start,note,answer\na,1 -> 1-2; 2-3 -> 3,[OH-].CBr,n,\nb,1 -> 1-2; 2-3 -> 3,[OH-].CBr,n,\"\"\nc,1 -> 1-2; 2-3 -> 3,[OH-].CBr",
        expected: "id,arrows,start,note,answer\na,1 -> 1-2; 2-3 -> 3,[OH-].CBr,n,OC.[Br-]\nb,1 -> 1-2; 2-3 -> 3,[OH-].CBr,n,\"OC.[Br-]\"\nc,1 -> 1-2; 2-3 -> 3,[OH-].CBr,,OC.[Br-]",
    },
    Case {
        name: "arrows.csv",
        grade: "likely",
        bank: "id;start;arrows;answer\nx;CC[CH-]C=O;2 -> 2-3;CCC=C[O-]\ny;CC[CH-]C=O;\"2 -> 2-3; 3-4 -> 4\";CCC=C[O-]\n",
        expected: "id;start;arrows;answer\nx;CC[CH-]C=O;2 -> 2-3;CCC=C[O-]\ny;CC[CH-]C=O;\"3 -> 3-4; 4-5 -> 5\";CCC=C[O-]\n",
    },
    Case {
        name: "steps.tsv",
        grade: "certain",
        bank: "id\tstep\tstart\tarrows\tanswer\ns\t1\tC[O-].CBr\t2 -> 2-3; 3-4 -> 4\tCOC.[Br]\ns\t2\tCC=O.[OH-]\t4 -> 2-4; 2-3 -> 3\tCC(O)[O]\n",
        expected: "id\tstep\tstart\tarrows\tanswer\ns\t1\tC[O-].CBr\t2 -> 2-3; 3-4 -> 4\tCOC.[Br-]\ns\t2\tCC=O.[OH-]\t4 -> 2-4; 2-3 -> 3\tCC(O)[O-]\n",
    },
    Case {
        name: "lines.jsonl",
        grade: "certain",
        bank: "{\"z\": 1.50, \"answer\" : \"CO.\\u005bBr]\",\t\"start\": \"[OH-].CBr\", \"arrows\": [\"1 -> 1-2\",\"2-3 -> 3\"], \"id\":\"x\", \"u\": \"\\u00e9\"}\r\n{\"id\": 7, \"start\": \"[OH-].CBr\", \"arrows\": \"1 -> 1-2; 2-3 -> 3\"}\r\n{ \"id\":\"n\",\"answer\":null , \"start\": \"[OH-].CBr\", \"arrows\": \"1 -> 1-2; 2-3 -> 3\"}",
        expected: "{\"z\": 1.50, \"answer\" : \"CO.[Br-]\",\t\"start\": \"[OH-].CBr\", \"arrows\": [\"1 -> 1-2\",\"2-3 -> 3\"], \"id\":\"x\", \"u\": \"\\u00e9\"}\r\n{\"id\": 7, \"start\": \"[OH-].CBr\", \"arrows\": \"1 -> 1-2; 2-3 -> 3\", \"answer\": \"OC.[Br-]\"}\r\n{ \"id\":\"n\",\"answer\":\"OC.[Br-]\" , \"start\": \"[OH-].CBr\", \"arrows\": \"1 -> 1-2; 2-3 -> 3\"}",
    },
    Case {
        name: "pretty.json",
        grade: "likely",
        bank: "[\n  {\n    \"id\": \"x\",\n    \"start\": \"CC[CH-]C=O\",\n    \"arrows\": [\n      \"2 -> 2-3\",\n      \"3-4 -> 4\"\n    ],\n    \"answer\": \"CCC=C[O-]\"\n  },\n  {\n    \"id\": \"y\",\n    \"steps\": [\n      {\n        \"start\": \"C[O-].CBr\",\n        \"arrows\": \"2 -> 2-3; 3-4 -> 4\"\n      }\n    ]\n  }\n]\n",
        expected: "[\n  {\n    \"id\": \"x\",\n    \"start\": \"CC[CH-]C=O\",\n    \"arrows\": [\n      \"3 -> 3-4\",\n      \"4-5 -> 5\"\n    ],\n    \"answer\": \"CCC=C[O-]\"\n  },\n  {\n    \"id\": \"y\",\n    \"steps\": [\n      {\n        \"start\": \"C[O-].CBr\",\n        \"arrows\": \"2 -> 2-3; 3-4 -> 4\",\n        \"answer\": \"COC.[Br-]\"\n      }\n    ]\n  }\n]\n",
    },
    Case {
        name: "lines.smi",
        grade: "certain",
        bank: "# a set\n[OH-].CBr>>CO.[Br]\t1 -> 1-2; 2-3 -> 3\tx\n[OH-].CBr>>\t1 -> 1-2; 2-3 -> 3\ty\n",
        expected: "# a set\n[OH-].CBr>>CO.[Br-]\t1 -> 1-2; 2-3 -> 3\tx\n[OH-].CBr>>OC.[Br-]\t1 -> 1-2; 2-3 -> 3\ty\n",
    },
    Case {
        name: "keys.csv",
        grade: "certain",
        bank: "id,start,arrows,option_a,option_b,key\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],C[O].[Br-],B\ny,[OH-].CBr,1 -> 1-2; 2-3 -> 3,C[O].[Br-],CO.[Br-],\n",
        expected: "id,start,arrows,option_a,option_b,key\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],C[O].[Br-],A\ny,[OH-].CBr,1 -> 1-2; 2-3 -> 3,C[O].[Br-],CO.[Br-],B\n",
    },
];

fn write(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).expect("the bank can be written");
    path
}

fn findings(audit: &Audit) -> Vec<String> {
    audit.rows.iter().map(|row| format!("{} {}", row.item, row.finding)).collect()
}

#[test]
fn only_the_corrected_fields_change() {
    let folder = scratch("amend-table");
    let mut failures = Vec::new();
    for case in CASES {
        write(&folder, case.name, case.bank);
        let before = audit(&folder, case.name, &folder.join("audit"));
        let output = amend(
            &folder,
            &[
                case.name,
                "--with",
                "audit/corrections.csv",
                "--grade",
                case.grade,
                "--out",
                &format!("new-{}", case.name),
            ],
        );
        let stderr = String::from_utf8_lossy(&output.stderr);
        let new = std::fs::read_to_string(folder.join(format!("new-{}", case.name))).unwrap_or_default();
        if new != case.expected {
            let corrections = std::fs::read_to_string(folder.join("audit/corrections.csv")).unwrap_or_default();
            let stdout = String::from_utf8_lossy(&output.stdout);
            failures.push(format!("{}:\n{new:?}\n{:?}\n{corrections}{stdout}{stderr}", case.name, case.expected));
        }
        let after = audit(&folder, &format!("new-{}", case.name), &folder.join("again"));
        let errors = ["mismatched-product", "missing-field", "keyed-option-wrong", "shifted-labels"];
        let left = |audit: &Audit| audit.rows.iter().filter(|row| errors.contains(&row.finding.as_str())).count();
        if left(&before) == 0 || left(&after) > 0 {
            failures.push(format!("{}: before {:?}, after {:?}", case.name, findings(&before), findings(&after)));
        }
        // The bank itself is as it was.
        if std::fs::read_to_string(folder.join(case.name)).unwrap_or_default() != case.bank {
            failures.push(format!("{}: the bank was changed", case.name));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn refuses_what_could_destroy() {
    let folder = scratch("amend-refusals");
    let bank = "id,start,arrows,answer\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br]\n";
    let path = write(&folder, "bank.csv", bank);
    audit(&folder, "bank.csv", &folder.join("audit"));
    let with = ["--with", "audit/corrections.csv"];
    let run = |more: &[&str]| {
        let output = amend(&folder, &[&["bank.csv"], &with[..], more].concat());
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let mut failures = Vec::new();
    let mut expect = |what: &str, (status, stderr): (Option<i32>, String), code: i32, says: &str| {
        if status != Some(code) || !stderr.contains(says) {
            failures.push(format!("{what}: {status:?} {stderr}"));
        }
    };
    expect("no destination", run(&[]), 2, "--out");
    expect("over itself", run(&["--out", "bank.csv"]), 2, "--in-place");
    expect("both", run(&["--out", "new.csv", "--in-place"]), 2, "--in-place");
    // The bank changed, and then its audit was lost.
    write(&folder, "bank.csv", &bank.replace("CBr", "CCBr"));
    expect("changed", run(&["--out", "new.csv"]), 2, "has changed since its audit");
    write(&folder, "bank.csv", bank);
    let marks = folder.join("audit/corrections.files.csv");
    std::fs::rename(&marks, folder.join("kept")).expect("it is there");
    expect("no marks", run(&["--out", "new.csv"]), 2, "--unchecked");
    write(&folder, "bank.csv", &bank.replace("CO.[Br]", "CO.[I]"));
    expect("says otherwise", run(&["--out", "new.csv", "--unchecked"]), 1, "");
    let unchanged = std::fs::read_to_string(folder.join("new.csv")).unwrap_or_default();
    assert_eq!(unchanged, bank.replace("CO.[Br]", "CO.[I]"));
    write(&folder, "bank.csv", bank);
    std::fs::rename(folder.join("kept"), &marks).expect("it is there");
    expect("in place", run(&["--in-place"]), 0, "");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert_eq!(std::fs::read_to_string(path).unwrap_or_default(), bank.replace("CO.[Br]", "CO.[Br-]"));
}

/// Rows that a spreadsheet did not write: a correction changes its own cell or none.
#[test]
fn broken_tables_are_corrected_in_place_or_not_at_all() {
    let folder = scratch("amend-broken");
    let head = "id,answer,note,start,arrows\n";
    let rest = "[OH-].CBr,1 -> 1-2; 2-3 -> 3\n";
    // Words and as many quotes behind a closing quote as the answer has characters: cells behind it stay where they are.
    let behind = format!("{head}\"x\"y{},CO.[Br],CO.[Br],{rest}", "\"".repeat(8));
    let within = format!("{head}x\"\"y,CO.[Br],5\" or 6\"\",{rest}z,CO.[Br-],,{rest}");
    let own = format!("{head}x,\"CO\".[Br],,{rest}");
    let cases = [
        ("behind", behind.as_str(), behind.replacen("CO.[Br]", "CO.[Br-]", 1), 0),
        ("within", within.as_str(), within.replacen("CO.[Br]", "CO.[Br-]", 1), 0),
        ("own", own.as_str(), own.clone(), 1),
    ];
    let mut failures = Vec::new();
    for (name, bank, expected, status) in cases {
        let path = format!("{name}.csv");
        write(&folder, &path, bank);
        let before = audit(&folder, &path, &folder.join("audit"));
        let output = amend(&folder, &[&path, "--with", "audit/corrections.csv", "--out", "new.csv"]);
        let new = std::fs::read_to_string(folder.join("new.csv")).unwrap_or_default();
        if new != expected || output.status.code() != Some(status) {
            failures.push(format!("{name}: {new:?}\n{output:?}\n{}", before.csv));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Lists of corrections that people have worked on: rows twice, rows for one place, text that would break the bank.
#[test]
fn corrections_that_do_not_fit_are_refused() {
    let folder = scratch("amend-lists");
    let bank =
        "id,start,arrows,answer,key\nx,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br]\ny,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\n";
    write(&folder, "bank.csv", bank);
    let cml = std::fs::read_to_string(super::audits::corpus().join("findings/mismatched-product/raises.cml"));
    write(&folder, "bank.cml", &cml.expect("the bank is there"));
    let head = "file,line,item,step,field,stated,proposed,grade,why\n";
    let twice = "bank.csv,2,x,,answer,CO.[Br],CO.[Br-],certain,\n";
    let key = "bank.csv,3,y,,key,,A,certain,\n";
    let mut failures = Vec::new();
    let mut expect = |name: &str, rows: &str, status: i32, says: &[&str], expected: Option<&str>| {
        write(&folder, "rows.csv", &format!("{head}{rows}"));
        let old = std::fs::read_to_string(folder.join(name)).unwrap_or_default();
        let output = amend(&folder, &[name, "--with", "rows.csv", "--unchecked", "--out", "new"]);
        let new = std::fs::read_to_string(folder.join("new")).unwrap_or_default();
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let says_all = says.iter().all(|words| said.contains(words));
        if new != expected.unwrap_or(&old) || output.status.code() != Some(status) || !says_all {
            failures.push(format!("{rows}: {new:?}\n{output:?}"));
        }
    };
    let once = bank.replacen("[Br]", "[Br-]", 1);
    expect("bank.csv", twice, 0, &["1 correction written"], Some(&once));
    expect("bank.csv", &twice.repeat(2), 1, &["1 correction written", "at the same place"], Some(&once));
    // Answer and key of a row that ends before both would stand at its end.
    let short = bank.replace(",CO.[Br]", "");
    write(&folder, "short.csv", &short);
    let both = "short.csv,2,x,,answer,,CO.[Br-],certain,\nshort.csv,2,x,,key,,A,certain,\n";
    expect("short.csv", both, 1, &["1 correction written"], Some(&short.replacen("3\n", "3,CO.[Br-]\n", 1)));
    expect("bank.csv", key, 0, &["1 correction written"], Some(&bank.replace("[Br-]\n", "[Br-],A\n")));
    // Markup that ends the element too early: the document could not be read any more.
    let stated = std::fs::read_to_string(folder.join("bank.cml")).unwrap_or_default();
    let stated = stated.split_once("<productList>").and_then(|(_, rest)| rest.split_once("</productList>"));
    let stated = stated.map_or("", |(products, _)| products).replace('"', "\"\"");
    let broken = format!("bank.cml,3,x1,,answer,\"{stated}\",</productList></reaction>,certain,\n");
    expect("bank.cml", &broken, 1, &["0 corrections written", "would be read otherwise"], None);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn documents_are_corrected_within_their_elements() {
    let folder = scratch("amend-cml");
    let bank = std::fs::read_to_string(super::audits::corpus().join("findings/mismatched-product/raises.cml"));
    let bank = bank.expect("the bank is there");
    write(&folder, "bank.cml", &bank);
    audit(&folder, "bank.cml", &folder.join("audit"));
    let output = amend(&folder, &["bank.cml", "--with", "audit/corrections.csv", "--out", "new.cml"]);
    let new = std::fs::read_to_string(folder.join("new.cml")).unwrap_or_default();
    let (before, after) = bank.split_once("<productList>").expect("it has products");
    let plain = "<atom id=\"o3\" elementType=\"O\" hydrogenCount=\"0\"/>";
    let charged = "<atom id=\"o3\" elementType=\"O\" formalCharge=\"-1\" hydrogenCount=\"0\"/>";
    assert_eq!(new, format!("{before}<productList>{}", after.replace(plain, charged)), "{output:?}");
    let again = audit(&folder, "new.cml", &folder.join("again"));
    assert_eq!(again.total("sound"), again.total("items"), "{}", again.csv);
}

#[test]
fn a_molecule_in_a_cell_is_corrected_as_a_molecule() {
    let folder = scratch("amend-cell");
    let atoms = |charge: &str| {
        format!(
            "<atomArray><atom id='o1' elementType='O'{charge} hydrogenCount='1'/><atom id='c2' elementType='C' \
             hydrogenCount='2'/><atom id='o3' elementType='O' hydrogenCount='0'/></atomArray>"
        )
    };
    let start = format!(
        "<molecule>{}<bondArray><bond atomRefs2='c2 o3' order='2'/></bondArray></molecule>",
        atoms(" formalCharge='-1'")
    );
    let answer = format!(
        "<molecule>{}<bondArray><bond atomRefs2='o1 c2' order='1'/><bond atomRefs2='c2 o3' order='1'/></bondArray></molecule>",
        atoms("")
    );
    let bank = format!("id,start,arrows,answer\nx,{start},o1 -> o1-c2; c2-o3 -> o3,{answer}\n");
    write(&folder, "bank.csv", &bank);
    let before = audit(&folder, "bank.csv", &folder.join("audit"));
    let output = amend(&folder, &["bank.csv", "--with", "audit/corrections.csv", "--out", "new.csv"]);
    let new = std::fs::read_to_string(folder.join("new.csv")).unwrap_or_default();
    let after = audit(&folder, "new.csv", &folder.join("again"));
    assert!(before.raises("mismatched-product"), "{}", before.csv);
    assert_eq!(after.total("sound"), 1, "{output:?}\n{new}\n{}", after.csv);
    assert!(new.starts_with(&bank[..bank.len() - answer.len() - 1]), "{new}");
}
