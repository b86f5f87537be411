//! Localised forms of aromatic input.

use super::molecules::{any_aromatic, any_order, fullerene, renumbered, smiles};
use keyassay::structure::localise::{Role, apply, localise, localise_with, role};
use keyassay::structure::{BondId, OctetRule, Structure, electrons};
use proptest::prelude::*;

/// The first nine are accepted by the suite of partialsmiles (baoilleach/partialsmiles, MIT); the others are common practice, no
/// source: structures whose localised forms every textbook draws.
const ACCEPTED: &[&str] = &[
    "Cs1(=O)ccccn1",
    "c1c#cccc1",
    "n1cnc[n-]1",
    "[nH]1cnnn1",
    "n1cnco1",
    "n1(cno[cH+]1)C",
    "O[p+]1(O)cccc1",
    "[s-]1(O)cccc1",
    "c1ccccc1",
    // From here on common practice.
    "c1ccncc1",
    "c1cc[nH]c1",
    "c1ccoc1",
    "c1ccsc1",
    "c1cc[se]c1",
    "[O-][n+]1ccccc1",
    "C[n+]1ccccc1",
    "c1cc[o+]cc1",
    "c1cc[cH-]c1",
    "c1ccc[cH+]cc1",
    "c1cc[c-]cc1",
    "[bH]1cccccc1",
    "c1ccc2cccc2cc1",
    "c1cccc1=c1cccc1",
    "c1cc2cc3ccc([nH]3)cc3ccc(cc4ccc(cc1n2)[nH]4)n3",
    "[c]1ccccc1",
    "c1ccc(cc1)-c1ccccc1",
    "Cn1cnc2c1c(=O)n(C)c(=O)n2C",
    "*1:c:c:c:c:c:1",
];

/// Rejected by the suite of partialsmiles.
const REJECTED: &[&str] =
    &["n1c[n]nn1", "c12ncncc1c(=C)[n]n2C", "c1snn2c1nc1ccccc21", "s1cc2nc3c(n2n1)cccc3", "c1cccc1", "c1cc[nH]cc1"];

/// What is wrong with a localised form: an atom that needs a double bond and has none, one that has two, a radical or an
/// impossible or over-full shell that the input did not have.
fn faults(form: &Structure) -> Vec<String> {
    let mut found = Vec::new();
    for (id, _) in form.atoms() {
        let double =
            form.neighbours(id).filter(|(_, bond)| form.bond(*bond).aromatic && form.bond(*bond).order == 2).count();
        let role = role(form, id);
        let part = form.atom(id).aromatic || form.neighbours(id).any(|(_, bond)| form.bond(bond).aromatic);
        let right = match (part, role) {
            (_, Role::Cannot) | (false, _) => double == 0,
            (true, Role::May) => double <= 1,
            (true, Role::Must) => double == 1,
        };
        if !right {
            found.push(format!("{} is {role:?} and has {double} double bonds", form.call(id)));
        }
    }
    found
}

