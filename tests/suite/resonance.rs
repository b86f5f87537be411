//! Resonance contributors: textbook sets, RDKit's lists, the arrows between them, and the order of their ranks.

use super::witness::{Disagreements, rows, text};
use super::witness_contributors::electrons;
use keyassay::arrows::push;
use keyassay::limits::Limits;
use keyassay::resonance::{Bounds, Contributors, contributors};
use keyassay::smiles::{Labels, read, write};
use keyassay::structure::electrons::{Electrons, faults, unpaired};
use keyassay::structure::localise::localise;
use keyassay::structure::skeleton::Skeleton;
use keyassay::structure::{AtomId, OctetRule, Structure, canon};
use serde::Deserialize;
use std::collections::BTreeSet;

fn drawing(smiles: &str) -> Structure {
    let mut structure = read(smiles).structure;
    localise(&mut structure).expect("a localised form");
    structure
}

fn found(start: &Structure, more_gaps: u32) -> Contributors {
    let most = Limits::default().contributors;
    contributors(start, &Bounds { octet: OctetRule::Usual, most, more_gaps })
}

/// Start; contributors in all; those of the first rank; how many of these are other drawings when atoms are not numbered.
///
/// McMurry, Organic Chemistry (OpenStax, 10th ed. 2023), sections 2.4 to 2.6: ethanoate, 2,4-pentanedione anion, carbonate,
/// allyl radical; 8.12 and 16.1: benzene; 15.5: cyclopentadienide and tropylium; 15.7: naphthalene; 16.4: arenium. Clayden, Greeves,
/// Warren, Organic Chemistry (2nd ed.), ch. 7: allyl ions, nitro, amide, guanidinium; ch. 8: phenoxide. Read in part, cited
/// from memory in part; what is counted is worked out by hand for each.
const TEXTBOOK: &[(&str, &str, usize, usize, usize)] = &[
    ("ethanoate", "CC(=O)[O-]", 2, 2, 1),
    ("carbonate", "O=C([O-])[O-]", 3, 3, 1),
    ("nitrate", "O=[N+]([O-])[O-]", 3, 3, 1),
    ("nitromethane", "C[N+](=O)[O-]", 2, 2, 1),
    ("allyl cation", "C=C[CH2+]", 2, 2, 1),
    ("allyl anion", "C=C[CH2-]", 2, 2, 1),
    ("allyl radical", "C=C[CH2]", 2, 2, 1),
    ("pentadienyl cation", "C=CC=C[CH2+]", 3, 3, 2),
    ("benzene", "C1=CC=CC=C1", 2, 2, 1),
    ("naphthalene", "c1ccc2ccccc2c1", 3, 3, 2),
    ("anthracene", "c1ccc2cc3ccccc3cc2c1", 4, 4, 2),
    ("phenanthrene", "c1ccc2c(c1)ccc1ccccc12", 5, 5, 4),
    ("azulene", "C1=CC=C2C=CC=C2C=C1", 2, 2, 1),
    ("phenoxide", "[O-]c1ccccc1", 5, 2, 1),
    ("benzyl cation", "[CH2+]c1ccccc1", 5, 5, 3),
    ("benzyl radical", "[CH2]c1ccccc1", 5, 5, 3),
    ("arenium ion", "C1C=CC=C[CH+]1", 3, 3, 2),
    ("2,4-pentanedione anion", "CC(=O)[CH-]C(C)=O", 3, 2, 1),
    ("ethanal enolate", "[CH2-]C=O", 2, 1, 1),
    ("acetamide", "CC(N)=O", 2, 1, 1),
    ("guanidinium", "NC(N)=[NH2+]", 4, 3, 1),
    ("amidinium", "CC(N)=[NH2+]", 3, 2, 1),
    ("cyclopentadienide", "[CH-]1C=CC=C1", 5, 5, 1),
    ("tropylium", "[CH+]1C=CC=CC=C1", 7, 7, 1),
    ("ozone", "O=[O+][O-]", 2, 2, 1),
    ("azide", "[N-]=[N+]=[N-]", 3, 1, 1),
    ("diazomethane", "C=[N+]=[N-]", 3, 1, 1),
    ("nitrous oxide", "N#[N+][O-]", 3, 1, 1),
    ("cyanate", "N#C[O-]", 3, 1, 1),
    ("methoxymethyl cation", "CO[CH2+]", 2, 1, 1),
    ("acetyl cation", "C[C+]=O", 2, 1, 1),
    ("nitrite", "O=N[O-]", 2, 2, 1),
    ("ethenol", "C=CO", 2, 1, 1),
    ("aniline", "Nc1ccccc1", 5, 2, 1),
    ("pyrrole", "c1cc[nH]c1", 5, 1, 1),
    ("imidazolium", "c1c[nH+]c[nH]1", 6, 2, 1),
    ("sulfate", "O=S(=O)([O-])[O-]", 11, 6, 1),
    ("phosphate", "O=P([O-])([O-])[O-]", 5, 4, 1),
    ("perchlorate", "O=Cl(=O)(=O)[O-]", 15, 4, 1),
    ("dimethyl sulfoxide", "CS(C)=O", 2, 1, 1),
    ("a phosphonium ylide", "C=P(C)(C)C", 2, 1, 1),
    ("nitrogen dioxide", "[O]N=O", 4, 2, 1),
    ("a nitroxide", "CN(C)[O]", 2, 1, 1),
    ("boron trifluoride", "FB(F)F", 4, 1, 1),
    // The lone pair lies in the plane, and a ring of six has no room for an allene: nothing moves but the ring's pairs.
    ("pyridine", "c1ccncc1", 2, 2, 1),
    ("phenyl anion", "[c-]1ccccc1", 2, 2, 1),
    ("phenyl radical", "[c]1ccccc1", 2, 2, 1),
    ("vinyl anion", "C=[CH-]", 1, 1, 1),
    // A gap beside the pair takes it in any plane: the ion is linear.
    ("2-azaallenium ion", "C=N[CH2+]", 3, 1, 1),
    // What is no pi system stays.
    ("ethane", "CC", 1, 1, 1),
    ("ammonium", "[NH4+]", 1, 1, 1),
    ("sodium ethanoate", "CC(=O)[O-].[Na+]", 2, 2, 1),
    ("sodium methoxide, bonded", "CO[Na]", 1, 1, 1),
    ("two carboxylates", "[O-]C(=O)CCC(=O)[O-]", 4, 4, 1),
];

