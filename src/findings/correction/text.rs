//! The product as the stated answer would be written.

use super::super::step::StepAudit;
use super::Mismatch;
use crate::compare::difference::is_folded;
use crate::compare::{Compared, Labelled};
use crate::smiles::{self, Labels};
use crate::structure::skeleton::number_species;
use crate::structure::{AtomId, BondId, Label, LabelIndex, Structure};
use std::borrow::Cow;
use std::cell::OnceCell;

/// The product in the style of the stated answer: with labels where it has some, with drawn hydrogens where it draws
/// them, localised, and without the species that the item leaves out on purpose. `as_drawn` is its text with labels and all.
pub(in crate::findings) fn product_text(mismatch: &Mismatch<'_>, as_drawn: &str) -> String {
    let Mismatch { product, stated, compared, shift, omits, .. } = mismatch;
    let labels = if compared.labelled == Labelled::Not { Labels::Without } else { Labels::Classes };
    let shape = Shape::of(product, stated, compared, shift.drawn_atoms, *omits);
    if !product.stereo.is_empty() {
        return smiles::write(&shape.build(stated, compared), labels);
    }
    // A text does not depend on the order of bonds, and without marks not on how the structure is put together.
    if labels == Labels::Classes && shape.is_as_drawn() {
        return as_drawn.to_owned();
    }
    smiles::write_in_order(&with_counts(product, shape.drawn), labels, &shape.order)
}

/// The product of a step in the shape of its stated answer, if it has one.
pub(super) fn product(audit: &StepAudit) -> Option<Structure> {
    let product = &audit.pushed.as_ref()?.product;
    let (Some(compared), Some(stated)) = (&audit.compared, &audit.answer) else {
        return Some(folded(product, audit.drawn_atoms));
    };
    let product = compared.forms.as_ref().map_or(product, |forms| &forms.0);
    Some(Shape::of(product, stated, compared, audit.drawn_atoms, false).build(stated, compared))
}

/// Which atoms of the product a stated answer would have drawn, and in which order.
struct Shape<'a> {
    product: &'a Structure,
    /// Hydrogens behind so many atoms that are like undrawn ones are not drawn.
    drawn: usize,
    /// The atoms that are drawn: species by species, and those of each in the order in which the stated answer has them, others
    /// behind.
    order: Vec<AtomId>,
}

impl<'a> Shape<'a> {
    fn of(product: &'a Structure, stated: &Structure, compared: &Compared, drawn: usize, omits: bool) -> Self {
        let omitted = if omits { &compared.differences.omitted[..] } else { &[] };
        let mut left_out = if omitted.is_empty() { Vec::new() } else { vec![false; product.atom_count()] };
        for atom in omitted.iter().flatten() {
            left_out[atom.index()] = true;
        }
        let is_left_out = |atom: AtomId| left_out.get(atom.index()).is_some_and(|own| *own);
        let draws_hydrogens = || stated.atom_ids().any(|atom| is_folded(stated, atom));
        let drawn = if drawn < product.atom_count() && draws_hydrogens() { product.atom_count() } else { drawn };
        let is_drawn_out = |atom: AtomId| atom.index() >= drawn && is_folded(product, atom);
        let mut species = Vec::with_capacity(product.atom_count());
        let count = number_species(product, &mut species);
        let in_stated = in_stated(product, stated, compared);
        let place = |atom: AtomId| in_stated(atom).map_or(usize::MAX, AtomId::index);
        let mut first = vec![usize::MAX; count as usize];
        let mut order: Vec<(usize, u32, usize, AtomId)> = Vec::with_capacity(product.atom_count());
        for atom in product.atom_ids() {
            let (species, place) = (species[atom.index()], place(atom));
            let own = &mut first[species as usize];
            *own = place.min(*own);
            if !is_left_out(atom) && !is_drawn_out(atom) {
                order.push((0, species, place, atom));
            }
        }
        for (first_place, species, ..) in &mut order {
            *first_place = first[*species as usize];
        }
        order.sort_unstable();
        Self { product, drawn, order: order.into_iter().map(|(.., atom)| atom).collect() }
    }

    /// Whether this is the product as it is.
    fn is_as_drawn(&self) -> bool {
        self.order.len() == self.product.atom_count() && self.order.is_sorted()
    }

    /// The product in this shape, its bonds in the order in which the stated answer has them.
    fn build(&self, stated: &Structure, compared: &Compared) -> Structure {
        let in_stated = in_stated(self.product, stated, compared);
        let bond_place = |a: AtomId, b: AtomId| {
            let ends = in_stated(a).zip(in_stated(b));
            ends.and_then(|(x, y)| stated.bond_between(x, y)).map_or(usize::MAX, BondId::index)
        };
        in_order(&with_counts(self.product, self.drawn), &self.order, bond_place)
    }
}

/// Which atom of the stated answer stands for an atom of the product, by correspondence or by label.
fn in_stated<'a>(
    product: &'a Structure,
    stated: &'a Structure,
    compared: &'a Compared,
) -> impl Fn(AtomId) -> Option<AtomId> + 'a {
    let labels = OnceCell::new();
    move |atom| {
        let labelled = || {
            let label = product.label(atom)?;
            labels.get_or_init(|| LabelIndex::new(stated)).get(&label)
        };
        compared.mapping.stated(atom).or_else(labelled)
    }
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
