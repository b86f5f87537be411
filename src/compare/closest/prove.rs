//! The cheapest correspondence for certain, where that can be had in few steps: branch and bound.

use super::NONE;
use super::bound::{Bonds, Bound, Pair};
use super::cost::{ATOM, BOND, LOOSE_BOND, Map, ORDER, PROPERTY, arc_cost, node_cost};
use super::open::{Open, marked};
use super::unmatched::Unmatched;
use crate::structure::skeleton::Arc;
use smallvec::SmallVec;

/// One node of `a` whose image is being chosen.
struct Frame {
    u: u32,
    /// A neighbour that is decided earlier, or `NONE`.
    via: u32,
    /// Where the candidates of this frame start on the shared stack.
    candidates: usize,
    /// What it cost to get here.
    cost: u32,
    /// What its present choice decides.
    pair: Pair,
}

/// Replaces `best`, of total `cost`, by the cheapest correspondence that changes nothing but the nodes of `of_a` and `of_b`. Says
/// whether it was found for certain; `best` is never worse than before.
pub(super) fn prove(best: &mut Map<'_>, cost: &mut u32, open: &Open<'_>, steps: &mut u64) -> bool {
    let mut search = BranchAndBound::new(best, open);
    search.run(best, cost, steps)
}

/// What it costs in a frame to choose a node of one kind.
#[derive(Clone, Copy)]
struct Floor {
    /// By what the nodes are alone.
    alone: u32,
    /// The least cost of all other atoms.
    behind: u32,
}

/// A node of `a` whose images are looked for, and what is the same for all of them.
struct Entry<'a> {
    u: u32,
    /// Its bonds to nodes that are decided, and how many there are of each kind.
    ties: SmallVec<[Tie<'a>; 4]>,
    bonds: Bonds,
    /// An image that costs so much is too dear.
    most: u32,
    /// The least cost of all bonds that are not decided.
    bonds_left: u32,
}

/// A bond to a node that is decided, and for what that stands.
#[derive(Clone, Copy)]
struct Tie<'a> {
    arc: &'a Arc,
    image: u32,
}

/// An image that may lead to something cheaper.
#[derive(Clone, Copy)]
struct Candidate {
    /// What it costs.
    price: u32,
    image: u32,
    /// That, and what everything behind it costs at least.
    least: u32,
}

struct BranchAndBound<'a> {
    map: Map<'a>,
    frames: Vec<Frame>,
    /// Candidates of all frames up to the present one, the best of each last.
    stack: Vec<Candidate>,
    /// What the nodes of `b` are, each with one that is that.
    kinds: Vec<(usize, u32)>,
    /// By what a node of `a` is, once one has been entered: what it costs that it stands for a node of each of these kinds, by what
    /// the nodes are alone.
    alone: Vec<Vec<u32>>,
    unmatched: Unmatched,
    is_open_b: Vec<bool>,
    bound: Bound,
    /// By node of `a`: whether its image is decided.
    decided: Vec<bool>,
    base: u32,
}

impl<'a> BranchAndBound<'a> {
    fn new(best: &Map<'a>, open: &Open<'a>) -> Self {
        let Open { of_a, of_b, .. } = *open;
        let map = best.without(of_a);
        let bound = Bound::new(map.a, map.b, of_a, of_b, &open.bonds(&map));
        let mut decided = vec![true; map.a.len() as usize];
        for u in of_a {
            decided[*u as usize] = false;
        }
        let frames = order(&map, of_a, &decided);
        let unmatched = Unmatched::new(of_b, map.b.len(), bound.whats(), |v| bound.what(v));
        let kinds = (0..bound.whats()).filter_map(|what| Some((what, unmatched.first(what)?))).collect();
        Self {
            frames,
            stack: Vec::new(),
            kinds,
            alone: vec![Vec::new(); bound.whats()],
            unmatched,
            is_open_b: marked(of_b, map.b.len()),
            bound,
            decided,
            base: open.base(&map),
            map,
        }
    }

