//! What the machine allows: threads, sizes of files, standard output.

use super::audits::{corpus, run, scratch};
use std::fs;
use std::process::Command;

#[test]
fn more_threads_than_help_are_not_started() {
    let folder = scratch("machine-jobs");
    let bank = corpus().join("demonstration/choices.csv");
    let bank = bank.to_str().expect("a path");
    let done = run(&folder, &["audit", bank, "--jobs", "99999", "--fail-on", "never"]);
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.code() == Some(0) && said.contains("--jobs 99999: "), "{said}");
    let done = run(&folder, &["audit", bank, "--jobs", "1", "--fail-on", "never"]);
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.code() == Some(0) && !said.contains("--jobs"), "{said}");
}

#[cfg(unix)]
#[test]
fn a_limit_on_the_size_of_files_is_an_error_and_leaves_nothing() {
    let folder = scratch("machine-size");
    let bank = corpus().join("demonstration/steps.csv");
    let command =
        format!("ulimit -f 4; exec '{}' audit '{}' --out out", env!("CARGO_BIN_EXE_keyassay"), bank.display());
    let done = Command::new("bash").current_dir(&folder).args(["-c", &command]).output().expect("bash");
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.code() == Some(2) && said.contains("cannot write"), "{:?} {said}", done.status);
    let left: Vec<_> = fs::read_dir(folder.join("out")).expect("the folder").flatten().map(|own| own.path()).collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_bank_can_be_converted_onto_standard_output() {
    let folder = scratch("machine-output");
    let bank = corpus().join("demonstration/choices.csv");
    let bank = bank.to_str().expect("a path");
    let to = |out: &str| run(&folder, &["convert", bank, "--to", "jsonl", "--out", out]);
    let (piped, named) = (to("-"), to("choices.jsonl"));
    assert!(piped.status.success() && named.status.success());
    assert_eq!(piped.stdout, fs::read(folder.join("choices.jsonl")).expect("a bank"));
    assert!(!folder.join("-").exists());
    assert!(String::from_utf8_lossy(&piped.stderr).contains("written to standard output"));
}

#[test]
fn a_pattern_that_is_left_open_is_refused() {
    let folder = scratch("machine-pattern");
    fs::copy(corpus().join("demonstration/choices.csv"), folder.join("choices.csv")).expect("a bank");
    let mut failures = Vec::new();
    let cases = [
        ("[", true),
        ("a[!", true),
        ("[]", true),
        ("\\\\[", false),
        ("[ab]*.csv", false),
        ("[]]x", false),
        ("*.csv", false),
    ];
    for (pattern, is_refused) in cases {
        fs::write(folder.join("keyassay.toml"), format!("files = [\"{pattern}\", \"*.csv\"]\n")).expect("a profile");
        let done = run(&folder, &["audit", ".", "--quiet", "--fail-on", "never"]);
        let said = String::from_utf8_lossy(&done.stderr);
        let refused = done.status.code() == Some(2) && said.contains("opens a bracket");
        if refused != is_refused {
            failures.push(format!("{pattern}: {:?} {said}", done.status));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn no_table_carries_characters_that_steer_a_terminal() {
    let folder = scratch("machine-escapes");
    let bank = "id,start,arrows,answer\n\"h\u{1b}[31m1\u{9b}\\u{1b}\",[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,CO.Br\n";
    fs::write(folder.join("bank.csv"), bank).expect("a bank");
    let done = run(&folder, &["audit", "bank.csv", "--fail-on", "never", "--out", "out"]);
    assert!(done.status.success());
    let steers = |c: char| c.is_control() && c != '\n';
    for name in ["audit.csv", "corrections.csv"] {
        let text = fs::read_to_string(folder.join("out").join(name)).expect("a table");
        assert!(!text.contains(steers), "{text:?}");
        assert!(text.contains("h\\u{1b}[31m1\\u{9b}\\u{5c}u{1b}"), "{text:?}");
    }
    // Taken back when a correction is applied.
    let done =
        run(&folder, &["amend", "bank.csv", "--with", "out/corrections.csv", "--out", "new.csv", "--grade", "likely"]);
    let said = String::from_utf8_lossy(&done.stdout);
    assert!(done.status.success() && said.starts_with("1 correction written"), "{said}");
}

/// Under a profile whose default is another task, an item that names its task keeps it in each format, and the verdict with it.
#[test]
fn a_named_task_survives_conversion_under_a_profile() {
    let folder = scratch("machine-task");
    let step = "h1,step,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[CH3:2][OH:1].[Br-:3]";
    let bank = format!(
        "id,task,start,arrows,answer\n{step}\nh2,,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]\n"
    );
    fs::write(folder.join("bank.csv"), bank).expect("a bank");
    fs::write(folder.join("keyassay.toml"), "task = \"resonance\"\n").expect("a profile");
    let mut failures = Vec::new();
    for (to, name) in [("csv", "new.csv"), ("jsonl", "new.jsonl"), ("cml", "new.cml"), ("qti", "new.zip")] {
        assert!(run(&folder, &["convert", "bank.csv", "--to", to, "--out", name]).status.success());
        let done = run(&folder, &["audit", name, "--out", "out"]);
        let said = String::from_utf8_lossy(&done.stdout);
        if done.status.code() != Some(0) || !said.contains("2 items: 2 sound") {
            failures.push(format!("{name}: {said}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
