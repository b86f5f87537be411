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

/// A text in which comments, strings and characters are blank, so that brackets are those of the code. Line breaks stay.
fn code_alone(text: &str) -> Vec<u8> {
    let mut code = text.as_bytes().to_vec();
    let mut at = 0;
    while at < code.len() {
        let rest = &text.as_bytes()[at..];
        let length = match rest {
            [b'/', b'/', ..] => rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len()),
            [b'r', b'"' | b'#', ..] if at == 0 || !is_of_name(text.as_bytes()[at - 1]) => raw_string(rest),
            [b'"', ..] => quoted(rest, b'"'),
            [b'\'', b'\\', ..] => quoted(rest, b'\''),
            // Else it is a lifetime.
            [b'\'', ..] => {
                let own = text[at + 1..].chars().next().map_or(1, char::len_utf8);
                if rest.get(own + 1) == Some(&b'\'') { own + 2 } else { 0 }
            }
            _ => 0,
        };
        code[at..at + length].iter_mut().filter(|byte| **byte != b'\n').for_each(|byte| *byte = b' ');
        at += length.max(1);
    }
    code
}

fn is_of_name(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_'
}

/// Bytes of what begins with a quote, to its end.
fn quoted(text: &[u8], quote: u8) -> usize {
    let mut at = 1;
    while at < text.len() && text[at] != quote {
        at += if text[at] == b'\\' { 2 } else { 1 };
    }
    text.len().min(at + 1)
}

/// Bytes of a raw string; 0 where none begins.
fn raw_string(text: &[u8]) -> usize {
    let marks = text[1..].iter().take_while(|byte| **byte == b'#').count();
    if text.get(1 + marks) != Some(&b'"') {
        return 0;
    }
    let close = [&b"\""[..], &text[1..=marks]].concat();
    let inner = &text[marks + 2..];
    let end = inner.windows(close.len()).position(|own| own == close).unwrap_or(inner.len());
    text.len().min(marks + 2 + end + close.len())
}

/// Name, first line and lines of each function of a text, from `fn` to its closing bracket.
fn functions(text: &str) -> Vec<(String, usize, usize)> {
    let code = code_alone(text);
    let breaks = |bytes: &[u8]| memchr::memchr_iter(b'\n', bytes).count();
    let mut found = Vec::new();
    for at in (1..code.len()).filter(|at| code[*at..].starts_with(b"fn ") && !is_of_name(code[at - 1])) {
        let name: Vec<u8> = code[at + 3..].iter().copied().take_while(|byte| is_of_name(*byte)).collect();
        let (mut depth, mut open, mut end) = (0_i32, false, None);
        for (place, byte) in code.iter().enumerate().skip(at) {
            match byte {
                b'(' | b'[' | b'{' => depth += 1,
                b')' | b']' | b'}' => depth -= 1,
                b';' if depth == 0 => break,
                _ => {}
            }
            open |= *byte == b'{' && depth == 1;
            if open && depth == 0 {
                end = Some(place);
                break;
            }
        }
        if let Some(end) = end.filter(|_| !name.is_empty()) {
            let lines = breaks(&code[at..end]) + 1;
            found.push((String::from_utf8_lossy(&name).into_owned(), breaks(&code[..at]) + 1, lines));
        }
    }
    found
}

/// Lines that a function may have.
const LONGEST: usize = 50;

#[test]
fn functions_can_be_read_at_one_look() {
    let text = "fn a() {\n    let b = \"fn c() {\";\n}\n\ntrait D {\n    fn e(&self) -> [u8; 2];\n}\n// fn f() {\nfn g(own: [u8; 2]) -> char {\n    '}'\n}\n";
    let short: Vec<(String, usize, usize)> =
        [("a", 1, 3), ("g", 9, 3)].map(|(name, line, lines)| (name.to_owned(), line, lines)).into();
    assert_eq!(functions(&format!(" {text}")), short, "functions are counted as they are");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    let mut all = 0;
    let mut long = Vec::new();
    for file in files {
        let found = functions(&fs::read_to_string(&file).unwrap_or_default());
        all += found.len();
        let own = found.into_iter().filter(|(_, _, lines)| *lines > LONGEST);
        long.extend(own.map(|(name, line, lines)| format!("{}:{line}: {name} has {lines} lines", file.display())));
    }
    assert!(all > 2_000, "{all} functions were found");
    assert!(long.is_empty(), "{}", long.join("\n"));
}
