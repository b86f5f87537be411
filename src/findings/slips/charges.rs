//! `charges-left-out`: a drawing in which charges of both signs are not written.

use super::drawing::{Part, Sorter};
use super::table::Slip;
use crate::compare::Difference;
use smallvec::SmallVec;

impl Sorter<'_> {
    /// Takes charges that are drawn as none, where these are of both signs. An atom that is written without its charge and without
    /// brackets is read with the hydrogens that its valence asks for: these belong to the slip.
    pub(super) fn charges_left_out(&mut self) {
        let lost = |own: &Difference| matches!(*own, Difference::Charge(_, was, 0) if was != 0);
        let signs = |of: &Self| {
            let lost = of.left.iter().filter(|own| lost(own));
            lost.fold((false, false), |(plus, minus), own| match *own {
                Difference::Charge(_, was, _) => (plus || was > 0, minus || was < 0),
                _ => (plus, minus),
            })
        };
        if signs(self) != (true, true) {
            return;
        }
        let mut part = Part { slip: Slip::ChargesLeftOut, covers: SmallVec::new() };
        while let Some(charge) = self.take(lost) {
            part.covers.push(charge);
            if let Difference::Charge(atom, was, _) = charge {
                self.take_hydrogens(&mut part, atom, -i32::from(was));
            }
        }
        // The charges first: what is said names their atoms.
        part.covers.sort_by_key(|own| !matches!(own, Difference::Charge(..)));
        self.parts.push(part);
    }
}
