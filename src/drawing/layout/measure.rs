//! What is wrong with a layout, counted: the measure by which layouts are chosen, tested and compared.
//!
//! Limits are in units of the median bond length: bonds within 0.8 to 1.2, no two atoms closer than 0.4, no atom within
//! 0.15 of a bond that is not its own, no ring atom with its two ring bonds in one line (170 degrees or more), marked
//! double bonds on the side that is stated. The first two limits are those of the project's report; 0.15 and 170 degrees
//! say in numbers what "on a foreign bond" and "180 degrees" mean there.

use crate::drawing::geometry::{Position, distance_to_segment, segments_cross};

/// Bonds outside these shares of the median length are defects.
const BOND: std::ops::RangeInclusive<f64> = 0.8..=1.2;
/// Atoms closer than this are a defect.
const APART: f64 = 0.4;
/// An atom closer than this to a foreign bond is a defect.
const OFF_BOND: f64 = 0.15;
/// A ring atom with a wider angle than this, in degrees, is a defect.
const STRAIGHT: f64 = 170.0;

/// A marked double bond of a plain graph: ends, references, whether those lie on the same side.
#[derive(Debug, Clone, Copy)]
pub struct Side {
    /// The ends of the double bond.
    pub ends: [usize; 2],
    /// A neighbour of each end.
    pub references: [usize; 2],
    /// Whether the neighbours lie on the same side.
    pub same: bool,
}

impl Side {
    /// Whether the points show what is stated.
    #[must_use]
    pub fn holds(&self, points: &[Position]) -> bool {
        let at = |node: usize| points.get(node).copied().unwrap_or_default();
        let [a, b] = self.ends.map(at);
        let [first, second] = self.references.map(at).map(|reference| (b - a).cross(reference - a));
        first.abs() > 0.05 && second.abs() > 0.05 && (first * second > 0.0) == self.same
    }
}

/// Defects of one layout, by kind. Crossing bonds are counted beside them: bridged drawings have them by right.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Defects {
    /// Bonds that are too short or too long.
    pub lengths: usize,
    /// Pairs of atoms that are too close.
    pub close: usize,
    /// Atoms on a foreign bond.
    pub on_bond: usize,
    /// Ring atoms whose two ring bonds lie in one line.
    pub straight: usize,
    /// Marked double bonds that are drawn otherwise.
    pub sides: usize,
    /// Pairs of bonds that cross; no defect by itself.
    pub crossings: usize,
}

impl Defects {
    /// Number of defects, crossings left out.
    #[must_use]
    pub fn total(&self) -> usize {
        self.lengths + self.close + self.on_bond + self.straight + self.sides
    }
}

/// A plain graph with points: what is measured. Works as well on coordinates from elsewhere.
#[derive(Debug, Clone, Copy)]
pub struct Picture<'a> {
    /// A point for every atom.
    pub points: &'a [Position],
    /// The two atoms of every bond.
    pub bonds: &'a [[usize; 2]],
    /// For every bond, whether it lies in a ring.
    pub in_ring: &'a [bool],
    /// Marked double bonds.
    pub sides: &'a [Side],
}

impl Picture<'_> {
    fn point(&self, node: usize) -> Position {
        self.points.get(node).copied().unwrap_or_default()
    }

    /// Median bond length; 1 where there is no bond.
    #[must_use]
    pub fn median_bond(&self) -> f64 {
        let mut lengths: Vec<f64> = self.bonds.iter().map(|[a, b]| self.point(*a).distance(self.point(*b))).collect();
        lengths.sort_by(f64::total_cmp);
        lengths.get(lengths.len() / 2).copied().filter(|length| *length > 1e-6).unwrap_or(1.0)
    }

    /// Counts the defects.
    #[must_use]
    pub fn defects(&self) -> Defects {
        let unit = self.median_bond();
        let share = |[a, b]: &[usize; 2]| self.point(*a).distance(self.point(*b)) / unit;
        Defects {
            lengths: self.bonds.iter().filter(|bond| !BOND.contains(&share(bond))).count(),
            close: self.close(unit),
            on_bond: self.on_bond(unit),
            straight: self.straight(),
            sides: self.sides.iter().filter(|side| !side.holds(self.points)).count(),
            crossings: self.crossings(),
        }
    }

    /// Whether two atoms are closer than atoms may be, `unit` being the length of a bond.
    pub(super) fn are_close(&self, a: usize, b: usize, unit: f64) -> bool {
        self.point(a).distance(self.point(b)) < APART * unit
    }

    /// Whether an atom lies on a bond that is not its own.
    pub(super) fn is_on(&self, node: usize, [a, b]: [usize; 2], unit: f64) -> bool {
        node != a && node != b && distance_to_segment(self.point(node), self.point(a), self.point(b)) < OFF_BOND * unit
    }

    /// Whether two bonds that share no atom cross.
    pub(super) fn cross(&self, [a, b]: [usize; 2], [c, d]: [usize; 2]) -> bool {
        a != c
            && a != d
            && b != c
            && b != d
            && segments_cross(self.point(a), self.point(b), self.point(c), self.point(d))
    }

    fn close(&self, unit: f64) -> usize {
        let count = self.points.len();
        (0..count).map(|a| (a + 1..count).filter(|b| self.are_close(a, *b, unit)).count()).sum()
    }

    fn on_bond(&self, unit: f64) -> usize {
        let on = |node: usize| self.bonds.iter().filter(|bond| self.is_on(node, **bond, unit)).count();
        (0..self.points.len()).map(on).sum()
    }

    fn straight(&self) -> usize {
        let mut ring_links: Vec<Vec<usize>> = vec![Vec::new(); self.points.len()];
        for ([a, b], in_ring) in self.bonds.iter().zip(self.in_ring) {
            if *in_ring && *a < ring_links.len() && *b < ring_links.len() {
                ring_links[*a].push(*b);
                ring_links[*b].push(*a);
            }
        }
        let is_straight = |(node, links): (usize, &Vec<usize>)| {
            let [a, b] = links[..] else { return false };
            let (a, b) = ((self.point(a) - self.point(node)).unit(), (self.point(b) - self.point(node)).unit());
            a.dot(b).clamp(-1.0, 1.0).acos().to_degrees() > STRAIGHT
        };
        ring_links.iter().enumerate().filter(|entry| is_straight(*entry)).count()
    }

    fn crossings(&self) -> usize {
        let later = |(at, bond): (usize, &[usize; 2])| {
            self.bonds[at + 1..].iter().filter(|other| self.cross(*bond, **other)).count()
        };
        self.bonds.iter().enumerate().map(later).sum()
    }
}
