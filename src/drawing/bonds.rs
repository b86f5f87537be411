//! Bond lines: trimmed at text, doubled on the inner side, wedged where a centre is marked.

use super::canvas::Canvas;
use super::figure::Figure;
use super::geometry::{Position, centroid};
use super::wedges::{self, Wedge};
use crate::structure::{AtomId, BondId};

/// Distance between the lines of a double bond.
const APART: f64 = 0.15;
/// How much the second line of a double bond is shorter at a bare corner.
const SHORT: f64 = 0.14;
/// How far a wedge ends before the middle of a hydrogen drawn for it.
const LETTER: f64 = 0.24;
/// Room between text and lines.
pub(super) const MARGIN: f64 = 0.05;

/// Draws all bonds.
pub(super) fn draw(figure: &Figure, rings: &[Vec<usize>], canvas: &mut Canvas) {
    let wedges = wedges::assign(figure, rings);
    let mut pen = Pen {
        figure,
        centres: ring_centres(figure, rings),
        delocalised: !figure.structure.bonds().any(|(.., bond)| bond.aromatic && bond.order > 1),
        lines: Vec::new(),
        dashed: Vec::new(),
    };
    let (mut solid, mut hashes) = (Vec::new(), Vec::new());
    for (id, a, b, bond) in figure.structure.bonds() {
        match wedges.bonds.get(&id) {
            Some(Wedge { from, up }) => {
                let to = if *from == a { b } else { a };
                let (start, end) = pen.trimmed(*from, to);
                if *up {
                    solid.push(triangle(start, end));
                } else {
                    hashes.extend(hash(start, end));
                }
                if bond.order > 1 {
                    pen.bond(id, a, b, bond.order, bond.aromatic);
                }
            }
            None => pen.bond(id, a, b, bond.order, bond.aromatic),
        }
    }
    for (hydrogen, up) in &wedges.hydrogens {
        let (start, at) = (figure.at(hydrogen.centre), hydrogen.at);
        let end = at - (at - start).unit() * LETTER;
        if *up { solid.push(triangle(start, end)) } else { hashes.extend(hash(start, end)) }
    }
    let plain = "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.7\" stroke-linecap=\"round\"";
    canvas.lines("ka-bond", plain, &pen.lines);
    canvas.lines("ka-bond", &format!("{plain} stroke-dasharray=\"3.5 3.5\""), &pen.dashed);
    let forming: Vec<_> = figure.forming.iter().map(|(a, b)| pen.trimmed(*a, *b)).collect();
    let dots = "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.9\" stroke-linecap=\"round\" stroke-dasharray=\"0 4.6\"";
    canvas.lines("ka-forming", dots, &forming);
    canvas.lines("ka-bond", "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"", &hashes);
    canvas.polygons("ka-wedge", "fill=\"currentColor\"", &solid);
}

fn triangle(from: Position, to: Position) -> Vec<Position> {
    let side = (to - from).unit().left() * 0.13;
    vec![from, to + side, to - side]
}

fn hash(from: Position, to: Position) -> Vec<(Position, Position)> {
    let along = to - from;
    let side = along.unit().left();
    let count = 7;
    let bar = |step: i32| {
        let share = (f64::from(step) + 0.7) / f64::from(count);
        let middle = from + along * share;
        (middle + side * (0.13 * share + 0.015), middle - side * (0.13 * share + 0.015))
    };
    (0..count).map(bar).collect()
}

/// For each bond in a ring, the middle of the ring that its second line faces: small rings with many double bonds first.
fn ring_centres(figure: &Figure, rings: &[Vec<usize>]) -> Vec<Option<Position>> {
    let mut centres = vec![None; figure.structure.bond_count()];
    let bonds_of = |ring: &[usize]| -> Vec<BondId> {
        let pairs = ring.iter().zip(ring.iter().cycle().skip(1));
        pairs.filter_map(|(a, b)| figure.structure.bond_between(AtomId::new(*a), AtomId::new(*b))).collect()
    };
    let mut ranked: Vec<(bool, usize, usize)> = rings
        .iter()
        .enumerate()
        .map(|(at, ring)| {
            let double = bonds_of(ring).iter().filter(|bond| figure.structure.bond(**bond).order > 1).count();
            (ring.len() > 8, usize::MAX - double, at)
        })
        .collect();
    ranked.sort_unstable();
    for (_, _, at) in ranked {
        let Some(ring) = rings.get(at) else { continue };
        let middle = centroid(ring.iter().filter_map(|node| figure.points.get(*node).copied()));
        for bond in bonds_of(ring) {
            if let Some(slot) = centres.get_mut(bond.index()) {
                slot.get_or_insert(middle);
            }
        }
    }
    centres
}

struct Pen<'a, 'b> {
    figure: &'a Figure<'b>,
    centres: Vec<Option<Position>>,
    /// Whether the structure has no localised form: delocalised bonds are drawn as such.
    delocalised: bool,
    lines: Vec<(Position, Position)>,
    dashed: Vec<(Position, Position)>,
}

impl Pen<'_, '_> {
    /// The line of a bond without what text covers.
    fn trimmed(&self, a: AtomId, b: AtomId) -> (Position, Position) {
        let (from, to) = (self.figure.at(a), self.figure.at(b));
        let along = (to - from).unit();
        let (cut_a, cut_b) = (self.figure.leave(a, along, MARGIN), self.figure.leave(b, -along, MARGIN));
        // Text that reaches far to one side, as a mass number does, may take most of a bond if the other end leaves it that.
        let fits = (from.distance(to) * 0.84 / (cut_a + cut_b).max(1e-6)).min(1.0);
        (from + along * (cut_a * fits), to - along * (cut_b * fits))
    }

    fn bond(&mut self, id: BondId, a: AtomId, b: AtomId, order: u8, aromatic: bool) {
        let (from, to) = self.trimmed(a, b);
        let side = (to - from).unit().left();
        let delocalised = aromatic && self.delocalised;
        match order {
            0 => self.dashed.push((from, to)),
            1 if delocalised => {
                self.lines.push((from, to));
                let inner = self.inner(id, a, b, from, to);
                self.dashed.push(inner);
            }
            1 => self.lines.push((from, to)),
            2 if self.centred(id, a, b) => {
                for by in [APART / 2.0, -APART / 2.0] {
                    self.lines.push((from + side * by, to + side * by));
                }
            }
            2 => {
                self.lines.push((from, to));
                let inner = self.inner(id, a, b, from, to);
                self.lines.push(inner);
            }
            more => {
                let middle = f64::from(more - 1) / 2.0;
                for line in 0..more {
                    let by = (f64::from(line) - middle) * APART * 0.95;
                    self.lines.push((from + side * by, to + side * by));
                }
            }
        }
    }

    /// A double bond is centred where an end has no other neighbour, outside rings where both sides are alike.
    fn centred(&self, id: BondId, a: AtomId, b: AtomId) -> bool {
        if self.centres.get(id.index()).copied().flatten().is_some() {
            return false;
        }
        let structure = self.figure.structure;
        let linear = |atom: AtomId| {
            structure.degree(atom) == 2 && structure.neighbours(atom).all(|(_, bond)| structure.bond(bond).order == 2)
        };
        structure.degree(a) == 1 || structure.degree(b) == 1 || linear(a) || linear(b) || self.balance(a, b).abs() < 0.5
    }

    /// How many neighbours of both ends lie to the left less those to the right.
    fn balance(&self, a: AtomId, b: AtomId) -> f64 {
        let (from, to) = (self.figure.at(a), self.figure.at(b));
        let others = [a, b].into_iter().flat_map(|end| self.figure.structure.neighbours(end));
        others
            .filter(|(other, _)| *other != a && *other != b)
            .map(|(other, _)| (to - from).cross(self.figure.at(other) - from))
            .filter(|side| side.abs() > 0.1)
            .map(f64::signum)
            .sum()
    }

    /// The second line of a double bond.
    fn inner(&self, id: BondId, a: AtomId, b: AtomId, from: Position, to: Position) -> (Position, Position) {
        let along = (to - from).unit();
        let left = match self.centres.get(id.index()).copied().flatten() {
            Some(centre) => (to - from).cross(centre - from) > 0.0,
            None => self.balance(a, b) > 0.0,
        };
        let side = along.left() * if left { APART } else { -APART };
        let cut = |atom: AtomId, end: Position| {
            if self.figure.at(atom).distance(end) < 0.05 && self.figure.structure.degree(atom) > 1 {
                SHORT
            } else {
                0.0
            }
        };
        (from + side + along * cut(a, from), to + side - along * cut(b, to))
    }
}
