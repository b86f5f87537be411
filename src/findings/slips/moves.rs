//! Slips with an arrow: the push is done again with the arrow left out, turned round, or with another head.

use super::case::Case;
use super::table::Slip;
use super::words;
use crate::arrows::{Arrow, Moves, Place, push_detached};
use crate::compare::Difference;
use crate::structure::{AtomId, Structure};

/// One arrow taken otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Swap {
    pub slip: Slip,
    /// Number of the arrow, counted from 0.
    pub at: usize,
    /// What stands in its place; `None` where it is left out.
    pub with: Option<Arrow>,
}

impl Swap {
    /// What the arrows give with this slip, in words that follow "what the arrows give".
    pub fn words(&self, case: &Case<'_>) -> String {
        let number = self.at + 1;
        let Some(head) = self.with.map(|arrow| words::place(case.product, arrow.head)) else {
            return format!("without arrow {number}");
        };
        let meant = case.arrows.get(self.at).map(|arrow| words::place(case.product, arrow.head)).unwrap_or_default();
        match self.slip {
            Slip::HeadOnAtom => format!("with the pair of arrow {number} on {head} instead of {meant}"),
            Slip::HeadOnBond => format!("with the pair of arrow {number} {head} instead of on {meant}"),
            _ => format!("with arrow {number} the other way round"),
        }
    }
}

/// Neighbours to which a lone pair may have been drawn as a bond, at most.
const NEIGHBOURS: usize = 12;

/// Every way to take one arrow otherwise, the smaller slips first.
pub(super) fn swaps(case: &Case<'_>) -> Vec<Swap> {
    let mut swaps = Vec::new();
    for (at, arrow) in case.arrows.iter().enumerate() {
        swaps.push(Swap { slip: Slip::ArrowSkipped, at, with: None });
        let mut other = |slip, tail, head| {
            let with = Arrow { tail, head, ..*arrow };
            if tail != head && with != *arrow {
                swaps.push(Swap { slip, at, with: Some(with) });
            }
        };
        match (arrow.tail, arrow.head) {
            // One electron has no way of its own that could be turned round unseen.
            _ if arrow.moves == Moves::Single => {}
            // Electrons that come from the other atom, or go to it: the charge runs the other way.
            (Place::Atom(a), Place::Bond(x, y)) => {
                other(Slip::ArrowReversed, Place::Atom(if a == x { y } else { x }), arrow.head);
            }
            (Place::Bond(x, y), Place::Atom(b)) => {
                other(Slip::ArrowReversed, arrow.tail, Place::Atom(if b == x { y } else { x }));
            }
            _ => {}
        }
        other(Slip::ArrowReversed, arrow.head, arrow.tail);
        match arrow.head {
            Place::Bond(x, y) => {
                other(Slip::HeadOnAtom, arrow.tail, Place::Atom(x));
                other(Slip::HeadOnAtom, arrow.tail, Place::Atom(y));
            }
            Place::Atom(_) => {
                for own in arrow.tail.atoms() {
                    for next in partners(case, own) {
                        other(Slip::HeadOnBond, arrow.tail, Place::Bond(own, next));
                    }
                }
            }
        }
    }
    // Heads are tried only where no arrow is wrong as a whole.
    swaps.sort_by_key(|swap| swap.slip);
    swaps
}

/// Atoms to which the stated answer or the start bonds an atom.
fn partners(case: &Case<'_>, atom: AtomId) -> Vec<AtomId> {
    let stated = case.list().iter().filter_map(|difference| match *difference {
        Difference::Bond(a, b, was, is) if is > was && (a == atom || b == atom) => Some(if a == atom { b } else { a }),
        _ => None,
    });
    let mut partners: Vec<AtomId> = stated.chain(case.start.neighbours(atom).map(|(next, _)| next)).collect();
    partners.sort_unstable();
    partners.dedup();
    partners.truncate(NEIGHBOURS);
    partners
}

/// The arrows with some taken otherwise; each swap another arrow, in ascending order.
pub(super) fn arrows(case: &Case<'_>, swaps: &[Swap]) -> Vec<Arrow> {
    let taken = |(at, arrow): (usize, &Arrow)| match swaps.iter().find(|swap| swap.at == at) {
        Some(swap) => swap.with,
        None => Some(*arrow),
    };
    case.arrows.iter().enumerate().filter_map(taken).collect()
}

/// The product of the arrows with some taken otherwise; none where they take electrons that are not there.
pub(super) fn product(case: &Case<'_>, swaps: &[Swap]) -> Option<Structure> {
    if !case.pay() {
        return None;
    }
    push_detached(case.start, &arrows(case, swaps)).ok().map(|pushed| pushed.product)
}
