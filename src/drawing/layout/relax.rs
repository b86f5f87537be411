//! Stress majorisation and relaxation for ring systems that no polygon and no template fits.
//!
//! First guesses come from the distances in the graph (majorisation of stress, de Leeuw 1977, as Gansner, Koren and North
//! 2004 use it for graphs) and from barycentres inside an outer ring (Tutte 1963); each is relaxed under springs along
//! bonds and repulsion elsewhere, and the one with the fewest defects is taken. All work is bounded by the table below.

use super::measure::{Defects, Picture};
use super::skeleton::Skeleton;
use crate::drawing::geometry::Position;
use std::collections::VecDeque;

/// Largest block that is relaxed; a larger one keeps its first guess.
const NODES: usize = 120;
/// Rounds of majorisation.
const ROUNDS: usize = 60;
/// Steps of one relaxation for a small block; larger blocks get fewer.
const STEPS: usize = 300;
/// Steps after which only the best few layouts are followed.
const TRIAL: usize = 90;
const FOLLOWED: usize = 3;
/// Rings larger than this bend.
const LARGE: usize = 11;
/// Random first guesses.
const GUESSES: u64 = 6;

/// The best layout that can be found for a block by relaxation alone.
pub(super) fn best_layout(block: &Skeleton, rings: &[Vec<usize>]) -> Vec<Position> {
    let distances = distances(block);
    let springs = springs(block, rings);
    let mut layouts: Vec<(f64, Vec<Position>)> = Vec::new();
    // A dense hostile block gets few tries: nothing makes it readable.
    let tries = (40_000 / (block.len() * (block.len() + block.edges.len())).max(1)).max(2);
    for mut points in starts(block, rings, &distances).into_iter().take(tries) {
        relax(block, &springs, &mut points, TRIAL);
        layouts.push((score(block, &points), points));
    }
    layouts.sort_by(|a, b| a.0.total_cmp(&b.0));
    layouts.truncate(FOLLOWED);
    for (worth, points) in &mut layouts {
        relax(block, &springs, points, STEPS);
        *worth = score(block, points);
    }
    layouts.sort_by(|a, b| a.0.total_cmp(&b.0));
    layouts.into_iter().next().map(|(_, points)| points).unwrap_or_default()
}

/// How bad a layout of a block is: defects count most, crossings less, uneven bonds least.
pub(super) fn score(block: &Skeleton, points: &[Position]) -> f64 {
    let defects = defects(block, points);
    let strain: f64 = block
        .edges
        .iter()
        .map(|edge| (points[edge.ends[0]].distance(points[edge.ends[1]]) / edge.length - 1.0).abs())
        .sum();
    10.0 * defects.total() as f64 + 0.8 * defects.crossings as f64 + strain / block.edges.len().max(1) as f64
}

/// The defects of a block, long edges measured by their own length.
pub(super) fn defects(block: &Skeleton, points: &[Position]) -> Defects {
    let plain: Vec<[usize; 2]> = block.edges.iter().map(|edge| edge.ends).collect();
    let in_ring = vec![true; plain.len()];
    let mut defects = Picture { points, bonds: &plain, in_ring: &in_ring, sides: &[] }.defects();
    let off = |edge: &&super::skeleton::Edge| {
        !(0.8..=1.2).contains(&(points[edge.ends[0]].distance(points[edge.ends[1]]) / edge.length))
    };
    defects.lengths = block.edges.iter().filter(off).count();
    defects
}

fn distances(block: &Skeleton) -> Vec<Vec<f64>> {
    let from = |root: usize| {
        let mut depth = vec![f64::INFINITY; block.len()];
        depth[root] = 0.0;
        let mut open = VecDeque::from([root]);
        while let Some(node) = open.pop_front() {
            for (next, _) in &block.links[node] {
                if depth[*next].is_infinite() {
                    depth[*next] = depth[node] + 1.0;
                    open.push_back(*next);
                }
            }
        }
        depth
    };
    if block.len() > NODES { Vec::new() } else { (0..block.len()).map(from).collect() }
}

