//! What every correspondence must cost at least: kinds of atoms and bonds that the two sides have in different numbers.
//!
//! [`least`] counts once; [`Bound`] keeps the count while nodes are decided and undone.

use super::NONE;
use super::cost::{ATOM, BOND, ELEMENT, FURTHER, LOOSE_BOND, MOST_FURTHER, Map, ORDER, PROPERTY};
use crate::structure::canon::Orders;
use crate::structure::skeleton::{Arc, Node, Skeleton};
use smallvec::SmallVec;

/// How many more atoms or bonds the first side has of some kinds, and the second of others.
type Total = [i32; 2];

/// What so many more of a kind on the first side, or fewer on the second, change in the total.
#[inline]
fn change(surplus: i32, by: i32) -> Total {
    let after = surplus + by;
    [after.max(0) - surplus.max(0), (-after).max(0) - (-surplus).max(0)]
}

#[inline]
fn add(one: Total, other: Total) -> Total {
    [one[0] + other[0], one[1] + other[1]]
}

/// The greater of both sides' surplus: so many at least have a difference.
#[inline]
fn greater(total: Total) -> u32 {
    total[0].max(total[1]).max(0).cast_unsigned()
}

/// What is to be counted out together: nodes that stand for each other and the bonds that are decided by that.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pair {
    /// What the nodes are, if they are there.
    whats: [Option<u32>; 2],
    /// How many more bonds of each kind the first side has.
    bonds: Bonds,
}

/// What atoms are sorted by: everything together, and each property by itself with what a difference in it costs.
const SORTS: usize = 5;
/// The sorts by charge and by hydrogens.
const CHARGE: usize = 2;
const HYDROGENS: usize = 3;
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

/// What differences of atoms cost at least, by the number of atoms in each sort that have one. An atom that is left over counts in
/// every sort and costs more than all of them.
fn cost_of(atoms: [u32; SORTS]) -> u32 {
    let costs: [u32; SORTS] = std::array::from_fn(|sort| atoms[sort] * WEIGHTS[sort]);
    costs[0].max(costs[1..].iter().sum())
}

/// Nodes that one side has (1) and the other has not (-1), by what they are.
type Odd = SmallVec<[([u64; SORTS], i32); 8]>;

/// The nodes of both sides that have no like. The map may be any of just these nodes: what stands for its like on the other side
/// cancels out, so that only the others have to be counted.
fn odd_nodes(map: &Map<'_>, of_a: &[u32], of_b: &[u32]) -> Odd {
    let mut odd = Odd::new();
    for u in of_a {
        let one = map.a.node(*u);
        match map.image(*u) {
            NONE => odd.push((sorts(one), 1)),
            v => {
                let other = map.b.node(v);
                let what = |node: &Node| (node.element, node.hydrogens, node.charge, node.isotope);
                if what(one) != what(other) {
                    odd.extend([(sorts(one), 1), (sorts(other), -1)]);
                }
            }
        }
    }
    odd.extend(of_b.iter().filter(|v| map.source(**v) == NONE).map(|v| (sorts(map.b.node(*v)), -1)));
    odd
}

/// In each sort, how many atoms have a difference at least.
fn atoms_of_odd(odd: &mut Odd) -> [u32; SORTS] {
    std::array::from_fn(|sort| {
        odd.sort_unstable_by_key(|(codes, _)| codes[sort]);
        let kinds = odd.chunk_by(|one, two| one.0[sort] == two.0[sort]);
        most_of(kinds.map(|kind| kind.iter().map(|(_, by)| by).sum()))
    })
}

