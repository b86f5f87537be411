//! A flat drawing: atoms in the order of the text, each with its bonds beside it.

use super::shells::Shells;
use crate::structure::Element;
use crate::structure::canon::{Orders, Peel};
use crate::structure::localise::{Role, role_by_count};
use crate::structure::skeleton::Node;

/// No atom.
pub(super) const NO_ATOM: u8 = u8::MAX;
/// No label.
pub(super) const NO_LABEL: u16 = u16::MAX;
/// Atoms of a drawing at most, so that a byte names one: what people draw has fewer.
pub(super) const MOST: usize = 250;
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
    pub(super) fn order(self) -> u8 {
        self.bond & !DELOCALISED
    }

    #[inline]
    fn is_delocalised(self) -> bool {
        self.bond & DELOCALISED != 0
    }

    /// Whether two bonds may stand for each other.
    #[inline]
    pub(super) fn is_like(self, other: Self) -> bool {
        self.bond == other.bond || (self.is_delocalised() && other.is_delocalised())
    }
}

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
    /// Whether it is written as aromatic, and its localised form is not chosen yet.
    pub(super) aromatic: bool,
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
            aromatic: false,
            folded: false,
            isotope: 0,
            label: NO_LABEL,
            degree: 0,
            arcs: [Arc { to: NO_ATOM, bond: 0 }; BONDS],
        }
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

    fn add(&mut self, arc: Arc) -> Option<()> {
        *self.arcs.get_mut(usize::from(self.degree))? = arc;
        self.degree += 1;
        Some(())
    }

    /// Gives the bond to an atom another order; 0 takes it away.
    fn change(&mut self, other: u8, order: u8) {
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
#[allow(
    clippy::struct_excessive_bools,
    reason = "each says that something usual is not there, so that it is not looked for"
)]
pub(super) struct Sketch {
    /// As many as a byte can name, so that no place is beyond the end.
    atoms: Box<[Atom; 256]>,
    count: u8,
    pub(super) has_labels: bool,
    pub(super) any_delocalised: bool,
    any_hydrogen: bool,
    any_folded: bool,
    /// A ring that is being localised: its atoms, the next, whether it must have a double bond.
    ring: Vec<(u8, u8, bool)>,
}

impl Default for Sketch {
    fn default() -> Self {
        Self {
            atoms: Box::new([Atom::new(Element::ANY); 256]),
            count: 0,
            has_labels: false,
            any_delocalised: false,
            any_hydrogen: false,
            any_folded: false,
            ring: Vec::new(),
        }
    }
}

impl Sketch {
    pub(super) fn clear(&mut self) {
        self.count = 0;
        self.has_labels = false;
        self.any_delocalised = false;
        self.any_hydrogen = false;
        self.any_folded = false;
    }

    /// Takes over another drawing.
    pub(super) fn copy(&mut self, other: &Self) {
        let count = usize::from(other.count);
        self.atoms[..count].copy_from_slice(&other.atoms[..count]);
        self.count = other.count;
        self.has_labels = other.has_labels;
        self.any_delocalised = other.any_delocalised;
        self.any_hydrogen = other.any_hydrogen;
        self.any_folded = other.any_folded;
    }

    pub(super) fn count(&self) -> u8 {
        self.count
    }

    #[inline]
    pub(super) fn atoms(&self) -> &[Atom] {
        &self.atoms[..usize::from(self.count)]
    }

    #[inline]
    pub(super) fn atoms_mut(&mut self) -> &mut [Atom] {
        &mut self.atoms[..usize::from(self.count)]
    }

    #[inline]
    pub(super) fn atom(&self, at: u8) -> &Atom {
        &self.atoms[usize::from(at)]
    }

    #[inline]
    pub(super) fn atom_mut(&mut self, at: u8) -> &mut Atom {
        &mut self.atoms[usize::from(at)]
    }

    #[inline]
    pub(super) fn add_atom(&mut self, atom: &Atom, label: u16) -> Option<u8> {
        let at = self.count;
        if usize::from(at) >= MOST {
            return None;
        }
        self.any_hydrogen |= atom.element == Element::HYDROGEN;
        self.has_labels |= label != NO_LABEL;
        let own = &mut self.atoms[usize::from(at)];
        *own = *atom;
        own.label = label;
        self.count = at + 1;
        Some(at)
    }

    /// Adds a bond; `None` where an atom has too many.
    #[inline]
    pub(super) fn add_bond(&mut self, a: u8, b: u8, order: u8, delocalised: bool) -> Option<()> {
        let bond = order | if delocalised { DELOCALISED } else { 0 };
        for (own, to) in [(a, b), (b, a)] {
            let atom = self.atom_mut(own);
            atom.add(Arc { to, bond })?;
            atom.bonds += order;
        }
        self.any_delocalised |= delocalised;
        Some(())
    }

    /// Gives the bond between two atoms this order, whether there was one or not; 0 takes it away.
    pub(super) fn set_order(&mut self, a: u8, b: u8, order: u8) -> Option<()> {
        if self.atom(a).arc_to(b).is_none() {
            return self.add_bond(a, b, order, false);
        }
        self.atom_mut(a).change(b, order);
        self.atom_mut(b).change(a, order);
        Some(())
    }

    /// Labels every atom with its position where no atom has a label.
    pub(super) fn label_by_position(&mut self) {
        if !self.has_labels {
            for (label, atom) in (1..).zip(self.atoms_mut()) {
                atom.label = label;
            }
        }
    }

