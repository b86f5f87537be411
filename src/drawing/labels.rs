//! Small labels at atoms, placed after everything else, where they strike nothing.

use super::Scene;
use super::canvas::{TINY, width};
use super::curves::Curve;
use super::figure::{Area, Figure, Run};
use super::flaws::segment_meets;
use super::geometry::{Position, distance_to_segment};
use crate::structure::AtomId;
use std::f64::consts::PI;

/// Longest label that is written out; a longer one is cut, so that no bank can blow up a picture.
const LABEL: usize = 8;
/// Directions that are tried, in fifteen-degree steps, and distances beyond the nearest, in bond lengths.
const DIRECTIONS: i32 = 24;
const FARTHER: [f64; 3] = [0.0, 0.12, 0.26];
/// Room that is kept round a label.
const ROOM: f64 = 0.035;
/// Nothing farther from an atom than this can touch its label, however long.
const NEAR: f64 = 2.6;
/// Points at which a curve is tested.
const SAMPLES: usize = 20;

/// A label that is to be placed.
struct Wanted {
    text: String,
    half: Position,
    /// What lies near its atom.
    around: Around,
    spots: Vec<(Position, f64)>,
}

/// What a label must not touch.
#[derive(Default)]
struct Around {
    lines: Vec<(Position, Position)>,
    texts: Vec<Area>,
    dots: Vec<Position>,
    atoms: Vec<Position>,
}

/// The labels of a scene.
pub(super) fn place(figure: &Figure, scene: &Scene, curves: &[Curve]) -> Vec<Run> {
    let wanted: Vec<Wanted> = scene
        .labels
        .iter()
        .filter(|atom| atom.index() < figure.structure.atom_count())
        .filter_map(|atom| Wanted::new(figure, *atom, curves))
        .collect();
    let mut placed: Vec<Option<Position>> = vec![None; wanted.len()];
    // Those that come first know nothing of the others: once more with all of them placed.
    for round in 0..2 {
        for at in 0..wanted.len() {
            if round > 0 && wanted.len() > 200 {
                break;
            }
            let best = wanted[at].best(&wanted, &placed, at);
            placed[at] = Some(best);
        }
    }
    let run = |(own, at): (Wanted, Option<Position>)| Run { at: at.unwrap_or_default(), size: TINY, text: own.text };
    wanted.into_iter().zip(placed).map(run).collect()
}

impl Wanted {
    fn new(figure: &Figure, atom: AtomId, curves: &[Curve]) -> Option<Self> {
        let full = figure.structure.label(atom)?.to_string();
        let mut text: String = full.chars().take(LABEL).collect();
        if text.len() < full.len() {
            text.push('\u{2026}');
        }
        let half = Position::new(width(&text) * TINY / 2.0, TINY * 0.37);
        let spots = spots(figure, atom, half);
        Some(Self { text, half, around: Around::new(figure, atom, curves), spots })
    }

    fn best(&self, all: &[Self], placed: &[Option<Position>], own: usize) -> Position {
        let others: Vec<Area> = (0..all.len())
            .filter(|at| *at != own)
            .filter_map(|at| placed[at].map(|middle| Area { middle, half: all[at].half }))
            .filter(|area| area.middle.distance(self.spots[0].0) < NEAR)
            .collect();
        let mut best = (f64::INFINITY, Position::default());
        for (spot, price) in &self.spots {
            // What is dearer already needs no look round.
            if *price >= best.0 {
                continue;
            }
            let met = others.iter().filter(|area| area.meets(*spot, self.half)).count();
            let cost = price + 3.0 * met as f64 + self.around.cost(*spot, self.half);
            if cost < best.0 - 1e-9 {
                best = (cost, *spot);
            }
        }
        best.1
    }
}