/// What atoms cost at least where every one stands for one: all charges together differ by so many units, and all hydrogens.
fn cost_of_matched(odd: &mut Odd) -> u32 {
    let atoms = atoms_of_odd(odd);
    let (mut charge, mut hydrogens) = (0_i64, 0_i64);
    for (codes, by) in &*odd {
        charge += i64::from(*by) * i64::from((codes[CHARGE] as u16).cast_signed());
        hydrogens += i64::from(*by) * i64::from(codes[HYDROGENS] as u16);
    }
    // The first unit at an atom is in what a difference costs; beyond some units, more of them at one atom cost nothing.
    let further = |units: i64, sort: usize| {
        let units = units.unsigned_abs().min(u64::from(MOST_FURTHER) + 1) as u32;
        units.saturating_sub(atoms[sort]) * FURTHER
    };
    let costs = |sort: usize| atoms[sort] * WEIGHTS[sort];
    let singly: u32 = (1..SORTS).map(costs).sum();
    costs(0).max(singly + further(charge, CHARGE) + further(hydrogens, HYDROGENS))
}

/// What bonds cost at least where every node stands for one: a bond beyond the number of the other side stands for none.
fn cost_of_bonds(bonds: &Bonds) -> u32 {
    let total = bonds.iter().fold([0, 0], |total, more| add(total, change(0, *more)));
    greater(total) * ORDER + total[0].abs_diff(total[1]) * (BOND - ORDER)
}

/// The least cost of nodes of both sides and of bonds, nothing being decided.
pub(super) fn least(map: &Map<'_>, of_a: &[u32], of_b: &[u32], bonds: &Bonds) -> u32 {
    let mut odd = odd_nodes(map, of_a, of_b);
    let least = cost_of(atoms_of_odd(&mut odd)) + most_of(bonds.iter().copied()) * ORDER;
    // Where both sides have as many nodes, none or two of them stand for nothing.
    let mut matched = || cost_of_matched(&mut odd) + cost_of_bonds(bonds);
    if of_a.len() == of_b.len() { least.max(matched().min(2 * ATOM)) } else { least }
}

/// As [`least`], where one side has one node more, and as close as can be had by looking at each node that may be the one.
pub(super) fn least_but_one(map: &Map<'_>, of_a: &[u32], of_b: &[u32], bonds: &Bonds) -> u32 {
    let (side, nodes, by) = match of_a.len().cast_signed() - of_b.len().cast_signed() {
        1 => (map.a, of_a, -1),
        -1 => (map.b, of_b, 1),
        _ => return 0,
    };
    let any_order = any_order(map.a, map.b);
    let odd = odd_nodes(map, of_a, of_b);
    let mut seen: SmallVec<[(u64, Bonds); 16]> = SmallVec::new();
    // Else three nodes stand for nothing.
    let mut least = 3 * ATOM;
    for node in nodes {
        let (own, arcs) = (sorts(side.node(*node)), side.arcs(*node));
        let mut rest = *bonds;
        for arc in arcs {
            rest[kind(any_order, arc)] += by;
        }
        if seen.contains(&(own[0], rest)) {
            continue;
        }
        if seen.len() == seen.inline_size() {
            return 0;
        }
        seen.push((own[0], rest));
        let mut odd = odd.clone();
        odd.push((own, by));
        least = least.min(ATOM + LOOSE_BOND * arcs.len() as u32 + cost_of_matched(&mut odd) + cost_of_bonds(&rest));
    }
    least
}

/// The greater of both sides' surplus, by kinds.
fn most_of(kinds: impl Iterator<Item = i32>) -> u32 {
    greater(kinds.fold([0, 0], |total, more| add(total, change(0, more))))
}

/// Orders are counted up to this one.
const MOST_ORDER: usize = 8;

/// How many more bonds of each kind the first side has.
pub(super) type Bonds = [i32; MOST_ORDER + 1];

/// Whether orders 1 and 2 are one kind of bond.
pub(super) fn any_order(a: &Skeleton, b: &Skeleton) -> bool {
    a.has_free() || b.has_free()
}

/// The kind of a bond.
#[inline]
pub(super) fn kind(any_order: bool, arc: &Arc) -> usize {
    let order = if any_order { arc.order.max(2) } else { arc.order };
    usize::from(order).min(MOST_ORDER)
}

/// The least cost of what is not decided yet.
#[derive(Debug, Clone)]
pub(super) struct Bound {
    /// By side and node: what it is, everything together.
    whats: [Vec<u32>; 2],
    /// What is what in each sort, as a place in `surplus`.
    kinds: Vec<[u32; SORTS]>,
    /// How many more atoms of each kind the first side has.
    surplus: Vec<i32>,
    atoms: [Total; SORTS],
    /// What these cost at least.
    atoms_left: u32,
    /// How many more bonds of each kind it has.
    orders: Bonds,
    bonds: Total,
    any_order: bool,
}

