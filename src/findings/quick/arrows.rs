//! Arrows on a flat drawing: read, drawn out, summed up.

use super::labels::Labels;
use super::sketch::{Atom, NO_LABEL, Sketch};
use crate::arrows::plain::{self, PlainArrow, PlainName};
use crate::arrows::push::{Account, accounts, check};
use crate::arrows::{Arrow, Place, notation};
use crate::structure::electrons::{Electrons, Shells};
use crate::structure::{AtomId, Element};

/// Arrows of a step at most.
const MOST_ARROWS: usize = 16;

/// The arrows of one step and what they sum up to.
#[derive(Debug, Default)]
pub(super) struct Moved {
    pub(super) arrows: Vec<Arrow>,
    accounts: Vec<Account>,
    /// Hydrogens that arrows name: the atom that carries them, their number, themselves.
    drawn_out: Vec<(u8, u32, u8)>,
}

impl Moved {
    /// Reads an arrow field; hydrogens that it names are drawn out in the start.
    pub(super) fn read(&mut self, text: &str, start: &mut Sketch, labels: &Labels) -> Option<()> {
        self.arrows.clear();
        self.drawn_out.clear();
        let mut resolver = Resolver { start, labels, drawn_out: &mut self.drawn_out };
        for piece in notation::pieces(text) {
            if piece.is_empty() {
                (!piece.is_closed).then_some(())?;
                continue;
            }
            let arrow = resolver.arrow(&plain::arrow(piece.own.as_bytes())?)?;
            if self.arrows.len() == MOST_ARROWS {
                return None;
            }
            self.arrows.push(arrow);
        }
        (!self.arrows.is_empty()).then_some(())
    }

    /// The product of the arrows, where it has none of the faults and oddities that `judge` tells of.
    pub(super) fn push(&mut self, start: &Sketch, product: &mut Sketch, is_resonance: bool) -> Option<()> {
        self.accounts.clear();
        self.accounts.extend(accounts(&self.arrows));
        product.copy(start);
        let mut is_idle = true;
        for account in &self.accounts {
            let (a, b) = ends(account);
            let change = account.given - account.taken;
            is_idle &= change == 0;
            // What an arrow does to a delocalised system depends on the form that is taken.
            if start.any_delocalised() && (start.atom(a).is_delocalised() || start.atom(b).is_delocalised()) {
                return None;
            }
            if a == b {
                check(non_bonding(start.atom(a)), account).is_none().then_some(())?;
                product.atom_mut(a).charge -= change as i8;
                continue;
            }
            let before = start.atom(a).arc_to(b).map_or(0, |arc| arc.order());
            check(Some(2 * i32::from(before)), account).is_none().then_some(())?;
            let change = change / 2;
            let after = u8::try_from(i32::from(before) + change).ok().filter(|order| *order <= 4)?;
            if is_resonance && (before == 0) != (after == 0) {
                return None;
            }
            for end in [a, b] {
                product.atom_mut(end).charge -= change as i8;
            }
            if before != after {
                product.set_order(a, b, after)?;
            }
        }
        (!is_idle).then_some(())
    }

    /// The atoms that the arrows touch, some of them more than once.
    pub(super) fn touched(&self) -> impl Iterator<Item = u8> + Clone {
        self.accounts.iter().flat_map(|account| <[u8; 2]>::from(ends(account)))
    }

    /// Whether the electrons of every atom that the arrows touch are possible.
    pub(super) fn leaves_possible(&self, product: &Sketch, shells: &Shells) -> bool {
        self.touched().all(|at| product.atom(at).look_up(shells).is_possible)
    }
}

/// The atoms of a place.
fn ends(account: &Account) -> (u8, u8) {
    (account.key.0.index() as u8, account.key.1.index() as u8)
}

fn non_bonding(atom: &Atom) -> Option<i32> {
    let valence = atom.element.valence_electrons();
    Electrons { valence, bonds: i32::from(atom.bonds), charge: i32::from(atom.charge) }.non_bonding()
}

/// Finds the atoms that arrows name.
struct Resolver<'s> {
    start: &'s mut Sketch,
    labels: &'s Labels,
    drawn_out: &'s mut Vec<(u8, u32, u8)>,
}

impl Resolver<'_> {
    /// An arrow on the atoms of the start, unless it has two readings or its head touches no atom of its tail.
    fn arrow(&mut self, named: &PlainArrow) -> Option<Arrow> {
        let (tail, head) = (self.place(named.tail)?, self.place(named.head)?);
        let head = match (tail, head) {
            (Place::Atom(a), Place::Atom(b)) if a != b => {
                // On a bonded atom it is ambiguous.
                self.start.atom(a.index() as u8).arc_to(b.index() as u8).is_none().then_some(())?;
                Place::Bond(a, b)
            }
            _ => head,
        };
        head.atoms().any(|atom| tail.touches(atom)).then_some(())?;
        // A pair of a bond that goes to a third atom has two readings.
        let is_open = matches!((tail, head), (Place::Bond(a, b), Place::Atom(c)) if c != a && c != b);
        (!is_open).then_some(Arrow { moves: named.moves, tail, head })
    }

    fn place(&mut self, named: Place<PlainName>) -> Option<Place<AtomId>> {
        match named {
            Place::Atom(a) => Some(Place::Atom(self.atom(a)?)),
            Place::Bond(a, b) => {
                let (a, b) = (self.atom(a)?, self.atom(b)?);
                (a != b).then_some(Place::Bond(a, b))
            }
        }
    }

    fn atom(&mut self, name: PlainName) -> Option<AtomId> {
        let carrier = self.labels.atom(u16::try_from(name.label).ok()?)?;
        let atom = if name.hydrogen == 0 { carrier } else { self.hydrogen(carrier, name.hydrogen)? };
        Some(AtomId::new(usize::from(atom)))
    }

    /// The hydrogen of this number of an atom, drawn out where it is not yet.
    fn hydrogen(&mut self, carrier: u8, which: u32) -> Option<u8> {
        let own = |(atom, number, _): &&(u8, u32, u8)| *atom == carrier && *number == which;
        if let Some((_, _, hydrogen)) = self.drawn_out.iter().find(own) {
            return Some(*hydrogen);
        }
        let taken = self.drawn_out.iter().filter(|(atom, ..)| *atom == carrier).count() as u32;
        let left = self.start.atom(carrier).hydrogens;
        if left == 0 || which > u32::from(left) + taken {
            return None;
        }
        let atom = self.start.atom_mut(carrier);
        // The bond that is drawn now was counted already.
        atom.hydrogens -= 1;
        atom.bonds -= 1;
        atom.count(atom.hydrogens);
        let mut hydrogen = Atom::new(Element::HYDROGEN);
        hydrogen.count(0);
        let hydrogen = self.start.add_atom(&hydrogen, NO_LABEL)?;
        self.start.add_bond(carrier, hydrogen, 1)?;
        self.drawn_out.push((carrier, which, hydrogen));
        Some(hydrogen)
    }
}
