//! Curved arrows: from dots, charge or bond to atom or bond, bent away from the skeleton and clear of text.

use super::canvas::{Canvas, SCALE, TINY};
use super::dots::middle;
use super::figure::{Area, Figure, Run};
use super::flaws::segment_meets;
use super::geometry::{Position, distance_to_segment, segments_cross};
use crate::arrows::{Arrow, Moves, Place};
use crate::structure::AtomId;
use std::sync::LazyLock;

/// How far a curve keeps from the atom or bond that it means.
const OFF: f64 = 0.09;
/// The distance from which two atoms that form a bond stand apart.
const FAR: f64 = 1.45;
const HEAD_LENGTH: f64 = 0.27;
const HEAD_WIDTH: f64 = 0.1;
/// Points at which a curve is tested.
const SAMPLES: usize = 16;
const NEAR_ENDS: [f64; 4] = [0.075, 0.1, 0.9, 0.925];

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

/// How far curves bulge: as people draw them, and, where that is in the way of something, otherwise.
const BULGES: [f64; 5] = [0.45, 0.7, 0.28, 1.0, 1.4];
const MORE_BULGES: [f64; 10] = [0.45, 0.35, 0.55, 0.7, 0.28, 0.18, 0.85, 1.0, 1.4, 1.9];
/// Where no bulge helps: more of it at the tail or at the head, wider than from tail to head, the head elsewhere at its atom, the tail
/// off the middle of its bond.
const SKEWS: [f64; 3] = [0.0, 0.45, -0.45];
const LEANS: [f64; 3] = [0.18, -0.25, -0.6];
const ROUNDS: [f64; 4] = [0.0, 0.8, -0.8, 1.6];
const SLIDES: [f64; 3] = [0.0, 0.16, -0.16];
/// More arrows than this are chosen once.
const AGAIN: usize = 24;

