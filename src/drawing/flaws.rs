//! What is wrong with a whole picture, counted: bonds, numbers, arrows and heads against each other.
//!
//! The measure by which placement is chosen and compared, beside [`super::layout::measure`] for bare layouts. A bond or an
//! arrow strikes a number where its line runs through the box of the text; heads are near where their tips are within six
//! pixels of a picture that stands alone.

use super::canvas::{SCALE, TINY, width};
use super::figure::{Area, Figure, Run};
use super::geometry::{Position, distance_to_segment, segments_cross};
use super::{Scene, page};
use crate::structure::AtomId;

/// A bond longer than so many median bonds is a flaw.
const LONG: f64 = 1.5;
/// Atoms closer than this, in median bonds.
const APART: f64 = 0.4;
/// An atom closer than this to a foreign bond.
const OFF_BOND: f64 = 0.15;
/// Heads whose tips are closer than this, in pixels.
const HEADS: f64 = 6.0;
/// Points at which a curve is tested.
const SAMPLES: usize = 40;

/// Flaws of one picture, by kind.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Flaws {
    /// Bonds of more than one and a half median lengths.
    pub long_bonds: usize,
    /// The longest bond in median lengths.
    pub longest: f64,
    /// Atom labels that a bond runs through.
    pub struck_labels: usize,
    /// Atom labels that an arrow runs through.
    pub pierced_labels: usize,
    /// Arrow numbers that a bond or an arrow runs through.
    pub struck_numbers: usize,
    /// Arrows that run through the text of an atom.
    pub through_text: usize,
    /// Pairs of arrows that cross.
    pub arrow_crossings: usize,
    /// Pairs of bonds that cross.
    pub bond_crossings: usize,
    /// Pairs of heads that nearly touch; two half heads that meet by right are none.
    pub near_heads: usize,
    /// Pairs of atoms that are too close.
    pub close_atoms: usize,
    /// Atoms on a foreign bond.
    pub on_bond: usize,
}

/// Counts the flaws of a scene; none where it is too large to be drawn.
#[must_use]
pub fn flaws(scene: &Scene) -> Flaws {
    if scene.coordinates.len() < scene.structure.atom_count() {
        return Flaws::default();
    }
    page::with_figure(scene, |figure, curves, [labels, numbers]| {
        let lines = bonds(figure);
        let mut flaws = of_layout(figure, &lines);
        let paths: Vec<Vec<Position>> =
            curves.iter().map(|curve| (0..=SAMPLES).map(|at| curve.at(at as f64 / SAMPLES as f64)).collect()).collect();
        let struck = |run: &Run| lines.iter().any(|[a, b]| strikes(run, figure.at(*a), figure.at(*b)));
        let pierced = |run: &Run, but: usize| {
            let others = paths.iter().enumerate().filter(|(at, _)| *at != but);
            others.into_iter().any(|(_, path)| path.windows(2).any(|pair| strikes(run, pair[0], pair[1])))
        };
        flaws.struck_labels = labels.iter().filter(|run| struck(run)).count();
        flaws.pierced_labels = labels.iter().filter(|run| pierced(run, usize::MAX)).count();
        flaws.struck_numbers = numbers.iter().filter(|run| struck(run) || pierced(run, usize::MAX)).count();
        flaws.through_text = paths.iter().filter(|path| through_text(figure, path)).count();
        for (at, path) in paths.iter().enumerate() {
            for (other, theirs) in paths.iter().enumerate().skip(at + 1) {
                flaws.arrow_crossings += usize::from(cross(path, theirs));
                let halves =
                    curves[at].moves == crate::arrows::Moves::Single && curves[other].moves == curves[at].moves;
                let near = path[SAMPLES].distance(theirs[SAMPLES]) * SCALE < HEADS;
                flaws.near_heads += usize::from(near && !halves);
            }
        }
        flaws
    })
}

fn bonds(figure: &Figure) -> Vec<[AtomId; 2]> {
    figure.structure.bonds().map(|(_, a, b, _)| [a, b]).collect()
}

fn of_layout(figure: &Figure, lines: &[[AtomId; 2]]) -> Flaws {
    let mut lengths: Vec<f64> = lines.iter().map(|[a, b]| figure.at(*a).distance(figure.at(*b))).collect();
    lengths.sort_by(f64::total_cmp);
    let unit = lengths.get(lengths.len() / 2).copied().filter(|unit| *unit > 1e-6).unwrap_or(1.0);
    let mut flaws = Flaws {
        long_bonds: lengths.iter().filter(|length| **length > LONG * unit).count(),
        longest: lengths.last().map_or(0.0, |length| length / unit),
        ..Flaws::default()
    };
    for (at, a) in figure.points.iter().enumerate() {
        flaws.close_atoms += figure.points[at + 1..].iter().filter(|b| a.distance(**b) < APART * unit).count();
        let foreign = lines.iter().filter(|ends| ends.iter().all(|end| end.index() != at));
        flaws.on_bond +=
            foreign.filter(|[b, c]| distance_to_segment(*a, figure.at(*b), figure.at(*c)) < OFF_BOND * unit).count();
    }
    for (at, [a, b]) in lines.iter().enumerate() {
        let apart = |[c, d]: &&[AtomId; 2]| a != c && a != d && b != c && b != d;
        let later = lines[at + 1..].iter().filter(apart);
        let crossing =
            later.filter(|[c, d]| segments_cross(figure.at(*a), figure.at(*b), figure.at(*c), figure.at(*d)));
        flaws.bond_crossings += crossing.count();
    }
    flaws
}

/// Whether a line runs through the box of a small text, a little smaller than its letters.
fn strikes(run: &Run, from: Position, to: Position) -> bool {
    let half = Position::new(width(&run.text) * TINY / 2.0, TINY * 0.37);
    segment_meets(&Area { middle: run.at, half }, from, to)
}

/// Whether a segment runs through a rectangle.
pub(super) fn segment_meets(area: &Area, from: Position, to: Position) -> bool {
    let along = to - from;
    let off = from - area.middle;
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (off, by, half) in [(off.x, along.x, area.half.x), (off.y, along.y, area.half.y)] {
        if by.abs() < 1e-12 {
            if off.abs() > half {
                return false;
            }
            continue;
        }
        let (a, b) = ((-half - off) / by, (half - off) / by);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    enter < leave
}

fn through_text(figure: &Figure, path: &[Position]) -> bool {
    let inner = &path[3..SAMPLES - 2];
    let areas = || figure.writing.iter().flat_map(|writing| &writing.areas);
    areas().any(|area| inner.iter().any(|point| area.holds(*point, -0.02)))
}

fn cross(one: &[Position], other: &[Position]) -> bool {
    one.windows(2).any(|a| other.windows(2).any(|b| segments_cross(a[0], a[1], b[0], b[1])))
}
