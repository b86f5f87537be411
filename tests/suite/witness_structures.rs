//! 4,999 strings against RDKit (PyPI `rdkit`, BSD-3-Clause; `corpus/witness/structures.tsv`).

use super::witness::{Disagreements, Row, rows, text};
use keyassay::smiles::{Reading, read};
use keyassay::structure::canon::{Colours, Orders, canonical};
use keyassay::structure::electrons::{Electrons, unpaired};
use keyassay::structure::localise::localise;
use keyassay::structure::skeleton::Skeleton;
use keyassay::structure::{AtomId, Element, Structure};
use std::collections::HashMap;

/// Hydrogens of an atom, drawn or not.
fn hydrogens(structure: &Structure, id: AtomId) -> u16 {
    let drawn = structure.neighbours(id).filter(|(other, _)| structure.atom(*other).element == Element::HYDROGEN);
    structure.atom(id).hydrogens + drawn.count() as u16
}

/// `ATOM:COUNT` for every count that is not 0, as the file writes it.
fn sparse(structure: &Structure, count: impl Fn(AtomId) -> i32) -> String {
    let counts = structure.atom_ids().map(|id| (id.index() + 1, count(id)));
    counts.filter(|(_, count)| *count != 0).map(|(at, count)| format!("{at}:{count}")).collect::<Vec<_>>().join(",")
}

fn multiple(structure: &Structure) -> String {
    let sign = |order| ["", "", "=", "#", "$"][usize::from(order)];
    let mut bonds: Vec<_> = structure
        .bonds()
        .filter(|(_, _, _, bond)| bond.order > 1)
        .map(|(_, a, b, bond)| (a.min(b).index() + 1, sign(bond.order), a.max(b).index() + 1))
        .collect();
    bonds.sort_unstable();
    bonds.iter().map(|(a, sign, b)| format!("{a}{sign}{b}")).collect::<Vec<_>>().join(",")
}

/// Whether unpaired electrons can be compared. RDKit takes bonds to metals for dative where the drawing writes plain
/// bonds, and so finds other electrons on the metal and its neighbours; an atom with too few electrons is a finding.
fn comparable(structure: &Structure, id: AtomId) -> bool {
    let judged = |id| Electrons::of(structure, id).non_bonding().is_some_and(|n| n >= 0);
    judged(id) && structure.neighbours(id).all(|(other, _)| judged(other))
}

/// Atoms whose odd electron RDKit counts otherwise.
fn unpaired_differ(row: &Row, structure: &Structure) -> Vec<String> {
    let counts = row.get("unpaired").split(',').filter_map(|entry| entry.split_once(':'));
    let stated: HashMap<&str, &str> = counts.collect();
    let differs = |id: &AtomId| {
        let at = (id.index() + 1).to_string();
        *stated.get(at.as_str()).unwrap_or(&"0") != unpaired(structure, *id).to_string()
    };
    let atoms = structure.atom_ids().filter(|id| comparable(structure, *id)).filter(differs);
    atoms.map(|id| format!("unpaired at {}", id.index() + 1)).collect()
}

fn as_drawn(row: &Row, reading: &Reading) -> Option<String> {
    let structure = &reading.structure;
    let counted: String = structure.atom_ids().map(|id| hydrogens(structure, id).to_string()).collect();
    let found = [counted, sparse(structure, |id| i32::from(structure.atom(id).charge)), multiple(structure)];
    let expected = ["hydrogens", "charges", "multiple"].map(|column| row.get(column));
    let differ = unpaired_differ(row, structure);
    let agrees = reading.faults.is_empty() && found == expected && differ.is_empty();
    (!agrees).then(|| format!("{} {}: {found:?} {differ:?}, RDKit {expected:?}", row.get("id"), row.get("smiles")))
}

#[test]
fn hydrogens_charges_unpaired_electrons_and_bonds_as_drawn() {
    let file = text("structures.tsv");
    let mut found = Disagreements::default();
    for row in rows(&file) {
        found.case(as_drawn(&row, &read(row.get("smiles"))));
    }
    found.settle(4_999);
}

/// Atoms of the aromatic spelling that differ from the same atom as drawn. Localised forms of one molecule have the same
/// atoms in double bonds, so every atom has the same hydrogens, charge and sum of bond orders in both.
fn aromatic_differ(row: &Row, drawn: &Structure, localised: &Structure) -> Vec<String> {
    let order = row.numbers("order");
    let counts = |structure: &Structure, id| {
        (hydrogens(structure, id), structure.atom(id).charge, Electrons::of(structure, id).bonds)
    };
    let same = |id: &AtomId| {
        let own = order.get(id.index()).map_or(id.index(), |&at| at.unsigned_abs() as usize - 1);
        counts(localised, *id) == counts(drawn, AtomId::new(own))
    };
    localised
        .atom_ids()
        .filter(|id| !same(id))
        .map(|id| format!("atom {} of the aromatic string", id.index() + 1))
        .collect()
}

fn aromatic(row: &Row) -> Option<String> {
    let drawn = read(row.get("smiles")).structure;
    let mut reading = read(row.get("aromatic"));
    let mut differ: Vec<String> = reading.faults.iter().map(|error| error.fault.to_string()).collect();
    match localise(&mut reading.structure) {
        Err(none) => differ.push(format!("{none:?}")),
        Ok(()) if reading.structure.atom_count() != drawn.atom_count() => differ.push("number of atoms".into()),
        Ok(()) => differ.extend(aromatic_differ(row, &drawn, &reading.structure)),
    }
    (!differ.is_empty()).then(|| format!("{} {}: {}", row.get("id"), row.get("aromatic"), differ.join(", ")))
}

#[test]
fn aromatic_spellings_localise_to_what_was_drawn() {
    let file = text("structures.tsv");
    let mut found = Disagreements::default();
    for row in rows(&file).iter().filter(|row| !row.get("aromatic").is_empty()) {
        found.case(aromatic(row));
    }
    found.settle(3_354);
}

/// The canonical forms of all species, in any order.
fn forms(structure: &Structure) -> Vec<Vec<u64>> {
    let skeleton = Skeleton::new(structure);
    let colours = Colours::new(&skeleton, Orders::Drawn);
    let form = |species| {
        let canonical = canonical(&skeleton, &colours, species, Orders::Drawn, 1_000_000);
        assert!(canonical.certain);
        canonical.form
    };
    let mut forms: Vec<_> = (0..skeleton.species_count()).map(form).collect();
    forms.sort_unstable();
    forms
}

/// Which of the strings are the same drawing: 99 repeat an earlier one by RDKit's canonical SMILES, and no others by ours.
#[test]
fn equal_drawings_and_no_others_have_one_canonical_form() {
    let file = text("structures.tsv");
    let mut found = Disagreements::default();
    let mut first: HashMap<Vec<Vec<u64>>, &str> = HashMap::new();
    for row in rows(&file) {
        let earlier = *first.entry(forms(&read(row.get("smiles")).structure)).or_insert(row.get("id"));
        let stated = if row.get("same").is_empty() { row.get("id") } else { row.get("same") };
        found.case((earlier != stated).then(|| format!("{}: same as {earlier}, RDKit {stated}", row.get("id"))));
    }
    found.settle(4_999);
}
