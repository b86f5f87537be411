//! The cheapest correspondence for certain, where that can be had in few steps: branch and bound.

use super::NONE;
use super::bound::Bound;
use super::cost::{ATOM, BOND, LOOSE_BOND, Map, node_cost};
use crate::structure::skeleton::{Arc, Skeleton};

/// One node of `a` whose image is being chosen.
struct Frame {
    u: u32,
    /// A neighbour that is decided earlier, or `NONE`.
    via: u32,
    /// Where the candidates of this frame start on the shared stack.
    candidates: usize,
    /// What it cost to get here.
    cost: u32,
}

/// Replaces `best`, of total `cost`, by the cheapest correspondence that changes nothing but the nodes of `of_a` and `of_b`. Says
/// whether it was found for certain; `best` is never worse than before. `open` is what these nodes are worth.
pub(super) fn prove(
    best: &mut Map<'_>,
    cost: &mut u32,
    [of_a, of_b]: [&[u32]; 2],
    open: Open,
    steps: &mut u64,
) -> bool {
    let mut search = Search::new(best, of_a, of_b, open);
    search.run(best, cost, steps)
}

/// What every correspondence costs that changes nothing but some nodes, as far as counting can tell.
#[derive(Debug, Clone)]
pub(super) struct Open {
    bound: Bound,
    /// Differences of what is not to be changed.
    base: u32,
}

impl Open {
    /// The nodes `of_a` and `of_b` are open; every other is decided as in the map.
    pub(super) fn new(map: &Map<'_>, of_a: &[u32], of_b: &[u32]) -> Self {
        let (is_open_a, is_open_b) = (marked(of_a, map.a.len()), marked(of_b, map.b.len()));
        let mut bound = Bound::new(map.a, map.b, of_a, of_b);
        bound.bonds(open_bonds(map.a, &is_open_a), open_bonds(map.b, &is_open_b), 1);
        Self { bound, base: cost_of_decided(map, &is_open_a, &is_open_b) }
    }

    pub(super) fn least(&self) -> u32 {
        self.base + self.bound.least()
    }
}

/// The bonds that are to be decided, as one of their ends is; each once.
fn open_bonds<'s>(side: &'s Skeleton, is_open: &'s [bool]) -> impl Iterator<Item = &'s Arc> {
    let open = |u: u32, to: u32| to > u && (is_open[u as usize] || is_open[to as usize]);
    (0..side.len()).flat_map(move |u| side.arcs(u).iter().filter(move |arc| open(u, arc.to)))
}

fn marked(nodes: &[u32], count: u32) -> Vec<bool> {
    let mut marked = vec![false; count as usize];
    for node in nodes {
        marked[*node as usize] = true;
    }
    marked
}

/// The cost of everything that touches no open node.
fn cost_of_decided(map: &Map<'_>, is_open_a: &[bool], is_open_b: &[bool]) -> u32 {
    let Map { a, b, .. } = *map;
    let mut cost = 0;
    for u in (0..a.len()).filter(|u| !is_open_a[*u as usize]) {
        let image = map.image(u);
        cost += if image == NONE { ATOM } else { node_cost(a.node(u), b.node(image)) };
        let settled = a.arcs(u).iter().filter(|arc| arc.to > u && !is_open_a[arc.to as usize]);
        cost += settled.map(|arc| map.cost_of_a(image, arc)).sum::<u32>();
    }
    for v in (0..b.len()).filter(|v| !is_open_b[*v as usize]) {
        let source = map.source(v);
        cost += if source == NONE { ATOM } else { 0 };
        let settled = b.arcs(v).iter().filter(|arc| arc.to > v && !is_open_b[arc.to as usize]);
        cost += settled.map(|arc| map.cost_of_b(source, arc)).sum::<u32>();
    }
    cost
}

struct Search<'a> {
    map: Map<'a>,
    frames: Vec<Frame>,
    /// Candidates (cost of choosing it, image) of all frames up to the present one, the best of each last.
    stack: Vec<(u32, u32)>,
    of_b: Vec<u32>,
    is_open_b: Vec<bool>,
    bound: Bound,
    /// By node of `a`: whether its image is decided.
    decided: Vec<bool>,
    base: u32,
}

impl<'a> Search<'a> {
    fn new(best: &Map<'a>, of_a: &[u32], of_b: &[u32], Open { bound, base }: Open) -> Self {
        let mut map = best.clone();
        let mut decided = vec![true; map.a.len() as usize];
        for u in of_a {
            decided[*u as usize] = false;
            if map.image(*u) != NONE {
                map.assign(*u, NONE);
            }
        }
        let frames = order(&map, of_a, &decided);
        let is_open_b = marked(of_b, map.b.len());
        Self { map, frames, stack: Vec::new(), of_b: of_b.to_vec(), is_open_b, bound, decided, base }
    }

    fn run(&mut self, best: &mut Map<'a>, best_cost: &mut u32, steps: &mut u64) -> bool {
        let mut depth = 0;
        let mut cost = self.base;
        if !self.enter(depth, cost, *best_cost, steps) {
            return false;
        }
        loop {
            if depth == self.frames.len() {
                let whole = cost + self.cost_of_rest();
                if whole < *best_cost {
                    *best_cost = whole;
                    best.clone_from(&self.map);
                }
            } else if let Some(chosen) = self.choose(depth, *best_cost) {
                cost = chosen;
                depth += 1;
                if !self.enter(depth, cost, *best_cost, steps) {
                    return false;
                }
                continue;
            }
            let Some(back) = depth.checked_sub(1) else { return true };
            depth = back;
            self.undo(depth);
        }
    }

