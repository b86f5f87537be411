//! A flat drawing given for colouring.

use super::sketch::{Arc, Atom, Sketch};
use crate::structure::canon::{Orders, Peel, Rest};

impl Sketch {
    /// Gives what is drawn for colouring, and gathers what it comes to; `place` says the node of each atom then.
    pub(super) fn gather(&self, orders: Orders, peel: &mut Peel, place: &mut [u8; 256]) {
        self.feed(orders, peel, place);
        peel.gather(|rest| self.list(orders, place, rest));
    }

    /// The same with the orders of bonds told apart that have an end without delocalised bonds.
    pub(super) fn gather_beside_delocalised(&self, peel: &mut Peel, place: &mut [u8; 256]) {
        let kind = |own: &Atom, arc: Arc| {
            let is_between = own.is_delocalised() && self.atom(arc.to).is_delocalised();
            if is_between { Orders::Free } else { Orders::Drawn }.kind(arc.order())
        };
        self.feed_with(Orders::Free, kind, peel, place);
        peel.gather(|rest| self.list_with(kind, place, rest));
    }

    /// Gives the nodes of what is drawn for colouring; `place` says the node of each atom then.
    pub(super) fn feed(&self, orders: Orders, peel: &mut Peel, place: &mut [u8; 256]) {
        // By order, of which there are few.
        let kinds: [u32; 8] = std::array::from_fn(|order| orders.kind(order as u8));
        self.feed_with(orders, |_, arc| kinds[usize::from(arc.order() & 7)], peel, place);
    }

    /// The same where `kind` says what is told apart of a bond of an atom.
    #[inline]
    fn feed_with(&self, orders: Orders, kind: impl Fn(&Atom, Arc) -> u32, peel: &mut Peel, place: &mut [u8; 256]) {
        peel.begin();
        let with = |ends: [u32; 3], to: u8, own: &Atom, arc: Arc| {
            [ends[0] + 1, ends[1] ^ u32::from(to), ends[2] ^ kind(own, arc)]
        };
        if self.any_folded() {
            self.number_nodes(place);
            let shown = self.atoms().iter().filter(|atom| !atom.folded);
            peel.add_nodes(shown.map(|atom| {
                let arcs = atom.arcs().iter().filter(|arc| !self.atom(arc.to).folded);
                (atom.code(orders), arcs.fold([0; 3], |ends, arc| with(ends, place[usize::from(arc.to)], atom, *arc)))
            }));
            return;
        }
        // All at once, which costs less than each beside its atom.
        *place = std::array::from_fn(|at| at as u8);
        peel.add_nodes(self.atoms().iter().map(|atom| {
            (atom.code(orders), atom.arcs().iter().fold([0; 3], |ends, arc| with(ends, arc.to, atom, *arc)))
        }));
    }

    /// Lists the bonds between nodes that are left.
    pub(super) fn list(&self, orders: Orders, place: &[u8; 256], rest: &mut Rest<'_>) {
        self.list_with(|_, arc| orders.kind(arc.order()), place, rest);
    }

    /// The same where `kind` says what is told apart of a bond of an atom.
    #[inline]
    fn list_with(&self, kind: impl Fn(&Atom, Arc) -> u32, place: &[u8; 256], rest: &mut Rest<'_>) {
        for (at, atom) in (0..).zip(self.atoms()).filter(|(_, atom)| !atom.folded) {
            let own = u32::from(place[usize::from(at)]);
            if !rest.has(own) {
                continue;
            }
            for arc in atom.arcs().iter().filter(|arc| arc.to > at && !self.atom(arc.to).folded) {
                rest.take(own, u32::from(place[usize::from(arc.to)]), kind(atom, *arc));
            }
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
