//! What every correspondence must cost at least: kinds of atoms and bonds that the two sides have in different numbers.

use super::NONE;
use super::cost::{ELEMENT, ORDER, PROPERTY};
use crate::structure::canon::Orders;
use crate::structure::skeleton::{Arc, Node, Skeleton};

/// How many more of each kind one side has than the other.
#[derive(Debug, Clone, Default)]
struct Surplus {
    by_kind: Vec<i32>,
    /// Of the first side, and of the second.
    total: [i32; 2],
}

impl Surplus {
    fn new(kinds: usize) -> Self {
        Self { by_kind: vec![0; kinds], total: [0; 2] }
    }

    /// The greater of both sides' surplus: so many at least have a difference.
    fn most(&self) -> u32 {
        self.total[0].max(self.total[1]).max(0).cast_unsigned()
    }

    /// Counts so many of a kind in on the first side, or out on the second; negative ones the other way round.
    fn count(&mut self, kind: usize, by: i32) {
        let Some(surplus) = self.by_kind.get_mut(kind) else { return };
        self.total[0] -= (*surplus).max(0);
        self.total[1] -= (-*surplus).max(0);
        *surplus += by;
        self.total[0] += (*surplus).max(0);
        self.total[1] += (-*surplus).max(0);
    }
}

/// What atoms are sorted by: everything together, and each property by itself with what a difference in it costs.
const SORTS: usize = 5;
const WEIGHTS: [u32; SORTS] = [PROPERTY, ELEMENT, PROPERTY, PROPERTY, PROPERTY];

/// Everything together, as a number for each sort.
fn sorts(node: &Node) -> [u64; SORTS] {
    let Node { element, isotope, charge, hydrogens, .. } = *node;
    [
        Orders::Drawn.node_code(node),
        u64::from(element.number()),
        u64::from(charge.cast_unsigned()),
        u64::from(hydrogens),
        isotope.map_or(0, |mass| u64::from(mass) + 1),
    ]
}

/// The least cost of what is not decided yet.
#[derive(Debug, Clone)]
pub(super) struct Bound {
    atoms: [Surplus; SORTS],
    orders: Surplus,
    /// By side and node: what it is, everything together.
    whats: [Vec<u32>; 2],
    /// What is what in each sort.
    kinds: Vec<[u32; SORTS]>,
    any_order: Orders,
}

/// Orders are counted up to this one.
const MOST_ORDER: usize = 8;

impl Bound {
    /// A bound for the nodes of both sides, with nothing decided.
    pub(super) fn new(a: &Skeleton, b: &Skeleton, of_a: &[u32], of_b: &[u32]) -> Self {
        let sides = [(a, of_a), (b, of_b)];
        let mut codes: Vec<[u64; SORTS]> =
            sides.iter().flat_map(|(side, nodes)| nodes.iter().map(|node| sorts(side.node(*node)))).collect();
        // By everything together, which tells the rest but for absurd masses; to confuse those makes the bound no greater.
        codes.sort_unstable_by_key(|code| code[0]);
        codes.dedup_by_key(|code| code[0]);
        // Atoms are of few kinds, so that sorting those is cheaper than sorting atoms.
        let mut kinds = vec![[0; SORTS]; codes.len()];
        let atoms = std::array::from_fn(|sort| {
            let mut values: Vec<u64> = codes.iter().map(|code| code[sort]).collect();
            values.sort_unstable();
            values.dedup();
            for (kinds, code) in kinds.iter_mut().zip(&codes) {
                kinds[sort] = values.partition_point(|value| *value < code[sort]) as u32;
            }
            Surplus::new(values.len())
        });
        let whats = sides.map(|(side, nodes)| {
            let mut whats = vec![u32::MAX; side.len() as usize];
            for node in nodes {
                let code = sorts(side.node(*node))[0];
                whats[*node as usize] = codes.partition_point(|own| own[0] < code) as u32;
            }
            whats
        });
        let any_order = if a.has_free() || b.has_free() { Orders::Free } else { Orders::Drawn };
        let mut bound = Self { atoms, orders: Surplus::new(MOST_ORDER + 1), whats, kinds, any_order };
        let mut more = vec![0; codes.len()];
        for (at, (_, nodes)) in sides.iter().enumerate() {
            let by = if at == 0 { 1 } else { -1 };
            nodes.iter().for_each(|node| more[bound.whats[at][*node as usize] as usize] += by);
        }
        for (what, more) in more.into_iter().enumerate() {
            bound.count(what, more);
        }
        bound
    }

    fn count(&mut self, what: usize, by: i32) {
        if by != 0 {
            for (surplus, kind) in self.atoms.iter_mut().zip(self.kinds[what]) {
                surplus.count(kind as usize, by);
            }
        }
    }

    /// Counts a node of either side in (1) or out (-1); `NONE` for no node.
    pub(super) fn nodes(&mut self, u: u32, v: u32, by: i32) {
        let what = |side: usize, node: u32| if node == NONE { None } else { Some(self.whats[side][node as usize]) };
        let (of_u, of_v) = (what(0, u), what(1, v));
        // Of one kind they cancel out.
        if of_u == of_v {
            return;
        }
        for (what, by) in [(of_u, by), (of_v, -by)] {
            if let Some(what) = what {
                self.count(what as usize, by);
            }
        }
    }

    /// Counts bonds of both sides in (1) or out (-1).
    pub(super) fn bonds<'a>(
        &mut self,
        of_a: impl Iterator<Item = &'a Arc>,
        of_b: impl Iterator<Item = &'a Arc>,
        by: i32,
    ) {
        let mut more = [0; MOST_ORDER + 1];
        let any_order = self.any_order;
        let kind = |arc: &Arc| {
            let order = if any_order == Orders::Drawn { arc.order } else { arc.order.max(2) };
            usize::from(order).min(MOST_ORDER)
        };
        of_a.for_each(|arc| more[kind(arc)] += by);
        of_b.for_each(|arc| more[kind(arc)] -= by);
        for (kind, more) in more.into_iter().enumerate() {
            if more != 0 {
                self.orders.count(kind, more);
            }
        }
    }

    /// The least cost of what is counted in. An atom that is left over counts in every sort and costs more than all of them.
    pub(super) fn least(&self) -> u32 {
        let costs = std::array::from_fn::<u32, SORTS, _>(|at| self.atoms[at].most() * WEIGHTS[at]);
        costs[0].max(costs[1..].iter().sum()) + self.orders.most() * ORDER
    }
}
