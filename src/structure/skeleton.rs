//! The comparison view of a drawing: one node an atom, hydrogens as a count, species side by side.
//!
//! Drawn hydrogens that are like undrawn ones are folded into the count of their neighbour, so that it does not matter whether
//! they are drawn. What would be lost in a count stays a node: H, H+, H-, H2, bridging hydrogen, deuterium.

use super::localise::{Role, role};
use super::{Atom, AtomId, Bond, BondId, Element, Structure};
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

/// What the view is made of: atoms and bonds by their places in the drawing.
pub trait Outline {
    /// The atoms in the order of the drawing.
    fn atoms(&self) -> impl ExactSizeIterator<Item = &Atom>;
    /// One atom.
    fn atom(&self, at: u32) -> &Atom;
    /// The bonds with their ends, in the order of the drawing; those of order 0 are broken.
    fn bonds(&self) -> impl ExactSizeIterator<Item = (u32, u32, Bond)>;
    /// Writes down the species of each atom, numbered from 0 by their first atoms, and gives their number.
    fn number_species(&self, of: &mut Vec<u32>) -> u32 {
        of.clear();
        of.extend(0..self.atoms().len() as u32);
        for (a, b, bond) in self.bonds() {
            if bond.order > 0 {
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
    /// Whether some atom with a delocalised bond may have a double bond of the system or not.
    fn has_loose(&self) -> bool;
}

impl Outline for Structure {
    fn atoms(&self) -> impl ExactSizeIterator<Item = &Atom> {
        self.graph().raw_nodes().iter().map(|node| &node.weight)
    }

    fn atom(&self, at: u32) -> &Atom {
        Self::atom(self, AtomId::from(at))
    }

    fn bonds(&self) -> impl ExactSizeIterator<Item = (u32, u32, Bond)> {
        let edges = self.graph().raw_edges().iter();
        edges.map(|edge| (edge.source().index() as u32, edge.target().index() as u32, edge.weight))
    }

    fn has_loose(&self) -> bool {
        Outline::bonds(self)
            .filter(|(_, _, bond)| bond.aromatic && bond.order > 0)
            .any(|(a, b, _)| [a, b].into_iter().any(|end| role(self, AtomId::from(end)) == Role::May))
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
    /// By atom: the atom that a hydrogen is folded into, or a mark.
    fold: Vec<u32>,
    counts: Vec<u32>,
    rings: super::rings::Walk,
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
        self.rebuild_outline(structure);
    }

    /// As [`rebuild`](Self::rebuild), of whatever knows its atoms and bonds.
    pub fn rebuild_outline(&mut self, outline: &impl Outline) {
        self.fold_hydrogens(outline);
        self.number_nodes(outline);
        self.add_arcs(outline);
        self.mark_rings();
        self.is_loose = self.has_free && outline.has_loose();
    }

    /// As [`rebuild_outline`](Self::rebuild_outline), but all species count as one and no ring bonds are marked: enough to pair
    /// atoms from neighbour to neighbour.
    pub fn rebuild_bare(&mut self, outline: &impl Outline) {
        self.fold_hydrogens(outline);
        let Scratch { root, fold, counts, .. } = &mut self.scratch;
        root.clear();
        root.resize(outline.atoms().len(), 0);
        counts.clear();
        counts.push(fold.iter().filter(|fold| **fold == STAYS).count() as u32);
        self.place_nodes(outline);
        self.add_arcs(outline);
        self.is_loose = self.has_free && outline.has_loose();
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

    /// The bond between two nodes, seen from the first.
    #[inline]
    #[must_use]
    pub fn arc_between(&self, a: u32, b: u32) -> Option<&Arc> {
        let own = self.arcs(a);
        if own.len() <= FEW {
            return own.iter().find(|arc| arc.to == b);
        }
        self.arc_between_many(a, b)
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

    fn fold_hydrogens(&mut self, outline: &impl Outline) {
        let fold = &mut self.scratch.fold;
        fold.clear();
        let mut any = false;
        fold.extend(outline.atoms().map(|atom| {
            let plain = is_plain_hydrogen(atom);
            any |= plain;
            if plain { OPEN } else { STAYS }
        }));
        if !any {
            return;
        }
        let element = |at: u32| outline.atom(at).element;
        for (a, b, bond) in outline.bonds() {
            for (end, other) in [(a, b), (b, a)] {
                let slot = &mut fold[end as usize];
                if *slot == STAYS || bond.order == 0 {
                    continue;
                }
                let folds = *slot == OPEN && bond.order == 1 && !bond.aromatic && element(other) != Element::HYDROGEN;
                *slot = if folds { other } else { STAYS };
            }
        }
        // A hydrogen without bonds is a species of its own.
        fold.iter_mut().filter(|slot| **slot == OPEN).for_each(|slot| *slot = STAYS);
    }

    fn number_nodes(&mut self, outline: &impl Outline) {
        let Scratch { root, fold, counts, .. } = &mut self.scratch;
        counts.clear();
        counts.resize(outline.number_species(root) as usize, 0);
        for (species, fold) in root.iter().zip(&*fold) {
            counts[*species as usize] += u32::from(*fold == STAYS);
        }
        self.place_nodes(outline);
    }

    /// Numbers the nodes, whose species and the number of nodes in each are known.
    fn place_nodes(&mut self, outline: &impl Outline) {
        let Scratch { root, fold, counts, .. } = &mut self.scratch;
        let atoms = outline.atoms();
        self.species_starts.clear();
        self.species_starts.push(0);
        let mut total = 0;
        for count in counts.iter_mut() {
            let start = total;
            total += *count;
            *count = start;
            self.species_starts.push(total);
        }
        self.nodes.clear();
        self.nodes.resize(total as usize, EMPTY);
        self.atoms.clear();
        self.atoms.resize(total as usize, AtomId::default());
        self.hosts.clear();
        self.hosts.resize(atoms.len(), 0);
        self.states_unpaired = false;
        for (at, atom) in atoms.enumerate() {
            if fold[at] == STAYS {
                let next = &mut counts[root[at] as usize];
                self.nodes[*next as usize] = node_of(atom);
                self.atoms[*next as usize] = AtomId::new(at);
                self.states_unpaired |= atom.unpaired.is_some();
                self.hosts[at] = *next;
                *next += 1;
            }
        }
        for (at, to) in fold.iter().enumerate().filter(|(_, to)| **to != STAYS) {
            let host = self.hosts[*to as usize];
            self.hosts[at] = host;
            let count = &mut self.nodes[host as usize].hydrogens;
            *count = count.saturating_add(1);
        }
    }

    fn add_arcs(&mut self, outline: &impl Outline) {
        let fold = &self.scratch.fold;
        self.has_free = false;
        self.starts.clear();
        self.starts.resize(self.nodes.len() + 1, 0);
        let between_nodes = |(a, b, bond): &(u32, u32, Bond)| {
            bond.order > 0 && fold[*a as usize] == STAYS && fold[*b as usize] == STAYS
        };
        for (a, b, _) in outline.bonds().filter(between_nodes) {
            for end in [a, b] {
                self.starts[self.hosts[end as usize] as usize + 1] += 1;
            }
        }
        for at in 1..self.starts.len() {
            self.starts[at] += self.starts[at - 1];
        }
        let total = self.starts[self.nodes.len()] as usize;
        self.arcs.clear();
        self.arcs.resize(total, Arc { to: 0, bond: BondId::default(), order: 0, free: false, in_ring: false });
        let next = &mut self.scratch.counts;
        next.clear();
        next.extend_from_slice(&self.starts);
        for (at, (a, b, bond)) in outline.bonds().enumerate().filter(|(_, bond)| between_nodes(bond)) {
            let (a, b) = (self.hosts[a as usize], self.hosts[b as usize]);
            let (order, free) = (bond.order, bond.aromatic);
            self.has_free |= free;
            for (from, to) in [(a, b), (b, a)] {
                let slot = &mut next[from as usize];
                self.arcs[*slot as usize] = Arc { to, bond: BondId::new(at), order, free, in_ring: false };
                *slot += 1;
                let pi = &mut self.nodes[from as usize].pi;
                *pi = pi.saturating_add(u16::from(order - 1));
            }
        }
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

fn node_of(atom: &Atom) -> Node {
    let Atom { element, isotope, charge, hydrogens, unpaired, .. } = *atom;
    Node { element, isotope, charge, hydrogens, unpaired, pi: 0 }
}

fn is_plain_hydrogen(atom: &Atom) -> bool {
    atom.element == Element::HYDROGEN
        && atom.isotope.is_none()
        && atom.charge == 0
        && atom.hydrogens == 0
        && atom.unpaired.unwrap_or(0) == 0
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
