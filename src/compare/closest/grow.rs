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

/// The surroundings of each node, as hashes: for each radius those by everything that is drawn, then those by elements and connection.
type Surroundings = Vec<[u64; VIEWS]>;

/// The place of the surroundings by everything that is drawn.
const fn drawn(radius: usize) -> usize {
    2 * radius
}

/// The place of the surroundings by elements and connection.
const fn bare(radius: usize) -> usize {
    2 * radius + 1
}

/// Where anchors are looked for: which surroundings must be equal, and how alike nodes must be to be matched while
/// growing from there (how many of their surroundings are equal).
const LEVELS: [(usize, usize); 8] = [
    (drawn(3), 6),
    (drawn(2), 5),
    (bare(3), 4),
    (drawn(1), 3),
    (bare(2), 3),
    (bare(1), 2),
    (drawn(0), 2),
    (bare(0), 1),
];

/// A bond as surroundings count it: the node at its other end, and an odd factor for its kind.
#[derive(Debug, Clone, Copy)]
struct Link {
    to: u32,
    factor: u32,
}

fn look_around(views: &mut Surroundings, links: &mut Vec<Link>, skeleton: &Skeleton, orders: Orders) {
    views.clear();
    views.extend(skeleton.nodes().iter().map(|node| {
        let mut view = [0; VIEWS];
        view[drawn(0)] = mix(orders.node_code(node));
        view[bare(0)] = mix(u64::from(node.element.number()));
        view
    }));
    // Orders that are not told apart from the least are that.
    let least = orders.kind(1);
    links.clear();
    links.extend(skeleton.all_arcs().iter().map(|arc| {
        let kind = u32::from(arc.order).max(least) << 1 | u32::from(arc.in_ring);
        Link { to: arc.to, factor: 2 * kind + 1 }
    }));
    for radius in 0..RADIUS {
        let mut links = links.iter();
        for (node, degree) in skeleton.degrees().enumerate() {
            // Views are mixed already: a sum keeps them apart, and an odd factor for each kind of bond tells those apart.
            let [mut by_drawn, mut by_bare] = [0_u64; 2];
            for Link { to, factor } in links.by_ref().take(degree) {
                let view = &views[*to as usize];
                by_drawn = by_drawn.wrapping_add(view[drawn(radius)].wrapping_mul(u64::from(*factor)));
                by_bare = by_bare.wrapping_add(view[bare(radius)]);
            }
            let view = &mut views[node];
            view[drawn(radius + 1)] = mix(by_drawn.wrapping_add(view[drawn(radius)].rotate_left(9)));
            view[bare(radius + 1)] = mix(by_bare.wrapping_add(view[bare(radius)].rotate_left(9)));
        }
    }
}

/// A pair of nodes next to a matched pair; the greatest is matched first.
#[derive(Debug, Clone, PartialEq, Eq)]
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

/// Grows a correspondence from what is matched already, in buffers that it keeps.
#[derive(Debug, Clone, Default)]
pub(in crate::compare) struct Growth {
    views: [Surroundings; 2],
    links: Vec<Link>,
    heap: BinaryHeap<Candidate>,
    turn: u32,
    /// By side and node: the turn before which a neighbour was matched last.
    touched: [Vec<u32>; 2],
    /// By side: the nodes that may be matched and are not.
    left: [Vec<u32>; 2],
    /// By side: these nodes by one view of their surroundings.
    sorted: [Vec<(u64, u32)>; 2],
}

impl Growth {
    /// Matches what is alike. `open` are the nodes of both sides that may be matched, matched ones among them.
    pub(super) fn run(&mut self, map: &mut Map<'_>, open: [&[u32]; 2], steps: &mut u64) {
        let orders = Orders::for_both(map.a, map.b);
        for (at, side) in [map.a, map.b].into_iter().enumerate() {
            look_around(&mut self.views[at], &mut self.links, side, orders);
            self.touched[at].clear();
            self.touched[at].resize(side.len() as usize, 0);
            self.left[at].clear();
            self.left[at].extend_from_slice(open[at]);
        }
        self.heap.clear();
        self.turn = 0;
        for u in 0..map.a.len() {
            if map.image(u) != NONE {
                self.offer_around(map, u, steps);
            }
        }
        // What is there once on each side is certain however little of its surroundings is equal; the rest is a guess.
        for most in [1, usize::MAX] {
            for (view, alike) in LEVELS {
                self.grow(map, alike, steps);
                let [left_a, left_b] = &mut self.left;
                left_a.retain(|u| map.image(*u) == NONE);
                left_b.retain(|v| map.source(*v) == NONE);
                if left_a.is_empty() || left_b.is_empty() {
                    return;
                }
                let mut sorted = std::mem::take(&mut self.sorted);
                for ((side, left), views) in sorted.iter_mut().zip(&self.left).zip(&self.views) {
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
        let Self { views: [of_a, of_b], heap, turn, touched: [touched_a, touched_b], .. } = self;
        let (around_u, around_v) = (map.a.arcs(u), map.b.arcs(map.image(u)));
        let mut open: SmallVec<[u32; 4]> = SmallVec::new();
        for arc in around_v {
            touched_b[arc.to as usize] = *turn;
            if map.source(arc.to) == NONE {
                open.push(arc.to);
            }
        }
        let before = *turn;
        for arc in around_u {
            let u = arc.to;
            touched_a[u as usize] = before;
            if map.image(u) != NONE {
                continue;
            }
            let view = &of_a[u as usize];
            for v in &open {
                if *steps == 0 {
                    continue;
                }
                *steps -= 1;
                let likeness = likeness(view, &of_b[*v as usize]);
                if likeness > 0 {
                    *turn += 1;
                    heap.push(Candidate::new(likeness, agreement(map, u, *v), *turn, [u, *v]));
                }
            }
        }
    }
}

/// How many surroundings of two nodes are equal.
#[inline]
fn likeness(one: &[u64; VIEWS], other: &[u64; VIEWS]) -> usize {
    one.iter().zip(other).map(|(one, other)| usize::from(one == other)).sum()
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
