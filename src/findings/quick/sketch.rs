//! A flat drawing: atoms in the order of the text, each with its bonds beside it.

use super::labels::Labels;
use super::pen::Pen;
use super::rings::Member;
use crate::structure::Element;
use crate::structure::canon::Orders;
use crate::structure::electrons::{Known, Shells};
use crate::structure::skeleton::Node;

/// No atom.
pub(super) const NO_ATOM: u8 = u8::MAX;
/// No label.
pub(super) const NO_LABEL: u16 = u16::MAX;
/// Atoms of a drawing at most, so that a byte names one: what people draw has fewer.
pub(super) const MOST_ATOMS: usize = 250;
/// Bonds of an atom at most, as in SF6.
const BONDS: usize = 6;

/// A bond, seen from one of its ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arc {
    pub(super) to: u8,
    /// Its order, 1 to 4, and [`DELOCALISED`].
    bond: u8,
}

/// Marks a bond that is drawn delocalised, so that its order is the tool's choice.
const DELOCALISED: u8 = 0x80;

impl Arc {
    #[inline]
    pub(super) fn new(to: u8, order: u8) -> Self {
        Self { to, bond: order }
    }

    /// A delocalised bond, of order 1 until its order is chosen.
    #[inline]
    pub(super) fn delocalised(to: u8) -> Self {
        Self { to, bond: 1 | DELOCALISED }
    }

    #[inline]
    pub(super) fn order(self) -> u8 {
        self.bond & !DELOCALISED
    }

    #[inline]
    pub(super) fn is_delocalised(self) -> bool {
        self.bond & DELOCALISED != 0
    }

    /// Whether two bonds may stand for each other.
    #[inline]
    pub(super) fn is_like(self, other: Self) -> bool {
        self.bond == other.bond || (self.is_delocalised() && other.is_delocalised())
    }
}

/// Marks an atom that is written as aromatic, and whose localised form is not chosen yet.
pub(super) const AROMATIC: u8 = 1;
/// Marks a hydrogen.
pub(super) const HYDROGEN: u8 = 2;

/// An atom, what is counted of it, its bonds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Atom {
    /// A number for what it is by itself, its bonds left out.
    pub(super) code: u64,
    pub(super) element: Element,
    pub(super) charge: i8,
    /// Undrawn hydrogens.
    pub(super) hydrogens: u8,
    /// Sum of the orders, undrawn hydrogens included.
    pub(super) bonds: u8,
    pub(super) degree: u8,
    /// What is looked for in a whole drawing: [`AROMATIC`] and [`HYDROGEN`].
    pub(super) marks: u8,
    /// Whether it is a hydrogen that is counted at its neighbour.
    pub(super) folded: bool,
    /// Mass number plus one; 0 where none is drawn.
    pub(super) isotope: u16,
    pub(super) label: u16,
    pub(super) arcs: [Arc; BONDS],
}

impl Atom {
    /// A neutral atom without bonds.
    #[inline]
    pub(super) fn new(element: Element) -> Self {
        Self {
            code: 0,
            element,
            charge: 0,
            hydrogens: 0,
            bonds: 0,
            marks: if element == Element::HYDROGEN { HYDROGEN } else { 0 },
            folded: false,
            isotope: 0,
            label: NO_LABEL,
            degree: 0,
            arcs: [Arc { to: NO_ATOM, bond: 0 }; BONDS],
        }
    }

    /// The same atom, written as aromatic or not.
    pub(super) fn written(self, aromatic: bool) -> Self {
        Self { marks: if aromatic { self.marks | AROMATIC } else { self.marks }, ..self }
    }

    #[inline]
    pub(super) fn is_aromatic(&self) -> bool {
        self.marks & AROMATIC != 0
    }

    /// Its bonds.
    #[inline]
    pub(super) fn arcs(&self) -> &[Arc] {
        &self.arcs[..usize::from(self.degree).min(BONDS)]
    }

    /// Whether one of its bonds is drawn delocalised.
    pub(super) fn is_delocalised(&self) -> bool {
        self.arcs().iter().any(|arc| arc.is_delocalised())
    }

    /// Whether it has just these bonds, whatever their order.
    #[inline]
    pub(super) fn has_bonds_of(&self, other: &Self) -> bool {
        let (own, others) = (self.arcs(), other.arcs());
        let same = |(own, other): (&Arc, &Arc)| own.to == other.to && own.is_like(*other);
        own.len() == others.len()
            && (own.iter().zip(others).all(same)
                || own.iter().all(|arc| other.arc_to(arc.to).is_some_and(|other| other.is_like(*arc))))
    }