    fn run(&mut self, best: &mut Map<'_>, best_cost: &mut u32, steps: &mut u64) -> bool {
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
                    best.take_over(&self.map);
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
        for (what, _) in &self.kinds {
            let mut next = self.unmatched.first(*what);
            while let Some(v) = next {
                let bonds = self.map.b.arcs(v).iter();
                // A bond between two of them counts once.
                let own =
                    bonds.filter(|arc| arc.to > v || self.map.source(arc.to) != NONE || !is_open[arc.to as usize]);
                cost += ATOM + LOOSE_BOND * own.count() as u32;
                next = self.unmatched.behind(v);
            }
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
        let most = best.saturating_sub(cost);
        let entry = self.entry(u, most);
        // Away from the neighbour's image a bond is missing; where that is too much, only its neighbours come into question.
        let is_listed = if anchor != NONE && BOND >= most {
            self.offer_near(&entry, anchor, steps)
        } else {
            self.offer_all(&entry, steps)
        };
        if !is_listed {
            return false;
        }
        self.offer_none(&entry);
        self.stack[start..].sort_unstable_by_key(|own| std::cmp::Reverse((own.price, own.image)));
        true
    }

    fn entry(&self, u: u32, most: u32) -> Entry<'a> {
        let ties: SmallVec<[Tie<'_>; 4]> =
            self.decided(u).map(|arc| Tie { arc, image: self.map.image(arc.to) }).collect();
        let bonds = self.bound.bonds_of(ties.iter().map(|tie| tie.arc), [].iter());
        Entry { u, ties, bonds, most, bonds_left: self.bound.bonds_left() }
    }

    /// Offers the neighbours of a node of `b`. False if steps ran out.
    fn offer_near(&mut self, entry: &Entry<'_>, anchor: u32, steps: &mut u64) -> bool {
        for arc in self.map.b.arcs(anchor) {
            let v = arc.to;
            if self.map.source(v) != NONE {
                continue;
            }
            if *steps == 0 {
                return false;
            }
            *steps -= 1;
            let alone = self.cost_alone(entry.u, v);
            if let Some(floor) = self.floor(entry, v, alone) {
                self.weigh(entry, v, floor);
            }
        }
        true
    }

    /// Offers all nodes that stand for nothing, kind by kind. False if steps ran out.
    fn offer_all(&mut self, entry: &Entry<'_>, steps: &mut u64) -> bool {
        let Some(left) = steps.checked_sub(self.unmatched.len().into()) else { return false };
        *steps = left;
        if self.unmatched.len() == 0 {
            return true;
        }
        let what = self.bound.what_of_a(entry.u);
        if self.alone[what].is_empty() {
            self.alone[what] = self.kinds.iter().map(|(_, v)| self.cost_alone(entry.u, *v)).collect();
        }
        for at in 0..self.kinds.len() {
            // What bonds cost is not less than what they take from the bound.
            let alone = self.alone[what][at];
            if alone + entry.bonds_left >= entry.most {
                continue;
            }
            let Some(first) = self.unmatched.first(self.kinds[at].0) else { continue };
            let Some(floor) = self.floor(entry, first, alone) else { continue };
            let mut next = Some(first);
            while let Some(v) = next {
                self.weigh(entry, v, floor);
                next = self.unmatched.behind(v);
            }
        }
        true
    }

    /// What it costs that nodes stand for each other, by what they are alone. Nodes of one kind may differ in what they state of
    /// unpaired electrons.
    fn cost_alone(&self, u: u32, v: u32) -> u32 {
        let [own, other] = [self.map.a.node(u), self.map.b.node(v)];
        node_cost(own, other) - if own.unpaired_agrees(other) { 0 } else { PROPERTY }
    }

    /// What it costs at least to choose a node of this kind; `None` where that is too dear.
    fn floor(&self, entry: &Entry<'_>, v: u32, alone: u32) -> Option<Floor> {
        if alone + entry.bonds_left >= entry.most {
            return None;
        }
        let behind = self.bound.atoms_behind(entry.u, v);
        (alone + behind + entry.bonds_left < entry.most).then_some(Floor { alone, behind })
    }

    /// Puts a candidate on the stack, unless it is too dear with the nodes that are decided or with what is behind it.
    fn weigh(&mut self, entry: &Entry<'_>, v: u32, Floor { alone, behind }: Floor) {
        let Map { a, b, .. } = self.map;
        let agrees = a.node(entry.u).unpaired_agrees(b.node(v));
        let mut price = alone + if agrees { 0 } else { PROPERTY };
        let of_v = b.arcs(v);
        let (mut paired, mut odd) = (0, 0);
        for Tie { arc, image } in &entry.ties {
            match *image {
                NONE => price += LOOSE_BOND,
                to => match b.arc_among(of_v, v, to) {
                    None => odd += 1,
                    Some(other) => {
                        paired += 1;
                        price += arc_cost(arc, other);
                    }
                },
            }
        }
        // Every node that stands for something is decided: other bonds of `v` to such nodes are too many.
        let tied = of_v.iter().filter(|arc| self.map.source(arc.to) != NONE);
        odd += (tied.clone().count() as u32).saturating_sub(paired);
        price += BOND * odd;
        let floor = alone + behind + entry.bonds_left;
        if price >= entry.most || floor + (BOND - ORDER) * odd >= entry.most {
            return;
        }
        let bonds = self.bound.less(entry.bonds, tied);
        let least = price + behind + self.bound.bonds_behind(&bonds);
        if least < entry.most {
            self.stack.push(Candidate { price, image: v, least });
        }
    }

    /// Puts it on the stack that the node stands for nothing, unless that is too dear.
    fn offer_none(&mut self, entry: &Entry<'_>) {
        let price = ATOM + LOOSE_BOND * entry.ties.len() as u32;
        if price < entry.most {
            let least = price + self.bound.atoms_behind(entry.u, NONE) + self.bound.bonds_behind(&entry.bonds);
            if least < entry.most {
                self.stack.push(Candidate { price, image: NONE, least });
            }
        }
    }

    /// The bonds of a node to nodes that are decided.
    fn decided(&self, u: u32) -> impl Iterator<Item = &'a Arc> {
        self.map.a.arcs(u).iter().filter(|arc| self.decided[arc.to as usize])
    }

