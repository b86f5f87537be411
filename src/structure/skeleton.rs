//! The comparison view of a drawing: one node an atom, hydrogens as a count, species side by side.
//!
//! Drawn hydrogens that are like undrawn ones are folded into the count of their neighbour, so that it does not matter whether
//! they are drawn. What would be lost in a count stays a node: H, H+, H-, H2, bridging hydrogen, deuterium.

use super::localise::{Role, role_by_count};
use super::{Atom, AtomId, BondId, Element, Structure};
use std::ops::Range;

/// What is compared of one atom by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Node {
    /// The element.
    pub element: Element,
    /// Mass number where one is drawn.
    pub isotope: Option<u16>,
    /// Formal charge.
    pub charge: i16,
    /// Hydrogens, drawn and undrawn together.
    pub hydrogens: u16,
    /// Unpaired electrons where the drawing states them.
    pub unpaired: Option<u8>,
    /// Sum of (order less one) of the bonds.
    pub pi: u16,
}

impl Node {
    /// An atom by itself: no drawn hydrogens are counted yet, and no bonds.
    #[inline]
    pub(crate) fn of(atom: &Atom) -> Self {
        let Atom { element, isotope, charge, hydrogens, unpaired, .. } = *atom;
        Self { element, isotope, charge, hydrogens, unpaired, pi: 0 }
    }

    /// Whether two atoms may stand for each other. Unpaired electrons count only where both drawings state them, and
    /// `pi` does not count: bonds are compared by themselves.
    #[must_use]
    pub fn agrees(&self, other: &Self) -> bool {
        self.element == other.element
            && self.isotope == other.isotope
            && self.charge == other.charge
            && self.hydrogens == other.hydrogens
            && self.unpaired_agrees(other)
    }

    /// Whether the stated unpaired electrons do not contradict each other.
    #[must_use]
    pub fn unpaired_agrees(&self, other: &Self) -> bool {
        match (self.unpaired, other.unpaired) {
            (Some(one), Some(two)) => one == two,
            _ => true,
        }
    }
}

/// One bond, seen from one of its ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Arc {
    /// The node at the other end.
    pub to: u32,
    /// The bond in the structure.
    pub bond: BondId,
    /// Its order.
    pub order: u8,
    /// Whether the order is the tool's choice, because the bond is drawn delocalised.
    pub free: bool,
    /// Whether the bond lies in a ring. Not worked out (`false`) in species of fewer than two rings, where it would tell nothing.
    pub in_ring: bool,
}

impl Arc {
    /// Whether two bonds may stand for each other: their orders are equal, or one is free and both are 1 or 2.
    #[inline]
    #[must_use]
    pub fn agrees(&self, other: &Self) -> bool {
        self.order == other.order || ((self.free || other.free) && self.order <= 2 && other.order <= 2)
    }
}

/// The comparison view of a localised drawing. Nodes are numbered species by species, and within a species in the order of
/// the drawing; species are numbered by their first atom.
#[derive(Debug, Clone, Default)]
pub struct Skeleton {
    nodes: Vec<Node>,
    atoms: Vec<AtomId>,
    /// By atom: its node, or for a folded hydrogen that of its neighbour.
    hosts: Vec<u32>,
    starts: Vec<u32>,
    arcs: Vec<Arc>,
    species_starts: Vec<u32>,
    has_free: bool,
    is_loose: bool,
    states_unpaired: bool,
    scratch: Scratch,
}

#[derive(Debug, Clone, Default)]
struct Scratch {
    /// The species of each atom.
    root: Vec<u32>,
    /// By atom: the atom that a hydrogen is folded into, or a mark. Empty where no hydrogen is drawn that might fold.
    fold: Vec<u32>,
    counts: Vec<u32>,
    links: Vec<Link>,
    rings: super::rings::Walk,
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

/// So many bonds are looked through from either end.
const FEW: usize = 6;
/// The atom stays a node.
const STAYS: u32 = u32::MAX;
/// A plain hydrogen whose bond has not come by yet.
const OPEN: u32 = u32::MAX - 1;

impl Skeleton {
    /// The view of a drawing. Bonds of order 0 (broken by arrows) are left out.
    #[must_use]
    pub fn new(structure: &Structure) -> Self {
        let mut skeleton = Self::default();
        skeleton.rebuild(structure);
        skeleton
    }

    /// Turns this into the view of another drawing, reusing its memory.
    pub fn rebuild(&mut self, structure: &Structure) {
        self.fold_hydrogens(structure);
        let species = number_species(structure, &mut self.scratch.root);
        self.place_nodes(structure, species);
        self.add_arcs(structure);
        self.mark_rings();
        self.is_loose = self.has_free && self.has_loose();
    }

    /// As [`rebuild`](Self::rebuild), but all species count as one and no ring bonds are marked: enough to pair atoms from
    /// neighbour to neighbour.
    pub fn rebuild_bare(&mut self, structure: &Structure) {
        self.fold_hydrogens(structure);
        let root = &mut self.scratch.root;
        root.clear();
        root.resize(structure.atom_count(), 0);
        self.place_nodes(structure, 1);
        self.add_arcs(structure);
        self.is_loose = self.has_free && self.has_loose();
    }

    /// Number of nodes.
    #[must_use]
    pub fn len(&self) -> u32 {
        self.nodes.len() as u32
    }

