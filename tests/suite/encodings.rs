//! One bank in the encodings, line ends and separators of fifteen years of spreadsheets: one audit.

use super::audits::{run, scratch};
use keyassay::source::Encoding;
use std::path::Path;

/// A bank as a department of Harrow Mere College kept it: a quoted line break, typographic dashes, empty columns at the end.
const BANK: &str = "id,start,arrows,answer,prompt,,\n\
    e1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2\u{2013}3 -> 3,[CH2:1]=[CH:2][O-:3],\"Caf\u{e9}:\nwhere does the charge go?\",,\n\
    e2,[CH2-:1][CH:2]=[O:3],1 -> 1-2;\u{a0}2-3 -> 3,[CH2:1]=[CH:2][OH:3],na\u{ef}ve answer,,\n\
    e3,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br:3],f\u{fc}r 5 \u{b5}l,,\n\
    e4,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2#3 -> 3,[CH2:1]=[CH:2][O-:3],\u{a7} 4,,\n";

fn audited(folder: &Path, file: &str, encoding: &[&str]) -> String {
    let arguments = [&["audit", file, "--write", "csv,json", "--out", "out", "--quiet"], encoding].concat();
    let output = run(folder, &arguments);
    let csv = std::fs::read_to_string(folder.join("out/audit.csv")).unwrap_or_default();
    without_columns(&csv.replace(file, "BANK")) + &String::from_utf8_lossy(&output.stderr)
}

/// A quoted cell and an arrow of two characters move what follows them: columns are those of the file.
fn without_columns(text: &str) -> String {
    let mut parts = text.split(", column ");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        out.push_str(part.trim_start_matches(|c: char| c.is_ascii_digit()));
    }
    out
}

/// The bank with other separators, its cells quoted where they hold one.
fn separated(by: char) -> String {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(BANK.as_bytes());
    let mut writer = csv::WriterBuilder::new().delimiter(by as u8).from_writer(Vec::new());
    reader.records().flatten().for_each(|row| writer.write_record(&row).expect("a row can be written"));
    String::from_utf8(writer.into_inner().expect("memory takes everything")).expect("it is text")
}

/// The forms of the bank: name, bytes, and what has to be said of them.
fn forms() -> Vec<(&'static str, Vec<u8>, Vec<&'static str>)> {
    let marked =
        |encoding: Encoding, text: &str| encoding.encode(&format!("\u{feff}{text}")).expect("it can be encoded");
    let plain = |encoding: Encoding, text: &str| encoding.encode(text).expect("it can be encoded");
    let (semicolons, tabs) = (separated(';'), separated('\t'));
    // Latin-1 has no typographic dash.
    vec![
        ("utf-8-marked.csv", marked(Encoding::Utf8, BANK), vec![]),
        ("utf-16.csv", marked(Encoding::Utf16Le, BANK), vec![]),
        ("utf-16-big.csv", marked(Encoding::Utf16Be, &tabs), vec![]),
        ("utf-16-bare.csv", plain(Encoding::Utf16Le, BANK), vec!["--encoding", "utf-16le"]),
        ("windows.csv", plain(Encoding::Windows1252, &semicolons), vec!["--encoding", "windows-1252"]),
        (
            "windows-crlf.csv",
            plain(Encoding::Windows1252, &semicolons.replace('\n', "\r\n")),
            vec!["--encoding", "CP1252"],
        ),
        ("mac.csv", BANK.replace('\n', "\r").into_bytes(), vec![]),
        ("dos.csv", BANK.replace('\n', "\r\n").into_bytes(), vec![]),
        ("tabs.csv", tabs.clone().into_bytes(), vec![]),
        ("tabs.tsv", tabs.into_bytes(), vec![]),
    ]
}

