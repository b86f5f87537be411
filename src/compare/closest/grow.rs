//! A good correspondence, quickly: anchored where surroundings are rarest, grown along bonds, then improved by exchanges.

use super::NONE;
use super::cost::{ATOM, Map, node_cost};
use crate::structure::canon::{Orders, mix};
use crate::structure::skeleton::Skeleton;
use smallvec::SmallVec;
use std::collections::BinaryHeap;

/// Bonds up to which surroundings are compared.
const RADIUS: usize = 3;
/// Surroundings told apart by everything that is drawn, and by elements and connection alone.
const VIEWS: usize = 2 * (RADIUS + 1);

/// The surroundings of each node, as hashes: everything drawn at radius 0 to [`RADIUS`], then elements and connection.
type Surroundings = Vec<[u64; VIEWS]>;

/// Where anchors are looked for: which surroundings must be equal, and how alike nodes must be to be matched while
/// growing from there (how many of their surroundings are equal).
const LEVELS: [(usize, usize); 8] = [(3, 6), (2, 5), (7, 4), (1, 3), (6, 3), (5, 2), (0, 2), (4, 1)];

fn surroundings(skeleton: &Skeleton, orders: Orders) -> Surroundings {
    let mut views: Surroundings = (0..skeleton.len())
        .map(|node| {
            let node = skeleton.node(node);
            let mut view = [0; VIEWS];
            view[0] = mix(orders.node_code(node));
            view[RADIUS + 1] = mix(u64::from(node.element.number()));
            view
        })
        .collect();
    // Orders that are not told apart from the least are that.
    let least = orders.kind(1);
    for radius in 0..RADIUS {
        for node in 0..skeleton.len() {
            // Views are mixed already: a sum keeps them apart, and an odd factor for each kind of bond tells those apart.
            let around = skeleton.arcs(node).iter().fold([0_u64; 2], |[drawn, bare], arc| {
                let view = &views[arc.to as usize];
                let code = u32::from(arc.order).max(least) << 1 | u32::from(arc.in_ring);
                let factor = u64::from(2 * code + 1);
                let drawn = drawn.wrapping_add(view[radius].wrapping_mul(factor));
                [drawn, bare.wrapping_add(view[RADIUS + 1 + radius])]
            });
            let view = &mut views[node as usize];
            for (first, around) in [0, RADIUS + 1].into_iter().zip(around) {
                view[first + radius + 1] = mix(around.wrapping_add(view[first + radius].rotate_left(9)));
            }
        }
    }
    views
}

/// A pair of nodes next to a matched pair; the greatest is matched first.
#[derive(PartialEq, Eq)]
struct Candidate {
    rank: u64,
    u: u32,
    v: u32,
}

impl Candidate {
    /// The most of surroundings that are equal first, then of bonds to matched neighbours that agree, less those that do not; then
    /// what was found earlier, so that the result does not depend on the heap.
    fn new(likeness: usize, bonds: i32, turn: u32, [u, v]: [u32; 2]) -> Self {
        let bonds = bonds.clamp(-MOST_BONDS, MOST_BONDS - 1) + MOST_BONDS;
        let rank = (likeness as u64) << 60 | u64::from(bonds.cast_unsigned()) << 32 | u64::from(!turn);
        Self { rank, u, v }
    }

    fn likeness(&self) -> usize {
        (self.rank >> 60) as usize
    }

    fn bonds(&self) -> i32 {
        (self.rank >> 32 & 0x0fff_ffff) as i32 - MOST_BONDS
    }

    fn turn(&self) -> u32 {
        !(self.rank as u32)
    }
}

impl Ord for Candidate {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.rank.cmp(&other.rank)
    }
}

impl PartialOrd for Candidate {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// Bonds are told apart in 28 bits.
const MOST_BONDS: i32 = 1 << 27;

/// Grows a correspondence from what is matched already.
pub(super) struct Growth {
    views: [Surroundings; 2],
    heap: BinaryHeap<Candidate>,
    turn: u32,
    /// By side and node: the turn before which a neighbour was matched last.
    touched: [Vec<u32>; 2],
    /// By side: the unmatched nodes by one view of their surroundings.
    sorted: [Vec<(u64, u32)>; 2],
}

impl Growth {
    pub(super) fn new(a: &Skeleton, b: &Skeleton) -> Self {
        let orders = Orders::for_both(a, b);
        let views = [surroundings(a, orders), surroundings(b, orders)];
        let touched = [a, b].map(|side| vec![0; side.len() as usize]);
        Self {
            views,
            heap: BinaryHeap::with_capacity(a.len() as usize),
            turn: 0,
            touched,
            sorted: <[Vec<_>; 2]>::default(),
        }
    }

