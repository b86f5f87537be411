//! `other-contributor`: the answer is a resonance contributor of the product.

use super::case::Case;
use super::table::Slip;
use super::{Explanation, proton, words};
use crate::bank::Task;
use crate::compare::difference::total_hydrogens;
use crate::compare::{Mapping, compare_equal, may_be_one_compound, one_compound, sigma_skeleton};
use crate::structure::electrons::{Electrons, has_open_octet, judge, unpaired};
use crate::structure::{AtomId, Element, LabelIndex, OctetRule, Structure};

/// Atoms that are named.
const NAMED: usize = 6;

/// The answer as a contributor of the product, where it is one and the product is not the worse of the two: a product with more open
/// octets or more charges is rather one whose arrows do not go all the way.
pub(super) fn other_contributor(case: &Case<'_>, octet: OctetRule) -> Option<Explanation> {
    let is_worse = || {
        let (own, other) = (case.product, case.stated);
        let octets = || open_octets(own).cmp(&open_octets(other));
        let by_electrons = || beyond_octets(own).cmp(&beyond_octets(other));
        case.is_whole() && octets().then_with(|| charges(own).cmp(&charges(other))).then_with(by_electrons).is_gt()
    };
    if !may_be(case.product, case.stated)
        || !may_be_one_compound(case.product, case.stated)
        || is_worse()
        || !case.pay()
    {
        return None;
    }
    let mapping = contributor(case, case.product, octet)?;
    let sentence = format!("a contributor of what the arrows give: {}", moved_words(case, case.product, &mapping));
    Some(Explanation { slips: vec![Slip::OtherContributor], sentence, ..Explanation::default() })
}

/// The answer as what the product becomes once a hydrogen has passed from one atom to another, with bonds redrawn to match: in
/// `resonance` a tautomer, else a proton transfer and another contributor.
pub(super) fn tautomer(case: &Case<'_>, task: Task, octet: OctetRule) -> Option<Explanation> {
    if !case.is_whole() || !case.keeps_charge_and_hydrogens() || !case.pay() || !is_sound(case, octet) {
        return None;
    }
    // With labels there is one correspondence; else the one that is closest, or the first that the skeletons have.
    let ends = moved_hydrogen(case, &case.compared.mapping)
        .filter(|_| same_skeleton(case, &case.compared.mapping))
        .or_else(|| {
            let (product, stated) = (without_hydrogens(case.product), without_hydrogens(case.stated));
            let compared = compare_equal(&product.0, &stated.0, &LabelIndex::new(&product.0), case.steps)?;
            moved_hydrogen(case, &whole(&compared.mapping, case, &product.1, &stated.1))
        })?;
    let (from, to) = ends;
    let call = |atom| case.product.call(atom);
    if task == Task::Resonance {
        let sentence = format!(
            "a tautomer of what the arrows give: a hydrogen has passed from {} to {}, and in resonance no atom moves",
            call(from),
            call(to)
        );
        return Some(Explanation { slips: vec![Slip::Tautomer], sentence, ..Explanation::default() });
    }
    let covers = [proton::moved(case.product, from, -1)?, proton::moved(case.product, to, 1)?].concat();
    let part = super::drawing::Part { slip: Slip::ProtonMoved, covers: covers.into() };
    let drawn = super::drawing::draw(case, case.product, [&part])?.structure;
    let mapping = (drawn.atom_count() == case.product.atom_count()).then(|| contributor(case, &drawn, octet))??;
    let moved = words::drawing(case, Slip::ProtonMoved, &part.covers);
    let sentence =
        format!("what the arrows give {moved}, drawn as another contributor: {}", moved_words(case, &drawn, &mapping));
    Some(Explanation {
        slips: vec![Slip::ProtonMoved, Slip::OtherContributor],
        sentence,
        proton: Some((from, to)),
        ..Explanation::default()
    })
}

/// Whether sums leave it open that two drawings have one sigma skeleton.
fn may_be(product: &Structure, stated: &Structure) -> bool {
    let heavy = |of: &Structure| of.atoms().filter(|(_, atom)| atom.element != Element::HYDROGEN).count();
    heavy(stated) <= heavy(product) && (heavy(stated) < heavy(product) || bonds(product) == bonds(stated))
}

/// Sigma bonds, those to hydrogens among them.
fn bonds(of: &Structure) -> usize {
    of.bonds().filter(|(_, _, _, bond)| bond.order > 0).count()
        + of.atoms().map(|(_, atom)| usize::from(atom.hydrogens)).sum::<usize>()
}

/// Whether the stated answer is a contributor of a drawing on the atoms of the product, and under which correspondence. The rules
/// are those to which stated contributors are held (IUPAC Gold Book 08205): one sigma skeleton, one count of unpaired electrons, one charge.
fn contributor(case: &Case<'_>, drawing: &Structure, octet: OctetRule) -> Option<Mapping> {
    if !is_sound(case, octet) {
        return None;
    }
    let skeletons = one_compound(drawing, case.stated, case.labels, case.steps)?;
    let atoms = |omitted: &[Vec<AtomId>]| -> usize { omitted.iter().map(Vec::len).sum() };
    if atoms(&skeletons.differences.omitted) > atoms(&case.compared.differences.omitted) {
        return None;
    }
    // Forms that differ by double bonds alone are other Kekulé forms of rings, or of rings of 4n atoms, which are no contributors.
    let mapping = skeletons.mapping;
    let shown = |of: &Structure, atom| (of.atom(atom).charge, unpaired(of, atom));
    let moves =
        |atom: AtomId| mapping.stated(atom).is_some_and(|other| shown(case.stated, other) != shown(drawing, atom));
    drawing.atom_ids().any(moves).then_some(mapping)
}