impl Bound {
    /// A bound for nodes of both sides and the bonds that are decided with them.
    pub(super) fn new(a: &Skeleton, b: &Skeleton, of_a: &[u32], of_b: &[u32], open: &Bonds) -> Self {
        let sides = [(a, of_a), (b, of_b)];
        let all = sides.iter().flat_map(|(side, nodes)| nodes.iter().map(|node| sorts(side.node(*node))));
        let mut codes: Vec<[u64; SORTS]> = all.collect();
        // By everything together, which tells the rest but for absurd masses; to confuse those makes the bound no greater.
        codes.sort_unstable_by_key(|code| code[0]);
        codes.dedup_by_key(|code| code[0]);
        // Atoms are of few kinds, so that sorting those is cheaper than sorting atoms.
        let mut kinds = vec![[0; SORTS]; codes.len()];
        let mut places = 0;
        let mut values: Vec<u64> = Vec::with_capacity(codes.len());
        for sort in 0..SORTS {
            values.clear();
            values.extend(codes.iter().map(|code| code[sort]));
            values.sort_unstable();
            values.dedup();
            for (kinds, code) in kinds.iter_mut().zip(&codes) {
                kinds[sort] = (places + values.partition_point(|value| *value < code[sort])) as u32;
            }
            places += values.len();
        }
        let whats = sides.map(|(side, nodes)| {
            let mut whats = vec![u32::MAX; side.len() as usize];
            for node in nodes {
                let code = sorts(side.node(*node))[0];
                whats[*node as usize] = codes.partition_point(|own| own[0] < code) as u32;
            }
            whats
        });
        let mut more = vec![0; codes.len()];
        for ((whats, (_, nodes)), by) in whats.iter().zip(sides).zip([1, -1]) {
            for node in nodes {
                more[whats[*node as usize] as usize] += by;
            }
        }
        let (surplus, atoms, orders, bonds) = (vec![0; places], [[0; 2]; SORTS], Bonds::default(), [0; 2]);
        let any_order = any_order(a, b);
        let mut bound = Self { whats, kinds, surplus, atoms, atoms_left: 0, orders, bonds, any_order };
        for (what, more) in more.into_iter().enumerate().filter(|(_, more)| *more != 0) {
            for sort in 0..SORTS {
                bound.count(sort, bound.kinds[what][sort], more);
            }
        }
        bound.count_bonds(open, 1);
        bound.atoms_left = cost_of(bound.atoms.map(greater));
        bound
    }

    /// Counts so many atoms of a kind in on the first side, or out on the second; negative ones the other way round.
    fn count(&mut self, sort: usize, kind: u32, by: i32) {
        let surplus = &mut self.surplus[kind as usize];
        self.atoms[sort] = add(self.atoms[sort], change(*surplus, by));
        *surplus += by;
    }

    /// Counts bonds of both sides in (1) or out (-1).
    fn count_bonds(&mut self, more: &Bonds, by: i32) {
        for (surplus, more) in self.orders.iter_mut().zip(more).filter(|(_, more)| **more != 0) {
            self.bonds = add(self.bonds, change(*surplus, more * by));
            *surplus += more * by;
        }
    }

    /// Nodes of both sides (`NONE` for no node) and bonds of both.
    pub(super) fn pair(&self, u: u32, v: u32, bonds: Bonds) -> Pair {
        Pair { whats: self.whats_of(u, v), bonds }
    }