    /// Its bond to an atom.
    #[inline]
    pub(super) fn arc_to(&self, other: u8) -> Option<&Arc> {
        self.arcs().iter().find(|arc| arc.to == other)
    }

    /// Whether two atoms are alike by themselves and have as many bonds but for those to hydrogens that are counted.
    #[inline]
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.code == other.code && self.degree + self.hydrogens == other.degree + other.hydrogens
    }

    /// Notes how many hydrogens it has, drawn and undrawn.
    #[inline]
    pub(super) fn count(&mut self, hydrogens: u8) {
        self.code = Orders::Drawn.node_code(&Node {
            element: self.element,
            isotope: self.isotope.checked_sub(1),
            charge: i16::from(self.charge),
            hydrogens: u16::from(hydrogens),
            unpaired: None,
            pi: 0,
        });
    }

    /// Hydrogens, drawn and undrawn, as they were noted last.
    fn counted(&self) -> u8 {
        Orders::hydrogens_of(self.code) as u8
    }

    /// A number for what it is by itself.
    #[inline]
    pub(super) fn code(&self, orders: Orders) -> u64 {
        self.code | orders.pi_code(u16::from(self.bonds - self.hydrogens - self.degree))
    }

    /// What is known of its electrons.
    #[inline]
    pub(super) fn look_up(&self, shells: &Shells) -> Known {
        shells.look_up(self.element, self.charge.into(), self.bonds.into())
    }

    /// Adds a bond; `None` where there are too many.
    #[inline]
    pub(super) fn add(&mut self, arc: Arc) -> Option<()> {
        *self.arcs.get_mut(usize::from(self.degree))? = arc;
        self.degree += 1;
        self.bonds += arc.order();
        Some(())
    }

    /// Gives the bond to an atom another order; 0 takes it away.
    pub(super) fn change(&mut self, other: u8, order: u8) {
        let last = usize::from(self.degree).min(BONDS).saturating_sub(1);
        let Some(place) = self.arcs().iter().position(|arc| arc.to == other) else { return };
        let arc = &mut self.arcs[place];
        self.bonds = self.bonds - arc.order() + order;
        arc.bond = arc.bond & DELOCALISED | order;
        if order == 0 {
            self.arcs.swap(place, last);
            self.degree -= 1;
        }
    }
}

/// A flat drawing.
#[derive(Debug)]
pub(super) struct Sketch {
    /// As many as a byte can name, so that no place is beyond the end.
    atoms: Box<[Atom; 256]>,
    drawn: Drawn,
    /// A ring that is being localised.
    pub(super) ring: Vec<Member>,
}

/// How much of a drawing there is, and what is in it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drawn {
    /// Number of atoms.
    pub(super) count: u8,
    /// The marks of all atoms.
    pub(super) marks: u8,
    /// All labels, bit by bit: [`NO_LABEL`] where no atom has one.
    pub(super) labels: u16,
    pub(super) any_delocalised: bool,
    any_folded: bool,
}

impl Drawn {
    /// Nothing.
    const NOTHING: Self = Self { count: 0, marks: 0, labels: NO_LABEL, any_delocalised: false, any_folded: false };
}

impl Default for Sketch {
    fn default() -> Self {
        Self { atoms: Box::new([Atom::new(Element::ANY); 256]), drawn: Drawn::NOTHING, ring: Vec::new() }
    }
}

impl Sketch {
    /// Takes over another drawing.
    pub(super) fn copy(&mut self, other: &Self) {
        let count = usize::from(other.drawn.count);
        self.atoms[..count].copy_from_slice(&other.atoms[..count]);
        self.drawn = other.drawn;
    }

