//! SMILES into a flat drawing: what is plain and right is drawn, at everything else the reading stops.

use super::bare::Bare;
use super::pen::Pen;
use super::sketch::{Atom, NO_LABEL, Sketch};
use crate::limits::Limits;
use crate::smiles::brackets::Brackets;
use crate::smiles::grammar::{Grammar, OpenRing, Sink};
use crate::smiles::{LooseKind, Mark, SmilesError};
use crate::source::Span;
use crate::structure::{self, Element};

impl Sketch {
    /// Reads a SMILES and chooses its localised form.
    pub(super) fn read(&mut self, text: &str, limits: &Limits, brackets: &mut Brackets<Atom>) -> Option<()> {
        let bare = Bare::get();
        self.clear();
        let mut grammar = Grammar::new(text, limits, brackets, Draw { pen: self.pen(), bare, any_bare: false });
        grammar.run().ok()?;
        let Draw { pen, any_bare, .. } = grammar.into_sink();
        pen.lift();
        if any_bare {
            self.atoms_mut().iter_mut().for_each(|atom| bare.count_hydrogens(atom));
        }
        (self.count() > 0).then_some(())?;
        if self.any_aromatic() { self.localise() } else { Some(()) }
    }
}

/// Draws what the grammar tells of. Whatever is unusual stops it, and nobody asks why.
struct Draw<'s> {
    pen: Pen<'s>,
    bare: &'static Bare,
    any_bare: bool,
}

impl Sink for Draw<'_> {
    type Id = u8;
    type Atom = Atom;
    type Stop = ();

    fn stop(&self, _: impl FnOnce() -> SmilesError) {}

    fn prepare(&mut self, atom: &structure::Atom) -> Result<Atom, ()> {
        let structure::Atom { element, aromatic, charge, hydrogens, isotope, .. } = *atom;
        let usual = [Element::CARBON, Element::NITROGEN, Element::OXYGEN, Element::SULFUR];
        // Any atom has no electrons to judge; hydrogen that carries hydrogen is loose notation.
        let is_odd = element == Element::ANY || (element == Element::HYDROGEN && hydrogens > 0);
        if is_odd || (aromatic && !usual.contains(&element)) {
            return Err(());
        }
        let (hydrogens, charge) = (u8::try_from(hydrogens).map_err(drop)?, i8::try_from(charge).map_err(drop)?);
        let isotope = isotope.map_or(0, |mass| mass + 1);
        let mut own = Atom { isotope, hydrogens, charge, bonds: hydrogens, ..Atom::new(element).written(aromatic) };
        own.count(hydrogens);
        Ok(own)
    }

    #[inline]
    fn organic(&mut self, byte: u8, next: Option<u8>) -> Option<(Atom, usize)> {
        self.any_bare = true;
        self.bare.atom(byte, next).map(|(atom, length)| (*atom, length))
    }

    #[inline]
    fn atom(&mut self, atom: &Atom, class: u32, _: Span) -> Result<u8, ()> {
        let label = match class {
            0 => NO_LABEL,
            class => u16::try_from(class).ok().filter(|label| *label != NO_LABEL).ok_or(())?,
        };
        self.pen.atom(atom, label).ok_or(())
    }

    #[inline]
    fn second_of_gas(&mut self, _: &Atom, _: u8, _: Span) -> Option<Atom> {
        None
    }

    #[inline]
    fn bond(&mut self, a: u8, b: u8, symbol: Option<u8>, _: Span) -> Result<(), ()> {
        let order = match symbol {
            // Taken for delocalised; `localise` gives up where it lies in no ring of such bonds.
            None if self.pen.get(b).is_aromatic() && self.pen.get(a).is_aromatic() => {
                return self.pen.delocalised_bond(a, b).ok_or(());
            }
            None | Some(b'-') => 1,
            Some(b'=') => 2,
            Some(b'#') => 3,
            Some(_) => return Err(()),
        };
        self.pen.bond(a, b, order).ok_or(())
    }

    #[inline]
    fn follows(&mut self, _: Option<u8>, _: u8, mark: Option<Mark>, _: Span) -> Result<(), ()> {
        if mark.is_some() { Err(()) } else { Ok(()) }
    }

    fn ring_opens(&mut self, _: u8) -> Option<(usize, usize)> {
        None
    }

    fn ring_closes(&mut self, _: &OpenRing<u8>, _: u8, _: Option<(u8, Span)>) {}

    #[inline]
    fn are_bonded(&self, a: u8, b: u8) -> bool {
        self.pen.get(a).arc_to(b).is_some()
    }

    fn loose(&mut self, _: Span, _: LooseKind) -> Result<(), ()> {
        Err(())
    }
}
