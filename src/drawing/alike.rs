//! A drawing made comparable with another: hydrogens are drawn, or left undrawn, as the other drawing has them.
//!
//! Structures are compared by their counts of hydrogens, drawn or not. In pictures that stand beside each other the same
//! hydrogen must look alike and stand in one place, else a right answer looks like a wrong one.

use crate::compare::difference::is_folded;
use crate::source::Span;
use crate::structure::stereo::Neighbour;
use crate::structure::{Atom, AtomId, Bond, Element, Label, Structure};

/// A drawing with the hydrogens of another one.
#[derive(Debug, Clone, Default)]
pub struct Alike {
    /// The drawing.
    pub structure: Structure,
    /// For each of its atoms, the atom of the other drawing that it is.
    pub of_model: Vec<Option<AtomId>>,
    /// For each atom as it was before, the atom that it is now; none for a hydrogen that is no longer drawn.
    pub now: Vec<Option<AtomId>>,
}

impl Alike {
    /// `map`: for each atom of `drawing` the atom of `model` that it is, as far as it is known.
    #[must_use]
    pub fn new(model: &Structure, drawing: &Structure, map: &[Option<AtomId>]) -> Self {
        let mut of_model: Vec<Option<AtomId>> =
            (0..drawing.atom_count()).map(|at| map.get(at).copied().flatten()).collect();
        let mut taken = vec![false; model.atom_count()];
        for atom in of_model.iter().flatten() {
            if let Some(slot) = taken.get_mut(atom.index()) {
                *slot = true;
            }
        }
        let mut own = Self { structure: drawing.clone(), of_model: Vec::new(), now: Vec::new() };
        pair_drawn(model, drawing, &mut of_model, &mut taken);
        own.of_model = of_model;
        own.draw_missing(model, &taken);
        own.undraw(model, drawing.atom_count());
        own
    }

    /// Draws hydrogens that the model draws and this drawing only counts.
    fn draw_missing(&mut self, model: &Structure, taken: &[bool]) {
        for at in 0..self.of_model.len() {
            let (carrier, Some(like)) = (AtomId::new(at), self.of_model[at]) else { continue };
            if self.structure.atom(carrier).hydrogens == 0 {
                continue;
            }
            let left = free_hydrogens(model, like).filter(|own| !taken[own.index()]);
            for hydrogen in left.collect::<Vec<_>>() {
                let count = &mut self.structure.atom_mut(carrier).hydrogens;
                if *count == 0 {
                    break;
                }
                *count -= 1;
                self.draw_hydrogen(carrier, model.label(hydrogen));
                self.of_model.push(Some(hydrogen));
            }
        }
    }

    fn draw_hydrogen(&mut self, carrier: AtomId, label: Option<Label>) {
        let structure = &mut self.structure;
        let used = label
            .as_ref()
            .is_some_and(|label| structure.atom_ids().any(|atom| structure.label(atom).as_ref() == Some(label)));
        let drawn = structure.add_atom(Atom::new(Element::HYDROGEN), Span::default());
        structure.add_bond(carrier, drawn, Bond::new(1), Span::default());
        structure.coordinates.clear();
        if let Some(label) = label.filter(|_| !used) {
            structure.set_label(drawn, &label);
        }
        let centres = structure.stereo.centres.iter_mut().filter(|centre| centre.atom == carrier);
        for neighbour in centres.flat_map(|centre| &mut centre.neighbours) {
            if *neighbour == Neighbour::Hydrogen {
                *neighbour = Neighbour::Atom(drawn);
                break;
            }
        }
    }

    /// Leaves hydrogens undrawn that the model only counts.
    fn undraw(&mut self, model: &Structure, before: usize) {
        let mut gone = vec![false; self.structure.atom_count()];
        for (at, gone) in gone.iter_mut().enumerate().take(before) {
            let atom = AtomId::new(at);
            if self.of_model[at].is_some() || !is_folded(&self.structure, atom) || self.is_reference(atom) {
                continue;
            }
            let Some((carrier, _)) = self.structure.neighbours(atom).next() else { continue };
            let Some(like) = self.of_model[carrier.index()] else { continue };
            if self.structure.atom(carrier).hydrogens < model.atom(like).hydrogens {
                self.structure.atom_mut(carrier).hydrogens += 1;
                *gone = true;
            }
        }
        let mut next = 0;
        self.now = gone
            .iter()
            .take(before)
            .map(|gone| {
                next += usize::from(!gone);
                (!gone).then(|| AtomId::new(next - 1))
            })
            .collect();
        if gone.contains(&true) {
            self.structure = self.structure.part(|atom| !gone[atom.index()]);
            let mut at = 0;
            self.of_model.retain(|_| {
                at += 1;
                !gone[at - 1]
            });
        }
    }

