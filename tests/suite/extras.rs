//! Completions and man pages: one page a command, and scripts that their shells can read.

use super::audits::scratch;
use std::process::Command;

#[test]
fn every_command_has_a_page_and_every_shell_a_script() {
    let folder = scratch("extras");
    let program = || Command::new(env!("CARGO_BIN_EXE_keyassay"));
    let output = program().args(["extras", "--out"]).arg(&folder).output().expect("the program starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let help = program().arg("--help").output().expect("the program starts");
    let help = String::from_utf8_lossy(&help.stdout).into_owned();
    let (_, commands) = help.split_once("Commands:\n").expect("there are commands");
    // A line that goes on with a description is set further in.
    let lines = commands.lines().take_while(|line| !line.is_empty()).filter_map(|line| line.strip_prefix("  "));
    let names = lines.filter(|line| !line.starts_with(' ')).filter_map(|line| line.split_whitespace().next());
    let names: Vec<&str> = names.filter(|name| *name != "help").collect();
    assert!(names.len() >= 9, "{names:?}");
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap_or_default();
    let mut failures = Vec::new();
    for name in &names {
        let page = read(&format!("keyassay-{name}.1"));
        if !page.contains(".SH OPTIONS") || !read("keyassay.1").contains(&format!("keyassay\\-{name}(1)")) {
            failures.push(format!("{name}: {page}"));
        }
        for script in ["keyassay.bash", "keyassay.elv", "keyassay.fish", "keyassay.ps1", "_keyassay"] {
            if !read(script).contains(name) {
                failures.push(format!("{script} does not know {name}"));
            }
        }
    }
    if !read("keyassay.1").contains("qualified supervision") {
        failures.push("the page lacks the caution".to_owned());
    }
    // Where a shell is at hand, it reads its script.
    if let Ok(output) = Command::new("bash").arg("-n").arg(folder.join("keyassay.bash")).output() {
        failures.extend((!output.status.success()).then(|| String::from_utf8_lossy(&output.stderr).into_owned()));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
