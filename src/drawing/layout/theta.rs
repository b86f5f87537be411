//! Two bridgeheads and three bridges: the shortest bridge in the middle, the other two as arcs round it.
//!
//! So are bicycles drawn that are no known cage: with a single atom as the shortest bridge it stands off the line of the
//! bridgeheads, longer ones run to and fro along it (cryptands).

use super::arcs::arc_points;
use super::skeleton::Skeleton;
use crate::drawing::geometry::Position;

/// The distance of bridgeheads with one atom between them.
const APART: f64 = 1.8;
/// How far each bond of a longer bridge reaches along the line.
const REACH: f64 = 0.84;
/// How far it may reach at most, so that the other two open.
const OPEN: f64 = 0.74;

/// The points of a block of two bridgeheads, where that says how to draw it.
pub(super) fn theta(block: &Skeleton) -> Option<Vec<Position>> {
    let heads: Vec<usize> = (0..block.len()).filter(|node| block.links[*node].len() != 2).collect();
    let [from, to] = heads[..] else { return None };
    let even = block.edges.iter().all(|edge| (edge.length - 1.0).abs() < 1e-6);
    if block.links[from].len() != 3 || block.links[to].len() != 3 || !even {
        return None;
    }
    let mut bridges: Vec<Vec<usize>> =
        block.links[from].iter().map(|(next, _)| bridge(block, from, *next, to)).collect::<Option<_>>()?;
    bridges.sort_by_key(Vec::len);
    let [short, middle, long] = &bridges[..] else { return None };
    // Two atoms in the middle are a ring of six or a bridge that the other ways of drawing do better; four-membered rings are too narrow.
    if !matches!(short.len(), 1 | 3..) || middle.len() < 2 || long.len() < 3 {
        return None;
    }
    let reach = |bridge: &[usize], share: f64| share * (bridge.len() as f64 + 1.0);
    let apart = if short.len() == 1 { APART } else { reach(short, REACH).min(reach(middle, OPEN)) };
    let (left, right) = (Position::new(-apart / 2.0, 0.0), Position::new(apart / 2.0, 0.0));
    let mut points = vec![Position::default(); block.len()];
    (points[from], points[to]) = (left, right);
    // The single atom leans to where there is more room.
    for (bridge, away) in [(long, -1.0), (middle, 1.0)] {
        let arc = arc_points(left, right, bridge.len(), Position::new(0.0, away));
        bridge.iter().zip(arc).for_each(|(node, point)| points[*node] = point);
    }
    let step = apart / (short.len() as f64 + 1.0);
    let rise = (1.0 - step * step).max(0.0).sqrt();
    for (at, node) in short.iter().enumerate() {
        let off = if short.len() == 1 {
            rise
        } else if at % 2 == 0 {
            rise * 0.5
        } else {
            -rise * 0.5
        };
        points[*node] = Position::new(left.x + step * (at as f64 + 1.0), off);
    }
    Some(points)
}

/// The nodes from one bridgehead to the other, both left out.
fn bridge(block: &Skeleton, from: usize, first: usize, to: usize) -> Option<Vec<usize>> {
    let (mut before, mut at, mut nodes) = (from, first, Vec::new());
    while at != to {
        if at == from || nodes.len() > block.len() {
            return None;
        }
        nodes.push(at);
        let (next, _) = block.links[at].iter().find(|(next, _)| *next != before)?;
        (before, at) = (at, *next);
    }
    Some(nodes)
}
