//! What cannot be peeled off a drawing: single rings, and rings that are joined, with what lies between them.

use super::{Bond, Node};
use crate::structure::canon::{GOLDEN, LEAST_ROUNDS, MOST_WORK, SMALL, count_colours, mix};
use crate::structure::rings::Walk;
use crate::structure::skeleton::join;
use std::ops::Range;

/// Marks a node that is in no ring by itself; there are not so many layers.
const JOINED: u32 = u32::MAX - 1;

/// The rings and what lies between them.
#[derive(Debug, Clone, Default)]
pub(super) struct Core {
    /// Its nodes, part by part; of a single ring in their order, with the bonds that lead to each.
    nodes: Vec<u32>,
    kinds: Vec<u32>,
    /// By node of the drawing: the first node of its part.
    root: Vec<u32>,
    /// By node of the drawing: its place in `nodes`.
    place: Vec<u32>,
    starts: Vec<u32>,
    arcs: Vec<Arc>,
    free: Vec<u32>,
    own: Vec<u64>,
    next: Vec<u64>,
    sorted: Vec<u64>,
    rings: Walk,
}

/// A bond of the core, seen from one of its ends.
#[derive(Debug, Clone, Copy, Default)]
struct Arc {
    to: u32,
    bond: u32,
    code: u64,
}

impl Core {
    /// Colours what is left of the nodes.
    pub(super) fn colour(&mut self, nodes: &mut [Node], bonds: &[Bond], colours: &mut [u64]) {
        let mut is_left = false;
        for bond in bonds {
            // A ring that is coloured is left no more.
            if bond.ends.iter().all(|end| nodes[*end as usize].is_left()) {
                is_left |= !self.is_circle(nodes, *bond);
                self.colour_circle(nodes, colours);
            }
        }
        if is_left {
            self.colour_joined(nodes, bonds, colours);
        }
    }

    /// Walks round from a bond; whether that is a ring by itself. Nodes that turn out to be in no such ring are not walked again.
    fn is_circle(&mut self, nodes: &mut [Node], first: Bond) -> bool {
        let Self { nodes: own, kinds, .. } = self;
        own.clear();
        kinds.clear();
        let [mut before, mut at] = first.ends;
        let mut kind = first.kind;
        loop {
            let node = &nodes[at as usize];
            if node.degree != 2 || node.layer == JOINED {
                own.drain(..).for_each(|at| nodes[at as usize].layer = JOINED);
                return false;
            }
            own.push(at);
            kinds.push(kind);
            if at == first.ends[0] {
                return true;
            }
            kind ^= node.kind;
            (before, at) = (at, node.near ^ before);
        }
    }

    /// Colours the ring that was walked round. What can be told apart is when every atom has been heard of from both sides.
    fn colour_circle(&mut self, nodes: &mut [Node], colours: &mut [u64]) {
        let Self { nodes: ring, kinds, own, next, .. } = self;
        let count = ring.len();
        if count == 0 {
            return;
        }
        own.clear();
        own.extend(ring.iter().map(|node| colours[*node as usize]));
        for _ in 0..LEAST_ROUNDS.max(MOST_WORK / count).min(count / 2) {
            next.clear();
            for at in 0..count {
                let (before, behind) = (if at == 0 { count } else { at } - 1, if at + 1 == count { 0 } else { at + 1 });
                let heard = |from: usize, kind: u32| mix(own[from] ^ u64::from(kind).wrapping_mul(GOLDEN));
                let around = heard(before, kinds[at]).wrapping_add(heard(behind, kinds[behind]));
                next.push(mix(around.wrapping_add(own[at].rotate_left(23).wrapping_mul(GOLDEN))));
            }
            std::mem::swap(own, next);
        }
        let sum = part_sum(own);
        for (at, own) in ring.iter().zip(own) {
            colours[*at as usize] = part_colour(*own, sum);
            nodes[*at as usize].degree = 0;
        }
    }

    /// Colours rings that are joined.
    fn colour_joined(&mut self, nodes: &[Node], bonds: &[Bond], colours: &mut [u64]) {
        self.list(nodes, bonds);
        self.link(nodes, bonds);
        self.own.clear();
        self.own.extend(self.nodes.iter().map(|node| colours[*node as usize]));
        self.next.clear();
        self.next.resize(self.own.len(), 0);
        let mut from = 0;
        while from < self.nodes.len() {
            let root = self.root[self.nodes[from] as usize];
            let to = from + self.nodes[from..].iter().take_while(|node| self.root[**node as usize] == root).count();
            self.mark_rings(from as u32..to as u32);
            self.refine(from..to);
            let sum = part_sum(&self.own[from..to]);
            for at in from..to {
                colours[self.nodes[at] as usize] = part_colour(self.own[at], sum);
            }
            from = to;
        }
    }

