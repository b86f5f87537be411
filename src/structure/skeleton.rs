//! The comparison view of a drawing: one node an atom, hydrogens as a count, species side by side.
//!
//! Drawn hydrogens that are like undrawn ones are folded into the count of their neighbour, so that it does not matter whether
//! they are drawn. What would be lost in a count stays a node: H, H+, H-, H2, bridging hydrogen, deuterium.

mod build;

use super::{Atom, AtomId, BondId, Element, Structure};
use build::Scratch;
use std::ops::Range;

pub(crate) use build::folds_into;
pub(super) use build::join;

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

/// So many bonds are looked through from either end.
const FEW: usize = 6;
impl Skeleton {
    /// The view of a drawing. Bonds of order 0 (broken by arrows) are left out.
    #[must_use]
    pub fn new(structure: &Structure) -> Self {
        let mut skeleton = Self::default();
        skeleton.rebuild(structure);
        skeleton
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

    /// All nodes.
    #[must_use]
    pub(crate) fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// How many bonds each node has.
    pub(crate) fn degrees(&self) -> impl ExactSizeIterator<Item = usize> {
        self.starts.windows(2).map(|ends| (ends[1] - ends[0]) as usize)
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
}