#[test]
fn accepts_what_has_a_localised_form() {
    let mut wrong = Vec::new();
    for text in ACCEPTED {
        let mut form = smiles(text);
        match localise(&mut form) {
            Ok(()) => {
                wrong.extend(faults(&form).into_iter().map(|fault| format!("{text}: {fault}")));
                for (atom, fault) in electrons::faults(&form, OctetRule::Usual) {
                    wrong.push(format!("{text}: {} {fault:?}", form.call(atom)));
                }
            }
            Err(left) => wrong.push(format!("{text}: rejected, {left:?} left")),
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn rejects_what_has_none_and_leaves_it_as_it_was() {
    let mut wrong = Vec::new();
    for text in REJECTED {
        let mut form = smiles(text);
        let before: Vec<_> = form.bonds().collect();
        match localise(&mut form) {
            Err(left) if !left.atoms.is_empty() => {}
            other => wrong.push(format!("{text}: {other:?}")),
        }
        if before != form.bonds().collect::<Vec<_>>() {
            wrong.push(format!("{text}: changed"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn leaves_what_is_drawn_localised() {
    for text in ["C1=CC=CC=C1", "C=CC=C", "[CH2-]C=O", "c1ccccc1C=C"] {
        let mut form = smiles(text);
        let drawn: Vec<_> = form.bonds().filter(|(.., bond)| !bond.aromatic).collect();
        localise(&mut form).expect(text);
        assert_eq!(drawn, form.bonds().filter(|(.., bond)| !bond.aromatic).collect::<Vec<_>>(), "{text}");
    }
}

#[test]
fn phenyl_radical_and_stated_spin() {
    // The bare carbon of phenyl takes its double bond, the radical is its odd electron.
    let mut phenyl = smiles("[c]1ccccc1");
    localise(&mut phenyl).unwrap();
    assert_eq!(phenyl.bonds().filter(|(.., bond)| bond.order == 2).count(), 3);
    // Cyclopentadienyl radical: no form by itself, one where the drawing states the unpaired electron.
    let mut ring = smiles("c1cccc1");
    ring.atom_mut(keyassay::structure::AtomId::new(0)).unpaired = Some(1);
    localise(&mut ring).unwrap();
    assert!(faults(&ring).is_empty());
}

#[test]
fn fullerene_has_thirty_double_bonds() {
    let mut form = fullerene();
    localise(&mut form).unwrap();
    assert_eq!(form.bonds().filter(|(.., bond)| bond.order == 2).count(), 30);
}

#[test]
fn large_systems() {
    let phenyls = format!("{}c1ccccc1", "c1ccc(cc1)-".repeat(16_666));
    let mut form = smiles(&phenyls);
    localise(&mut form).unwrap();
    assert!(faults(&form).is_empty());
    // One ring of 100,000 atoms, and one of 99,999, which leaves an atom.
    for (atoms, left) in [(100_000, 0), (99_999, 1)] {
        let mut ring = smiles(&format!("c1{}1", "c".repeat(atoms - 1)));
        assert_eq!(localise(&mut ring).err().map_or(0, |none| none.atoms.len()), left, "ring of {atoms}");
    }
}

#[test]
fn demands_choose_the_form() {
    let benzene = smiles("c1ccccc1");
    let bonds: Vec<BondId> = benzene.bond_ids().collect();
    let [first, second, ..] = bonds[..] else { panic!("benzene has six bonds") };
    let with = localise_with(&benzene, &[(first, true)]).unwrap();
    let without = localise_with(&benzene, &[(first, false)]).unwrap();
    assert!(with.contains(&first) && !without.contains(&first));
    assert_eq!((with.len(), without.len()), (3, 3));
    assert_eq!(localise_with(&benzene, &[(first, true), (second, true)]), None);
    assert_eq!(localise_with(&benzene, &[(first, true), (first, false)]), None);
    assert_eq!(localise_with(&benzene, &[(first, true), (first, true)]), Some(with));
    // Naphthalene's central bond is double in one of its three forms only; the rest follows.
    let naphthalene = smiles("c1ccc2ccccc2c1");
    let centre =
        naphthalene.bonds().find(|(_, a, b, _)| naphthalene.degree(*a) + naphthalene.degree(*b) == 6).unwrap().0;
    assert_eq!(localise_with(&naphthalene, &[(centre, true)]).unwrap().len(), 5);
    // Butadiene is drawn localised: a demand agrees with the drawing or not.
    let butadiene = smiles("C=CC=C");
    let ids: Vec<BondId> = butadiene.bond_ids().collect();
    assert_eq!(localise_with(&butadiene, &[(ids[0], true), (ids[1], false)]), Some(Vec::new()));
    assert_eq!(localise_with(&butadiene, &[(ids[1], true)]), None);
}

proptest! {
    #[test]
    fn forms_are_sound_and_do_not_depend_on_the_order(
        (structure, order) in any_aromatic(24).prop_flat_map(|structure| {
            let count = structure.atom_count();
            (Just(structure), any_order(count))
        })
    ) {
        let (mut one, mut other) = (structure.clone(), renumbered(&structure, &order));
        match (localise(&mut one), localise(&mut other)) {
            (Ok(()), Ok(())) => {
                prop_assert_eq!(faults(&one), Vec::<String>::new());
                let doubles = |form: &Structure| form.bonds().filter(|(.., bond)| bond.order == 2).count();
                prop_assert_eq!(doubles(&one), doubles(&other));
            }
            (Err(one), Err(other)) => prop_assert_eq!(one.atoms.len(), other.atoms.len()),
            (one, other) => prop_assert!(false, "{:?} but {:?}", one, other),
        }
    }

    #[test]
    fn demands_hold(structure in any_aromatic(14), picks in prop::collection::vec((any::<prop::sample::Index>(), any::<bool>()), 0..4)) {
        let bonds: Vec<_> = structure.bonds().filter(|(.., bond)| bond.aromatic).map(|(id, ..)| id).collect();
        prop_assume!(!bonds.is_empty());
        let fixed: Vec<_> = picks.iter().map(|(pick, double)| (bonds[pick.index(bonds.len())], *double)).collect();
        match localise_with(&structure, &fixed) {
            Some(double) => {
                let mut form = structure.clone();
                apply(&mut form, &double);
                prop_assert_eq!(faults(&form), Vec::<String>::new());
                for (bond, wanted) in fixed {
                    prop_assert_eq!(form.bond(bond).order == 2, wanted);
                }
            }
            None => prop_assert!(!any_form(&structure, &bonds, &fixed)),
        }
    }
}

/// Whether some choice of double bonds is a localised form that meets the demands, by trying all of them.
fn any_form(structure: &Structure, bonds: &[BondId], fixed: &[(BondId, bool)]) -> bool {
    (0..1_u32 << bonds.len().min(21)).any(|choice| {
        let double: Vec<_> = (0..bonds.len()).filter(|at| choice >> at & 1 == 1).map(|at| bonds[at]).collect();
        fixed.iter().all(|(bond, wanted)| double.contains(bond) == *wanted) && {
            let mut form = structure.clone();
            apply(&mut form, &double);
            faults(&form).is_empty()
        }
    })
}
