//! The bare graph that is laid out: nodes, edges with lengths, and what the drawing says about angles.

use smallvec::SmallVec;

/// A line that is drawn between two nodes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub(super) ends: [usize; 2],
    /// Wanted length in bond lengths.
    pub(super) length: f64,
    /// Whether the edge only shows where a bond will form between species of the start.
    pub(super) joining: bool,
    /// Whether the bond is gone in a later drawing.
    pub(super) breaking: bool,
}

/// A marked double bond: whether its references lie on the same side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mark {
    pub(super) ends: [usize; 2],
    pub(super) references: [usize; 2],
    pub(super) same_side: bool,
}

/// Neighbours of a node with the edges that lead there.
pub(super) type Links = SmallVec<[(usize, usize); 4]>;

/// A graph to lay out.
#[derive(Debug, Clone, Default)]
pub(super) struct Skeleton {
    pub(super) edges: Vec<Edge>,
    pub(super) links: Vec<Links>,
    /// Nodes whose two neighbours lie opposite each other (sp atoms).
    pub(super) linear: Vec<bool>,
    /// Nodes that carry four neighbours as a cross even inside a chain (sulfonyl, phosphate).
    pub(super) cross: Vec<bool>,
    /// Nodes that are written as text rather than drawn as a corner.
    pub(super) text: Vec<bool>,
    pub(super) marks: Vec<Mark>,
}

impl Skeleton {
    pub(super) fn with_nodes(count: usize) -> Self {
        Self {
            links: vec![Links::new(); count],
            linear: vec![false; count],
            cross: vec![false; count],
            text: vec![false; count],
            ..Self::default()
        }
    }

    pub(super) fn len(&self) -> usize {
        self.links.len()
    }

    /// Adds an edge unless the two nodes are linked already or are one.
    pub(super) fn link(&mut self, a: usize, b: usize, length: f64, joining: bool) {
        if a == b || self.edge_between(a, b).is_some() {
            return;
        }
        let edge = self.edges.len();
        self.edges.push(Edge { ends: [a, b], length, joining, breaking: false });
        self.links[a].push((b, edge));
        self.links[b].push((a, edge));
    }

    pub(super) fn edge_between(&self, a: usize, b: usize) -> Option<usize> {
        let (from, to) = if self.links[a].len() <= self.links[b].len() { (a, b) } else { (b, a) };
        self.links[from].iter().find(|(node, _)| *node == to).map(|(_, edge)| *edge)
    }

    /// The nodes that bonds join to one, itself first; nodes that are `seen` are not entered.
    pub(super) fn reached(&self, first: usize, seen: &mut [bool]) -> Vec<usize> {
        seen[first] = true;
        let mut reached = vec![first];
        let mut at = 0;
        while at < reached.len() {
            for (next, _) in &self.links[reached[at]] {
                if !std::mem::replace(&mut seen[*next], true) {
                    reached.push(*next);
                }
            }
            at += 1;
        }
        reached
    }

    /// The connected parts, each as its nodes in rising order.
    pub(super) fn components(&self) -> Vec<Vec<usize>> {
        let mut seen = vec![false; self.len()];
        let mut parts = Vec::new();
        for first in 0..self.len() {
            if seen[first] {
                continue;
            }
            let mut part = self.reached(first, &mut seen);
            part.sort_unstable();
            parts.push(part);
        }
        parts
    }

    /// The part that consists of some nodes, renumbered in the order given.
    pub(super) fn part(&self, nodes: &[usize]) -> Self {
        let mut new_of = vec![usize::MAX; self.len()];
        for (new, old) in nodes.iter().enumerate() {
            new_of[*old] = new;
        }
        let mut part = Self::with_nodes(nodes.len());
        for (new, old) in nodes.iter().enumerate() {
            part.linear[new] = self.linear[*old];
            part.cross[new] = self.cross[*old];
            part.text[new] = self.text[*old];
        }
        for edge in &self.edges {
            let [a, b] = edge.ends.map(|end| new_of[end]);
            if a != usize::MAX && b != usize::MAX {
                part.link(a, b, edge.length, edge.joining);
                if let Some(new) = part.edges.last_mut() {
                    new.breaking = edge.breaking;
                }
            }
        }
        for mark in &self.marks {
            let ends = mark.ends.map(|end| new_of[end]);
            let references = mark.references.map(|end| new_of[end]);
            if ends.iter().chain(&references).all(|node| *node != usize::MAX) {
                part.marks.push(Mark { ends, references, ..*mark });
            }
        }
        part
    }

    /// For each edge, whether it is in one of the cyclic blocks.
    pub(super) fn in_ring(&self, blocks: &[Vec<usize>]) -> Vec<bool> {
        let mut in_ring = vec![false; self.edges.len()];
        for edge in blocks.iter().flatten() {
            in_ring[*edge] = true;
        }
        in_ring
    }

    /// The cyclic blocks (maximal parts that stay connected without any one node), each as its edges. Edges in no ring are
    /// in no block. One walk without recursion (Hopcroft and Tarjan 1973).
    pub(super) fn cyclic_blocks(&self) -> Vec<Vec<usize>> {
        let mut walk = BlockWalk { order: vec![0; self.len()], low: vec![0; self.len()], ..BlockWalk::default() };
        for first in 0..self.len() {
            if walk.order[first] == 0 {
                walk.from(self, first);
            }
        }
        walk.blocks
    }
}

#[derive(Default)]
struct BlockWalk {
    clock: usize,
    order: Vec<usize>,
    low: Vec<usize>,
    stack: Vec<usize>,
    blocks: Vec<Vec<usize>>,
}

impl BlockWalk {
    fn open(&mut self, node: usize) {
        self.clock += 1;
        self.order[node] = self.clock;
        self.low[node] = self.clock;
    }

    fn from(&mut self, graph: &Skeleton, first: usize) {
        self.open(first);
        // A frame is a node, the edge that led to it, and the position of its next link.
        let mut frames = vec![(first, usize::MAX, 0)];
        while let Some((node, came_by, at)) = frames.last_mut() {
            let (node, came_by) = (*node, *came_by);
            let Some((next, edge)) = graph.links[node].get(*at).copied() else {
                frames.pop();
                if let Some((parent, ..)) = frames.last() {
                    self.close(node, *parent, came_by);
                }
                continue;
            };
            *at += 1;
            if edge == came_by {
                continue;
            }
            if self.order[next] == 0 {
                self.stack.push(edge);
                self.open(next);
                frames.push((next, edge, 0));
            } else if self.order[next] < self.order[node] {
                self.stack.push(edge);
                self.low[node] = self.low[node].min(self.order[next]);
            }
        }
    }

    fn close(&mut self, node: usize, parent: usize, came_by: usize) {
        self.low[parent] = self.low[parent].min(self.low[node]);
        if self.low[node] < self.order[parent] {
            return;
        }
        let from = self.stack.iter().rposition(|edge| *edge == came_by).unwrap_or(0);
        let block = self.stack.split_off(from);
        if block.len() > 1 {
            self.blocks.push(block);
        }
    }
}
