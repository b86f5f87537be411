//! What an answer leaves out of a start, as species of their own.

use super::compare;
use super::difference::is_folded;
use crate::source::Span;
use crate::structure::{AtomId, LabelIndex, Structure};

/// The answer with the atoms of the start that it does not draw. Bonds that held them to what is drawn are broken, and their pairs go
/// with them: so leaving groups leave (common practice, no source). Where that does not fit the charge, the caller finds no arrows.
#[must_use]
pub fn with_what_is_left_out(start: &Structure, answer: &Structure, labels: &LabelIndex, limit: u64) -> Structure {
    let compared = compare(start, answer, labels, limit);
    let is_left = |atom: AtomId| {
        let carrier = || start.neighbours(atom).next().map(|(carrier, _)| carrier);
        let own = if is_folded(start, atom) { carrier().unwrap_or(atom) } else { atom };
        compared.mapping.stated(own).is_none()
    };
    let mut whole = answer.clone();
    let mut new_of: Vec<Option<AtomId>> = vec![None; start.atom_count()];
    for (atom, own) in start.atoms().filter(|(atom, _)| is_left(*atom)) {
        let new = whole.add_atom(*own, Span::default());
        if let Some(label) = start.label(atom) {
            whole.set_label(new, &label);
        }
        new_of[atom.index()] = Some(new);
    }
    for (_, a, b, bond) in start.bonds() {
        match (new_of[a.index()], new_of[b.index()]) {
            (Some(a), Some(b)) => {
                whole.add_bond(a, b, bond, Span::default());
            }
            (Some(left), None) | (None, Some(left)) => {
                let charge = &mut whole.atom_mut(left).charge;
                *charge = charge.saturating_sub(i16::from(bond.order));
            }
            (None, None) => {}
        }
    }
    whole
}