    /// Whether a stereo mark is written with this atom.
    fn is_reference(&self, atom: AtomId) -> bool {
        let stereo = &self.structure.stereo;
        stereo.centres.iter().any(|centre| centre.neighbours.contains(&Neighbour::Atom(atom)))
            || stereo.double_bonds.iter().any(|bond| bond.references.contains(&atom))
    }
}

/// Pairs hydrogens that both draw at the same atom: those of one label first, then in order.
fn pair_drawn(model: &Structure, drawing: &Structure, of_model: &mut [Option<AtomId>], taken: &mut [bool]) {
    for by_label in [true, false] {
        for atom in drawing.atom_ids() {
            if of_model[atom.index()].is_some() || !is_folded(drawing, atom) {
                continue;
            }
            let carrier = drawing.neighbours(atom).next().and_then(|(carrier, _)| of_model[carrier.index()]);
            let Some(carrier) = carrier.filter(|carrier| carrier.index() < model.atom_count()) else { continue };
            let label = drawing.label(atom);
            let fits =
                |own: &AtomId| !taken[own.index()] && (!by_label || (label.is_some() && model.label(*own) == label));
            let found = free_hydrogens(model, carrier).find(fits);
            if let Some(own) = found {
                taken[own.index()] = true;
                of_model[atom.index()] = Some(own);
            }
        }
    }
}

/// Hydrogens drawn at an atom that are only another way to write its count.
fn free_hydrogens(structure: &Structure, carrier: AtomId) -> impl Iterator<Item = AtomId> {
    let exists = carrier.index() < structure.atom_count();
    let drawn = structure.neighbours(carrier).map(|(atom, _)| atom);
    drawn.filter(move |atom| exists && is_folded(structure, *atom))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::compare;
    use crate::smiles::{self, Labels};
    use crate::structure::LabelIndex;

    /// (model, drawing, the drawing as it is drawn beside the model, how many of its atoms the model does not have)
    const CASES: &[(&str, &str, &str, usize)] = &[
        ("[NH3].[O]([CH3])[H]", "N.OC", "[NH3].[H][O][CH3]", 0),
        ("[NH3].[OH][CH3]", "N([H])([H])[H].CO[H]", "[NH3].[OH][CH3]", 0),
        ("[OH3+]", "[OH2]", "[OH2]", 0),
        ("[O+]([H])([H])[H]", "O", "[H][O][H]", 0),
        ("[CH4]", "C[H]", "[CH4]", 0),
        ("[H]O[H]", "[O-][H]", "[H][O-]", 0),
        ("[H][C@](F)(Cl)Br", "F[C@H](Cl)Br", "[H][C@](F)([Cl])[Br]", 0),
    ];

    #[test]
    fn hydrogens_are_drawn_as_the_model_draws_them() {
        let mut wrong = Vec::new();
        for (model, drawing, wanted, strange) in CASES {
            let [model, own, wanted] = [model, drawing, wanted].map(|text| smiles::read(text).structure);
            let compared = compare(&model, &own, &LabelIndex::default(), 10_000);
            let alike = Alike::new(&model, &own, &compared.mapping.to_computed);
            let [found, wanted] = [&alike.structure, &wanted].map(|own| smiles::write(own, Labels::Without));
            let same = smiles::read(&found).structure.atom_count() == smiles::read(&wanted).structure.atom_count();
            let unknown = alike.of_model.iter().filter(|own| own.is_none()).count();
            let lengths = alike.of_model.len() == alike.structure.atom_count() && alike.now.len() == own.atom_count();
            if !same || unknown != *strange || !lengths {
                wrong.push(format!("{drawing}: {found}, not {wanted}; {unknown} unknown"));
            }
        }
        assert!(wrong.is_empty(), "{wrong:#?}");
    }
}
