//! Branches of rings mirrored so that a drawing becomes wide rather than high.
//!
//! A drawing is read from left to right and printed in a column. Which way a chain leaves its ring is left open by growth, so what
//! hangs on a ring is mirrored in its bond where the whole then lies better and nothing comes near anything.

use super::rings::Unit;
use super::skeleton::Skeleton;
use super::species::bounds;
use crate::drawing::geometry::{Position, distance_to_segment, segments_cross};

/// Drawings with more atoms stay as they are.
const MOST: usize = 120;
/// Mirrorings of one drawing.
const ROUNDS: usize = 3;
/// How much wider a drawing must become.
const GAIN: f64 = 0.08;
/// How near atoms that are not bonded may come, and atoms to bonds.
const CLEAR: f64 = 0.85;
const CLEAR_OF_BONDS: f64 = 0.45;
/// Branches with fewer atoms change nothing.
const SMALLEST: usize = 3;

/// Mirrors branches while that helps.
pub(super) fn unfold(species: &Skeleton, units: &[Unit], in_ring: &[bool], points: &mut [Position]) {
    if species.len() > MOST || species.edges.iter().any(|edge| edge.joining) {
        return;
    }
    // A cage that is drawn in perspective stays upright.
    let upright = |node: &usize| units.iter().any(|unit| unit.upright && unit.nodes.binary_search(node).is_ok());
    let branches: Vec<(usize, Vec<usize>)> = (0..species.edges.len())
        .filter(|edge| !in_ring[*edge])
        .filter_map(|edge| branch(species, in_ring, edge))
        .filter(|(_, side)| !side.iter().any(upright))
        .collect();
    for _ in 0..ROUNDS {
        let now = lying(points);
        let mut best: Option<(f64, Vec<Position>)> = None;
        for (edge, side) in &branches {
            let image = mirrored(species, *edge, side, points);
            let gain = lying(&image) - now;
            if gain > best.as_ref().map_or(GAIN, |(most, _)| *most) + 1e-6 && is_clear(species, side, &image) {
                best = Some((gain, image));
            }
        }
        let Some((_, image)) = best else { return };
        points.copy_from_slice(&image);
    }
}

/// How much wider than high points lie.
fn lying(points: &[Position]) -> f64 {
    let (low, high) = bounds(points);
    let (width, height) = (high.x - low.x, high.y - low.y);
    (width - height) / (width + height + 1.0)
}

/// The smaller side of a plain bond that leads to a ring.
fn branch(species: &Skeleton, in_ring: &[bool], edge: usize) -> Option<(usize, Vec<usize>)> {
    let ends = species.edges[edge].ends;
    let is_ring_atom = |node: usize| species.links[node].iter().any(|(_, edge)| in_ring[*edge]);
    let marked = species.marks.iter().any(|mark| mark.ends == ends || mark.ends == [ends[1], ends[0]]);
    if marked || !ends.into_iter().any(is_ring_atom) {
        return None;
    }
    let side = beyond(species, ends[0], ends[1]);
    let side = if 2 * side.len() > species.len() { beyond(species, ends[1], ends[0]) } else { side };
    (side.len() >= SMALLEST).then_some((edge, side))
}

/// The nodes on the far side of a bond outside rings.
fn beyond(species: &Skeleton, from: usize, to: usize) -> Vec<usize> {
    let mut seen = vec![false; species.len()];
    seen[from] = true;
    species.reached(to, &mut seen)
}

fn mirrored(species: &Skeleton, edge: usize, side: &[usize], points: &[Position]) -> Vec<Position> {
    let [a, b] = species.edges[edge].ends.map(|end| points[end]);
    let mut image = points.to_vec();
    for node in side {
        image[*node] = image[*node].mirrored(a, b);
    }
    image
}

/// Whether the atoms of a side keep clear of all others.
fn is_clear(species: &Skeleton, side: &[usize], points: &[Position]) -> bool {
    let mut moved = vec![false; points.len()];
    for node in side {
        moved[*node] = true;
    }
    let others = |node: usize| (0..points.len()).filter(move |other| *other != node);
    let apart = |node: &usize| {
        others(*node)
            .filter(|other| !moved[*other])
            .all(|other| points[*node].distance(points[other]) >= CLEAR || species.edge_between(*node, other).is_some())
    };
    let free = |edge: &super::skeleton::Edge| {
        let [a, b] = edge.ends;
        let off = |node: usize| {
            node == a
                || node == b
                || moved[node] == moved[a] && moved[node] == moved[b]
                || distance_to_segment(points[node], points[a], points[b]) >= CLEAR_OF_BONDS
        };
        let crosses = |other: &super::skeleton::Edge| {
            let [c, d] = other.ends;
            moved[a] != moved[c] && segments_cross(points[a], points[b], points[c], points[d])
        };
        (0..points.len()).all(off) && !species.edges.iter().any(crosses)
    };
    side.iter().all(apart) && species.edges.iter().all(free)
}