/// Chooses a curve for every arrow, one after the other; then those that run into something once more, with all the others
/// in place.
pub(super) fn choose(figure: &Figure, arrows: &[Arrow]) -> Vec<Curve> {
    let mut chosen: Vec<(f64, Curve)> = Vec::new();
    for (at, arrow) in arrows.iter().enumerate() {
        let others: Vec<Curve> = chosen.iter().map(|(_, curve)| *curve).collect();
        let plan = Plan { figure, arrow, index: at, others: &others };
        chosen.push(plan.best(&BULGES));
    }
    if arrows.len() > AGAIN {
        return chosen.into_iter().map(|(_, curve)| curve).collect();
    }
    for _ in 0..2 {
        let mut changed = false;
        for (at, arrow) in arrows.iter().enumerate() {
            let others: Vec<Curve> =
                chosen.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, own)| own.1).collect();
            let plan = Plan { figure, arrow, index: at, others: &others };
            let now = plan.hits(&chosen[at].1);
            if now == 0.0 {
                continue;
            }
            let mut best = plan.best(&MORE_BULGES);
            if plan.hits(&best.1) > 0.0 {
                best = plan.best_of_all();
            }
            if plan.hits(&best.1) < now - 1e-9 {
                chosen[at] = best;
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    chosen.into_iter().map(|(_, curve)| curve).collect()
}

/// How a curve is drawn between its places.
#[derive(Debug, Clone, Copy)]
struct Shape {
    /// The side: 1 left, -1 right, seen along the arrow.
    bend: f64,
    bulge: f64,
    /// How much more of the bulge is at the tail.
    skew: f64,
    /// How far the curve leans inwards from its ends.
    lean: f64,
    /// How far round its atom the head goes.
    round: f64,
    /// How far along its bond the tail stands off the middle.
    slide: f64,
}

impl Shape {
    fn plain(bend: f64, bulge: f64) -> Self {
        Self { bend, bulge, skew: 0.0, lean: LEANS[0], round: 0.0, slide: 0.0 }
    }

    /// What it costs to draw otherwise than people do.
    fn price(&self) -> f64 {
        1.2 * (self.bulge - 0.45).abs()
            + self.skew.abs()
            + (self.lean - LEANS[0]).abs()
            + 0.5 * self.round.abs()
            + 2.0 * self.slide.abs()
    }
}

/// Curves of all shapes, cheapest first: a search may end at the first that is dearer by itself than what was found.
fn all_shapes() -> Vec<Shape> {
    let mut shapes = Vec::new();
    for bend in [1.0, -1.0] {
        for bulge in [0.28, 0.45, 0.7, 1.0] {
            for skew in SKEWS {
                for lean in LEANS {
                    for round in ROUNDS {
                        shapes.extend(SLIDES.map(|slide| Shape { bend, bulge, skew, lean, round, slide }));
                    }
                }
            }
        }
    }
    shapes.sort_by(|a, b| a.price().total_cmp(&b.price()));
    shapes
}

struct Plan<'a, 'b> {
    figure: &'a Figure<'b>,
    arrow: &'a Arrow,
    index: usize,
    others: &'a [Curve],
}

impl Plan<'_, '_> {
    /// The curve that costs least, and what it costs.
    fn best(&self, bulges: &[f64]) -> (f64, Curve) {
        let shapes =
            [1.0, -1.0].into_iter().flat_map(|bend| bulges.iter().map(move |bulge| Shape::plain(bend, *bulge)));
        self.cheapest(shapes)
    }

    /// The same among curves of all shapes, those that are drawn most as people do first.
    fn best_of_all(&self) -> (f64, Curve) {
        static ALL: LazyLock<Vec<Shape>> = LazyLock::new(all_shapes);
        self.cheapest(ALL.iter().copied())
    }

    fn cheapest(&self, shapes: impl IntoIterator<Item = Shape>) -> (f64, Curve) {
        let mut best = (f64::INFINITY, self.curve(Shape::plain(1.0, 0.45)));
        for (shape, price) in shapes.into_iter().map(|shape| (shape, shape.price())) {
            if price >= best.0 {
                continue;
            }
            let curve = self.curve(shape);
            let (cost, through_text) = self.cost(&curve, price, best.0);
            if cost < best.0 - 1e-9 {
                best = (cost, Curve { through_text, ..curve });
            }
        }
        best
    }

    /// What a curve runs into: text and other arrows.
    fn hits(&self, curve: &Curve) -> f64 {
        let samples: Vec<Position> = (0..=SAMPLES).map(|at| curve.at(at as f64 / SAMPLES as f64)).collect();
        let (texts, near) = self.atoms_hit(&samples[2..SAMPLES - 1], curve);
        12.0 * texts as f64 + 4.0 * near as f64 + 5.0 * self.arrows_crossed(&samples, curve) as f64
    }

    fn curve(&self, shape: Shape) -> Curve {
        let (from, to) = (self.tail_middle(), self.head_middle());
        let along = to - from;
        let out = along.unit().left() * shape.bend;
        let height = shape.bulge * along.length().clamp(0.75, 2.5);
        let tail = self.tail(from, out, along.unit(), shape.slide);
        let head = self.head(to, out, along.unit(), shape.round);
        let along = head - tail;
        let lean = along * shape.lean;
        let rise = |share: f64| out * (height * 1.2 * share);
        Curve {
            points: [tail, tail + lean + rise(1.0 + shape.skew), head - lean + rise(1.0 - shape.skew), head],
            bend: shape.bend,
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

    fn tail(&self, from: Position, out: Position, along: Position, slide: f64) -> Position {
        match self.arrow.tail {
            Place::Atom(atom) if self.figure.dots.iter().any(|dots| dots.arrow == Some(self.index)) => {
                let away = (from - self.figure.at(atom)).unit();
                from + (away + out + along * 0.5).unit() * 0.09
            }
            Place::Atom(atom) => {
                let direction = (out + along * 0.6).unit();
                from + direction * self.figure.leave(atom, direction, 0.03).clamp(0.1, 0.3)
            }
            Place::Bond(a, b) => from + out * OFF + (self.figure.at(b) - self.figure.at(a)).unit() * slide,
        }
    }

    fn head(&self, to: Position, out: Position, along: Position, more: f64) -> Position {
        match self.arrow.head {
            Place::Atom(atom) => {
                // A hop from a bond to its own atom is short: the head goes round the atom, else the curve is a spike.
                let round = if self.arrow.tail.touches(atom) { 0.25 } else { -0.45 };
                let direction = (out + along * (round + more)).unit();
                to + direction * self.figure.leave(atom, direction, 0.03).clamp(0.1, 0.33)
            }
            Place::Bond(a, b) if self.figure.structure.bond_between(a, b).is_some() => to + out * 0.12,
            Place::Bond(..) => to,
        }
    }

    /// What is wrong with a curve, and whether it passes through text. A curve that is dearer than `most` already is not looked at
    /// further.
    fn cost(&self, curve: &Curve, price: f64, most: f64) -> (f64, bool) {
        let samples: Vec<Position> = (0..=SAMPLES).map(|at| curve.at(at as f64 / SAMPLES as f64)).collect();
        let inner = &samples[2..SAMPLES - 1];
        let apex = curve.at(0.5);
        let crowd: f64 = self
            .figure
            .points
            .iter()
            .map(|point| apex.distance(*point))
            .filter(|distance| *distance < 1.6)
            .map(|distance| 0.22 / (0.15 + distance * distance))
            .sum();
        let mut cost = crowd + price;
        if cost >= most {
            return (cost, false);
        }
        let (texts, near) = self.atoms_hit(inner, curve);
        cost += 12.0 * texts as f64 + 4.0 * near as f64 + 2.0 * f64::from(self.on_charge(curve));
        if cost >= most {
            return (cost, texts > 0);
        }
        cost += 2.2 * self.bonds_crossed(&samples) as f64 + 5.0 * self.arrows_crossed(&samples, curve) as f64;
        (cost, texts > 0)
    }

    /// Whether the head lies on the charge of a bare corner.
    fn on_charge(&self, curve: &Curve) -> bool {
        let bare = self.figure.writing.iter().filter(|writing| !writing.element);
        bare.flat_map(|writing| &writing.areas)
            .any(|area| area.holds(curve.at(0.95), 0.08) || area.holds(curve.at(1.0), 0.04))
    }

    /// Atoms whose text, dots or bare corner the inside of a curve touches.
    fn atoms_hit(&self, inner: &[Position], curve: &Curve) -> (usize, usize) {
        let (mut texts, mut near) = (0, 0);
        // Nearer to its ends a curve may touch what it comes from and leads to, but not run through it.
        let ends = NEAR_ENDS.map(|share| curve.at(share));
        for (at, writing) in self.figure.writing.iter().enumerate() {
            let Some(point) = self.figure.points.get(at) else { continue };
            if !inner.iter().any(|sample| sample.distance(*point) < 1.3) {
                continue;
            }
            let struck = |area: &Area| {
                inner.iter().any(|sample| area.holds(*sample, 0.03)) || ends.iter().any(|end| area.holds(*end, -0.015))
            };
            if writing.areas.iter().any(struck) {
                texts += 1;
            } else if inner.iter().any(|sample| sample.distance(*point) < 0.2) {
                near += 1;
            }
        }
        let foreign = self.figure.dots.iter().filter(|dots| dots.arrow != Some(self.index));
        near += foreign.filter(|dots| inner.iter().any(|sample| sample.distance(dots.middle) < 0.13)).count();
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
        self.others.iter().filter(crosses).count()
    }
}

/// Draws the curves with their heads, and their numbers where there are several.
pub(super) fn draw(figure: &Figure, curves: &[Curve], labels: &[Run], canvas: &mut Canvas) {
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
    let numbers = numbers(figure, curves, labels);
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
pub(super) fn numbers(figure: &Figure, curves: &[Curve], labels: &[Run]) -> Vec<Run> {
    if curves.len() < 2 {
        return Vec::new();
    }
    let paths: Vec<Vec<Position>> =
        curves.iter().map(|curve| (0..=SAMPLES).map(|at| curve.at(at as f64 / SAMPLES as f64)).collect()).collect();
    let mut placed: Vec<Area> = labels.iter().map(Run::area).collect();
    let mut runs = Vec::new();
    for (at, curve) in curves.iter().enumerate() {
        let text = (at + 1).to_string();
        let mut best = (f64::INFINITY, Run { at: curve.at(0.5), size: TINY, text });
        for share in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
            let along = (curve.at(share + 0.05) - curve.at(share - 0.05)).unit();
            for (off, price) in [(0.2, 0.0), (-0.2, 0.4), (0.3, 0.3), (-0.3, 0.7)] {
                let run = Run { at: curve.at(share) + along.left() * (off * curve.bend), ..best.1.clone() };
                let cost = number_cost(figure, &paths, &placed, &run.area()) + (share - 0.5_f64).abs() + price;
                if cost < best.0 - 1e-9 {
                    best = (cost, run);
                }
            }
        }
        placed.push(best.1.area());
        runs.push(best.1);
    }
    runs
}

fn number_cost(figure: &Figure, paths: &[Vec<Position>], placed: &[Area], own: &Area) -> f64 {
    let (middle, half) = (own.middle, Position::new(own.half.x + 0.03, own.half.y + 0.03));
    let room = Area { middle, half };
    let text = figure.writing.iter().flat_map(|writing| &writing.areas).filter(|area| area.meets(middle, half)).count();
    let dots = figure.dots.iter().filter(|dots| room.holds(dots.middle, 0.1)).count();
    let placed = placed.iter().filter(|area| area.meets(middle, half)).count();
    let forming = figure.forming.iter().copied();
    let bonds = figure.structure.bonds().map(|(_, a, b, _)| (a, b)).chain(forming);
    let bonds = bonds.map(|(a, b)| (figure.at(a), figure.at(b)));
    let near = |(a, b): &(Position, Position)| distance_to_segment(middle, *a, *b) < 0.6;
    let bonds = bonds.filter(near).filter(|(a, b)| segment_meets(&room, *a, *b)).count();
    let struck = |path: &&Vec<Position>| path.windows(2).any(|pair| segment_meets(&room, pair[0], pair[1]));
    let arrows = paths.iter().filter(struck).count();
    4.0 * (text + dots + placed) as f64 + 2.5 * (bonds + arrows) as f64
}
