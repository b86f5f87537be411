//! Resonance contributors against RDKit's `ResonanceMolSupplier` (PyPI `rdkit`, BSD-3-Clause; `corpus/witness/contributors.jsonl`).

use super::witness::{Disagreements, text};
use keyassay::arrows::{Arrow, Moves, Place, push};
use keyassay::smiles::{Labels, read, write};
use keyassay::structure::electrons::Electrons;
use keyassay::structure::{AtomId, Structure};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Deserialize)]
struct Species {
    id: String,
    start: String,
    contributors: Vec<String>,
    #[serde(default)]
    further: Vec<String>,
}

fn species() -> Vec<Species> {
    text("contributors.jsonl").lines().map(|line| serde_json::from_str(line).expect("a record")).collect()
}

/// Where electrons sit, by label: an atom twice for its own, a bond by its two ends. Two drawings of the same labelled
/// atoms are the same drawing where these agree.
pub(super) type Electron = BTreeMap<(u32, u32), i32>;

pub(super) fn electrons(structure: &Structure) -> Electron {
    let label = |id: AtomId| structure.atom(id).class.expect("every atom is labelled");
    let own = structure
        .atom_ids()
        .map(|id| ((label(id), label(id)), Electrons::of(structure, id).non_bonding().unwrap_or(0)));
    let shared = structure
        .bonds()
        .map(|(_, a, b, bond)| ((label(a).min(label(b)), label(a).max(label(b))), 2 * i32::from(bond.order)));
    own.chain(shared).collect()
}

/// The places whose electrons differ, and by how many.
fn difference(from: &Electron, to: &Electron) -> Electron {
    let change = |(place, count): (&(u32, u32), &i32)| (*place, to.get(place).unwrap_or(&0) - count);
    from.iter().map(change).filter(|(_, change)| *change != 0).collect()
}

/// The atoms of the changed bonds in a row, the first again at the end of a ring; `None` where they branch or fall apart.
fn row(bonds: &[(u32, u32)]) -> Option<Vec<u32>> {
    let mut around: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for (a, b) in bonds {
        around.entry(*a).or_default().push(*b);
        around.entry(*b).or_default().push(*a);
    }
    if around.values().any(|others| others.len() > 2) {
        return None;
    }
    let first = around.iter().find(|(_, others)| others.len() == 1).or(around.iter().next())?;
    let mut atoms = vec![*first.0, first.1[0]];
    while atoms.len() <= bonds.len() {
        let (here, before) = (atoms[atoms.len() - 1], atoms[atoms.len() - 2]);
        atoms.push(*around[&here].iter().find(|other| **other != before)?);
    }
    (bonds.iter().all(|(a, b)| atoms.contains(a) && atoms.contains(b))).then_some(atoms)
}

/// The arrows, by labels, that make a difference of pairs moved along one chain; `None` where it is no such difference.
fn chain(difference: &Electron) -> Option<Vec<(Place<u32>, Place<u32>)>> {
    let bonds: Vec<_> = difference.keys().copied().filter(|(a, b)| a != b).collect();
    let atoms = row(&bonds)?;
    let own = |atom: u32| difference.contains_key(&(atom, atom)).then_some((atom, atom));
    let ring = atoms.first() == atoms.last();
    let ends = |atom: Option<&u32>| if ring { None } else { atom.and_then(|atom| own(*atom)) };
    let along = atoms.windows(2).map(|pair| (pair[0].min(pair[1]), pair[0].max(pair[1])));
    let places: Vec<_> = ends(atoms.first()).into_iter().chain(along).chain(ends(atoms.last())).collect();
    let alternate = places.windows(2).all(|pair| difference[&pair[0]] == -difference[&pair[1]]);
    if places.len() != difference.len()
        || places.len() % 2 != 0
        || !alternate
        || difference.values().any(|d| d.abs() != 2)
    {
        return None;
    }
    let place = |(a, b)| if a == b { Place::Atom(a) } else { Place::Bond(a, b) };
    let arrow = |pair: &[(u32, u32)]| {
        let (tail, head) = if difference[&pair[0]] < 0 { (pair[0], pair[1]) } else { (pair[1], pair[0]) };
        (place(tail), place(head))
    };
    Some(places.chunks(2).map(arrow).collect())
}

/// The product of arrows given by labels.
fn pushed(start: &Structure, arrows: &[(Place<u32>, Place<u32>)]) -> Result<Structure, String> {
    let atom = |label: u32| start.atoms().find(|(_, atom)| atom.class == Some(label)).expect("a label of the start").0;
    let arrows: Vec<Arrow> = arrows
        .iter()
        .map(|(tail, head)| Arrow { moves: Moves::Pair, tail: tail.map(atom), head: head.map(atom) })
        .collect();
    push(start, &arrows).map(|pushed| pushed.product).map_err(|faults| format!("{faults:?}"))
}

