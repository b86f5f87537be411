//! Inside a module, too, data goes one way: its parts use each other without a circle, but for those that are argued here.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Circles that stay: the module, its parts that may use each other, and why.
const ARGUED: &[(&str, &[&str], &str)] = &[
    (
        "bank",
        &[
            "batch",
            "chunk",
            "cml",
            "cut",
            "given",
            "header",
            "json",
            "pieces",
            "plain",
            "qti",
            "qti_item",
            "reaction_smiles",
            "sheet",
            "source",
            "table",
            "zipped",
        ],
        "`source` opens every format, and each gives back batches as `source` hands them on; a chunk names cells as sheets do",
    ),
    (
        "bank::sheet",
        &["beside", "binary", "check", "edit", "grid", "library", "merged", "records", "table"],
        "one workbook, its kinds told apart in `library`, which each kind fills",
    ),
    ("cli", &["audit", "earlier", "gather", "shard"], "one command whose arguments decide which of its ways is gone"),
    ("compare", &["closest", "correspond"], "one search: the question stands in `correspond`, its growth in `closest`"),
    (
        "compare",
        &["difference", "forms", "matching", "stereo", "tally"],
        "differences hold those of stereo marks, whose search needs a matching",
    ),
    ("drawing", &["atoms", "dots", "figure", "hydrogens"], "a figure draws its atoms, dots and hydrogens into itself"),
    ("drawing", &["curves", "flaws", "labels", "page"], "flaws measure a page with the tests that place its curves"),
    ("findings::quick", &["labels", "pen", "rings", "sketch"], "one flat drawing and the hand that draws it"),
    ("findings::slips", &["drawing", "proton"], "a proton that moved is one of the ways to explain a drawing"),
    (
        "migration",
        &["detail", "index", "pair"],
        "items are read a second time in `detail`, which says of both readings that a bank has changed meanwhile",
    ),
    (
        "smiles",
        &["grammar", "loose", "read"],
        "loose forms are told by the grammar, and tails shared out read their structure",
    ),
];

/// The text of a file without comments, strings and tests, and its path as a module.
fn modules(root: &Path) -> BTreeMap<Vec<String>, String> {
    let mut all = BTreeMap::new();
    let mut waiting = vec![root.to_owned()];
    while let Some(folder) = waiting.pop() {
        for path in fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path()) {
            if path.is_dir() {
                waiting.push(path);
                continue;
            }
            let name = path.strip_prefix(root).unwrap_or(&path).with_extension("");
            let mut parts: Vec<String> = name.iter().map(|part| part.to_string_lossy().into_owned()).collect();
            if parts.last().is_some_and(|last| last == "mod" || last == "lib") {
                parts.pop();
            }
            if path.extension().is_some_and(|ending| ending == "rs") && parts.last().is_none_or(|last| last != "tests")
            {
                let text = fs::read_to_string(&path).unwrap_or_default();
                let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
                let lines = code.lines().map(|line| line.split("//").next().unwrap_or_default());
                all.insert(parts, lines.collect::<Vec<_>>().join("\n"));
            }
        }
    }
    all
}

/// The paths of a tree as `use` has it: `a::{b, c::d}` is `a::b` and `a::c::d`.
fn paths(tree: &str, before: &str, found: &mut Vec<Vec<String>>) {
    let mut waiting = vec![(before.to_owned(), tree.to_owned())];
    while let Some((before, tree)) = waiting.pop() {
        let (mut depth, mut from) = (0_usize, 0);
        for (at, c) in tree.char_indices().chain([(tree.len(), ',')]) {
            match c {
                '{' => depth += 1,
                '}' => depth = depth.saturating_sub(1),
                ',' if depth == 0 => {
                    let part = tree[from..at].trim();
                    from = at + 1;
                    match part.split_once('{') {
                        Some((head, inner)) => {
                            waiting.push((format!("{before}{head}"), inner.trim_end_matches('}').to_owned()));
                        }
                        None if part.is_empty() => {}
                        None => {
                            let whole = format!("{before}{part}");
                            let path = whole.split(" as ").next().unwrap_or_default();
                            found.push(path.split("::").map(|own| own.trim().to_owned()).collect());
                        }
                    }
                }
                _ => {}
            }
        }
    }
}