/// Whether the stated answer's electrons are possible.
fn is_sound(case: &Case<'_>, octet: OctetRule) -> bool {
    case.stated.atom_ids().all(|atom| judge(case.stated, atom, octet).is_none())
}

fn charges(of: &Structure) -> u32 {
    of.atoms().map(|(_, atom)| u32::from(atom.charge.unsigned_abs())).sum()
}

/// Electrons beyond the octets of atoms.
fn beyond_octets(of: &Structure) -> i32 {
    of.atom_ids().filter_map(|atom| Electrons::of(of, atom).shell()).map(|shell| (shell - 8).max(0)).sum()
}

/// Atoms of the second row with fewer electrons than an octet (boron has six as a rule).
fn open_octets(of: &Structure) -> usize {
    let is_open = |atom: &AtomId| {
        let element = of.atom(*atom).element;
        (6..=9).contains(&element.number()) && has_open_octet(element, Electrons::of(of, *atom))
    };
    of.atom_ids().filter(is_open).count()
}

/// A sigma skeleton without hydrogens, and which atom each of its atoms is.
fn without_hydrogens(structure: &Structure) -> (Structure, Vec<AtomId>) {
    let is_kept = |atom: AtomId| {
        let own = structure.atom(atom);
        own.element != Element::HYDROGEN || own.isotope.is_some()
    };
    let atoms: Vec<AtomId> = structure.atom_ids().filter(|atom| is_kept(*atom)).collect();
    let mut skeleton = sigma_skeleton(&structure.part(is_kept));
    for at in 0..atoms.len() {
        skeleton.atom_mut(AtomId::new(at)).hydrogens = 0;
    }
    (skeleton, atoms)
}

/// A correspondence of skeletons as one of the drawings.
fn whole(mapping: &Mapping, case: &Case<'_>, product: &[AtomId], stated: &[AtomId]) -> Mapping {
    let mut all = Mapping::new(case.product, case.stated);
    for (at, own) in product.iter().enumerate() {
        if let Some(other) = mapping.stated(AtomId::new(at)).and_then(|other| stated.get(other.index())) {
            all.pair(*own, *other);
        }
    }
    all
}

/// Whether two drawings have one skeleton of atoms other than hydrogen under a correspondence.
fn same_skeleton(case: &Case<'_>, mapping: &Mapping) -> bool {
    let is_hydrogen = |of: &Structure, atom: AtomId| of.atom(atom).element == Element::HYDROGEN;
    let heavy = |of: &Structure| {
        let between = |a, b| !is_hydrogen(of, a) && !is_hydrogen(of, b);
        of.bonds().filter(|(_, a, b, bond)| bond.order > 0 && between(*a, *b)).count()
    };
    let kept = |a: AtomId, b: AtomId| {
        let ends = mapping.stated(a).zip(mapping.stated(b));
        ends.and_then(|(x, y)| case.stated.bond_between(x, y)).is_some()
    };
    heavy(case.product) == heavy(case.stated)
        && case.product.bonds().all(|(_, a, b, bond)| {
            bond.order == 0 || is_hydrogen(case.product, a) || is_hydrogen(case.product, b) || kept(a, b)
        })
}

/// The atom with one hydrogen less and the one with one more, where all others keep theirs.
fn moved_hydrogen(case: &Case<'_>, mapping: &Mapping) -> Option<(AtomId, AtomId)> {
    let (mut from, mut to) = (None, None);
    for (atom, own) in case.product.atoms().filter(|(_, own)| own.element != Element::HYDROGEN) {
        let partner = mapping.stated(atom)?;
        if case.stated.atom(partner).element != own.element {
            return None;
        }
        let (was, is) =
            (i64::from(total_hydrogens(case.product, atom)), i64::from(total_hydrogens(case.stated, partner)));
        let place = match is - was {
            0 => continue,
            -1 => &mut from,
            1 => &mut to,
            _ => return None,
        };
        if place.replace(atom).is_some() {
            return None;
        }
    }
    from.zip(to)
}

/// Which atoms carry another charge or another double bond: `charge +1 on C3 instead of C1`.
fn moved_words(case: &Case<'_>, drawing: &Structure, mapping: &Mapping) -> String {
    let call = |atom: &AtomId| case.product.call(*atom);
    let change = |atom: AtomId| -> Option<(AtomId, i16, i16)> {
        let is = case.stated.atom(mapping.stated(atom)?).charge;
        let was = drawing.atom(atom).charge;
        (is != was).then_some((atom, was, is))
    };
    let changes: Vec<(AtomId, i16, i16)> = drawing.atom_ids().filter_map(change).collect();
    let moved = match changes.as_slice() {
        [(a, was, 0), (b, 0, is)] | [(b, 0, is), (a, was, 0)] if was == is => Some((a, b, *is)),
        _ => None,
    };
    if let Some((from, to, charge)) = moved {
        return format!("its charge {} is on {} instead of {}", crate::source::signed(charge), call(to), call(from));
    }
    let named: Vec<String> = changes
        .iter()
        .take(NAMED)
        .map(|(atom, was, is)| {
            format!("{} has {} there and {} here", call(atom), crate::source::signed(*was), crate::source::signed(*is))
        })
        .collect();
    named.join(", ")
}
