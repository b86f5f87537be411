//! How a drawing stands because of its shape: mirror lines upright or lying, two hexagons in a row, groups of one line lying.
//!
//! From common practice, no source: biphenyls, spirans and diazonium ions lie, pyrenes and triaryl centres stand on their mirror
//! line, a small cis alkene lies on its double bond.

use super::rings::Unit;
use super::skeleton::Skeleton;
use crate::drawing::geometry::{Position, centroid};
use std::f64::consts::PI;

/// What each mirror line is worth that stands upright or lies.
const MIRROR: f64 = 0.45;
/// What an upright one is worth in a small cis alkene, whose bonds then lie in none of the common directions.
const BOW: f64 = 1.6;
/// Chains longer than this are no small alkene.
const SMALL: usize = 8;
/// What it is worth that hexagons joined by a bond lie in a row, by the share of bonds that they are.
const IN_A_ROW: f64 = 0.9;
/// What it is worth that a group of one line lies.
const LINE: f64 = 0.6;
/// What it is worth that the bond that two fused rings share stands, so that the rings lie in a row.
const FUSED: f64 = 0.4;
/// Drawings with more atoms are not asked for mirror lines.
const MOST: usize = 80;
/// Bicycles with more atoms lie along their bridgeheads.
const LARGE: usize = 12;
/// Points this near are one.
const NEAR: f64 = 0.2;

/// What the shape of a species asks for.
pub(super) struct Bearing {
    /// What a mirror line is worth that stands, and one that lies; none where they are not asked for.
    mirror: Option<[f64; 2]>,
    /// Bonds that should lie, and those that should stand, with what that is worth.
    lying: Vec<([usize; 2], f64)>,
    standing: Vec<([usize; 2], f64)>,
    /// The direction in which the drawing reaches farthest, where it is a mirror line or stands across one, or that of the
    /// bridgeheads of a large bicycle.
    along: Option<f64>,
}

impl Bearing {
    pub(super) fn new(species: &Skeleton, units: &[Unit], points: &[Position]) -> Self {
        let joined = species.edges.iter().any(|edge| edge.joining);
        if joined || points.len() > MOST {
            return Self { mirror: None, lying: Vec::new(), standing: Vec::new(), along: None };
        }
        let bow = matches!(&species.marks[..], [only] if only.same_side) && points.len() <= SMALL;
        let mirror = if units.is_empty() { bow.then_some([BOW, 0.0]) } else { Some([MIRROR; 2]) };
        let mut lying = rows(species, units, points);
        lying.extend(lines(species, points));
        let mut standing = fusions(species, units);
        standing.extend(spirans(species, units));
        let heads = units.iter().find_map(|unit| bridgeheads(species, unit));
        lying.extend(heads.map(|heads| (heads, LINE)));
        let along = mirror
            .and(long_axis(points))
            .filter(|angle| mirrors(&turned(points, -angle)).contains(&true))
            .or(heads.map(|[a, b]| (points[b] - points[a]).angle()));
        Self { mirror, lying, standing, along }
    }

    /// Turns that bring the long axis of the drawing to lie and to stand.
    pub(super) fn turns(&self) -> Vec<f64> {
        self.along
            .map(|angle| (0..4).map(|quarter| f64::from(quarter) * PI / 2.0 - angle).collect())
            .unwrap_or_default()
    }

    /// What a turned drawing is worth for how it stands.
    pub(super) fn worth(&self, points: &[Position]) -> f64 {
        let lies = |[a, b]: [usize; 2]| (points[b] - points[a]).unit().y.abs() < 0.05;
        let stands = |[a, b]: [usize; 2]| (points[b] - points[a]).unit().x.abs() < 0.05;
        let lying = self.lying.iter().filter(|(ends, _)| lies(*ends));
        let placed: f64 =
            lying.chain(self.standing.iter().filter(|(ends, _)| stands(*ends))).map(|(_, worth)| worth).sum();
        let Some(worth) = self.mirror else { return placed };
        let mirrors = worth.into_iter().zip(mirrors(points)).filter(|(_, holds)| *holds);
        placed + mirrors.map(|(worth, _)| worth).sum::<f64>()
    }
}

fn turned(points: &[Position], by: f64) -> Vec<Position> {
    points.iter().map(|point| point.turned(by)).collect()
}

/// Whether a drawing is its own mirror image in the upright line through its middle, and in the lying one.
fn mirrors(points: &[Position]) -> [bool; 2] {
    let middle = centroid(points.iter().copied());
    let images: [fn(Position) -> Position; 2] =
        [|off| Position::new(-off.x, off.y), |off| Position::new(off.x, -off.y)];
    let holds = |image: &fn(Position) -> Position| {
        let has = |wanted: Position| points.iter().any(|point| point.distance(wanted) < NEAR);
        points.iter().all(|point| has(middle + image(*point - middle)))
    };
    images.each_ref().map(holds)
}

