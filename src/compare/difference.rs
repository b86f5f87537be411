//! Differences between the recomputed product and the stated answer under a correspondence of their atoms, in words.

use super::stereo::StereoDifference;
use crate::source::{counted, signed};
use crate::structure::electrons;
use crate::structure::{AtomId, Element, Structure};

/// Which stated atom stands for each atom of the product.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Mapping {
    /// By atom of the product.
    pub to_stated: Vec<Option<AtomId>>,
    /// By atom of the stated answer.
    pub to_computed: Vec<Option<AtomId>>,
}

impl Mapping {
    /// No correspondence yet.
    #[must_use]
    pub fn new(computed: &Structure, stated: &Structure) -> Self {
        Self { to_stated: vec![None; computed.atom_count()], to_computed: vec![None; stated.atom_count()] }
    }

    /// Lets two atoms stand for each other.
    pub fn pair(&mut self, computed: AtomId, stated: AtomId) {
        if let (Some(to), Some(from)) =
            (self.to_stated.get_mut(computed.index()), self.to_computed.get_mut(stated.index()))
        {
            *to = Some(stated);
            *from = Some(computed);
        }
    }

    /// The stated atom for an atom of the product.
    #[must_use]
    pub fn stated(&self, computed: AtomId) -> Option<AtomId> {
        self.to_stated.get(computed.index()).copied().flatten()
    }

    /// The atom of the product for a stated atom.
    #[must_use]
    pub fn computed(&self, stated: AtomId) -> Option<AtomId> {
        self.to_computed.get(stated.index()).copied().flatten()
    }
}

/// One difference. Atoms are those of the product, but for [`Difference::Extra`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Difference {
    /// Another element.
    Element(AtomId, Element, Element),
    /// Another isotope.
    Isotope(AtomId, Option<u16>, Option<u16>),
    /// Another formal charge: recomputed, stated.
    Charge(AtomId, i16, i16),
    /// Another number of hydrogens, drawn and undrawn: recomputed, stated.
    Hydrogens(AtomId, u32, u32),
    /// Another number of unpaired electrons: recomputed, stated.
    Unpaired(AtomId, i32, i32),
    /// Another bond order, 0 for no bond: recomputed, stated.
    Bond(AtomId, AtomId, u8, u8),
    /// An atom of the product that the answer does not draw, though it draws others of the same species.
    Missing(AtomId),
    /// An atom of the answer that the product does not have.
    Extra(AtomId),
}

impl Difference {
    /// The atoms of the product that differ: one or two, none for an extra atom.
    pub fn atoms(self) -> impl Iterator<Item = AtomId> {
        let (first, second) = match self {
            Self::Element(a, ..)
            | Self::Isotope(a, ..)
            | Self::Charge(a, ..)
            | Self::Hydrogens(a, ..)
            | Self::Unpaired(a, ..)
            | Self::Missing(a) => (Some(a), None),
            Self::Bond(a, b, ..) => (Some(a), Some(b)),
            Self::Extra(_) => (None, None),
        };
        first.into_iter().chain(second)
    }

    /// The difference as a colleague would say it: `C4: recomputed 0, stated -1`.
    #[must_use]
    pub fn words(self, computed: &Structure, stated: &Structure) -> String {
        self.words_between(computed, stated, &STATED)
    }