    /// How many more of bonds of the first side there are than of bonds of the second, by kinds.
    pub(super) fn bonds_of<'a>(
        &self,
        of_u: impl Iterator<Item = &'a Arc>,
        of_v: impl Iterator<Item = &'a Arc>,
    ) -> Bonds {
        let mut bonds = Bonds::default();
        of_u.for_each(|arc| bonds[kind(self.any_order, arc)] += 1);
        self.less(bonds, of_v)
    }

    /// So many bonds, less bonds of the second side.
    #[inline]
    pub(super) fn less<'a>(&self, mut bonds: Bonds, of_v: impl Iterator<Item = &'a Arc>) -> Bonds {
        of_v.for_each(|arc| bonds[kind(self.any_order, arc)] -= 1);
        bonds
    }

    /// Counts a pair in (1) or out (-1).
    pub(super) fn count_pair(&mut self, pair: &Pair, by: i32) {
        if pair.whats[0] != pair.whats[1] {
            for sort in 0..SORTS {
                let [one, other] = self.unlike(pair, sort);
                if let Some(kind) = one {
                    self.count(sort, kind, by);
                }
                if let Some(kind) = other {
                    self.count(sort, kind, -by);
                }
            }
            self.atoms_left = cost_of(self.atoms.map(greater));
        }
        if pair.bonds != Bonds::default() {
            self.count_bonds(&pair.bonds, by);
        }
    }

    /// The least cost of the atoms that are counted in, were nodes counted out (`NONE` for no node).
    pub(super) fn atoms_behind(&self, u: u32, v: u32) -> u32 {
        let whats = self.whats_of(u, v);
        // What is alike cancels out.
        if whats[0] == whats[1] { self.atoms_left } else { cost_of(self.atoms_without(whats).map(greater)) }
    }

    /// The least cost of the bonds that are counted in.
    pub(super) fn bonds_left(&self) -> u32 {
        greater(self.bonds) * ORDER
    }

    /// The least cost of the bonds that are counted in, were some of them counted out.
    pub(super) fn bonds_behind(&self, decided: &Bonds) -> u32 {
        let mut bonds = self.bonds;
        if *decided != Bonds::default() {
            for (surplus, more) in self.orders.iter().zip(decided).filter(|(_, more)| **more != 0) {
                bonds = add(bonds, change(*surplus, -more));
            }
        }
        greater(bonds) * ORDER
    }

    /// The totals of atoms, were nodes counted out.
    #[inline]
    fn atoms_without(&self, whats: [Option<u32>; 2]) -> [Total; SORTS] {
        let mut atoms = self.atoms;
        let less = |kind: u32| change(self.surplus[kind as usize], -1);
        let more = |kind: u32| change(self.surplus[kind as usize], 1);
        match whats.map(|what| what.map(|what| &self.kinds[what as usize])) {
            [Some(one), Some(other)] => {
                for (total, (one, other)) in atoms.iter_mut().zip(one.iter().zip(other)) {
                    // What is alike cancels out.
                    if one != other {
                        *total = add(*total, add(less(*one), more(*other)));
                    }
                }
            }
            [Some(one), None] => atoms.iter_mut().zip(one).for_each(|(total, kind)| *total = add(*total, less(*kind))),
            [None, Some(other)] => {
                atoms.iter_mut().zip(other).for_each(|(total, kind)| *total = add(*total, more(*kind)));
            }
            [None, None] => {}
        }
        atoms
    }

    /// Number of different whats.
    pub(super) fn whats(&self) -> usize {
        self.kinds.len()
    }

    /// What a node of `b` is.
    #[inline]
    pub(super) fn what(&self, v: u32) -> usize {
        self.whats[1][v as usize] as usize
    }

    /// What a node of `a` is.
    #[inline]
    pub(super) fn what_of_a(&self, u: u32) -> usize {
        self.whats[0][u as usize] as usize
    }

    fn whats_of(&self, u: u32, v: u32) -> [Option<u32>; 2] {
        let what = |side: usize, node: u32| if node == NONE { None } else { Some(self.whats[side][node as usize]) };
        [what(0, u), what(1, v)]
    }

    /// What the nodes of a pair are in one sort, unless they are alike and cancel out.
    #[inline]
    fn unlike(&self, pair: &Pair, sort: usize) -> [Option<u32>; 2] {
        let kinds = pair.whats.map(|what| what.map(|what| self.kinds[what as usize][sort]));
        if kinds[0] == kinds[1] { [None; 2] } else { kinds }
    }
}
