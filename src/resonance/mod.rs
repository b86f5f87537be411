//! Resonance contributors: the drawings of one molecule that differ in its pi and non-bonding electrons alone.
//!
//! IUPAC Gold Book 08205 (resonance form): contributors have the same atoms in the same places and differ in the electrons
//! assigned to them; the number of unpaired electrons stays. They are found by moving pairs and single electrons along pi
//! systems, from the better drawings on, each by arrows from one found before; and ranked by rules ([`RULES`]).

mod moves;
mod octets;
mod rank;
mod shape;
mod system;
mod turns;

pub use octets::octet_form;
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
    /// Whether it is listed only because it was asked with.
    pub is_outside: bool,
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
    /// How many more gaps in octets than the best contributor all may have. One more may have those with no more charges than
    /// the best in either case.
    pub more_gaps: u32,
}

/// Bytes of states that one search may write, so that a molecule of 100,000 atoms ends in time too.
const WORK: usize = 1 << 25;
/// Atoms of all drawings that one search may give.
const DRAWN_ATOMS: usize = 1 << 22;

/// Finds the contributors of a localised drawing.
#[must_use]
pub fn contributors(start: &Structure, bounds: &Bounds) -> Contributors {
    let mut system = System::new(start, bounds.octet);
    let most = bounds.most.min(1 + DRAWN_ATOMS / start.atom_count().max(1));
    let (found, typed_is_outside, is_complete) = of_the_compound(&mut system, &Bounds { most, ..*bounds });
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
    // Forms that stand alike come in an order that does not depend on the one asked with; one that is none of the list comes last.
    let outside = typed_is_outside.then(|| found.len() - 1);
    order.sort_by(|a, b| {
        let is_outside = |at: usize| Some(at) == outside;
        is_outside(*a)
            .cmp(&is_outside(*b))
            .then(drawn[*a].1.cmp(&drawn[*b].1))
            .then_with(|| system.compare(&found[*b].state, &found[*a].state))
    });
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
            Some(last) => last.place + u32::from(last.rank != rank || Some(old) == outside),
        };
        let from = found[old].from.as_ref().map(|(from, step)| (index_of[*from], moves::arrows(&system, step)));
        let is_outside = Some(old) == outside;
        list.push(Contributor { structure, rank, place, from, is_outside });
    }
    Contributors { list, is_complete }
}

/// A state that was found, and how.
struct Visited {
    state: State,
    from: Option<(usize, Step)>,
}

/// What a state may have.
struct Allowed {
    gaps: u32,
    /// Charges up to which one gap more is allowed.
    charges: Option<u32>,
}

impl Allowed {
    fn allows(&self, system: &System, state: &State, gaps: u32, charges: impl Fn() -> u32) -> bool {
        gaps <= self.gaps
            || (gaps == self.gaps + 1
                && self.charges.is_some_and(|most| charges() <= most)
                && system.gaps_lie_well(state))
    }
}

/// Rounds after which the best forms are taken for the best: each finds fewer gaps than the one before.
const ROUNDS: usize = 4;

/// The states of the compound, whichever of them the system starts from; whether the last one is the start, which is none of them;
/// and whether these are all.
///
/// The best forms are looked for first, the list then from one of them: with as few gaps in octets, and with one gap more where that
/// costs no charge (an acylium ion's carbocation, a carbene).
fn of_the_compound(system: &mut System, bounds: &Bounds) -> (Vec<Visited>, bool, bool) {
    let typed = system.start.clone();
    let mut allowed = Allowed { gaps: system.gaps(&typed), charges: None };
    let (mut found, mut is_complete) = find(system, &allowed, bounds.most);
    for _ in 0..ROUNDS {
        // What is not known whole has no best form.
        if !is_complete {
            break;
        }
        let standing = |own: &Visited| {
            let state = &own.state;
            (system.gaps(state), system.charges(state), system.expansions(state))
        };
        let Some(best) = found.iter().map(standing).min() else { break };
        let with_it: Vec<State> =
            found.iter().filter(|own| standing(own) == best).map(|own| own.state.clone()).collect();
        let Some(first) = with_it.iter().max_by(|a, b| system.compare(a, b)).cloned() else { break };
        let next = Allowed { gaps: best.0 + bounds.more_gaps, charges: Some(best.1) };
        let is_settled = allowed.charges.is_some() && next.gaps == allowed.gaps && next.charges == allowed.charges;
        if is_settled {
            break;
        }
        system.go_on_from(&first, with_it.iter());
        allowed = next;
        (found, is_complete) = find(system, &allowed, bounds.most);
    }
    let is_outside = found.iter().all(|own| own.state != typed);
    if is_outside {
        found.push(Visited { state: typed, from: None });
    }
    (found, is_outside, is_complete)
}

/// All states within the bounds that are reached from the system's start, in the order in which they are found, and whether these
/// are all.
fn find(system: &System, allowed: &Allowed, most: usize) -> (Vec<Visited>, bool) {
    let mut known: FxHashMap<State, usize> = FxHashMap::default();
    let mut found = vec![Visited { state: system.start.clone(), from: None }];
    known.insert(system.start.clone(), 0);
    let mut open = BinaryHeap::from([Reverse((system.urgency(&system.start), 0))]);
    let mut left = WORK;
    let mut fresh: Vec<(State, Step)> = Vec::new();
    while let Some(Reverse((_, at))) = open.pop() {
        let state = &found[at].state;
        let (gaps, charges) = (system.gaps(state), system.charges(state));
        let mut take = |step: Step| {
            left = left.saturating_sub(state.len() + step.len());
            let Some(next) = (left > 0).then(|| moves::after(system, state, &step)).flatten() else { return };
            let touched = moves::touched(system, &step);
            let is_legal = touched.iter().all(|site| system.is_legal(&next, *site));
            let now = gaps + system.gaps_of(&next, &touched) - system.gaps_of(state, &touched);
            let now_charged = || charges + system.charges_of(&next, &touched) - system.charges_of(state, &touched);
            if is_legal && allowed.allows(system, &next, now, now_charged) {
                fresh.push((next, step));
            }
        };
        moves::moves(system, state, &mut take);
        turns::turns(system, state, &mut take);
        for (next, step) in fresh.drain(..) {
            if known.contains_key(&next) {
                continue;
            }
            if found.len() >= most || left == 0 {
                return (found, false);
            }
            known.insert(next.clone(), found.len());
            open.push(Reverse((system.urgency(&next), found.len())));
            found.push(Visited { state: next, from: Some((at, step)) });
        }
        if left == 0 {
            return (found, false);
        }
    }
    (found, true)
}