/// The direction in which points reach farthest from their middle; none where all are alike.
fn long_axis(points: &[Position]) -> Option<f64> {
    let middle = centroid(points.iter().copied());
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for off in points.iter().map(|point| *point - middle) {
        (xx, yy, xy) = (xx + off.x * off.x, yy + off.y * off.y, xy + off.x * off.y);
    }
    let uneven = (xx - yy).hypot(2.0 * xy) > 1e-3 * (xx + yy);
    uneven.then(|| 0.5 * (2.0 * xy).atan2(xx - yy))
}

/// Bonds between two hexagons that lie in one line with both.
fn rows(species: &Skeleton, units: &[Unit], points: &[Position]) -> Vec<([usize; 2], f64)> {
    let hexagons: Vec<(&Unit, Position)> = units
        .iter()
        .filter(|unit| unit.nodes.len() == 6)
        .map(|unit| (unit, centroid(unit.nodes.iter().map(|node| points[*node]))))
        .collect();
    let of = |node: usize| hexagons.iter().find(|(unit, _)| unit.nodes.binary_search(&node).is_ok());
    let share = 13.0 / species.edges.len().max(13) as f64;
    let mut rows = Vec::new();
    for edge in &species.edges {
        let [a, b] = edge.ends;
        let (Some((one, from)), Some((other, to))) = (of(a), of(b)) else { continue };
        let (bond, middles) = ((points[b] - points[a]).unit(), (*to - *from).unit());
        if one.nodes != other.nodes && bond.dot(middles) > 0.99 {
            rows.push((edge.ends, IN_A_ROW * share));
        }
    }
    rows
}

/// The bonds of atoms whose neighbours lie in one line with them, where such a group is a good part of the whole.
fn lines(species: &Skeleton, points: &[Position]) -> Vec<([usize; 2], f64)> {
    let middle = (0..points.len()).find(|node| species.linear[*node] && species.links[*node].len() == 2);
    let Some(middle) = middle else { return Vec::new() };
    let worth = LINE * (8.0 / species.edges.len().max(1) as f64).min(1.0);
    species.links[middle].first().map(|(next, _)| ([middle, *next], worth)).into_iter().collect()
}

/// The bonds that fused rings share, each worth its part, where fused rings are a good part of the whole.
fn fusions(species: &Skeleton, units: &[Unit]) -> Vec<([usize; 2], f64)> {
    let mut found = Vec::new();
    for unit in units {
        let inside = |node: usize| unit.nodes.binary_search(&node).is_ok();
        let degree = |node: usize| species.links[node].iter().filter(|(next, _)| inside(*next)).count();
        let shared = species.edges.iter().filter(|edge| edge.ends.iter().all(|end| inside(*end) && degree(*end) == 3));
        found.extend(shared.map(|edge| edge.ends));
    }
    let share = (11.0 * found.len() as f64 / species.edges.len().max(1) as f64).min(1.0);
    let worth = FUSED * share / found.len().max(1) as f64;
    found.into_iter().map(|ends| (ends, worth)).collect()
}

/// Pairs of ring neighbours of each atom in which two rings of one cycle meet: both stand where the rings lie in a row.
fn spirans(species: &Skeleton, units: &[Unit]) -> Vec<([usize; 2], f64)> {
    let share = 13.0 / species.edges.len().max(13) as f64;
    let mut found = Vec::new();
    for node in 0..species.len() {
        let own = units.iter().filter(|unit| unit.nodes.len() <= 8 && unit.nodes.binary_search(&node).is_ok());
        let pairs: Vec<[usize; 2]> = own.filter_map(|unit| pair_in(species, unit, node)).collect();
        if let [one, other] = pairs[..] {
            found.extend([one, other].map(|ends| (ends, IN_A_ROW * share / 2.0)));
        }
    }
    found
}

/// The two atoms of a large bicycle in which its three bridges meet.
fn bridgeheads(species: &Skeleton, unit: &Unit) -> Option<[usize; 2]> {
    let inside = |node: usize| unit.nodes.binary_search(&node).is_ok();
    let degree = |node: usize| species.links[node].iter().filter(|(next, _)| inside(*next)).count();
    let heads: Vec<usize> = unit.nodes.iter().copied().filter(|node| degree(*node) > 2).collect();
    <[usize; 2]>::try_from(heads)
        .ok()
        .filter(|[a, b]| unit.nodes.len() > LARGE && species.edge_between(*a, *b).is_none())
}

/// The two neighbours of a node in a block.
fn pair_in(species: &Skeleton, unit: &Unit, node: usize) -> Option<[usize; 2]> {
    let inside =
        species.links[node].iter().map(|(next, _)| *next).filter(|next| unit.nodes.binary_search(next).is_ok());
    let inside: Vec<usize> = inside.collect();
    <[usize; 2]>::try_from(inside).ok()
}
