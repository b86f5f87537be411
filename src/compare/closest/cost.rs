//! What differences weigh, and a correspondence with its weight.
//!
//! The weights are our own, chosen so that the explanation is the one that a marker would give: a changed charge weighs less than
//! a moved bond, a moved bond less than another element, another element less than an atom left out on one side and
//! one too many on the other. They obey the triangle inequality, so that pairing species that are equal never costs more.

use super::NONE;
use crate::structure::skeleton::{Arc, Node, Skeleton};

/// Another element.
pub(super) const ELEMENT: u32 = 8;
/// Another isotope, charge, number of hydrogens or of unpaired electrons.
pub(super) const PROPERTY: u32 = 2;
/// Each further unit of charge, hydrogens or bond order, up to [`MOST_FURTHER`].
pub(super) const FURTHER: u32 = 1;
/// Further units that cost anything.
pub(super) const MOST_FURTHER: u32 = 3;
/// Another bond order.
pub(super) const ORDER: u32 = 2;
/// A bond between two matched atoms that only one drawing has.
pub(super) const BOND: u32 = 3;
/// An atom that only one drawing has: not less than all that can be wrong with an atom at once, counted singly.
pub(super) const ATOM: u32 = 14;
/// A bond of such an atom.
pub(super) const LOOSE_BOND: u32 = 2;

fn by_units(first: u32, units: u32) -> u32 {
    match units {
        0 => 0,
        _ => first + FURTHER * (units - 1).min(MOST_FURTHER),
    }
}

/// What it weighs that one atom stands for another.
#[inline]
pub(super) fn node_cost(a: &Node, b: &Node) -> u32 {
    let alike = a.element == b.element
        && a.hydrogens == b.hydrogens
        && a.charge == b.charge
        && a.isotope == b.isotope
        && a.unpaired == b.unpaired;
    // Mostly they are.
    if alike { 0 } else { cost_of_unlike(a, b) }
}

fn cost_of_unlike(a: &Node, b: &Node) -> u32 {
    let unless = |same: bool, cost: u32| if same { 0 } else { cost };
    unless(a.element == b.element, ELEMENT)
        + unless(a.isotope == b.isotope, PROPERTY)
        + by_units(PROPERTY, u32::from(a.charge.abs_diff(b.charge)))
        + by_units(PROPERTY, u32::from(a.hydrogens.abs_diff(b.hydrogens)))
        + unless(a.unpaired_agrees(b), PROPERTY)
}

/// What it weighs that one bond stands for another.
#[inline]
pub(super) fn arc_cost(a: &Arc, b: &Arc) -> u32 {
    if a.agrees(b) { 0 } else { by_units(ORDER, u32::from(a.order.abs_diff(b.order))) }
}

/// A correspondence of the atoms of two skeletons.
#[derive(Debug, Clone)]
pub(super) struct Map<'a> {
    pub(super) a: &'a Skeleton,
    pub(super) b: &'a Skeleton,
    /// By node of `a`.
    pub(super) image: Vec<u32>,
    /// By node of `b`.
    pub(super) source: Vec<u32>,
}

impl<'a> Map<'a> {
    /// A map of nothing, in buffers that are at hand.
    pub(super) fn reusing([mut image, mut source]: [Vec<u32>; 2], a: &'a Skeleton, b: &'a Skeleton) -> Self {
        for (partners, side) in [(&mut image, a), (&mut source, b)] {
            partners.clear();
            partners.resize(side.len() as usize, NONE);
        }
        Self { a, b, image, source }
    }

    #[inline]
    pub(super) fn image(&self, node: u32) -> u32 {
        self.image[node as usize]
    }

    #[inline]
    pub(super) fn source(&self, node: u32) -> u32 {
        self.source[node as usize]
    }

    /// The nodes of both sides that stand for nothing.
    pub(super) fn unmatched(&self) -> [Vec<u32>; 2] {
        let mut open = <[Vec<u32>; 2]>::default();
        self.list_unmatched(&mut open);
        open
    }

    /// As [`unmatched`](Self::unmatched), into lists that are at hand.
    pub(super) fn list_unmatched(&self, open: &mut [Vec<u32>; 2]) {
        for (open, side) in open.iter_mut().zip([&self.image, &self.source]) {
            open.clear();
            open.reserve(side.len());
            open.extend((0..).zip(side).filter(|(_, other)| **other == NONE).map(|(node, _)| node));
        }
    }

