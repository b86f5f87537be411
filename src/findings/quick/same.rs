//! Product against answer: equal for certain, or not known to be.

use super::labels::Labels;
use super::sketch::{Arc, Atom, NO_ATOM, NO_LABEL, Sketch};
use crate::structure::canon::{Orders, Peel, mix};

/// Compares flat drawings, in buffers that it keeps.
#[derive(Debug)]
pub(super) struct Comparison {
    /// Colours of the product and of what is compared with it.
    product: Peel,
    answer: Peel,
    /// What each comes to.
    product_sum: u64,
    answer_sum: u64,
    product_places: Box<[u8; 256]>,
    answer_places: Box<[u8; 256]>,
    /// By atom of the one, the atom of the other that stands for it.
    to_answer: Box<[u8; 256]>,
    to_product: Box<[u8; 256]>,
    open: Vec<u8>,
    /// Colours of atoms, and whether those have delocalised bonds.
    colours: Vec<(u64, bool)>,
    /// Whether the product that was compared last has its colours.
    is_coloured: bool,
}

impl Default for Comparison {
    fn default() -> Self {
        let none = || Box::new([NO_ATOM; 256]);
        Self {
            product: Peel::default(),
            answer: Peel::default(),
            product_sum: 0,
            answer_sum: 0,
            product_places: none(),
            answer_places: none(),
            to_answer: none(),
            to_product: none(),
            open: Vec::new(),
            colours: Vec::new(),
            is_coloured: false,
        }
    }
}

impl Comparison {
    /// Whether the answer is the product atom by atom, each of its atoms labelled and none left out.
    pub(super) fn by_labels(&mut self, product: &Sketch, answer: &Sketch, labels: &Labels) -> bool {
        self.is_coloured = false;
        let is_labelled_like = |own: &Atom, other: &Atom| own.label == other.label && own.label != NO_LABEL;
        are_as_drawn(product, answer, is_labelled_like)
            || self.pair_by_labels(product, answer, labels).is_some_and(|()| self.bonds_agree(product, answer))
    }

    fn pair_by_labels(&mut self, product: &Sketch, answer: &Sketch, labels: &Labels) -> Option<()> {
        self.to_answer[..usize::from(product.count())].fill(NO_ATOM);
        let mut left = product.atoms().iter().filter(|atom| !atom.folded).count();
        for (at, atom) in (0..).zip(answer.atoms()) {
            let partner = match atom.label {
                NO_LABEL => NO_ATOM,
                label => labels.atom(label).unwrap_or(NO_ATOM),
            };
            self.to_product[usize::from(at)] = partner;
            if partner == NO_ATOM {
                // Only a hydrogen that draws a count out may go without, and a label must be one of the start.
                (atom.folded && atom.label == NO_LABEL).then_some(())?;
                continue;
            }
            // One label on two atoms is a fault, also on hydrogens that are only counted.
            let to_answer = &mut self.to_answer[usize::from(partner)];
            if *to_answer != NO_ATOM {
                return None;
            }
            *to_answer = at;
            let own = product.atom(partner);
            if atom.folded != own.folded {
                return None;
            }
            if atom.folded {
                continue;
            }
            own.is_like(atom).then_some(())?;
            left -= 1;
        }
        (left == 0).then_some(())
    }

    /// Whether each bond of the answer is one of the product; of both, each atom has as many.
    fn bonds_agree(&self, product: &Sketch, answer: &Sketch) -> bool {
        (0..).zip(answer.atoms()).filter(|(_, atom)| !atom.folded).all(|(at, atom)| {
            let own = product.atom(self.to_product[usize::from(at)]);
            let mut later = atom.arcs().iter().filter(|arc| arc.to > at && !answer.atom(arc.to).folded);
            later.all(|arc| own.arc_to(self.to_product[usize::from(arc.to)]).is_some_and(|own| own.is_like(*arc)))
        })
    }

    /// Whether answer and product are one drawing but for the order of atoms, with nothing left out.
    pub(super) fn without_labels(
        &mut self,
        product: &Sketch,
        answer: &Sketch,
        touched: impl Iterator<Item = u8>,
    ) -> bool {
        self.is_coloured = false;
        product.any_delocalised() == answer.any_delocalised()
            && (are_as_drawn(product, answer, |_, _| true)
                || tally(product) == tally(answer)
                    && (self.pair_as_drawn(product, answer, touched) || self.is_product(product, answer)))
    }

