//! Strings of arrows, from first tail to last head.
//!
//! Every arrow carries negative charge from one atom to another: a lone pair of a that becomes a bond a-b carries it from
//! a to b, a pair of a-b that becomes a lone pair of b from a to b, a pair of a-b that goes between b and c from a to c.
//! Where one arrow ends another may begin; the atom there loses as much as it gains. So along a string exactly two charges
//! change: at the first tail and at the last head (common practice, no source; it follows from the sum).

use super::{Arrow, Place};
use crate::structure::AtomId;
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

/// Which atom loses charge and which gains it by one arrow; `None` where the arrow changes nothing or is detached.
#[must_use]
pub fn carries(arrow: &Arrow) -> Option<(AtomId, AtomId)> {
    match (arrow.tail, arrow.head) {
        (Place::Atom(a), Place::Bond(x, y)) if a == x => Some((a, y)),
        (Place::Atom(a), Place::Bond(x, y)) if a == y => Some((a, x)),
        (Place::Bond(x, y), Place::Atom(b)) if b == y => Some((x, b)),
        (Place::Bond(x, y), Place::Atom(b)) if b == x => Some((y, b)),
        (Place::Bond(a, b), Place::Bond(c, d)) => [(a, b, c, d), (a, b, d, c), (b, a, c, d), (b, a, d, c)]
            .into_iter()
            .find(|(from, pivot, shared, to)| pivot == shared && from != to)
            .map(|(from, _, _, to)| (from, to)),
        _ => None,
    }
}

/// One string: its arrows in order (numbers from 0) and the atoms that it passes, one more than arrows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Chain {
    /// Numbers of the arrows, counted from 0.
    pub arrows: Vec<usize>,
    /// From the atom of the first tail to the atom of the last head; first and last are equal where the string is a ring.
    pub atoms: Vec<AtomId>,
}

impl Chain {
    /// Whether the string closes on itself, so that no charge changes (pericyclic shifts, Kekulé pairs).
    #[must_use]
    pub fn is_closed(&self) -> bool {
        self.atoms.first() == self.atoms.last()
    }
}

/// Sorts arrows into strings. Open strings come first, in the order of their first arrows; then closed ones.
#[must_use]
pub fn chains(arrows: &[Arrow]) -> Vec<Chain> {
    let moves: Vec<Option<(AtomId, AtomId)>> = arrows.iter().map(carries).collect();
    let mut leaving: FxHashMap<AtomId, SmallVec<[usize; 2]>> = FxHashMap::default();
    let mut balance: FxHashMap<AtomId, i32> = FxHashMap::default();
    for (at, step) in moves.iter().enumerate().rev() {
        if let Some((from, to)) = *step {
            leaving.entry(from).or_default().push(at);
            *balance.entry(from).or_default() += arrows[at].moves.electrons();
            *balance.entry(to).or_default() -= arrows[at].moves.electrons();
        }
    }
    let mut chains = Vec::new();
    for from_ends in [true, false] {
        for at in 0..arrows.len() {
            let Some((first, _)) = moves[at] else { continue };
            let starts_here = balance.get(&first).is_some_and(|left| *left > 0);
            let unused = leaving.get(&first).is_some_and(|own| own.contains(&at));
            if !unused || (from_ends && !starts_here) {
                continue;
            }
            let chain = follow(first, at, &moves, &mut leaving);
            if let (Some(start), Some(end)) = (chain.atoms.first(), chain.atoms.last()) {
                let electrons = chain.arrows.first().map_or(0, |arrow| arrows[*arrow].moves.electrons());
                *balance.entry(*start).or_default() -= electrons;
                *balance.entry(*end).or_default() += electrons;
            }
            chains.push(chain);
        }
    }
    chains
}

/// Follows arrows from the atom where one begins until no arrow leaves the atom reached, or the string closes.
fn follow(
    first: AtomId,
    arrow: usize,
    moves: &[Option<(AtomId, AtomId)>],
    leaving: &mut FxHashMap<AtomId, SmallVec<[usize; 2]>>,
) -> Chain {
    let mut chain = Chain { arrows: Vec::new(), atoms: vec![first] };
    let mut next = Some(arrow);
    while let Some(at) = next {
        let Some((from, to)) = moves[at] else { break };
        if let Some(own) = leaving.get_mut(&from) {
            own.retain(|other| *other != at);
        }
        chain.arrows.push(at);
        chain.atoms.push(to);
        next = if to == first { None } else { leaving.get(&to).and_then(|own| own.last().copied()) };
    }
    chain
}