    /// Becomes another map of the same skeletons.
    pub(super) fn take_over(&mut self, other: &Map<'_>) {
        self.image.copy_from_slice(&other.image);
        self.source.copy_from_slice(&other.source);
    }

    /// The same map with some nodes of `a` standing for nothing.
    pub(super) fn without(&self, of_a: &[u32]) -> Self {
        let mut map = self.clone();
        for u in of_a {
            let image = std::mem::replace(&mut map.image[*u as usize], NONE);
            if image != NONE {
                map.source[image as usize] = NONE;
            }
        }
        map
    }

    /// Lets `u` stand for `v` (`NONE` for nothing); what stood for `v` gets what `u` stood for. Both may be `NONE`, not at once.
    pub(super) fn assign(&mut self, u: u32, v: u32) {
        let old = if u == NONE { NONE } else { self.image(u) };
        let other = if v == NONE { NONE } else { self.source(v) };
        for (u, v) in [(u, v), (other, old)] {
            if u != NONE {
                self.image[u as usize] = v;
            }
            if v != NONE {
                self.source[v as usize] = u;
            }
        }
    }

    /// The weight of everything that touches the given nodes of `a` or of `b`.
    pub(super) fn around(&self, of_a: [u32; 2], of_b: [u32; 2]) -> u32 {
        let mut cost = 0;
        for (at, u) in of_a.into_iter().enumerate().filter(|(_, u)| *u != NONE) {
            let image = self.image(u);
            cost += if image == NONE { ATOM } else { node_cost(self.a.node(u), self.b.node(image)) };
            let earlier = if at == 0 { NONE } else { of_a[0] };
            cost += self
                .a
                .arcs(u)
                .iter()
                .filter(|arc| arc.to != earlier)
                .map(|arc| self.cost_of_a(image, arc))
                .sum::<u32>();
        }
        for (at, v) in of_b.into_iter().enumerate().filter(|(_, v)| *v != NONE) {
            let source = self.source(v);
            cost += if source == NONE { ATOM } else { 0 };
            let earlier = if at == 0 { NONE } else { of_b[0] };
            cost += self
                .b
                .arcs(v)
                .iter()
                .filter(|arc| arc.to != earlier)
                .map(|arc| self.cost_of_b(source, arc))
                .sum::<u32>();
        }
        cost
    }

    /// A bond of `a` against what stands for it, if anything.
    pub(super) fn cost_of_a(&self, image: u32, arc: &Arc) -> u32 {
        let to = self.image(arc.to);
        if image == NONE || to == NONE {
            return LOOSE_BOND;
        }
        self.b.arc_between(image, to).map_or(BOND, |other| arc_cost(arc, other))
    }

    /// A bond of `b` that stands for nothing.
    pub(super) fn cost_of_b(&self, source: u32, arc: &Arc) -> u32 {
        let to = self.source(arc.to);
        if source == NONE || to == NONE {
            return LOOSE_BOND;
        }
        if self.a.arc_between(source, to).is_some() { 0 } else { BOND }
    }

    /// The weight of the whole.
    pub(super) fn total(&self) -> u32 {
        let Self { a, b, .. } = *self;
        let mut cost = 0;
        // Bonds of `b` between matched atoms that stand for nothing.
        let mut idle = b.bond_count() as u32;
        for u in 0..a.len() {
            let image = self.image(u);
            cost += if image == NONE { ATOM } else { node_cost(a.node(u), b.node(image)) };
            for arc in a.arcs(u).iter().filter(|arc| arc.to > u) {
                let to = self.image(arc.to);
                cost += match self.counterpart(image, to) {
                    _ if image == NONE || to == NONE => LOOSE_BOND,
                    None => BOND,
                    Some(other) => {
                        idle = idle.saturating_sub(1);
                        arc_cost(arc, other)
                    }
                };
            }
        }
        for v in (0..b.len()).filter(|v| self.source(*v) == NONE) {
            // A bond between two of them counts once.
            let own = b.arcs(v).iter().filter(|arc| arc.to > v || self.source(arc.to) != NONE).count() as u32;
            idle = idle.saturating_sub(own);
            cost += ATOM + LOOSE_BOND * own;
        }
        cost + BOND * idle
    }

    /// The bond of `b` between two of its nodes, if both are there.
    fn counterpart(&self, image: u32, to: u32) -> Option<&'a Arc> {
        if image == NONE || to == NONE { None } else { self.b.arc_between(image, to) }
    }
}
