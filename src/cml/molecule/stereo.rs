//! Marks of stereochemistry, settled into parities that no longer depend on the notation.
//!
//! An `atomParity` is the sign of the chiral volume of its four atoms (schema 3, `atomParity`): positive is clockwise, seen
//! from the first. A ligand that is not drawn is named by the atom itself. `bondStereo` C and T compare the sides of
//! two ligands of a double bond; W and H are read with the coordinates ([`wedge`](super::wedge)).

use super::super::fault::Problem;
use super::ids::Ids;
use super::rows::{Host, MarkKind, MarkRow, Rows, clipped};
use super::wedge::undrawn_neighbour;
use super::{Drawn, wedge};
use crate::structure::stereo::{Centre, DoubleBond, Geometry, Neighbour};
use crate::structure::{AtomId, Structure};
use rustc_hash::{FxHashMap, FxHashSet};
use smallvec::SmallVec;

/// Settles all marks of a molecule.
pub(super) fn settle(drawn: &mut Drawn, rows: &Rows, ids: &Ids, bond_of: &[Option<(u32, u32)>]) {
    let mut marked = Marked::default();
    for mark in &rows.marks {
        let settled = match mark.kind {
            MarkKind::Parity(positive) => {
                parity(drawn, mark, positive, ids).and_then(|centre| marked.add_centre(centre))
            }
            MarkKind::Sides(same) => sides(drawn, mark, same, ids, bond_of).and_then(|bond| marked.add_bond(bond)),
            MarkKind::Wedge(towards) => marked.add_wedge(mark, towards, bond_of),
        };
        if let Err(problem) = settled {
            drawn.faults.push(problem, mark.span);
        }
    }
    for (atom, wedges) in marked.wedges {
        // The schema prefers parities: one at the same atom decides.
        if marked.centre_at.contains(&atom) {
            continue;
        }
        match wedge::centre(&drawn.structure, &rows.atoms, AtomId::from(atom), &wedges.marks) {
            Ok(centre) => marked.centres.push(centre),
            Err(reason) => drawn.faults.push(Problem::IdleStereo(reason), wedges.span),
        }
    }
    marked.centres.sort_by_key(|centre| centre.atom);
    drawn.structure.stereo.centres = marked.centres;
    drawn.structure.stereo.double_bonds = marked.double_bonds;
}

#[derive(Default)]
struct Wedges {
    marks: SmallVec<[(AtomId, bool); 2]>,
    span: crate::source::Span,
}

#[derive(Default)]
struct Marked {
    centres: Vec<Centre>,
    centre_at: FxHashSet<u32>,
    double_bonds: Vec<DoubleBond>,
    bond_at: FxHashMap<(AtomId, AtomId), usize>,
    /// Wedges by the atom at their narrow end, in the order of the document.
    wedges: Vec<(u32, Wedges)>,
    wedges_at: FxHashMap<u32, usize>,
}

impl Marked {
    fn add_centre(&mut self, centre: Centre) -> Result<(), Problem> {
        if !self.centre_at.insert(centre.atom.index() as u32) {
            return Err(Problem::IdleStereo("the atom has two parities"));
        }
        self.centres.push(centre);
        Ok(())
    }

    fn add_bond(&mut self, bond: DoubleBond) -> Result<(), Problem> {
        let [a, b] = bond.ends;
        if self.bond_at.insert((a.min(b), a.max(b)), self.double_bonds.len()).is_some() {
            return Err(Problem::IdleStereo("the bond is marked twice"));
        }
        self.double_bonds.push(bond);
        Ok(())
    }

    fn add_wedge(&mut self, mark: &MarkRow, towards: bool, bond_of: &[Option<(u32, u32)>]) -> Result<(), Problem> {
        let Host::Bond(bond) = mark.host else {
            return Err(Problem::IdleStereo("a wedge belongs inside its bond"));
        };
        // A bond that could not be read has been reported.
        let Some((narrow, wide)) = bond_of.get(bond as usize).copied().flatten() else { return Ok(()) };
        let at = *self.wedges_at.entry(narrow).or_insert(self.wedges.len());
        if at == self.wedges.len() {
            self.wedges.push((narrow, Wedges { span: mark.span, ..Wedges::default() }));
        }
        self.wedges[at].1.marks.push((AtomId::from(wide), towards));
        Ok(())
    }
}

fn find(ids: &Ids, id: &str, frame: u32) -> Result<AtomId, Problem> {
    ids.find(id, frame).map(AtomId::from).ok_or_else(|| Problem::DanglingAtom(clipped(id)))
}

fn parity(drawn: &Drawn, mark: &MarkRow, positive: bool, ids: &Ids) -> Result<Centre, Problem> {
    let Host::Atom(own) = mark.host else { return Err(Problem::IdleStereo("a parity belongs inside its atom")) };
    let own = AtomId::from(own);
    let mut named = SmallVec::<[AtomId; 4]>::new();
    for id in &mark.references {
        named.push(find(ids, id, mark.frame)?);
    }
    let mut sorted = named.clone();
    sorted.sort_unstable();
    sorted.dedup();
    if named.len() != 4 || sorted.len() != 4 {
        return Err(Problem::IdleStereo("atomRefs4 does not name four different atoms"));
    }
    let centre = tetrahedral(&drawn.structure, own, &named, positive);
    match centre {
        Ok(centre) => Ok(centre),
        Err(reason) => allene(&drawn.structure, own, &named, positive).ok_or(Problem::IdleStereo(reason)),
    }
}