    /// A pen that goes on with the drawing.
    pub(super) fn pen(&mut self) -> Pen<'_> {
        Pen { atoms: &mut self.atoms, drawn: self.drawn, whole: &mut self.drawn }
    }

    /// Begins anew.
    pub(super) fn clear(&mut self) {
        self.drawn = Drawn::NOTHING;
    }

    pub(super) fn has_labels(&self) -> bool {
        self.drawn.labels != NO_LABEL
    }

    pub(super) fn any_aromatic(&self) -> bool {
        self.drawn.marks & AROMATIC != 0
    }

    pub(super) fn any_folded(&self) -> bool {
        self.drawn.any_folded
    }

    fn any_hydrogen(&self) -> bool {
        self.drawn.marks & HYDROGEN != 0
    }

    pub(super) fn any_delocalised(&self) -> bool {
        self.drawn.any_delocalised
    }

    pub(super) fn count(&self) -> u8 {
        self.drawn.count
    }

    #[inline]
    pub(super) fn atoms(&self) -> &[Atom] {
        &self.atoms[..usize::from(self.drawn.count)]
    }

    #[inline]
    pub(super) fn atoms_mut(&mut self) -> &mut [Atom] {
        &mut self.atoms[..usize::from(self.drawn.count)]
    }

    #[inline]
    pub(super) fn atom(&self, at: u8) -> &Atom {
        &self.atoms[usize::from(at)]
    }

    #[inline]
    pub(super) fn atom_mut(&mut self, at: u8) -> &mut Atom {
        &mut self.atoms[usize::from(at)]
    }

    pub(super) fn add_atom(&mut self, atom: &Atom, label: u16) -> Option<u8> {
        let mut pen = self.pen();
        let at = pen.atom(atom, label)?;
        pen.lift();
        Some(at)
    }

    /// Adds a bond as it is drawn on paper, not delocalised; `None` where an atom has too many.
    pub(super) fn add_bond(&mut self, a: u8, b: u8, order: u8) -> Option<()> {
        let mut pen = self.pen();
        pen.bond(a, b, order)?;
        pen.lift();
        Some(())
    }

    /// Gives the bond between two atoms this order, whether there was one or not; 0 takes it away.
    pub(super) fn set_order(&mut self, a: u8, b: u8, order: u8) -> Option<()> {
        if self.atom(a).arc_to(b).is_none() {
            return self.add_bond(a, b, order);
        }
        self.atom_mut(a).change(b, order);
        self.atom_mut(b).change(a, order);
        Some(())
    }

    /// Notes the labels of all atoms, each its position where no atom has one; `None` where two have one label. `None` also where the
    /// electrons of an atom are not judged or not possible, or where two atoms have an unpaired one: what two may mean is another
    /// question.
    pub(super) fn look_at_atoms(&mut self, labels: &mut Labels, shells: &Shells) -> Option<()> {
        let has_labels = self.has_labels();
        let mut odd = 0;
        labels.begin();
        for (at, atom) in (0_u8..).zip(self.atoms_mut()) {
            if !has_labels {
                atom.label = u16::from(at) + 1;
            }
            labels.note(atom.label, at)?;
            let known = atom.look_up(shells);
            odd += u32::from(known.is_odd);
            (known.is_possible && odd < 2).then_some(())?;
        }
        Some(())
    }

    /// Finds hydrogens that are drawn and counted at their neighbour.
    pub(super) fn fold_hydrogens(&mut self) {
        if self.any_hydrogen() {
            (0..self.drawn.count).for_each(|at| self.fold(at));
        }
    }

    /// The same again, where the bonds and charges of these atoms have changed and nothing else. A hydrogen that is no longer
    /// counted has lost its bond, so that the atom at which it was is one of them.
    pub(super) fn fold_again(&mut self, changed: impl Iterator<Item = u8> + Clone) {
        if !self.any_hydrogen() {
            for at in changed {
                let atom = self.atom_mut(at);
                atom.count(atom.hydrogens);
            }
            return;
        }
        for at in changed.clone() {
            self.atom_mut(at).folded = false;
        }
        for at in changed.clone() {
            let atom = self.atom(at);
            let folded = atom.arcs().iter().filter(|arc| self.atom(arc.to).folded).count() as u8;
            let all = atom.hydrogens + folded;
            self.atom_mut(at).count(all);
        }
        changed.for_each(|at| self.fold(at));
    }

    /// Counts a drawn hydrogen at its neighbour, if it is one that may be.
    fn fold(&mut self, at: u8) {
        let atom = self.atom(at);
        if atom.element != Element::HYDROGEN || atom.isotope != 0 || atom.charge != 0 || atom.folded {
            return;
        }
        let &[Arc { to: host, bond: 1 }] = atom.arcs() else { return };
        if self.atom(host).element != Element::HYDROGEN {
            self.atom_mut(at).folded = true;
            self.drawn.any_folded = true;
            let host = self.atom_mut(host);
            host.count(host.counted() + 1);
        }
    }

    /// How the orders of its bonds count.
    pub(super) fn orders(&self) -> Orders {
        // `localise` gives up on atoms with a choice.
        if self.drawn.any_delocalised { Orders::Free } else { Orders::Drawn }
    }
}
