//! Slips in the drawing of the answer, read from the differences and then drawn into the product.

use super::case::Case;
use super::proton;
use super::table::Slip;
use crate::bank::Task;
use crate::compare::Difference;
use crate::compare::difference::{is_folded, total_hydrogens};
use crate::source::Span;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Bond, Element, LabelIndex, Structure};
use smallvec::SmallVec;

/// One slip and the differences that it explains, the telling one first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Part {
    pub slip: Slip,
    pub covers: SmallVec<[Difference; 3]>,
}

/// More differences than two slips explain: no need to look closer.
const MOST_DIFFERENCES: usize = 12;

/// Explains every difference of a drawing by slips in drawing it; `None` where one cannot be, or where more than `most`
/// slips are needed.
pub(super) fn explain(case: &Case<'_>, drawing: &Structure, list: &[Difference], most: usize) -> Option<Vec<Part>> {
    if list.is_empty() || list.len() > MOST_DIFFERENCES {
        return None;
    }
    let mut sorter = Sorter { case, drawing, left: list.to_vec(), parts: Vec::new() };
    sorter.isotopes();
    // In resonance no atom moves: there it is a tautomer.
    if case.task != Task::Resonance {
        sorter.protons();
    }
    sorter.charges_left_out();
    sorter.atoms();
    sorter.moved_bonds();
    sorter.bonds();
    sorter.rest()?;
    let mut parts = sorter.parts;
    parts.sort_by_key(|part| part.slip);
    // Two atoms drawn as each other's element are two numbers exchanged, and a bond that the arrows change is no copy: with
    // a second slip beside them the explanation would be further from the truth than none.
    let is_loose = |part: &&Part| match part.covers[0] {
        Difference::Element(..) => true,
        Difference::Bond(a, b, ..) => case.moves_between(a, b),
        _ => false,
    };
    let is_good = parts.len() == 1 || parts.iter().filter(is_loose).count() == 0;
    (is_good && parts.len() <= most).then_some(parts)
}

/// Takes differences out of a list, slip by slip.
pub(super) struct Sorter<'a> {
    pub(super) case: &'a Case<'a>,
    pub(super) drawing: &'a Structure,
    pub(super) left: Vec<Difference>,
    pub(super) parts: Vec<Part>,
}

impl Sorter<'_> {
    pub(super) fn take(&mut self, wanted: impl Fn(&Difference) -> bool) -> Option<Difference> {
        let at = self.left.iter().position(wanted)?;
        Some(self.left.remove(at))
    }

    /// Takes a difference in hydrogens that follows from another difference: `more` hydrogens at `atom`.
    pub(super) fn take_hydrogens(&mut self, part: &mut Part, atom: AtomId, more: i32) {
        let follows = |difference: &Difference| {
            matches!(*difference, Difference::Hydrogens(a, was, is)
            if a == atom && is.cast_signed() - was.cast_signed() == more)
        };
        part.covers.extend(self.take(follows));
    }

    fn atoms(&mut self) {
        while let Some(first) =
            self.take(|own| matches!(own, Difference::Element(..) | Difference::Missing(_) | Difference::Extra(_)))
        {
            let mut part = Part { slip: Slip::AtomMiscopied, covers: SmallVec::from_slice(&[first]) };
            match first {
                Difference::Element(a, ..) => {
                    while let Some(more) = self.take(|own| match own {
                        Difference::Hydrogens(b, ..) | Difference::Isotope(b, ..) | Difference::Unpaired(b, ..) => {
                            *b == a
                        }
                        _ => false,
                    }) {
                        part.covers.push(more);
                    }
                }
                Difference::Missing(a) => {
                    let around: Vec<(AtomId, u8)> = bonds(self.drawing, a);
                    for (next, order) in around {
                        self.take_hydrogens(&mut part, next, i32::from(order));
                    }
                }
                Difference::Extra(x) => {
                    for (next, order) in bonds(self.case.stated, x) {
                        if let Some(computed) = self.case.compared.mapping.computed(next) {
                            self.take_hydrogens(&mut part, computed, -i32::from(order));
                        }
                    }
                }
                _ => {}
            }
            self.parts.push(part);
        }
    }

    /// A bond that is missing at one place and drawn at another, one of its ends kept.
    fn moved_bonds(&mut self) {
        let bonds: Vec<Difference> =
            self.left.iter().filter(|own| matches!(own, Difference::Bond(..))).copied().collect();
        for gone in &bonds {
            let Difference::Bond(a, b, order, 0) = *gone else { continue };
            let meets = |own: &Difference| {
                matches!(*own, Difference::Bond(c, d, 0, is)
                if is == order && [a, b].iter().filter(|end| **end == c || **end == d).count() == 1)
            };
            if !self.left.contains(gone) {
                continue;
            }
            let Some(come) = self.take(meets) else { continue };
            self.left.retain(|own| own != gone);
            let mut part = Part { slip: Slip::BondMiscopied, covers: SmallVec::from_slice(&[*gone, come]) };
            if let Difference::Bond(c, d, ..) = come {
                let (left, new) = match (a == c || a == d, a == c || b == c) {
                    (true, true) => (b, d),
                    (true, false) => (b, c),
                    (false, true) => (a, d),
                    (false, false) => (a, c),
                };
                self.take_hydrogens(&mut part, left, i32::from(order));
                self.take_hydrogens(&mut part, new, -i32::from(order));
            }
            self.parts.push(part);
        }
    }

    fn bonds(&mut self) {
        while let Some(first) = self.take(|own| matches!(own, Difference::Bond(..))) {
            let mut part = Part { slip: Slip::BondMiscopied, covers: SmallVec::from_slice(&[first]) };
            if let Difference::Bond(a, b, was, is) = first {
                for end in [a, b] {
                    self.take_hydrogens(&mut part, end, i32::from(was) - i32::from(is));
                }
            }
            self.parts.push(part);
        }
    }

    /// What is left stands for itself; `None` where it has no name.
    fn rest(&mut self) -> Option<()> {
        for own in std::mem::take(&mut self.left) {
            let slip = match own {
                Difference::Hydrogens(..) => Slip::HydrogenMiscounted,
                Difference::Charge(a, was, is) => charge_slip(self.case, self.drawing, a, was, is)?,
                Difference::Isotope(..) => Slip::AtomMiscopied,
                Difference::Unpaired(a, ..) if !self.case.is_touched(a) => Slip::AtomMiscopied,
                _ => return None,
            };
            self.parts.push(Part { slip, covers: SmallVec::from_slice(&[own]) });
        }
        Some(())
    }
}