/// Where a label may stand, each with its price: near the atom, between its bonds, rather below than above.
fn spots(figure: &Figure, atom: AtomId, half: Position) -> Vec<(Position, f64)> {
    let here = figure.at(atom);
    let written = figure.writing.get(atom.index()).is_some_and(|writing| writing.element);
    let bonds = figure.bond_directions(atom);
    let mut spots = Vec::with_capacity(DIRECTIONS as usize * FARTHER.len());
    for farther in FARTHER {
        for step in 0..DIRECTIONS {
            let angle = -PI / 2.0 + f64::from(step) * 2.0 * PI / f64::from(DIRECTIONS);
            let direction = Position::towards(angle);
            let near = if written { figure.leave(atom, direction, 0.02) } else { 0.12 };
            // The nearest box of this size that lies wholly beyond the atom's text.
            let reach = near + 0.05 + half.x * direction.x.abs() + half.y * direction.y.abs() + farther;
            let beside: f64 = bonds.iter().map(|bond| ((angle - bond).cos() - 0.6).max(0.0)).sum();
            spots.push((here + direction * reach, 2.5 * farther + beside + 0.1 * (1.0 + direction.y)));
        }
    }
    spots
}

impl Around {
    fn new(figure: &Figure, atom: AtomId, curves: &[Curve]) -> Self {
        let here = figure.at(atom);
        let mut around = Self::default();
        for (_, a, b, bond) in figure.structure.bonds() {
            let (from, to) = (figure.at(a), figure.at(b));
            if distance_to_segment(here, from, to) < NEAR {
                let side = (to - from).unit().left() * if bond.order > 1 { 0.15 } else { 0.0 };
                around.lines.push((from, to));
                if bond.order > 1 {
                    around.lines.extend([(from + side, to + side), (from - side, to - side)]);
                }
            }
        }
        for (a, b) in &figure.forming {
            around.lines.push((figure.at(*a), figure.at(*b)));
        }
        for curve in curves {
            let points: Vec<Position> = (0..=SAMPLES).map(|at| curve.at(at as f64 / SAMPLES as f64)).collect();
            let near = |pair: &&[Position]| pair[0].distance(here) < NEAR;
            around.lines.extend(points.windows(2).filter(near).map(|pair| (pair[0], pair[1])));
            // A head is as wide as a small letter.
            let tip = curve.points[3];
            let back = (curve.at(0.8) - tip).unit();
            let head = [0.03, 0.12, 0.21].map(|off| Area { middle: tip + back * off, half: Position::new(0.09, 0.09) });
            around.texts.extend(head.into_iter().filter(|_| tip.distance(here) < NEAR));
        }
        for (at, point) in figure.points.iter().enumerate() {
            if point.distance(here) < NEAR {
                around.texts.extend(figure.writing.get(at).into_iter().flat_map(|own| own.areas.iter().copied()));
                if at != atom.index() {
                    around.atoms.push(*point);
                }
            }
        }
        around.dots.extend(figure.dots.iter().map(|dots| dots.middle).filter(|middle| middle.distance(here) < NEAR));
        around.atoms.push(here);
        around
    }

    fn cost(&self, spot: Position, half: Position) -> f64 {
        let room = Position::new(half.x + ROOM, half.y + ROOM);
        let own = Area { middle: spot, half: room };
        let lines = self.lines.iter().filter(|(from, to)| segment_meets(&own, *from, *to)).count();
        let texts = self.texts.iter().filter(|area| area.meets(spot, room)).count();
        let dots = self.dots.iter().filter(|dots| own.holds(**dots, 0.1)).count();
        // The last is the label's own atom: one that is nearer to another is read as that one's.
        let (others, here) = self.atoms.split_at(self.atoms.len() - 1);
        let away = here.first().map_or(0.0, |here| here.distance(spot));
        let taken = others.iter().filter(|other| other.distance(spot) < away + 0.05).count();
        (2.5 * lines.min(4) as f64) + 4.0 * texts as f64 + 3.0 * dots as f64 + 2.0 * taken as f64
    }
}
