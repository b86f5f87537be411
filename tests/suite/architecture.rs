//! Data goes one way: a module uses only modules that stand before it in the list.

use std::fs;
use std::path::{Path, PathBuf};

/// The modules in order. Those of one line may use each other.
const LEVELS: &[&[&str]] = &[
    &["limits", "source"],
    &["xml"],
    &["structure"],
    &["arrows"],
    &["smiles", "cml", "qti"],
    &["compare"],
    &["resonance"],
    &["bank"],
    &["findings"],
    &["profile"],
    &["known"],
    &["drawing"],
    &["audit", "demonstration"],
    &["migration"],
    &["report"],
    &["survey"],
    &["cli", "main", "front", "lib"],
];

fn level(module: &str) -> Option<usize> {
    LEVELS.iter().position(|own| own.contains(&module))
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut waiting = vec![folder.to_owned()];
    while let Some(folder) = waiting.pop() {
        for entry in fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                found.push(path);
            }
        }
    }
}

#[test]
fn no_module_uses_a_later_one() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    assert!(files.len() > 20, "the sources were not found");
    let mut failures = Vec::new();
    for file in files {
        let path = file.strip_prefix(&root).unwrap_or(&file).to_string_lossy().into_owned();
        let own = path.split(['/', '.']).next().unwrap_or_default().to_owned();
        let Some(own_level) = level(&own) else {
            failures.push(format!("{path}: the module {own} has no level"));
            continue;
        };
        let text = fs::read_to_string(&file).unwrap_or_default();
        // Tests may look anywhere.
        let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
        if path.ends_with("tests.rs") {
            continue;
        }
        for (number, line) in code.lines().enumerate() {
            let line = line.trim_start();
            if line.starts_with("//") {
                continue;
            }
            for rest in line.split("crate::").skip(1) {
                let used: String = rest.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
                if level(&used).is_some_and(|used_level| used_level > own_level) {
                    failures.push(format!("{path}:{}: {own} uses {used}", number + 1));
                }
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn files_can_be_read_in_one_sitting() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    sources(&root.join("tests"), &mut files);
    let lines = |file: &PathBuf| fs::read_to_string(file).unwrap_or_default().lines().count();
    let long: Vec<String> = files
        .iter()
        .filter(|file| lines(file) > 600)
        .map(|file| format!("{} {}", file.display(), lines(file)))
        .collect();
    assert!(long.is_empty(), "{}", long.join("\n"));
}
