//! Curved arrows: from dots, charge or bond to atom or bond, bent away from the skeleton and clear of text.

use super::canvas::{Canvas, SCALE, TINY};
use super::dots::middle;
use super::figure::{Figure, Run};
use super::geometry::{Position, distance_to_segment, segments_cross};
use crate::arrows::{Arrow, Moves, Place};
use crate::structure::AtomId;

/// How far a curve keeps from the atom or bond that it means.
const OFF: f64 = 0.09;
/// The distance from which two atoms that form a bond stand apart.
const FAR: f64 = 1.45;
const HEAD_LENGTH: f64 = 0.27;
const HEAD_WIDTH: f64 = 0.1;
/// Points at which a curve is tested.
const SAMPLES: usize = 16;

/// One arrow as it is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Curve {
    /// The Bezier curve from tail to tip, in bond lengths.
    pub points: [Position; 4],
    /// On which side it bends: 1 left, -1 right, seen along the arrow.
    pub bend: f64,
    /// Pair or single electron.
    pub moves: Moves,
    /// What the tail starts at: dots, charge, atom or middle of a bond.
    pub starts_at: Position,
    /// Whether the curve passes through text of an atom.
    pub through_text: bool,
}

impl Curve {
    /// A point of the curve; `share` runs from 0 to 1.
    #[must_use]
    pub fn at(&self, share: f64) -> Position {
        let [a, b, c, d] = self.points;
        let rest = 1.0 - share;
        a * (rest * rest * rest)
            + b * (3.0 * rest * rest * share)
            + c * (3.0 * rest * share * share)
            + d * (share * share * share)
    }
}

/// Chooses a curve for every arrow, one after the other.
pub(super) fn choose(figure: &Figure, arrows: &[Arrow]) -> Vec<Curve> {
    let mut chosen: Vec<Curve> = Vec::new();
    for (at, arrow) in arrows.iter().enumerate() {
        let plan = Plan { figure, arrow, index: at, chosen: &chosen };
        if let Some(curve) = plan.best() {
            chosen.push(curve);
        }
    }
    chosen
}

struct Plan<'a, 'b> {
    figure: &'a Figure<'b>,
    arrow: &'a Arrow,
    index: usize,
    chosen: &'a [Curve],
}

impl Plan<'_, '_> {
    fn best(&self) -> Option<Curve> {
        let mut best: Option<(f64, Curve)> = None;
        for bend in [1.0, -1.0] {
            for bulge in [0.45, 0.7, 0.28, 1.0, 1.4] {
                let curve = self.curve(bend, bulge);
                let (cost, through_text) = self.cost(&curve, bulge);
                if best.as_ref().is_none_or(|(so_far, _)| cost < so_far - 1e-9) {
                    best = Some((cost, Curve { through_text, ..curve }));
                }
            }
        }
        best.map(|(_, curve)| curve)
    }

    fn curve(&self, bend: f64, bulge: f64) -> Curve {
        let (from, to) = (self.tail_middle(), self.head_middle());
        let along = to - from;
        let out = along.unit().left() * bend;
        let height = bulge * along.length().clamp(0.75, 2.5);
        let tail = self.tail(from, out, along.unit());
        let head = self.head(to, out, along.unit());
        let along = head - tail;
        let lean = along * 0.18;
        Curve {
            points: [tail, tail + lean + out * height * 1.2, head - lean + out * height * 1.2, head],
            bend,
            moves: self.arrow.moves,
            starts_at: from,
            through_text: false,
        }
    }

    fn tail_middle(&self) -> Position {
        let own = self.figure.dots.iter().find(|dots| dots.arrow == Some(self.index));
        match (own, self.arrow.tail) {
            (Some(dots), _) => dots.middle,
            (None, Place::Atom(atom)) => {
                let charge = self.figure.writing.get(atom.index()).and_then(|writing| writing.charge);
                charge.unwrap_or(self.figure.at(atom))
            }
            (None, place) => middle(self.figure, place),
        }
    }

    /// What the head means: the atom, the middle of a drawn bond, or for a bond that forms a point past its middle towards
    /// the atom that did not give the electrons.
    fn head_middle(&self) -> Position {
        let Place::Bond(a, b) = self.arrow.head else { return middle(self.figure, self.arrow.head) };
        if self.figure.structure.bond_between(a, b).is_some() {
            return middle(self.figure, self.arrow.head);
        }
        let (from, to) = match (self.arrow.tail.touches(a), self.arrow.tail.touches(b)) {
            (true, false) => (a, b),
            (false, true) => (b, a),
            _ => return middle(self.figure, self.arrow.head),
        };
        let gap = self.figure.at(from).distance(self.figure.at(to));
        let along = (self.figure.at(to) - self.figure.at(from)).unit();
        let middle = self.figure.at(from).middle(self.figure.at(to));
        match self.arrow.moves {
            // Two half heads come from both ends and meet.
            Moves::Single => middle - along * (0.05 * gap).min(0.1),
            Moves::Pair if gap < FAR => middle + along * (0.18 * gap),
            // Between species that stand apart the middle is empty paper: people draw the head at the other atom.
            Moves::Pair => self.figure.at(to) - along * self.figure.leave(to, -along, 0.06).clamp(0.2, 0.5),
        }
    }

