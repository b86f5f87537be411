//! A drawing that follows another: what stays has the places it had, what changes is drawn anew beside it.
//!
//! Of each species the largest part whose bonds are all in the drawing before keeps its places, and the rest grows on it as a
//! chain or ring does, with bonds of one length. What had its place from a shape that is gone (a small ring that opened, a line, a
//! centre with room for three) is grown anew too ([`super::shapes`]). Where that is cramped, or a ring would have to be bent, the
//! species is laid out afresh and turned until it lies most like before. Species that would touch are pushed apart.

use super::measure::{Picture, Side};
use super::skeleton::Skeleton;
use super::union::Union;
use super::{Coordinates, MOST_ATOMS, View, chains, clash, place_species, rings, shapes, side_of, species};
use crate::drawing::geometry::{Position, centroid};
use crate::structure::{AtomId, Structure};
use std::f64::consts::PI;

/// Atoms of two species that are nearer than this are pushed apart.
const CLEAR: f64 = 1.35;
/// Atoms without a bond that are nearer than this make a drawing cramped.
const CRAMPED: f64 = 0.75;
/// What it costs to move more than the part that changes, and to draw a species afresh: so much for each atom that would have kept its
/// place, up to a number of them.
const RELIEF: f64 = 0.5;
const AFRESH: f64 = 0.3;
const MOST_KEPT: usize = 8;
/// What it costs that atoms lie elsewhere than before, by the mean distance, and that bonds outside rings lie in none of the common
/// directions, by their share.
const ELSEWHERE: f64 = 0.8;
const ASKEW: f64 = 1.2;
/// Rounds in which species are pushed apart, before they are put side by side.
const ROUNDS: usize = 60;
/// More species than this are put side by side at once.
const MOST_SPECIES: usize = 40;

/// The drawing that is followed.
#[derive(Debug, Clone, Copy)]
pub struct Before<'a> {
    /// Its structure.
    pub structure: &'a Structure,
    /// Where its atoms are.
    pub points: &'a [Position],
}

/// Points for a drawing whose atoms are, under `atoms`, those of the drawing before.
#[must_use]
pub fn follow(before: Before, structure: &Structure, atoms: &dyn Fn(usize) -> Option<AtomId>) -> Coordinates {
    if structure.atom_count() > MOST_ATOMS || before.points.len() < before.structure.atom_count() {
        return Vec::new();
    }
    let skeleton = Union::new(&[View::same(structure)]).skeleton;
    let known = |node: usize| atoms(node).filter(|atom| atom.index() < before.points.len());
    let base: Vec<Option<Position>> =
        (0..skeleton.len()).map(|node| known(node).map(|atom| before.points[atom.index()])).collect();
    let kept: Vec<bool> = skeleton
        .edges
        .iter()
        .map(|edge| {
            let [a, b] = edge.ends.map(known);
            a.zip(b).is_some_and(|(a, b)| before.structure.bond_between(a, b).is_some())
        })
        .collect();
    let shaped = shapes::shaped(before.structure, &skeleton, &known, &kept);
    let components = skeleton.components();
    let mut parts: Vec<Vec<Position>> = components
        .iter()
        .map(|nodes| {
            let own: Vec<Option<Position>> = nodes.iter().map(|node| base[*node]).collect();
            let part = skeleton.part(nodes);
            let of_part = |flags: &[bool]| -> Vec<bool> {
                let edges = part.edges.iter().map(|edge| edge.ends.map(|end| nodes[end]));
                edges.map(|[a, b]| skeleton.edge_between(a, b).is_some_and(|edge| flags[edge])).collect()
            };
            follow_species(&part, &own, &of_part(&kept), &of_part(&shaped))
        })
        .collect();
    let is_new: Vec<bool> = components.iter().map(|nodes| nodes.iter().all(|node| base[*node].is_none())).collect();
    arrange(&mut parts, &is_new);
    let mut points = vec![Position::default(); skeleton.len()];
    for (nodes, part) in components.iter().zip(parts) {
        for (node, point) in nodes.iter().zip(part) {
            points[*node] = point;
        }
    }
    points
}