    /// Matches what is alike. `of_a` and `of_b` are the nodes that may be matched, matched ones among them.
    pub(super) fn run(&mut self, map: &mut Map<'_>, of_a: &[u32], of_b: &[u32], steps: &mut u64) {
        self.heap.clear();
        for u in 0..map.a.len() {
            if map.image(u) != NONE {
                self.offer_around(map, u, steps);
            }
        }
        let (mut left_a, mut left_b) = (of_a.to_vec(), of_b.to_vec());
        // What is there once on each side is certain however little of its surroundings is equal; the rest is a guess.
        for most in [1, usize::MAX] {
            for (view, alike) in LEVELS {
                self.grow(map, alike, steps);
                left_a.retain(|u| map.image(*u) == NONE);
                left_b.retain(|v| map.source(*v) == NONE);
                if left_a.is_empty() || left_b.is_empty() {
                    return;
                }
                let mut sorted = std::mem::take(&mut self.sorted);
                for ((side, left), views) in sorted.iter_mut().zip([&left_a, &left_b]).zip(&self.views) {
                    side.clear();
                    side.extend(left.iter().map(|node| (views[*node as usize][view], *node)));
                    side.sort_unstable();
                }
                for (of_a, of_b) in shared_groups(&sorted, most) {
                    self.anchor(map, of_a, of_b, alike, steps);
                }
                self.sorted = sorted;
            }
        }
    }

    /// Matches the unmatched nodes of one kind of surroundings in turn, growing from each.
    fn anchor(&mut self, map: &mut Map<'_>, of_a: &[(u64, u32)], of_b: &[(u64, u32)], alike: usize, steps: &mut u64) {
        let mut rest = of_b.iter();
        for (_, u) in of_a {
            if map.image(*u) != NONE {
                continue;
            }
            let Some((_, v)) = rest.find(|(_, v)| map.source(*v) == NONE) else { return };
            map.assign(*u, *v);
            self.offer_around(map, *u, steps);
            self.grow(map, alike, steps);
        }
    }

    fn grow(&mut self, map: &mut Map<'_>, alike: usize, steps: &mut u64) {
        while self.heap.peek().is_some_and(|top| top.likeness() >= alike) {
            let Some(top) = self.heap.pop() else { return };
            let Candidate { u, v, .. } = top;
            if map.image(u) != NONE || map.source(v) != NONE {
                continue;
            }
            // As long as no neighbour has been matched since, they agree as they did.
            let is_stale = self.touched[0][u as usize].max(self.touched[1][v as usize]) >= top.turn();
            let now = if is_stale { agreement(map, u, v) } else { top.bonds() };
            if now < top.bonds() && *steps > 0 {
                // Matched neighbours have come that do not fit: others may have become better.
                *steps -= 1;
                self.heap.push(Candidate::new(top.likeness(), now, top.turn(), [u, v]));
                continue;
            }
            map.assign(u, v);
            self.offer_around(map, u, steps);
        }
    }

    /// Offers the pairs of neighbours of a matched pair.
    fn offer_around(&mut self, map: &Map<'_>, u: u32, steps: &mut u64) {
        let v = map.image(u);
        for ((side, touched), node) in [map.a, map.b].into_iter().zip(&mut self.touched).zip([u, v]) {
            for arc in side.arcs(node) {
                touched[arc.to as usize] = self.turn;
            }
        }
        for arc in map.a.arcs(u).iter().filter(|arc| map.image(arc.to) == NONE) {
            for other in map.b.arcs(v).iter().filter(|arc| map.source(arc.to) == NONE) {
                if *steps == 0 {
                    return;
                }
                *steps -= 1;
                let (u, v) = (arc.to, other.to);
                let likeness = self.likeness(u, v);
                if likeness > 0 {
                    self.turn += 1;
                    self.heap.push(Candidate::new(likeness, agreement(map, u, v), self.turn, [u, v]));
                }
            }
        }
    }

