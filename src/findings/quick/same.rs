//! Product against answer: equal for certain, or not known to be.

use super::sketch::{NONE, Sketch};
use crate::structure::canon::{Colours, Orders};
use crate::structure::skeleton::Skeleton;

/// Compares flat drawings, in buffers that it keeps.
#[derive(Debug, Default)]
pub(super) struct Comparison {
    product: Skeleton,
    answer: Skeleton,
    start: Skeleton,
    colours: [Colours; 3],
    /// By atom of the one, the atom of the other that stands for it.
    to_answer: Vec<u32>,
    to_product: Vec<u32>,
    open: Vec<u32>,
}

/// No partner yet.
const OPEN: u32 = u32::MAX;
/// Rounds of refinement: enough to lead the pairing nearly always. What it leads to is checked bond by bond.
const ROUNDS: u32 = 3;

impl Comparison {
    /// Whether the answer is the product atom by atom, each of its atoms labelled and none left out.
    pub(super) fn by_labels(&mut self, product: &Sketch, answer: &Sketch, by_label: &[u16]) -> bool {
        self.pair_by_labels(product, answer, by_label).is_some_and(|()| self.bonds_agree(product, answer))
    }

    fn pair_by_labels(&mut self, product: &Sketch, answer: &Sketch, by_label: &[u16]) -> Option<()> {
        self.to_answer.clear();
        self.to_answer.resize(product.atoms.len(), OPEN);
        self.to_product.clear();
        let mut left = product.tallies.iter().filter(|tally| !tally.folded).count();
        for (at, (atom, tally)) in answer.atoms.iter().zip(&answer.tallies).enumerate() {
            let partner = match atom.class {
                Some(label) => by_label.get(label as usize).copied()?,
                None if tally.folded => NONE,
                None => return None,
            };
            self.to_product.push(u32::from(partner));
            if partner == NONE {
                // Only a hydrogen that draws a count out may go without, and a label must be one of the start.
                (tally.folded && atom.class.is_none()).then_some(())?;
                continue;
            }
            let partner = usize::from(partner);
            // One label on two atoms is a fault, also on hydrogens that are only counted.
            if self.to_answer[partner] != OPEN {
                return None;
            }
            self.to_answer[partner] = at as u32;
            if tally.folded != product.tallies[partner].folded {
                return None;
            }
            if tally.folded {
                continue;
            }
            let own = &product.atoms[partner];
            let agrees = own.element == atom.element
                && own.isotope == atom.isotope
                && own.charge == atom.charge
                && product.tallies[partner].hydrogens == tally.hydrogens;
            agrees.then_some(())?;
            left -= 1;
        }
        (left == 0).then_some(())
    }

    fn bonds_agree(&self, product: &Sketch, answer: &Sketch) -> bool {
        let is_counted =
            |sketch: &Sketch, ends: [u16; 2]| ends.iter().any(|end| sketch.tallies[usize::from(*end)].folded);
        let mut count = 0;
        for line in answer.lines.iter().filter(|line| !is_counted(answer, line.ends)) {
            let [a, b] = line.ends.map(|end| self.to_product[usize::from(end)] as u16);
            let Some(own) = product.line_between(a, b).map(|own| product.lines[own].bond) else { return false };
            let agrees = own.aromatic == line.bond.aromatic && (own.aromatic || own.order == line.bond.order);
            if !agrees {
                return false;
            }
            count += 1;
        }
        let drawn = product.lines.iter().filter(|line| line.bond.order > 0 && !is_counted(product, line.ends)).count();
        count == drawn
    }

    /// Whether answer and product are one drawing but for the order of atoms, with nothing left out.
    pub(super) fn by_colours(&mut self, product: &Sketch, answer: &Sketch) -> bool {
        let Self { product: one, answer: other, colours, .. } = self;
        one.rebuild_bare(product);
        other.rebuild_bare(answer);
        if one.len() != other.len() || one.bond_count() != other.bond_count() || one.has_free() != other.has_free() {
            return false;
        }
        let orders = Orders::for_both(one, other);
        colours[0].refine_some(one, orders, ROUNDS);
        colours[1].refine_some(other, orders, ROUNDS);
        self.pair_by_colours()
    }

    /// Whether the start is another drawing than the product that was compared last, for certain.
    pub(super) fn differs_from_product(&mut self, start: &Sketch) -> bool {
        self.start.rebuild_bare(start);
        let orders = Orders::for_both(&self.start, &self.product);
        self.colours[2].refine_some(&self.start, orders, ROUNDS);
        self.colours[2].sum() != self.colours[0].sum()
    }

    /// Pairs atoms from neighbour to neighbour, led by colours, and checks every atom and bond on the way.
    fn pair_by_colours(&mut self) -> bool {
        let nodes = self.product.len();
        for side in [&mut self.to_answer, &mut self.to_product] {
            side.clear();
            side.resize(nodes as usize, OPEN);
        }
        self.open.clear();
        for node in 0..nodes {
            if self.to_answer[node as usize] != OPEN {
                continue;
            }
            let fits = |other: &u32| {
                self.to_product[*other as usize] == OPEN && self.colours[1].of(*other) == self.colours[0].of(node)
            };
            let Some(other) = (0..nodes).find(fits) else { return false };
            if !self.pair(node, other) {
                return false;
            }
            while let Some(node) = self.open.pop() {
                if !self.pair_neighbours(node) {
                    return false;
                }
            }
        }
        true
    }

    fn pair(&mut self, node: u32, other: u32) -> bool {
        self.to_answer[node as usize] = other;
        self.to_product[other as usize] = node;
        self.open.push(node);
        self.product.node(node).agrees(self.answer.node(other))
            && self.product.arcs(node).len() == self.answer.arcs(other).len()
    }

    fn pair_neighbours(&mut self, node: u32) -> bool {
        let other = self.to_answer[node as usize];
        for at in 0..self.product.arcs(node).len() {
            let arc = self.product.arcs(node)[at];
            let paired = self.to_answer[arc.to as usize];
            let fits = |own: &&crate::structure::skeleton::Arc| {
                let is_partner = if paired == OPEN {
                    self.to_product[own.to as usize] == OPEN && self.colours[1].of(own.to) == self.colours[0].of(arc.to)
                } else {
                    own.to == paired
                };
                is_partner && own.free == arc.free && (own.free || own.order == arc.order)
            };
            let Some(partner) = self.answer.arcs(other).iter().find(fits).map(|own| own.to) else { return false };
            if paired == OPEN && !self.pair(arc.to, partner) {
                return false;
            }
        }
        true
    }
}
