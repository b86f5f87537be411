//! The union of the bonds of several drawings as one graph to lay out.

use super::measure::Picture;
use super::skeleton::{Mark, Skeleton};
use super::{Position, View};
use crate::structure::{AtomId, Element, OctetRule, Structure};
use std::collections::VecDeque;

/// Length of an edge where a bond forms between two species: room for an arrow.
const JOINING: f64 = 1.7;
/// Length of a side of a ring that later drawings close within one species.
const CLOSING: f64 = 1.35;
/// New bonds beyond this number are drawn where their atoms lie.
const NEW_BONDS: usize = 64;
/// The largest ring that new bonds close in the layout.
const RING: usize = 8;

pub(super) struct Union {
    pub(super) skeleton: Skeleton,
    /// Points that the first drawing states.
    pub(super) fixed: Vec<Option<Position>>,
    /// For each drawing, the node of each of its atoms.
    pub(super) nodes_of: Vec<Vec<usize>>,
    /// Whether new bonds close rings.
    pub(super) closes_rings: bool,
    /// Edges of the first drawing, which come first.
    start_edges: usize,
    start_nodes: usize,
}

impl Union {
    pub(super) fn new(views: &[View]) -> Self {
        let start_nodes = views.first().map_or(0, |view| view.structure.atom_count());
        let mut total = start_nodes;
        let mut nodes_of = Vec::new();
        for (at, view) in views.iter().enumerate() {
            nodes_of.push(nodes(view, at == 0, start_nodes, &mut total));
        }
        let mut union = Self {
            skeleton: Skeleton::with_nodes(total),
            fixed: vec![None; total],
            nodes_of,
            closes_rings: false,
            start_edges: 0,
            start_nodes,
        };
        if total <= super::MOST_ATOMS {
            union.fill(views);
        }
        union
    }

    fn fill(&mut self, views: &[View]) {
        for (at, view) in views.iter().enumerate() {
            if at == 0 {
                for (_, a, b, _) in view.structure.bonds() {
                    self.skeleton.link(a.index(), b.index(), 1.0, false);
                }
                self.start_edges = self.skeleton.edges.len();
            } else {
                self.add_new_bonds(view.structure, at);
            }
            self.note_angles(view.structure, at);
        }
        self.note_broken_bonds(views);
        self.straighten_shared_hydrogens(views);
        if let Some(view) = views.first() {
            self.fixed[..self.start_nodes].copy_from_slice(&stated(view.structure));
        }
    }

    fn add_new_bonds(&mut self, structure: &Structure, at: usize) {
        let species = self.species();
        let mut open: Vec<[usize; 2]> = Vec::new();
        for (_, a, b, _) in structure.bonds() {
            let [a, b] = [a, b].map(|atom| self.nodes_of[at][atom.index()]);
            if a >= self.start_nodes || b >= self.start_nodes {
                self.skeleton.link(a, b, 1.0, false);
            } else if self.skeleton.edge_between(a, b).is_none() && open.len() < NEW_BONDS {
                open.push([a, b]);
            }
        }
        let mut trial = self.skeleton.clone();
        for [a, b] in &open {
            trial.link(*a, *b, 1.0, false);
        }
        for [a, b] in open {
            let joins = species[a] != species[b];
            match shortest_ring(&trial, a, b) {
                None if joins && shortest_path(&self.skeleton, a, b, usize::MAX).is_none() => {
                    self.skeleton.link(a, b, JOINING, true);
                }
                Some(4) if joins => self.close(a, b, JOINING),
                Some(5..=RING) => self.close(a, b, if joins { JOINING } else { CLOSING }),
                _ => {}
            }
        }
    }

    /// Marks bonds of the start that a later drawing does not have though it has both atoms.
    fn note_broken_bonds(&mut self, views: &[View]) {
        for (at, view) in views.iter().enumerate().skip(1) {
            let mut kept = vec![false; self.start_edges];
            let mut shown = vec![false; self.skeleton.len()];
            for node in &self.nodes_of[at] {
                shown[*node] = true;
            }
            for (_, a, b, _) in view.structure.bonds() {
                let [a, b] = [a, b].map(|atom| self.nodes_of[at][atom.index()]);
                if let Some(kept) = self.skeleton.edge_between(a, b).and_then(|edge| kept.get_mut(edge)) {
                    *kept = true;
                }
            }
            for (edge, kept) in self.skeleton.edges.iter_mut().zip(kept) {
                edge.breaking |= !kept && edge.ends.iter().all(|end| shown[*end]);
            }
        }
    }

    fn close(&mut self, a: usize, b: usize, length: f64) {
        self.skeleton.link(a, b, length, false);
        self.closes_rings = true;
    }

    fn species(&self) -> Vec<usize> {
        let mut of = vec![0; self.skeleton.len()];
        for (id, nodes) in self.skeleton.components().into_iter().enumerate() {
            for node in nodes {
                of[node] = id;
            }
        }
        of
    }

    fn note_angles(&mut self, structure: &Structure, at: usize) {
        for atom in structure.atom_ids() {
            let node = self.nodes_of[at][atom.index()];
            self.skeleton.linear[node] |= is_linear(structure, atom);
            self.skeleton.text[node] |= structure.atom(atom).element != Element::CARBON;
            self.skeleton.cross[node] |=
                structure.atom(atom).element.shell(OctetRule::Usual).is_some_and(|shell| shell > 8);
        }
        for bond in &structure.stereo.double_bonds {
            let node = |atom: AtomId| self.nodes_of[at].get(atom.index()).copied();
            let all = [bond.ends[0], bond.ends[1], bond.references[0], bond.references[1]].map(node);
            let [Some(a), Some(b), Some(c), Some(d)] = all else { continue };
            let known = self.skeleton.marks.iter().any(|mark| mark.ends == [a, b] || mark.ends == [b, a]);
            let drawn = self.skeleton.edge_between(a, c).is_some() && self.skeleton.edge_between(b, d).is_some();
            if !known && drawn {
                self.skeleton.marks.push(Mark { ends: [a, b], references: [c, d], same_side: bond.same_side });
            }
        }
    }