    fn likeness(&self, u: u32, v: u32) -> usize {
        let (one, two) = (&self.views[0][u as usize], &self.views[1][v as usize]);
        one.iter().zip(two).filter(|(one, two)| one == two).count()
    }
}

/// How well the bonds of two nodes to matched neighbours agree.
fn agreement(map: &Map<'_>, u: u32, v: u32) -> i32 {
    // Bonds of `v` to matched neighbours that stand for none of `u`.
    let of_v = map.b.arcs(v);
    let mut idle = of_v.iter().filter(|arc| map.source(arc.to) != NONE).count() as i32;
    let mut bonds = 0;
    for arc in map.a.arcs(u) {
        bonds += match map.image(arc.to) {
            NONE => 0,
            to => match map.b.arc_among(of_v, v, to) {
                None => -2,
                Some(other) => {
                    idle -= 1;
                    if arc.agrees(other) { 4 } else { 2 }
                }
            },
        };
    }
    bonds - 2 * idle - node_cost(map.a.node(u), map.b.node(v)).cast_signed() / 2
}

type Entries = [(u64, u32)];

/// The runs of equal hashes that both sides have, of up to so many nodes a side, those with the fewest pairs first.
fn shared_groups(sorted: &[Vec<(u64, u32)>; 2], most: usize) -> SmallVec<[(&Entries, &Entries); 16]> {
    let mut groups = SmallVec::new();
    let mut rest = &sorted[1][..];
    for of_a in sorted[0].chunk_by(|x, y| x.0 == y.0) {
        let hash = of_a[0].0;
        rest = &rest[rest.iter().take_while(|entry| entry.0 < hash).count()..];
        let (of_b, behind) = rest.split_at(rest.iter().take_while(|entry| entry.0 == hash).count());
        rest = behind;
        if !of_b.is_empty() && of_a.len().max(of_b.len()) <= most {
            groups.push((of_a, of_b));
        }
    }
    groups.sort_unstable_by_key(|(of_a, of_b): &(&Entries, &Entries)| (of_a.len() * of_b.len(), of_a[0].1));
    groups
}

/// Exchanges images as long as that makes the correspondence cheaper. Only nodes of `of_a` and `of_b` change. Says whether any did.
pub(super) fn improve(map: &mut Map<'_>, of_a: &[u32], of_b: &[u32], steps: &mut u64) -> bool {
    let mut weights = Weights::new(map, of_a, of_b);
    let mut any = false;
    loop {
        let mut improved = false;
        for u in of_a {
            // An exchange that helps has a difference at one of the two.
            if weights.of_a[*u as usize] == 0 {
                continue;
            }
            for v in of_b.iter().chain(&[NONE]) {
                if *v == map.image(*u) {
                    continue;
                }
                if *steps == 0 {
                    return any || improved;
                }
                *steps -= 1;
                if weights.may_help(map, *u, *v) && try_to_assign(map, *u, *v) {
                    improved = true;
                    weights = Weights::new(map, of_a, of_b);
                }
            }
        }
        any |= improved;
        if !improved {
            return any;
        }
    }
}

/// What weighs at each node and its bonds, by itself.
struct Weights {
    of_a: Vec<u32>,
    /// Nodes of `b` that stand for nothing.
    of_b: Vec<u32>,
}

impl Weights {
    fn new(map: &Map<'_>, of_a: &[u32], of_b: &[u32]) -> Self {
        let mut weights = Self { of_a: vec![0; map.a.len() as usize], of_b: vec![0; map.b.len() as usize] };
        for u in of_a {
            weights.of_a[*u as usize] = map.around([*u, NONE], [map.image(*u), NONE]);
        }
        for v in of_b.iter().filter(|v| map.source(**v) == NONE) {
            weights.of_b[*v as usize] = map.around([NONE, NONE], [*v, NONE]);
        }
        weights
    }

    /// Whether an exchange of images could cost less: what it would cost at the atoms and the bonds of `a` against all that it
    /// costs now.
    fn may_help(&self, map: &Map<'_>, u: u32, v: u32) -> bool {
        let old = map.image(u);
        let other = if v == NONE { NONE } else { map.source(v) };
        let pair = |u: u32, v: u32| match (u, v) {
            (NONE, NONE) => 0,
            (NONE, _) | (_, NONE) => ATOM,
            (u, v) => node_cost(map.a.node(u), map.b.node(v)),
        };
        let at_other = if other != NONE {
            self.of_a[other as usize]
        } else if v != NONE {
            self.of_b[v as usize]
        } else {
            0
        };
        let now = self.of_a[u as usize] + at_other;
        // A bond between the two is left out: what it costs is settled only when both have been exchanged.
        let bonds = |own: u32, but: u32, image: u32| -> u32 {
            let arcs = if own == NONE { &[] } else { map.a.arcs(own) };
            arcs.iter().filter(|arc| arc.to != but).map(|arc| map.cost_of_a(image, arc)).sum()
        };
        let atoms = pair(u, v) + pair(other, old);
        atoms < now && atoms + bonds(u, other, v) + bonds(other, u, old) < now
    }
}

fn try_to_assign(map: &mut Map<'_>, u: u32, v: u32) -> bool {
    let old = map.image(u);
    let other = if v == NONE { NONE } else { map.source(v) };
    let (of_a, of_b) = ([u, other], [old, v]);
    let before = map.around(of_a, of_b);
    map.assign(u, v);
    if map.around(of_a, of_b) < before {
        return true;
    }
    if other == NONE {
        map.assign(u, old);
    } else {
        map.assign(other, v);
    }
    false
}