fn tetrahedral(structure: &Structure, own: AtomId, named: &[AtomId], positive: bool) -> Result<Centre, &'static str> {
    let drawn: SmallVec<[AtomId; 4]> = structure.neighbours(own).map(|(atom, _)| atom).take(5).collect();
    let strange = named.iter().any(|atom| *atom != own && !drawn.contains(atom));
    if strange {
        return Err("atomRefs4 names an atom that is not bonded to this one");
    }
    // The atom itself stands for the neighbour that the others leave.
    let left = drawn.iter().find(|atom| !named.contains(atom));
    let stand_in = match (drawn.len(), left) {
        (4, None) => Neighbour::LonePair,
        (4, Some(left)) => Neighbour::Atom(*left),
        (3, None) => undrawn_neighbour(structure, own)?,
        _ => return Err("the atom has not four ligands"),
    };
    let neighbours = named.iter().map(|atom| if *atom == own { stand_in } else { Neighbour::Atom(*atom) }).collect();
    Ok(Centre { atom: own, geometry: Geometry::Tetrahedral, neighbours, clockwise: positive })
}

/// The middle of a cumulene of three atoms. The neighbours of its two ends stand as the ligands of a stretched tetrahedron;
/// an end stands for its own undrawn hydrogen.
fn allene(structure: &Structure, own: AtomId, named: &[AtomId], positive: bool) -> Option<Centre> {
    let ends: SmallVec<[AtomId; 2]> = structure.neighbours(own).map(|(atom, _)| atom).take(3).collect();
    let [first, second] = ends[..] else { return None };
    let doubled = |end: AtomId| structure.bond_between(own, end).is_some_and(|bond| structure.bond(bond).order == 2);
    if !doubled(first) || !doubled(second) || named.contains(&own) {
        return None;
    }
    let mut clockwise = positive;
    let mut sorted: SmallVec<[(usize, Neighbour); 4]> = SmallVec::new();
    for atom in named {
        let end =
            [first, second].iter().position(|end| end == atom || structure.bond_between(*end, *atom).is_some())?;
        let is_end = *atom == first || *atom == second;
        if is_end && structure.atom(*atom).hydrogens != 1 {
            return None;
        }
        sorted.push((end, if is_end { Neighbour::Hydrogen } else { Neighbour::Atom(*atom) }));
    }
    // Ligands of the first named one's end come first. Every exchange of two neighbours turns the sense round.
    let lead = sorted.first()?.0;
    for round in 0..sorted.len() {
        for at in 1..sorted.len() - round {
            if sorted[at - 1].0 != lead && sorted[at].0 == lead {
                sorted.swap(at - 1, at);
                clockwise = !clockwise;
            }
        }
    }
    let balanced = sorted.iter().filter(|(end, _)| *end == lead).count() == 2;
    let neighbours = sorted.into_iter().map(|(_, neighbour)| neighbour).collect();
    balanced.then_some(Centre { atom: own, geometry: Geometry::Allene, neighbours, clockwise })
}

fn sides(
    drawn: &Drawn,
    mark: &MarkRow,
    same_side: bool,
    ids: &Ids,
    bond_of: &[Option<(u32, u32)>],
) -> Result<DoubleBond, Problem> {
    let structure = &drawn.structure;
    let host = match mark.host {
        Host::Bond(bond) => bond_of.get(bond as usize).copied().flatten(),
        _ => None,
    };
    let host = host.map(|(a, b)| [AtomId::from(a), AtomId::from(b)]);
    let (ends, references) = if mark.references.is_empty() {
        let ends = host.ok_or(Problem::IdleStereo("it belongs to no bond"))?;
        let only = |end, other| only_ligand(structure, end, other);
        let none = Problem::IdleStereo("C and T without atomRefs4 need one drawn ligand at each end");
        (ends, [only(ends[0], ends[1]).ok_or(none.clone())?, only(ends[1], ends[0]).ok_or(none)?])
    } else {
        let mut named = SmallVec::<[AtomId; 4]>::new();
        for id in &mark.references {
            named.push(find(ids, id, mark.frame)?);
        }
        let [r1, e1, e2, r2] = named[..] else {
            return Err(Problem::IdleStereo("atomRefs4 does not name four atoms"));
        };
        ([e1, e2], [r1, r2])
    };
    let elsewhere = host.is_some_and(|host| host != ends && host != [ends[1], ends[0]]);
    let bonded = structure.bond_between(ends[0], references[0]).is_some()
        && structure.bond_between(ends[1], references[1]).is_some()
        && references[0] != ends[1]
        && references[1] != ends[0];
    if elsewhere || !bonded {
        return Err(Problem::IdleStereo("atomRefs4 does not run along the bond from ligand to ligand"));
    }
    let order = structure.bond_between(ends[0], ends[1]).map(|bond| structure.bond(bond).order);
    if order != Some(2) {
        return Err(Problem::IdleStereo("the bond is not double"));
    }
    Ok(DoubleBond { ends, references, same_side })
}

fn only_ligand(structure: &Structure, end: AtomId, other: AtomId) -> Option<AtomId> {
    let mut ligands = structure.neighbours(end).map(|(atom, _)| atom).filter(|atom| *atom != other);
    let ligand = ligands.next()?;
    ligands.next().is_none().then_some(ligand)
}
