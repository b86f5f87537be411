//! Localised forms of delocalised rings in a flat drawing.

use super::sketch::{AROMATIC, Atom, MOST_ATOMS, NO_ATOM, Sketch};
use crate::structure::localise::{Role, role_by_count};

/// An atom of a ring that is being localised.
#[derive(Debug, Clone, Copy)]
pub(super) struct Member {
    at: u8,
    /// The next atom of the ring.
    next: u8,
    /// Whether it must have a double bond.
    must: bool,
}

impl Sketch {
    /// Gives every delocalised bond an order, where the systems are rings by themselves; `None` where they are not, or where an
    /// atom has a choice, or where there is no such form.
    pub(super) fn localise(&mut self) -> Option<()> {
        for at in 0..self.count() {
            if !self.atom(at).is_aromatic() {
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
            let atom = self.atom_mut(at);
            atom.marks &= !AROMATIC;
            let (must, next) = (must(atom)?, next_in_ring(atom, came_from)?);
            self.ring.push(Member { at, next, must });
            (at, came_from) = (next, at);
            if at == first {
                return Some(());
            }
            if self.ring.len() >= MOST_ATOMS {
                return None;
            }
        }
    }

    /// Pairs the atoms of the ring that must have a double bond, each with the next.
    fn localise_ring(&mut self) -> Option<()> {
        let length = self.ring.len();
        let behind = |place: usize| if place + 1 < length { place + 1 } else { 0 };
        let mut place = self.ring.iter().rposition(|member| !member.must).map_or(0, behind);
        let mut left = length;
        while left > 0 {
            let Member { at, next, must } = self.ring[place];
            place = behind(place);
            left -= 1;
            if !must {
                continue;
            }
            if left == 0 || !self.ring[place].must {
                return None;
            }
            place = behind(place);
            left -= 1;
            self.atom_mut(at).change(next, 2);
            self.atom_mut(next).change(at, 2);
        }
        Some(())
    }
}

/// The atom behind the one of two delocalised bonds that was not come from; `None` where there are not two.
fn next_in_ring(atom: &Atom, came_from: u8) -> Option<u8> {
    let mut ends = atom.arcs().iter().filter(|arc| arc.is_delocalised()).map(|arc| arc.to);
    let (Some(one), Some(other), None) = (ends.next(), ends.next(), ends.next()) else { return None };
    Some(if one == came_from { other } else { one })
}

/// Whether an atom of a delocalised system must have a double bond of it or cannot; `None` where it has the choice.
fn must(atom: &Atom) -> Option<bool> {
    match role_by_count(atom.element, i32::from(atom.charge), i32::from(atom.bonds), None) {
        Role::Must => Some(true),
        Role::Cannot => Some(false),
        Role::May => None,
    }
}
