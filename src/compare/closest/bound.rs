//! What every correspondence must cost at least: kinds of atoms and bonds that the two sides have in different numbers.

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

    /// Counts one of a kind in (`by` = 1) or out (-1) on the first side; the other way round on the second.
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

fn sort(skeleton: &Skeleton, node: u32, sort: usize) -> u64 {
    let Node { element, isotope, charge, hydrogens, .. } = *skeleton.node(node);
    match sort {
        0 => Orders::Drawn.node_code(skeleton.node(node)),
        1 => u64::from(element.number()),
        2 => u64::from(charge.cast_unsigned()),
        3 => u64::from(hydrogens),
        _ => isotope.map_or(0, |mass| u64::from(mass) + 1),
    }
}

/// The least cost of what is not decided yet.
#[derive(Debug, Clone)]
pub(super) struct Bound {
    atoms: [Surplus; SORTS],
    orders: Surplus,
    /// By side and node: its kind in each sort.
    kinds: [Vec<[u32; SORTS]>; 2],
    any_order: Orders,
}

/// Orders are counted up to this one.
const MOST_ORDER: usize = 8;

impl Bound {
    /// A bound for the nodes of both sides, with nothing decided.
    pub(super) fn new(a: &Skeleton, b: &Skeleton, of_a: &[u32], of_b: &[u32]) -> Self {
        let sides = [(a, of_a), (b, of_b)];
        let mut kinds = sides.map(|(side, _)| vec![[u32::MAX; SORTS]; side.len() as usize]);
        let atoms = std::array::from_fn(|at| {
            let mut codes: Vec<u64> =
                sides.iter().flat_map(|(side, nodes)| nodes.iter().map(|node| sort(side, *node, at))).collect();
            codes.sort_unstable();
            codes.dedup();
            for ((side, nodes), kinds) in sides.iter().zip(&mut kinds) {
                for node in *nodes {
                    let kind = codes.binary_search(&sort(side, *node, at));
                    kinds[*node as usize][at] = kind.map_or(u32::MAX, |kind| kind as u32);
                }
            }
            Surplus::new(codes.len())
        });
        let any_order = if a.has_free() || b.has_free() { Orders::Free } else { Orders::Drawn };
        let mut bound = Self { atoms, orders: Surplus::new(MOST_ORDER + 1), kinds, any_order };
        for (side, (_, nodes)) in sides.iter().enumerate() {
            for node in *nodes {
                bound.node(side, *node, 1);
            }
        }
        bound
    }

    /// Counts a node of a side in (1) or out (-1).
    pub(super) fn node(&mut self, side: usize, node: u32, by: i32) {
        let by = if side == 0 { by } else { -by };
        for (surplus, kind) in self.atoms.iter_mut().zip(self.kinds[side][node as usize]) {
            surplus.count(kind as usize, by);
        }
    }

    /// Counts a bond of a side in (1) or out (-1).
    pub(super) fn bond(&mut self, side: usize, arc: &Arc, by: i32) {
        let by = if side == 0 { by } else { -by };
        let order = if self.any_order == Orders::Drawn { arc.order } else { arc.order.max(2) };
        self.orders.count(usize::from(order).min(MOST_ORDER), by);
    }

    /// The least cost of what is counted in. An atom that is left over counts in every sort and costs more than all of them.
    pub(super) fn least(&self) -> u32 {
        let costs = std::array::from_fn::<u32, SORTS, _>(|at| self.atoms[at].most() * WEIGHTS[at]);
        costs[0].max(costs[1..].iter().sum()) + self.orders.most() * ORDER
    }
}
