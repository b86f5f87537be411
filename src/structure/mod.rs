//! What is drawn: atoms, bonds, charges, hydrogens, marks of stereochemistry.
//!
//! A [`Structure`] is one drawing, of one species or several. It is a petgraph graph of [`Atom`]s and [`Bond`]s and says
//! nothing that the drawing does not say: non-bonding electrons follow from charge and bonds ([`electrons`]), localised
//! forms of aromatic input from a matching ([`localise`]).

pub mod canon;
pub mod electrons;
mod element;
pub mod isomorphism;
mod label;
pub mod localise;
pub mod pairing;
mod rings;

pub(crate) use rings::ring_bonds;
pub mod skeleton;
pub mod stereo;
pub mod valence;

pub use element::{Element, OctetRule};
pub use label::{Label, LabelIndex};

use crate::source::Span;
use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use stereo::Stereo;

/// An atom of one structure. Indices run from 0 in the order of the drawing and never change.
pub type AtomId = NodeIndex<u32>;
/// A bond of one structure.
pub type BondId = EdgeIndex<u32>;

/// One drawn atom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Atom {
    /// The element, or `*`.
    pub element: Element,
    /// Whether the atom is written in its aromatic form (lower case in SMILES, an order-A bond in CML).
    pub aromatic: bool,
    /// Formal charge in units of the elementary charge.
    pub charge: i16,
    /// Hydrogens that the atom carries undrawn.
    pub hydrogens: u16,
    /// Mass number where one is drawn. OpenSMILES tells `[0S]` from `[S]`.
    pub isotope: Option<u16>,
    /// Unpaired electrons where the drawing states them (CML spin, drawn electrons); else they follow from the count.
    pub unpaired: Option<u8>,
    /// Numeric label (atom class), if any. Named labels are kept by the structure.
    pub class: Option<u32>,
}

impl Atom {
    /// A neutral atom of `element` with no hydrogens, no label and nothing else drawn.
    #[must_use]
    pub fn new(element: Element) -> Self {
        Self { element, aromatic: false, charge: 0, hydrogens: 0, isotope: None, unpaired: None, class: None }
    }
}

/// One drawn bond.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bond {
    /// Order 1 to 4. An aromatic bond has order 1 until it is localised.
    pub order: u8,
    /// Whether the bond is drawn delocalised. It stays set when a localised form is chosen, so that the choice is known to
    /// be the tool's and not the author's.
    pub aromatic: bool,
}

impl Bond {
    /// A localised bond.
    #[must_use]
    pub fn new(order: u8) -> Self {
        Self { order, aromatic: false }
    }

    /// A delocalised bond, not yet localised.
    #[must_use]
    pub fn delocalised() -> Self {
        Self { order: 1, aromatic: true }
    }
}

/// A point of a drawing in 1/10,000 of the drawing's own unit, so that coordinates stay integers outside `drawing`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Point {
    /// Rightwards.
    pub x: i32,
    /// Upwards.
    pub y: i32,
}

/// A part of a drawing and where it was written.
#[derive(Debug, Clone, Copy)]
pub struct Written<T> {
    /// The part.
    pub part: T,
    /// Empty for what no character stands for.
    pub span: Span,
}

/// One drawing: species, labels, stereo, and where each part of it was written.
#[derive(Debug, Clone, Default)]
pub struct Structure {
    graph: UnGraph<Written<Atom>, Written<Bond>, u32>,
    /// Named labels by atom, or empty where no atom has one.
    names: Vec<Box<str>>,
    /// Drawn stereochemistry.
    pub stereo: Stereo,
    /// Coordinates by atom index where the drawing gives them for every atom; else empty.
    pub coordinates: Vec<Point>,
}

impl Structure {
    /// A structure with room for about `atoms` atoms.
    #[must_use]
    pub fn with_capacity(atoms: usize) -> Self {
        Self { graph: UnGraph::with_capacity(atoms, atoms + 2), ..Self::default() }
    }

