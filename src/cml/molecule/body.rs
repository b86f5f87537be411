//! Putting a molecule together: the graph, then what depends on the whole of it.

use super::super::fault::Problem;
use super::ids::{Ids, atoms_inside};
use super::rows::{AtomRow, BondRow, Rows, clipped};
use super::{AtomInfo, BondInfo, Drawn, electrons, spin, stereo};
use crate::source::Span;
use crate::structure::{AtomId, Bond, Element, Point, Structure, valence};
use rustc_hash::FxHashSet;

/// See the module.
pub(super) fn build(rows: &Rows, span: Span) -> Drawn {
    let mut drawn = Drawn { refers_to: rows.refers_to.clone(), span, ..Drawn::default() };
    drawn.faults.clone_from(&rows.faults);
    let ids = Ids::new(&rows.atoms, &rows.frames);
    add_atoms(&mut drawn, &rows.atoms);
    repeated_atoms(&mut drawn, &rows.atoms);
    let bond_of = add_bonds(&mut drawn, &rows.bonds, &ids);
    electrons::place(&mut drawn, rows, &ids, &bond_of);
    electrons::unpaired_from_drawn(&mut drawn);
    add_hydrogens(&mut drawn, &rows.atoms);
    drawn.frames.clone_from(&rows.frames);
    spin::settle(&mut drawn, &rows.atoms);
    electrons::check(&mut drawn);
    check_charges(&mut drawn);
    drawn.structure.coordinates = complete_coordinates(&rows.atoms);
    stereo::settle(&mut drawn, rows, &ids, &bond_of);
    drawn
}

fn add_atoms(drawn: &mut Drawn, rows: &[AtomRow]) {
    drawn.structure = Structure::with_capacity(rows.len());
    for row in rows {
        drawn.structure.add_atom(row.atom, row.span);
        drawn.atoms.push(AtomInfo { id: row.id.clone(), frame: row.frame, unlabelled: row.unlabelled });
        if !row.has_element {
            let name = drawn.call(drawn.atoms.len() - 1);
            drawn.faults.push(Problem::NoElement(name), row.span);
        }
    }
}

fn repeated_atoms(drawn: &mut Drawn, rows: &[AtomRow]) {
    let mut seen = FxHashSet::default();
    for row in rows {
        if let Some(id) = row.id.as_deref()
            && !seen.insert((row.frame, id))
        {
            drawn.faults.push(Problem::RepeatedAtom(clipped(id)), row.span);
        }
    }
}

/// Adds the bonds and returns, for each row, the ends of the bond that it became.
fn add_bonds(drawn: &mut Drawn, rows: &[BondRow], ids: &Ids) -> Vec<Option<(u32, u32)>> {
    let mut bonded = FxHashSet::default();
    let mut names = FxHashSet::default();
    let mut bond_of = Vec::with_capacity(rows.len());
    for row in rows {
        if let Some(id) = row.id.as_deref()
            && !names.insert((row.frame, id))
        {
            drawn.faults.push(Problem::RepeatedBondId(clipped(id)), row.span);
        }
        let found = ends(drawn, row, ids).and_then(|ends| {
            let key = (ends.0.min(ends.1), ends.0.max(ends.1));
            if bonded.insert(key) {
                return Ok(ends);
            }
            Err(Problem::RepeatedBond(drawn.call(ends.0 as usize), drawn.call(ends.1 as usize)))
        });
        let ends = match found {
            Ok(ends) => ends,
            Err(problem) => {
                drawn.faults.push(problem, row.ends_span);
                bond_of.push(None);
                continue;
            }
        };
        add_bond(drawn, row, ends);
        bond_of.push(Some(ends));
    }
    bond_of
}

