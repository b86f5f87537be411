//! Clash relief: branches are mirrored or turned about bonds until nothing lies on anything, within a bound.

use super::measure::Picture;
use super::skeleton::{Edge, Skeleton};
use crate::drawing::geometry::{Position, distance_to_segment, segments_cross};
use petgraph::unionfind::UnionFind;
use std::collections::VecDeque;

/// Rounds of relief; each improves the layout or is the last.
const ROUNDS: usize = 24;
/// Pair tests of one relief, so that a large hostile species ends as well.
const BUDGET: usize = 3_000_000;
/// Further pair tests for two moves at once, where no single one helps.
const BUDGET_OF_PAIRS: usize = 4_000_000;
/// First moves that are tried with every second one.
const FIRST_MOVES: usize = 10;
/// Clashes that moves are tried for: of single ones, of second ones.
const TRIED: usize = 8;
const TRIED_TWICE: usize = 4;

/// A layout under repair.
struct Relief<'a> {
    species: &'a Skeleton,
    /// Whether each edge lies in a ring.
    in_ring: &'a [bool],
    points: &'a mut Vec<Position>,
    /// Pair tests left.
    budget: usize,
}

/// What a bond does when one side of another bond moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Moves,
    Stays,
    /// One of its ends moves.
    Hinge,
}

/// A species in two: nodes that move as one, and those that stay.
struct Split {
    moving: Vec<usize>,
    staying: Vec<usize>,
    all: Vec<usize>,
    /// For each edge, what it does.
    edges: Vec<Part>,
    /// Pair tests of one look at the cost, at most.
    tests: usize,
    /// The cost before anything moves.
    before: f64,
}

/// A way to move one side of a bond.
#[derive(Debug, Clone, Copy)]
enum Move {
    /// The side is mirrored in the line of the bond.
    Mirror,
    /// The side is turned about the near end of the bond.
    TurnBranch(f64),
    /// The side is turned about the far end of the bond: the bond stays, what follows turns.
    TurnBeyond(f64),
    /// The bond is lengthened.
    Stretch(f64),
}

/// What a move saves, and where it puts nodes.
type Trial = (f64, Vec<(usize, Position)>);

const DEGREE: f64 = std::f64::consts::PI / 180.0;
const MOVES: [Move; 10] = [
    Move::Mirror,
    Move::TurnBranch(20.0 * DEGREE),
    Move::TurnBranch(-20.0 * DEGREE),
    Move::TurnBeyond(30.0 * DEGREE),
    Move::TurnBeyond(-30.0 * DEGREE),
    Move::TurnBeyond(60.0 * DEGREE),
    Move::TurnBeyond(-60.0 * DEGREE),
    Move::TurnBranch(35.0 * DEGREE),
    Move::TurnBranch(-35.0 * DEGREE),
    Move::Stretch(0.17),
];

/// Relieves the clashes of one species, and turns marked double bonds outside rings to the stated side.
pub(super) fn relieve(species: &Skeleton, in_ring: &[bool], points: &mut Vec<Position>) {
    let mut relief = Relief { species, in_ring, points, budget: BUDGET };
    relief.obey_marks();
    for _ in 0..ROUNDS {
        let clashes = relief.clashes();
        if clashes.is_empty() {
            break;
        }
        if !relief.improve(&clashes) {
            if !relief.is_grave() {
                break;
            }
            relief.budget = BUDGET_OF_PAIRS;
            if !relief.improve_by_two(&clashes) {
                break;
            }
            relief.budget = BUDGET;
        }
    }
}

/// How much two nodes that are not bonded disturb each other.
fn pair_cost(a: Position, b: Position) -> f64 {
    let near = a.distance(b);
    if near < 0.5 {
        6.0 + 8.0 * (0.5 - near)
    } else if near < 0.85 {
        (0.85 - near) * 4.0
    } else {
        0.0
    }
}

/// How much a node disturbs a bond that is not its own.
fn bond_cost(point: Position, a: Position, b: Position) -> f64 {
    let near = distance_to_segment(point, a, b);
    if near < 0.2 {
        5.0
    } else if near < 0.45 {
        (0.45 - near) * 6.0
    } else {
        0.0
    }
}

/// The corners of a box round two points.
fn around(a: Position, b: Position, margin: f64) -> (Position, Position) {
    let low = Position::new(a.x.min(b.x) - margin, a.y.min(b.y) - margin);
    (low, Position::new(a.x.max(b.x) + margin, a.y.max(b.y) + margin))
}