fn bonds(structure: &Structure, atom: AtomId) -> Vec<(AtomId, u8)> {
    structure.neighbours(atom).map(|(next, bond)| (next, structure.bond(bond).order)).collect()
}

/// The name for a charge of `is` where `was` was recomputed.
///
/// By the sum of the arrows exactly the charges of first tails go up and those of last heads go down; every other touched
/// atom is passed through.
pub(super) fn charge_slip(case: &Case<'_>, drawing: &Structure, atom: AtomId, was: i16, is: i16) -> Option<Slip> {
    let before = case.start.atom(atom).charge;
    let passes = || {
        let electrons = |structure| Electrons::of(structure, atom).non_bonding();
        before == was && (is - was).abs() == 1 && electrons(case.start) == electrons(drawing)
    };
    if was > before && is == before {
        Some(Slip::TailChargeKept)
    } else if was < before && is == before {
        Some(Slip::HeadChargeKept)
    } else if was != 0 && is == -was {
        Some(Slip::ChargeSignFlipped)
    } else if !case.is_touched(atom) {
        Some(Slip::AtomMiscopied)
    } else if passes() {
        Some(Slip::MiddleChargeChanged)
    } else {
        None
    }
}

/// Draws slips into a drawing; `None` where that cannot be done.
pub(super) fn draw<'p>(
    case: &Case<'_>,
    drawing: &Structure,
    parts: impl IntoIterator<Item = &'p Part>,
) -> Option<Drawn> {
    let mut drawn = drawing.clone();
    let mut gone: Vec<AtomId> = Vec::new();
    for difference in parts.into_iter().flat_map(|part| part.covers.iter().copied()) {
        match difference {
            Difference::Element(a, _, is) => drawn.atom_mut(a).element = is,
            Difference::Isotope(a, _, is) => drawn.atom_mut(a).isotope = is,
            Difference::Charge(a, _, is) => drawn.atom_mut(a).charge = is,
            Difference::Unpaired(a, _, is) => drawn.atom_mut(a).unpaired = u8::try_from(is).ok(),
            Difference::Hydrogens(a, was, is) => set_hydrogens(&mut drawn, a, was, is, &mut gone)?,
            Difference::Bond(a, b, _, is) => set_bond(&mut drawn, a, b, is),
            Difference::Missing(a) => {
                gone.extend(drawn.neighbours(a).map(|(next, _)| next).filter(|next| is_folded(&drawn, *next)));
                gone.push(a);
            }
            Difference::Extra(x) => add_atom(case, &mut drawn, x),
        }
    }
    drawn.drop_broken_bonds();
    if gone.is_empty() {
        return Some(Drawn { structure: drawn, labels: None });
    }
    let structure = drawn.part(|atom| !gone.contains(&atom));
    let labels = Some(LabelIndex::new(&structure));
    Some(Drawn { structure, labels })
}

