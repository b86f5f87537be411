//! `isotope-lost`: atoms whose isotope the answer does not draw.

use super::drawing::{Part, Sorter};
use super::table::Slip;
use crate::compare::Difference;
use crate::structure::{AtomId, Element};
use smallvec::SmallVec;

impl Sorter<'_> {
    /// Takes all isotopes that are drawn as none: one slip, however many atoms have lost theirs. Deuterium written as an undrawn
    /// hydrogen is an atom less and a hydrogen more.
    pub(super) fn isotopes(&mut self) {
        let mut covers: SmallVec<[Difference; 3]> = SmallVec::new();
        while let Some(lost) = self.take(|own| matches!(own, Difference::Isotope(_, Some(_), None))) {
            covers.push(lost);
        }
        let marked: Vec<AtomId> = self.left.iter().filter_map(|own| self.marked_hydrogen(*own)).collect();
        for hydrogen in marked {
            let Some((carrier, _)) = self.drawing.neighbours(hydrogen).next() else { continue };
            if let Some(counted) = self.take_one_hydrogen_more(carrier) {
                self.take(|own| *own == Difference::Missing(hydrogen));
                covers.extend([Difference::Missing(hydrogen), counted]);
            }
        }
        if !covers.is_empty() {
            self.parts.push(Part { slip: Slip::IsotopeLost, covers });
        }
    }

    fn marked_hydrogen(&self, difference: Difference) -> Option<AtomId> {
        let Difference::Missing(atom) = difference else { return None };
        let own = self.drawing.atom(atom);
        (own.element == Element::HYDROGEN && own.isotope.is_some()).then_some(atom)
    }

    /// One hydrogen more on an atom; of several more, the others are left for the atoms that they stand for.
    fn take_one_hydrogen_more(&mut self, carrier: AtomId) -> Option<Difference> {
        let more = |own: &Difference| matches!(*own, Difference::Hydrogens(a, was, is) if a == carrier && is > was);
        let Difference::Hydrogens(_, was, is) = self.take(more)? else { return None };
        if is > was + 1 {
            self.left.push(Difference::Hydrogens(carrier, was + 1, is));
        }
        Some(Difference::Hydrogens(carrier, was, was + 1))
    }
}
