//! The correspondence of atoms that explains a stated drawing with the fewest differences.
//!
//! Only asked once it is certain (or undecided) that the drawings differ. Species that are equal are paired first; for the
//! rest a correspondence is grown from the rarest surroundings, improved by exchanges, and, where few steps suffice, shown
//! to be the best there is. Everything is bounded.

mod bound;
mod cost;
mod grow;
mod open;
mod prove;
mod unmatched;

use super::correspond::{Correspond, NONE, Question};
use crate::structure::canon::{Colours, Orders};
use crate::structure::isomorphism::{Matcher, Outcome, Rules};
use crate::structure::skeleton::{Arc, Skeleton};
use cost::Map;
pub(super) use grow::Growth;
use open::Open;

/// A correspondence and what it costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Closest {
    /// The recomputed node for each stated node that has one.
    pub image: Vec<Option<u32>>,
    /// The weight of the differences (`cost.rs` has the weights).
    pub cost: u32,
    /// Whether no correspondence has a smaller weight.
    pub smallest: bool,
}

/// Steps of branch and bound, at most: beyond, a difference that is certain would cost more to explain than to read.
const STEPS_TO_PROVE: u64 = 1_000;

/// Exchanges that are tried to improve a correspondence, at most, for each atom.
const STEPS_TO_IMPROVE: u64 = 20;

impl Correspond {
    /// Finds the correspondence with the fewest differences, as far as the limit allows. Pairs that contradict each
    /// other are kept as far as possible, earlier ones first. `differ` says that the drawings are known to.
    pub fn closest(&mut self, question: &Question<'_>, differ: bool) -> Closest {
        let Question { computed, stated, pairs, limit, .. } = *question;
        let mut map = Map::reusing(std::mem::take(&mut self.map), stated, computed);
        for (computed, stated) in pairs {
            if map.image(*stated) == NONE && map.source(*computed) == NONE {
                map.assign(*stated, *computed);
            }
        }
        let mut left = limit.max(16 * u64::from(computed.len() + stated.len()));
        let mut open_at_first = std::mem::take(&mut self.open);
        map.list_unmatched(&mut open_at_first);
        // Two species that are equal would be equal drawings.
        let may_have_equal = !differ || computed.species_count() > 1 || stated.species_count() > 1;
        let any_equal = may_have_equal && self.pair_equal_species(question, &mut map, &mut left);
        let open_now = any_equal.then(|| map.unmatched());
        let open = Open::new(&map, open_now.as_ref().unwrap_or(&open_at_first));
        let (cost, proven) = ClosestMapping { open, growth: &mut self.growth, left }.run(&mut map);
        let image = map.image.iter().map(|image| (*image != NONE).then_some(*image)).collect();
        // With orders that may be either, the triangle inequality does not hold: setting equal species aside may cost something.
        let costs_nothing = !any_equal || !(computed.has_free() || stated.has_free());
        let smallest = (proven && costs_nothing) || (any_equal && cost <= Open::new(&map, &open_at_first).least(&map));
        self.open = open_at_first;
        self.map = [map.image, map.source];
        Closest { image, cost, smallest }
    }

    /// Pairs species that are equal. Says whether there were any.
    fn pair_equal_species(&mut self, question: &Question<'_>, map: &mut Map<'_>, left: &mut u64) -> bool {
        let Question { stated, .. } = *question;
        let pairs = self.equal_species(question);
        let mut image = vec![NONE; stated.len() as usize];
        let mut any = false;
        for (from, to) in pairs {
            if self.map_species(question, from, to, &mut image, left) != Outcome::Found {
                continue;
            }
            any = true;
            for node in stated.species(from) {
                map.assign(node, image[node as usize]);
            }
        }
        any
    }
}

struct ClosestMapping<'a> {
    open: Open<'a>,
    growth: &'a mut Growth,
    left: u64,
}

impl ClosestMapping<'_> {
    /// Maps the open nodes. Gives what the cheapest correspondence that was found costs, and whether it is known to be the cheapest.
    fn run(&mut self, best: &mut Map<'_>) -> (u32, bool) {
        let Open { of_a, of_b, .. } = self.open;
        self.growth.run(best, [of_a, of_b], &mut self.left);
        let least = self.open.least(best);
        let mut cost = best.total();
        if cost <= least {
            return (cost, true);
        }
        let mut steps = self.left.min(STEPS_TO_IMPROVE * (of_a.len() + of_b.len()) as u64);
        if grow::improve(best, of_a, of_b, &mut steps) {
            cost = best.total();
        }
        if cost > least {
            self.try_bare_maps(best, &mut cost, least);
        }
        if cost <= least || cost <= self.open.least_but_one(best) {
            return (cost, true);
        }
        let mut steps = self.left.min(STEPS_TO_PROVE);
        let proven = prove::prove(best, &mut cost, &self.open, &mut steps);
        (cost, proven)
    }

    /// Where elements and connection agree, as after a change of charges or bond orders only, tries maps that keep them.
    fn try_bare_maps(&self, best: &mut Map<'_>, cost: &mut u32, least: u32) {
        let (a, b) = (best.a, best.b);
        let Open { of_a, of_b, .. } = self.open;
        if of_a.len() != of_b.len() || a.len() != b.len() || a.bond_count() != b.bond_count() {
            return;
        }
        let start = best.without(of_a);
        let seeds_a: Vec<_> = (0..a.len()).filter(|u| start.image(*u) != NONE).map(|u| (u, u64::from(u) + 1)).collect();
        let seeds_b: Vec<_> = seeds_a.iter().map(|(u, seed)| (start.image(*u), *seed)).collect();
        let rules = Bare::new(a, b, &seeds_a, &seeds_b);
        if rules.colours[0].whole() != rules.colours[1].whole() {
            return;
        }
        let mut steps = self.left.min(40 * u64::from(a.len()));
        let (mut tried, mut map) = (0, start.clone());
        Matcher::default().search((a, 0..a.len()), (b, 0..b.len()), &rules, &mut steps, |image| {
            map.take_over(&start);
            for (u, v) in (0..).zip(image) {
                if map.image(u) != *v {
                    map.assign(u, *v);
                }
            }
            let total = map.total();
            if total < *cost {
                *cost = total;
                best.take_over(&map);
            }
            tried += 1;
            *cost <= least || tried >= 64
        });
    }
}

/// Elements and connection alone.
struct Bare {
    colours: [Colours; 2],
}

impl Bare {
    fn new(a: &Skeleton, b: &Skeleton, seeds_a: &[(u32, u64)], seeds_b: &[(u32, u64)]) -> Self {
        let mut colours = [Colours::default(), Colours::default()];
        colours[0].refine(a, Orders::Bare, seeds_a);
        colours[1].refine(b, Orders::Bare, seeds_b);
        Self { colours }
    }
}

impl Rules for Bare {
    fn class_a(&self, node: u32) -> u64 {
        self.colours[0].of(node)
    }

    fn class_b(&self, node: u32) -> u64 {
        self.colours[1].of(node)
    }

    fn nodes(&self, _: u32, _: u32) -> bool {
        true
    }

    fn arcs(&self, _: &Arc, _: &Arc) -> bool {
        true
    }
}
