//! Formal charge, non-bonding electrons and shells against the IUPAC Gold Book: 08169, LT07065, HT07054.

use super::witness::{Disagreements, Row, rows, text};
use keyassay::smiles::read;
use keyassay::structure::electrons::{ElectronFault, Electrons, faults};
use keyassay::structure::{OctetRule, Structure};

fn per_atom(structure: &Structure, value: impl Fn(Electrons) -> Option<i32>) -> Vec<i32> {
    structure.atom_ids().filter_map(|id| value(Electrons::of(structure, id))).collect()
}

fn finding(structure: &Structure, rule: OctetRule) -> &'static str {
    match faults(structure, rule).first() {
        None => "-",
        Some((_, ElectronFault::Impossible(_))) => "impossible-electrons",
        Some((_, ElectronFault::OverFull(..))) => "hypervalent-atom",
    }
}

fn drawing(row: &Row) -> Option<String> {
    let reading = read(row.get("smiles"));
    let structure = &reading.structure;
    let counted = [
        per_atom(structure, |electrons| Some(electrons.charge)),
        per_atom(structure, Electrons::non_bonding),
        per_atom(structure, Electrons::shell),
    ];
    let stated = ["charges", "non_bonding", "shell"].map(|column| row.numbers(column));
    let findings = [finding(structure, OctetRule::Usual), finding(structure, OctetRule::Strict)];
    let expected = [row.get("usual"), row.get("strict")];
    let agrees = reading.faults.is_empty() && counted == stated && findings == expected;
    (!agrees).then(|| format!("{}: {counted:?} {findings:?}, expected {stated:?} {expected:?}", row.get("name")))
}

#[test]
fn drawings_of_the_gold_book_definitions() {
    let file = text("goldbook.tsv");
    let mut found = Disagreements::default();
    for row in rows(&file) {
        found.case(drawing(&row));
    }
    found.settle(70);
}