    /// The same for two drawings that go by other names.
    #[must_use]
    pub fn words_between(self, one: &Structure, other: &Structure, names: &Names) -> String {
        let Names { one: was_in, other: is_in, .. } = *names;
        let call = |atom| one.call(atom);
        let differ = |what: String, was: &str, is: &str| format!("{what}: {was_in} {was}, {is_in} {is}");
        match self {
            Self::Element(a, was, is) => differ(call(a), was.name(), is.name()),
            Self::Isotope(a, was, is) => {
                let mass = |mass: Option<u16>| mass.map_or("no isotope".to_owned(), |mass| format!("isotope {mass}"));
                differ(call(a), &mass(was), &mass(is))
            }
            Self::Charge(a, was, is) => format!("{}: {was_in} charge {}, {is_in} {}", call(a), signed(was), signed(is)),
            Self::Hydrogens(a, was, is) => format!("{}: {was_in} {}, {is_in} {is}", call(a), counted(was, "hydrogen")),
            Self::Unpaired(a, was, is) => {
                format!("{}: {was_in} {}, {is_in} {is}", call(a), counted(was, "unpaired electron"))
            }
            Self::Bond(a, b, was, is) => differ(format!("bond {}-{}", call(a), call(b)), order(was), order(is)),
            Self::Missing(a) => format!("{} is not in the {}", call(a), names.other_drawing),
            Self::Extra(a) => {
                format!("{} of the {} is not in the {}", other.call(a), names.other_drawing, names.one_drawing)
            }
        }
    }
}

/// How messages call the two drawings of a comparison.
#[derive(Debug, Clone, Copy)]
pub struct Names {
    /// What stands before a value of the first: `recomputed`.
    pub one: &'static str,
    /// What stands before a value of the second: `stated`.
    pub other: &'static str,
    /// The first as a thing: `product`.
    pub one_drawing: &'static str,
    /// The second as a thing: `stated answer`.
    pub other_drawing: &'static str,
}

/// The usual comparison.
const STATED: Names =
    Names { one: "recomputed", other: "stated", one_drawing: "product", other_drawing: "stated answer" };

/// A bond order in words.
#[must_use]
pub fn order(order: u8) -> &'static str {
    match order {
        0 => "no bond",
        1 => "single",
        2 => "double",
        3 => "triple",
        4 => "quadruple",
        _ => "more than quadruple",
    }
}

/// Whether a drawn hydrogen is only another way to draw a hydrogen count: neutral, of no isotope, single-bonded to one
/// atom that is not hydrogen. Free H, H+, H- and H2 are species of their own.
#[must_use]
pub fn is_folded(structure: &Structure, id: AtomId) -> bool {
    let atom = structure.atom(id);
    if atom.element != Element::HYDROGEN || atom.isotope.is_some() || atom.charge != 0 || atom.hydrogens > 0 {
        return false;
    }
    let mut neighbours = structure.neighbours(id);
    match (neighbours.next(), neighbours.next()) {
        (Some((next, bond)), None) => {
            structure.bond(bond).order == 1 && structure.atom(next).element != Element::HYDROGEN
        }
        _ => false,
    }
}

/// Hydrogens of an atom, drawn and undrawn.
#[must_use]
pub fn total_hydrogens(structure: &Structure, id: AtomId) -> u32 {
    let drawn = structure.neighbours(id).filter(|(next, _)| is_folded(structure, *next)).count();
    u32::from(structure.atom(id).hydrogens) + drawn as u32
}

/// What is different, and which whole species of the product the answer leaves out.
#[derive(Debug, Clone, Default)]
pub struct Differences {
    /// The differences: atoms in the order of the product, then bonds, then extra atoms.
    pub list: Vec<Difference>,
    /// For each species left out, its atoms.
    pub omitted: Vec<Vec<AtomId>>,
    /// Stereo marks that differ, where they have been compared.
    pub stereo: Vec<StereoDifference>,
}

/// Lists the differences under a correspondence.
#[must_use]
pub fn differences(computed: &Structure, stated: &Structure, mapping: &Mapping) -> Differences {
    let mut found = Differences::default();
    let mut unmapped = false;
    for (id, atom) in computed.atoms() {
        let hydrogen = atom.element == Element::HYDROGEN;
        if hydrogen && is_folded(computed, id) {
            continue;
        }
        match mapping.stated(id) {
            Some(other) => atom_differences(computed, stated, id, other, &mut found.list),
            None => unmapped = true,
        }
    }
    if unmapped {
        split_unmapped(computed, mapping, &mut found);
    }
    bond_differences(computed, stated, mapping, &mut found.list);
    for (id, atom) in stated.atoms() {
        let folded = atom.element == Element::HYDROGEN && is_folded(stated, id);
        if !folded && mapping.computed(id).is_none() {
            found.list.push(Difference::Extra(id));
        }
    }
    found
}