fn starts(block: &Skeleton, rings: &[Vec<usize>], distances: &[Vec<f64>]) -> Vec<Vec<Position>> {
    let circle = |order: &dyn Fn(usize) -> f64| -> Vec<Position> {
        let radius = block.len() as f64 / std::f64::consts::TAU;
        (0..block.len()).map(|node| Position::towards(order(node)) * radius).collect()
    };
    let step = std::f64::consts::TAU / block.len().max(1) as f64;
    let plain = circle(&|node| node as f64 * step);
    if distances.is_empty() {
        return vec![plain];
    }
    let mut starts: Vec<Vec<Position>> =
        outer_rings(block, rings).iter().map(|ring| barycentric(block, ring)).collect();
    starts.push(majorised(plain, distances));
    for seed in 1..=GUESSES {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let guess: Vec<Position> = (0..block.len())
            .map(|_| {
                let mut next = || {
                    // SplitMix64: deterministic, so that one bank gives one report.
                    state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
                    let mixed = (state ^ (state >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
                    (mixed >> 40) as f64 / f64::from(1 << 24) - 0.5
                };
                Position::new(next(), next()) * (block.len() as f64).sqrt()
            })
            .collect();
        starts.push(majorised(guess, distances));
    }
    starts
}

/// Rings to draw outside: sums of one or two short rings and the longest of those, largest first.
fn outer_rings(block: &Skeleton, rings: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let edges_of = |ring: &[usize]| -> Vec<usize> {
        (0..ring.len()).filter_map(|at| block.edge_between(ring[at], ring[(at + 1) % ring.len()])).collect()
    };
    let sets: Vec<Vec<usize>> = rings.iter().take(12).map(|ring| edges_of(ring)).collect();
    let mut found: Vec<Vec<usize>> = rings.iter().take(12).cloned().collect();
    let mut sums: Vec<Vec<usize>> = sets.clone();
    // Growing sums: each round adds one more ring to what has been found.
    for _ in 0..3 {
        let mut next = Vec::new();
        for sum in sums.iter().take(24) {
            for set in &sets {
                let mut both: Vec<usize> = sum.iter().filter(|edge| !set.contains(edge)).copied().collect();
                both.extend(set.iter().filter(|edge| !sum.contains(edge)));
                if let Some(ring) = single_ring(block, &both)
                    && !found.iter().any(|known| same_nodes(known, &ring))
                {
                    found.push(ring);
                    next.push(both);
                }
            }
        }
        sums = next;
    }
    found.sort_by_key(|ring| std::cmp::Reverse(ring.len()));
    found.truncate(8);
    found
}

fn same_nodes(a: &[usize], b: &[usize]) -> bool {
    a.len() == b.len() && a.iter().all(|node| b.contains(node))
}

/// The nodes of some edges in order where the edges form one ring.
fn single_ring(block: &Skeleton, edges: &[usize]) -> Option<Vec<usize>> {
    let first = *edges.first()?;
    let [start, mut at] = block.edges[first].ends;
    let mut ring = vec![start, at];
    let mut came_by = first;
    while at != start {
        let mut onward = block.links[at].iter().filter(|(_, edge)| *edge != came_by && edges.contains(edge));
        let (next, edge) = onward.next().copied()?;
        if onward.next().is_some() {
            return None;
        }
        (at, came_by) = (next, edge);
        if at != start {
            ring.push(at);
        }
    }
    (ring.len() == edges.len()).then_some(ring)
}

/// The ring as a polygon, every other node in the middle of its neighbours.
fn barycentric(block: &Skeleton, ring: &[usize]) -> Vec<Position> {
    let mut points = vec![Position::default(); block.len()];
    let mut fixed = vec![false; block.len()];
    let radius = 0.5 / (std::f64::consts::PI / ring.len().max(3) as f64).sin();
    for (at, node) in ring.iter().enumerate() {
        points[*node] = Position::towards(at as f64 * std::f64::consts::TAU / ring.len() as f64) * radius;
        fixed[*node] = true;
    }
    for _ in 0..ROUNDS {
        for node in 0..block.len() {
            if !fixed[node] {
                points[node] =
                    crate::drawing::geometry::centroid(block.links[node].iter().map(|(next, _)| points[*next]));
            }
        }
    }
    // A little apart, so that nodes with one barycentre can leave each other.
    for (node, point) in points.iter_mut().enumerate() {
        *point = *point + Position::towards(node as f64 * 2.4) * 0.02;
    }
    points
}

fn majorised(mut points: Vec<Position>, distances: &[Vec<f64>]) -> Vec<Position> {
    for _ in 0..ROUNDS {
        for node in 0..points.len() {
            let (mut sum, mut weights) = (Position::default(), 0.0);
            for (other, distance) in distances[node].iter().enumerate() {
                if other == node || !distance.is_finite() {
                    continue;
                }
                let weight = 1.0 / (distance * distance);
                let apart = points[node] - points[other];
                let wanted = if *distance > 1.5 { 0.88 * distance } else { 1.0 };
                sum = sum + (points[other] + apart.unit() * wanted) * weight;
                weights += weight;
            }
            if weights > 0.0 {
                points[node] = sum * (1.0 / weights);
            }
        }
    }
    points
}

/// A wanted distance between two nodes.
pub(super) struct Spring {
    ends: [usize; 2],
    length: f64,
    strength: f64,
}

/// Springs that keep rings of up to eight regular: firm where a ring shares single bonds only, faint in cages.
pub(super) fn springs(block: &Skeleton, rings: &[Vec<usize>]) -> Vec<Spring> {
    let mut springs = Vec::new();
    for (at, ring) in rings.iter().enumerate().filter(|(_, ring)| (4..=8).contains(&ring.len())) {
        // A large ring that passes through most of a small one leaves it its shape.
        let shares = |other: &Vec<usize>| {
            let shared = other.iter().filter(|node| ring.contains(node)).count();
            shared == 3 || shared > 3 && other.len() <= LARGE
        };
        let caged = rings.iter().enumerate().any(|(other, nodes)| other != at && shares(nodes));
        let plain = ring
            .iter()
            .zip(ring.iter().cycle().skip(1))
            .all(|(a, b)| block.edge_between(*a, *b).is_some_and(|edge| (block.edges[edge].length - 1.0).abs() < 1e-6));
        if !plain {
            continue;
        }
        let turn = std::f64::consts::PI / ring.len() as f64;
        for a in 0..ring.len() {
            for b in a + 2..ring.len() {
                let length = ((b - a) as f64 * turn).sin() / turn.sin();
                springs.push(Spring { ends: [ring[a], ring[b]], length, strength: if caged { 0.04 } else { 0.8 } });
            }
        }
    }
    springs
}

/// Moves points downhill under springs along edges, repulsion between nodes, and between nodes and foreign edges.
pub(super) fn relax(block: &Skeleton, springs: &[Spring], points: &mut [Position], steps: usize) {
    if block.len() > NODES {
        return;
    }
    let steps = steps.min(2_000_000 / (block.len() * (block.len() + block.edges.len())).max(1) + 20);
    let mut velocity = vec![Position::default(); points.len()];
    for step in 0..steps {
        let force = forces(block, springs, points);
        // The step shrinks, so that the end is at rest.
        let rate = 0.12 * (1.0 - 0.8 * step as f64 / steps as f64);
        for ((point, velocity), force) in points.iter_mut().zip(&mut velocity).zip(force) {
            let pushed = *velocity * 0.75 + force * rate;
            *velocity = if pushed.length() > 0.15 { pushed.unit() * 0.15 } else { pushed };
            *point = *point + *velocity;
        }
    }
}

fn forces(block: &Skeleton, springs: &[Spring], points: &[Position]) -> Vec<Position> {
    let mut force = vec![Position::default(); points.len()];
    let mut push = |node: usize, other: usize, by: Position| {
        force[node] = force[node] + by;
        force[other] = force[other] - by;
    };
    for edge in &block.edges {
        let [a, b] = edge.ends;
        let apart = points[b] - points[a];
        push(a, b, apart.unit() * (2.0 * (apart.length() - edge.length)));
    }
    for spring in springs {
        let [a, b] = spring.ends;
        let apart = points[b] - points[a];
        push(a, b, apart.unit() * (spring.strength * (apart.length() - spring.length)));
    }
    for a in 0..points.len() {
        for b in a + 1..points.len() {
            let apart = points[b] - points[a];
            let near = apart.length();
            if near < 1.45 && block.edge_between(a, b).is_none() {
                // Soft beyond one bond length, where small rings must stay; firm below.
                let strength = 0.12 * (1.45 - near) + 1.2 * (0.95 - near).max(0.0);
                push(a, b, apart.unit() * -strength);
            }
        }
    }
    foreign_edges(block, points, &mut force);
    force
}

fn foreign_edges(block: &Skeleton, points: &[Position], force: &mut [Position]) {
    const REACH: f64 = 0.5;
    for edge in &block.edges {
        let [a, b] = edge.ends;
        let along = points[b] - points[a];
        let square = along.dot(along).max(1e-9);
        for node in 0..points.len() {
            let from = points[node] - points[a];
            let share = from.dot(along) / square;
            if node == a || node == b || !(0.0..=1.0).contains(&share) {
                continue;
            }
            let off = from - along * share;
            if off.length() < REACH {
                let by = off.unit() * (0.8 * (REACH - off.length()));
                force[node] = force[node] + by;
                force[a] = force[a] - by * (1.0 - share);
                force[b] = force[b] - by * share;
            }
        }
    }
}
