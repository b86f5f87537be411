//! Localised forms of aromatic input.
//!
//! Which atoms of a delocalised system carry one of its double bonds is decided from their electrons alone (IUPAC Gold Book
//! 08169, formal charge; LT07065, octet): an atom *can* where the double bond leaves it a possible, not over-full
//! shell; it *must* where leaving it out would make it a radical that nobody drew. Which of its bonds becomes double is a
//! matching of the atoms ([`matching`]). Bonds that are drawn localised are never touched.

mod matching;

use super::{AtomId, BondId, Element, OctetRule, Structure};
use matching::{Graph, Need};
use rustc_hash::FxHashSet;
use std::borrow::Borrow;
use std::cell::RefCell;

/// Delocalised input that has no localised form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoLocalisedForm {
    /// The atoms that need a double bond and are left without one, in the order of the drawing. Another choice of double
    /// bonds may leave others, but never fewer.
    pub atoms: Vec<AtomId>,
}

/// What a double bond of the delocalised system would do to one of its atoms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It has no room for one: the N of pyrrole, the O of furan.
    Cannot,
    /// It may have one or go without: the bare C of a phenyl radical.
    May,
    /// It must have one: the CH of benzene, the N of pyridine.
    Must,
}

/// The usual octet, which every atom keeps that is not drawn beyond it.
const OCTET: i32 = 8;

/// The role of an atom in the delocalised system. Its delocalised bonds count as single ones, whatever form they have now.
#[must_use]
pub fn role(structure: &Structure, id: AtomId) -> Role {
    let atom = structure.atom(id);
    let mut sigma = i32::from(atom.hydrogens);
    for (_, bond) in structure.neighbours(id) {
        let bond = structure.bond(bond);
        sigma += if bond.aromatic { 1 } else { i32::from(bond.order) };
    }
    role_by_count(atom.element, i32::from(atom.charge), sigma, atom.unpaired)
}

/// The role of an atom of an element with this charge, whose bonds to hydrogens and others come to `sigma` where
/// delocalised ones count as single.
#[must_use]
pub fn role_by_count(element: Element, charge: i32, sigma: i32, unpaired: Option<u8>) -> Role {
    let Some(valence) = element.valence_electrons() else { return Role::May };
    // Non-bonding electrons without and with the double bond; the second count is the first less one.
    let without = valence - charge - sigma;
    let with = without - 1;
    if with < 0 {
        return Role::Cannot;
    }
    let shell = 2 * (sigma + 1) + with;
    let odd = without % 2 != 0;
    let holds = element.shell(OctetRule::Usual).unwrap_or(i32::MAX);
    if shell > holds.min(OCTET) && !(odd && shell <= holds) {
        return Role::Cannot;
    }
    match unpaired {
        // The drawing says whether the count is odd.
        Some(stated) if odd == (stated % 2 != 0) => Role::Cannot,
        Some(_) => Role::Must,
        None if odd => Role::Must,
        None => Role::May,
    }
}

/// Chooses a localised form: every delocalised bond gets order 1 or 2 and stays marked as delocalised. Atoms that may go
/// without a double bond get one where that is possible. Does nothing where nothing is delocalised.
///
/// # Errors
/// [`NoLocalisedForm`], and the structure as it was, if an atom that must have a double bond cannot be given one.
pub fn localise(structure: &mut Structure) -> Result<(), NoLocalisedForm> {
    if !structure.is_delocalised() && !structure.atoms().any(|(_, atom)| atom.aromatic) {
        return Ok(());
    }
    SYSTEM.with_borrow_mut(|system| {
        system.take(structure, &Demands::default()).ok_or_else(|| NoLocalisedForm { atoms: Vec::new() })?;
        let left = system.graph.match_all();
        if !left.is_empty() {
            let mut atoms: Vec<_> = left.into_iter().map(|vertex| system.atoms[vertex as usize]).collect();
            atoms.sort_unstable();
            return Err(NoLocalisedForm { atoms });
        }
        apply(structure, system.double_bonds());
        Ok(())
    })
}

thread_local! {
    static SYSTEM: RefCell<System> = RefCell::default();
}

/// The delocalised bonds that are double in a localised form in which each of the listed bonds is double (`true`) or not
/// (`false`), in the order of the drawing; `None` where there is no such form. A listed bond that is drawn localised cannot
/// be changed: there is a form only if it is as listed. Where one bond is listed twice, both must hold.
#[must_use]
pub fn localise_with(structure: &Structure, fixed: &[(BondId, bool)]) -> Option<Vec<BondId>> {
    let demands = Demands::new(structure, fixed)?;
    SYSTEM.with_borrow_mut(|system| {
        system.take(structure, &demands)?;
        system.graph.match_musts().then(|| {
            let mut double = demands.double;
            double.extend(system.double_bonds());
            double.sort_unstable();
            double
        })
    })
}

