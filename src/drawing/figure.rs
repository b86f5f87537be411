//! One drawing ready to be drawn: where its atoms are, what is written at them, what must not be crossed.

use super::canvas::width;
use super::geometry::{Position, distance_to_segment};
use super::hydrogens::{self, Hydrogen};
use super::{Pairs, Scene, atoms, dots};
use crate::arrows::Place;
use crate::structure::{AtomId, Structure};

/// The longest line that shows a bond that forms, in bond lengths, and how far it keeps from other atoms.
const LONGEST: f64 = 4.0;
const PAST: f64 = 0.35;

/// A rectangle that text fills.
#[derive(Debug, Clone, Copy)]
pub(super) struct Area {
    pub(super) middle: Position,
    pub(super) half: Position,
}

impl Area {
    pub(super) fn holds(&self, point: Position, margin: f64) -> bool {
        let off = point - self.middle;
        off.x.abs() < self.half.x + margin && off.y.abs() < self.half.y + margin
    }

    /// Whether another rectangle overlaps this one.
    pub(super) fn meets(&self, middle: Position, half: Position) -> bool {
        let off = middle - self.middle;
        off.x.abs() < self.half.x + half.x && off.y.abs() < self.half.y + half.y
    }

    /// How far a ray from a point runs until it has left the rectangle for good; 0 where it never meets it.
    pub(super) fn exit(&self, from: Position, direction: Position, margin: f64) -> f64 {
        let off = from - self.middle;
        let along = |off: f64, by: f64, half: f64| {
            if by.abs() < 1e-9 {
                return if off.abs() <= half { (f64::NEG_INFINITY, f64::INFINITY) } else { (1.0, 0.0) };
            }
            let (a, b) = ((-half - off) / by, (half - off) / by);
            (a.min(b), a.max(b))
        };
        let (enter_x, exit_x) = along(off.x, direction.x, self.half.x + margin);
        let (enter_y, exit_y) = along(off.y, direction.y, self.half.y + margin);
        let (enter, exit) = (enter_x.max(enter_y), exit_x.min(exit_y));
        if exit < enter || exit < 0.0 { 0.0 } else { exit }
    }
}

/// A piece of text at an atom.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub(super) at: Position,
    pub(super) size: f64,
    pub(super) text: String,
}

impl Run {
    /// What the text fills.
    pub(super) fn area(&self) -> Area {
        Area { middle: self.at, half: Position::new(width(&self.text) * self.size / 2.0, self.size * 0.37) }
    }
}

/// What is written at an atom.
#[derive(Debug, Clone, Default)]
pub(super) struct Writing {
    /// Element, hydrogens, isotope, charge. Empty for a bare corner.
    pub(super) runs: Vec<Run>,
    /// What the text fills, charge included.
    pub(super) areas: Vec<Area>,
    /// Where the charge stands, if there is one.
    pub(super) charge: Option<Position>,
    /// Whether the element is written.
    pub(super) element: bool,
}

/// A set of dots: one unpaired electron or a lone pair.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dots {
    pub(super) atom: usize,
    pub(super) middle: Position,
    pub(super) pair: bool,
    /// The arrow that starts here.
    pub(super) arrow: Option<usize>,
}

pub(super) struct Figure<'a> {
    pub(super) structure: &'a Structure,
    pub(super) points: &'a [Position],
    /// Atoms that arrows and marks refer to; out-of-range ids are dropped on the way in.
    pub(super) writing: Vec<Writing>,
    pub(super) dots: Vec<Dots>,
    /// Bonds that arrows form between atoms that are near: dotted, so that no head ends on empty paper.
    pub(super) forming: Vec<(AtomId, AtomId)>,
    /// Hydrogens that are drawn to carry a wedge.
    pub(super) hydrogens: Vec<Hydrogen>,
}

impl<'a> Figure<'a> {
    pub(super) fn new(scene: &Scene<'a>) -> Self {
        let (structure, points) = (scene.structure, scene.coordinates);
        let mut figure = Self {
            structure,
            points,
            writing: Vec::new(),
            dots: Vec::new(),
            forming: forming(scene),
            hydrogens: Vec::new(),
        };
        for atom in structure.atom_ids() {
            let shown = shown_pairs(scene, atom);
            let writing = atoms::write(&figure, atom, shown);
            figure.writing.push(writing);
        }
        hydrogens::draw(&mut figure);
        for atom in structure.atom_ids() {
            dots::place(&mut figure, scene, atom, shown_pairs(scene, atom));
        }
        figure
    }

    pub(super) fn at(&self, atom: AtomId) -> Position {
        self.points.get(atom.index()).copied().unwrap_or_default()
    }

    /// Directions of the bonds of an atom.
    pub(super) fn bond_directions(&self, atom: AtomId) -> Vec<f64> {
        let here = self.at(atom);
        self.structure.neighbours(atom).map(|(other, _)| (self.at(other) - here).angle()).collect()
    }

    /// All areas of text at an atom, and how far a ray from the atom must run to leave them.
    pub(super) fn leave(&self, atom: AtomId, direction: Position, margin: f64) -> f64 {
        let here = self.at(atom);
        let areas = self.writing.get(atom.index()).map(|writing| writing.areas.as_slice()).unwrap_or_default();
        let own = areas.iter().filter(|area| area.holds(here, margin) || area.middle.distance(here) < 0.6);
        own.map(|area| area.exit(here, direction, margin)).fold(0.0, f64::max)
    }
}

/// The bonds that a scene's arrows form, as far as a line between their atoms runs past no other atom.
fn forming(scene: &Scene) -> Vec<(AtomId, AtomId)> {
    let points = scene.coordinates;
    let mut all: Vec<(AtomId, AtomId)> = Vec::new();
    for arrow in scene.arrows {
        let Place::Bond(a, b) = arrow.head else { continue };
        let (Some(from), Some(to)) = (points.get(a.index()), points.get(b.index())) else { continue };
        let known = scene.structure.bond_between(a, b).is_some() || all.contains(&(a, b)) || all.contains(&(b, a));
        let past = |(at, point): (usize, &Position)| {
            at != a.index() && at != b.index() && distance_to_segment(*point, *from, *to) < PAST
        };
        if !known && from.distance(*to) < LONGEST && !points.iter().enumerate().any(past) {
            all.push((a, b));
        }
    }
    all
}

/// How many lone pairs of an atom are drawn: all, or those that arrows use and those that a bare carbon must show.
fn shown_pairs(scene: &Scene, atom: AtomId) -> usize {
    let (pairs, unpaired) = atoms::electrons(scene.structure, atom);
    let used = scene.arrows.iter().filter(|arrow| arrow.tail == Place::Atom(atom));
    let used = used.count().saturating_sub(unpaired);
    let own = scene.structure.atom(atom);
    // A carbon with a pair and no charge is drawn with it: its corner would else be read as one with more hydrogens.
    let needed = usize::from(own.charge == 0 && own.element == crate::structure::Element::CARBON) * pairs;
    match scene.pairs {
        Pairs::All => pairs,
        Pairs::Used => used.max(needed).min(pairs),
    }
}