    /// A hydrogen that passes from one atom to another lies between them in a line.
    fn straighten_shared_hydrogens(&mut self, views: &[View]) {
        let Some(start) = views.first() else { return };
        for (atom, what) in start.structure.atoms() {
            if what.element == Element::HYDROGEN && self.skeleton.links[atom.index()].len() == 2 {
                self.skeleton.linear[atom.index()] = true;
            }
        }
    }

    /// The graph without the sides of rings that only later drawings close.
    pub(super) fn without_closures(&self) -> Skeleton {
        let mut plain = Skeleton::with_nodes(self.skeleton.len());
        plain.linear.clone_from(&self.skeleton.linear);
        plain.cross.clone_from(&self.skeleton.cross);
        plain.text.clone_from(&self.skeleton.text);
        plain.marks.clone_from(&self.skeleton.marks);
        for (at, edge) in self.skeleton.edges.iter().enumerate() {
            if at < self.start_edges || edge.joining || edge.ends.iter().any(|end| *end >= self.start_nodes) {
                plain.link(edge.ends[0], edge.ends[1], edge.length, edge.joining);
            }
        }
        plain
    }

    /// Defects of the start alone under some points.
    pub(super) fn start_defects(&self, points: &[Position]) -> usize {
        let bonds: Vec<[usize; 2]> = self.skeleton.edges[..self.start_edges].iter().map(|edge| edge.ends).collect();
        let in_ring = vec![false; bonds.len()];
        let sides: Vec<_> = self.skeleton.marks.iter().map(super::side_of).collect();
        Picture { points, bonds: &bonds, in_ring: &in_ring, sides: &sides }.defects().total()
    }
}

fn nodes(view: &View, is_start: bool, start_nodes: usize, total: &mut usize) -> Vec<usize> {
    let mut used = vec![false; start_nodes];
    let mut fresh = || {
        *total += 1;
        *total - 1
    };
    (0..view.structure.atom_count())
        .map(|at| {
            let wanted = match view.atoms {
                _ if is_start => return at,
                Some(atoms) => atoms.get(at).copied().flatten().map(AtomId::index),
                None => Some(at),
            };
            match wanted {
                Some(node) if node < start_nodes && !std::mem::replace(&mut used[node], true) => node,
                _ => fresh(),
            }
        })
        .collect()
}

/// Metals of groups 2 and 12, of which organic chemistry writes compounds with two bonds.
const LINEAR_METALS: [&str; 5] = ["Be", "Mg", "Zn", "Cd", "Hg"];

/// Whether an atom is drawn with its two neighbours in one line: a triple bond, two double bonds, a vinyl-type cation, or a metal
/// of two electrons such as magnesium.
pub(super) fn is_linear(structure: &Structure, atom: AtomId) -> bool {
    let own = structure.atom(atom);
    if own.hydrogens > 0 || structure.degree(atom) != 2 {
        return false;
    }
    // With two bonds and no lone pair, as in a Grignard reagent: common practice, no source.
    if LINEAR_METALS.contains(&own.element.symbol()) {
        return own.charge == 0;
    }
    if own.element.shell(OctetRule::Usual) != Some(8) {
        return false;
    }
    let orders: u8 = structure.neighbours(atom).map(|(_, bond)| structure.bond(bond).order).sum();
    let delocalised = structure.neighbours(atom).any(|(_, bond)| structure.bond(bond).aromatic);
    !delocalised && (orders >= 4 || (orders == 3 && own.charge == 1 && own.element.valence_electrons() == Some(4)))
}

/// The start's own coordinates in bond lengths, where it states them and they are no heap.
fn stated(structure: &Structure) -> Vec<Option<Position>> {
    let none = vec![None; structure.atom_count()];
    if structure.coordinates.len() != structure.atom_count() || structure.is_empty() {
        return none;
    }
    let points: Vec<Position> =
        structure.coordinates.iter().map(|point| Position::new(f64::from(point.x), f64::from(point.y))).collect();
    let mut lengths: Vec<f64> =
        structure.bonds().map(|(_, a, b, _)| points[a.index()].distance(points[b.index()])).collect();
    lengths.sort_by(f64::total_cmp);
    let unit = lengths.get(lengths.len() / 2).copied().unwrap_or(10_000.0);
    let heap = unit < 1.0 || lengths.first().is_some_and(|shortest| *shortest < unit * 0.05);
    if heap { none } else { points.into_iter().map(|point| Some(point * (1.0 / unit))).collect() }
}

/// Size of the shortest ring through an edge, up to eight.
fn shortest_ring(graph: &Skeleton, a: usize, b: usize) -> Option<usize> {
    shortest_path(graph, a, b, RING - 1).map(|steps| steps + 1)
}

/// Length of a shortest path from one node to another that does not use their own edge, up to a bound.
fn shortest_path(graph: &Skeleton, from: usize, to: usize, most: usize) -> Option<usize> {
    let mut depth = vec![usize::MAX; graph.len()];
    depth[from] = 0;
    let mut open = VecDeque::from([from]);
    while let Some(node) = open.pop_front() {
        if depth[node] >= most {
            return None;
        }
        for (next, _) in &graph.links[node] {
            if depth[*next] == usize::MAX && !(node == from && *next == to) {
                depth[*next] = depth[node] + 1;
                if *next == to {
                    return Some(depth[node] + 1);
                }
                open.push_back(*next);
            }
        }
    }
    None
}