    /// Adds an atom and where it was written.
    #[inline]
    pub fn add_atom(&mut self, atom: Atom, span: Span) -> AtomId {
        self.graph.add_node(Written { part: atom, span })
    }

    /// Adds a bond between two atoms and where it was written.
    #[inline]
    pub fn add_bond(&mut self, a: AtomId, b: AtomId, bond: Bond, span: Span) -> BondId {
        self.graph.add_edge(a, b, Written { part: bond, span })
    }

    /// A copy without some bonds, with room for so many others. Bond indices change where any goes.
    #[must_use]
    pub(crate) fn copy_without(&self, gone: &[BondId], room: usize) -> Self {
        let mut graph = UnGraph::with_capacity(self.graph.node_count(), self.graph.edge_count() + room);
        if gone.is_empty() {
            graph.clone_from(&self.graph);
        } else {
            for node in self.graph.node_weights() {
                graph.add_node(*node);
            }
            for edge in self.graph.edge_references().filter(|edge| !gone.contains(&edge.id())) {
                graph.add_edge(edge.source(), edge.target(), *edge.weight());
            }
        }
        let Self { names, stereo, coordinates, .. } = self;
        Self { graph, names: names.clone(), stereo: stereo.clone(), coordinates: coordinates.clone() }
    }

    /// Removes every bond whose order is 0, as the sum of arrows leaves broken bonds. Bond indices change.
    pub fn drop_broken_bonds(&mut self) {
        if self.graph.edge_weights().all(|bond| bond.part.order > 0) {
            return;
        }
        let (nodes, edges) = std::mem::take(&mut self.graph).into_nodes_edges();
        self.graph = UnGraph::with_capacity(nodes.len(), edges.len());
        for node in nodes {
            self.graph.add_node(node.weight);
        }
        for edge in edges.into_iter().filter(|edge| edge.weight.part.order > 0) {
            self.graph.add_edge(edge.source(), edge.target(), edge.weight);
        }
    }

    /// Number of drawn atoms.
    #[must_use]
    pub fn atom_count(&self) -> usize {
        self.graph.node_count()
    }

    /// Number of drawn bonds.
    #[must_use]
    pub fn bond_count(&self) -> usize {
        self.graph.edge_count()
    }

