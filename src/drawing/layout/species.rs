//! One species turned as people draw it, and several side by side.

use super::bearing::Bearing;
use super::habits::{self, Turn};
use super::rings::Unit;
use super::skeleton::Skeleton;
use crate::drawing::geometry::{Position, centroid, full_turn};
use std::f64::consts::PI;

/// Room between two species, in bond lengths, text included.
const GAP: f64 = 1.7;
/// A row of species is broken where it would become wider than this.
const ROW: f64 = 22.0;
const STEP: f64 = PI / 6.0;

/// Turns a species: hexagons on their point, chains lying, wider than high, written order from left to right.
pub(super) fn orient(species: &Skeleton, units: &[Unit], points: &mut [Position]) {
    if points.len() < 2 {
        return;
    }
    let upright = units.iter().max_by_key(|unit| unit.nodes.len()).is_some_and(|unit| unit.upright);
    let offset = if upright { 0.0 } else { common_offset(species, points) };
    let habits = if upright { Vec::new() } else { habits::turns(species, units, points) };
    let bearing = Bearing::new(species, units, points);
    let turns: Vec<Turn> = if habits.is_empty() {
        match lone_odd_ring(species, units) {
            _ if upright => vec![Turn::plain(0.0)],
            Some(unit) => points_down(unit, points).into_iter().map(Turn::plain).collect(),
            None => {
                let common = (0..12).map(|step| -offset + f64::from(step) * STEP);
                common.chain(bearing.turns()).map(Turn::plain).collect()
            }
        }
    } else {
        habits.clone()
    };
    // Ring atoms that are written, where the species stands alone.
    let joined = species.edges.iter().any(|edge| edge.joining);
    let ring_atoms = units.iter().flat_map(|unit| unit.nodes.iter().copied());
    let heavy: Vec<usize> =
        ring_atoms.filter(|node| !joined && species.text[*node] && species.links[*node].len() == 2).collect();
    let mut best: Option<(f64, Vec<Position>)> = None;
    for turn in turns {
        let turned: Vec<Position> = points.iter().map(|point| turn.of(*point)).collect();
        let worth = worth(species, &heavy, &turned) + bearing.worth(&turned) + turn.bonus;
        if best.as_ref().is_none_or(|(so_far, _)| worth > so_far + 1e-6) {
            best = Some((worth, turned));
        }
    }
    if let Some((_, turned)) = best {
        points.copy_from_slice(&turned);
    }
    if !habits.is_empty() {
        return;
    }
    if species.edges.iter().any(|edge| edge.joining)
        && points.first().zip(points.last()).is_some_and(|(a, b)| a.x > b.x)
    {
        for point in points.iter_mut() {
            point.x = -point.x;
        }
    }
}

/// A ring with an odd number of sides that is nearly the whole species: it stands on a corner, as no side of it lies in the
/// common directions.
fn lone_odd_ring<'a>(species: &Skeleton, units: &'a [Unit]) -> Option<&'a Unit> {
    let [unit] = units else { return None };
    let single = unit.nodes.iter().all(|node| {
        species.links[*node].iter().filter(|(next, _)| unit.nodes.binary_search(next).is_ok()).count() == 2
    });
    (single && unit.nodes.len() % 2 == 1 && species.len() < unit.nodes.len() + 3).then_some(unit)
}

/// The turns that bring each corner of a ring straight down or straight up.
fn points_down(unit: &Unit, points: &[Position]) -> Vec<f64> {
    let middle = centroid(unit.nodes.iter().map(|node| points[*node]));
    let down = unit.nodes.iter().map(|node| -PI / 2.0 - (points[*node] - middle).angle());
    down.flat_map(|turn| [turn, turn + PI]).collect()
}

/// The direction modulo 30 degrees that most bonds share.
fn common_offset(species: &Skeleton, points: &[Position]) -> f64 {
    let offsets: Vec<f64> = species.edges.iter().map(|edge| direction(points, edge.ends).rem_euclid(STEP)).collect();
    let near = |a: f64, b: f64| {
        let apart = (a - b).abs();
        apart.min(STEP - apart) < 0.03
    };
    let mut best = (0, 0.0);
    for offset in offsets.iter().take(60) {
        let count = offsets.iter().filter(|other| near(*offset, **other)).count();
        if count > best.0 {
            best = (count, *offset);
        }
    }
    best.1
}

fn direction(points: &[Position], [a, b]: [usize; 2]) -> f64 {
    (points[b] - points[a]).angle()
}

fn worth(species: &Skeleton, heavy: &[usize], turned: &[Position]) -> f64 {
    let aligned = species.edges.iter().filter(|edge| {
        let angle = full_turn(direction(turned, edge.ends)).rem_euclid(PI / 3.0);
        (angle - STEP).abs() < 0.05
    });
    let share = aligned.count() as f64 / species.edges.len().max(1) as f64;
    let (low, high) = bounds(turned);
    let (width, height) = (high.x - low.x, high.y - low.y);
    let reading = match (turned.first(), turned.last()) {
        (Some(first), Some(last)) => (last.x - first.x).clamp(-1.0, 1.0),
        _ => 0.0,
    };
    // Where a leaf ends a branch upwards, as a carbonyl oxygen does, the drawing looks as in books.
    let leaves = (0..turned.len()).filter(|node| species.links[*node].len() == 1);
    let (middle, centre) = (f64::midpoint(low.y, high.y), f64::midpoint(low.x, high.x));
    let up: f64 = leaves.map(|node| (turned[node].y - middle).clamp(-1.0, 1.0)).sum();
    // A ring atom that is written stands best at the bottom, where its hydrogens have room.
    let text = heavy.iter().copied();
    let low: f64 =
        text.map(|node| (middle - turned[node].y - 0.3 * (turned[node].x - centre).abs()).clamp(-1.0, 1.0)).sum();
    0.25 * low.clamp(-1.0, 1.0)
        + 1.2 * share
        + 1.5 * (width - height) / (width + height + 1.0)
        + 0.1 * reading
        + 0.02 * up.clamp(-2.0, 2.0)
}

/// Lower left and upper right corner; the origin where there is no point.
pub(crate) fn bounds(points: &[Position]) -> (Position, Position) {
    let Some(first) = points.first().copied() else { return Default::default() };
    points.iter().fold((first, first), |(low, high), point| {
        (Position::new(low.x.min(point.x), low.y.min(point.y)), Position::new(high.x.max(point.x), high.y.max(point.y)))
    })
}

/// Moves species so that they stand side by side in their order, rows under rows.
pub(super) fn side_by_side(parts: &mut [Vec<Position>]) {
    let mut from = 0;
    let mut top = 0.0_f64;
    while from < parts.len() {
        let mut width = 0.0;
        let mut height = 0.0_f64;
        let mut to = from;
        while to < parts.len() {
            let (low, high) = bounds(&parts[to]);
            if to > from && width + (high.x - low.x) > ROW {
                break;
            }
            width += high.x - low.x + GAP;
            height = height.max(high.y - low.y);
            to += 1;
        }
        let mut cursor = 0.0;
        for part in &mut parts[from..to] {
            let (low, high) = bounds(part);
            let shift = Position::new(cursor - low.x, top - height / 2.0 - f64::midpoint(low.y, high.y));
            for point in part.iter_mut() {
                *point = *point + shift;
            }
            cursor += high.x - low.x + GAP;
        }
        top -= height + GAP;
        from = to;
    }
}
