//! Drawn electrons: where they are, and whether the atoms can have them.

use super::super::fault::Problem;
use super::ids::Ids;
use super::rows::{BondRow, ElectronRow, Host, Rows, clipped};
use super::{Drawn, ElectronInfo};
use crate::arrows::Place;
use crate::structure::AtomId;
use crate::structure::electrons::Electrons;
use rustc_hash::FxHashMap;

/// Bonds by molecule and id.
type BondNames<'a> = FxHashMap<(u32, &'a str), usize>;

/// Gives every `electron` its atom or bond.
pub(super) fn place<'a>(drawn: &mut Drawn, rows: &'a Rows, ids: &Ids, bond_of: &[Option<(u32, u32)>]) {
    let mut bond_names = BondNames::default();
    if rows.electrons.iter().any(|row| !row.bonds.is_empty()) {
        let named = |(at, bond): (usize, &'a BondRow)| Some(((bond.frame, bond.id.as_deref()?), at));
        bond_names.extend(rows.bonds.iter().enumerate().filter_map(named));
    }
    for row in &rows.electrons {
        let place = match place_of(row, &bond_names, ids, bond_of) {
            Ok(place) => place,
            Err(problem) => {
                drawn.faults.push(problem, row.span);
                None
            }
        };
        drawn.electrons.push(ElectronInfo { id: row.id.clone(), place, count: row.count, span: row.span });
    }
}

fn place_of(
    row: &ElectronRow,
    bond_names: &BondNames,
    ids: &Ids,
    bond_of: &[Option<(u32, u32)>],
) -> Result<Option<Place<u32>>, Problem> {
    match row.host {
        Host::Atom(atom) => return Ok(Some(Place::Atom(atom))),
        Host::Bond(bond) => return Ok(bond_place(bond as usize, bond_of)),
        Host::Molecule => {}
    }
    let mut atoms = Vec::new();
    for id in &row.atoms {
        atoms.push(ids.find(id, row.frame).ok_or_else(|| Problem::DanglingAtom(clipped(id)))?);
    }
    if let [bond] = &row.bonds[..] {
        let found = bond_names.get(&(row.frame, &**bond)).ok_or_else(|| Problem::DanglingBond(clipped(bond)))?;
        return Ok(bond_place(*found, bond_of));
    }
    // Electrons over several bonds or many atoms are delocalised; no arrow moves them as one.
    Ok(match (&atoms[..], row.bonds.is_empty()) {
        ([atom], true) => Some(Place::Atom(*atom)),
        ([a, b], true) => Some(Place::Bond(*a, *b)),
        _ => None,
    })
}

fn bond_place(bond: usize, bond_of: &[Option<(u32, u32)>]) -> Option<Place<u32>> {
    bond_of.get(bond).copied().flatten().map(|(a, b)| Place::Bond(a, b))
}

/// Electrons drawn singly are unpaired, where the atom's spin does not say otherwise.
pub(super) fn unpaired_from_drawn(drawn: &mut Drawn) {
    let mut singles = vec![0_u8; drawn.atoms.len()];
    for electrons in &drawn.electrons {
        if let Some(Place::Atom(atom)) = electrons.place
            && electrons.count % 2 == 1
        {
            let single = &mut singles[atom as usize];
            *single = single.saturating_add(1);
        }
    }
    for (at, single) in singles.into_iter().enumerate().filter(|(_, single)| *single > 0) {
        let atom = drawn.structure.atom_mut(AtomId::new(at));
        atom.unpaired = atom.unpaired.or(Some(single));
    }
}

/// Compares drawn electrons and stated spins with what charge and bonds leave.
pub(super) fn check(drawn: &mut Drawn) {
    let mut on_atoms = vec![0_i64; drawn.atoms.len()];
    for electrons in &drawn.electrons {
        if let Some(Place::Atom(atom)) = electrons.place {
            let on_atom = &mut on_atoms[atom as usize];
            *on_atom = on_atom.saturating_add(electrons.count);
        }
    }
    for (at, on_atom) in on_atoms.into_iter().enumerate() {
        if let Some(problem) = problem_of_atom(drawn, at, on_atom) {
            let span = drawn.structure.atom_span(AtomId::new(at));
            drawn.faults.push(problem, span);
        }
    }
    check_bonds(drawn);
}

fn problem_of_atom(drawn: &Drawn, at: usize, on_atom: i64) -> Option<Problem> {
    let id = AtomId::new(at);
    let atom = drawn.structure.atom(id);
    let left = i64::from(Electrons::of(&drawn.structure, id).non_bonding()?);
    // A negative count is impossible without any drawn electron, and found so by the count itself.
    if left < 0 {
        return None;
    }
    // The bonds of a delocalised atom are counted at their least, so what is left is counted at its most.
    if on_atom > left {
        return Some(Problem::Electrons { atom: drawn.call(at), drawn: on_atom, left });
    }
    let unpaired = i64::from(atom.unpaired?);
    let fits = unpaired <= left && (left - unpaired) % 2 == 0;
    (!fits && !atom.aromatic).then(|| Problem::Unpaired { atom: drawn.call(at), unpaired, left })
}

fn check_bonds(drawn: &mut Drawn) {
    let mut in_bonds = vec![0_i64; drawn.structure.bond_count()];
    let mut last = vec![crate::source::Span::default(); in_bonds.len()];
    for electrons in &drawn.electrons {
        if let Some(Place::Bond(a, b)) = electrons.place
            && let Some(bond) = drawn.structure.bond_between(AtomId::from(a), AtomId::from(b))
        {
            let in_bond = &mut in_bonds[bond.index()];
            *in_bond = in_bond.saturating_add(electrons.count);
            last[bond.index()] = electrons.span;
        }
    }
    let mut problems = Vec::new();
    for (id, a, b, bond) in drawn.structure.bonds() {
        let (drawn_in, holds) = (in_bonds[id.index()], 2 * i64::from(bond.order));
        if drawn_in > holds && !bond.aromatic {
            let (a, b) = (drawn.call(a.index()), drawn.call(b.index()));
            let problem = Problem::BondElectrons { a, b, drawn: drawn_in, holds };
            problems.push((problem, last[id.index()]));
        }
    }
    for (problem, span) in problems {
        drawn.faults.push(problem, span);
    }
}
