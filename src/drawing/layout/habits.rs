//! How people turn some kinds of drawing, where the general rules of [`super::species`] leave it open.
//!
//! After the IUPAC recommendations of 2008 (Graphical representation standards for chemical structure diagrams) and the fused
//! nomenclature of 1998, from memory: molecules of one line lie; rings A and B of a steroid lie in a row and C above; two fused
//! rings stand side by side, the larger one on the left, but the small ring of penicillins there with the shared nitrogen below;
//! the oxygen of a sugar's six-membered ring at the upper right with the anomeric carbon below it, that of a five-membered ring
//! on top.

use super::cycles;
use super::rings::Unit;
use super::skeleton::Skeleton;
use crate::drawing::geometry::{Position, centroid};
use std::f64::consts::PI;

/// Ring systems with more atoms than this are not asked for habits.
const LARGEST_SYSTEM: usize = 60;

/// A way to turn a species: mirrored in a vertical line first, then turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    pub(super) mirrored: bool,
    pub(super) by: f64,
    /// What speaks for it beside the general rules.
    pub(super) bonus: f64,
}

impl Turn {
    pub(super) fn plain(by: f64) -> Self {
        Self { mirrored: false, by, bonus: 0.0 }
    }

    pub(super) fn of(self, point: Position) -> Position {
        let point = if self.mirrored { Position::new(-point.x, point.y) } else { point };
        point.turned(self.by)
    }
}

/// The turns that a habit allows; none where there is no habit.
pub(super) fn turns(species: &Skeleton, units: &[Unit], points: &[Position]) -> Vec<Turn> {
    let joined = species.edges.iter().any(|edge| edge.joining);
    if !joined && let Some(turns) = line(species, points) {
        return turns;
    }
    let largest = units.iter().filter(|unit| unit.nodes.len() <= LARGEST_SYSTEM).max_by_key(|unit| unit.nodes.len());
    let Some(unit) = largest else { return Vec::new() };
    let part = species.part(&unit.nodes);
    let rings: Vec<Vec<usize>> =
        cycles::rings(&part).into_iter().map(|ring| ring.into_iter().map(|at| unit.nodes[at]).collect()).collect();
    let fused = side_by_side(species, &rings, points).filter(|_| !joined);
    let decided = fused.as_ref().is_some_and(|turns| turns.iter().any(|turn| turn.bonus > 0.0));
    // A base hangs on its sugar, not the other way round.
    let sugar = || sugar(species, units, points).or(fused.clone());
    steroid(&rings, points).or_else(|| fused.clone().filter(|_| decided)).or_else(sugar).unwrap_or_default()
}

/// The direction of a displacement after an optional mirror.
fn angle(of: Position, mirrored: bool) -> f64 {
    if mirrored { Position::new(-of.x, of.y).angle() } else { of.angle() }
}

/// A molecule most of whose atoms lie in one line of three or more: that line lies.
fn line(species: &Skeleton, points: &[Position]) -> Option<Vec<Turn>> {
    let mut longest: Vec<usize> = Vec::new();
    for middle in (0..species.len()).filter(|node| species.linear[*node]) {
        let mut run = vec![middle];
        for (first, _) in &species.links[middle] {
            let (mut before, mut at) = (middle, *first);
            run.push(at);
            while species.linear[at] && run.len() <= species.len() {
                let Some((next, _)) = species.links[at].iter().find(|(next, _)| *next != before) else { break };
                (before, at) = (at, *next);
                run.push(at);
            }
        }
        if run.len() > longest.len() {
            longest = run;
        }
    }
    if longest.len() < 2 && species.len() == 2 {
        longest = vec![0, 1];
    }
    if longest.len() < 2 || 2 * longest.len() < species.len() + 1 {
        return None;
    }
    let ends = (longest.iter().min()?, longest.iter().max()?);
    let along = points[*ends.1] - points[*ends.0];
    let turn = |mirrored, more: f64| Turn { mirrored, by: more - angle(along, mirrored), bonus: 0.0 };
    Some(vec![turn(false, 0.0), turn(true, 0.0), turn(false, PI), turn(true, PI)])
}

fn shared(a: &[usize], b: &[usize]) -> Vec<usize> {
    a.iter().copied().filter(|node| b.contains(node)).collect()
}