/// Every contributor that RDKit lists, also those with open shells, is the product of the arrows that lead to it.
#[test]
fn contributors_one_chain_away_are_reached_by_arrows() {
    let mut found = Disagreements::default();
    let mut reached = BTreeSet::new();
    for one in species() {
        let start = read(&one.start).structure;
        let from = electrons(&start);
        for contributor in one.contributors.iter().chain(&one.further) {
            let to = electrons(&read(contributor).structure);
            let Some(arrows) = chain(&difference(&from, &to)) else { continue };
            reached.insert(one.id.clone());
            let product = pushed(&start, &arrows);
            let agrees = product.as_ref().is_ok_and(|product| electrons(product) == to);
            let written = product.map(|product| write(&product, Labels::Classes));
            found.case((!agrees).then(|| format!("{}: {arrows:?} give {written:?}, RDKit {contributor}", one.start)));
        }
    }
    assert!(reached.len() >= 500, "only {} species have such a contributor", reached.len());
    found.settle(3_000);
}

/// Rows of up to `MOST` bonded atoms from every atom on, each once in each direction.
fn rows_of_atoms(start: &Structure) -> Vec<Vec<AtomId>> {
    const MOST: usize = 6;
    let mut rows: Vec<Vec<AtomId>> = start.atom_ids().map(|id| vec![id]).collect();
    let mut at = 0;
    while at < rows.len() {
        let here = rows[at].clone();
        at += 1;
        if here.len() < MOST {
            let next = start.neighbours(here[here.len() - 1]).map(|(next, _)| next).filter(|next| !here.contains(next));
            rows.extend(next.map(|next| [&here[..], &[next]].concat()));
        }
    }
    rows.retain(|row| row.len() > 1);
    rows
}

/// The arrows that push pairs along a row from its first atom to its last: every second bond is taken from, the others are
/// given to; a pair leaves the first atom where its bond is given to and comes to the last atom where its bond is taken.
fn along(row: &[AtomId], first_given: bool) -> Vec<Arrow> {
    let bonds: Vec<_> = row.windows(2).map(|pair| Place::Bond(pair[0], pair[1])).collect();
    let before = first_given.then_some(Place::Atom(row[0]));
    let taken_last = (bonds.len() % 2 == 0) == first_given;
    let after = taken_last.then_some(Place::Atom(row[row.len() - 1]));
    let places: Vec<_> = before.into_iter().chain(bonds).chain(after).collect();
    places.chunks(2).map(|pair| Arrow { moves: Moves::Pair, tail: pair[0], head: pair[1] }).collect()
}

/// Contributors that keep every shell of the start full and no fuller, and separate no more charges than it.
fn keeps(start: &Structure, product: &Structure) -> bool {
    let shells =
        |of: &Structure| of.atom_ids().map(|id| Electrons::of(of, id).shell().unwrap_or(0)).collect::<Vec<_>>();
    let charged = |of: &Structure| of.atoms().filter(|(_, atom)| atom.charge != 0).count();
    let full =
        shells(start).iter().zip(shells(product)).all(|(before, after)| after <= 8 && (after == 8 || after >= *before));
    full && charged(product) <= charged(start) && product.bond_count() == start.bond_count()
}

/// Species for which RDKit leaves out a contributor that keeps octets, and what it leaves out.
const LEFT_OUT: &[(&str, &str)] = &[
    ("named-28", "the pair that moves past the odd electron of nitrogen dioxide"),
    ("named-48", "azolide anions with the charge on carbon"),
    ("named-54", "azolide anions with the charge on carbon"),
    ("named-172", "azolide anions with the charge on carbon"),
    ("named-173", "azolide anions with the charge on carbon"),
    ("named-150", "a dianion with both charges at one end"),
    ("named-157", "an azide that gives its pair to the ring"),
    ("named-186", "a positive charge on fluorine"),
    ("named-189", "two negative charges on carbon"),
    ("joined-9-2-6", "a positive sulfur with a double bond"),
    ("joined-9-2-7", "a positive sulfur with a double bond"),
    ("nci-3072", "a double bond to sodium"),
];

/// Products of pairs pushed along up to six atoms that keep octets are in RDKit's list, but for those it leaves out.
#[test]
fn products_that_keep_octets_lie_in_the_list() {
    let mut found = Disagreements::default();
    let mut left_out = BTreeSet::new();
    for one in species() {
        let start = read(&one.start).structure;
        let listed: BTreeSet<Electron> =
            one.contributors.iter().chain(&one.further).map(|text| electrons(&read(text).structure)).collect();
        for product in products_that_keep_octets(&start) {
            let inside = listed.contains(&electrons(&product));
            if !inside && LEFT_OUT.iter().any(|(id, _)| *id == one.id) {
                left_out.insert(one.id.clone());
                continue;
            }
            let written = write(&product, Labels::Classes);
            found.case((!inside).then(|| format!("{} {}: {written} is not in RDKit's list", one.id, one.start)));
        }
    }
    found.settle(600);
    assert_eq!(left_out.len(), LEFT_OUT.len(), "explained and no longer so: all but {left_out:?}");
}

fn products_that_keep_octets(start: &Structure) -> Vec<Structure> {
    let rows = rows_of_atoms(start);
    let arrows = rows.iter().flat_map(|row| [along(row, true), along(row, false)]);
    let products = arrows.filter_map(|arrows| push(start, &arrows).ok()).map(|pushed| pushed.product);
    products.filter(|product| keeps(start, product)).collect()
}