#[test]
fn one_bank_in_many_encodings_is_one_audit() {
    let folder = scratch("encodings");
    std::fs::write(folder.join("bank.csv"), BANK).expect("the bank can be written");
    let expected = audited(&folder, "bank.csv", &[]);
    let mut failures = Vec::new();
    for word in ["BANK,4,e2", "BANK,5,e3", "BANK,6,e4,,error,unreadable-arrows"] {
        if !expected.contains(word) {
            failures.push(format!("the audit has no {word}:\n{expected}"));
        }
    }
    for (name, bytes, encoding) in forms() {
        std::fs::write(folder.join(name), bytes).expect("the bank can be written");
        let found = audited(&folder, name, &encoding);
        if found != expected {
            failures.push(format!("{name}:\n{found}"));
        }
        let json = std::fs::read_to_string(folder.join("out/audit.json")).unwrap_or_default();
        if !(json.contains("U+2013") && json.contains("U+00A0")) {
            failures.push(format!("{name}: what was normalised is not told: {json}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn a_declared_encoding_that_can_hardly_be_meant_is_doubted() {
    let folder = scratch("encodings-doubted");
    let plain: String = BANK.chars().filter(char::is_ascii).collect();
    let windows = Encoding::Windows1252.encode(BANK).expect("it can be encoded");
    // A character that two pieces of the file share.
    let long =
        format!("id,start,arrows,answer,prompt\n{}", "x,C,,C,\n".repeat(8_192)).replacen("prompt", "promp\u{e9}", 1);
    let padded = format!("{}\u{e9}\n", "a".repeat((1 << 16) - 1));
    let cases: [(&str, Vec<u8>, &str, Option<&str>); 9] = [
        ("utf-8.csv", BANK.as_bytes().to_vec(), "windows-1252", Some("first beyond ASCII on line 2")),
        ("utf-8-latin.csv", BANK.as_bytes().to_vec(), "latin-1", Some("read as Latin-1")),
        ("long.csv", long.into_bytes(), "windows-1252", Some("on line 1")),
        ("cut.csv", padded.clone().into_bytes(), "windows-1252", Some("on line 1")),
        ("half.csv", padded.as_bytes()[..1 << 16].to_vec(), "windows-1252", None),
        ("ascii.csv", plain.into_bytes(), "windows-1252", None),
        ("windows.csv", windows, "windows-1252", None),
        ("marked.csv", format!("\u{feff}{BANK}").into_bytes(), "windows-1252", None),
        ("right.csv", BANK.as_bytes().to_vec(), "utf-8", None),
    ];
    let mut failures = Vec::new();
    for (name, bytes, encoding, says) in cases {
        std::fs::write(folder.join(name), bytes).expect("the bank can be written");
        let output = run(&folder, &["audit", name, "--write", "csv", "--out", "out", "--encoding", encoding]);
        let said = String::from_utf8_lossy(&output.stderr);
        let doubt = said.lines().find(|line| line.contains("as was declared"));
        let holds = match says {
            Some(words) => doubt.is_some_and(|line| line.contains(words) && line.contains(encoding)),
            None => doubt.is_none(),
        };
        if !holds {
            failures.push(format!("{name}: {said}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Every command that reads a bank says so, not only the audit; and none where nothing is to be doubted.
#[test]
fn every_command_doubts_a_declared_encoding() {
    let folder = scratch("encodings-doubted-everywhere");
    let windows = Encoding::Windows1252.encode(BANK).expect("it can be encoded");
    std::fs::write(folder.join("utf-8.csv"), BANK).expect("the bank can be written");
    std::fs::write(folder.join("windows.csv"), windows).expect("the bank can be written");
    let mut failures = Vec::new();
    for (name, is_doubted) in [("utf-8.csv", true), ("windows.csv", false)] {
        audited(&folder, name, &["--encoding", "windows-1252"]);
        let commands: [&[&str]; 5] = [
            &["convert", name, "--to", "jsonl", "--out", "converted.jsonl"],
            &["amend", name, "--with", "out/corrections.csv", "--out", "copy.csv"],
            &["survey", name, "--out", "survey"],
            &["answers", name, "--out", "answers"],
            &["compare", name, "--with", name, "--out", "compare"],
        ];
        for command in commands {
            let output = run(&folder, &[command, &["--encoding", "windows-1252"]].concat());
            let said = String::from_utf8_lossy(&output.stderr);
            if output.status.code() == Some(2) || said.contains("as was declared") != is_doubted {
                failures.push(format!("{} {name}: {said}", command[0]));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn amended_copies_keep_their_encoding() {
    let folder = scratch("encodings-amended");
    let mut failures = Vec::new();
    let mut all = forms();
    all.push(("bank.csv", BANK.as_bytes().to_vec(), vec![]));
    for (name, bytes, encoding) in all {
        std::fs::write(folder.join(name), &bytes).expect("the bank can be written");
        audited(&folder, name, &encoding);
        let arguments =
            [&["amend", name, "--with", "out/corrections.csv", "--grade", "likely", "--out", "copy"], &encoding[..]]
                .concat();
        let output = run(&folder, &arguments);
        let said = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
        if !said.starts_with("2 corrections written") {
            failures.push(format!("{name}: {said}"));
            continue;
        }
        let copy = std::fs::read(folder.join("copy")).unwrap_or_default();
        let encoding =
            keyassay::source::encoding::settle(&bytes, encoding.get(1).and_then(|own| Encoding::from_name(own)));
        let encoding = encoding.expect("the encoding is known");
        let text =
            |bytes: &[u8]| String::from_utf8(keyassay::source::encoding::decode(bytes, encoding)).unwrap_or_default();
        let expected = text(&bytes).replace("[CH2:1]=[CH:2][OH:3]", "[CH2:1]=[CH:2][O-:3]");
        let expected = expected.replace("[OH:1][CH3:2].[Br:3]", "[OH:1][CH3:2].[Br-:3]");
        if text(&copy) != expected {
            failures.push(format!("{name}: {}", text(&copy)));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn bytes_of_another_encoding_are_findings_at_their_place() {
    let folder = scratch("encodings-bad");
    let latin = |text: &str| text.chars().map(|own| own as u8).collect::<Vec<u8>>();
    let row = "b1,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]";
    let rows =
        latin(&format!("id,start,arrows,answer,prompt\n{row},Caf\u{e9} \u{fc}\n{},plain\n", row.replace("b1", "b2")));
    let object = "{\"id\":\"b1\",\"start\":\"C\",\"arrows\":\"1 -> 2\",\"answer\":\"C\",\"prompt\":\"\u{e9}\"}\n";
    let reaction = "[CH2-:1][CH:2]=[O:3]>>[CH2:1]=[CH:2][O-:3]\t1 -> 1-2; 2-3 -> 3\tb\u{e9}\n";
    let damaged = [
        &b"\xff\xfe"[..],
        &Encoding::Utf16Le.encode(&format!("id,start,arrows,answer\n{row}")).unwrap()[..],
        b"\x00\xd8",
    ]
    .concat();
    let cases: [(&str, Vec<u8>, &[&str], &str); 9] = [
        (
            "rows.csv",
            rows.clone(),
            &[],
            "rows.csv,2,b1,,error,unreadable-record,,,,\"the byte 0xE9 is not UTF-8 (in Windows-1252 it would be '\u{e9}')",
        ),
        ("rows.csv", rows, &[], "(2 such bytes in this record)"),
        ("object.jsonl", latin(object), &[], "object.jsonl,1,b1,,error,unreadable-record,,,,\"the byte 0xE9"),
        (
            "array.json",
            latin(&format!("[{object}]")),
            &[],
            "array.json,1,b1,,error,unreadable-record,,,,\"the byte 0xE9",
        ),
        ("reaction.smi", latin(reaction), &[], "reaction.smi:1,,error,unreadable-record,,,,\"the byte 0xE9"),
        (
            "named.csv",
            b"id,start,arrows,answer\nb\x81,C,1 -> 2,C\n".to_vec(),
            &["--encoding", "windows-1252"],
            "the byte 0x81 stands for no character in Windows-1252",
        ),
        (
            "latin.csv",
            b"id,start,arrows,answer\nb\x80,C,1 -> 2,C\n".to_vec(),
            &["--encoding", "latin-1"],
            "stands for no character in Latin-1: try windows-1252",
        ),
        ("damaged.csv", damaged, &[], "half a character of UTF-16"),
        ("minus.csv", "id,start,arrows,answer\nb,[CH3\u{2212}],1 -> 2,C\n".into(), &[], "U+2212: write '-'"),
    ];
    let mut failures = Vec::new();
    for (name, bytes, encoding, expected) in cases {
        std::fs::write(folder.join(name), bytes).expect("the bank can be written");
        let found = audited(&folder, name, encoding).replace("BANK", name);
        if !found.contains(expected) {
            failures.push(format!("{name}: expected {expected}\n{found}"));
        }
    }
    let refused: [(&str, &[u8], &str); 2] = [
        ("header.csv", b"id,Gr\xfc\xdfe,start,answer\n", "in its header row the byte 0xFC is not UTF-8"),
        ("bare.csv", b"i\0d\0,\0s\0t\0a\0r\0t\0", "looks like UTF-16 without a byte order mark: name its encoding"),
    ];
    for (name, bytes, expected) in refused {
        std::fs::write(folder.join(name), bytes).expect("the bank can be written");
        let found = audited(&folder, name, &[]);
        if !found.contains(expected) {
            failures.push(format!("{name}: expected {expected}\n{found}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn a_document_is_decoded_as_it_declares() {
    let folder = scratch("encodings-cml");
    let body = std::fs::read_to_string(super::audits::corpus().join("demonstration/carbonyls.cml"))
        .expect("the bank is there");
    let body = body.split_once("?>").map_or(body.as_str(), |(_, body)| body).replacen("title=\"", "title=\"\u{e9} ", 1);
    std::fs::write(folder.join("a.cml"), format!("<?xml version=\"1.0\"?>{body}")).expect("the bank can be written");
    let expected = audited(&folder, "a.cml", &[]);
    let latin = format!("<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?>{body}");
    let latin = Encoding::Latin1.encode(&latin).expect("it can be encoded");
    let wide = Encoding::Utf16Le.encode(&format!("\u{feff}<?xml version=\"1.0\" encoding=\"UTF-16\"?>{body}"));
    let mut failures = Vec::new();
    for (name, bytes) in [("b.cml", latin), ("c.cml", wide.expect("it can be encoded"))] {
        std::fs::write(folder.join(name), bytes).expect("the bank can be written");
        let found = audited(&folder, name, &[]);
        if found != expected {
            failures.push(format!("{name}:\n{found}\nexpected\n{expected}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Rows round the questions: what stands in a table, and what is told of it: items, rows without a question and their lines.
const AROUND: [(&str, &str, &str); 9] = [
    (
        "titles",
        "Harrow Mere\nSets 3 and 4,,\n\nID,start,arrows,answer\nq1,C=O,1-2 -> 2,[CH2+][O-]\n",
        "1 items, 2: 1-2",
    ),
    ("separator", "sep=|\nid|start|arrows|answer\nq1|C=O|1-2 -> 2|[CH2+][O-]\n", "1 items, 0: "),
    ("quoted-separator", "\"sep=;\"\r\nid;start;arrows;answer\r\nq1;C=O;1-2 -> 2;[CH2+][O-]\r\n", "1 items, 0: "),
    (
        "categories",
        "id,start,arrows,answer\nAldehydes,,,\nq1,C=O,1-2 -> 2,[CH2+][O-]\n,,,\nTotal,,,1\n",
        "1 items, 3: 2, 4-5",
    ),
    (
        "quoted",
        "id,start,arrows,answer\n\"Ald, Ket\",,,\nq1,\"C=O\",1-2 -> 2,[CH2+][O-]\n\"\",\"\",\"\",\"\"\n",
        "1 items, 2: 2, 4",
    ),
    ("forgotten", "id,task,start,arrows,answer\nq1,step,,,\nq2,,,,\n,step,,,\n", "1 items, 2: 3-4"),
    ("header-again", "id,start,arrows,answer\nq1,C=O,1-2 -> 2,[CH2+][O-]\nId,Start,Arrows,Answer\n", "1 items, 1: 3"),
    (
        "steps",
        "id,step,start,arrows,answer\nKetones,,,,\nq1,1,C=O,1-2 -> 2,[CH2+][O-]\nq1,2,,1 -> 1-2,\n,,,,\n",
        "1 items, 2: 2, 5",
    ),
    ("late", "a\na\na\na\na\na\na\na\na\na\na\na\na\na\na\na\na\na\na\na\nid,start,answer\nq,C,C\n", "no bank"),
];

#[test]
fn rows_without_a_question_are_counted_and_listed() {
    let folder = scratch("around");
    let mut failures = Vec::new();
    for (name, text, expected) in AROUND {
        std::fs::write(folder.join("bank.csv"), text).expect("the bank can be written");
        let output = run(&folder, &["audit", "bank.csv", "--write", "json,html", "--out", name]);
        let json = std::fs::read_to_string(folder.join(name).join("audit.json")).unwrap_or_default();
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        let value: serde_json::Value = serde_json::from_str(&json).unwrap_or_default();
        let rows = value["totals"]["without-question"].as_u64().unwrap_or(0);
        let lines = value["without-question"][0]["lines"].as_str().unwrap_or_default();
        let found = match value["totals"]["items"].as_u64() {
            Some(0) | None => "no bank".to_owned(),
            Some(items) => format!("{items} items, {rows}: {lines}"),
        };
        let page = std::fs::read_to_string(folder.join(name).join("audit.html")).unwrap_or_default();
        let is_told = rows == 0 || (told.contains(&format!(" {lines})")) && page.contains(&format!(" {lines})")));
        if found != expected || !is_told {
            failures.push(format!("{name}: {found}, expected {expected}\n{told}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn an_empty_file_is_called_empty() {
    let folder = scratch("empty");
    let mut failures = Vec::new();
    for name in ["a.csv", "a.tsv", "a.jsonl", "a.json", "a.cml", "a.xml", "a.smi", "a.zip"] {
        for text in ["", "\n \n"].into_iter().filter(|text| text.is_empty() || name.ends_with("sv")) {
            std::fs::write(folder.join(name), text).expect("the bank can be written");
            let output = run(&folder, &["audit", name, "--out", "out"]);
            let told = String::from_utf8_lossy(&output.stderr).into_owned();
            if output.status.code() != Some(2) || !told.contains("it is empty") {
                failures.push(format!("{name}: {:?} {told}", output.status));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
