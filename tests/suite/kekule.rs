//! Rings in other Kekulé forms: one compound in a step, another drawing in resonance, and never rings of 4n atoms.

use super::judged::judged;
use super::molecules::{renumbered, smiles};
use super::slips::Random;
use keyassay::bank::Format;
use keyassay::compare::kekule::other_form;
use keyassay::findings::Settings;
use keyassay::smiles::{Labels, write};
use keyassay::structure::localise::localise_with;
use keyassay::structure::{LabelIndex, Structure};

/// Compounds whose forms all differ by rings of 4n+2 atoms, as aromatic drawings.
const SAME: &[&str] = &[
    "Cc1ccccc1O",
    "Oc1ccc2ccccc2c1",
    "c1ccc2cc3ccccc3cc2c1",
    "c1ccc2cc3cc4ccccc4cc3cc2c1",
    "c1ccc2c(c1)ccc1c2ccc2ccccc21",
    "c1ccc2c(c1)c1ccccc1c1ccccc21",
    "Brc1cnc2ccccc2c1",
    "Cc1ncncc1Cl",
    "C[n+]1ccccc1",
    "c1ccc2cccc-2cc1",
    "c1ccc(-c2ccccc2O)cc1",
];

/// The localised forms of an aromatic drawing, some of them, as plain drawings.
fn forms(text: &str, random: &mut Random) -> Vec<Structure> {
    let start = smiles(text);
    let mut forms: Vec<Structure> = Vec::new();
    for _ in 0..24 {
        let all: Vec<_> = start.bond_ids().filter(|id| start.bond(*id).aromatic).collect();
        let Some(bond) = random.pick(&all) else { break };
        let fixed = [(bond, random.below(2) == 0)];
        let Some(double) = localise_with(&start, &fixed) else { continue };
        let mut form = start.clone();
        for id in all {
            let order = if double.contains(&id) { 2 } else { 1 };
            *form.bond_mut(id) = keyassay::structure::Bond::new(order);
        }
        for atom in form.atom_ids().collect::<Vec<_>>() {
            form.atom_mut(atom).aromatic = false;
        }
        forms.push(form);
    }
    forms
}

#[test]
fn forms_of_one_compound_are_the_same_with_and_without_labels() {
    let mut random = Random(11);
    let mut failures = Vec::new();
    let mut differing = 0;
    for text in SAME {
        let forms = forms(text, &mut random);
        for pair in forms.windows(2) {
            let (mut one, mut other) = (pair[0].clone(), pair[1].clone());
            let shuffled = renumbered(&other, &random.order(other.atom_count()));
            let orders = |own: &Structure| own.bonds().map(|(.., bond)| bond.order).collect::<Vec<_>>();
            let is_drawn_alike = orders(&one) == orders(&other);
            let equal = keyassay::compare::same_drawing(&one, &shuffled, 100_000) == Some(true);
            differing += usize::from(!equal);
            if !equal && other_form(&one, &shuffled, &LabelIndex::default(), 100_000).is_none() {
                failures.push(format!("{} and {}", write(&one, Labels::Without), write(&shuffled, Labels::Without)));
            }
            one.label_by_position();
            other.label_by_position();
            if !is_drawn_alike && other_form(&one, &other, &LabelIndex::new(&one), 100_000).is_none() {
                failures.push(format!("{} and {}", write(&one, Labels::Classes), write(&other, Labels::Classes)));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(differing > 30, "{differing} pairs differ");
}

/// Two drawings that are no forms of one compound.
const DIFFERENT: &[(&str, &str)] = &[
    ("CC1=C(O)C=C1", "CC=1C(O)=CC=1"),
    ("C1=CC2=C(C=C1)C1=C2C=CC=C1", "C1=CC2=C3C=CC=CC3=C2C=C1"),
    ("CC1=CC=CC=CC=C1Br", "CC=1C=CC=CC=CC=1Br"),
    ("OC1=CC=CC=C1", "O=C1C=CCC=C1"),
    ("CC=CC=CC", "C=CC=CCC"),
];

#[test]
fn rings_of_4n_and_other_isomers_stay_different() {
    let other = |(a, b): &&(&str, &str)| {
        let (a, b) = (smiles(a), smiles(b));
        keyassay::compare::same_drawing(&a, &b, 100_000) != Some(true)
            && other_form(&a, &b, &LabelIndex::default(), 100_000).is_some()
    };
    let wrong: Vec<_> = DIFFERENT.iter().filter(other).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// Items, and what is found in them.
const ITEMS: &[(&str, &str)] = &[
    (
        r#"{"id":"q","start":"[OH-].CC1=CC=CC=C1C(=O)O","arrows":"1 -> 1-11h; 11-11h -> 11","answer":"CC=1C=CC=CC=1C(=O)[O-].O"}"#,
        "[other-kekule-form]",
    ),
    (
        r#"{"id":"q","task":"resonance","start":"CC1=CC=CC=C1C(=O)[O-]","arrows":"10 -> 8-10; 8-9 -> 9","answer":"CC=1C=CC=CC=1C([O-])=O"}"#,
        "mismatched-product ring-redrawn bystander-changed",
    ),
    // A redrawn start, and options.
    (
        r#"{"id":"q","start":"CC1=CC=CC=C1C(=O)O.[OH-].CI","steps":[{"arrows":"11 -> 11-10h; 10-10h -> 10","answer":"CC1=CC=CC=C1C(=O)[O-].O.CI"},{"start":"CC=1C=CC=CC=1C(=O)[O-].CI.O","arrows":"10 -> 10-11; 11-12 -> 12","answer":"CC=1C=CC=CC=1C(=O)OC.[I-].O"}]}"#,
        "",
    ),
    (
        r#"{"id":"q","start":"[OH-].CC1=CC=CC=C1O","arrows":"1 -> 1-9h; 9-9h -> 9","options":["CC=1C=CC=CC=1[O-].O","CC1=CC=CC=C1O.[OH-]"],"key":"A"}"#,
        "[other-kekule-form]",
    ),
];

#[test]
fn items_with_redrawn_rings() {
    let mut failures = Vec::new();
    for (item, expected) in ITEMS {
        let found = &judged(item, Format::JsonLines, &Settings::default())[0];
        let slip = found.findings.iter().find(|own| !own.slips.is_empty()).map(|own| own.slips.names().into_owned());
        let names = match slip {
            Some(slip) => found.names().replacen(' ', &format!(" {slip} "), 1),
            None => found.names(),
        };
        if names != *expected {
            failures.push(format!("{item}: {names}\n    {}", found.messages()));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
