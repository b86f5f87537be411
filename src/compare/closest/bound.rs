//! What every correspondence must cost at least: kinds of atoms and bonds that the two sides have in different numbers.
//!
//! [`least`] counts once; [`Bound`] keeps the count while nodes are decided and undone.

use super::NONE;
use super::cost::{ELEMENT, Map, ORDER, PROPERTY};
use crate::structure::canon::Orders;
use crate::structure::skeleton::{Arc, Node, Skeleton};
use smallvec::SmallVec;

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

    /// Counts so many of a kind in on the first side, or out on the second; negative ones the other way round.
    fn count(&mut self, kind: usize, by: i32) {
        self.total = add(self.total, self.change(kind, by));
        self.by_kind[kind] += by;
    }

    /// What that would change in the totals.
    #[inline]
    fn change(&self, kind: usize, by: i32) -> [i32; 2] {
        let (before, after) = (self.by_kind[kind], self.by_kind[kind] + by);
        [after.max(0) - before.max(0), (-after).max(0) - (-before).max(0)]
    }
}

fn add(one: [i32; 2], other: [i32; 2]) -> [i32; 2] {
    [one[0] + other[0], one[1] + other[1]]
}

/// The greater of both sides' surplus: so many at least have a difference.
fn greater(total: [i32; 2]) -> u32 {
    total[0].max(total[1]).max(0).cast_unsigned()
}

/// What is to be counted out together: nodes that stand for each other and the bonds that are decided by that.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// What the nodes are, if they are there.
    whats: [Option<u32>; 2],
    /// How many more bonds of each kind the first side has.
    bonds: [i32; MOST_ORDER + 1],
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

/// What differences cost at least, by the number of atoms in each sort that have one, and that of bonds. An atom that is
/// left over counts in every sort and costs more than all of them.
fn cost_of(atoms: [u32; SORTS], bonds: u32) -> u32 {
    let costs: [u32; SORTS] = std::array::from_fn(|sort| atoms[sort] * WEIGHTS[sort]);
    costs[0].max(costs[1..].iter().sum()) + bonds * ORDER
}

/// The least cost of nodes of both sides and of bonds, nothing being decided. The map may be any of just these nodes: what
/// stands for its like on the other side cancels out, so that only the others have to be counted.
pub(super) fn least<'s>(
    map: &Map<'_>,
    of_a: &[u32],
    of_b: &[u32],
    bonds_a: impl Iterator<Item = &'s Arc>,
    bonds_b: impl Iterator<Item = &'s Arc>,
) -> u32 {
    let mut odd: SmallVec<[([u64; SORTS], i32); 8]> = SmallVec::new();
    for u in of_a {
        let one = map.a.node(*u);
        match map.image(*u) {
            NONE => odd.push((sorts(one), 1)),
            v => {
                let other = map.b.node(v);
                if Orders::Drawn.node_code(one) != Orders::Drawn.node_code(other) {
                    odd.extend([(sorts(one), 1), (sorts(other), -1)]);
                }
            }
        }
    }
    odd.extend(of_b.iter().filter(|v| map.source(**v) == NONE).map(|v| (sorts(map.b.node(*v)), -1)));
    let atoms = std::array::from_fn(|sort| {
        odd.sort_unstable_by_key(|(codes, _)| codes[sort]);
        let kinds = odd.chunk_by(|one, two| one.0[sort] == two.0[sort]);
        most_of(kinds.map(|kind| kind.iter().map(|(_, by)| by).sum()))
    });
    cost_of(atoms, most_of(surplus(any_order(map.a, map.b), bonds_a, bonds_b).into_iter()))
}

/// The greater of both sides' surplus, by kinds.
fn most_of(kinds: impl Iterator<Item = i32>) -> u32 {
    greater(kinds.fold([0, 0], |total, more| add(total, [more.max(0), (-more).max(0)])))
}

/// Orders are counted up to this one.
const MOST_ORDER: usize = 8;

/// Whether orders 1 and 2 are one kind of bond.
fn any_order(a: &Skeleton, b: &Skeleton) -> bool {
    a.has_free() || b.has_free()
}

/// How many more bonds of each kind the first side has.
fn surplus<'s>(
    any_order: bool,
    of_a: impl Iterator<Item = &'s Arc>,
    of_b: impl Iterator<Item = &'s Arc>,
) -> [i32; MOST_ORDER + 1] {
    let mut more = [0; MOST_ORDER + 1];
    let kind = |arc: &Arc| {
        let order = if any_order { arc.order.max(2) } else { arc.order };
        usize::from(order).min(MOST_ORDER)
    };
    of_a.for_each(|arc| more[kind(arc)] += 1);
    of_b.for_each(|arc| more[kind(arc)] -= 1);
    more
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
    any_order: bool,
}

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
        let any_order = any_order(a, b);
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

    /// Nodes of both sides (`NONE` for no node) and bonds of both.
    pub(super) fn pair<'a>(
        &self,
        u: u32,
        v: u32,
        of_u: impl Iterator<Item = &'a Arc>,
        of_v: impl Iterator<Item = &'a Arc>,
    ) -> Pair {
        let what = |side: usize, node: u32| if node == NONE { None } else { Some(self.whats[side][node as usize]) };
        Pair { whats: [what(0, u), what(1, v)], bonds: surplus(self.any_order, of_u, of_v) }
    }

    /// Counts a pair in (1) or out (-1).
    pub(super) fn count_pair(&mut self, pair: &Pair, by: i32) {
        let [one, other] = pair.whats;
        if one != other {
            for (sort, surplus) in self.atoms.iter_mut().enumerate() {
                for (kind, more) in changes(&self.kinds, pair, sort).into_iter().flatten() {
                    surplus.count(kind, more * by);
                }
            }
        }
        self.count_bonds(&pair.bonds, by);
    }

    /// Counts bonds of both sides in.
    pub(super) fn bonds<'a>(&mut self, of_a: impl Iterator<Item = &'a Arc>, of_b: impl Iterator<Item = &'a Arc>) {
        self.count_bonds(&surplus(self.any_order, of_a, of_b), 1);
    }

    fn count_bonds(&mut self, more: &[i32; MOST_ORDER + 1], by: i32) {
        for (kind, more) in more.iter().enumerate().filter(|(_, more)| **more != 0) {
            self.orders.count(kind, more * by);
        }
    }

    /// The least cost of what is counted in, were a pair counted out.
    pub(super) fn least_without(&self, pair: &Pair) -> u32 {
        let [one, other] = pair.whats;
        let mut atoms = self.atoms.each_ref().map(|surplus| surplus.total);
        if one != other {
            for (sort, total) in atoms.iter_mut().enumerate() {
                for (kind, more) in changes(&self.kinds, pair, sort).into_iter().flatten() {
                    *total = add(*total, self.atoms[sort].change(kind, -more));
                }
            }
        }
        let mut bonds = self.orders.total;
        for (kind, more) in pair.bonds.iter().enumerate().filter(|(_, more)| **more != 0) {
            bonds = add(bonds, self.orders.change(kind, -more));
        }
        cost_of(atoms.map(greater), greater(bonds))
    }
}

/// The kinds of one sort of which a pair has one more or fewer. What is alike on both sides cancels out.
#[inline]
fn changes(kinds: &[[u32; SORTS]], pair: &Pair, sort: usize) -> [Option<(usize, i32)>; 2] {
    let [one, other] = pair.whats.map(|what| what.map(|what| kinds[what as usize][sort]));
    if one == other {
        return [None; 2];
    }
    [one.map(|kind| (kind as usize, 1)), other.map(|kind| (kind as usize, -1))]
}