    fn tail(&self, from: Position, out: Position, along: Position) -> Position {
        match self.arrow.tail {
            Place::Atom(atom) if self.figure.dots.iter().any(|dots| dots.arrow == Some(self.index)) => {
                let away = (from - self.figure.at(atom)).unit();
                from + (away + out + along * 0.5).unit() * 0.09
            }
            Place::Atom(atom) => {
                let direction = (out + along * 0.6).unit();
                from + direction * self.figure.leave(atom, direction, 0.03).clamp(0.1, 0.3)
            }
            Place::Bond(..) => from + out * OFF,
        }
    }

    fn head(&self, to: Position, out: Position, along: Position) -> Position {
        match self.arrow.head {
            Place::Atom(atom) => {
                // A hop from a bond to its own atom is short: the head goes round the atom, else the curve is a spike.
                let round = if self.arrow.tail.touches(atom) { 0.25 } else { -0.45 };
                let direction = (out + along * round).unit();
                to + direction * self.figure.leave(atom, direction, 0.03).clamp(0.1, 0.33)
            }
            Place::Bond(a, b) if self.figure.structure.bond_between(a, b).is_some() => to + out * 0.12,
            Place::Bond(..) => to,
        }
    }

    /// What is wrong with a curve, and whether it passes through text.
    fn cost(&self, curve: &Curve, bulge: f64) -> (f64, bool) {
        let samples: Vec<Position> = (0..=SAMPLES).map(|at| curve.at(at as f64 / SAMPLES as f64)).collect();
        let inner = &samples[2..SAMPLES - 1];
        let (texts, near) = self.atoms_hit(inner);
        let apex = curve.at(0.5);
        let crowd: f64 = self
            .figure
            .points
            .iter()
            .map(|point| apex.distance(*point))
            .filter(|distance| *distance < 1.6)
            .map(|distance| 0.22 / (0.15 + distance * distance))
            .sum();
        let tip = &samples[SAMPLES - 1..];
        let covered = self.figure.labels.iter().filter(|run| tip.iter().any(|point| point.distance(run.at) < 0.22));
        let cost = 12.0 * texts as f64
            + 4.0 * near as f64
            + 3.0 * covered.count() as f64
            + 2.2 * self.bonds_crossed(&samples) as f64
            + 3.0 * self.arrows_crossed(&samples, curve) as f64
            + crowd
            + 1.2 * (bulge - 0.45).abs();
        (cost, texts > 0)
    }

    /// Atoms whose text, dots or bare corner the inside of a curve touches.
    fn atoms_hit(&self, inner: &[Position]) -> (usize, usize) {
        let (mut texts, mut near) = (0, 0);
        for (at, writing) in self.figure.writing.iter().enumerate() {
            let Some(point) = self.figure.points.get(at) else { continue };
            if !inner.iter().any(|sample| sample.distance(*point) < 1.3) {
                continue;
            }
            if writing.areas.iter().any(|area| inner.iter().any(|sample| area.holds(*sample, 0.03))) {
                texts += 1;
            } else if inner.iter().any(|sample| sample.distance(*point) < 0.2) {
                near += 1;
            }
        }
        let foreign = self.figure.dots.iter().filter(|dots| dots.arrow != Some(self.index));
        near += foreign.filter(|dots| inner.iter().any(|sample| sample.distance(dots.middle) < 0.13)).count();
        let labels = &self.figure.labels;
        near += labels.iter().filter(|run| inner.iter().any(|sample| sample.distance(run.at) < 0.17)).count();
        (texts, near)
    }

    fn bonds_crossed(&self, samples: &[Position]) -> usize {
        let crossed = |(_, a, b, _): &(_, AtomId, AtomId, _)| {
            let (a, b) = (self.figure.at(*a), self.figure.at(*b));
            let reach = a.distance(b) / 2.0 + 1.0;
            samples
                .windows(2)
                .any(|pair| pair[0].distance(a.middle(b)) < reach && segments_cross(pair[0], pair[1], a, b))
        };
        self.figure.structure.bonds().filter(crossed).count()
    }

