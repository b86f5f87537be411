//! The product as the stated answer would be written.

use super::super::step::StepAudit;
use super::Mismatch;
use crate::compare::difference::is_folded;
use crate::compare::{Compared, Labelled};
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, BondId, Label, LabelIndex, Structure};
use std::borrow::Cow;
use std::cell::OnceCell;

/// The product in the style of the stated answer: with labels where it has some, with drawn hydrogens where it draws
/// them, localised, and without the species that the item leaves out on purpose.
pub(in crate::findings) fn product_text(mismatch: &Mismatch<'_>) -> String {
    let Mismatch { product, stated, compared, shift, omits, .. } = mismatch;
    let labels = if compared.labelled == Labelled::Not { Labels::Without } else { Labels::Classes };
    smiles::write(&shaped(product, stated, compared, shift.drawn_atoms, *omits), labels)
}

/// The product of a step in the shape of its stated answer, if it has one.
pub(super) fn product(audit: &StepAudit) -> Option<Structure> {
    let product = &audit.pushed.as_ref()?.product;
    let (Some(compared), Some(stated)) = (&audit.compared, &audit.answer) else {
        return Some(folded(product, audit.drawn_atoms));
    };
    let product = compared.forms.as_ref().map_or(product, |forms| &forms.0);
    Some(shaped(product, stated, compared, audit.drawn_atoms, false))
}

fn shaped(product: &Structure, stated: &Structure, compared: &Compared, drawn: usize, omits: bool) -> Structure {
    let mut left_out = vec![false; product.atom_count()];
    for atom in compared.differences.omitted.iter().flatten().filter(|_| omits) {
        left_out[atom.index()] = true;
    }
    let draws_hydrogens = stated.atom_ids().any(|atom| is_folded(stated, atom));
    let drawn = if draws_hydrogens { product.atom_count() } else { drawn };
    let is_drawn_out = |atom: AtomId| atom.index() >= drawn && is_folded(product, atom);
    // Species by species, and the atoms of each in the order in which the stated answer has them, others behind.
    let (species, count) = product.species();
    let labels = OnceCell::new();
    let labelled =
        |atom: AtomId| product.label(atom).and_then(|label| labels.get_or_init(|| LabelIndex::new(stated)).get(&label));
    let in_stated = |atom: AtomId| compared.mapping.stated(atom).or_else(|| labelled(atom));
    let place = |atom: AtomId| in_stated(atom).map_or(usize::MAX, AtomId::index);
    let mut first = vec![usize::MAX; count];
    for atom in product.atom_ids() {
        let own = &mut first[species[atom.index()] as usize];
        *own = place(atom).min(*own);
    }
    let kept = product.atom_ids().filter(|atom| !left_out[atom.index()] && !is_drawn_out(*atom));
    let mut order: Vec<AtomId> = kept.collect();
    let species_of = |atom: AtomId| species[atom.index()];
    order.sort_by_key(|atom| (first[species_of(*atom) as usize], species_of(*atom), place(*atom)));
    let bond_place = |a: AtomId, b: AtomId| {
        let ends = in_stated(a).zip(in_stated(b));
        ends.and_then(|(x, y)| stated.bond_between(x, y)).map_or(usize::MAX, BondId::index)
    };
    in_order(&with_counts(product, drawn), &order, bond_place)
}

/// The atoms of a structure that `order` lists, in that order, and its bonds in the order of their places.
fn in_order(structure: &Structure, order: &[AtomId], place: impl Fn(AtomId, AtomId) -> usize) -> Structure {
    let mut new_of = vec![None; structure.atom_count()];
    let mut ordered = Structure::with_capacity(order.len());
    for old in order {
        let new = ordered.add_atom(*structure.atom(*old), structure.atom_span(*old));
        new_of[old.index()] = Some(new);
    }
    for old in order {
        if let (Some(new), Some(label)) = (new_of[old.index()], structure.label(*old)) {
            ordered.set_label(new, &label);
        }
    }
    let mut bonds: Vec<_> = structure.bonds().collect();
    bonds.sort_by_key(|(_, a, b, _)| place(*a, *b));
    for (id, a, b, bond) in bonds {
        if let (Some(a), Some(b)) = (new_of[a.index()], new_of[b.index()]) {
            ordered.add_bond(a, b, bond, structure.bond_span(id));
        }
    }
    ordered.stereo = structure.stereo.renumbered(|atom| new_of.get(atom.index()).copied().flatten());
    ordered
}

/// The product of a step whose answer is missing.
pub(in crate::findings) fn bare_product(product: &Structure, drawn: usize, labelled: bool) -> String {
    let labels = if labelled { Labels::Classes } else { Labels::Without };
    smiles::write(&folded(product, drawn), labels)
}

/// The structure without the hydrogens behind its first `drawn` atoms that are like undrawn ones.
fn folded(product: &Structure, drawn: usize) -> Structure {
    with_counts(product, drawn).part(|atom| atom.index() < drawn || !is_folded(product, atom))
}

/// Counts the hydrogens behind the first `drawn` atoms that are like undrawn ones at the atoms that carry them, beside
/// drawing them.
fn with_counts(product: &Structure, drawn: usize) -> Cow<'_, Structure> {
    let is_drawn_out = |atom: AtomId| atom.index() >= drawn && is_folded(product, atom);
    let mut drawn_out = product.atom_ids().skip(drawn).filter(|atom| is_drawn_out(*atom)).peekable();
    if drawn_out.peek().is_none() {
        return Cow::Borrowed(product);
    }
    let mut folded = product.clone();
    for hydrogen in drawn_out {
        for (carrier, _) in product.neighbours(hydrogen) {
            folded.atom_mut(carrier).hydrogens += 1;
        }
    }
    let mut marks = folded.stereo.clone();
    for neighbour in marks.centres.iter_mut().flat_map(|centre| &mut centre.neighbours) {
        use crate::structure::stereo::Neighbour;
        if matches!(neighbour, Neighbour::Atom(atom) if is_drawn_out(*atom)) {
            *neighbour = Neighbour::Hydrogen;
        }
    }
    folded.stereo = marks;
    Cow::Owned(folded)
}

/// The product with the numbers that the atoms have in the stated answer, which the next step speaks of; `None` where an atom
/// has none.
pub(super) fn with_old_numbers(audit: &StepAudit) -> Option<String> {
    let product = &audit.pushed.as_ref()?.product;
    let (Some(compared), Some(answer)) = (&audit.compared, &audit.answer) else {
        return Some(smiles::write(&folded(product, audit.drawn_atoms), Labels::Classes));
    };
    let mut numbered = product.clone();
    if !answer.has_labels() {
        numbered.clear_labels();
        for atom in product.atom_ids().filter(|atom| !is_folded(product, *atom)) {
            let stated = compared.mapping.stated(atom)?;
            numbered.set_label(atom, &Label::Number(stated.index() as u32 + 1));
        }
    }
    Some(smiles::write(&folded(&numbered, audit.drawn_atoms), Labels::Classes))
}
