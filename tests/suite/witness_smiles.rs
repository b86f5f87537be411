//! SMILES against the OpenSMILES 1.0 specification and against what three libraries read (sources: `corpus/witness/README.md`).

use super::witness::{Disagreements, Row, rows, text};
use keyassay::smiles::{Options, read, read_with};
use keyassay::structure::AtomId;
use keyassay::structure::localise::localise;

fn refused(smiles: &str, relaxed: bool) -> Option<String> {
    let reading = read_with(smiles, &Options { relaxed, ..Options::default() });
    reading.faults.first().map(|error| error.fault.to_string())
}

fn localises(smiles: &str) -> bool {
    localise(&mut read(smiles).structure).is_ok()
}

fn verdict(row: &Row) -> Option<String> {
    let smiles = row.get("smiles");
    let (strict, relaxed) = (refused(smiles, false), refused(smiles, true));
    let agrees = match row.get("verdict") {
        "accept" => strict.is_none() && relaxed.is_none() && localises(smiles),
        "no-localised-form" => strict.is_none() && relaxed.is_none() && !localises(smiles),
        // What has one reading all the same is read, and a note says so.
        "reject" => (strict.is_some() && relaxed.is_some()) || !read(smiles).loose.is_empty(),
        // What relaxed readers may take, a strict one refuses. The relaxed reading of this library takes only some.
        "relaxed" => strict.is_some(),
        other => panic!("no verdict {other}"),
    };
    (!agrees).then(|| format!("{smiles}: {} expected; strict {strict:?}, relaxed {relaxed:?}", row.get("verdict")))
}

#[test]
fn opensmiles_strings_are_taken_and_refused_as_specified() {
    let file = text("opensmiles.tsv");
    let mut found = Disagreements::default();
    for row in rows(&file) {
        found.case(verdict(&row));
    }
    found.settle(147);
}

fn first_hydrogens(smiles: &str) -> Option<u16> {
    let reading = read(smiles);
    reading.faults.is_empty().then(|| reading.structure.atom(AtomId::new(0)).hydrogens)
}

/// Hydrogens of the organic subset, and the same atoms with their hydrogens written. Where libraries differ from the
/// specification, the specification is followed; 22 of the 61 strings are such, all of them RDKit's.
#[test]
fn hydrogens_follow_the_specification() {
    let file = text("valence.tsv");
    let mut found = Disagreements::default();
    let mut libraries_differ = 0;
    for row in rows(&file) {
        let specified = row.get("specification");
        libraries_differ +=
            usize::from(["cdk", "openbabel", "rdkit"].iter().any(|&column| row.get(column) != specified));
        let read = first_hydrogens(row.get("smiles"));
        let agrees = read == specified.parse().ok();
        found.case((!agrees).then(|| format!("{}: {read:?} hydrogens, {specified} specified", row.get("smiles"))));
        found.case(bracketed(&row));
    }
    found.settle(122);
    assert_eq!(libraries_differ, 22);
}

/// `N3` is nitrogen with three neighbours; in brackets every hydrogen is written and none is added.
fn bracketed(row: &Row) -> Option<String> {
    let smiles = row.get("bracketed");
    let written: u16 = match smiles.split_once(']').and_then(|(atom, _)| atom.rsplit_once('H')) {
        None => 0,
        Some((_, "")) => 1,
        Some((_, count)) => count.parse().expect("a count of hydrogens"),
    };
    let read = first_hydrogens(smiles);
    (read != Some(written)).then(|| format!("{smiles}: {read:?} hydrogens, {written} written"))
}