/// Gives every delocalised bond order 2 if it is listed and order 1 if not. Bonds that are drawn localised stay.
pub fn apply(structure: &mut Structure, double: impl IntoIterator<Item: Borrow<BondId>>) {
    for id in structure.bond_ids() {
        let bond = structure.bond_mut(id);
        if bond.aromatic {
            bond.order = 1;
        }
    }
    for id in double {
        let bond = structure.bond_mut(*id.borrow());
        if bond.aromatic {
            bond.order = 2;
        }
    }
}

/// The atoms that can have a double bond and the delocalised bonds between them, as the matching sees them, in buffers that
/// are kept for the next drawing.
#[derive(Debug, Default)]
struct System {
    graph: Graph,
    /// By atom: its bonds where delocalised ones count as single, and whether it has any of those.
    ends: Vec<(i32, bool)>,
    vertex_of: Vec<u32>,
    /// The atom of each vertex, and whether it must have a double bond.
    atoms: Vec<AtomId>,
    needs: Vec<Need>,
    /// The bond of each edge, and its vertices.
    bonds: Vec<BondId>,
    edges: Vec<(u32, u32)>,
}

impl System {
    /// Takes a drawing; `None` if the demands contradict it.
    fn take(&mut self, structure: &Structure, demands: &Demands) -> Option<()> {
        let Self { graph, ends, vertex_of, atoms, needs, bonds, edges } = self;
        ends.clear();
        ends.extend(structure.atoms().map(|(_, atom)| (i32::from(atom.hydrogens), atom.aromatic)));
        for (_, a, b, bond) in structure.bonds() {
            for end in [a, b] {
                let (sigma, takes_part) = &mut ends[end.index()];
                *sigma += if bond.aromatic { 1 } else { i32::from(bond.order) };
                *takes_part |= bond.aromatic;
            }
        }
        vertex_of.clear();
        vertex_of.resize(ends.len(), u32::MAX);
        atoms.clear();
        needs.clear();
        for ((id, atom), (sigma, _)) in structure.atoms().zip(&*ends).filter(|(_, (_, takes_part))| *takes_part) {
            let role = role_by_count(atom.element, i32::from(atom.charge), *sigma, atom.unpaired);
            match (role, demands.gives_double_to(id)) {
                (Role::Cannot, true) => return None,
                (Role::Cannot, false) | (_, true) => continue,
                (Role::May, false) => needs.push(Need::May),
                (Role::Must, false) => needs.push(Need::Must),
            }
            vertex_of[id.index()] = atoms.len() as u32;
            atoms.push(id);
        }
        bonds.clear();
        edges.clear();
        for (id, a, b, _) in structure.bonds().filter(|(.., bond)| bond.aromatic) {
            let (a, b) = (vertex_of[a.index()], vertex_of[b.index()]);
            if a != u32::MAX && b != u32::MAX && !demands.excluded.contains(&id) {
                edges.push((a, b));
                bonds.push(id);
            }
        }
        graph.take(needs, edges);
        Some(())
    }

    /// The bonds of the system that are double, but for demanded ones.
    fn double_bonds(&self) -> impl Iterator<Item = BondId> {
        self.graph.matched_edges().map(|edge| self.bonds[edge as usize])
    }
}

/// The demands of [`localise_with`], sorted out.
#[derive(Debug, Default)]
struct Demands {
    double: Vec<BondId>,
    excluded: FxHashSet<BondId>,
    /// The ends of the demanded double bonds.
    ends: FxHashSet<AtomId>,
}

impl Demands {
    fn new(structure: &Structure, fixed: &[(BondId, bool)]) -> Option<Self> {
        let (mut double, mut excluded) = (Vec::new(), FxHashSet::default());
        for (id, wanted) in fixed {
            let bond = structure.bond(*id);
            match (bond.aromatic, wanted) {
                (false, wanted) if (bond.order == 2) != *wanted => return None,
                (false, _) => {}
                (true, true) => double.push(*id),
                (true, false) => {
                    excluded.insert(*id);
                }
            }
        }
        double.sort_unstable();
        double.dedup();
        let mut demands = Self { double, excluded, ends: FxHashSet::default() };
        for id in &demands.double {
            let (a, b) = structure.ends(*id);
            // Two double bonds of the system never meet in an atom.
            if demands.excluded.contains(id) || !demands.ends.insert(a) || !demands.ends.insert(b) {
                return None;
            }
        }
        Some(demands)
    }

    fn gives_double_to(&self, atom: AtomId) -> bool {
        self.ends.contains(&atom)
    }
}
