//! Correspondences of atoms: equality decided, differences explained with the fewest.

use super::molecules::{any_molecule, any_order, build, dendrimer, fullerene, renumbered, smiles};
use keyassay::compare::closest::Closest;
use keyassay::compare::correspond::{Correspond, Question, Verdict};
use keyassay::structure::skeleton::Skeleton;
use keyassay::structure::{Atom, Bond, Element, Structure, localise};
use proptest::prelude::*;

const LIMIT: u64 = 200_000;

fn localised(text: &str) -> Structure {
    let mut structure = smiles(text);
    localise::localise(&mut structure).unwrap();
    structure
}

fn question<'a>(computed: &'a Skeleton, stated: &'a Skeleton) -> Question<'a> {
    Question { computed, stated, pairs: &[], seeds: [&[], &[]], may_omit: false, limit: LIMIT }
}

fn verdict(computed: &Structure, stated: &Structure) -> Verdict {
    let (computed, stated) = (Skeleton::new(computed), Skeleton::new(stated));
    Correspond::default().equal(&question(&computed, &stated), |_| true)
}

fn closest(computed: &Structure, stated: &Structure) -> Closest {
    let (computed, stated) = (Skeleton::new(computed), Skeleton::new(stated));
    Correspond::default().closest(&question(&computed, &stated), false)
}

/// Whether a correspondence is one: every node has an image, no image twice, atoms and bonds agree.
fn holds(computed: &Structure, stated: &Structure, image: &[u32]) -> bool {
    let (computed, stated) = (Skeleton::new(computed), Skeleton::new(stated));
    let mut seen = vec![false; computed.len() as usize];
    (0..stated.len()).zip(image).all(|(node, to)| {
        !std::mem::replace(&mut seen[*to as usize], true)
            && stated.node(node).agrees(computed.node(*to))
            && stated.arcs(node).len() == computed.arcs(*to).len()
            && stated
                .arcs(node)
                .iter()
                .all(|arc| computed.arc_between(*to, image[arc.to as usize]).is_some_and(|other| arc.agrees(other)))
    })
}

