//! The documents that promise something are held to the project: what they name exists, what exists is named.

use keyassay::report::cell::{as_written, harmless};
use keyassay::report::terminal::plain;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: impl AsRef<Path>) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_default()
}

/// Whatever stands between backticks in the cells of a table, by the column.
fn named(table: &str, column: usize) -> Vec<String> {
    let rows = table.lines().filter(|line| line.starts_with("| ") && !line.starts_with("|---"));
    let cells = rows.filter_map(|line| line.trim_matches('|').split(" | ").nth(column));
    cells.flat_map(|cell| cell.split('`').skip(1).step_by(2)).map(str::to_owned).collect()
}

/// `docs/guarantees.md` names tests, trials, scripts and files: each of them is there.
#[test]
fn what_holds_a_promise_exists() {
    let mut code = read("tests/trials/trials.py").replace("def ", "fn ");
    for entry in std::fs::read_dir(root().join("tests/suite")).expect("the suite is there").flatten() {
        let _ = write!(code, "{}", read(entry.path()));
    }
    let promises = named(&read("docs/guarantees.md"), 1);
    let is_there = |name: &&String| {
        if name.contains('/') { root().join(name.as_str()).exists() } else { code.contains(&format!("fn {name}(")) }
    };
    let missing: Vec<&String> = promises.iter().filter(|name| !is_there(name)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    assert!(promises.len() > 25, "{promises:?}");
}

/// `docs/dependencies.md` has a row for every dependency, and no other.
#[test]
fn every_dependency_has_its_reason() {
    let manifest: toml::Table = read("Cargo.toml").parse().expect("the manifest is TOML");
    let of = |section: &str| manifest.get(section).and_then(toml::Value::as_table).cloned().unwrap_or_default();
    let used: BTreeSet<String> =
        of("dependencies").into_iter().chain(of("dev-dependencies")).map(|own| own.0).collect();
    let text = read("docs/dependencies.md");
    let (theirs, ours) = text.split_once("\n## Ours").expect("the second table is there");
    let told: BTreeSet<String> = named(theirs, 0).into_iter().collect();
    assert_eq!(used, told);
    let source = root().join("src");
    let is_there = |own: &&String| source.join(own.as_str()).is_dir() || source.join(format!("{own}.rs")).is_file();
    let missing: Vec<String> = named(ours, 0).into_iter().filter(|own| own.contains('/') && !is_there(&own)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    assert!(!root().join("build.rs").exists(), "there is no build script");
}

/// What is built beside the package has lock files of its own, which name the dependencies that the library has today; builds that
/// may not change them fail else. What only the program needs is optional.
#[test]
fn lock_files_beside_follow_the_package() {
    let manifest: toml::Table = read("Cargo.toml").parse().expect("the manifest is TOML");
    let of = manifest.get("dependencies").and_then(toml::Value::as_table);
    let is_optional = |own: &toml::Value| own.get("optional").and_then(toml::Value::as_bool) == Some(true);
    let used: BTreeSet<String> =
        of.into_iter().flatten().filter(|own| !is_optional(own.1)).map(|own| own.0.clone()).collect();
    let mut failures = Vec::new();
    for path in ["bindings/python/Cargo.lock", "fuzz/Cargo.lock", "benches/measure/Cargo.lock"] {
        let lock: toml::Table = read(path).parse().expect("a lock file is TOML");
        let packages = lock.get("package").and_then(toml::Value::as_array).into_iter().flatten();
        let own = packages.filter_map(toml::Value::as_table).find(|own| {
            own.get("name").and_then(toml::Value::as_str) == Some("keyassay") && !own.contains_key("source")
        });
        let named = own.and_then(|own| own.get("dependencies")).and_then(toml::Value::as_array).into_iter().flatten();
        let first = |text: &str| text.split(' ').next().unwrap_or_default().to_owned();
        let named: BTreeSet<String> = named.filter_map(toml::Value::as_str).map(first).collect();
        if named != used {
            failures.push(format!("{path}: {:?}", named.symmetric_difference(&used)));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn harmless_cells_can_be_taken_back() {
    let risky = ["=1+1", "+1", "-1 -> 2", "@SUM(A1)", "\tx", "\rx", "'=1", "''-x"];
    let safe = ["", "C[O-]", "[CH3:1]", "'C'", "1 -> 1-2", "it's", "a=b"];
    let mut failures = Vec::new();
    for cell in risky.iter().chain(&safe) {
        let written = harmless(cell);
        if written.starts_with(['=', '+', '-', '@', '\t', '\r']) || as_written(&written) != **cell {
            failures.push(format!("{cell:?}: {written:?}, taken back {:?}", as_written(&written)));
        }
    }
    failures.extend(safe.iter().filter(|cell| harmless(cell) != **cell).map(|cell| format!("{cell:?} is changed")));
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn text_of_a_bank_cannot_steer_a_terminal() {
    let cases = [
        ("HM-2016-k01", "HM-2016-k01"),
        ("\u{1b}[31mred", "\u{fffd}[31mred"),
        ("a\rb\nc\u{7}", "a\u{fffd}b\u{fffd}c\u{fffd}"),
        ("\u{9b}2J", "\u{fffd}2J"),
        ("abc\u{202e}cba", "abc\u{fffd}cba"),
        ("\u{2066}x\u{2069}", "\u{fffd}x\u{fffd}"),
        ("→ Übung", "→ Übung"),
    ];
    let wrong: Vec<_> = cases.iter().filter(|(text, shown)| plain(text) != *shown).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
}