/// A drawing with slips in it.
pub(super) struct Drawn {
    pub structure: Structure,
    /// Its labels, where atoms are missing and the others have moved up.
    pub labels: Option<LabelIndex>,
}

/// Sets the number of hydrogens of an atom, drawn and undrawn together. Undrawn ones go first.
fn set_hydrogens(drawn: &mut Structure, atom: AtomId, was: u32, is: u32, gone: &mut Vec<AtomId>) -> Option<()> {
    let undrawn = u32::from(drawn.atom(atom).hydrogens);
    let fewer = was.saturating_sub(is);
    if fewer > undrawn {
        let spare: Vec<AtomId> = drawn.neighbours(atom).map(|(next, _)| next).collect();
        let spare = spare.into_iter().filter(|next| is_folded(drawn, *next));
        gone.extend(spare.take((fewer - undrawn) as usize));
    }
    let undrawn = (undrawn + is.saturating_sub(was)).saturating_sub(fewer);
    drawn.atom_mut(atom).hydrogens = u16::try_from(undrawn).ok()?;
    Some(())
}

fn set_bond(drawn: &mut Structure, a: AtomId, b: AtomId, order: u8) {
    let bond = drawn.bond_between(a, b).unwrap_or_else(|| drawn.add_bond(a, b, Bond::new(0), Span::default()));
    *drawn.bond_mut(bond) = Bond::new(order);
}

/// Adds an atom of the stated answer that the product does not have.
fn add_atom(case: &Case<'_>, drawn: &mut Structure, extra: AtomId) {
    let mut atom = *case.stated.atom(extra);
    atom.hydrogens = u16::try_from(total_hydrogens(case.stated, extra)).unwrap_or(u16::MAX);
    let new = drawn.add_atom(atom, Span::default());
    for (next, order) in bonds(case.stated, extra) {
        if let Some(computed) = case.compared.mapping.computed(next).filter(|own| own.index() < drawn.atom_count()) {
            drawn.add_bond(new, computed, Bond::new(order), Span::default());
        }
    }
}

/// Single slips in charges and hydrogens and bonds that could lie anywhere, for answers without labels, where another
/// correspondence than the one found may show the slip. Filtered by the sums over the whole drawing.
pub(super) fn guesses<'a>(case: &'a Case<'a>) -> impl Iterator<Item = Part> + 'a {
    let charges = case.more_charge().into_iter().flat_map(move |more| charge_guesses(case, more));
    let hydrogens = case.more_hydrogens().into_iter().flat_map(move |more| hydrogen_guesses(case, more));
    charges.chain(hydrogens).chain(proton::guesses(case))
}

fn charge_guesses<'a>(case: &'a Case<'a>, more: i64) -> impl Iterator<Item = Part> + 'a {
    case.product.atoms().filter(move |_| more != 0).filter_map(move |(id, atom)| {
        let is = i16::try_from(i64::from(atom.charge) + more).ok()?;
        let slip = charge_slip(case, case.product, id, atom.charge, is).filter(|slip| *slip != Slip::AtomMiscopied)?;
        Some(Part { slip, covers: SmallVec::from_slice(&[Difference::Charge(id, atom.charge, is)]) })
    })
}

fn hydrogen_guesses<'a>(case: &'a Case<'a>, more: i64) -> impl Iterator<Item = Part> + 'a {
    let alone = case.product.atom_ids().filter(move |_| more != 0).filter_map(move |id| {
        let (was, is) = hydrogens(case, id, more)?;
        Some(Part {
            slip: Slip::HydrogenMiscounted,
            covers: SmallVec::from_slice(&[Difference::Hydrogens(id, was, is)]),
        })
    });
    let with_bond = case.product.bonds().filter_map(move |(_, a, b, bond)| {
        let is =
            u8::try_from(i64::from(bond.order) - more / 2).ok().filter(|is| more % 2 == 0 && (1..=3).contains(is))?;
        let mut covers = SmallVec::from_slice(&[Difference::Bond(a, b, bond.order, is)]);
        for end in [a, b] {
            let (was, is) = hydrogens(case, end, more / 2)?;
            covers.push(Difference::Hydrogens(end, was, is));
        }
        Some(Part { slip: Slip::BondMiscopied, covers }).filter(|_| is != bond.order)
    });
    alone.chain(with_bond)
}

fn hydrogens(case: &Case<'_>, atom: AtomId, more: i64) -> Option<(u32, u32)> {
    if case.product.atom(atom).element == Element::HYDROGEN {
        return None;
    }
    let was = total_hydrogens(case.product, atom);
    Some((was, u32::try_from(i64::from(was) + more).ok()?))
}