/// How many drawings these are when atoms are not numbered.
fn unnumbered<'a>(drawings: impl Iterator<Item = &'a Structure>) -> usize {
    drawings.map(|drawing| canon::fingerprint(&Skeleton::new(drawing))).collect::<BTreeSet<_>>().len()
}

#[test]
fn textbook_sets() {
    let mut failures = Vec::new();
    for (name, smiles, all, first, unlike) in TEXTBOOK {
        let found = found(&drawing(smiles), 0);
        let list: Vec<String> =
            found.list.iter().map(|own| format!("{} {}", own.place, write(&own.structure, Labels::Without))).collect();
        let of_first = found.first_rank().count();
        let drawings = unnumbered(found.first_rank().map(|own| &own.structure));
        if (found.list.len(), of_first, drawings) != (*all, *first, *unlike) || !found.is_complete {
            failures.push(format!(
                "{name}: {} ({of_first} first, {drawings} unlike), expected {all} ({first}, {unlike}): {list:?}",
                list.len()
            ));
        }
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}

/// Pairs of drawings of one molecule, the better one first, and the rule that decides (rules as in the ranking's table).
const RANKED: &[(&str, &str, &str, usize)] = &[
    ("octets before charges", "[CH3:1][O+:2]=[CH2:3]", "[CH3:1][O:2][CH2+:3]", 1),
    ("octets before charges", "[C-:1]#[O+:2]", "[C:1]=[O:2]", 1),
    ("fewest charges", "[CH3:1][C:2](=[O:3])[NH2:4]", "[CH3:1][C:2]([O-:3])=[NH2+:4]", 2),
    ("two on one atom count more", "[N-:1]=[N+:2]=[N-:3]", "[N:1]#[N+:2][N-2:3]", 2),
    ("negative on oxygen", "[CH2:1]=[CH:2][O-:3]", "[CH2-:1][CH:2]=[O:3]", 3),
    ("negative on oxygen", "[N:1]#[N+:2][O-:3]", "[N-:1]=[N+:2]=[O:3]", 3),
    ("positive on nitrogen, not on oxygen", "[CH2:1]=[NH+:2][CH2:4][OH:3]", "[CH2:1]=[NH+:2][CH2:4][OH:3]", 0),
    (
        "positive on nitrogen, of equal sums",
        "[O:1]=[C:2]1[CH:3]=[N+:4]([CH3:5])[N-:6][O:7]1",
        "[O-:1][C:2]1=[CH:3][N:4]([CH3:5])[N:6]=[O+:7]1",
        3,
    ),
    (
        "like charges apart",
        "[NH3+:1][CH:2]=[CH:3][CH:4]=[CH:5][CH2+:6]",
        "[NH3+:1][CH:2]=[CH:3][CH+:4][CH:5]=[CH2:6]",
        5,
    ),
];

#[test]
fn rules_decide_in_their_order() {
    let mut failures = Vec::new();
    for (name, better, worse, rule) in RANKED {
        let mut ranker = keyassay::resonance::Ranker::default();
        let (better_rank, worse_rank) = (ranker.rank(&drawing(better)), ranker.rank(&drawing(worse)));
        let decided = better_rank.deciding_rule(&worse_rank).unwrap_or(0);
        if decided != *rule || (*rule > 0 && better_rank >= worse_rank) {
            failures.push(format!("{name}: {better} {better_rank:?}, {worse} {worse_rank:?}: rule {decided}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Every contributor but the start is what its arrows make of the one it was found from.
#[test]
fn arrows_lead_from_one_to_the_next() {
    let mut failures = Vec::new();
    for (name, smiles, ..) in TEXTBOOK {
        let mut start = drawing(smiles);
        start.label_by_position();
        let found = found(&start, 1);
        let mut starts = 0;
        for own in &found.list {
            let Some((from, arrows)) = &own.from else {
                starts += 1;
                continue;
            };
            let pushed = push(&found.list[*from].structure, arrows);
            let agrees = pushed.as_ref().is_ok_and(|pushed| electrons(&pushed.product) == electrons(&own.structure));
            if !agrees {
                failures.push(format!("{name}: {arrows:?} do not lead to {}", write(&own.structure, Labels::Classes)));
            }
        }
        if starts != 1 {
            failures.push(format!("{name}: {starts} contributors come from nowhere"));
        }
    }
    assert!(failures.is_empty(), "{} failures\n{}", failures.len(), failures.join("\n"));
}

#[derive(Deserialize)]
struct Species {
    id: String,
    start: String,
    contributors: Vec<String>,
    #[serde(default)]
    further: Vec<String>,
}

fn gaps(structure: &Structure) -> usize {
    let shell = |id: AtomId| Electrons::of(structure, id).shell().unwrap_or(8);
    let expects = |id: AtomId| Electrons::of(structure, id).valence.is_some_and(|valence| valence >= 4);
    let own = |id: AtomId| (8 - shell(id)).max(0).unsigned_abs().div_ceil(2) as usize;
    structure.atom_ids().filter(|id| expects(*id)).map(own).sum()
}

fn radicals(structure: &Structure) -> i32 {
    structure.atom_ids().map(|id| unpaired(structure, id)).sum()
}

/// Whether a contributor keeps octets as well as the start does, and its unpaired electrons.
fn keeps_octets(start: &Structure, other: &Structure) -> bool {
    let full = |id: AtomId| {
        Electrons::of(other, id).shell().unwrap_or(0) <= 8
            || Electrons::of(start, id).shell() == Electrons::of(other, id).shell()
    };
    gaps(other) <= gaps(start) && radicals(other) == radicals(start) && other.atom_ids().all(full)
}

/// Whether an atom has a second pi bond that the start does not draw there. RDKit also lets lone pairs move that lie in the
/// plane of a pi bond, the one of pyridine's nitrogen or of an oxime's, which gives allenes in rings of six, N#O(+) and
/// C=N(+)=C. Such a pair is no part of the pi system.
fn moves_a_pair_in_the_plane(start: &Structure, other: &Structure) -> bool {
    let pi = |of: &Structure, id: AtomId| -> i32 {
        of.neighbours(id).map(|(_, bond)| i32::from(of.bond(bond).order) - 1).sum()
    };
    let same = |id: AtomId| other.atoms().find(|(_, atom)| atom.class == start.atom(id).class).map(|(id, _)| id);
    start.atom_ids().any(|id| pi(start, id) < 2 && same(id).is_some_and(|other_id| pi(other, other_id) > 1))
}

/// RDKit's `ResonanceMolSupplier` (`corpus/witness/contributors.jsonl`): every contributor of its lists that keeps octets
/// and the number of unpaired electrons is found.
#[test]
fn contributors_of_rdkit_are_found() {
    let mut disagreements = Disagreements::default();
    let (mut species, mut in_plane) = (0, 0);
    for line in text("contributors.jsonl").lines() {
        let one: Species = serde_json::from_str(line).expect("a record");
        let start = read(&one.start).structure;
        let found = found(&start, 0);
        let known: BTreeSet<Vec<((u32, u32), i32)>> =
            found.list.iter().map(|own| electrons(&own.structure).into_iter().collect()).collect();
        species += 1;
        for contributor in one.contributors.iter().chain(&one.further) {
            let other = read(contributor).structure;
            if !keeps_octets(&start, &other) {
                continue;
            }
            if moves_a_pair_in_the_plane(&start, &other) {
                in_plane += 1;
                continue;
            }
            let is_found = known.contains(&electrons(&other).into_iter().collect::<Vec<_>>());
            let why = || format!("{} {}: {contributor} is not among {}", one.id, one.start, found.list.len());
            disagreements.case((!is_found).then(why));
        }
    }
    assert!(species >= 500);
    assert!(in_plane < 300, "{in_plane} contributors are left out for their shape");
    disagreements.settle(5_000);
}

/// What all contributors have in common with the start: atoms, hydrogens, sigma bonds, net charge, unpaired electrons; and that
/// no shell is over-full that the start does not draw so. On molecules of RDKit's `NCI/first_5K.smi` (`corpus/witness/structures.tsv`).
#[test]
fn contributors_keep_what_resonance_keeps() {
    let file = text("structures.tsv");
    let mut disagreements = Disagreements::default();
    for row in rows(&file).iter().step_by(3) {
        let mut start = read(row.get("smiles")).structure;
        if localise(&mut start).is_err() || !faults(&start, OctetRule::Usual).is_empty() {
            continue;
        }
        let list = contributors(&start, &Bounds { octet: OctetRule::Usual, most: 64, more_gaps: 1 }).list;
        let skeleton = |of: &Structure| -> Vec<(AtomId, AtomId)> { of.bonds().map(|(_, a, b, _)| (a, b)).collect() };
        let atoms = |of: &Structure| of.atoms().map(|(_, atom)| (atom.element, atom.hydrogens)).collect::<Vec<_>>();
        for own in &list {
            let drawing = &own.structure;
            let kept = skeleton(drawing) == skeleton(&start)
                && atoms(drawing) == atoms(&start)
                && drawing.net_charge() == start.net_charge()
                && radicals(drawing) == radicals(&start)
                && faults(drawing, OctetRule::Usual).is_empty();
            let why = || format!("{}: {}", row.get("smiles"), write(drawing, Labels::Without));
            disagreements.case((!kept).then(why));
        }
    }
    disagreements.settle(4_000);
}

/// Compounds by some of their members: the default list is the same from each of them.
const MEMBERS: &[&[&str]] = &[
    &["[CH3:1][C:2]#[O+:3]", "[CH3:1][C+:2]=[O:3]"],
    &["[CH3:1][O+:2]=[CH2:3]", "[CH3:1][O:2][CH2+:3]"],
    &["[CH3:1][NH+:2]=[CH2:3]", "[CH3:1][NH:2][CH2+:3]"],
    &["[Cl+:1]=[CH2:2]", "[Cl:1][CH2+:2]"],
    &["[N:1]#[O+:2]", "[N+:1]=[O:2]"],
    &["[C-:1]#[O+:2]", "[C:1]=[O:2]"],
    &["[NH2:1][C:2]([NH2:3])=[NH2+:4]", "[NH2:1][C+:2]([NH2:3])[NH2:4]"],
    &["[CH3:1][P+:2]([CH3:3])([CH3:4])[O-:5]", "[CH3:1][P:2]([CH3:3])([CH3:4])=[O:5]"],
    &["[O-:1][Cl+3:2]([O-:3])([O-:4])[O-:5]", "[O:1]=[Cl:2](=[O:3])(=[O:4])[O-:5]"],
    &["[CH2-:1][P+:2]([CH3:3])([CH3:4])[CH3:5]", "[CH2:1]=[P:2]([CH3:3])([CH3:4])[CH3:5]"],
    &["[CH3:1][S+:2]([CH3:3])[O-:4]", "[CH3:1][S:2]([CH3:3])=[O:4]"],
    &["[CH2-:1][CH:2]=[O:3]", "[CH2:1]=[CH:2][O-:3]"],
    &["[CH3:1][C:2](=[O:3])[NH2:4]", "[CH3:1][C:2]([O-:3])=[NH2+:4]"],
    &["[CH2:1]=[CH:2][CH:3]=[O+:4][CH3:5]", "[CH2:1]=[CH:2][CH+:3][O:4][CH3:5]", "[CH2+:1][CH:2]=[CH:3][O:4][CH3:5]"],
    &["[CH2:1]=[CH:2][CH2:3]", "[CH2:1][CH:2]=[CH2:3]"],
    &["[CH:1]1=[CH:2][S:3][CH:4]=[CH:5]1", "[CH-:1]1[CH:2]=[S+:3][CH:4]=[CH:5]1"],
];

#[test]
fn the_list_is_that_of_the_compound() {
    let mut failures = Vec::new();
    for members in MEMBERS {
        let list = |member: &&str| -> BTreeSet<(u32, String)> {
            let all = found(&drawing(member), 0);
            all.list.iter().map(|own| (own.place, labelled(&own.structure))).collect()
        };
        let first = list(&members[0]);
        for member in &members[1..] {
            if list(member) != first {
                failures.push(format!("{member}: {:?}\n    {}: {first:?}", list(member), members[0]));
            }
        }
        if first.len() < members.len() {
            failures.push(format!("{}: {first:?}", members[0]));
        }
    }
    // Bromine gives one pair into the pi system, not two.
    let bromine = found(&drawing("[Br:1][C:2]1=[CH:3][CH2:4][CH:5]=[CH:6][CH+:7]1"), 0);
    if bromine.list.iter().any(|own| own.structure.atoms().any(|(_, atom)| atom.charge > 1)) {
        failures.push("bromine with two positive charges".to_owned());
    }
    // One that is none of them is listed last and marked.
    let given = found(&drawing("[CH:1]1=[CH:2][CH:3]=[S:4]=[CH:5]1"), 0);
    let marked: Vec<bool> = given.list.iter().map(|own| own.is_outside).collect();
    if marked.iter().filter(|own| **own).count() != 1 || marked.last() != Some(&true) || given.first_rank().count() != 1
    {
        failures.push(format!("thiophene with ten electrons on sulfur: {marked:?}"));
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// A drawing with its labels, however its atoms are ordered.
fn labelled(structure: &Structure) -> String {
    let mut words: Vec<String> =
        structure.atom_ids().map(|atom| format!("{}{:+}", structure.call(atom), structure.atom(atom).charge)).collect();
    words.extend(structure.bonds().map(|(_, a, b, bond)| {
        let mut ends = [structure.call(a), structure.call(b)];
        ends.sort();
        format!("{ends:?}{}", bond.order)
    }));
    words.sort();
    words.join(" ")
}