    /// Lists the nodes part by part.
    fn list(&mut self, nodes: &[Node], bonds: &[Bond]) {
        let Self { nodes: own, root, place, .. } = self;
        root.clear();
        root.extend(0..nodes.len() as u32);
        for Bond { ends: [a, b], .. } in between(nodes, bonds) {
            join(root, a, b);
        }
        own.clear();
        own.extend((0..nodes.len() as u32).filter(|at| nodes[*at as usize].is_left()));
        // `join` keeps the earlier node as root, so that a node is met behind its root.
        for at in &*own {
            root[*at as usize] = root[root[*at as usize] as usize];
        }
        own.sort_by_key(|at| root[*at as usize]);
        place.clear();
        place.resize(nodes.len(), 0);
        for (at, node) in own.iter().enumerate() {
            place[*node as usize] = at as u32;
        }
    }

    /// Notes the bonds of each node.
    fn link(&mut self, nodes: &[Node], bonds: &[Bond]) {
        let Self { nodes: own, place, starts, arcs, free, .. } = self;
        starts.clear();
        let mut total = 0;
        for node in &*own {
            starts.push(total);
            total += nodes[*node as usize].degree;
        }
        free.clone_from(starts);
        starts.push(total);
        arcs.clear();
        arcs.resize(total as usize, Arc::default());
        for (bond, Bond { ends, kind }) in between(nodes, bonds).enumerate() {
            let [a, b] = ends.map(|end| place[end as usize]);
            for (from, to) in [(a, b), (b, a)] {
                let slot = &mut free[from as usize];
                arcs[*slot as usize] = Arc { to, bond: bond as u32, code: u64::from(kind) << 1 };
                *slot += 1;
            }
        }
    }

    /// Marks the bonds of rings in a part that has several, which tells decalin from bicyclopentyl.
    fn mark_rings(&mut self, nodes: Range<u32>) {
        let Self { starts, arcs, rings, .. } = self;
        let all = starts[nodes.start as usize] as usize..starts[nodes.end as usize] as usize;
        if all.len() / 2 <= nodes.len() {
            return;
        }
        arcs[all].iter_mut().for_each(|arc| arc.code |= 1);
        rings.bridges(nodes, starts, |arc| (arcs[arc as usize].to, arcs[arc as usize].bond));
        for (a, b) in rings.found.drain(..) {
            for (from, to) in [(a, b), (b, a)] {
                let own = starts[from as usize] as usize..starts[from as usize + 1] as usize;
                arcs[own].iter_mut().filter(|arc| arc.to == to).for_each(|arc| arc.code &= !1);
            }
        }
    }

    /// Refines the colours of a part until no more nodes are told apart.
    fn refine(&mut self, nodes: Range<usize>) {
        let count = nodes.len();
        let most = LEAST_ROUNDS.max(MOST_WORK / count);
        let mut told_apart = 0;
        for round in 1..=most {
            self.round(nodes.clone());
            self.own[nodes.clone()].copy_from_slice(&self.next[nodes.clone()]);
            // The round after the one that told the last two apart has put the bonds between all colours into them.
            if told_apart == count {
                return;
            }
            if count <= SMALL || round.is_power_of_two() {
                let now = count_colours(&self.own[nodes.clone()], &mut self.sorted);
                if now == told_apart {
                    return;
                }
                told_apart = now;
            }
        }
    }

    /// The next colours, each made of its own and its neighbours'.
    fn round(&mut self, nodes: Range<usize>) {
        for at in nodes {
            let arcs = &self.arcs[self.starts[at] as usize..self.starts[at + 1] as usize];
            let around = arcs.iter().fold(0_u64, |sum, arc| {
                sum.wrapping_add(mix(self.own[arc.to as usize] ^ arc.code.wrapping_mul(GOLDEN)))
            });
            self.next[at] = mix(around.wrapping_add(self.own[at].rotate_left(23).wrapping_mul(GOLDEN)));
        }
    }
}

/// What the colours of a part come to. A ring of six is not two of three: the number of atoms counts.
fn part_sum(colours: &[u64]) -> u64 {
    colours.iter().fold(colours.len() as u64, |sum, colour| sum.wrapping_add(mix(*colour)))
}

fn part_colour(own: u64, sum: u64) -> u64 {
    mix(own ^ sum.rotate_left(1))
}

/// The bonds between nodes that are left.
fn between<'a>(nodes: &'a [Node], bonds: &'a [Bond]) -> impl Iterator<Item = Bond> + 'a {
    bonds.iter().copied().filter(|bond| bond.ends.iter().all(|end| nodes[*end as usize].is_left()))
}
