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

/// Random molecules of at most `atoms` atoms: one to three species, with rings, charges and multiple bonds; electrons need not fit.
pub(crate) fn any_molecule(atoms: usize) -> impl Strategy<Value = Structure> {
    let element = prop_oneof![
        8 => Just(Element::CARBON),
        2 => Just(Element::OXYGEN),
        1 => Just(Element::NITROGEN),
        1 => Just(Element::HYDROGEN),
    ];
    let charge = prop_oneof![8 => Just(0_i16), 1 => Just(1), 1 => Just(-1)];
    let atom = (element, charge, 0..3_u16).prop_map(|(element, charge, hydrogens)| Atom {
        charge,
        hydrogens: if element == Element::HYDROGEN { 0 } else { hydrogens },
        ..Atom::new(element)
    });
    (1..=atoms).prop_flat_map(move |count| {
        // Each atom hangs on an earlier one (or starts a species, 1 in 8); then some rings are closed.
        let tree = prop::collection::vec((any::<prop::sample::Index>(), 1..9_u8), count);
        let rings = prop::collection::vec((0..count, 0..count), 0..=1 + count / 4);
        (prop::collection::vec(atom.clone(), count), tree, rings).prop_map(|(atoms, tree, rings)| {
            let order = |kind| if kind > 5 { 2 } else { 1 };
            let hung = tree.into_iter().enumerate().skip(1).filter(|(_, (_, kind))| *kind < 8);
            let mut bonds: Vec<_> = hung.map(|(at, (to, kind))| (to.index(at), at, Bond::new(order(kind)))).collect();
            let mut seen: std::collections::HashSet<_> = bonds.iter().map(|(a, b, _)| (*a, *b)).collect();
            let fresh = rings.into_iter().filter(|(a, b)| a != b && seen.insert((*a.min(b), *a.max(b))));
            bonds.extend(fresh.map(|(a, b)| (a, b, Bond::new(1))));
            build(&atoms, &bonds)
        })
    })
}

/// A dendrimer of carbon, oxygen and rings with this many generations: three arms around nitrogen, each arm a ring that
/// bears two arms of the next generation.
pub(crate) fn dendrimer(generations: usize) -> Structure {
    let mut atoms = vec![Atom::new(Element::NITROGEN)];
    let mut bonds = Vec::new();
    let mut tips = vec![0, 0, 0];
    for _ in 0..generations {
        let mut next = Vec::new();
        for tip in tips {
            let first = atoms.len();
            atoms.extend([Atom::new(Element::CARBON); 5]);
            bonds.push((tip, first, Bond::new(1)));
            bonds.extend((0..4).map(|at| (first + at, first + at + 1, Bond::new(1))));
            bonds.push((first, first + 4, Bond::new(1)));
            next.extend([first + 2, first + 3]);
        }
        tips = next;
    }
    build(&atoms, &bonds)
}
