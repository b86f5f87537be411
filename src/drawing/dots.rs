//! Dots for lone pairs and unpaired electrons, in the free directions round an atom.

use super::figure::{Area, Dots, Figure};
use super::geometry::{Position, distance_to_segment};
use super::{Scene, atoms};
use crate::arrows::{Moves, Place};
use crate::structure::AtomId;
use std::f64::consts::PI;

/// Directions that are tried, in fifteen-degree steps.
const DIRECTIONS: i32 = 24;

/// Places the dots of one atom, those that arrows use towards where the arrows lead.
pub(super) fn place(figure: &mut Figure, scene: &Scene, atom: AtomId, pairs: usize) {
    let (_, unpaired) = atoms::electrons(scene.structure, atom);
    let tails: Vec<(usize, Moves, Position)> = scene
        .arrows
        .iter()
        .enumerate()
        .filter(|(_, arrow)| arrow.tail == Place::Atom(atom))
        .map(|(at, arrow)| (at, arrow.moves, middle(figure, arrow.head)))
        .collect();
    let (mut singles, mut pairs) = (unpaired, pairs);
    for (arrow, moves, target) in tails {
        let single = moves == Moves::Single && singles > 0;
        let left = if single { &mut singles } else { &mut pairs };
        if *left == 0 {
            continue;
        }
        *left -= 1;
        put(figure, atom, !single, Some(target), Some(arrow));
    }
    for _ in 0..pairs {
        put(figure, atom, true, None, None);
    }
    for _ in 0..singles {
        put(figure, atom, false, None, None);
    }
}

/// The middle of a place.
pub(super) fn middle(figure: &Figure, place: Place<AtomId>) -> Position {
    match place {
        Place::Atom(atom) => figure.at(atom),
        Place::Bond(a, b) => figure.at(a).middle(figure.at(b)),
    }
}

fn put(figure: &mut Figure, atom: AtomId, pair: bool, target: Option<Position>, arrow: Option<usize>) {
    let here = figure.at(atom);
    let written = figure.writing.get(atom.index()).is_some_and(|writing| writing.element);
    let best = best_direction(figure, atom, |angle| {
        let direction = Position::towards(angle);
        let spot = here + direction * reach(figure, atom, direction);
        let towards = target.map_or(0.0, |target| 0.35 * (1.0 - (target - here).unit().dot(direction)));
        // Round a written symbol dots sit at its four sides.
        let corner = if written { 0.25 * (2.0 * angle).sin().abs() } else { 0.0 };
        (spot, if pair { 0.17 } else { 0.09 }, towards + corner)
    });
    let direction = Position::towards(best);
    let middle = here + direction * reach(figure, atom, direction);
    figure.dots.push(Dots { atom: atom.index(), middle, pair, arrow });
}

/// How far from its atom a set of dots stands.
fn reach(figure: &Figure, atom: AtomId, direction: Position) -> f64 {
    let written = figure.writing.get(atom.index()).is_some_and(|writing| writing.element);
    if written { own_symbol(figure, atom).exit(figure.at(atom), direction, 0.07).clamp(0.24, 0.34) } else { 0.2 }
}

fn own_symbol(figure: &Figure, atom: AtomId) -> Area {
    let first = figure.writing.get(atom.index()).and_then(|writing| writing.areas.first());
    first.copied().unwrap_or(Area { middle: figure.at(atom), half: Position::default() })
}

/// The direction in which a spot of some radius disturbs least.
fn best_direction(figure: &Figure, atom: AtomId, spot: impl Fn(f64) -> (Position, f64, f64)) -> f64 {
    let bonds = figure.bond_directions(atom);
    let cost = |angle: f64| {
        let (at, radius, extra) = spot(angle);
        let near: f64 = bonds.iter().map(|bond| ((angle - bond).cos() - 0.5).max(0.0) * 4.0).sum();
        extra + near + crowded(figure, atom, at, radius)
    };
    let choices = (0..DIRECTIONS).map(|step| PI / 2.0 - f64::from(step) * 2.0 * PI / f64::from(DIRECTIONS));
    choices
        .map(|angle| (angle, cost(angle)))
        .fold((0.0, f64::INFINITY), |best, next| if next.1 < best.1 - 1e-9 { next } else { best })
        .0
}

/// What a spot covers: text, dots, foreign atoms and bonds.
fn crowded(figure: &Figure, atom: AtomId, at: Position, radius: f64) -> f64 {
    let mut cost = 0.0;
    for (other, writing) in figure.writing.iter().enumerate() {
        let Some(point) = figure.points.get(other) else { continue };
        if point.distance(at) > 1.6 {
            continue;
        }
        cost += writing.areas.iter().filter(|area| area.holds(at, radius * 0.8)).count() as f64 * 3.0;
        if other != atom.index() && point.distance(at) < 0.3 + radius {
            cost += 1.0;
        }
    }
    cost += figure.dots.iter().filter(|dots| dots.middle.distance(at) < 0.2 + radius).count() as f64 * 3.0;
    let foreign = figure.structure.bonds().filter(|(_, a, b, _)| {
        *a != atom && *b != atom && distance_to_segment(at, figure.at(*a), figure.at(*b)) < radius + 0.05
    });
    cost + foreign.count() as f64
}
