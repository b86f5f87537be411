//! Structures that tests share: read from SMILES, built by rule, drawn at random, renumbered.

use keyassay::source::Span;
use keyassay::structure::{Atom, AtomId, Bond, Element, Structure};
use proptest::prelude::*;

/// The structure of a SMILES that must be readable.
pub(crate) fn smiles(text: &str) -> Structure {
    let reading = keyassay::smiles::read(text);
    assert!(reading.faults.is_empty(), "{text}: {:?}", reading.faults);
    reading.structure
}

/// The structure of atoms and bonds given as lists.
pub(crate) fn build(atoms: &[Atom], bonds: &[(usize, usize, Bond)]) -> Structure {
    let mut structure = Structure::with_capacity(atoms.len());
    for atom in atoms {
        structure.add_atom(*atom, Span::default());
    }
    for (a, b, bond) in bonds {
        structure.add_bond(AtomId::new(*a), AtomId::new(*b), *bond, Span::default());
    }
    structure
}

/// An aromatic carbon without hydrogens.
pub(crate) fn aromatic_carbon() -> Atom {
    Atom { aromatic: true, ..Atom::new(Element::CARBON) }
}

/// Buckminsterfullerene, written aromatic: a carbon for every directed edge of the icosahedron, bonded to the edge's
/// reverse and to the two edges next to it around their common corner.
pub(crate) fn fullerene() -> Structure {
    // Corner 0 on top, 1-5 and 6-10 the two belts, 11 below; the neighbours of each corner in their order around it.
    let belt = |at: usize, by: usize, base: usize| base + (at - base + by) % 5;
    let around: Vec<[usize; 5]> = (0..12)
        .map(|corner| match corner {
            0 => [1, 2, 3, 4, 5],
            1..=5 => {
                let below = corner + 5;
                [0, belt(corner, 4, 1), belt(below, 4, 6), below, belt(corner, 1, 1)]
            }
            6..=10 => {
                let above = corner - 5;
                [11, belt(corner, 1, 6), belt(above, 1, 1), above, belt(corner, 4, 6)]
            }
            _ => [10, 9, 8, 7, 6],
        })
        .collect();
    let atom_of = |corner: usize, next: usize| corner * 5 + around[corner].iter().position(|at| *at == next).unwrap();
    let mut bonds = Vec::new();
    for (corner, ring) in around.iter().enumerate() {
        for (at, next) in ring.iter().enumerate() {
            bonds.push((corner * 5 + at, corner * 5 + (at + 1) % 5, Bond::delocalised()));
            if corner < *next {
                bonds.push((atom_of(corner, *next), atom_of(*next, corner), Bond::delocalised()));
            }
        }
    }
    build(&[aromatic_carbon(); 60], &bonds)
}

/// The same drawing with its atoms in another order: atom `i` becomes atom `order[i]`. Bonds are drawn in reverse.
pub(crate) fn renumbered(structure: &Structure, order: &[usize]) -> Structure {
    let mut atoms = vec![Atom::new(Element::ANY); structure.atom_count()];
    for (id, atom) in structure.atoms() {
        atoms[order[id.index()]] = *atom;
    }
    let mut bonds: Vec<_> =
        structure.bonds().map(|(_, a, b, bond)| (order[b.index()], order[a.index()], bond)).collect();
    bonds.reverse();
    build(&atoms, &bonds)
}

/// A random order of `count` things.
pub(crate) fn any_order(count: usize) -> impl Strategy<Value = Vec<usize>> {
    Just((0..count).collect::<Vec<_>>()).prop_shuffle()
}

/// Random graphs of at most `atoms` aromatic atoms of the kinds that differ in what they need, with sparse bonds.
pub(crate) fn any_aromatic(atoms: usize) -> impl Strategy<Value = Structure> {
    let carbon = aromatic_carbon();
    let kinds = prop_oneof![
        6 => Just(carbon),
        2 => Just(Atom { hydrogens: 1, ..carbon }),
        1 => Just(Atom { element: Element::NITROGEN, ..carbon }),
        1 => Just(Atom { element: Element::OXYGEN, ..carbon }),
        1 => Just(Atom { element: Element::SULFUR, ..carbon }),
        1 => Just(Atom { element: Element::ANY, ..carbon }),
        1 => Just(Atom { unpaired: Some(1), ..carbon }),
    ];
    (1..=atoms).prop_flat_map(move |count| {
        let bonds = prop::collection::vec((0..count, 0..count, 0..8_u8), 0..=count * 3 / 2);
        (prop::collection::vec(kinds.clone(), count), bonds).prop_map(|(atoms, drawn)| {
            let mut seen = std::collections::HashSet::new();
            let distinct = drawn.into_iter().filter(|(a, b, _)| a != b && seen.insert((*a.min(b), *a.max(b))));
            let bond = |kind| if kind == 0 { Bond::new(1) } else { Bond::delocalised() };
            build(&atoms, &distinct.map(|(a, b, kind)| (a, b, bond(kind))).collect::<Vec<_>>())
        })
    })
}