#[test]
fn verdicts() {
    // Recomputed, stated, equal.
    let cases = [
        ("CCO", "OCC", true),
        ("CC=O.[OH-]", "[OH-].O=CC", true),
        ("[CH2-]C=O", "C=C[O-]", false),
        ("C1CCC2CCCCC2C1", "C1CCC(C1)C1CCCC1", false),
        // Aromatic against localised, and two spellings of one localised form.
        ("C1=CC=CC=C1", "c1ccccc1", true),
        ("CC1=CC=CC=C1O", "Cc1ccccc1O", true),
        ("CC1=C(O)C=CC=C1", "Oc1ccccc1C", true),
        ("CC1=C(O)C=CC=C1", "CC1=CC=CC=C1O", false),
        ("c1ccc2ccccc2c1", "C1=CC2=CC=CC=C2C=C1", true),
        ("c1ccccc1", "C1CC=CC=C1", false),
        ("c1ccccc1", "[CH]1=CC=C[CH][CH]1", false),
        // Unpaired electrons count where both state them; hydrogens drawn or not.
        ("[H]C([H])([H])[H]", "C", true),
        ("[H][H].C", "C.[H].[H]", false),
    ];
    let mut wrong = Vec::new();
    for (computed, stated, equal) in cases {
        let (one, two) = (localised(computed), localised(stated));
        for (computed, stated) in [(&one, &two), (&two, &one)] {
            let right = match verdict(computed, stated) {
                Verdict::Equal(image) => equal && holds(computed, stated, &image),
                Verdict::Different => !equal,
                Verdict::Undecided => false,
            };
            if !right {
                wrong.push((one.atom_count(), two.atom_count(), equal));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn stated_unpaired_electrons_may_force_another_pairing() {
    // Two species of either drawing, in which one atom each may state its unpaired electrons.
    let species = |first: Option<u8>, second: Option<u8>| {
        let atom = |unpaired| Atom { unpaired, hydrogens: 2, ..Atom::new(Element::CARBON) };
        build(&[atom(first), atom(second)], &[])
    };
    let cases = [
        ((Some(2), None), (None, Some(2)), true),
        ((Some(0), Some(2)), (Some(2), None), true),
        ((Some(0), Some(2)), (None, Some(0)), true),
        ((Some(0), None), (Some(2), None), true),
        ((Some(0), Some(0)), (Some(2), None), false),
    ];
    for (computed, stated, equal) in cases {
        let (computed, stated) = (species(computed.0, computed.1), species(stated.0, stated.1));
        match verdict(&computed, &stated) {
            Verdict::Equal(image) => assert!(equal && holds(&computed, &stated, &image)),
            other => assert!(!equal, "{other:?}"),
        }
    }
}

#[test]
fn pairs_and_omissions() {
    let (computed, stated) = (smiles("CC(=O)O.[Na+].[Cl-]"), smiles("OC(C)=O"));
    let (computed, stated) = (Skeleton::new(&computed), Skeleton::new(&stated));
    let mut correspond = Correspond::default();
    let omitting = Question { may_omit: true, ..question(&computed, &stated) };
    assert!(matches!(correspond.equal(&omitting, |_| true), Verdict::Equal(_)));
    assert_eq!(correspond.equal(&question(&computed, &stated), |_| true), Verdict::Different);
    // The allyl cation onto itself, end to end: with its left end held to the right one there is one way, which is wrong.
    let allyl = Skeleton::new(&smiles("[CH2+]C=C"));
    let mut held = Question { pairs: &[(0, 2)], ..question(&allyl, &allyl) };
    assert_eq!(correspond.equal(&held, |_| true), Verdict::Different);
    held.pairs = &[(0, 0)];
    assert_eq!(correspond.equal(&held, |_| true), Verdict::Equal(vec![0, 1, 2]));
    held.pairs = &[(0, 0), (0, 1)];
    assert_eq!(correspond.equal(&held, |_| true), Verdict::Different);
}

#[test]
fn every_correspondence_is_offered() {
    // SMILES, number of symmetries of the drawing (counted by hand).
    let cases =
        [("CCO", 1), ("CC(C)C", 6), ("C1CCCCC1", 12), ("C12C3C4C1C5C4C3C25", 48), ("CC.CC", 8), ("[CH2+]C=C", 1)];
    let mut wrong = Vec::new();
    for (text, symmetries) in cases {
        let structure = smiles(text);
        let skeleton = Skeleton::new(&structure);
        let mut seen = std::collections::HashSet::new();
        let verdict = Correspond::default().equal(&question(&skeleton, &skeleton), |image| {
            assert!(holds(&structure, &structure, image));
            seen.insert(image.to_vec());
            false
        });
        if verdict != Verdict::Different || seen.len() != symmetries {
            wrong.push((text, verdict, seen.len()));
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn the_worst_are_bounded() {
    let mut ball = fullerene();
    localise::localise(&mut ball).unwrap();
    let forty = smiles(&["CC(C)(C)c1ccccc1"; 40].join("."));
    for structure in
        [ball, dendrimer(5), forty, smiles(&"C".repeat(100_000)), smiles("O.".repeat(50_000).trim_end_matches('.'))]
    {
        let count = structure.atom_count();
        let factor = (count / 2..count * 2).find(|factor| gcd(*factor, count) == 1).unwrap();
        let order: Vec<_> = (0..count).map(|at| (at * factor + 1) % count).collect();
        let mut other = renumbered(&structure, &order);
        match verdict(&structure, &other) {
            Verdict::Equal(image) => assert!(holds(&structure, &other, &image)),
            verdict => panic!("{count} atoms: {verdict:?}"),
        }
        other.atom_mut(keyassay::structure::AtomId::new(count / 2)).charge += 1;
        assert_eq!(verdict(&structure, &other), Verdict::Different);
        let found = closest(&structure, &other);
        assert_eq!((found.cost, found.smallest || count > 10_000), (2, true), "{count} atoms");
    }
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[test]
fn explanations() {
    // Recomputed, stated, weight; by our own table of weights.
    let cases = [
        ("CCO", "CCO", 0),
        // A charge not drawn.
        ("CC(=O)[O-]", "CC(=O)[O]", 2),
        // Two charges exchanged and two bonds: the other contributor.
        ("[CH2-]C=O", "C=C[O-]", 2 + 2 + 2 + 2),
        // Another element.
        ("CCO", "CCS", 8),
        // A species left out.
        ("CCO.[Cl-]", "CCO", 14),
        // A bond not made, nothing else.
        ("CC[O]", "C[CH2].[O]", 3),
        // A hydrogen too many.
        ("CC=C", "CCC", 2 + 2 + 2),
        // The last atom of a chain missing with its bond, and one hydrogen more where it was.
        ("CCCCO", "CCCO", 14 + 2 + 2),
    ];
    let mut wrong = Vec::new();
    for (computed, stated, cost) in cases {
        let found = closest(&smiles(computed), &smiles(stated));
        if found.cost != cost || !found.smallest {
            wrong.push((computed, stated, cost, found));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A molecule and a copy of it with other numbers and a few changes.
fn any_changed(atoms: usize) -> impl Strategy<Value = (Structure, Structure)> {
    any_molecule(atoms).prop_flat_map(|structure| {
        let count = structure.atom_count();
        let changes =
            prop::collection::vec((0..4_u8, any::<prop::sample::Index>(), any::<prop::sample::Index>()), 0..4);
        (Just(structure), any_order(count), changes).prop_map(|(structure, order, changes)| {
            let mut atoms: Vec<_> = structure.atoms().map(|(_, atom)| *atom).collect();
            let mut bonds: Vec<_> = structure.bonds().map(|(_, a, b, bond)| (a.index(), b.index(), bond)).collect();
            for (kind, one, two) in changes {
                let (one, two) = (one.index(atoms.len()), two.index(atoms.len()));
                match kind {
                    0 => atoms[one].charge += 1,
                    1 => atoms[one].hydrogens += 1,
                    2 if !bonds.is_empty() => {
                        let at = (one + two) % bonds.len();
                        bonds[at].2.order = 3 - bonds[at].2.order;
                    }
                    _ => {
                        let same = |bond: &(usize, usize, Bond)| {
                            (bond.0.min(bond.1), bond.0.max(bond.1)) == (one.min(two), one.max(two))
                        };
                        match bonds.iter().position(same) {
                            Some(at) => drop(bonds.remove(at)),
                            None if one != two => bonds.push((one, two, Bond::new(1))),
                            None => {}
                        }
                    }
                }
            }
            let other = build(&atoms, &bonds);
            (structure, renumbered(&other, &order))
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn renumbering_is_no_difference(
        (structure, order) in any_molecule(20).prop_flat_map(|structure| {
            let count = structure.atom_count();
            (Just(structure), any_order(count))
        })
    ) {
        let other = renumbered(&structure, &order);
        match verdict(&structure, &other) {
            Verdict::Equal(image) => prop_assert!(holds(&structure, &other, &image)),
            verdict => prop_assert!(false, "{:?}", verdict),
        }
        let found = closest(&structure, &other);
        prop_assert_eq!((found.cost, found.smallest), (0, true));
    }

    #[test]
    fn the_cost_of_an_explanation_depends_on_neither_numbering_nor_side((one, two) in any_changed(9)) {
        let (there, back) = (closest(&one, &two), closest(&two, &one));
        let count = one.atom_count();
        let reversed: Vec<_> = (0..count).rev().collect();
        let again = closest(&renumbered(&one, &reversed), &two);
        if there.smallest && back.smallest && again.smallest {
            prop_assert_eq!(there.cost, back.cost);
            prop_assert_eq!(there.cost, again.cost);
        }
        prop_assert_eq!(there.cost == 0, matches!(verdict(&one, &two), Verdict::Equal(_)));
    }
}

/// What a correspondence weighs, by the table of weights, worked out without the tool's own sums.
fn weight(computed: &Skeleton, stated: &Skeleton, image: &[Option<u32>]) -> u32 {
    let units = |apart: u32| if apart == 0 { 0 } else { 2 + (apart - 1).min(3) };
    let mut weight = 0;
    for (node, to) in (0..).zip(image) {
        let Some(to) = to else { continue };
        let (is, was) = (stated.node(node), computed.node(*to));
        weight += if is.element == was.element { 0 } else { 8 };
        weight +=
            units(u32::from(is.charge.abs_diff(was.charge))) + units(u32::from(is.hydrogens.abs_diff(was.hydrogens)));
    }
    let source = |node: u32| image.iter().position(|to| *to == Some(node)).map(|at| at as u32);
    weight += 14 * image.iter().filter(|to| to.is_none()).count() as u32;
    weight += 14 * (0..computed.len()).filter(|node| source(*node).is_none()).count() as u32;
    for node in 0..stated.len() {
        for arc in stated.arcs(node).iter().filter(|arc| arc.to > node) {
            weight += match (image[node as usize], image[arc.to as usize]) {
                (Some(a), Some(b)) => {
                    computed.arc_between(a, b).map_or(3, |other| units(u32::from(arc.order.abs_diff(other.order))))
                }
                _ => 2,
            };
        }
    }
    for node in 0..computed.len() {
        for arc in computed.arcs(node).iter().filter(|arc| arc.to > node) {
            weight += match (source(node), source(arc.to)) {
                (Some(a), Some(b)) if stated.arc_between(a, b).is_some() => 0,
                (Some(_), Some(_)) => 3,
                _ => 2,
            };
        }
    }
    weight
}

/// The least weight of all correspondences, by trying all.
fn least_weight(computed: &Skeleton, stated: &Skeleton) -> u32 {
    let choices = u64::from(computed.len()) + 1;
    (0..choices.pow(stated.len()))
        .filter_map(|mut code| {
            let image: Vec<Option<u32>> = (0..stated.len())
                .map(|_| {
                    let digit = (code % choices) as u32;
                    code /= choices;
                    digit.checked_sub(1)
                })
                .collect();
            let mut taken: Vec<_> = image.iter().flatten().collect();
            taken.sort_unstable();
            taken.windows(2).all(|two| two[0] != two[1]).then(|| weight(computed, stated, &image))
        })
        .min()
        .unwrap_or_default()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn the_smallest_is_the_smallest((one, two) in any_changed(5)) {
        let (computed, stated) = (Skeleton::new(&one), Skeleton::new(&two));
        let found = closest(&one, &two);
        prop_assert_eq!(found.cost, weight(&computed, &stated, &found.image));
        let least = least_weight(&computed, &stated);
        prop_assert!(found.cost >= least);
        prop_assert!(!found.smallest || found.cost == least, "{} is not the least, {}", found.cost, least);
    }

    #[test]
    fn unlike_molecules_too(one in any_molecule(4), two in any_molecule(5)) {
        let (computed, stated) = (Skeleton::new(&one), Skeleton::new(&two));
        let found = closest(&one, &two);
        prop_assert_eq!(found.cost, weight(&computed, &stated, &found.image));
        let least = least_weight(&computed, &stated);
        prop_assert!(found.cost >= least && (!found.smallest || found.cost == least), "{} and {}", found.cost, least);
    }
}
