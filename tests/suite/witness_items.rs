//! Whole audits of items whose verdict is known from outside: textbooks, an independent implementation, published steps.

use super::witness::{Disagreements, audit, beside, path, text};
use std::path::Path;

/// The findings that an item of a witness file must raise; none where it must be sound.
fn expected(item: &serde_json::Value) -> Vec<&str> {
    match &item["expect"] {
        serde_json::Value::Null => Vec::new(),
        serde_json::Value::Array(names) => names.iter().filter_map(|name| name.as_str()).collect(),
        one => one.as_str().into_iter().filter(|name| *name != "sound").collect(),
    }
}

/// Holds an audit to the `expect` fields of its bank, but for exceptions, which name what is found instead.
fn hold(bank: &Path, name: &str, least: usize, exceptions: &[(&str, &str, &str)]) {
    let audit = audit(bank, name);
    let text = std::fs::read_to_string(bank).expect("a bank");
    let mut disagreements = Disagreements::default();
    for line in text.lines() {
        let item: serde_json::Value = serde_json::from_str(line).expect("an item");
        let id = item["id"].as_str().expect("an id");
        let found = audit.of(id);
        let exception = exceptions.iter().find(|(own, _, _)| *own == id);
        let expected = exception.map_or_else(|| expected(&item), |(_, finding, _)| vec![*finding]);
        let agrees = expected.iter().all(|name| found.contains(name)) && expected.is_empty() == found.is_empty();
        disagreements.case((!agrees).then(|| format!("{line}\n    found {found:?}, expected {expected:?}")));
    }
    assert_eq!(audit.items as usize, text.lines().count());
    disagreements.settle(least);
}

#[test]
fn worked_examples_of_textbooks() {
    hold(&path("worked-examples.jsonl"), "witness-worked", 55, &[]);
    let right = text("worked-examples.jsonl").lines().filter(|line| !line.contains("\"expect\"")).count();
    assert_eq!(right, 51);
}

#[test]
fn random_questions_of_the_independent_implementation() {
    // By hand: the arrows are two steps in the order in which they are written, and their sum is not the answer.
    const SEVERAL: &[(&str, &str, &str)] = &[
        ("differential-237", "mismatched-product", "the hydrogen goes to sulfur, and its bond there to carbon"),
        (
            "differential-1992",
            "mismatched-product",
            "the pair of one hydrogen goes to the other, and from there to carbon",
        ),
    ];
    hold(&path("differential.jsonl"), "witness-differential", 2_000, SEVERAL);
}

/// 600 elementary polar steps, TieuLongPhan/SynEPD `data/polar.json`, 5c79668c, CC BY 4.0, where they lie beside the checkout.
#[test]
fn published_steps() {
    let Some(bank) = beside("steps/polar-steps.jsonl") else { return };
    hold(&bank, "witness-steps", 600, &[]);
}
