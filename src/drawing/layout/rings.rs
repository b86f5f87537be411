//! Ring systems: regular polygons side by side, templates, and relaxation for what fits neither.

use super::arcs::{arc_points, polygon};
use super::measure::Side;
use super::skeleton::Skeleton;
use super::theta::theta;
use super::{cycles, relax, templates};
use crate::drawing::geometry::{Position, centroid};

/// Blocks with more nodes than this are not searched for rings: their nodes go round one circle.
const NODES: usize = 400;

/// A block that is placed as a whole: its nodes (in the species) and their points.
#[derive(Debug, Clone)]
pub(super) struct Unit {
    pub(super) nodes: Vec<usize>,
    pub(super) points: Vec<Position>,
    /// Whether the points show a known cage that should stay upright.
    pub(super) upright: bool,
}

/// Lays out one cyclic block of a species, given by its edges.
pub(super) fn lay_out_block(species: &Skeleton, edges: &[usize]) -> Unit {
    let mut nodes: Vec<usize> = edges.iter().flat_map(|edge| species.edges[*edge].ends).collect();
    nodes.sort_unstable();
    nodes.dedup();
    let block = block_of(species, &nodes, edges);
    let hanging: Vec<usize> =
        nodes.iter().enumerate().map(|(at, node)| species.links[*node].len() - block.links[at].len()).collect();
    let (mut points, upright) = block_points(&block, &hanging);
    respect_marks(&block, &mut points);
    Unit { nodes, points, upright }
}

/// The block alone; edges between its nodes that belong to no ring of it do not exist, since a block is maximal.
fn block_of(species: &Skeleton, nodes: &[usize], edges: &[usize]) -> Skeleton {
    let block = species.part(nodes);
    debug_assert_eq!(block.edges.len(), edges.len());
    block
}

fn block_points(block: &Skeleton, hanging: &[usize]) -> (Vec<Position>, bool) {
    if block.len() > NODES {
        let ring: Vec<usize> = (0..block.len()).collect();
        return (polygon_points(block, &ring), false);
    }
    let rings = cycles::rings(block);
    if let [ring] = &rings[..] {
        return (polygon_points(block, ring), false);
    }
    if let Some(points) = templates::whole(block, hanging) {
        return (points, true);
    }
    if let Some(points) = theta(block).filter(|points| relax::score(block, points) < 1.0) {
        return (points, false);
    }
    let fused = assemble(block, &rings);
    let good = |points: &[Position]| relax::score(block, points) < 1.0;
    if good(&fused) {
        return (fused, false);
    }
    let mut best = fused.clone();
    let mut relaxed = fused;
    relax::relax(block, &relax::springs(block, &rings), &mut relaxed, 300);
    for candidate in [relaxed, relax::best_layout(block, &rings)] {
        if candidate.len() == block.len() && relax::score(block, &candidate) < relax::score(block, &best) {
            best = candidate;
        }
        if good(&best) {
            break;
        }
    }
    (best, false)
}

fn polygon_points(block: &Skeleton, ring: &[usize]) -> Vec<Position> {
    let lengths: Vec<f64> = (0..ring.len())
        .map(|at| {
            block.edge_between(ring[at], ring[(at + 1) % ring.len()]).map_or(1.0, |edge| block.edges[edge].length)
        })
        .collect();
    let mut points = vec![Position::default(); block.len()];
    for (node, point) in ring.iter().zip(polygon(&lengths)) {
        points[*node] = point;
    }
    points
}

/// Rings that share more than one edge form a cage; every cage and every other ring is a part that is placed as a whole.
struct Part {
    rings: Vec<usize>,
    nodes: Vec<usize>,
}

fn parts(rings: &[Vec<usize>]) -> Vec<Part> {
    let mut group: Vec<usize> = (0..rings.len()).collect();
    for a in 0..rings.len() {
        for b in a + 1..rings.len() {
            if rings[a].iter().filter(|node| rings[b].contains(node)).count() > 2 {
                let (from, to) = (group[b], group[a]);
                group.iter_mut().filter(|of| **of == from).for_each(|of| *of = to);
            }
        }
    }
    let mut parts = Vec::new();
    for id in 0..rings.len() {
        let members: Vec<usize> = (0..rings.len()).filter(|ring| group[*ring] == id).collect();
        let mut nodes: Vec<usize> = members.iter().flat_map(|ring| rings[*ring].iter().copied()).collect();
        nodes.sort_unstable();
        nodes.dedup();
        if !members.is_empty() {
            parts.push(Part { rings: members, nodes });
        }
    }
    parts
}

/// Places part after part: the largest first, then always the one that shares most with what is placed.
fn assemble(block: &Skeleton, rings: &[Vec<usize>]) -> Vec<Position> {
    let parts = parts(rings);
    let mut points: Vec<Option<Position>> = vec![None; block.len()];
    let mut left: Vec<usize> = (0..parts.len()).collect();
    while !left.is_empty() {
        let shared = |part: &usize| parts[*part].nodes.iter().filter(|node| points[**node].is_some()).count();
        // Cages before rings, then parts that close least: a part with two shared nodes fits exactly.
        let rank = |part: &usize| {
            let (shared, size) = (shared(part), parts[*part].nodes.len());
            (shared >= 2, parts[*part].rings.len(), shared == 2, shared, neighbours_of(&parts, *part), size)
        };
        let Some(at) = (0..left.len()).max_by(|a, b| rank(&left[*a]).cmp(&rank(&left[*b])).then(b.cmp(a))) else {
            break;
        };
        let part = &parts[left.swap_remove(at)];
        left.sort_unstable();
        if let [ring] = part.rings[..] {
            place_ring(block, &rings[ring], &mut points);
        } else {
            place_cage(block, rings, part, &mut points);
        }
    }
    points.into_iter().map(Option::unwrap_or_default).collect()
}

