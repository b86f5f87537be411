//! Points on a circle with given distances between them: whole rings, and parts of rings between two points.

use crate::drawing::geometry::Position;
use std::f64::consts::{PI, TAU};

/// A polygon with its corners on a circle and sides of the given lengths, in order.
pub(super) fn polygon(lengths: &[f64]) -> Vec<Position> {
    let longest = lengths.iter().copied().fold(0.0, f64::max);
    let turn = |radius: f64| -> f64 { lengths.iter().map(|side| 2.0 * (side / (2.0 * radius)).min(1.0).asin()).sum() };
    let (mut low, mut high) = (longest / 2.0, lengths.iter().sum::<f64>());
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if turn(middle) > TAU { low = middle } else { high = middle }
    }
    let mut angle = 0.0;
    lengths
        .iter()
        .map(|side| {
            let point = Position::towards(angle) * high;
            angle += 2.0 * (side / (2.0 * high)).min(1.0).asin();
            point
        })
        .collect()
}

/// Points at unit distances along a circular arc between two points, on the side away from `away`.
pub(super) fn arc_points(from: Position, to: Position, count: usize, away: Position) -> Vec<Position> {
    let sides = count as f64 + 1.0;
    let chord = (to - from).length().clamp(1e-3, sides * 0.999);
    // With half of the arc's angle h: chord = 2 r sin h, side = 2 r sin(h / sides). The ratio falls as h grows.
    let (mut low, mut high) = (1e-4, PI - 1e-4);
    for _ in 0..60 {
        let half = f64::midpoint(low, high);
        if half.sin() / (half / sides).sin() > chord { low = half } else { high = half }
    }
    let half = low;
    let radius = 0.5 / (half / sides).sin();
    let along = (to - from).unit();
    let mut out = along.left();
    if out.dot(away - from.middle(to)) > 0.0 {
        out = -out;
    }
    let centre = from.middle(to) - out * (radius * half.cos());
    (1..=count)
        .map(|step| {
            let angle = -half + 2.0 * half * step as f64 / sides;
            centre + out * (radius * angle.cos()) + along * (radius * angle.sin())
        })
        .collect()
}