fn ends(drawn: &Drawn, row: &BondRow, ids: &Ids) -> Result<(u32, u32), Problem> {
    let [a, b] = &row.ends[..] else {
        let many = row.many_centred || row.ends.len() > 2;
        return Err(if many { Problem::MultiCentre } else { Problem::BondEnds(row.ends.len()) });
    };
    let find = |id: &str| ids.find(id, row.frame).ok_or_else(|| Problem::DanglingAtom(clipped(id)));
    let (a, b) = (find(a)?, find(b)?);
    if a == b { Err(Problem::SelfBond(drawn.call(a as usize))) } else { Ok((a, b)) }
}

fn add_bond(drawn: &mut Drawn, row: &BondRow, ends: (u32, u32)) {
    let bond = match order(row.order.as_deref()) {
        Ok(bond) => bond,
        Err(order) => {
            let name = row.id.as_deref().map_or_else(|| row.ends.join("-"), clipped);
            let problem = order.map_or(Problem::NoOrder(name), Problem::Order);
            drawn.faults.push(problem, row.order_span);
            // Kept as a single bond so that the rest of the drawing holds together; the item is unreadable anyway.
            Bond::new(1)
        }
    };
    let (a, b) = (AtomId::from(ends.0), AtomId::from(ends.1));
    drawn.structure.add_bond(a, b, bond, row.span);
    if bond.aromatic {
        drawn.structure.atom_mut(a).aromatic = true;
        drawn.structure.atom_mut(b).aromatic = true;
    }
    if let Some(id) = &row.id {
        drawn.bonds.push(BondInfo { id: id.clone(), ends });
    }
}

/// The bond of an `order`; else the order that is none, or nothing where none is stated.
fn order(text: Option<&str>) -> Result<Bond, Option<String>> {
    match text {
        Some("S" | "1") => Ok(Bond::new(1)),
        Some("D" | "2") => Ok(Bond::new(2)),
        Some("T" | "3") => Ok(Bond::new(3)),
        Some("A") => Ok(Bond::delocalised()),
        other => Err(other.map(clipped)),
    }
}

/// Undrawn hydrogens: the stated total less those drawn, or by the valence rule where no total is stated.
fn add_hydrogens(drawn: &mut Drawn, rows: &[AtomRow]) {
    for (at, row) in rows.iter().enumerate() {
        let id = AtomId::new(at);
        let Some((stated, span)) = row.hydrogens else {
            drawn.structure.atom_mut(id).hydrogens = valence::implicit_hydrogens(&drawn.structure, id);
            continue;
        };
        let neighbours = drawn.structure.neighbours(id);
        let is_hydrogen = |atom: AtomId| drawn.structure.atom(atom).element == Element::HYDROGEN;
        let on_it = neighbours.filter(|(other, _)| is_hydrogen(*other)).count() as u32;
        // The hydrogen of H2 is not "on" the other one; programs write a count of 0 there.
        if on_it > stated && !is_hydrogen(id) {
            let problem = Problem::Hydrogens { atom: drawn.call(at), stated, drawn: on_it };
            drawn.faults.push(problem, span);
        }
        drawn.structure.atom_mut(id).hydrogens = stated.saturating_sub(on_it) as u16;
    }
}

/// Compares the charge that a molecule states with its atoms'.
fn check_charges(drawn: &mut Drawn) {
    for (at, inside) in atoms_inside(drawn).into_iter().enumerate() {
        let frame = &drawn.frames[at];
        // A molecule without atoms is not drawn, which is said elsewhere; its charge says nothing more.
        let Some((stated, span)) = frame.charge.filter(|_| !inside.is_empty()) else { continue };
        let own = frame.count.max(1);
        let of_atom = |at: usize| {
            let copies = drawn.frames[drawn.atoms[at].frame as usize].count / own;
            i64::from(drawn.structure.atom(AtomId::new(at)).charge) * i64::from(copies)
        };
        let sum: i64 = inside.map(of_atom).sum();
        if sum != stated {
            drawn.faults.push(Problem::Charge { stated, sum }, span);
        }
    }
}

fn complete_coordinates(rows: &[AtomRow]) -> Vec<Point> {
    rows.iter().map(|row| Some(Point { x: row.x?, y: row.y? })).collect::<Option<_>>().unwrap_or_default()
}