    fn arrows_crossed(&self, samples: &[Position], curve: &Curve) -> usize {
        let crosses = |other: &&Curve| {
            let theirs: Vec<Position> = (0..=8).map(|at| other.at(f64::from(at) / 8.0)).collect();
            let crossed = theirs
                .windows(2)
                .any(|own| samples.windows(2).any(|pair| segments_cross(own[0], own[1], pair[0], pair[1])));
            let near =
                theirs.get(1..8).is_some_and(|inner| inner.iter().any(|point| curve.at(0.5).distance(*point) < 0.18));
            crossed || near || other.points[3].distance(curve.points[3]) < 0.18
        };
        self.chosen.iter().filter(crosses).count()
    }
}

/// Draws the curves with their heads, and their numbers where there are several.
pub(super) fn draw(figure: &Figure, curves: &[Curve], canvas: &mut Canvas) {
    if curves.is_empty() {
        return;
    }
    canvas.raw("<g class=\"ka-arrows\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\">");
    let mut heads = Vec::new();
    for curve in curves {
        let tip = curve.points[3];
        // The direction of the head is that of the last piece of the curve as long as the head.
        let mut share = 1.0;
        while share > 0.3 && curve.at(share).distance(tip) < HEAD_LENGTH {
            share -= 0.02;
        }
        let along = (tip - curve.at(share)).unit();
        let base = tip - along * (HEAD_LENGTH * 0.8);
        let [a, b, c, _] = curve.points;
        canvas.curve("ka-arrow", &[a, b, c - along * (HEAD_LENGTH * 0.5), base]);
        for sample in 0..=8 {
            canvas.include(curve.at(f64::from(sample) / 8.0), 0.12);
        }
        heads.push(head(tip, along, curve));
    }
    canvas.raw("</g>");
    canvas.polygons("ka-arrow-head", "fill=\"currentColor\"", &heads);
    let numbers = numbers(figure, curves);
    if numbers.is_empty() {
        return;
    }
    canvas.raw(&format!(
        "<g class=\"ka-number\" fill=\"currentColor\" font-size=\"{:.1}\" text-anchor=\"middle\">",
        TINY * SCALE
    ));
    for run in &numbers {
        canvas.text(run.at, run.size, &run.text);
    }
    canvas.raw("</g>");
}

/// A full head, or the half on the outer side of the bend.
fn head(tip: Position, along: Position, curve: &Curve) -> Vec<Position> {
    let back = tip - along * HEAD_LENGTH;
    let notch = tip - along * (HEAD_LENGTH * 0.75);
    let side = along.left() * HEAD_WIDTH;
    match curve.moves {
        Moves::Pair => vec![tip, back + side, notch, back - side],
        Moves::Single => vec![tip, back + side * (1.5 * curve.bend), notch],
    }
}

/// The numbers of arrows, where there are several.
pub(super) fn numbers(figure: &Figure, curves: &[Curve]) -> Vec<Run> {
    if curves.len() < 2 {
        return Vec::new();
    }
    let mut placed: Vec<Position> = Vec::new();
    for (at, curve) in curves.iter().enumerate() {
        let best = [0.5, 0.4, 0.6, 0.3, 0.7]
            .into_iter()
            .flat_map(|share| [1.0, -1.0].map(|side| (share, side)))
            .map(|(share, side)| {
                let along = (curve.at(share + 0.05) - curve.at(share - 0.05)).unit();
                let spot = curve.at(share) + along.left() * (0.2 * curve.bend * side);
                (spot, number_cost(figure, curves, at, &placed, spot) + (share - 0.5_f64).abs() + 0.2 * (1.0 - side))
            })
            .fold((curve.at(0.5), f64::INFINITY), |best, next| if next.1 < best.1 - 1e-9 { next } else { best })
            .0;
        placed.push(best);
    }
    let run = |(at, spot): (usize, Position)| Run { at: spot, size: TINY, text: (at + 1).to_string() };
    placed.into_iter().enumerate().map(run).collect()
}

fn number_cost(figure: &Figure, curves: &[Curve], own: usize, placed: &[Position], spot: Position) -> f64 {
    let text = figure.writing.iter().flat_map(|writing| &writing.areas).filter(|area| area.holds(spot, 0.12)).count();
    let dots = figure.dots.iter().filter(|dots| dots.middle.distance(spot) < 0.22).count();
    let labels = figure.labels.iter().filter(|run| run.at.distance(spot) < 0.25).count();
    let bonds =
        figure.structure.bonds().filter(|(_, a, b, _)| distance_to_segment(spot, figure.at(*a), figure.at(*b)) < 0.17);
    let others = curves.iter().enumerate().filter(|(at, curve)| {
        *at != own && (0..=8).any(|sample| curve.at(f64::from(sample) / 8.0).distance(spot) < 0.17)
    });
    let numbers = placed.iter().filter(|other| other.distance(spot) < 0.25).count();
    4.0 * (text + dots + labels + numbers) as f64 + 1.5 * bonds.count() as f64 + 2.0 * others.count() as f64
}