    /// Whether nothing is drawn.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.atom_count() == 0
    }

    /// The graph itself, for algorithms of petgraph.
    #[must_use]
    pub fn graph(&self) -> &UnGraph<Written<Atom>, Written<Bond>, u32> {
        &self.graph
    }

    /// All atom ids in the order of the drawing.
    pub fn atom_ids(&self) -> impl ExactSizeIterator<Item = AtomId> + use<> {
        (0..self.graph.node_count()).map(AtomId::new)
    }

    /// All bond ids in the order of the drawing.
    pub fn bond_ids(&self) -> impl ExactSizeIterator<Item = BondId> + use<> {
        (0..self.graph.edge_count()).map(BondId::new)
    }

    /// All atoms in the order of the drawing.
    pub fn atoms(&self) -> impl Iterator<Item = (AtomId, &Atom)> {
        self.graph.node_weights().enumerate().map(|(at, atom)| (AtomId::new(at), &atom.part))
    }

    /// All atoms in the order of the drawing, to change them.
    pub(crate) fn atoms_mut(&mut self) -> impl Iterator<Item = &mut Atom> {
        self.graph.node_weights_mut().map(|atom| &mut atom.part)
    }

    /// All bonds with their ends, in the order of the drawing.
    pub fn bonds(&self) -> impl Iterator<Item = (BondId, AtomId, AtomId, Bond)> {
        self.graph.edge_references().map(|edge| (edge.id(), edge.source(), edge.target(), edge.weight().part))
    }

    /// One atom.
    #[must_use]
    pub fn atom(&self, atom: AtomId) -> &Atom {
        &self.graph[atom].part
    }

    /// One atom, to change it.
    pub fn atom_mut(&mut self, atom: AtomId) -> &mut Atom {
        &mut self.graph[atom].part
    }

    /// One bond.
    #[must_use]
    pub fn bond(&self, bond: BondId) -> Bond {
        self.graph[bond].part
    }

    /// One bond, to change it.
    pub fn bond_mut(&mut self, bond: BondId) -> &mut Bond {
        &mut self.graph[bond].part
    }

    /// The two ends of a bond in the order in which it was drawn.
    #[must_use]
    pub fn ends(&self, bond: BondId) -> (AtomId, AtomId) {
        self.graph.edge_endpoints(bond).unwrap_or_default()
    }

    /// The bond between two atoms.
    #[must_use]
    pub fn bond_between(&self, a: AtomId, b: AtomId) -> Option<BondId> {
        self.graph.find_edge(a, b)
    }

    /// Neighbours of an atom with the bonds that lead there, latest drawn first.
    pub fn neighbours(&self, atom: AtomId) -> impl Iterator<Item = (AtomId, BondId)> {
        self.graph.edges(atom).map(move |edge| {
            let other = if edge.source() == atom { edge.target() } else { edge.source() };
            (other, edge.id())
        })
    }

    /// Number of drawn neighbours.
    #[must_use]
    pub fn degree(&self, atom: AtomId) -> usize {
        self.graph.edges(atom).count()
    }

    /// Where an atom was written; empty for an atom that was not.
    #[must_use]
    pub fn atom_span(&self, atom: AtomId) -> Span {
        self.graph.node_weight(atom).map(|own| own.span).unwrap_or_default()
    }

    /// Where a bond was written; empty for a bond that no character stands for.
    #[must_use]
    pub fn bond_span(&self, bond: BondId) -> Span {
        self.graph.edge_weight(bond).map(|own| own.span).unwrap_or_default()
    }

    /// Whether any bond is drawn delocalised.
    #[must_use]
    pub fn is_delocalised(&self) -> bool {
        self.graph.edge_weights().any(|bond| bond.part.aromatic)
    }

    /// Sum of the formal charges.
    #[must_use]
    pub fn net_charge(&self) -> i64 {
        self.graph.node_weights().map(|atom| i64::from(atom.part.charge)).sum()
    }

    /// The species of each atom, numbered from 0 in the order in which they are drawn, and their number.
    #[must_use]
    pub fn species(&self) -> (Vec<u32>, usize) {
        let mut of = vec![u32::MAX; self.atom_count()];
        let mut count = 0;
        let mut open = Vec::new();
        for first in self.atom_ids() {
            if of[first.index()] != u32::MAX {
                continue;
            }
            open.push(first);
            of[first.index()] = count;
            while let Some(atom) = open.pop() {
                for (next, _) in self.neighbours(atom) {
                    if of[next.index()] == u32::MAX {
                        of[next.index()] = count;
                        open.push(next);
                    }
                }
            }
            count += 1;
        }
        (of, count as usize)
    }

    /// The part of the structure that consists of the atoms for which `keep` holds, with its bonds, labels and
    /// stereo marks, in the order of the drawing.
    #[must_use]
    pub fn part(&self, keep: impl Fn(AtomId) -> bool) -> Self {
        let mut part = Self::with_capacity(self.atom_count());
        let mut new_of = vec![u32::MAX; self.atom_count()];
        for (id, atom) in self.atoms().filter(|(id, _)| keep(*id)) {
            let new = part.add_atom(*atom, self.atom_span(id));
            new_of[id.index()] = new.index() as u32;
            if let Some(name) = self.names.get(id.index()) {
                part.names.push(name.clone());
            }
            if let Some(point) = self.coordinates.get(id.index()) {
                part.coordinates.push(*point);
            }
        }
        for (id, a, b, bond) in self.bonds() {
            let (a, b) = (new_of[a.index()], new_of[b.index()]);
            if a != u32::MAX && b != u32::MAX {
                part.add_bond(AtomId::from(a), AtomId::from(b), bond, self.bond_span(id));
            }
        }
        part.stereo = self.stereo.renumbered(|atom| match new_of.get(atom.index()) {
            Some(&new) if new != u32::MAX => Some(AtomId::from(new)),
            _ => None,
        });
        part
    }
}
