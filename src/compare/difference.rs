//! Differences between the recomputed product and the stated answer under a correspondence of their atoms, in words.

use super::stereo::StereoDifference;
use crate::source::{add_counted, add_number, add_signed};
use crate::structure::electrons;
use crate::structure::{Atom, AtomId, Element, Structure};

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

    /// Parts what stands for a stated atom from it.
    pub fn part(&mut self, stated: AtomId) {
        if let Some(computed) = self.computed(stated) {
            self.to_stated[computed.index()] = None;
            self.to_computed[stated.index()] = None;
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

    /// The difference as a colleague would say it: `C4: stated charge -1, should be 0`.
    #[must_use]
    pub fn words(self, computed: &Structure, stated: &Structure) -> String {
        self.words_between(computed, stated, &STATED)
    }

    /// The same for two drawings that go by other names.
    #[must_use]
    pub fn words_between(self, one: &Structure, other: &Structure, names: &Names) -> String {
        let mut text = String::new();
        self.add_words(&mut text, one, other, names);
        text
    }

    /// Adds these words to a text.
    pub(crate) fn add_words(self, text: &mut String, one: &Structure, other: &Structure, names: &Names) {
        if let Self::Bond(..) = self {
            text.push_str("bond ");
        }
        for (at, atom) in self.atoms().enumerate() {
            text.push_str(if at > 0 { "-" } else { "" });
            one.add_call(text, atom);
        }
        match self {
            Self::Missing(_) => text.extend([" is not in the ", names.other_drawing]),
            Self::Extra(atom) => {
                other.add_call(text, atom);
                text.extend([" of the ", names.other_drawing, " is not in the ", names.one_drawing]);
            }
            _ => {
                let [first_in, second_in] = names.in_order(names.one, names.other);
                text.extend([": ", first_in, " "]);
                self.add_value(text, names.second_first, true);
                text.extend([", ", second_in, " "]);
                self.add_value(text, !names.second_first, false);
            }
        }
    }

    /// Adds what the first drawing has, or the second. What is said first names the property; behind it stands the bare value.
    fn add_value(self, text: &mut String, of_second: bool, is_first: bool) {
        match self {
            Self::Element(_, was, is) => text.push_str(if of_second { is } else { was }.name()),
            Self::Isotope(_, was, is) => match if of_second { is } else { was } {
                Some(mass) => {
                    text.push_str("isotope ");
                    add_number(text, mass.into());
                }
                None => text.push_str("no isotope"),
            },
            Self::Charge(_, was, is) => {
                text.push_str(if is_first { "charge " } else { "" });
                add_signed(text, if of_second { is } else { was });
            }
            Self::Hydrogens(_, was, is) => add_count(text, if of_second { is } else { was }, "hydrogen", is_first),
            Self::Unpaired(_, was, is) => {
                add_count(text, if of_second { is } else { was }, "unpaired electron", is_first);
            }
            Self::Bond(_, _, was, is) => text.push_str(order(if of_second { is } else { was })),
            Self::Missing(_) | Self::Extra(_) => {}
        }
    }
}

fn add_count(text: &mut String, count: impl Into<i64>, noun: &str, is_first: bool) {
    if is_first { add_counted(text, count, noun) } else { text.push_str(&count.into().to_string()) }
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
    /// Whether the value of the second is said first: `stated 0, should be -1`.
    pub second_first: bool,
}

impl Names {
    /// The values of the first and the second in the order in which they are said.
    fn in_order<V>(&self, one: V, other: V) -> [V; 2] {
        if self.second_first { [other, one] } else { [one, other] }
    }
}

/// The usual comparison: what an answer states, and what it should be.
pub(crate) const STATED: Names = Names {
    one: "should be",
    other: "stated",
    one_drawing: "product",
    other_drawing: "stated answer",
    second_first: true,
};

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
#[inline]
pub fn is_folded(structure: &Structure, id: AtomId) -> bool {
    // Nearly every atom shows at once that it is none.
    structure.atom(id).element == Element::HYDROGEN && is_folded_hydrogen(structure, id)
}

fn is_folded_hydrogen(structure: &Structure, id: AtomId) -> bool {
    let atom = structure.atom(id);
    if atom.isotope.is_some() || atom.charge != 0 || atom.hydrogens > 0 {
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

/// A side of a comparison: the hydrogens of its atoms are counted along bonds only if some are drawn.
#[derive(Clone, Copy)]
struct Side<'a> {
    structure: &'a Structure,
    draws_hydrogens: bool,
}

impl<'a> Side<'a> {
    fn new(structure: &'a Structure) -> Self {
        let draws_hydrogens = structure.atoms().any(|(_, atom)| atom.element == Element::HYDROGEN);
        Self { structure, draws_hydrogens }
    }

    fn is_folded(&self, id: AtomId) -> bool {
        self.draws_hydrogens && is_folded(self.structure, id)
    }

    fn hydrogens(&self, id: AtomId) -> u32 {
        let undrawn = || u32::from(self.structure.atom(id).hydrogens);
        if self.draws_hydrogens { total_hydrogens(self.structure, id) } else { undrawn() }
    }
}

/// Lists the differences under a correspondence.
#[must_use]
pub fn differences(computed: &Structure, stated: &Structure, mapping: &Mapping) -> Differences {
    let mut found = Differences::default();
    let (own, other) = (Side::new(computed), Side::new(stated));
    let mut unmapped = false;
    let draws_hydrogens = own.draws_hydrogens || other.draws_hydrogens;
    let drawn = |atom: &Atom| (atom.element, atom.isotope, atom.charge, atom.hydrogens, atom.unpaired);
    for (id, atom) in computed.atoms() {
        match mapping.stated(id) {
            // Mostly they are alike.
            Some(partner) if !draws_hydrogens && drawn(atom) == drawn(stated.atom(partner)) => {}
            _ if own.is_folded(id) => {}
            Some(partner) => atom_differences((own, id), (other, partner), &mut found.list),
            None => unmapped = true,
        }
    }
    if unmapped {
        split_unmapped(computed, mapping, &mut found);
    }
    bond_differences(computed, stated, mapping, &mut found.list);
    let extra = stated.atom_ids().filter(|id| mapping.computed(*id).is_none() && !other.is_folded(*id));
    found.list.extend(extra.map(Difference::Extra));
    found
}

fn atom_differences((own, id): (Side<'_>, AtomId), (other, partner): (Side<'_>, AtomId), list: &mut Vec<Difference>) {
    let (was, is) = (own.structure.atom(id), other.structure.atom(partner));
    if was.element != is.element {
        list.push(Difference::Element(id, was.element, is.element));
    }
    if was.isotope != is.isotope {
        list.push(Difference::Isotope(id, was.isotope, is.isotope));
    }
    if was.charge != is.charge {
        list.push(Difference::Charge(id, was.charge, is.charge));
    }
    let (hydrogens, stated_hydrogens) = (own.hydrogens(id), other.hydrogens(partner));
    if hydrogens != stated_hydrogens {
        list.push(Difference::Hydrogens(id, hydrogens, stated_hydrogens));
    }
    // Without statements both follow from charge and bonds, which are compared already.
    if (was.unpaired.is_some() || is.unpaired.is_some()) && was.element == is.element {
        let (was, is) = (unpaired(own.structure, id), unpaired(other.structure, partner));
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
    let ends = |x: AtomId, y: AtomId| mapping.computed(x).zip(mapping.computed(y));
    // Mostly all of the answer has been met.
    let is_whole = stated.atom_ids().all(|id| mapping.computed(id).is_some());
    let between = || stated.bonds().filter(|(_, x, y, _)| ends(*x, *y).is_some()).count();
    if (if is_whole { stated.bond_count() } else { between() }) == common {
        return;
    }
    for (_, x, y, bond) in stated.bonds() {
        if let Some((a, b)) = ends(x, y).filter(|(a, b)| computed.bond_between(*a, *b).is_none()) {
            list.push(Difference::Bond(a, b, 0, bond.order));
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