fn within(point: Position, low: Position, high: Position) -> bool {
    (low.y..=high.y).contains(&point.y) && (low.x..=high.x).contains(&point.x)
}

/// What two crossing bonds cost.
const CROSSING: f64 = 3.0;

impl Relief<'_> {
    fn edge(&self, edge: usize) -> [usize; 2] {
        self.species.edges[edge].ends
    }

    /// Nodes that clash, as pairs.
    fn clashes(&mut self) -> Vec<(usize, usize)> {
        let points = &*self.points;
        let mut found = Vec::new();
        let (nodes, edges) = (points.len(), self.species.edges.len());
        self.budget = self.budget.saturating_sub((nodes + edges) * (nodes + edges) / 2);
        for a in 0..nodes {
            for b in a + 1..nodes {
                if points[a].distance(points[b]) < 0.8 && self.species.edge_between(a, b).is_none() {
                    found.push((a, b));
                }
            }
        }
        for (at, edge) in self.species.edges.iter().enumerate() {
            let [a, b] = edge.ends;
            for node in 0..nodes {
                if node != a && node != b && distance_to_segment(points[node], points[a], points[b]) < 0.35 {
                    found.push((node, a));
                }
            }
            for other in &self.species.edges[at + 1..] {
                let [c, d] = other.ends;
                let apart = a != c && a != d && b != c && b != d;
                if apart && segments_cross(points[a], points[b], points[c], points[d]) {
                    found.push((a, c));
                }
            }
        }
        found
    }

    /// Whether bonds cross or atoms lie on something, and a bond outside rings lies between them: what one ring system does to
    /// itself, as cages do, no move of branches mends.
    fn is_grave(&self) -> bool {
        let bonds: Vec<[usize; 2]> = self.species.edges.iter().map(|edge| edge.ends).collect();
        let picture = Picture { points: self.points, bonds: &bonds, in_ring: self.in_ring, sides: &[] };
        let rigid = self.rigid_parts();
        let apart = |a: usize, b: usize| rigid[a] != rigid[b];
        let count = self.species.len();
        let is_close = |a: usize| (a + 1..count).any(|b| apart(a, b) && picture.are_close(a, b, 1.0));
        let is_struck = |(at, [a, b]): (usize, [usize; 2])| {
            let on = |node: usize| (apart(node, a) || apart(a, b)) && picture.is_on(node, [a, b], 1.0);
            let crossed =
                |[c, d]: [usize; 2]| [b, c, d].iter().any(|node| apart(*node, a)) && picture.cross([a, b], [c, d]);
            (0..count).any(on) || bonds[at + 1..].iter().any(|other| crossed(*other))
        };
        (0..count).any(is_close) || bonds.iter().copied().enumerate().any(is_struck)
    }

    /// For each node, the part of the drawing that moves as one with it: a ring system, or the node alone.
    fn rigid_parts(&self) -> Vec<usize> {
        let mut parts = UnionFind::<usize>::new(self.species.len());
        for (edge, _) in self.species.edges.iter().zip(self.in_ring).filter(|(_, in_ring)| **in_ring) {
            parts.union(edge.ends[0], edge.ends[1]);
        }
        parts.into_labeling()
    }

    /// Takes the best move of the bonds between clashing nodes. Whether there was one.
    fn improve(&mut self, clashes: &[(usize, usize)]) -> bool {
        let mut best: Trial = (0.05, Vec::new());
        self.try_moves(clashes, TRIED, |trial| {
            if trial.0 > best.0 + 1e-6 {
                best = trial;
            }
        });
        self.put(&best.1);
        !best.1.is_empty()
    }

    /// Takes the two moves, one after the other, that together save most. The first alone may cost: it makes room.
    fn improve_by_two(&mut self, clashes: &[(usize, usize)]) -> bool {
        let mut first: Vec<Trial> = Vec::new();
        self.try_moves(clashes, TRIED, |trial| first.push(trial));
        first.sort_by(|a, b| b.0.total_cmp(&a.0));
        first.truncate(FIRST_MOVES);
        let mut best: Trial = (0.05, Vec::new());
        for (gain, moved) in first {
            let before = self.points.clone();
            self.put(&moved);
            let left = self.clashes();
            self.try_moves(&left, TRIED_TWICE, |(more, then)| {
                if gain + more > best.0 + 1e-6 {
                    best = (gain + more, moved.iter().chain(&then).copied().collect());
                }
            });
            *self.points = before;
        }
        self.put(&best.1);
        !best.1.is_empty()
    }

    fn put(&mut self, moved: &[(usize, Position)]) {
        for (node, point) in moved {
            self.points[*node] = *point;
        }
    }

    /// Tries moves of the bonds between the first clashing nodes, as far as the budget goes.
    fn try_moves(&mut self, clashes: &[(usize, usize)], most: usize, mut then: impl FnMut(Trial)) {
        let mut edges: Vec<usize> = clashes.iter().take(most).flat_map(|(a, b)| self.path(*a, *b)).collect();
        edges.sort_unstable();
        edges.dedup();
        edges.retain(|edge| !self.in_ring[*edge]);
        for edge in &edges {
            for end in 0..2 {
                let side = self.side(*edge, end);
                if 2 * side.len() > self.species.len() + 1 {
                    continue;
                }
                let split = self.split(&side);
                for way in MOVES {
                    if self.budget == 0 {
                        return;
                    }
                    let Some(moved) = self.moved(*edge, end, &side, way) else { continue };
                    then((self.gain(&split, &moved) - price(way), moved));
                }
            }
        }
    }

    /// The edges of a shortest path.
    fn path(&self, from: usize, to: usize) -> Vec<usize> {
        let mut came_by = vec![usize::MAX; self.species.len()];
        let mut open = VecDeque::from([from]);
        let mut seen = vec![false; self.species.len()];
        seen[from] = true;
        while let Some(node) = open.pop_front() {
            if node == to {
                break;
            }
            for (next, edge) in &self.species.links[node] {
                if !std::mem::replace(&mut seen[*next], true) {
                    came_by[*next] = *edge;
                    open.push_back(*next);
                }
            }
        }
        let mut path = Vec::new();
        let mut at = to;
        while at != from && came_by[at] != usize::MAX {
            path.push(came_by[at]);
            let [a, b] = self.edge(came_by[at]);
            at = if a == at { b } else { a };
        }
        path
    }

    /// A species in two, for all moves of one side.
    fn split(&mut self, side: &[usize]) -> Split {
        let count = self.species.len();
        let mut is_moved = vec![false; count];
        for node in side {
            is_moved[*node] = true;
        }
        let (moving, staying): (Vec<usize>, Vec<usize>) = (0..count).partition(|node| is_moved[*node]);
        let part = |edge: &Edge| match edge.ends.map(|end| is_moved[end]) {
            [true, true] => Part::Moves,
            [false, false] => Part::Stays,
            _ => Part::Hinge,
        };
        let edges: Vec<Part> = self.species.edges.iter().map(part).collect();
        let touched = edges.iter().filter(|part| **part != Part::Stays).count();
        let tests = moving.len() * staying.len() + edges.len() * (count + touched);
        let mut split = Split { moving, staying, all: (0..count).collect(), edges, tests, before: 0.0 };
        split.before = self.cost(&split);
        split
    }

    /// The nodes beyond one end of an edge in no ring.
    fn side(&self, edge: usize, end: usize) -> Vec<usize> {
        let first = self.edge(edge)[end];
        let mut seen = vec![false; self.species.len()];
        seen[first] = true;
        seen[self.edge(edge)[1 - end]] = true;
        let mut side = vec![first];
        let mut at = 0;
        while at < side.len() {
            for (next, _) in &self.species.links[side[at]] {
                if !std::mem::replace(&mut seen[*next], true) {
                    side.push(*next);
                }
            }
            at += 1;
        }
        side
    }

    fn marked(&self, edge: usize) -> bool {
        let [a, b] = self.edge(edge);
        self.species.marks.iter().any(|mark| mark.ends.contains(&a) && mark.ends.contains(&b))
    }

    fn moved(&self, edge: usize, end: usize, side: &[usize], way: Move) -> Option<Vec<(usize, Position)>> {
        let (hinge, first) = (self.points[self.edge(edge)[1 - end]], self.points[self.edge(edge)[end]]);
        let lone = side.len() == 1;
        let turn = |point: Position, about: Position, by: f64| about + (point - about).turned(by);
        let place: Box<dyn Fn(Position) -> Position> = match way {
            Move::Mirror if lone || self.marked(edge) => return None,
            Move::Mirror => Box::new(move |point| point.mirrored(hinge, first)),
            Move::TurnBeyond(_) if lone => return None,
            Move::TurnBeyond(by) => Box::new(move |point| turn(point, first, by)),
            Move::TurnBranch(by) => Box::new(move |point| turn(point, hinge, by)),
            // Once only: a bond stays within a fifth of its length.
            Move::Stretch(_) if hinge.distance(first) > self.species.edges[edge].length * 1.02 => return None,
            Move::Stretch(by) => {
                let shift = (first - hinge).unit() * by;
                Box::new(move |point| point + shift)
            }
        };
        let moved: Vec<(usize, Position)> = side.iter().map(|node| (*node, place(self.points[*node]))).collect();
        self.keeps_marks(&moved).then_some(moved)
    }

    /// Whether every marked double bond that touches the moved nodes is still on its stated side, or was not before.
    fn keeps_marks(&self, moved: &[(usize, Position)]) -> bool {
        if self.species.marks.is_empty() {
            return true;
        }
        let mut points = self.points.clone();
        for (node, point) in moved {
            points[*node] = *point;
        }
        self.species.marks.iter().all(|mark| {
            let side = super::side_of(mark);
            side.holds(&points) || !side.holds(self.points)
        })
    }

    /// What a move saves: cost between the moved nodes and the others before, less that after.
    fn gain(&mut self, split: &Split, moved: &[(usize, Position)]) -> f64 {
        let old: Vec<Position> =
            moved.iter().map(|(node, point)| std::mem::replace(&mut self.points[*node], *point)).collect();
        let after = self.cost(split);
        for ((node, _), point) in moved.iter().zip(old) {
            self.points[*node] = point;
        }
        split.before - after
    }

    /// How much what moves and what stays disturb each other.
    fn cost(&mut self, split: &Split) -> f64 {
        let points = &*self.points;
        let edges = &self.species.edges;
        let mut cost = 0.0;
        for a in &split.moving {
            for b in &split.staying {
                if (points[*a].x - points[*b].x).abs() < 0.85 && self.species.edge_between(*a, *b).is_none() {
                    cost += pair_cost(points[*a], points[*b]);
                }
            }
        }
        for (edge, part) in edges.iter().zip(&split.edges) {
            let [a, b] = edge.ends;
            let (low, high) = around(points[a], points[b], 0.45);
            // A bond and a node that move as one stay as they are to each other.
            let nodes = match part {
                Part::Moves => &split.staying,
                Part::Stays => &split.moving,
                Part::Hinge => &split.all,
            };
            for node in nodes.iter().filter(|node| **node != a && **node != b && within(points[**node], low, high)) {
                cost += bond_cost(points[*node], points[a], points[b]);
            }
        }
        for (edge, part) in edges.iter().zip(&split.edges).filter(|(_, part)| **part != Part::Stays) {
            let [a, b] = edge.ends;
            for (other, _) in edges.iter().zip(&split.edges).filter(|(_, own)| *part != Part::Moves || *own != part) {
                let [c, d] = other.ends;
                let apart = a != c && a != d && b != c && b != d;
                if apart && segments_cross(points[a], points[b], points[c], points[d]) {
                    cost += CROSSING;
                }
            }
        }
        self.budget = self.budget.saturating_sub(split.tests);
        cost
    }

    /// Mirrors what hangs on a marked double bond outside rings that is drawn on the wrong side.
    fn obey_marks(&mut self) {
        for mark in &self.species.marks {
            let [a, b] = mark.ends;
            let Some(edge) = self.species.edge_between(a, b).filter(|edge| !self.in_ring[*edge]) else { continue };
            if super::side_of(mark).holds(self.points) {
                continue;
            }
            let end = usize::from(self.edge(edge)[1] == b);
            let (hinge, first) = (self.points[a], self.points[b]);
            for node in self.side(edge, end) {
                self.points[node] = self.points[node].mirrored(hinge, first);
            }
        }
    }
}

/// What a move costs by itself: a bent angle or a long bond is worse than a mirrored branch.
fn price(way: Move) -> f64 {
    match way {
        Move::Mirror => 0.0,
        Move::TurnBranch(by) | Move::TurnBeyond(by) => 0.2 + 0.8 * by.abs(),
        Move::Stretch(_) => 0.6,
    }
}
