//! The contributors of compounds that textbooks discuss: the same list from each member, beside RDKit's lists and the reasons for
//! each difference.
//!
//! `corpus/witness/compounds.jsonl` holds what RDKit lists, `compounds.tsv` what is expected of us: how many contributors in all
//! and of the first rank, worked out by hand, and the differences by letter. What a letter stands for is decided by [`kind`]; two
//! of them are reasons of their own, the others have theirs in the last column.

use super::witness::{Disagreements, rows, text};
use keyassay::limits::Limits;
use keyassay::resonance::{Bounds, Contributors, contributors};
use keyassay::smiles::{Labels, read, write};
use keyassay::structure::electrons::Electrons;
use keyassay::structure::{AtomId, OctetRule, Structure};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Deserialize)]
struct Listed {
    id: String,
    start: String,
    contributors: Vec<String>,
    further: Option<Vec<String>>,
}

fn found(start: &Structure, more_gaps: u32) -> Contributors {
    let most = Limits::default().contributors;
    contributors(start, &Bounds { octet: OctetRule::Usual, most, more_gaps })
}

/// Charges by label, and orders of bonds by the labels of their ends: what makes a form.
type Form = Vec<(u32, u32, i32)>;

fn form(drawing: &Structure) -> Form {
    let label = |atom: AtomId| drawing.atom(atom).class.expect("every atom is labelled");
    let own = drawing.atoms().map(|(id, atom)| (label(id), label(id), i32::from(atom.charge)));
    let shared =
        drawing.bonds().map(|(_, a, b, bond)| (label(a).min(label(b)), label(a).max(label(b)), i32::from(bond.order)));
    let mut form: Form = own.chain(shared).collect();
    form.sort_unstable();
    form
}

fn shells(drawing: &Structure) -> impl Iterator<Item = (i32, i32)> {
    drawing.atom_ids().filter_map(|id| {
        let own = Electrons::of(drawing, id);
        Some((own.valence?, own.shell()?))
    })
}

/// Gaps in octets, one for each pair or single electron that is lacking.
fn gaps(drawing: &Structure) -> i32 {
    let expects = shells(drawing).filter(|(valence, _)| *valence >= 4);
    expects.map(|(_, shell)| ((8 - shell).max(0) + 1) / 2).sum()
}

fn is_radical(drawing: &Structure) -> bool {
    drawing.atom_ids().any(|id| Electrons::of(drawing, id).non_bonding().is_some_and(|own| own % 2 == 1))
}

fn has_boron(drawing: &Structure) -> bool {
    shells(drawing).any(|(valence, _)| valence == 3)
}

/// Ranked forms by their labels: what a list says, however its atoms are ordered.
fn ranked(list: &Contributors) -> Vec<(u32, Form)> {
    list.list.iter().filter(|own| !own.is_outside).map(|own| (own.place, form(&own.structure))).collect()
}

/// Members of one compound that are asked with at most.
const MEMBERS: usize = 12;
/// Contributors of a compound up to which a form beyond its list is asked with too.
const FEW: usize = 12;

#[test]
fn each_member_gives_the_list_of_its_compound() {
    let mut disagreements = Disagreements::default();
    let mut members = 0;
    for line in text("compounds.jsonl").lines() {
        let one: Listed = serde_json::from_str(line).expect("a record");
        let whole = found(&read(&one.start).structure, 0);
        let expected = ranked(&whole);
        // Members, each written with its atoms in another order, and a form with one octet more open that is none.
        let is_none = |drawing: &Structure| !expected.iter().any(|(_, listed)| *listed == form(drawing));
        let beyond = if expected.len() > FEW { Contributors::default() } else { found(&read(&one.start).structure, 1) };
        // A ring of six holds the allene of benzyne that is drawn, and no other.
        let is_none = |drawing: &Structure| one.id != "benzyne" && is_none(drawing);
        let outside = beyond.list.iter().rev().find(|own| is_none(&own.structure)).map(|own| (own, false));
        let every = whole.list.len().div_ceil(MEMBERS);
        for (own, is_member) in whole.list.iter().step_by(every).map(|own| (own, true)).chain(outside) {
            let written = write(&own.structure, Labels::Classes);
            members += usize::from(is_member);
            let again = found(&read(&written).structure, 0);
            let is_marked = again.list.last().is_some_and(|last| last.is_outside);
            let agrees = ranked(&again) == expected && is_marked != is_member && again.is_complete;
            disagreements.case((!agrees).then(|| format!("{}: {written} gives another list", one.id)));
        }
    }
    disagreements.settle(1_000);
    assert!(members > 850, "{members}");
}