    /// Whether there is nothing to compare.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Number of bonds between nodes.
    #[must_use]
    pub fn bond_count(&self) -> usize {
        self.arcs.len() / 2
    }

    /// One node.
    #[inline]
    #[must_use]
    pub fn node(&self, node: u32) -> &Node {
        &self.nodes[node as usize]
    }

    /// The bonds of a node in the order of the drawing.
    #[inline]
    #[must_use]
    pub fn arcs(&self, node: u32) -> &[Arc] {
        let at = node as usize;
        &self.arcs[self.starts[at] as usize..self.starts[at + 1] as usize]
    }

    /// The bonds of all nodes, node by node: each bond twice.
    #[must_use]
    pub(crate) fn all_arcs(&self) -> &[Arc] {
        &self.arcs
    }

    /// The bond between two nodes, seen from the first.
    #[inline]
    #[must_use]
    pub fn arc_between(&self, a: u32, b: u32) -> Option<&Arc> {
        self.arc_among(self.arcs(a), a, b)
    }

    /// As [`arc_between`](Self::arc_between), where the bonds of the first node are at hand.
    #[inline]
    #[must_use]
    pub(crate) fn arc_among<'s>(&'s self, own: &'s [Arc], a: u32, b: u32) -> Option<&'s Arc> {
        if own.len() <= FEW { own.iter().find(|arc| arc.to == b) } else { self.arc_between_many(a, b) }
    }

    /// From the end with fewer bonds, so that an atom with very many costs little.
    fn arc_between_many(&self, a: u32, b: u32) -> Option<&Arc> {
        if self.arcs(a).len() <= self.arcs(b).len() {
            return self.arcs(a).iter().find(|arc| arc.to == b);
        }
        let back = self.arcs(b).iter().find(|arc| arc.to == a)?;
        self.arcs(a).iter().find(|arc| arc.bond == back.bond)
    }

    /// The drawn atom of a node.
    #[must_use]
    pub fn atom(&self, node: u32) -> AtomId {
        self.atoms[node as usize]
    }

    /// The node that stands for a drawn atom: its own, or for a folded hydrogen that of its neighbour.
    #[must_use]
    pub fn host(&self, atom: AtomId) -> u32 {
        self.hosts[atom.index()]
    }

    /// Whether a drawn atom is a hydrogen that is counted at its neighbour.
    #[must_use]
    pub fn is_folded(&self, atom: AtomId) -> bool {
        self.atom(self.host(atom)) != atom
    }

    /// Number of species.
    #[must_use]
    pub fn species_count(&self) -> u32 {
        self.species_starts.len().saturating_sub(1) as u32
    }

    /// The nodes of a species.
    #[must_use]
    pub fn species(&self, species: u32) -> Range<u32> {
        let at = species as usize;
        self.species_starts[at]..self.species_starts[at + 1]
    }

    /// The species of a node.
    #[must_use]
    pub fn species_of(&self, node: u32) -> u32 {
        self.species_starts.partition_point(|start| *start <= node) as u32 - 1
    }

    /// Whether any bond order is the tool's choice.
    #[must_use]
    pub fn has_free(&self) -> bool {
        self.has_free
    }

    /// Whether some atom of a delocalised system may have a double bond or not, so that `pi` of a node is the tool's choice too.
    #[must_use]
    pub fn is_loose(&self) -> bool {
        self.is_loose
    }

    /// Whether the drawing states unpaired electrons of any atom.
    #[must_use]
    pub fn states_unpaired(&self) -> bool {
        self.states_unpaired
    }

    fn fold_hydrogens(&mut self, structure: &Structure) {
        let fold = &mut self.scratch.fold;
        fold.clear();
        if !structure.atoms().any(|(_, atom)| is_plain_hydrogen(atom)) {
            return;
        }
        fold.extend(structure.atoms().map(|(_, atom)| if is_plain_hydrogen(atom) { OPEN } else { STAYS }));
        for (_, a, b, bond) in structure.bonds() {
            for (end, other) in [(a, b), (b, a)] {
                let slot = &mut fold[end.index()];
                if *slot == STAYS || bond.order == 0 {
                    continue;
                }
                let is_plain = bond.order == 1 && !bond.aromatic;
                let folds = *slot == OPEN && is_plain && structure.atom(other).element != Element::HYDROGEN;
                *slot = if folds { other.index() as u32 } else { STAYS };
            }
        }
        // A hydrogen without bonds is a species of its own.
        fold.iter_mut().filter(|slot| **slot == OPEN).for_each(|slot| *slot = STAYS);
    }

    /// Numbers the nodes, whose species are known.
    fn place_nodes(&mut self, structure: &Structure, species: u32) {
        self.states_unpaired = structure.atoms().any(|(_, atom)| atom.unpaired.is_some());
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
        for (id, a, b, bond) in structure.bonds() {
            let is_folded = |atom: AtomId| self.scratch.is_folded(atom.index() as u32);
            if bond.order == 0 || is_folded(a) || is_folded(b) {
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
        if bond.order > 0 {
            join(of, a.index() as u32, b.index() as u32);
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
pub(super) fn join(root: &mut [u32], a: u32, b: u32) {
    let find = |root: &mut [u32], mut at: u32| {
        while root[at as usize] != at {
            root[at as usize] = root[root[at as usize] as usize];
            at = root[at as usize];
        }
        at
    };
    let (a, b) = (find(root, a), find(root, b));
    root[a.max(b) as usize] = a.min(b);
}