    /// Whether start and product are the same drawing but for labels; `None` where that is not known. The product was compared
    /// last.
    pub(super) fn is_same(
        &mut self,
        start: &Sketch,
        product: &Sketch,
        touched: impl Iterator<Item = u8> + Clone,
    ) -> Option<bool> {
        // What the touched atoms are by themselves tells the two apart mostly, what they and those beside them have for
        // neighbours nearly always; no other atom has changed or lies beside one that has.
        let own = |sketch: &Sketch, at: u8| {
            let atom = sketch.atom(at);
            if atom.folded { 0 } else { mix(atom.code(Orders::Free)) }
        };
        let beside = touched.clone().flat_map(|at| {
            let arcs = product.atom(at).arcs().iter().chain(start.atom(at).arcs());
            arcs.map(|arc| arc.to).chain([at])
        });
        if differ(start, product, touched, own) || differ(start, product, beside, surroundings) {
            return Some(false);
        }
        if self.is_product(product, start) {
            return Some(true);
        }
        // Equal drawings have equal colours; both have them now.
        (self.product_sum != self.answer_sum || self.differ_beside_delocalised(product, start)).then_some(false)
    }

    /// Whether the product that was compared last and another drawing of the same colours differ for certain in bonds that are not
    /// delocalised. Colours do not tell the orders of those apart where any bond is delocalised; here they do, if by colour no atom
    /// with a delocalised bond can stand for one without.
    fn differ_beside_delocalised(&mut self, product: &Sketch, other: &Sketch) -> bool {
        if product.orders() != Orders::Free {
            return false;
        }
        let Self { product: of_product, answer: of_other, product_places, answer_places, colours, .. } = self;
        colours.clear();
        for (sketch, peel, places) in [(product, &*of_product, &*product_places), (other, &*of_other, &*answer_places)]
        {
            let shown = places.iter().zip(sketch.atoms()).filter(|(_, atom)| !atom.folded);
            colours.extend(shown.map(|(place, atom)| (peel.of(u32::from(*place)), atom.is_delocalised())));
        }
        colours.sort_unstable();
        if colours.windows(2).any(|pair| pair[0].0 == pair[1].0 && pair[0].1 != pair[1].1) {
            return false;
        }
        // The colours of the product are not asked for any more, its sum is.
        product.gather_beside_delocalised(of_product, product_places);
        other.gather_beside_delocalised(of_other, answer_places);
        of_product.sum() != of_other.sum()
    }

    /// Whether another drawing is the product that was compared last.
    fn is_product(&mut self, product: &Sketch, other: &Sketch) -> bool {
        let orders = product.orders();
        if !self.is_coloured {
            product.gather(orders, &mut self.product, &mut self.product_places);
            self.product_sum = self.product.sum();
            self.product.spread();
            self.is_coloured = true;
        }
        other.gather(orders, &mut self.answer, &mut self.answer_places);
        self.answer_sum = self.answer.sum();
        if self.product.len() != self.answer.len() || self.product_sum != self.answer_sum {
            return false;
        }
        self.answer.spread();
        self.pair_all(product, other, 0..product.count(), |comparison, own, partner| {
            comparison.are_one_colour(own, partner)
        })
    }

    /// The colours of the product that was compared last, all in one number, if they were looked at.
    pub(super) fn product_sum(&self) -> Option<u64> {
        self.is_coloured.then_some(self.product_sum)
    }

    /// Pairs each atom with the first that looks like it, from the touched atoms on: answers are copied from starts, so that
    /// branches mostly stand in one order. Of both there are as many atoms. A pairing that comes to its end is a proof; one
    /// that does not says nothing.
    fn pair_as_drawn(&mut self, product: &Sketch, answer: &Sketch, touched: impl Iterator<Item = u8>) -> bool {
        self.pair_all(product, answer, touched.chain(0..product.count()), |_, _, _| true)
    }

