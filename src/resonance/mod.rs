//! Resonance contributors: the drawings of one molecule that differ in its pi and non-bonding electrons alone.
//!
//! IUPAC Gold Book 08205 (resonance form): contributors have the same atoms in the same places and differ in the electrons
//! assigned to them; the number of unpaired electrons stays. They are found by moving pairs and single electrons along pi
//! systems, from the better drawings on, each by arrows from one found before; and ranked by rules ([`RULES`]).

mod moves;
mod rank;
mod shape;
mod system;
mod turns;

pub use rank::{RULES, Rank, Ranker, Rule};

use crate::arrows::Arrow;
use crate::structure::{OctetRule, Structure};
use moves::Step;
use rustc_hash::FxHashMap;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use system::{State, System};

/// One contributor.
#[derive(Debug, Clone)]
pub struct Contributor {
    /// The drawing, on the atoms of the start.
    pub structure: Structure,
    /// How it stands by the rules.
    pub rank: Rank,
    /// Its place among the ranks, counted from 1; contributors that stand alike share one.
    pub place: u32,
    /// The contributor from which it was found, by its index in the list, and the arrows that lead from there; `None` for the
    /// start.
    pub from: Option<(usize, Vec<Arrow>)>,
}

/// The contributors of one molecule, the better ones first.
#[derive(Debug, Clone, Default)]
pub struct Contributors {
    /// The list; the start is among them.
    pub list: Vec<Contributor>,
    /// Whether the search ended before its limit.
    pub is_complete: bool,
}

impl Contributors {
    /// Those that no rule puts behind another.
    pub fn first_rank(&self) -> impl Iterator<Item = &Contributor> {
        self.list.iter().take_while(|own| own.place == 1)
    }
}

/// Which contributors are looked for.
#[derive(Debug, Clone, Copy)]
pub struct Bounds {
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// Contributors that are found at most.
    pub most: usize,
    /// How many more gaps in octets than the start a contributor may have.
    pub more_gaps: u32,
}

/// Bytes of states that one search may write, so that a molecule of 100,000 atoms ends in time too.
const WORK: usize = 1 << 25;
/// Atoms of all drawings that one search may give.
const DRAWN_ATOMS: usize = 1 << 22;

/// Finds the contributors of a localised drawing.
#[must_use]
pub fn contributors(start: &Structure, bounds: &Bounds) -> Contributors {
    let system = System::new(start, bounds.octet);
    let most = bounds.most.min(1 + DRAWN_ATOMS / start.atom_count().max(1));
    let (found, is_complete) = find(&system, &Bounds { most, ..*bounds });
    let mut ranker = Ranker::default();
    let drawn: Vec<(Structure, Rank)> = found
        .iter()
        .map(|found| {
            let drawing = system.draw(start, &found.state);
            let rank = ranker.rank(&drawing);
            (drawing, rank)
        })
        .collect();
    let mut order: Vec<usize> = (0..found.len()).collect();
    order.sort_by_key(|at| drawn[*at].1);
    let mut index_of = vec![0; found.len()];
    for (new, old) in order.iter().enumerate() {
        index_of[*old] = new;
    }
    let mut list: Vec<Contributor> = Vec::with_capacity(found.len());
    let mut drawn: Vec<Option<(Structure, Rank)>> = drawn.into_iter().map(Some).collect();
    for old in order {
        let Some((structure, rank)) = drawn[old].take() else { continue };
        let place = match list.last() {
            None => 1,
            Some(last) => last.place + u32::from(last.rank != rank),
        };
        let from = found[old].from.as_ref().map(|(from, step)| (index_of[*from], moves::arrows(&system, step)));
        list.push(Contributor { structure, rank, place, from });
    }
    Contributors { list, is_complete }
}

/// A state that was found, and how.
struct Found {
    state: State,
    from: Option<(usize, Step)>,
}

/// All states within the bounds, in the order in which they are found, and whether these are all.
fn find(system: &System, bounds: &Bounds) -> (Vec<Found>, bool) {
    let most_gaps = system.gaps(&system.start) + bounds.more_gaps;
    let mut known: FxHashMap<State, usize> = FxHashMap::default();
    let mut found = vec![Found { state: system.start.clone(), from: None }];
    known.insert(system.start.clone(), 0);
    let mut open = BinaryHeap::from([Reverse((system.urgency(&system.start), 0))]);
    let mut left = WORK;
    let mut fresh: Vec<(State, Step)> = Vec::new();
    while let Some(Reverse((_, at))) = open.pop() {
        let state = &found[at].state;
        let gaps = system.gaps(state);
        let mut take = |step: Step| {
            left = left.saturating_sub(state.len() + step.len());
            let Some(next) = (left > 0).then(|| moves::after(system, state, &step)).flatten() else { return };
            let touched = moves::touched(system, &step);
            let is_legal = touched.iter().all(|site| system.is_legal(&next, *site));
            if is_legal && gaps + system.gaps_of(&next, &touched) <= most_gaps + system.gaps_of(state, &touched) {
                fresh.push((next, step));
            }
        };
        moves::moves(system, state, &mut take);
        turns::turns(system, state, &mut take);
        for (next, step) in fresh.drain(..) {
            if known.contains_key(&next) {
                continue;
            }
            if found.len() >= bounds.most || left == 0 {
                return (found, false);
            }
            known.insert(next.clone(), found.len());
            open.push(Reverse((system.urgency(&next), found.len())));
            found.push(Found { state: next, from: Some((at, step)) });
        }
        if left == 0 {
            return (found, false);
        }
    }
    (found, true)
}