    /// Gives every delocalised bond an order, where the systems are rings by themselves; `None` where they are not, or where an
    /// atom has a choice, or where there is no such form.
    pub(super) fn localise(&mut self) -> Option<()> {
        for at in 0..self.count {
            let atom = self.atom(at);
            if !atom.aromatic {
                continue;
            }
            self.walk_ring(at)?;
            self.localise_ring()?;
        }
        Some(())
    }

    /// Walks the ring of delocalised bonds through an atom.
    fn walk_ring(&mut self, first: u8) -> Option<()> {
        self.ring.clear();
        let (mut at, mut came_from) = (first, NO_ATOM);
        loop {
            let atom = self.atom(at);
            if atom.arcs().iter().filter(|arc| arc.is_delocalised()).count() != 2 {
                return None;
            }
            let next = atom.arcs().iter().find(|arc| arc.is_delocalised() && arc.to != came_from)?.to;
            let must = must(atom)?;
            self.ring.push((at, next, must));
            self.atom_mut(at).aromatic = false;
            (at, came_from) = (next, at);
            if at == first {
                return Some(());
            }
            if self.ring.len() >= MOST {
                return None;
            }
        }
    }

    /// Pairs the atoms of the ring that must have a double bond, each with the next.
    fn localise_ring(&mut self) -> Option<()> {
        let length = self.ring.len();
        let start = self.ring.iter().rposition(|(.., must)| !must).map_or(0, |place| place + 1);
        let mut place = 0;
        while place < length {
            let (at, next, must) = self.ring[(start + place) % length];
            place += 1;
            if !must {
                continue;
            }
            let (.., next_must) = self.ring[(start + place) % length];
            if place == length || !next_must {
                return None;
            }
            place += 1;
            self.atom_mut(at).change(next, 2);
            self.atom_mut(next).change(at, 2);
        }
        Some(())
    }

    /// Whether the electrons of every atom are judged and possible, and fewer than two of them unpaired: what two may mean is
    /// another question.
    pub(super) fn possible(&self, shells: &Shells) -> bool {
        let mut odd = 0;
        self.atoms().iter().all(|atom| {
            odd += u32::from(shells.is_odd(atom));
            odd < 2 && shells.are_possible(atom)
        })
    }

    /// Finds hydrogens that are drawn and counted at their neighbour.
    pub(super) fn fold_hydrogens(&mut self) {
        if self.any_hydrogen {
            (0..self.count).for_each(|at| self.fold(at));
        }
    }

    /// The same again, where the bonds and charges of these atoms have changed and nothing else. A hydrogen that is no longer
    /// counted has lost its bond, so that the atom at which it was is one of them.
    pub(super) fn fold_again(&mut self, changed: impl Iterator<Item = u8> + Clone) {
        if !self.any_hydrogen {
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
            self.any_folded = true;
            let host = self.atom_mut(host);
            host.count(host.counted() + 1);
        }
    }

    /// How the orders of its bonds count.
    pub(super) fn orders(&self) -> Orders {
        // `localise` gives up on atoms with a choice.
        if self.any_delocalised { Orders::Free } else { Orders::Drawn }
    }

    /// Gives what is drawn for colouring; `place` says the node of each atom then.
    pub(super) fn feed(&self, orders: Orders, peel: &mut Peel, place: &mut [u8; 256]) {
        peel.begin();
        // By order, of which there are few.
        let kinds: [u32; 8] = std::array::from_fn(|order| orders.kind(order as u8));
        let kind = |arc: &Arc| kinds[usize::from(arc.order() & 7)];
        if self.any_folded {
            self.number_nodes(place);
            let end = |arc: &Arc| (u32::from(place[usize::from(arc.to)]), kind(arc));
            for (at, atom) in (0_u8..).zip(self.atoms()).filter(|(_, atom)| !atom.folded) {
                let shown = atom.arcs().iter().filter(|arc| !self.atom(arc.to).folded);
                peel.node_with(u32::from(place[usize::from(at)]), atom.code(orders), shown.map(end));
            }
            return;
        }
        // All at once, which costs less than each beside its atom.
        *place = std::array::from_fn(|at| at as u8);
        for (at, atom) in (0..).zip(self.atoms()) {
            let ends = atom.arcs().iter().map(|arc| (u32::from(arc.to), kind(arc)));
            peel.node_with(at, atom.code(orders), ends);
        }
    }

    /// Numbers the nodes of the drawing; the place of a hydrogen is that of the atom that it is counted at.
    fn number_nodes(&self, place: &mut [u8; 256]) {
        let mut nodes = 0;
        for (own, atom) in place.iter_mut().zip(self.atoms()) {
            *own = nodes;
            nodes += u8::from(!atom.folded);
        }
        for (at, atom) in (0_u8..).zip(self.atoms()) {
            if let (true, [Arc { to: host, .. }]) = (atom.folded, atom.arcs()) {
                place[usize::from(at)] = place[usize::from(*host)];
            }
        }
    }
}

/// Whether an atom of a delocalised system must have a double bond of it or cannot; `None` where it has the choice.
fn must(atom: &Atom) -> Option<bool> {
    match role_by_count(atom.element, i32::from(atom.charge), i32::from(atom.bonds), None) {
        Role::Must => Some(true),
        Role::Cannot => Some(false),
        Role::May => None,
    }
}
