//! The product as the stated answer would be written.

use super::Mismatch;
use crate::compare::difference::is_folded;
use crate::compare::{Compared, Labelled};
use crate::findings::verdict::StepAudit;
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, BondId, Label, LabelIndex, Structure};
use std::borrow::Cow;
use std::cell::OnceCell;

/// The product in the style of the stated answer: with labels where it has some, with drawn hydrogens where it draws
/// them, localised, and without the species that the item leaves out on purpose. `as_drawn` is its text with labels and all.
pub(in crate::findings) fn product_text(mismatch: &Mismatch<'_>, as_drawn: &str) -> String {
    let Mismatch { product, stated, compared, omits, .. } = mismatch;
    let labels = if compared.labelled == Labelled::Not { Labels::Without } else { Labels::Classes };
    let shaper = Shaper { product, stated, compared, omits: *omits, drawn: drawn(product, stated) };
    if !product.stereo.is_empty() {
        return smiles::write(&shaper.build(), labels);
    }
    if labels == Labels::Classes && shaper.keeps_the_text() {
        return as_drawn.to_owned();
    }
    // Without marks a text does not depend on how the structure is put together, and it goes species by species itself.
    let counted = with_counts(product, |atom| shaper.is_drawn_out(atom));
    smiles::write_in_order(&counted, labels, &shaper.order())
}

/// The product of a step in the shape of its stated answer, if it has one.
pub(super) fn product(audit: &StepAudit) -> Option<Structure> {
    let product = &audit.pushed.as_ref()?.product;
    let (Some(compared), Some(stated)) = (&audit.compared, &audit.answer) else {
        return Some(folded(product, audit.drawn_atoms));
    };
    let product = compared.forms.as_ref().map_or(product, |forms| &forms.0);
    let drawn = drawn(product, stated);
    Some(Shaper { product, stated, compared, omits: false, drawn }.build())
}

/// Atoms of the product behind which hydrogens that are like undrawn ones are not drawn: all where the stated answer draws some, none
/// where it draws none. So a proton that the arrows have brought is counted at its new place.
fn drawn(product: &Structure, stated: &Structure) -> usize {
    if stated.atom_ids().any(|atom| is_folded(stated, atom)) { product.atom_count() } else { 0 }
}

/// Brings the product into the shape of the stated answer.
struct Shaper<'a> {
    product: &'a Structure,
    stated: &'a Structure,
    compared: &'a Compared,
    omits: bool,
    drawn: usize,
}

impl Shaper<'_> {
    /// Species that are left out on purpose.
    fn omitted(&self) -> &[Vec<AtomId>] {
        if self.omits { &self.compared.differences.omitted } else { &[] }
    }

    /// Whether an atom is a hydrogen that is not drawn.
    fn is_drawn_out(&self, atom: AtomId) -> bool {
        atom.index() >= self.drawn && is_folded(self.product, atom)
    }

    /// Whether all atoms are drawn and the stated answer has them in the order of the product. A text depends on the order of
    /// neighbours and of species, not on that of bonds.
    fn keeps_the_text(&self) -> bool {
        let place = self.place();
        self.omitted().is_empty()
            && self.product.atom_ids().map(place).is_sorted()
            && !self.product.atom_ids().skip(self.drawn).any(|atom| self.is_drawn_out(atom))
    }

    /// Where the stated answer has an atom; behind all others where it does not have it.
    fn place(&self) -> impl Fn(AtomId) -> usize {
        let in_stated = self.in_stated();
        move |atom| in_stated(atom).map_or(usize::MAX, AtomId::index)
    }

    /// The atoms that are drawn, in the order in which the stated answer has them, others behind.
    fn order(&self) -> Vec<AtomId> {
        let Self { product, .. } = self;
        let mut left_out = if self.omitted().is_empty() { Vec::new() } else { vec![false; product.atom_count()] };
        for atom in self.omitted().iter().flatten() {
            left_out[atom.index()] = true;
        }
        let is_left_out = |atom: AtomId| left_out.get(atom.index()).is_some_and(|own| *own);
        let place = self.place();
        let drawn = product.atom_ids().filter(|atom| !is_left_out(*atom) && !self.is_drawn_out(*atom));
        let mut order: Vec<(usize, AtomId)> = drawn.map(|atom| (place(atom), atom)).collect();
        order.sort_unstable();
        order.into_iter().map(|(_, atom)| atom).collect()
    }

    /// The product in this shape: species by species, its bonds in the order in which the stated answer has them.
    fn build(&self) -> Structure {
        let (species, count) = self.product.species();
        let mut order = self.order();
        let mut first = vec![usize::MAX; count];
        for (at, atom) in order.iter().enumerate().rev() {
            first[species[atom.index()] as usize] = at;
        }
        order.sort_by_key(|atom| first[species[atom.index()] as usize]);
        let in_stated = self.in_stated();
        let bond_place = |a: AtomId, b: AtomId| {
            let ends = in_stated(a).zip(in_stated(b));
            ends.and_then(|(x, y)| self.stated.bond_between(x, y)).map_or(usize::MAX, BondId::index)
        };
        in_order(&with_counts(self.product, |atom| self.is_drawn_out(atom)), &order, bond_place)
    }

    /// Which atom of the stated answer stands for an atom of the product, by correspondence or by label.
    fn in_stated(&self) -> impl Fn(AtomId) -> Option<AtomId> {
        let Self { product, stated, compared, .. } = *self;
        let labels = OnceCell::new();
        move |atom| {
            let labelled = || {
                let label = product.label(atom)?;
                labels.get_or_init(|| LabelIndex::new(stated)).get(&label)
            };
            compared.mapping.stated(atom).or_else(labelled)
        }
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

/// The product of a step whose answer is missing. A hydrogen that the start draws as a species of its own is counted at the atom to
/// which the arrows have brought it; in a sequence it stays, as later steps may speak of it.
pub(in crate::findings) fn bare_product(audit: &StepAudit, start: &Structure, product: &Structure) -> String {
    let labels = if audit.start_is_labelled { Labels::Classes } else { Labels::Without };
    let is_new = |atom: AtomId| audit.number == 0 && !is_folded(start, atom);
    let is_counted = |atom: AtomId| (atom.index() >= audit.drawn_atoms || is_new(atom)) && is_folded(product, atom);
    smiles::write(&with_counts(product, is_counted).part(|atom| !is_counted(atom)), labels)
}

/// The structure without the hydrogens behind its first `drawn` atoms that are like undrawn ones.
pub(in crate::findings) fn folded(product: &Structure, drawn: usize) -> Structure {
    let is_counted = |atom: AtomId| atom.index() >= drawn && is_folded(product, atom);
    with_counts(product, is_counted).part(|atom| !is_counted(atom))
}

/// Counts hydrogens that are like undrawn ones at the atoms that carry them, beside drawing them.
fn with_counts(product: &Structure, is_counted: impl Fn(AtomId) -> bool) -> Cow<'_, Structure> {
    let mut drawn_out = product.atom_ids().filter(|atom| is_counted(*atom)).peekable();
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
        if matches!(neighbour, Neighbour::Atom(atom) if is_counted(*atom)) {
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
