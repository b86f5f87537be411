//! Arrows as they are written, held against each other.

use crate::arrows::{AtomName, DrawnArrow, Place};
use crate::structure::Label;

/// Arrows with others in the place of one that was taken out.
pub(super) fn in_place(others: &[DrawnArrow], with: &[DrawnArrow], at: usize) -> Vec<DrawnArrow> {
    [&others[..at], with, &others[at..]].concat()
}

/// Whether one arrow only undoes another.
pub(super) fn takes_back(one: &DrawnArrow, other: &DrawnArrow) -> bool {
    same_place(&one.tail, &other.head) && same_place(&one.head, &other.tail)
}

/// Whether two arrows move the same electrons from and to the same places.
pub(super) fn same_arrow(one: &DrawnArrow, other: &DrawnArrow) -> bool {
    one.moves == other.moves && same_place(&one.tail, &other.tail) && same_place(&one.head, &other.head)
}

/// Whether two places are of the same atoms.
pub(super) fn same_place(one: &Place<AtomName>, other: &Place<AtomName>) -> bool {
    match (one, other) {
        (Place::Atom(a), Place::Atom(b)) => same_name(a, b),
        (Place::Bond(a, b), Place::Bond(c, d)) => {
            same_name(a, c) && same_name(b, d) || same_name(a, d) && same_name(b, c)
        }
        _ => false,
    }
}

/// Whether two names are of one atom: `3h` is written as a label or as a hydrogen of a label.
pub(super) fn same_name(one: &AtomName, other: &AtomName) -> bool {
    let is_text = |name: &AtomName| matches!(name.label, Label::Name(_));
    one.label == other.label && one.hydrogen == other.hydrogen
        || (is_text(one) || is_text(other)) && one.to_string() == other.to_string()
}

/// Puts an arrow where it joins the string of the others best, behind all others where it joins none.
pub(super) fn placed(mut arrows: Vec<DrawnArrow>, arrow: &DrawnArrow) -> Vec<DrawnArrow> {
    let joins = |one: Option<&DrawnArrow>, next: Option<&DrawnArrow>| {
        let (Some(one), Some(next)) = (one, next) else { return 0 };
        i32::from(share_an_atom(&one.head, &next.tail))
    };
    let gain = |at: usize| {
        let (before, after) = (at.checked_sub(1).and_then(|at| arrows.get(at)), arrows.get(at));
        joins(before, Some(arrow)) + joins(Some(arrow), after) - joins(before, after)
    };
    let at = (0..=arrows.len()).max_by_key(|at| (gain(*at), *at)).unwrap_or(0);
    arrows.insert(at, arrow.clone());
    arrows
}

/// Whether two places have an atom in common.
pub(super) fn share_an_atom(one: &Place<AtomName>, other: &Place<AtomName>) -> bool {
    let any = |name: &AtomName| match other {
        Place::Atom(a) => same_name(name, a),
        Place::Bond(a, b) => same_name(name, a) || same_name(name, b),
    };
    match one {
        Place::Atom(a) => any(a),
        Place::Bond(a, b) => any(a) || any(b),
    }
}