    /// What stays unmatched in `b`.
    fn cost_of_rest(&self) -> u32 {
        let is_open = &self.is_open_b;
        let mut cost = 0;
        for v in self.of_b.iter().filter(|v| self.map.source(**v) == NONE) {
            let bonds = self.map.b.arcs(*v).iter();
            // A bond between two of them counts once.
            let own = bonds.filter(|arc| arc.to > *v || self.map.source(arc.to) != NONE || !is_open[arc.to as usize]);
            cost += ATOM + LOOSE_BOND * own.count() as u32;
        }
        cost
    }

    /// Lists the candidates of a frame. False if steps ran out.
    fn enter(&mut self, depth: usize, cost: u32, best: u32, steps: &mut u64) -> bool {
        let start = self.stack.len();
        let Some(frame) = self.frames.get_mut(depth) else { return true };
        frame.candidates = start;
        frame.cost = cost;
        let (u, via) = (frame.u, frame.via);
        let anchor = if via == NONE { NONE } else { self.map.image(via) };
        // Away from the neighbour's image a bond is missing; where that is too much, only its neighbours come into question.
        let near_only = anchor != NONE && cost + BOND >= best;
        let count = if near_only { self.map.b.arcs(anchor).len() } else { self.of_b.len() };
        for at in 0..count {
            let v = if near_only { self.map.b.arcs(anchor)[at].to } else { self.of_b[at] };
            if self.map.source(v) != NONE {
                continue;
            }
            if *steps == 0 {
                return false;
            }
            *steps -= 1;
            let price = self.price(u, v);
            if cost + price < best {
                self.stack.push((price, v));
            }
        }
        let decided = self.map.a.arcs(u).iter().filter(|arc| self.decided[arc.to as usize]).count() as u32;
        let without = ATOM + LOOSE_BOND * decided;
        if cost + without < best {
            self.stack.push((without, NONE));
        }
        self.stack[start..].sort_unstable_by_key(|(price, v)| std::cmp::Reverse((*price, *v)));
        true
    }

    /// What it costs, with the nodes that are decided, that `u` stands for `v`.
    fn price(&self, u: u32, v: u32) -> u32 {
        let Map { a, b, .. } = self.map;
        let mut price = node_cost(a.node(u), b.node(v));
        for arc in a.arcs(u).iter().filter(|arc| self.decided[arc.to as usize]) {
            price += self.map.cost_of_a(v, arc);
        }
        for arc in b.arcs(v) {
            let source = self.map.source(arc.to);
            if source != NONE && a.arc_between(u, source).is_none() {
                price += BOND;
            }
        }
        price
    }

    /// Takes the next candidate of a frame that may lead to something cheaper than `best`; returns the cost so far.
    fn choose(&mut self, depth: usize, best: u32) -> Option<u32> {
        let Frame { u, candidates, cost, .. } = self.frames[depth];
        while self.stack.len() > candidates {
            let (price, v) = self.stack.pop()?;
            if cost + price >= best {
                // Sorted: the others of this frame are dearer.
                self.stack.truncate(candidates);
                return None;
            }
            self.decide(u, v, -1);
            if cost + price + self.bound.least() < best {
                return Some(cost + price);
            }
            self.decide(u, v, 1);
        }
        None
    }

    fn undo(&mut self, depth: usize) {
        let u = self.frames[depth].u;
        self.decide(u, self.map.image(u), 1);
    }

    /// Decides (`by` = -1) that `u` stands for `v`, or undoes it (1).
    fn decide(&mut self, u: u32, v: u32, by: i32) {
        if by > 0 {
            self.decided[u as usize] = false;
            self.map.image[u as usize] = NONE;
            if v != NONE {
                self.map.source[v as usize] = NONE;
            }
        }
        self.bound.nodes(u, v, by);
        let (decided, source) = (&self.decided, &self.map.source);
        let of_a = self.map.a.arcs(u).iter().filter(|arc| decided[arc.to as usize]);
        let of_v = if v == NONE { &[] } else { self.map.b.arcs(v) };
        self.bound.bonds(of_a, of_v.iter().filter(|arc| source[arc.to as usize] != NONE), by);
        if by < 0 {
            self.decided[u as usize] = true;
            self.map.image[u as usize] = v;
            if v != NONE {
                self.map.source[v as usize] = u;
            }
        }
    }
}

/// The nodes in an order in which each has an earlier neighbour where possible, those with the most bonds first.
fn order(map: &Map<'_>, of_a: &[u32], decided: &[bool]) -> Vec<Frame> {
    let mut planned = decided.to_vec();
    let mut frames: Vec<Frame> = Vec::with_capacity(of_a.len());
    let mut roots = of_a.to_vec();
    roots.sort_by_key(|u| {
        let beside_fixed = map.a.arcs(*u).iter().any(|arc| decided[arc.to as usize]);
        std::cmp::Reverse((beside_fixed, map.a.arcs(*u).len(), std::cmp::Reverse(*u)))
    });
    for root in roots {
        if std::mem::replace(&mut planned[root as usize], true) {
            continue;
        }
        let fixed = map.a.arcs(root).iter().find(|arc| decided[arc.to as usize]).map_or(NONE, |arc| arc.to);
        let mut next = frames.len();
        frames.push(Frame { u: root, via: fixed, candidates: 0, cost: 0 });
        while let Some(frame) = frames.get(next) {
            let via = frame.u;
            next += 1;
            for arc in map.a.arcs(via) {
                if !std::mem::replace(&mut planned[arc.to as usize], true) {
                    frames.push(Frame { u: arc.to, via, candidates: 0, cost: 0 });
                }
            }
        }
    }
    frames
}
