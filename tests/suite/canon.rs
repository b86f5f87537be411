//! Skeletons, colours, canonical forms.

use super::molecules::{any_molecule, any_order, dendrimer, fullerene, renumbered, smiles};
use keyassay::structure::canon::{Canonical, Colours, Orders, canonical, fingerprint};
use keyassay::structure::skeleton::Skeleton;
use keyassay::structure::{Bond, Structure, localise};
use proptest::prelude::*;

const LIMIT: u64 = 2_000_000;

fn print(text: &str) -> u128 {
    fingerprint(&Skeleton::new(&smiles(text)))
}

fn form(structure: &Structure, species: u32) -> Canonical {
    let skeleton = Skeleton::new(structure);
    canonical(&skeleton, &Colours::new(&skeleton, Orders::Drawn), species, Orders::Drawn, LIMIT)
}

#[test]
fn one_drawing_has_one_fingerprint() {
    let same = [
        ("CCO", "OCC"),
        ("CC(=O)C", "[CH3][C](=[O])[CH3]"),
        ("C", "[H]C([H])([H])[H]"),
        ("C.O", "O.C"),
        ("[CH3-].[Na+]", "[Na+].[H][C-]([H])[H]"),
        ("[H][H].C", "C.[H][H]"),
        ("CCC.O", "C1.O.CC1"),
        // Labels and stereo marks are not part of it.
        ("[CH3:1][OH:2]", "CO"),
        ("C/C=C/C", "C/C=C\\C"),
    ];
    let different = [
        ("CCO", "COC"),
        ("[CH3-]", "[CH3+]"),
        ("[CH2]", "C"),
        ("[2H]C", "C"),
        ("[0C]", "[C]"),
        ("[H][H]", "[H].[H]"),
        ("[H+].[H-]", "[H][H]"),
        ("C=CC", "CC=C.C"),
        ("C.C", "C"),
        ("C1CC1.C1CC1", "C1CCCCC1"),
        // Two contributors are two drawings.
        ("[CH2-]C=O", "C=C[O-]"),
        ("[CH3:1]C=[OH+]", "C[CH+]O"),
        // Colour refinement alone does not see these.
        ("C1CCC2CCCCC2C1", "C1CCC(C1)C1CCCC1"),
    ];
    let mut wrong: Vec<_> = same.iter().filter(|(a, b)| print(a) != print(b)).collect();
    wrong.extend(different.iter().filter(|(a, b)| print(a) == print(b)));
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn hydrogens_fold_where_nothing_is_lost() {
    // SMILES, nodes of the skeleton.
    let cases = [
        ("[H]C([H])([H])[H]", 1),
        ("[H]O[H]", 1),
        ("[H][H]", 2),
        ("[H+]", 1),
        ("[2H]C", 2),
        ("[H-].C", 2),
        ("[BH2]1[H][BH2][H]1", 4),
        ("[H]Cl", 1),
    ];
    let wrong: Vec<_> = cases.iter().filter(|(text, nodes)| Skeleton::new(&smiles(text)).len() != *nodes).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    let methanol = smiles("[H]OC");
    let skeleton = Skeleton::new(&methanol);
    let hydrogen = methanol.atom_ids().next().unwrap();
    assert!(skeleton.is_folded(hydrogen));
    assert_eq!(skeleton.node(skeleton.host(hydrogen)).hydrogens, 1);
}

#[test]
fn species_lie_side_by_side() {
    let skeleton = Skeleton::new(&smiles("C1.O.C1.[Na+]"));
    let sizes: Vec<_> = (0..skeleton.species_count()).map(|species| skeleton.species(species).len()).collect();
    assert_eq!(sizes, [2, 1, 1]);
    assert!((0..skeleton.len()).all(|node| skeleton.species(skeleton.species_of(node)).contains(&node)));
}

#[test]
fn symmetry_classes() {
    // SMILES, number of classes; by common practice, counted by hand.
    let cases =
        [("C", 1), ("CC(C)(C)C", 2), ("C1CCCCC1", 1), ("CC(=O)[O-]", 4), ("Cc1ccccc1", 5), ("C.C.O", 2), ("CC.CCC", 3)];
    let mut wrong = Vec::new();
    for (text, expected) in cases {
        let skeleton = Skeleton::new(&smiles(text));
        let classes = Colours::new(&skeleton, Orders::Free).classes();
        let count = classes.iter().max().map_or(0, |last| last + 1);
        if count != expected {
            wrong.push((text, count));
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn localised_forms_of_one_system_share_free_colours() {
    let forms = ["c1ccc2ccccc2c1", "C1=CC=C2C=CC=CC2=C1", "C1=CC2=CC=CC=C2C=C1"];
    let prints: Vec<_> = forms
        .iter()
        .map(|text| {
            let mut structure = smiles(text);
            localise::localise(&mut structure).unwrap();
            Colours::new(&Skeleton::new(&structure), Orders::Free).whole()
        })
        .collect();
    assert!(prints.iter().all(|print| *print == prints[0]));
}

#[test]
fn canonical_forms_of_the_symmetric() {
    let mut wrong = Vec::new();
    let cubane = smiles("C12C3C4C1C5C4C3C25");
    let prismane = smiles("C12C3C1C4C2C34");
    let mut localised = fullerene();
    localise::localise(&mut localised).unwrap();
    let neopentane = smiles("CC(C)(C)C");
    for (name, structure) in [
        ("cubane", cubane),
        ("prismane", prismane),
        ("fullerene, localised", localised),
        ("fullerene", fullerene()),
        ("dendrimer", dendrimer(6)),
        ("neopentane", neopentane),
        ("chain", smiles(&"C".repeat(1_000))),
        ("ring", smiles(&format!("C1{}1", "C".repeat(199)))),
    ] {
        let count = structure.atom_count();
        // A fixed scrambling: multiplication by a number that shares no factor with the count.
        let factor = (count / 2..count * 2).find(|factor| gcd(*factor, count) == 1).unwrap();
        let order: Vec<_> = (0..count).map(|at| (at * factor + 1) % count).collect();
        let (one, other) = (form(&structure, 0), form(&renumbered(&structure, &order), 0));
        if one.form != other.form || !one.certain || !other.certain {
            wrong.push((name, one.certain, other.certain));
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[test]
fn large_species_are_bounded() {
    for text in
        ["C".repeat(100_000), format!("C1{}1", "C".repeat(99_999)), "C(C)".repeat(50_000), "C.".repeat(50_000) + "C"]
    {
        let structure = smiles(&text);
        let skeleton = Skeleton::new(&structure);
        let colours = Colours::new(&skeleton, Orders::Drawn);
        let canonical = canonical(&skeleton, &colours, 0, Orders::Drawn, 200_000);
        let mut order = canonical.order;
        order.sort_unstable();
        assert_eq!(order, skeleton.species(0).collect::<Vec<_>>());
    }
}

/// The verdict of petgraph's isomorphism search, which is exact and affordable on graphs as small as these.
fn isomorphic(a: &Structure, b: &Structure) -> bool {
    let graph = |structure: &Structure| {
        let skeleton = Skeleton::new(structure);
        let mut graph = petgraph::graph::UnGraph::<_, u8>::new_undirected();
        for node in 0..skeleton.len() {
            let node = skeleton.node(node);
            graph.add_node((node.element, node.isotope, node.charge, node.hydrogens));
        }
        for node in 0..skeleton.len() {
            for arc in skeleton.arcs(node).iter().filter(|arc| arc.to > node) {
                graph.add_edge(node.into(), arc.to.into(), arc.order);
            }
        }
        graph
    };
    petgraph::algo::is_isomorphic_matching(&graph(a), &graph(b), |x, y| x == y, |x, y| x == y)
}

fn forms(structure: &Structure) -> Vec<Vec<u64>> {
    let count = Skeleton::new(structure).species_count();
    let mut forms: Vec<_> = (0..count).map(|species| form(structure, species).form).collect();
    forms.sort_unstable();
    forms
}

/// The same structure, and one with two bonds exchanged so that every atom keeps its number of bonds.
fn with_bonds_crossed(structure: &Structure, first: usize, second: usize) -> Option<Structure> {
    let mut bonds: Vec<_> = structure.bonds().map(|(_, a, b, bond)| (a.index(), b.index(), bond)).collect();
    let ((a, b, one), (c, d, two)) = (*bonds.get(first)?, *bonds.get(second)?);
    let distinct = a != c && a != d && b != c && b != d;
    let free =
        |x, y| structure.bond_between(petgraph::graph::NodeIndex::new(x), petgraph::graph::NodeIndex::new(y)).is_none();
    if !distinct || one != two || !free(a, d) || !free(c, b) {
        return None;
    }
    bonds[first] = (a, d, one);
    bonds[second] = (c, b, two);
    let atoms: Vec<_> = structure.atoms().map(|(_, atom)| *atom).collect();
    Some(super::molecules::build(&atoms, &bonds))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn numbering_changes_nothing(
        (structure, order) in any_molecule(16).prop_flat_map(|structure| {
            let count = structure.atom_count();
            (Just(structure), any_order(count))
        })
    ) {
        let other = renumbered(&structure, &order);
        let (one, two) = (Skeleton::new(&structure), Skeleton::new(&other));
        for orders in [Orders::Drawn, Orders::Free, Orders::Loose] {
            let (left, right) = (Colours::new(&one, orders), Colours::new(&two, orders));
            prop_assert_eq!(left.whole(), right.whole());
            for (id, _) in structure.atoms() {
                let image = petgraph::graph::NodeIndex::new(order[id.index()]);
                prop_assert_eq!(left.of(one.host(id)), right.of(two.host(image)));
            }
        }
        prop_assert_eq!(forms(&structure), forms(&other));
    }

    #[test]
    fn forms_are_equal_exactly_where_drawings_are(
        structure in any_molecule(9), first in 0..10_usize, second in 0..10_usize,
    ) {
        let Some(other) = with_bonds_crossed(&structure, first, second) else { return Ok(()) };
        let same = isomorphic(&structure, &other);
        prop_assert_eq!(forms(&structure) == forms(&other), same);
        let prints = [&structure, &other].map(|structure| fingerprint(&Skeleton::new(structure)));
        prop_assert!(!same || prints[0] == prints[1]);
    }

    #[test]
    fn crossed_rings_of_one_kind_of_atom(
        pairs in prop::collection::vec((0..10_usize, 0..10_usize), 1..12)
    ) {
        // Graphs in which every atom looks alike: the hard case. From a ring with bars, cross bonds again and again.
        let mut structure = smiles("C12C3C4C5C1C1C2C3C4C51");
        let start = structure.clone();
        for (first, second) in pairs {
            structure = with_bonds_crossed(&structure, first, second).unwrap_or(structure);
        }
        prop_assert_eq!(forms(&start) == forms(&structure), isomorphic(&start, &structure));
    }

    #[test]
    fn drawing_hydrogens_changes_nothing(structure in any_molecule(8)) {
        let mut drawn = structure.clone();
        for (id, atom) in structure.atoms() {
            let hydrogen = keyassay::structure::Atom::new(keyassay::structure::Element::HYDROGEN);
            // At hydrogen itself a drawn hydrogen is another species.
            if atom.element == keyassay::structure::Element::HYDROGEN {
                continue;
            }
            drawn.atom_mut(id).hydrogens = 0;
            for _ in 0..atom.hydrogens {
                let new = drawn.add_atom(hydrogen, keyassay::source::Span::default());
                drawn.add_bond(id, new, Bond::new(1), keyassay::source::Span::default());
            }
        }
        prop_assert_eq!(fingerprint(&Skeleton::new(&structure)), fingerprint(&Skeleton::new(&drawn)));
    }
}
