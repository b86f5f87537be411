//! Colours in one walk where a drawing branches, and by refinement where its rings are joined.
//!
//! What hangs on one bond is peeled off, layer by layer, and counted into what it hangs on (A. V. Aho, J. E. Hopcroft, J. D. Ullman,
//! The Design and Analysis of Computer Algorithms (1974), 3.2). So are rings that hang on one atom, when nothing else hangs on
//! them any more. What is left is an atom, a bond, a ring or a core of joined rings; only the latter two are refined, and tell a whole
//! drawing. Then colours go back from the inside to the outside, to all atoms or only to those that are asked for. Two atoms get one
//! colour in just the cases in which refinement of the whole gives them one, for a small part of its cost.

mod core;

use super::{GOLDEN, mix};
use core::Core;

/// A drawing of which colours are made: feed it with nodes, [`gather`](Peel::gather) what they come to, and
/// [`spread`](Peel::spread) it if each is to have its colour.
#[derive(Debug, Clone, Default)]
pub(crate) struct Peel {
    nodes: Vec<Node>,
    /// Ends of bonds of all nodes.
    ends: usize,
    /// The bonds between nodes that could not be peeled off as leaves.
    bonds: Vec<Bond>,
    colours: Vec<u64>,
    layer: Vec<u32>,
    next: Vec<u32>,
    /// The nodes that were peeled off, in this order. Each keeps the node on which it hung and the kind of the bond.
    leaves: Vec<u32>,
    hoops: Vec<Hoop>,
    /// Nodes that hang on each other, from the outside to the inside.
    way: Vec<u32>,
    /// The nodes of the hoops, each behind its bond, but for the atoms on which they hang.
    round: Vec<Step>,
    /// Whether something cannot be peeled off but an atom or a bond.
    is_left: bool,
    core: Core,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    /// What the node is by itself and what hangs on it so far.
    sum: u64,
    /// Bonds that are left.
    degree: u32,
    /// The layer in which it is a leaf; then what became of it.
    layer: u32,
    /// The other ends of these bonds and their kinds, each added up by exclusive or: of a leaf, those of its one bond.
    near: u32,
    kind: u32,
}

/// How often rings are peeled off: each time costs a walk through the whole drawing. Ring on ring on ring is left to the core.
const PHASES: usize = 16;
/// Bonds of a ring at least.
const SMALLEST_RING: usize = 3;
/// In no layer yet.
const NEVER: u32 = u32::MAX;
/// A leaf that was peeled off; a node of a ring that was; a leaf that has its colour. There are not so many layers.
const OFF: u32 = u32::MAX - 2;
const ROUND: u32 = u32::MAX - 3;
const COLOURED: u32 = u32::MAX - 4;

#[derive(Debug, Clone, Copy)]
struct Bond {
    ends: [u32; 2],
    kind: u32,
}

/// What is left of a drawing whose leaves were peeled off: takes the bonds between the nodes that are.
#[derive(Debug)]
pub(crate) struct Rest<'p> {
    nodes: &'p [Node],
    bonds: &'p mut Vec<Bond>,
}

impl Rest<'_> {
    /// Whether a node is left.
    #[inline]
    pub(crate) fn has(&self, node: u32) -> bool {
        self.nodes[node as usize].is_left()
    }

    /// Takes a bond, which may be one that went.
    #[inline]
    pub(crate) fn take(&mut self, a: u32, b: u32, kind: u32) {
        if self.has(a) && self.has(b) {
            self.bonds.push(Bond { ends: [a.min(b), a.max(b)], kind });
        }
    }
}

/// A ring that was peeled off.
#[derive(Debug, Clone, Copy)]
struct Hoop {
    /// The node on which it hung.
    inner: u32,
    /// Its other nodes are these of all.
    from: usize,
    to: usize,
    /// The kind of the bond that closes it.
    last_kind: u32,
    /// Leaves that were peeled off before it.
    leaves: usize,
}

/// A bond and the node behind it.
#[derive(Debug, Clone, Copy)]
struct Step {
    kind: u32,
    node: u32,
}

impl Peel {
    /// Begins another drawing. Its nodes are numbered from 0.
    pub(crate) fn begin(&mut self) {
        self.nodes.clear();
        self.ends = 0;
    }

    /// Adds nodes, each with its code and its bonds: their number, and their other ends and kinds, each added up by exclusive or.
    #[inline]
    pub(crate) fn add_nodes(&mut self, nodes: impl Iterator<Item = (u64, [u32; 3])>) {
        let ends = &mut self.ends;
        self.nodes.extend(nodes.map(|(code, [degree, near, kind])| {
            *ends += degree as usize;
            Node { sum: mix(code), degree, layer: NEVER, near, kind }
        }));
    }

    /// Adds a bond between two nodes that were added without it.
    #[inline]
    pub(crate) fn add_bond(&mut self, a: u32, b: u32, kind: u32) {
        for (own, other) in [(a, b), (b, a)] {
            let node = &mut self.nodes[own as usize];
            node.degree += 1;
            node.near ^= other;
            node.kind ^= kind;
        }
        self.ends += 2;
    }