/// `kept`: bonds of the drawing before; `shaped`: those of them that still lie as before by right.
fn follow_species(species: &Skeleton, base: &[Option<Position>], kept: &[bool], shaped: &[bool]) -> Vec<Position> {
    if kept.iter().all(|kept| *kept) && base.iter().all(Option::is_some) {
        return base.iter().flatten().copied().collect();
    }
    let blocks = species.cyclic_blocks();
    let in_ring = species.in_ring(&blocks);
    let cost = |points: &[Position]| cost(species, &in_ring, points) + unlike(species, &in_ring, points, base);
    let fixed = still(species, &blocks, base, shaped);
    let mut best = (f64::INFINITY, Vec::new());
    if fixed.iter().any(Option::is_some) {
        let units: Vec<rings::Unit> = blocks.iter().map(|edges| rings::lay_out_block(species, edges)).collect();
        let grown = chains::grow(species, &units, &fixed);
        best = (cost(&grown), grown);
        // What a dearer way cannot better is not tried.
        if best.0 > RELIEF {
            let mut relieved = best.1.clone();
            clash::relieve(species, &in_ring, &mut relieved);
            let own = cost(&relieved) + RELIEF;
            if own < best.0 - 1e-9 {
                best = (own, relieved);
            }
        }
    }
    let afresh = AFRESH * fixed.iter().flatten().count().min(MOST_KEPT) as f64;
    if best.0 > afresh {
        let fresh = turned_like(&place_species(species, &vec![None; species.len()]), base);
        if cost(&fresh) + afresh < best.0 - 1e-9 {
            best.1 = fresh;
        }
    }
    best.1
}

/// How far a drawing is from what was there before, and from how bonds usually lie.
fn unlike(species: &Skeleton, in_ring: &[bool], points: &[Position], base: &[Option<Position>]) -> f64 {
    let moved = points.iter().zip(base).filter_map(|(own, old)| old.map(|old| own.distance(old)));
    let (mut sum, mut count) = (0.0, 0);
    for distance in moved {
        (sum, count) = (sum + distance, count + 1);
    }
    let askew = |ends: [usize; 2]| {
        let off = (points[ends[1]] - points[ends[0]]).angle().rem_euclid(PI / 6.0);
        off.min(PI / 6.0 - off) > 0.05
    };
    let free = species.edges.iter().zip(in_ring).filter(|(_, in_ring)| !**in_ring).map(|(edge, _)| edge.ends);
    let (askew, free) = free.fold((0, 0), |(off, all), ends| (off + i32::from(askew(ends)), all + 1));
    ELSEWHERE * sum / f64::from(count.max(1)) + ASKEW * f64::from(askew) / f64::from(free.max(1))
}

/// The largest connected part that keeps its places: no ring keeps only some of its atoms in place.
fn still(species: &Skeleton, blocks: &[Vec<usize>], base: &[Option<Position>], kept: &[bool]) -> Vec<Option<Position>> {
    let mut stays: Vec<bool> = base.iter().map(Option::is_some).collect();
    let mut fast = kept.to_vec();
    for block in blocks.iter().filter(|block| block.iter().any(|edge| !kept[*edge])) {
        for edge in block {
            fast[*edge] = false;
        }
    }
    let mut seen = vec![false; species.len()];
    let mut largest: Vec<usize> = Vec::new();
    for first in 0..species.len() {
        if !stays[first] || std::mem::replace(&mut seen[first], true) {
            continue;
        }
        let mut part = vec![first];
        let mut at = 0;
        while at < part.len() {
            for (next, edge) in &species.links[part[at]] {
                if fast[*edge] && !std::mem::replace(&mut seen[*next], true) {
                    part.push(*next);
                }
            }
            at += 1;
        }
        if part.len() > largest.len() {
            largest = part;
        }
    }
    stays.fill(false);
    for node in largest {
        stays[node] = true;
    }
    base.iter().zip(stays).map(|(point, stays)| point.filter(|_| stays)).collect()
}

