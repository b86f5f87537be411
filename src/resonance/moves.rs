//! The moves that lead from one contributor to its neighbours: a few arrows at a time, of pairs and of single electrons.
//!
//! Longer strings of arrows are several such moves; rings of pairs that close on themselves are in `turns`. A lone pair is taken for a
//! part of the pi system only where its atom has no pi bond already: the pair of pyridine's nitrogen, of a
//! vinyl anion or of a carbonyl oxygen lies in the plane. It then goes only into the bond that is double already,
//! as in an azide, a diazo compound or an acylium ion, or into the gap of a neighbour.

use super::system::{MOST_ORDER, State, System};
use crate::arrows::{Arrow, Moves, Place};
use smallvec::SmallVec;

/// Arrows between places of a state: sites, then links.
pub(super) type Step = SmallVec<[(Moves, u32, u32); 4]>;

/// Shows each move from a state to `take`.
pub(super) fn moves(system: &System, state: &State, take: &mut dyn FnMut(Step)) {
    for (link, own) in (0..).zip(&system.links) {
        let [a, b] = own.ends;
        for (a, b) in [(a, b), (b, a)] {
            let beside = Beside { system, state, a, b, link };
            beside.pairs(take);
            beside.single_electrons(take);
        }
    }
}

/// Two bonded sites: electrons go from the side of `a` to the side of `b`.
struct Beside<'a> {
    system: &'a System,
    state: &'a State,
    a: u32,
    b: u32,
    link: u32,
}

impl Beside<'_> {
    fn order(&self, link: u32) -> u8 {
        self.system.order(self.state, link)
    }

    /// The links from `b` onward.
    fn onward(&self) -> impl Iterator<Item = (u32, u32)> {
        self.system.around[self.b as usize].iter().copied().filter(|(link, _)| *link != self.link)
    }

    /// Whether non-bonding electrons of `a` can take part in a pi bond to `b`.
    fn lies_in_the_pi_system(&self) -> bool {
        self.order(self.link) > 1 || self.system.pi(self.state, self.a) == 0
    }

    fn pairs(&self, take: &mut dyn FnMut(Step)) {
        let Self { system, state, a, b, link } = *self;
        let bond = system.slot(link);
        let pair = |tail: u32, head: u32| (Moves::Pair, tail, head);
        if system.own(state, a) >= 2 && self.order(link) < MOST_ORDER {
            // A lone pair fills the gap of its neighbour, which may lie in any plane: an azaallenium ion is linear.
            if system.has_gap(state, b) || (self.lies_in_the_pi_system() && system.expands(state, a, b)) {
                take(SmallVec::from_slice(&[pair(a, bond)]));
            }
        }
        if system.own(state, a) >= 2 && self.order(link) < MOST_ORDER && self.lies_in_the_pi_system() {
            // A lone pair pushes the next pi pair onward.
            for (next, c) in self.onward().filter(|(next, _)| self.order(*next) > 1) {
                take(SmallVec::from_slice(&[pair(a, bond), pair(system.slot(next), c)]));
            }
        }
        if self.order(link) > 1 {
            // A pi pair goes onto one of its atoms.
            take(SmallVec::from_slice(&[pair(bond, b)]));
            // A pi pair turns to the gap on the other side.
            for (next, c) in self.onward().filter(|(next, _)| self.order(*next) < MOST_ORDER) {
                if system.has_gap(state, c) {
                    take(SmallVec::from_slice(&[pair(bond, system.slot(next))]));
                }
            }
        }
    }

    fn single_electrons(&self, take: &mut dyn FnMut(Step)) {
        let Self { system, state, a, b, link } = *self;
        if system.own(state, a) % 2 == 0 || !self.lies_in_the_pi_system() {
            return;
        }
        let bond = system.slot(link);
        let single = |tail: u32, head: u32| (Moves::Single, tail, head);
        // An unpaired electron and one of the next pi bond make a bond; the other stays at the far end.
        if self.order(link) < MOST_ORDER {
            for (next, c) in self.onward().filter(|(next, _)| self.order(*next) > 1) {
                let pi = system.slot(next);
                take(SmallVec::from_slice(&[single(a, bond), single(pi, bond), single(pi, c)]));
            }
        }
        // The neighbour gives one electron of its lone pair, through the bond.
        if system.own(state, b) >= 2 && system.own(state, b) % 2 == 0 && system.pi(state, b) == 0 {
            take(SmallVec::from_slice(&[single(b, bond), single(bond, a)]));
        }
    }
}

/// The state after a move; `None` where a place would run out of electrons or a sigma bond would break.
pub(super) fn after(system: &System, state: &State, step: &Step) -> Option<State> {
    let sites = system.sites.len() as u32;
    let mut changes: SmallVec<[(u32, i32); 8]> = SmallVec::new();
    for (moves, tail, head) in step {
        changes.extend([(*tail, -moves.electrons()), (*head, moves.electrons())]);
    }
    changes.sort_unstable();
    let mut next = state.clone();
    for of_slot in changes.chunk_by(|one, two| one.0 == two.0) {
        let slot = of_slot[0].0;
        let change: i32 = of_slot.iter().map(|(_, change)| change).sum();
        let now = i32::from(state[slot as usize]);
        let value = if slot < sites { now + change } else { now + change / 2 };
        let least = i32::from(slot >= sites);
        if value < least || (slot >= sites && (change % 2 != 0 || value > i32::from(MOST_ORDER))) {
            return None;
        }
        next[slot as usize] = u8::try_from(value).ok()?;
    }
    Some(next)
}

/// The sites whose electrons or bonds a move changes, each once.
pub(super) fn touched(system: &System, step: &Step) -> SmallVec<[u32; 8]> {
    let sites = system.sites.len() as u32;
    let mut touched = SmallVec::new();
    for slot in step.iter().flat_map(|(_, tail, head)| [*tail, *head]) {
        let ends = if slot < sites { [slot; 2] } else { system.links[(slot - sites) as usize].ends };
        touched.extend(ends);
    }
    touched.sort_unstable();
    touched.dedup();
    touched
}

/// A move as arrows on the atoms of the drawing.
pub(super) fn arrows(system: &System, step: &Step) -> Vec<Arrow> {
    let sites = system.sites.len() as u32;
    let atom = |site: u32| system.sites[site as usize].atom;
    let place = |slot: u32| {
        if slot < sites {
            return Place::Atom(atom(slot));
        }
        let [a, b] = system.links[(slot - sites) as usize].ends;
        Place::Bond(atom(a), atom(b))
    };
    step.iter().map(|(moves, tail, head)| Arrow { moves: *moves, tail: place(*tail), head: place(*head) }).collect()
}
