//! Points, directions and distances in the plane. A drawing's unit is one bond length; y grows upwards.

use std::ops::{Add, Mul, Neg, Sub};

/// A point or a displacement, in bond lengths.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Position {
    /// Rightwards.
    pub x: f64,
    /// Upwards.
    pub y: f64,
}

impl Position {
    /// The point with these coordinates.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The unit vector in a direction given in radians, anticlockwise from rightwards.
    #[must_use]
    pub fn towards(angle: f64) -> Self {
        Self::new(angle.cos(), angle.sin())
    }

    /// Length of the displacement.
    #[must_use]
    pub fn length(self) -> f64 {
        // Points lie near each other: no care for what overflows is needed.
        self.dot(self).sqrt()
    }

    /// Distance between two points.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (other - self).length()
    }

    /// Direction in radians, anticlockwise from rightwards.
    #[must_use]
    pub fn angle(self) -> f64 {
        self.y.atan2(self.x)
    }

    /// Scalar product.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// Signed area of the parallelogram; positive where `other` lies to the left of `self`.
    #[must_use]
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// Turned anticlockwise by an angle in radians.
    #[must_use]
    pub fn turned(self, angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self::new(self.x * cos - self.y * sin, self.x * sin + self.y * cos)
    }

    /// Turned anticlockwise by a right angle.
    #[must_use]
    pub fn left(self) -> Self {
        Self::new(-self.y, self.x)
    }

    /// The unit vector of the same direction; rightwards where there is no direction.
    #[must_use]
    pub fn unit(self) -> Self {
        let length = self.length();
        if length < 1e-9 { Self::new(1.0, 0.0) } else { self * (1.0 / length) }
    }

    /// The point between two points.
    #[must_use]
    pub fn middle(self, other: Self) -> Self {
        (self + other) * 0.5
    }

    /// The mirror image in the line through `a` and `b`.
    #[must_use]
    pub fn mirrored(self, a: Self, b: Self) -> Self {
        let axis = (b - a).unit();
        let from = self - a;
        a + axis * (2.0 * from.dot(axis)) - from
    }
}

impl Add for Position {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Position {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl Neg for Position {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y)
    }
}

impl Mul<f64> for Position {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self::new(self.x * factor, self.y * factor)
    }
}

/// The mean of some points; the origin where there are none.
#[must_use]
pub fn centroid(points: impl IntoIterator<Item = Position>) -> Position {
    let (mut sum, mut count) = (Position::default(), 0.0);
    for point in points {
        sum = sum + point;
        count += 1.0;
    }
    if count > 0.0 { sum * (1.0 / count) } else { sum }
}

/// Distance of a point from a segment.
#[must_use]
pub fn distance_to_segment(point: Position, a: Position, b: Position) -> f64 {
    let along = b - a;
    let square = along.dot(along);
    let share = if square < 1e-12 { 0.0 } else { ((point - a).dot(along) / square).clamp(0.0, 1.0) };
    point.distance(a + along * share)
}

/// Whether two segments cross in their inside.
#[must_use]
pub fn segments_cross(a: Position, b: Position, c: Position, d: Position) -> bool {
    let side = |from: Position, to: Position, point: Position| (to - from).cross(point - from);
    side(a, b, c) * side(a, b, d) < -1e-9 && side(c, d, a) * side(c, d, b) < -1e-9
}

/// The angle brought into [0, 2 pi).
#[must_use]
pub fn full_turn(angle: f64) -> f64 {
    angle.rem_euclid(std::f64::consts::TAU)
}

/// The widest gap between some directions: where it begins and how wide it is, in radians. Without directions, the whole turn.
#[must_use]
pub fn widest_gap(directions: &[f64]) -> (f64, f64) {
    gaps(directions).into_iter().fold((0.0, -1.0), |best, gap| if gap.1 > best.1 + 1e-6 { gap } else { best })
}

/// All gaps between some directions, anticlockwise from the smallest direction.
#[must_use]
pub fn gaps(directions: &[f64]) -> Vec<(f64, f64)> {
    let mut sorted: Vec<f64> = directions.iter().map(|angle| full_turn(*angle)).collect();
    sorted.sort_by(f64::total_cmp);
    let Some(first) = sorted.first().copied() else {
        return vec![(0.0, std::f64::consts::TAU)];
    };
    let next = sorted.iter().skip(1).copied().chain([first + std::f64::consts::TAU]);
    sorted.iter().zip(next).map(|(from, to)| (*from, to - from)).collect()
}