/// How bad a drawing of one species is.
fn cost(species: &Skeleton, in_ring: &[bool], points: &[Position]) -> f64 {
    let bonds: Vec<[usize; 2]> = species.edges.iter().map(|edge| edge.ends).collect();
    let sides: Vec<Side> = species.marks.iter().map(side_of).collect();
    let defects = Picture { points, bonds: &bonds, in_ring, sides: &sides }.defects();
    let mut cramped = 0;
    for (a, point) in points.iter().enumerate() {
        let near = |(at, other): (usize, &Position)| {
            point.distance(*other) < CRAMPED && species.edge_between(a, a + 1 + at).is_none()
        };
        cramped += points[a + 1..].iter().enumerate().filter(|entry| near(*entry)).count();
    }
    10.0 * defects.total() as f64 + 3.0 * defects.crossings as f64 + 1.5 * cramped as f64
}

/// A fresh layout turned in steps of 30 degrees, and mirrored, so that it lies most like before.
fn turned_like(fresh: &[Position], base: &[Option<Position>]) -> Vec<Position> {
    let pairs: Vec<(Position, Position)> =
        fresh.iter().zip(base).filter_map(|(own, old)| old.map(|old| (*own, old))).collect();
    if pairs.is_empty() {
        return fresh.to_vec();
    }
    let from = centroid(pairs.iter().map(|(own, _)| *own));
    let to = centroid(pairs.iter().map(|(_, old)| *old));
    let image = |point: Position, mirrored: bool, turn: f64| {
        let off = point - from;
        let off = if mirrored { Position::new(-off.x, off.y) } else { off };
        to + off.turned(turn)
    };
    let mut best = (f64::INFINITY, false, 0.0);
    for mirrored in [false, true] {
        for step in 0..12 {
            let turn = f64::from(step) * PI / 6.0;
            let off: f64 = pairs
                .iter()
                .map(|(own, old)| {
                    let off = image(*own, mirrored, turn) - *old;
                    off.dot(off)
                })
                .sum();
            if off < best.0 - 1e-6 {
                best = (off, mirrored, turn);
            }
        }
    }
    fresh.iter().map(|point| image(*point, best.1, best.2)).collect()
}

/// Pushes species apart, the smaller one of each two; new ones stand beside the others.
fn arrange(parts: &mut [Vec<Position>], is_new: &[bool]) {
    let old: Vec<Position> =
        parts.iter().zip(is_new).filter(|(_, new)| !**new).flat_map(|(part, _)| part.iter().copied()).collect();
    let (low, high) = species::bounds(&old);
    let mut cursor = high.x + CLEAR;
    for (part, _) in parts.iter_mut().zip(is_new).filter(|(_, new)| **new) {
        let (own_low, own_high) = species::bounds(part);
        let middle = Position::new(own_low.x, f64::midpoint(own_low.y, own_high.y));
        shift(part, Position::new(cursor, f64::midpoint(low.y, high.y)) - middle);
        cursor += own_high.x - own_low.x + CLEAR;
    }
    if parts.len() > MOST_SPECIES || !(0..ROUNDS).any(|_| !push_apart(parts)) {
        species::side_by_side(parts);
    }
}

/// One round; whether anything had to be pushed.
fn push_apart(parts: &mut [Vec<Position>]) -> bool {
    let mut pushed = false;
    for a in 0..parts.len() {
        for b in a + 1..parts.len() {
            let near = parts[a]
                .iter()
                .flat_map(|one| parts[b].iter().map(|other| one.distance(*other)))
                .fold(f64::INFINITY, f64::min);
            if near >= CLEAR - 1e-6 {
                continue;
            }
            pushed = true;
            let (large, small) = if parts[a].len() >= parts[b].len() { (a, b) } else { (b, a) };
            let way = centroid(parts[small].iter().copied()) - centroid(parts[large].iter().copied());
            shift(&mut parts[small], way.unit() * (CLEAR - near + 0.05));
        }
    }
    pushed
}

fn shift(part: &mut [Position], by: Position) {
    for point in part {
        *point = *point + by;
    }
}