    /// Takes the next candidate of a frame that may lead to something cheaper than `best`; returns the cost so far.
    fn choose(&mut self, depth: usize, best: u32) -> Option<u32> {
        let Frame { u, candidates, cost, .. } = self.frames[depth];
        while self.stack.len() > candidates {
            let Candidate { price, image, least } = self.stack.pop()?;
            if cost + price >= best {
                // Sorted: the others of this frame are dearer.
                self.stack.truncate(candidates);
                return None;
            }
            // Something cheaper may have been found since it was offered.
            if cost + least < best {
                let pair = self.pair(u, image);
                self.bound.count_pair(&pair, -1);
                self.frames[depth].pair = pair;
                self.decided[u as usize] = true;
                self.map.image[u as usize] = image;
                if image != NONE {
                    self.map.source[image as usize] = u;
                    self.unmatched.take(image);
                }
                return Some(cost + price);
            }
        }
        None
    }

    fn undo(&mut self, depth: usize) {
        let Frame { u, pair, .. } = self.frames[depth];
        let v = std::mem::replace(&mut self.map.image[u as usize], NONE);
        self.decided[u as usize] = false;
        if v != NONE {
            self.map.source[v as usize] = NONE;
            self.unmatched.give_back(v);
        }
        self.bound.count_pair(&pair, 1);
    }

    /// What is decided by letting `u` stand for `v`.
    fn pair(&self, u: u32, v: u32) -> Pair {
        let of_v = if v == NONE { &[] } else { self.map.b.arcs(v) };
        let of_v = of_v.iter().filter(|arc| self.map.source(arc.to) != NONE);
        self.bound.pair(u, v, self.bound.bonds_of(self.decided(u), of_v))
    }
}

/// The nodes in an order in which each has an earlier neighbour where possible, those with the most bonds first.
fn order(map: &Map<'_>, of_a: &[u32], decided: &[bool]) -> Vec<Frame> {
    let mut planned = decided.to_vec();
    let mut frames: Vec<Frame> = Vec::with_capacity(of_a.len());
    let mut roots = of_a.to_vec();
    roots.sort_by_cached_key(|u| {
        let beside_fixed = map.a.arcs(*u).iter().any(|arc| decided[arc.to as usize]);
        std::cmp::Reverse((beside_fixed, map.a.arcs(*u).len(), std::cmp::Reverse(*u)))
    });
    for root in roots {
        if std::mem::replace(&mut planned[root as usize], true) {
            continue;
        }
        let fixed = map.a.arcs(root).iter().find(|arc| decided[arc.to as usize]).map_or(NONE, |arc| arc.to);
        let mut next = frames.len();
        frames.push(Frame { u: root, via: fixed, candidates: 0, cost: 0, pair: Pair::default() });
        while let Some(frame) = frames.get(next) {
            let via = frame.u;
            next += 1;
            for arc in map.a.arcs(via) {
                if !std::mem::replace(&mut planned[arc.to as usize], true) {
                    frames.push(Frame { u: arc.to, via, candidates: 0, cost: 0, pair: Pair::default() });
                }
            }
        }
    }
    frames
}