    /// Adds to what a node is by itself.
    #[inline]
    pub(crate) fn seed(&mut self, node: u32, seed: u64) {
        let sum = &mut self.nodes[node as usize].sum;
        *sum = sum.wrapping_add(mix(seed.wrapping_mul(GOLDEN).rotate_left(17)));
    }

    /// Number of nodes.
    pub(crate) fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Peels the drawing and gathers what its nodes come to. `list` gives the bonds of the drawing, those between nodes that are left at
    /// least.
    pub(crate) fn gather(&mut self, list: impl FnOnce(&mut Rest<'_>)) {
        self.peel(list);
        let Self { nodes, bonds, colours, core, is_left, .. } = self;
        colours.clear();
        colours.extend(nodes.iter().map(|node| mix(node.sum)));
        if *is_left {
            core.colour(nodes, bonds, colours);
        }
    }

    /// What was gathered, in any order, as one number: the inner nodes have heard of all others.
    pub(crate) fn sum(&self) -> u64 {
        self.colours.iter().fold(0, |sum, colour| sum.wrapping_add(*colour))
    }

    /// Gives each node its colour.
    pub(crate) fn spread(&mut self) {
        let Self { nodes, colours, leaves, hoops, round, .. } = self;
        let mut end = leaves.len();
        for hoop in hoops.iter().rev() {
            colour_leaves(&leaves[hoop.leaves..end], nodes, colours);
            hoop.colour(&round[hoop.from..hoop.to], nodes, colours);
            end = hoop.leaves;
        }
        colour_leaves(&leaves[..end], nodes, colours);
    }

    /// Gives some nodes their colours, with which [`spread`](Self::spread) would find them.
    pub(crate) fn spread_to(&mut self, some: impl Iterator<Item = u32>) {
        for node in some {
            if !self.spread_from_inside(node) {
                self.spread();
                return;
            }
        }
    }

    /// Gives a node its colour, and before it those on which it hangs; `false`, and nothing done, if one of them is in a ring that was
    /// peeled off.
    fn spread_from_inside(&mut self, node: u32) -> bool {
        let Self { nodes, colours, way, .. } = self;
        way.clear();
        let mut at = node;
        while nodes[at as usize].layer == OFF {
            way.push(at);
            at = nodes[at as usize].near;
        }
        if nodes[at as usize].layer == ROUND {
            return false;
        }
        colour_leaves(way, nodes, colours);
        true
    }

    /// The colour of a node.
    #[inline]
    pub(crate) fn of(&self, node: u32) -> u64 {
        self.colours[node as usize]
    }

    /// Peels off all leaves, then all rings that hang on one atom, and again while there are any.
    fn peel(&mut self, list: impl FnOnce(&mut Rest<'_>)) {
        let Self { nodes, layer, leaves, hoops, round, .. } = self;
        leaves.clear();
        hoops.clear();
        round.clear();
        layer.clear();
        for (at, node) in (0..).zip(nodes) {
            if node.degree == 1 {
                node.layer = 0;
                layer.push(at);
            }
        }
        let mut number = 0;
        let mut left = self.ends / 2 - self.peel_leaves(&mut number);
        self.is_left = left > 0;
        if !self.is_left {
            return;
        }
        self.bonds.clear();
        list(&mut Rest { nodes: &self.nodes, bonds: &mut self.bonds });
        for _ in 0..PHASES {
            // A single ring hangs on nothing.
            let rings = if left > SMALLEST_RING { self.peel_rings(number) } else { 0 };
            if rings == 0 {
                break;
            }
            left -= rings + self.peel_leaves(&mut number);
        }
        self.is_left = left > 0;
    }

    /// Peels leaves off, layer by layer, and gives the number of bonds that went. Where a layer is two leaves on one bond, each
    /// gets what the other carries.
    fn peel_leaves(&mut self, number: &mut u32) -> usize {
        let Self { nodes, layer, next, leaves, .. } = self;
        let mut count = 0;
        while !layer.is_empty() {
            next.clear();
            for &at in &*layer {
                let Node { sum, degree, near, kind, .. } = nodes[at as usize];
                if degree == 0 {
                    continue;
                }
                count += 1;
                nodes[at as usize].degree = 0;
                let carried = |sum: u64| mix(mix(sum) ^ u64::from(kind).wrapping_mul(GOLDEN));
                let inner = &mut nodes[near as usize];
                if inner.degree == 1 && inner.layer == *number {
                    let other = inner.sum;
                    inner.degree = 0;
                    inner.sum = other.wrapping_add(carried(sum));
                    nodes[at as usize].sum = sum.wrapping_add(carried(other));
                    continue;
                }
                inner.sum = inner.sum.wrapping_add(carried(sum));
                inner.degree -= 1;
                inner.near ^= at;
                inner.kind ^= kind;
                if inner.degree == 1 {
                    inner.layer = *number + 1;
                    next.push(near);
                }
                nodes[at as usize].layer = OFF;
                leaves.push(at);
            }
            std::mem::swap(layer, next);
            *number += 1;
        }
        count
    }

    /// Peels off all rings that hang on one atom each, and gives the number of bonds that went. The atoms that are leaves
    /// then are the next layer.
    fn peel_rings(&mut self, number: u32) -> usize {
        let first = self.hoops.len();
        for at in 0..self.bonds.len() {
            let Bond { ends: [a, b], kind } = self.bonds[at];
            match (self.nodes[a as usize].degree, self.nodes[b as usize].degree) {
                (2, 3..) => self.walk_round(b, Step { kind, node: a }),
                (3.., 2) => self.walk_round(a, Step { kind, node: b }),
                _ => {}
            }
        }
        let Self { nodes, layer, hoops, round, .. } = self;
        let mut count = 0;
        for hoop in &hoops[first..] {
            let steps = &round[hoop.from..hoop.to];
            count += steps.len() + 1;
            let sum = hoop.sum(steps, nodes);
            for step in steps {
                let node = &mut nodes[step.node as usize];
                (node.degree, node.layer) = (0, ROUND);
            }
            let (Some(one), Some(other)) = (steps.first(), steps.last()) else { continue };
            let inner = &mut nodes[hoop.inner as usize];
            inner.sum = inner.sum.wrapping_add(sum);
            inner.degree -= 2;
            inner.near ^= one.node ^ other.node;
            inner.kind ^= one.kind ^ hoop.last_kind;
        }
        for hoop in &hoops[first..] {
            let inner = &mut nodes[hoop.inner as usize];
            if inner.degree == 1 && inner.layer != number {
                inner.layer = number;
                layer.push(hoop.inner);
            }
        }
        count
    }

    /// Walks on from a node while there is one way on. Where that leads back to the node, the way is a ring that hangs on it;
    /// each is met from both sides, and noted once.
    fn walk_round(&mut self, inner: u32, first: Step) {
        let Self { nodes, leaves, hoops, round, .. } = self;
        let from = round.len();
        let (mut before, mut step) = (inner, first);
        while step.node != inner {
            let node = &nodes[step.node as usize];
            if node.degree != 2 {
                round.truncate(from);
                return;
            }
            round.push(step);
            (before, step) = (step.node, Step { kind: node.kind ^ step.kind, node: node.near ^ before });
        }
        if first.node > before {
            round.truncate(from);
            return;
        }
        hoops.push(Hoop { inner, from, to: round.len(), last_kind: step.kind, leaves: leaves.len() });
    }
}

impl Node {
    /// Whether it is in what cannot be peeled off.
    fn is_left(&self) -> bool {
        self.degree > 1
    }
}

/// Gives leaves their colours, from the inside to the outside.
fn colour_leaves(leaves: &[u32], nodes: &mut [Node], colours: &mut [u64]) {
    for at in leaves.iter().rev() {
        let Node { layer, near, kind, .. } = &mut nodes[*at as usize];
        if *layer == COLOURED {
            continue;
        }
        *layer = COLOURED;
        let inner = colours[*near as usize];
        let colour = &mut colours[*at as usize];
        *colour = mix(*colour ^ inner.rotate_left(29).wrapping_add(u64::from(*kind)));
    }
}

impl Hoop {
    /// What the ring adds to the node on which it hangs: what is met on the way round, both ways.
    fn sum(&self, steps: &[Step], nodes: &[Node]) -> u64 {
        let sum = |step: &Step| nodes[step.node as usize].sum;
        let there = steps.iter().fold(0, |so_far, step| on(so_far, sum(step), step.kind));
        let (back, kind) = steps
            .iter()
            .rev()
            .fold((0, self.last_kind), |(so_far, kind), step| (on(so_far, sum(step), kind), step.kind));
        mix(on(there, 0, self.last_kind)).wrapping_add(mix(on(back, 0, kind)))
    }

    /// Gives the nodes of the ring their colours: what is met from the node on which it hangs to them, both ways.
    fn colour(&self, steps: &[Step], nodes: &[Node], colours: &mut [u64]) {
        let inner = colours[self.inner as usize];
        let mut so_far = inner;
        for step in steps {
            so_far = on(so_far, nodes[step.node as usize].sum, step.kind);
            colours[step.node as usize] = mix(so_far);
        }
        let (mut so_far, mut kind) = (inner, self.last_kind);
        for step in steps.iter().rev() {
            so_far = on(so_far, nodes[step.node as usize].sum, kind);
            kind = step.kind;
            let colour = &mut colours[step.node as usize];
            *colour = mix(colour.wrapping_add(mix(so_far)));
        }
    }
}

/// One step further on a way: over a bond to a node.
fn on(so_far: u64, sum: u64, kind: u32) -> u64 {
    mix(so_far.rotate_left(25).wrapping_add(sum) ^ u64::from(kind).wrapping_mul(GOLDEN))
}