fn neighbours_of(parts: &[Part], part: usize) -> usize {
    parts.iter().filter(|other| other.nodes.iter().filter(|node| parts[part].nodes.contains(node)).count() >= 2).count()
}

fn place_cage(block: &Skeleton, rings: &[Vec<usize>], part: &Part, points: &mut [Option<Position>]) {
    let cage = block.part(&part.nodes);
    let own: Vec<Vec<usize>> = part
        .rings
        .iter()
        .map(|ring| rings[*ring].iter().filter_map(|node| part.nodes.binary_search(node).ok()).collect())
        .collect();
    let hanging: Vec<usize> =
        part.nodes.iter().enumerate().map(|(at, node)| block.links[*node].len() - cage.links[at].len()).collect();
    let local = templates::whole(&cage, &hanging)
        .or_else(|| theta(&cage).filter(|points| relax::score(&cage, points) < 1.0))
        .unwrap_or_else(|| relax::best_layout(&cage, &own));
    let placed: Vec<usize> = (0..part.nodes.len()).filter(|at| points[part.nodes[*at]].is_some()).collect();
    let moved = match placed[..] {
        [] => local,
        _ => fitted(&local, &placed, &part.nodes, points),
    };
    for (node, point) in part.nodes.iter().zip(moved) {
        points[*node].get_or_insert(point);
    }
}

/// The points moved so that those already placed fall where they are; of the two mirror images the one farther from the rest.
fn fitted(local: &[Position], placed: &[usize], nodes: &[usize], points: &[Option<Position>]) -> Vec<Position> {
    let (first, last) = (placed[0], placed[placed.len() - 1]);
    let at = |node: usize| points[nodes[node]].unwrap_or_default();
    let (from, to) = (local[last] - local[first], at(last) - at(first));
    let images = [false, true].map(|mirror| -> Vec<Position> {
        let flip = |v: Position| if mirror { Position::new(v.x, -v.y) } else { v };
        let turn = to.angle() - flip(from).angle();
        local.iter().map(|point| at(first) + flip(*point - local[first]).turned(turn)).collect()
    });
    let occupied: Vec<Position> = points.iter().flatten().copied().collect();
    let crowd = |image: &[Position]| -> f64 {
        let inner = image.iter().enumerate().filter(|(node, _)| points[nodes[*node]].is_none());
        inner.flat_map(|(_, point)| occupied.iter().map(|other| 1.0 / (0.01 + point.distance(*other)))).sum()
    };
    let [plain, mirrored] = images;
    if crowd(&mirrored) < crowd(&plain) - 1e-9 { mirrored } else { plain }
}

fn place_ring(block: &Skeleton, ring: &[usize], points: &mut [Option<Position>]) {
    let Some(first) = ring.iter().position(|node| points[*node].is_some()) else {
        let whole = polygon_points(block, ring);
        for node in ring {
            points[*node] = Some(whole[*node]);
        }
        return;
    };
    // Walk round from a placed node; each stretch of unplaced nodes is an arc between two placed ones.
    let order: Vec<usize> = (0..=ring.len()).map(|at| ring[(first + at) % ring.len()]).collect();
    let inside = centroid(ring.iter().filter_map(|node| points[*node]));
    let mut open_from = 0;
    for at in 1..order.len() {
        let (Some(from), Some(to)) = (points[order[open_from]], points[order[at]]) else { continue };
        let arc = &order[open_from + 1..at];
        if !arc.is_empty() {
            let away = arc_side(block, ring, order[open_from], order[at], inside, points);
            for (node, point) in arc.iter().zip(arc_points(from, to, arc.len(), away)) {
                points[*node] = Some(point);
            }
        }
        open_from = at;
    }
}

/// A point on the side of the chord away from which the arc bulges: the ring's own placed nodes, or its neighbours.
fn arc_side(
    block: &Skeleton,
    ring: &[usize],
    from: usize,
    to: usize,
    inside: Position,
    points: &[Option<Position>],
) -> Position {
    let own = ring.iter().filter(|node| points[**node].is_some()).count();
    if own > 2 {
        return inside;
    }
    let near = [from, to].into_iter().flat_map(|node| block.links[node].iter());
    centroid(near.filter(|(node, _)| *node != from && *node != to).filter_map(|(node, _)| points[*node]))
}

/// Turns double bonds of large rings to the stated side: a node next to the bond is pushed through the line of its
/// neighbours and the ring relaxed.
fn respect_marks(block: &Skeleton, points: &mut Vec<Position>) {
    let sides =
        block.marks.iter().map(|mark| Side { ends: mark.ends, references: mark.references, same: mark.same_side });
    let sides: Vec<Side> = sides.collect();
    for side in sides.iter().cycle().take(2 * sides.len()) {
        if side.holds(points) {
            continue;
        }
        let mut best: Option<(usize, f64, Vec<Position>)> = None;
        for end in side.ends {
            let neighbours: Vec<usize> = block.links[end].iter().map(|(next, _)| *next).collect();
            let [a, b] = neighbours[..] else { continue };
            let mut moved = points.clone();
            moved[end] = moved[end].mirrored(points[a], points[b]);
            relax::relax(block, &[], &mut moved, 300);
            let wrong = sides.iter().filter(|side| !side.holds(&moved)).count();
            let score = relax::score(block, &moved);
            if best.as_ref().is_none_or(|(w, s, _)| (wrong, score) < (*w, *s)) {
                best = Some((wrong, score, moved));
            }
        }
        if let Some((wrong, _, moved)) = best
            && wrong < sides.iter().filter(|side| !side.holds(points)).count()
        {
            *points = moved;
        }
    }
}
