//! The principle of minimal chemical distance: of all correspondences, the one under which the fewest bonds are broken and made
//! (Jochum, Gasteiger and Ugi, Angew. Chem. Int. Ed. Engl. 1980, 19, 495).
//!
//! A correspondence that is good by another measure is brought closer by exchanges: two atoms of one kind change partners, and then
//! atoms beside them, as long as the sum does not have to rise by much on the way. Every exchange looked at takes one from the limit.

use super::Mapping;
use super::difference::{is_folded, total_hydrogens};
use crate::structure::{AtomId, Element, Structure};

/// What one bond order weighs; a unit of charge weighs one.
const BOND: u32 = 64;
/// What one hydrogen weighs: a bond, and that of two ways as short the one that moves no hydrogen is taken.
const HYDROGEN: u32 = BOND + 8;
/// Exchanges in a row that have to bring nothing yet.
const DEPTH: usize = 6;
/// Atoms of drawings that are looked at, at most.
const ATOMS: usize = 256;

/// Exchanges partners of atoms while that lowers the chemical distance. Pairs that are `fixed` stay.
pub(super) fn bring_closer(
    start: &Structure,
    answer: &Structure,
    mapping: &mut Mapping,
    fixed: &Mapping,
    mut steps: u64,
) {
    if start.atom_count() > ATOMS || answer.atom_count() > ATOMS {
        return;
    }
    let atoms: Vec<AtomId> = start
        .atom_ids()
        .filter(|atom| mapping.stated(*atom).is_some() && fixed.stated(*atom).is_none() && !is_folded(start, *atom))
        .collect();
    let sides = [Side::new(start), Side::new(answer)];
    let mut map = Map { start, answer, mapping, atoms, steps: &mut steps, sides };
    while map.improve() {}
    if map.atoms.len() <= SMALL {
        map.search();
    }
}

/// Atoms of a drawing in which every correspondence may be looked for.
const SMALL: usize = 24;

/// A bond as seen from one of its atoms.
#[derive(Clone, Copy)]
struct Link {
    to: AtomId,
    order: u32,
    aromatic: bool,
}

/// A drawing, laid out for many looks at the bonds of its atoms.
struct Side {
    /// Bonds atom by atom, and where those of each atom begin.
    links: Vec<Link>,
    begins: Vec<usize>,
    /// Hydrogens on each atom.
    hydrogens: Vec<u32>,
}

impl Side {
    fn new(structure: &Structure) -> Self {
        let mut side = Self { links: Vec::new(), begins: vec![0], hydrogens: Vec::new() };
        for atom in structure.atom_ids() {
            side.links.extend(structure.neighbours(atom).map(|(to, bond)| {
                let bond = structure.bond(bond);
                Link { to, order: bond.order.into(), aromatic: bond.aromatic }
            }));
            side.begins.push(side.links.len());
            side.hydrogens.push(total_hydrogens(structure, atom));
        }
        side
    }

    fn links(&self, atom: AtomId) -> &[Link] {
        &self.links[self.begins[atom.index()]..self.begins[atom.index() + 1]]
    }

    fn between(&self, one: AtomId, other: AtomId) -> Option<&Link> {
        self.links(one).iter().find(|link| link.to == other)
    }
}

/// A partner that an atom may have, behind what it costs.
type Partner = (u32, AtomId);

struct Map<'a> {
    start: &'a Structure,
    answer: &'a Structure,
    mapping: &'a mut Mapping,
    /// Atoms whose partners may change.
    atoms: Vec<AtomId>,
    steps: &'a mut u64,
    /// Start and answer.
    sides: [Side; 2],
}