/// Why a form stands in one list and not in the other.
///
/// Ours alone:
/// `x` the compound is drawn with shells beyond eight, which RDKit leaves as they are given;
/// `r` RDKit moves no unpaired electrons, or few;
/// `b` boron with an octet, which RDKit does not draw;
/// `o` one octet more open and no more charges than the best form (acylium, carbenes, iminium), which RDKit mostly leaves out;
/// `d` as many full octets as the best form, charges apart: RDKit lists it only with the flags of `further`;
/// `n` the same, and in neither of RDKit's lists: the last column says why it is right.
/// RDKit's alone:
/// `A` more open octets and more charges than our list allows: `--all` and beyond;
/// `E` another number of electrons, or of unpaired ones: no resonance;
/// `P` as many full octets as the best form: the last column says why it is left out.
fn kind(ours: &Structure, best: i32, further: &BTreeSet<Form>, is_expanded: bool) -> char {
    match () {
        () if is_expanded => 'x',
        () if is_radical(ours) => 'r',
        () if has_boron(ours) => 'b',
        () if gaps(ours) > best => 'o',
        () if further.contains(&form(ours)) => 'd',
        () => 'n',
    }
}

fn kind_of_theirs(theirs: &Structure, best: i32, start: &Structure) -> char {
    let unpaired =
        |of: &Structure| of.atom_ids().map(|atom| keyassay::structure::electrons::unpaired(of, atom)).sum::<i32>();
    match () {
        () if theirs.net_charge() != start.net_charge() || unpaired(theirs) != unpaired(start) => 'E',
        () if gaps(theirs) > best => 'A',
        () => 'P',
    }
}

#[test]
fn each_difference_from_rdkit_has_its_reason() {
    let table = text("compounds.tsv");
    let expected: BTreeMap<String, (String, String)> = rows(&table)
        .iter()
        .map(|row| {
            let counts = format!("{}\t{}\t{}", row.get("contributors"), row.get("first"), row.get("differences"));
            (row.get("compound").to_owned(), (counts, row.get("why").to_owned()))
        })
        .collect();
    let mut disagreements = Disagreements::default();
    let mut seen = BTreeSet::new();
    for line in text("compounds.jsonl").lines() {
        let one: Listed = serde_json::from_str(line).expect("a record");
        let list = found(&read(&one.start).structure, 0);
        let ours: BTreeMap<Form, &Structure> =
            list.list.iter().map(|own| (form(&own.structure), &own.structure)).collect();
        let best = list.list.iter().map(|own| gaps(&own.structure)).min().unwrap_or(0);
        let is_expanded = list.list.iter().any(|own| shells(&own.structure).any(|(_, shell)| shell > 8));
        let theirs = |list: &[String]| -> BTreeMap<Form, Structure> {
            list.iter().map(|text| read(text).structure).map(|drawing| (form(&drawing), drawing)).collect()
        };
        let (usual, further) = (theirs(&one.contributors), theirs(one.further.as_deref().unwrap_or_default()));
        let further_forms: BTreeSet<Form> = further.keys().cloned().collect();
        let mut kinds: BTreeMap<char, usize> = BTreeMap::new();
        for (_, drawing) in ours.iter().filter(|(form, _)| !usual.contains_key(*form)) {
            *kinds.entry(kind(drawing, best, &further_forms, is_expanded)).or_default() += 1;
        }
        for (_, drawing) in usual.iter().chain(&further).filter(|(form, _)| !ours.contains_key(*form)) {
            *kinds.entry(kind_of_theirs(drawing, best, &read(&one.start).structure)).or_default() += 1;
        }
        let kinds: Vec<String> = kinds.iter().map(|(kind, count)| format!("{kind}{count}")).collect();
        let is_argued = kinds.iter().any(|kind| kind.starts_with(['n', 'P']));
        let made = format!("{}\t{}\t{}", list.list.len(), list.first_rank().count(), kinds.join(" "));
        let is_right =
            expected.get(&one.id).is_some_and(|(counts, why)| *counts == made && (!is_argued || !why.is_empty()));
        disagreements.case((!is_right).then(|| format!("{}\t{made}\t{:?}", one.id, expected.get(&one.id))));
        seen.insert(one.id);
    }
    assert_eq!(seen, expected.into_keys().collect(), "compounds of both files");
    disagreements.settle(200);
}