/// Three six-membered rings and a five-membered one, each on the next, in the zigzag of the steroids.
fn steroid(rings: &[Vec<usize>], points: &[Position]) -> Option<Vec<Turn>> {
    let of_size = |size: usize| (0..rings.len()).filter(move |ring| rings[*ring].len() == size);
    let beside = |a: usize, b: usize| a != b && shared(&rings[a], &rings[b]).len() == 2;
    let apart = |a: usize, b: usize| shared(&rings[a], &rings[b]).is_empty();
    let middle = |ring: usize| centroid(rings[ring].iter().map(|node| points[*node]));
    for d in of_size(5) {
        for c in of_size(6).filter(|c| beside(*c, d)) {
            for b in of_size(6).filter(|b| beside(*b, c) && apart(*b, d)) {
                for a in of_size(6).filter(|a| beside(*a, b) && apart(*a, c) && apart(*a, d)) {
                    let (ab, bc, cd) = (middle(b) - middle(a), middle(c) - middle(b), middle(d) - middle(c));
                    if ab.cross(bc) * bc.cross(cd) < -0.1 {
                        let mirrored = ab.cross(bc) < 0.0;
                        return Some(vec![Turn { mirrored, by: -angle(ab, mirrored), bonus: 0.0 }]);
                    }
                }
            }
        }
    }
    None
}

/// Two fused rings that are not both hexagons: the bond that they share stands upright.
fn side_by_side(species: &Skeleton, rings: &[Vec<usize>], points: &[Position]) -> Option<Vec<Turn>> {
    let [one, other] = rings else { return None };
    let common = shared(one, other);
    let [a, b] = common[..] else { return None };
    if one.len() == other.len() || one.len().max(other.len()) > 8 {
        return None;
    }
    let (large, small) = if one.len() > other.len() { (one, other) } else { (other, one) };
    let middle = |ring: &[usize]| centroid(ring.iter().map(|node| points[*node]));
    // The four-membered ring of penicillins with its nitrogen, which both rings share.
    let lactam = small.len() == 4 && species.text[a] != species.text[b];
    let (left, right) = if lactam { (small, large) } else { (large, small) };
    let across = middle(right) - middle(left);
    let alone = species.len() < one.len() + other.len() + 4;
    let mut turns = Vec::new();
    for mirrored in [false, true] {
        for more in [0.0, PI] {
            let mut turn = Turn { mirrored, by: more - angle(across, mirrored), bonus: 0.0 };
            if more == 0.0 && (alone || lactam) {
                turn.bonus += if lactam { 4.0 } else { 0.6 };
            }
            let (top, bottom) = if species.text[a] { (b, a) } else { (a, b) };
            if lactam && turn.of(points[top]).y > turn.of(points[bottom]).y {
                turn.bonus += 4.0;
            }
            turns.push(turn);
        }
    }
    Some(turns)
}

/// A ring of a sugar: one written atom, and beside it one carbon that carries another.
fn sugar(species: &Skeleton, units: &[Unit], points: &[Position]) -> Option<Vec<Turn>> {
    let rings = units.iter().filter(|unit| matches!(unit.nodes.len(), 5 | 6));
    let mut ranked: Vec<&Unit> = rings.collect();
    ranked.sort_by_key(|unit| std::cmp::Reverse(unit.nodes.len()));
    for unit in ranked {
        let inside = |node: &usize| unit.nodes.binary_search(node).is_ok();
        let oxygens: Vec<usize> = unit.nodes.iter().copied().filter(|node| species.text[*node]).collect();
        let [oxygen] = oxygens[..] else { continue };
        let carries = |node: &usize| species.links[*node].iter().any(|(next, _)| !inside(next) && species.text[*next]);
        let carbons = unit.nodes.iter().filter(|node| **node != oxygen);
        if carbons.filter(|node| carries(node)).count() < unit.nodes.len() - 3 {
            continue;
        }
        let neighbours: Vec<usize> = species.links[oxygen].iter().map(|(next, _)| *next).filter(inside).collect();
        let (first, second) = match neighbours[..] {
            [a, b] if carries(&a) && !carries(&b) => (a, b),
            [a, b] if carries(&b) && !carries(&a) => (b, a),
            _ => continue,
        };
        let middle = centroid(unit.nodes.iter().map(|node| points[*node]));
        let from = points[oxygen] - middle;
        // The anomeric carbon follows the oxygen clockwise.
        let mirrored = from.cross(points[first] - middle) > from.cross(points[second] - middle);
        let wanted = if unit.nodes.len() == 6 { PI / 6.0 } else { PI / 2.0 };
        return Some(vec![Turn { mirrored, by: wanted - angle(from, mirrored), bonus: 0.0 }]);
    }
    None
}