impl Map<'_> {
    /// What differs at an atom.
    fn cost(&self, atom: AtomId) -> u32 {
        self.mapping.stated(atom).map_or(0, |image| self.sum_at(self.mapping, (atom, image), |_| true))
    }

    fn exchange(&mut self, one: AtomId, other: AtomId) {
        let images = (self.mapping.stated(one), self.mapping.stated(other));
        if let (Some(of_one), Some(of_other)) = images {
            self.mapping.pair(one, of_other);
            self.mapping.pair(other, of_one);
        }
    }

    /// By how much an exchange changes the sum.
    fn change(&mut self, one: AtomId, other: AtomId) -> i64 {
        *self.steps = self.steps.saturating_sub(1);
        let before = self.cost(one) + self.cost(other);
        self.exchange(one, other);
        let after = self.cost(one) + self.cost(other);
        self.exchange(one, other);
        i64::from(after) - i64::from(before)
    }

    /// Whether two atoms are of one kind and stand for different atoms.
    fn may_exchange(&self, one: AtomId, other: AtomId) -> bool {
        let kind = |atom: AtomId| {
            let own = self.start.atom(atom);
            (own.element, own.isotope)
        };
        one != other && kind(one) == kind(other) && self.start.atom(one).element != Element::ANY
    }

    /// One exchange, or several in a row, that lower the sum.
    fn improve(&mut self) -> bool {
        let costs = self.atoms.iter().map(|atom| (self.cost(*atom), *atom));
        let mut costly: Vec<(u32, AtomId)> = costs.filter(|(cost, _)| *cost > 0).collect();
        costly.sort_by_key(|(cost, _)| std::cmp::Reverse(*cost));
        let mut level = Vec::new();
        for (_, one) in &costly {
            for at in 0..self.atoms.len() {
                let other = self.atoms[at];
                if !self.may_exchange(*one, other) {
                    continue;
                }
                if *self.steps == 0 {
                    return false;
                }
                let change = self.change(*one, other);
                if change < 0 {
                    self.exchange(*one, other);
                    return true;
                }
                level.push((change, *one, other));
            }
        }
        level.sort_unstable();
        level.into_iter().take(costly.len().max(16)).any(|(change, one, other)| self.follow(change, one, other))
    }

    /// The correspondence without some of the stated atoms.
    fn without(&self, images: &[AtomId]) -> Mapping {
        let mut map = self.mapping.clone();
        for image in images {
            map.part(*image);
        }
        map
    }

    /// Looks for a correspondence with a smaller sum among all of them, branch by branch, as far as the steps go.
    fn search(&mut self) {
        let order = self.order();
        let mut images: Vec<AtomId> = order.iter().filter_map(|atom| self.mapping.stated(*atom)).collect();
        images.sort_unstable();
        let mut least = self.total(self.mapping);
        let mut best: Option<Vec<AtomId>> = None;
        // One level an atom: the partners left to try, the best last, and the one that it has.
        let mut stack: Vec<(Vec<Partner>, Option<Partner>)> = Vec::new();
        let mut map = self.without(&images);
        let mut sum = self.total(&map);
        if least <= sum {
            return;
        }
        stack.push((self.partners(&map, order.first().copied(), &images), None));
        while let Some((left, taken)) = stack.last_mut() {
            if let Some((more, image)) = taken.take() {
                sum -= more;
                map.part(image);
            }
            let Some((more, image)) = left.pop() else {
                stack.pop();
                continue;
            };
            if *self.steps == 0 {
                break;
            }
            *self.steps -= 1;
            if sum + more >= least {
                // The others cost no less.
                left.clear();
                continue;
            }
            *taken = Some((more, image));
            let at = stack.len() - 1;
            sum += more;
            map.pair(order[at], image);
            if let Some(next) = order.get(at + 1) {
                let partners = self.partners(&map, Some(*next), &images);
                stack.push((partners, None));
            } else {
                least = sum;
                best = Some(order.iter().filter_map(|atom| map.stated(*atom)).collect());
            }
        }
        for (atom, image) in order.iter().zip(best.into_iter().flatten()) {
            self.mapping.pair(*atom, image);
        }
    }

    /// The atoms in an order in which each has a neighbour before it, where it has any.
    fn order(&self) -> Vec<AtomId> {
        let mut order: Vec<AtomId> = Vec::with_capacity(self.atoms.len());
        for first in &self.atoms {
            let mut next = vec![*first];
            while let Some(atom) = next.pop() {
                if self.atoms.binary_search(&atom).is_ok() && !order.contains(&atom) {
                    order.push(atom);
                    next.extend(self.start.neighbours(atom).map(|(beside, _)| beside));
                }
            }
        }
        order
    }

    /// What differs under a correspondence among the atoms that have a partner, each bond once.
    fn total(&self, map: &Mapping) -> u32 {
        let pairs = self.start.atom_ids().filter_map(|atom| Some((atom, map.stated(atom)?)));
        pairs.map(|(atom, image)| self.sum_at(map, (atom, image), |next| next < atom)).sum()
    }

    /// What differs at an atom that stands for another, and in its bonds to those atoms that count.
    fn sum_at(&self, map: &Mapping, (atom, image): (AtomId, AtomId), is_counted: impl Fn(AtomId) -> bool) -> u32 {
        let [start, answer] = &self.sides;
        let mut bonds = 0;
        for own in start.links(atom).iter().filter(|own| is_counted(own.to)) {
            let Some(other) = map.stated(own.to) else { continue };
            bonds += match answer.between(image, other) {
                Some(other) if own.aromatic || other.aromatic => 0,
                Some(other) => own.order.abs_diff(other.order),
                None => own.order,
            };
        }
        for other in answer.links(image) {
            let is_new = |own: AtomId| is_counted(own) && start.between(atom, own).is_none();
            bonds += if map.computed(other.to).is_some_and(is_new) { other.order } else { 0 };
        }
        let hydrogens = start.hydrogens[atom.index()].abs_diff(answer.hydrogens[image.index()]);
        let charge = self.start.atom(atom).charge.abs_diff(self.answer.atom(image).charge);
        BOND * bonds + HYDROGEN * hydrogens + u32::from(charge)
    }

    /// The partners that an atom may have, each with what it costs beside those that are paired, the cheapest last.
    fn partners(&self, map: &Mapping, atom: Option<AtomId>, images: &[AtomId]) -> Vec<(u32, AtomId)> {
        let Some(atom) = atom else { return Vec::new() };
        let own = self.start.atom(atom);
        let fits = |image: &&AtomId| {
            let other = self.answer.atom(**image);
            map.computed(**image).is_none() && (own.element, own.isotope) == (other.element, other.isotope)
        };
        let mut partners: Vec<(u32, AtomId)> =
            images.iter().filter(fits).map(|image| (self.sum_at(map, (atom, *image), |_| true), *image)).collect();
        partners.sort_unstable_by(|one, other| other.cmp(one));
        partners
    }

    /// Goes on from an exchange that brings nothing by itself, to atoms beside those exchanged.
    fn follow(&mut self, change: i64, one: AtomId, other: AtomId) -> bool {
        let mut done = vec![(one, other)];
        let mut sum = change;
        self.exchange(one, other);
        while done.len() < DEPTH && *self.steps > 0 {
            let Some((change, one, other)) = self.best_beside(&done) else { break };
            self.exchange(one, other);
            done.push((one, other));
            sum += change;
            if sum < 0 {
                return true;
            }
        }
        for (one, other) in done.into_iter().rev() {
            self.exchange(one, other);
        }
        false
    }

    /// The best exchange of atoms beside those that were exchanged.
    fn best_beside(&mut self, done: &[(AtomId, AtomId)]) -> Option<(i64, AtomId, AtomId)> {
        let beside = |atom: AtomId| self.sides[0].links(atom).iter().map(|link| link.to);
        let mut pairs: Vec<(AtomId, AtomId)> = Vec::new();
        for (one, other) in done {
            for a in beside(*one) {
                for b in beside(*other) {
                    let is_open = |atom: &AtomId| self.atoms.binary_search(atom).is_ok();
                    let pair = (a.min(b), a.max(b));
                    if self.may_exchange(a, b)
                        && is_open(&a)
                        && is_open(&b)
                        && !done.contains(&(a, b))
                        && !done.contains(&(b, a))
                    {
                        pairs.push(pair);
                    }
                }
            }
        }
        pairs.sort_unstable();
        pairs.dedup();
        pairs.into_iter().map(|(a, b)| (self.change(a, b), a, b)).min()
    }
}
