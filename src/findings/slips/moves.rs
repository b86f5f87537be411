//! Slips with an arrow: the push is done again with the arrow left out, turned round, or with another head.

use super::case::Case;
use super::table::Slip;
use super::words;
use crate::arrows::{Arrow, Moves, Place, push_detached};
use crate::compare::{Difference, kind_with};
use crate::structure::{Atom, AtomId, Element, Structure};
use smallvec::SmallVec;

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
    let mut swaps = Vec::with_capacity(4 * case.arrows.len());
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
pub(super) fn arrows(case: &Case<'_>, swaps: &[Swap]) -> SmallVec<[Arrow; 8]> {
    let taken = |(at, arrow): (usize, &Arrow)| match swaps.iter().find(|swap| swap.at == at) {
        Some(swap) => swap.with,
        None => Some(*arrow),
    };
    case.arrows.iter().enumerate().filter_map(taken).collect()
}

/// Whether the arrows with some taken otherwise bring every atom to a charge that the stated answer draws, as far as sums can tell: a
/// look that costs next to nothing beside the push.
pub(super) fn may_give(case: &Case<'_>, swaps: &[Swap]) -> bool {
    if !case.is_whole() {
        return true;
    }
    change_of_kinds(case.start, &charges(case.start, &arrows(case, swaps))) == case.kinds_apart()
}

/// By how much the start changes in elements, isotopes and charges where atoms have other charges.
fn change_of_kinds(start: &Structure, charges: &[(AtomId, i16)]) -> u64 {
    charges.iter().fold(0, |sum: u64, (atom, charge)| {
        let own = start.atom(*atom);
        sum.wrapping_sub(kind_with(own, own.charge)).wrapping_add(kind_with(own, *charge))
    })
}

/// The charges of the atoms that arrows touch, once they are pushed.
fn charges(start: &Structure, arrows: &[Arrow]) -> SmallVec<[(AtomId, i16); 16]> {
    // Twice the charge that comes to each atom: at either end of a bond one of two electrons counts.
    let mut twice: SmallVec<[(AtomId, i32); 16]> = SmallVec::new();
    let mut add = |atom: AtomId, more: i32| match twice.iter_mut().find(|(own, _)| *own == atom) {
        Some((_, sum)) => *sum += more,
        None => twice.push((atom, more)),
    };
    for arrow in arrows {
        for (place, more) in [(arrow.tail, arrow.moves.electrons()), (arrow.head, -arrow.moves.electrons())] {
            match place {
                Place::Atom(a) => add(a, 2 * more),
                Place::Bond(a, b) => {
                    add(a, more);
                    add(b, more);
                }
            }
        }
    }
    let charge = |(atom, twice): (AtomId, i32)| {
        let charge = i32::from(start.atom(atom).charge) + twice / 2;
        (atom, charge.clamp(i16::MIN.into(), i16::MAX.into()) as i16)
    };
    twice.into_iter().map(charge).collect()
}

/// Whether one full-headed arrow more brings every atom to a charge that the stated answer draws, as far as sums can tell; `apart` is by
/// how much it differs from the start in elements, isotopes and charges.
pub(super) fn may_need_one_more(start: &Structure, arrows: &[Arrow], apart: u64) -> bool {
    let changed = charges(start, arrows);
    let left = apart.wrapping_sub(change_of_kinds(start, &changed));
    // Drawings have few kinds of atoms; what one of a kind changes where it gives, and where it takes.
    let mut kinds: SmallVec<[(u64, [u64; 2]); 16]> = SmallVec::new();
    for (id, atom) in start.atoms() {
        let charge = changed.iter().find(|(own, _)| *own == id).map_or(atom.charge, |(_, charge)| *charge);
        let own = kind_with(atom, charge);
        if kinds.iter().all(|(kind, _)| *kind != own) {
            let with = |more: i16| kind_with(atom, charge.saturating_add(more)).wrapping_sub(own);
            kinds.push((own, [with(1), with(-1)]));
        }
    }
    // A hydrogen that is not drawn may leave without its pair.
    let proton = kind_with(&Atom::new(Element::HYDROGEN), 1);
    let gives = || kinds.iter().map(|(_, [gives, _])| *gives).chain([proton]);
    left == 0 || gives().any(|gives| kinds.iter().any(|(_, [_, takes])| gives.wrapping_add(*takes) == left))
}

/// The product of the arrows with some taken otherwise; none where they take electrons that are not there.
pub(super) fn product(case: &Case<'_>, swaps: &[Swap]) -> Option<Structure> {
    if !case.pay() {
        return None;
    }
    push_detached(case.start, &arrows(case, swaps)).ok().map(|pushed| pushed.product)
}