/// All paths that a text names: those of its `use` lines, and those that begin with `crate::` or `super::` elsewhere.
fn named(text: &str) -> Vec<Vec<String>> {
    let mut found = Vec::new();
    for piece in text.split("use ").skip(1) {
        let tree = piece.split(';').next().unwrap_or_default();
        if !tree.contains("use ") && tree.len() < 2_000 {
            paths(tree, "", &mut found);
        }
    }
    for head in ["crate::", "super::"] {
        for (at, _) in text.match_indices(head) {
            let own = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == ':';
            let begins = text[..at].chars().next_back().is_none_or(|before| !own(before));
            let path: String = text[at..].chars().take_while(|c| own(*c)).collect();
            if begins {
                found.push(path.split("::").filter(|part| !part.is_empty()).map(str::to_owned).collect());
            }
        }
    }
    found
}

/// The module that a path leads to, through names that a module on the way hands on.
fn target(
    own: &[String],
    path: &[String],
    all: &BTreeMap<Vec<String>, String>,
    handed_on: &BTreeMap<(Vec<String>, String), Vec<String>>,
) -> Option<Vec<String>> {
    let mut module = own.to_vec();
    let mut rest = path;
    match path.first()?.as_str() {
        "crate" => {
            module.clear();
            rest = &rest[1..];
        }
        "self" | "super" => {
            while let Some(first) = rest.first().filter(|first| *first == "self" || *first == "super") {
                if first == "super" {
                    module.pop();
                }
                rest = &rest[1..];
            }
        }
        first => {
            let child: Vec<String> = own.iter().cloned().chain([first.to_owned()]).collect();
            all.contains_key(&child).then_some(())?;
        }
    }
    for part in rest {
        let next: Vec<String> = module.iter().cloned().chain([part.clone()]).collect();
        if all.contains_key(&next) {
            module = next;
        } else {
            return Some(handed_on.get(&(module.clone(), part.clone())).cloned().unwrap_or(module));
        }
    }
    Some(module)
}

/// Who uses whom among the parts of a module.
type Uses = BTreeMap<String, BTreeSet<String>>;

fn uses_inside(root: &Path) -> BTreeMap<String, Uses> {
    let all = modules(root);
    let paths_of: Vec<(&Vec<String>, Vec<Vec<String>>)> = all.iter().map(|(own, text)| (own, named(text))).collect();
    let mut handed_on = BTreeMap::new();
    for (own, paths) in &paths_of {
        for path in paths.iter().filter(|path| path.len() > 1 && path[0] != "crate" && path[0] != "super") {
            let child: Vec<String> = own.iter().cloned().chain([path[0].clone()]).collect();
            if all.contains_key(&child) {
                handed_on.insert(((*own).clone(), path[path.len() - 1].clone()), child);
            }
        }
    }
    let mut inside: BTreeMap<String, Uses> = BTreeMap::new();
    for (own, paths) in &paths_of {
        for other in paths.iter().filter_map(|path| target(own, path, &all, &handed_on)) {
            let common = own.iter().zip(&other).take_while(|(a, b)| a == b).count();
            if common > 0 && common < own.len() && common < other.len() {
                let uses = inside.entry(own[..common].join("::")).or_default();
                uses.entry(own[common].clone()).or_default().insert(other[common].clone());
            }
        }
    }
    inside
}

/// Whoever can be reached from a part.
fn reached<'u>(uses: &'u Uses, from: &str) -> BTreeSet<&'u str> {
    let mut met = BTreeSet::new();
    let mut waiting: Vec<&str> = uses.get(from).into_iter().flatten().map(String::as_str).collect();
    while let Some(next) = waiting.pop() {
        if met.insert(next) {
            waiting.extend(uses.get(next).into_iter().flatten().map(String::as_str));
        }
    }
    met
}

#[test]
fn parts_of_a_module_use_each_other_without_a_circle() {
    let inside = uses_inside(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    assert!(inside.len() > 20, "the sources were not read");
    let mut failures = Vec::new();
    let mut needed = BTreeSet::new();
    for (module, uses) in &inside {
        for part in uses.keys() {
            let circle: Vec<&str> =
                reached(uses, part).into_iter().filter(|other| reached(uses, other).contains(part.as_str())).collect();
            let argued = ARGUED
                .iter()
                .position(|(own, parts, _)| own == module && circle.iter().all(|other| parts.contains(other)));
            match argued {
                _ if circle.is_empty() => {}
                Some(at) => drop(needed.insert(at)),
                None => failures.push(format!("{module}: {}", circle.join(", "))),
            }
        }
    }
    failures.sort();
    failures.dedup();
    let gone = (0..ARGUED.len()).filter(|at| !needed.contains(at));
    failures.extend(gone.map(|at| format!("{} has no such circle any more: {:?}", ARGUED[at].0, ARGUED[at].1)));
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