    /// Pairs atoms from neighbour to neighbour, each with the first that looks like it and `may` stand for it, and checks every
    /// bond on the way.
    fn pair_all(
        &mut self,
        product: &Sketch,
        answer: &Sketch,
        first: impl Iterator<Item = u8>,
        may: impl Fn(&Self, u8, u8) -> bool,
    ) -> bool {
        self.to_answer[..usize::from(product.count())].fill(NO_ATOM);
        self.to_product[..usize::from(answer.count())].fill(NO_ATOM);
        self.open.clear();
        for at in first {
            if product.atom(at).folded || self.to_answer[usize::from(at)] != NO_ATOM {
                continue;
            }
            let own = product.atom(at);
            let fits = |other: &u8| self.is_free(*other) && own.is_like(answer.atom(*other)) && may(self, at, *other);
            let shown = |other: &u8| !answer.atom(*other).folded;
            let Some(other) = (0..answer.count()).filter(shown).find(fits) else { return false };
            self.pair(at, other);
            while let Some(at) = self.open.pop() {
                if !self.pair_neighbours(product, answer, at, &may) {
                    return false;
                }
            }
        }
        true
    }

    /// Whether an atom of the answer has no partner yet.
    #[inline]
    fn is_free(&self, other: u8) -> bool {
        self.to_product[usize::from(other)] == NO_ATOM
    }

    /// Whether an atom of the answer could be that of one of the product.
    #[inline]
    fn are_one_colour(&self, own: u8, other: u8) -> bool {
        let [own_place, other_place] =
            [self.product_places[usize::from(own)], self.answer_places[usize::from(other)]].map(u32::from);
        self.product.of(own_place) == self.answer.of(other_place)
    }

    #[inline]
    fn pair(&mut self, own: u8, other: u8) {
        self.to_answer[usize::from(own)] = other;
        self.to_product[usize::from(other)] = own;
        self.open.push(own);
    }

    #[inline]
    fn pair_neighbours(
        &mut self,
        product: &Sketch,
        answer: &Sketch,
        at: u8,
        may: impl Fn(&Self, u8, u8) -> bool,
    ) -> bool {
        let other = answer.atom(self.to_answer[usize::from(at)]);
        for arc in product.atom(at).arcs().iter().filter(|arc| !product.atom(arc.to).folded) {
            let paired = self.to_answer[usize::from(arc.to)];
            if paired != NO_ATOM {
                if other.arc_to(paired).is_none_or(|own| !own.is_like(*arc)) {
                    return false;
                }
                continue;
            }
            let near = product.atom(arc.to);
            let fits = |own: &&Arc| {
                let atom = answer.atom(own.to);
                let is_like = own.is_like(*arc) && near.is_like(atom) && !atom.folded;
                is_like && self.is_free(own.to) && may(self, arc.to, own.to)
            };
            let Some(partner) = other.arcs().iter().find(fits) else { return false };
            self.pair(arc.to, partner.to);
        }
        true
    }
}

/// Whether two drawings are one atom by atom, in the order of their atoms: answers are copied from starts, most of them in their order.
fn are_as_drawn(product: &Sketch, answer: &Sketch, may: impl Fn(&Atom, &Atom) -> bool) -> bool {
    let like = |(own, other): (&Atom, &Atom)| own.is_like(other) && may(own, other) && own.has_bonds_of(other);
    product.count() == answer.count()
        && !product.any_folded()
        && !answer.any_folded()
        && product.atoms().iter().zip(answer.atoms()).all(like)
}

/// What does not depend on the order of atoms and is counted at once: their number and what each is by itself.
fn tally(sketch: &Sketch) -> (usize, u64) {
    let shown = sketch.atoms().iter().filter(|atom| !atom.folded);
    shown.fold((0, 0), |(count, sum), atom| (count + 1, sum.wrapping_add(mix(atom.code))))
}

/// Whether these atoms, each counted once, come to other sums in two drawings.
fn differ(
    start: &Sketch,
    product: &Sketch,
    atoms: impl Iterator<Item = u8>,
    number: impl Fn(&Sketch, u8) -> u64,
) -> bool {
    let mut known = [0_u64; 4];
    let mut difference = 0_u64;
    for at in atoms {
        let bit = 1 << (at % 64);
        let seen = &mut known[usize::from(at / 64)];
        if *seen & bit == 0 {
            *seen |= bit;
            difference = difference.wrapping_add(number(product, at)).wrapping_sub(number(start, at));
        }
    }
    difference != 0
}

/// A number for what an atom and its neighbours are by themselves.
fn surroundings(sketch: &Sketch, at: u8) -> u64 {
    let atom = sketch.atom(at);
    if atom.folded {
        return 0;
    }
    let shown = atom.arcs().iter().map(|arc| sketch.atom(arc.to)).filter(|atom| !atom.folded);
    mix(shown.fold(atom.code(Orders::Free), |sum, own| sum.wrapping_add(mix(own.code(Orders::Free)))))
}
