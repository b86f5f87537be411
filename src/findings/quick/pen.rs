//! Draws atoms and bonds into a flat drawing.

use super::sketch::{Arc, Atom, Drawn, MOST_ATOMS};

/// Draws into a sketch. What is counted of the whole is kept beside it until the pen is lifted.
pub(super) struct Pen<'s> {
    pub(super) atoms: &'s mut [Atom; 256],
    pub(super) drawn: Drawn,
    pub(super) whole: &'s mut Drawn,
}

impl Pen<'_> {
    /// Notes what was drawn.
    pub(super) fn lift(self) {
        *self.whole = self.drawn;
    }

    #[inline]
    pub(super) fn get(&self, at: u8) -> &Atom {
        &self.atoms[usize::from(at)]
    }

    /// Adds an atom without bonds but those to undrawn hydrogens; `None` where there are too many.
    #[inline]
    pub(super) fn atom(&mut self, atom: &Atom, label: u16) -> Option<u8> {
        let at = self.drawn.count;
        if usize::from(at) >= MOST_ATOMS {
            return None;
        }
        let own = &mut self.atoms[usize::from(at)];
        *own = *atom;
        own.label = label;
        self.drawn.marks |= own.marks;
        self.drawn.labels &= label;
        self.drawn.count = at + 1;
        Some(at)
    }

    /// Adds a bond; `None` where an atom has too many.
    #[inline]
    pub(super) fn bond(&mut self, a: u8, b: u8, order: u8) -> Option<()> {
        self.arcs(a, b, Arc::new(a, order), Arc::new(b, order))
    }

    /// Adds a delocalised bond, its order to be chosen.
    pub(super) fn delocalised_bond(&mut self, a: u8, b: u8) -> Option<()> {
        self.drawn.any_delocalised = true;
        self.arcs(a, b, Arc::delocalised(a), Arc::delocalised(b))
    }

    #[inline]
    fn arcs(&mut self, a: u8, b: u8, to_a: Arc, to_b: Arc) -> Option<()> {
        self.atoms[usize::from(a)].add(to_b)?;
        self.atoms[usize::from(b)].add(to_a)
    }
}
