//! How the view is laid: hydrogens folded, nodes numbered species by species, bonds noted at both ends.

use super::{Arc, Node, Skeleton};
use crate::structure::localise::{Role, role_by_count};
use crate::structure::{Atom, AtomId, BondId, Element, Structure, rings};
use std::ops::Range;

#[derive(Debug, Clone, Default)]
pub(super) struct Scratch {
    /// The species of each atom.
    root: Vec<u32>,
    /// By atom: the atom that a hydrogen is folded into, or a mark. Empty where no hydrogen is drawn that might fold.
    fold: Vec<u32>,
    counts: Vec<u32>,
    links: Vec<Link>,
    rings: rings::Walk,
}

/// A bond between two nodes.
#[derive(Debug, Clone, Copy)]
struct Link {
    a: u32,
    b: u32,
    bond: BondId,
    order: u8,
    free: bool,
}

impl Scratch {
    fn is_folded(&self, atom: u32) -> bool {
        self.fold.get(atom as usize).is_some_and(|fold| *fold != STAYS)
    }
}

/// The atom stays a node.
const STAYS: u32 = u32::MAX;

impl Skeleton {
    /// Turns this into the view of another drawing, reusing its memory.
    pub fn rebuild(&mut self, structure: &Structure) {
        self.fold_hydrogens(structure);
        let species = number_species(structure, &mut self.scratch.root);
        self.place_nodes(structure, species);
        self.add_arcs(structure);
        self.mark_rings();
        self.is_loose = self.has_free && self.has_loose();
    }

    /// Looks at all atoms, and notes which hydrogens are counted at their neighbours.
    fn fold_hydrogens(&mut self, structure: &Structure) {
        let (mut may_fold, mut states_unpaired) = (false, false);
        for (_, atom) in structure.atoms() {
            may_fold |= is_plain_hydrogen(atom);
            states_unpaired |= atom.unpaired.is_some();
        }
        self.states_unpaired = states_unpaired;
        let fold = &mut self.scratch.fold;
        fold.clear();
        if !may_fold {
            return;
        }
        let host = |id| folds_into(structure, id).map_or(STAYS, |host| host.index() as u32);
        fold.extend(structure.atom_ids().map(host));
    }

    /// Numbers the nodes, whose species are known.
    fn place_nodes(&mut self, structure: &Structure, species: u32) {
        self.count_nodes(species);
        let Self { nodes, atoms, hosts, scratch, .. } = self;
        let Scratch { root, fold, counts, .. } = scratch;
        if fold.is_empty() && root.is_sorted() {
            // The nodes are the atoms in their order.
            nodes.clear();
            nodes.extend(structure.atoms().map(|(_, atom)| Node::of(atom)));
            atoms.clear();
            atoms.extend(structure.atom_ids());
            hosts.clear();
            hosts.extend(0..nodes.len() as u32);
            return;
        }
        // All of them are written below.
        let total = self.species_starts.last().copied().unwrap_or_default();
        nodes.resize(total as usize, EMPTY);
        atoms.resize(total as usize, AtomId::default());
        hosts.resize(root.len(), 0);
        for ((id, atom), species) in structure.atoms().zip(&*root) {
            if fold.get(id.index()).is_none_or(|fold| *fold == STAYS) {
                let next = &mut counts[*species as usize];
                nodes[*next as usize] = Node::of(atom);
                atoms[*next as usize] = id;
                hosts[id.index()] = *next;
                *next += 1;
            }
        }
        for (at, to) in fold.iter().enumerate().filter(|(_, to)| **to != STAYS) {
            let host = hosts[*to as usize];
            hosts[at] = host;
            let count = &mut nodes[host as usize].hydrogens;
            *count = count.saturating_add(1);
        }
    }

    /// Notes where the nodes of each species start, also as the place of its next node.
    fn count_nodes(&mut self, species: u32) {
        let Scratch { root, fold, counts, .. } = &mut self.scratch;
        counts.clear();
        counts.resize(species as usize, 0);
        for species in &*root {
            counts[*species as usize] += 1;
        }
        for (_, species) in fold.iter().zip(&*root).filter(|(fold, _)| **fold != STAYS) {
            counts[*species as usize] -= 1;
        }
        self.species_starts.clear();
        self.species_starts.push(0);
        let mut total = 0;
        for count in counts {
            let start = total;
            total += *count;
            *count = start;
            self.species_starts.push(total);
        }
    }