fn atom_differences(computed: &Structure, stated: &Structure, id: AtomId, other: AtomId, list: &mut Vec<Difference>) {
    let (was, is) = (computed.atom(id), stated.atom(other));
    if was.element != is.element {
        list.push(Difference::Element(id, was.element, is.element));
    }
    if was.isotope != is.isotope {
        list.push(Difference::Isotope(id, was.isotope, is.isotope));
    }
    if was.charge != is.charge {
        list.push(Difference::Charge(id, was.charge, is.charge));
    }
    let (hydrogens, stated_hydrogens) = (total_hydrogens(computed, id), total_hydrogens(stated, other));
    if hydrogens != stated_hydrogens {
        list.push(Difference::Hydrogens(id, hydrogens, stated_hydrogens));
    }
    // Without statements both follow from charge and bonds, which are compared already.
    if (was.unpaired.is_some() || is.unpaired.is_some()) && was.element == is.element {
        let (was, is) = (unpaired(computed, id), unpaired(stated, other));
        if let (Some(was), Some(is)) = (was, is)
            && was != is
        {
            list.push(Difference::Unpaired(id, was, is));
        }
    }
}

/// Unpaired electrons as stated, or as they follow where that leaves no choice: an even count that the drawing says
/// nothing about may be paired or not.
fn unpaired(structure: &Structure, id: AtomId) -> Option<i32> {
    if let Some(stated) = structure.atom(id).unpaired {
        return Some(i32::from(stated));
    }
    let n = electrons::Electrons::of(structure, id).non_bonding()?;
    if n == 0 || n == 1 { Some(n) } else { None }
}

fn bond_differences(computed: &Structure, stated: &Structure, mapping: &Mapping, list: &mut Vec<Difference>) {
    let mut common = 0;
    for (_, a, b, bond) in computed.bonds() {
        let (Some(x), Some(y)) = (mapping.stated(a), mapping.stated(b)) else { continue };
        let is = stated.bond_between(x, y).map_or(0, |bond| stated.bond(bond).order);
        common += usize::from(is > 0);
        if bond.order != is {
            list.push(Difference::Bond(a, b, bond.order, is));
        }
    }
    let mapped = |(_, x, y, bond): (_, AtomId, AtomId, crate::structure::Bond)| {
        Some((mapping.computed(x)?, mapping.computed(y)?, bond.order))
    };
    if stated.bonds().filter_map(mapped).count() == common {
        return;
    }
    for (a, b, is) in stated.bonds().filter_map(mapped) {
        if computed.bond_between(a, b).is_none() {
            list.push(Difference::Bond(a, b, 0, is));
        }
    }
}

/// Sorts atoms of the product that the answer does not draw into whole species left out and atoms missing.
fn split_unmapped(computed: &Structure, mapping: &Mapping, found: &mut Differences) {
    let (species, count) = computed.species();
    let mut drawn = vec![false; count];
    for id in computed.atom_ids() {
        if mapping.stated(id).is_some() {
            drawn[species[id.index()] as usize] = true;
        }
    }
    let mut omitted: Vec<Vec<AtomId>> = vec![Vec::new(); count];
    for id in computed.atom_ids() {
        let own = species[id.index()] as usize;
        if !drawn[own] {
            omitted[own].push(id);
        } else if mapping.stated(id).is_none() && !is_folded(computed, id) {
            found.list.push(Difference::Missing(id));
        }
    }
    found.omitted = omitted.into_iter().filter(|atoms| !atoms.is_empty()).collect();
}
