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
    let kept = product.part(|atom| !omitted.contains(&atom));
    // Atoms before those that were drawn out keep their places unless some are left out, and then nothing is folded.
    let draws_hydrogens = stated.atom_ids().any(|atom| is_folded(stated, atom));
    let drawn = if draws_hydrogens || !omitted.is_empty() { kept.atom_count() } else { shift.drawn_atoms };
    smiles::write(&folded(&kept, drawn), labels)
}

/// The product of a step whose answer is missing.
pub(in crate::findings) fn bare_product(product: &Structure, drawn: usize, labelled: bool) -> String {
    let labels = if labelled { Labels::Classes } else { Labels::Without };
    smiles::write(&folded(product, drawn), labels)
}

/// Counts the hydrogens behind the first `drawn` atoms that are like undrawn ones.
fn folded(product: &Structure, drawn: usize) -> Structure {
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
    folded.part(|atom| !is_drawn_out(atom))
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