    fn add_arcs(&mut self, structure: &Structure) {
        let mut links = std::mem::take(&mut self.scratch.links);
        links.clear();
        self.has_free = false;
        // Bonds are counted two places behind their node, so that the sums one place behind it are where its next bond goes.
        let starts = &mut self.starts;
        starts.clear();
        starts.resize(self.nodes.len() + 2, 0);
        let any_folded = !self.scratch.fold.is_empty();
        for (id, a, b, bond) in structure.bonds() {
            let is_folded = |atom: AtomId| self.scratch.is_folded(atom.index() as u32);
            if bond.order == 0 || (any_folded && (is_folded(a) || is_folded(b))) {
                continue;
            }
            let (a, b) = (self.hosts[a.index()], self.hosts[b.index()]);
            starts[a as usize + 2] += 1;
            starts[b as usize + 2] += 1;
            self.has_free |= bond.aromatic;
            links.push(Link { a, b, bond: id, order: bond.order, free: bond.aromatic });
        }
        let mut total = 0;
        for start in starts.iter_mut() {
            total += *start;
            *start = total;
        }
        // All of them are written below.
        self.arcs.resize(total as usize, Arc { to: 0, bond: BondId::default(), order: 0, free: false, in_ring: false });
        for Link { a, b, bond, order, free } in links.iter().copied() {
            for (from, to) in [(a, b), (b, a)] {
                let next = &mut starts[from as usize + 1];
                self.arcs[*next as usize] = Arc { to, bond, order, free, in_ring: false };
                *next += 1;
                if order > 1 {
                    let pi = &mut self.nodes[from as usize].pi;
                    *pi = pi.saturating_add(u16::from(order - 1));
                }
            }
        }
        starts.pop();
        self.scratch.links = links;
    }

    /// Whether some atom with a delocalised bond may have a double bond of the system or not.
    fn has_loose(&self) -> bool {
        // The atoms of a system are mostly like the one before.
        let mut before = None;
        (0..self.len()).any(|node| {
            let arcs = self.arcs(node);
            if !arcs.iter().any(|arc| arc.free) {
                return false;
            }
            let Node { element, charge, hydrogens, unpaired, .. } = self.nodes[node as usize];
            let orders = arcs.iter().map(|arc| if arc.free { 1 } else { i32::from(arc.order) });
            let own = (element, i32::from(charge), orders.sum::<i32>() + i32::from(hydrogens), unpaired);
            let is_new = before.replace(own) != Some(own);
            is_new && role_by_count(own.0, own.1, own.2, own.3) == Role::May
        })
    }

    fn mark_rings(&mut self) {
        for species in 0..self.species_count() {
            let nodes = self.species(species);
            let arcs = self.starts[nodes.end as usize] - self.starts[nodes.start as usize];
            if arcs / 2 > nodes.end - nodes.start {
                self.mark_rings_of(nodes);
            }
        }
    }

    fn mark_rings_of(&mut self, nodes: Range<u32>) {
        let Self { starts, arcs, scratch, .. } = self;
        let range = |node: u32| starts[node as usize] as usize..starts[node as usize + 1] as usize;
        for node in nodes.clone() {
            arcs[range(node)].iter_mut().for_each(|arc| arc.in_ring = true);
        }
        scratch.rings.bridges(nodes, starts, |arc| (arcs[arc as usize].to, arcs[arc as usize].bond.index() as u32));
        for (from, to) in scratch.rings.found.drain(..) {
            for (from, to) in [(from, to), (to, from)] {
                arcs[range(from)].iter_mut().filter(|arc| arc.to == to).for_each(|arc| arc.in_ring = false);
            }
        }
    }
}

const EMPTY: Node = Node { element: Element::ANY, isotope: None, charge: 0, hydrogens: 0, unpaired: None, pi: 0 };

/// The atom at which a drawn hydrogen is counted, as the view counts it; `None` for an atom that stays a node.
pub(crate) fn folds_into(structure: &Structure, id: AtomId) -> Option<AtomId> {
    if !is_plain_hydrogen(structure.atom(id)) {
        return None;
    }
    let bonds = structure.neighbours(id).map(|(next, bond)| (next, structure.bond(bond)));
    let mut bonds = bonds.filter(|(_, bond)| bond.order > 0);
    match (bonds.next(), bonds.next()) {
        (Some((host, bond)), None) => {
            let folds = bond.order == 1 && !bond.aromatic && structure.atom(host).element != Element::HYDROGEN;
            folds.then_some(host)
        }
        _ => None,
    }
}

fn is_plain_hydrogen(atom: &Atom) -> bool {
    atom.element == Element::HYDROGEN
        && atom.isotope.is_none()
        && atom.charge == 0
        && atom.hydrogens == 0
        && atom.unpaired.unwrap_or(0) == 0
}

/// Writes down the species of each atom, numbered from 0 by their first atoms, and gives their number.
fn number_species(structure: &Structure, of: &mut Vec<u32>) -> u32 {
    of.clear();
    of.extend(0..structure.atom_count() as u32);
    for (_, a, b, bond) in structure.bonds() {
        let (a, b) = (of[a.index()], of[b.index()]);
        if bond.order > 0 && a != b {
            join(of, a, b);
        }
    }
    // `join` keeps the earlier atom as root, so a species is met first at its root.
    let mut count = 0;
    for at in 0..of.len() {
        let up = of[at] as usize;
        of[at] = if up == at {
            count += 1;
            count - 1
        } else {
            of[up]
        };
    }
    count
}

/// Joins the species of two atoms; the earlier root stays.
pub(in crate::structure) fn join(root: &mut [u32], a: u32, b: u32) {
    let find = |root: &mut [u32], mut at: u32| {
        loop {
            let up = root[at as usize];
            if up == at {
                return at;
            }
            let next = root[up as usize];
            root[at as usize] = next;
            at = next;
        }
    };
    let (a, b) = (find(root, a), find(root, b));
    root[a.max(b) as usize] = a.min(b);
}
