//! The product as the stated answer would be written.

use super::super::step::StepAudit;
use super::Mismatch;
use crate::compare::Labelled;
use crate::compare::difference::is_folded;
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, Label, Structure};

/// The product in the style of the stated answer: with labels where it has some, with drawn hydrogens where it draws
/// them, localised, and without the species that the item leaves out on purpose.
pub(in crate::findings) fn product_text(mismatch: &Mismatch<'_>) -> String {
    let Mismatch { product, stated, compared, shift, .. } = mismatch;
    let labels = if compared.labelled == Labelled::Not { Labels::Without } else { Labels::Classes };
    let omitted: Vec<AtomId> = match mismatch.omits {
        true => compared.differences.omitted.iter().flatten().copied().collect(),
        false => Vec::new(),
    };
    let draws_hydrogens = stated.atom_ids().any(|atom| is_folded(stated, atom));
    let drawn = if draws_hydrogens { product.atom_count() } else { shift.drawn_atoms };
    // The atoms in the order in which the stated answer has them, the others behind.
    let place = |atom: &AtomId| compared.mapping.stated(*atom).map_or(usize::MAX, AtomId::index);
    let is_drawn_out = |atom: AtomId| atom.index() >= drawn && is_folded(product, atom);
    let kept = product.atom_ids().filter(|atom| !omitted.contains(atom) && !is_drawn_out(*atom));
    let mut order: Vec<AtomId> = kept.collect();
    order.sort_by_key(place);
    smiles::write(&in_order(&with_counts(product, drawn), &order), labels)
}

/// The atoms of a structure that `order` lists, in that order.
fn in_order(structure: &Structure, order: &[AtomId]) -> Structure {
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
    for (id, a, b, bond) in structure.bonds() {
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
fn with_counts(product: &Structure, drawn: usize) -> Structure {
    let is_drawn_out = |atom: AtomId| atom.index() >= drawn && is_folded(product, atom);
    let mut folded = product.clone();
    for hydrogen in product.atom_ids().filter(|atom| is_drawn_out(*atom)) {
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
    folded
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
