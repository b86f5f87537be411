//! Drawings: layouts of hard cages and common ring systems, marked double bonds, arrows that end where they mean, hostile text.

use keyassay::arrows::{Arrow, Moves, Place};
use keyassay::drawing::geometry::{Position, distance_to_segment};
use keyassay::drawing::layout::measure::{Defects, Picture, Side};
use keyassay::drawing::layout::{Before, MOST_ATOMS, View, follow, lay_out, rings_of};
use keyassay::drawing::{Pairs, Panel, Scene, curves_of, fragment, hydrogens_of, row, svg, wedges_of};
use keyassay::smiles;
use keyassay::structure::localise::localise;
use keyassay::structure::{AtomId, Label, Point, Structure, electrons};

fn read(text: &str) -> Structure {
    let reading = smiles::read(text);
    assert!(reading.faults.is_empty(), "{text}: {:?}", reading.faults);
    let mut structure = reading.structure;
    localise(&mut structure).unwrap_or_default();
    structure.label_by_position();
    structure
}

fn defects(structure: &Structure, points: &[Position]) -> Defects {
    let bonds: Vec<[usize; 2]> = structure.bonds().map(|(_, a, b, _)| [a.index(), b.index()]).collect();
    let rings = rings_of(structure);
    let in_ring: Vec<bool> = bonds
        .iter()
        .map(|[a, b]| {
            let side = |(one, other): (&usize, &usize)| (one == a && other == b) || (one == b && other == a);
            rings.iter().any(|ring| ring.iter().zip(ring.iter().cycle().skip(1)).any(side))
        })
        .collect();
    let side = |bond: &keyassay::structure::stereo::DoubleBond| Side {
        ends: bond.ends.map(AtomId::index),
        references: bond.references.map(AtomId::index),
        same: bond.same_side,
    };
    let sides: Vec<Side> = structure.stereo.double_bonds.iter().map(side).collect();
    Picture { points, bonds: &bonds, in_ring: &in_ring, sides: &sides }.defects()
}

/// Names and SMILES from general knowledge; the demand on each is the measure of `drawing::layout::measure`.
const CAGES: &[(&str, &str)] = &[
    ("norbornane", "C1CC2CCC1C2"),
    ("camphor", "CC1(C)C2CCC1(C)C(=O)C2"),
    ("norbornyl cation", "C1CC2C[CH+]C1C2"),
    ("bicyclo[1.1.1]pentane", "C1C2CC1C2"),
    ("bicyclo[2.1.1]hexane", "C1CC2CC1C2"),
    ("bicyclo[2.2.2]octane", "C1CC2CCC1CC2"),
    ("quinuclidine", "C1CN2CCC1CC2"),
    ("DABCO", "C1CN2CCN1CC2"),
    ("barrelene", "C1=CC2C=CC1C=C2"),
    ("alpha-pinene", "CC1=CCC2CC1C2(C)C"),
    ("tropane", "CN1C2CCCC1CC2"),
    ("cocaine", "COC(=O)C1C(OC(=O)c2ccccc2)CC2CCC1N2C"),
    ("bicyclo[3.3.1]nonane", "C1CC2CCCC(C1)C2"),
    ("bicyclo[4.2.1]nonane", "C1CCC2CCC(C1)C2"),
    ("adamantane", "C1C2CC3CC1CC(C2)C3"),
    ("hexamine", "C1N2CN3CN1CN(C2)C3"),
    ("cubane", "C12C3C4C1C5C2C3C45"),
    ("basketane", "C1CC2C3C4C1C5C2C3C45"),
    ("prismane", "C12C3C1C4C2C34"),
    ("twistane", "C1CC2CC3C1CC2CC3"),
    ("nortricyclane", "C1C2CC3C1C3C2"),
    ("semibullvalene", "C1=CC2C3C1C3C=C2"),
    ("bullvalene", "C1=CC2C3C2C=CC1C=C3"),
    ("morphine", "CN1CC[C@]23C4=C5C=CC(O)=C4O[C@H]2[C@@H](O)C=C[C@H]3[C@H]1C5"),
    ("dextromethorphan", "COC1=CC2=C(CC3C4CCCCC24CCN3C)C=C1"),
    ("strychnine", "O=C1CC2OCC=C3CN4CCC56C4CC3C2C5N1C7=CC=CC=C67"),
    ("quinine", "COC1=CC2=C(C=CN=C2C=C1)C(O)C3CC4CCN3CC4C=C"),
    ("porphine", "C1=CC2=CC3=CC=C(N3)C=C4C=CC(=N4)C=C5C=CC(N5)=CC1=N2"),
    ("phthalocyanine", "c1ccc2c(c1)C3=NC4=NC(=NC5=NC(=NC6=NC(=NC2=N3)c7ccccc67)c8ccccc58)c9ccccc49"),
    ("18-crown-6", "C1COCCOCCOCCOCCOCCO1"),
    ("erythronolide", "CCC1C(C(C(C(=O)C(CC(C(C(C(C(C(=O)O1)C)O)C)O)(C)O)C)C)O)(C)O"),
];

/// Starts and products of textbook steps, atoms in one order, with atoms that stay where they were: from general knowledge.
const STEPS: &[(&str, &str, &str, &[usize])] = &[
    ("addition to a carbonyl group", "O=C1CCCCC1.[OH-]", "[O-]C1(CCCCC1)O", &[1, 2, 3, 4, 5, 6]),
    ("substitution", "BrCc1ccccc1.[I-]", "ICc1ccccc1.[Br-]", &[1, 2, 3, 4, 5, 6, 7]),
    ("cycloaddition", "C=CC=C.C=C", "C1C=CCCC1", &[]),
    ("loss of a proton", "[OH-].[H]CC[Cl]", "O[H].C=C.[Cl-]", &[]),
];

#[test]
fn a_product_follows_its_start_with_bonds_of_one_length() {
    // For each product atom, the atom of its start.
    let maps: [&[usize]; 4] =
        [&[0, 1, 2, 3, 4, 5, 6, 7], &[8, 1, 2, 3, 4, 5, 6, 7, 0], &[0, 1, 2, 3, 4, 5], &[0, 1, 2, 3, 4]];
    let mut wrong = Vec::new();
    for ((name, start, product, stay), map) in STEPS.iter().zip(maps) {
        let (start, product) = (read(start), read(product));
        let atoms: Vec<Option<AtomId>> = map.iter().map(|at| Some(AtomId::new(*at))).collect();
        let before = lay_out(&[View::same(&start), View::mapped(&product, &atoms)]).remove(0);
        let of = |at: usize| atoms.get(at).copied().flatten();
        let after = follow(Before { structure: &start, points: &before }, &product, &of);
        let moved = stay.iter().filter(|at| before[map[**at]].distance(after[**at]) > 1e-6).count();
        let again = follow(Before { structure: &product, points: &after }, &product, &|at| Some(AtomId::new(at)));
        if defects(&product, &after).total() + moved > 0 || again != after {
            wrong.push((name, defects(&product, &after), moved));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Starts and products whose shape changes, an atom of the product and the least angle between its bonds in degrees.
const SHAPES: &[(&str, &str, &str, usize, f64)] = &[
    ("a small ring opens", "CC1[Br+]C1.O", "CC([OH2+])CBr", 3, 100.0),
    ("a centre takes a fourth neighbour", "CC(=[OH+])C.O", "CC(O)(C)[OH2+]", 1, 80.0),
    ("a line becomes a corner", "c1ccccc1.CC#[O+]", "C1([H])(C(C)=O)C=CC=C[CH+]1", 2, 100.0),
];

#[test]
fn what_changes_its_shape_is_not_drawn_in_the_old_one() {
    // For each product atom, the atom of its start; a hydrogen that the start does not draw is new.
    let maps: [&[Option<usize>]; 3] = [
        &[Some(0), Some(1), Some(4), Some(3), Some(2)],
        &[Some(0), Some(1), Some(2), Some(3), Some(4)],
        &[Some(0), None, Some(7), Some(6), Some(8), Some(1), Some(2), Some(3), Some(4), Some(5)],
    ];
    let mut wrong = Vec::new();
    for ((name, start, product, centre, least), map) in SHAPES.iter().zip(maps) {
        let (start, product) = (read(start), read(product));
        let atoms: Vec<Option<AtomId>> = map.iter().map(|at| at.map(AtomId::new)).collect();
        let before = lay_out(&[View::same(&start), View::mapped(&product, &atoms)]).remove(0);
        let after =
            follow(Before { structure: &start, points: &before }, &product, &|at| atoms.get(at).copied().flatten());
        let ways: Vec<f64> = product
            .neighbours(AtomId::new(*centre))
            .map(|(next, _)| (after[next.index()] - after[*centre]).angle())
            .collect();
        let narrow = ways.iter().enumerate().flat_map(|(at, one)| ways[at + 1..].iter().map(move |other| one - other));
        let narrow = narrow.map(|turn| turn.cos().acos().to_degrees()).fold(360.0, f64::min);
        if narrow < *least {
            wrong.push(format!("{name}: {narrow:.0} degrees"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

const RINGS: &[(&str, &str)] = &[
    ("benzene", "c1ccccc1"),
    ("naphthalene", "c1ccc2ccccc2c1"),
    ("anthracene", "c1ccc2cc3ccccc3cc2c1"),
    ("phenanthrene", "c1ccc2c(c1)ccc1ccccc12"),
    ("pyrene", "c1cc2ccc3cccc4ccc(c1)c2c34"),
    ("coronene", "c1cc2ccc3ccc4ccc5ccc6ccc1c7c2c3c4c5c67"),
    ("azulene", "c1ccc2cccc2cc1"),
    ("acenaphthylene", "C1=Cc2cccc3cccc1c23"),
    ("indole", "c1ccc2[nH]ccc2c1"),
    ("caffeine", "Cn1cnc2c1c(=O)n(C)c(=O)n2C"),
    ("penicillin", "CC1(C)SC2C(NC(=O)Cc3ccccc3)C(=O)N2C1C(O)=O"),
    ("cholesterol", "CC(CCCC(C)C)C1CCC2C1(CCC3C2CC=C4C3(CCC(C4)O)C)C"),
    ("spiro[4.5]decane", "C1CCC2(C1)CCCCC2"),
    ("dispiro", "C1CCC2(CC1)CCC1(CC2)CCCC1"),
    ("fluorescein", "O=C1OC2(c3ccc(O)cc3Oc3cc(O)ccc32)c2ccccc12"),
    ("biphenyl", "c1ccc(cc1)-c1ccccc1"),
    ("tetraphenylmethane", "c1ccc(cc1)C(c1ccccc1)(c1ccccc1)c1ccccc1"),
    ("triphenylphosphonium ylide", "[CH2-][P+](c1ccccc1)(c1ccccc1)c1ccccc1"),
    ("cyclopropane", "C1CC1"),
    ("cyclododecane", "C1CCCCCCCCCCC1"),
    ("sucrose", "OCC1OC(OC2(CO)OC(CO)C(O)C2O)C(O)C(O)C1O"),
    ("ATP", "Nc1ncnc2c1ncn2C1OC(COP(=O)(O)OP(=O)(O)OP(=O)(O)O)C(O)C1O"),
];

#[test]
fn cages_and_ring_systems_are_laid_out_without_a_defect() {
    let mut wrong = Vec::new();
    for (name, text) in CAGES.iter().chain(RINGS) {
        let structure = read(text);
        let points = lay_out(&[View::same(&structure)]).remove(0);
        let defects = defects(&structure, &points);
        if defects.total() > 0 {
            wrong.push((name, defects));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn marked_double_bonds_are_drawn_as_marked() {
    let texts = [
        "C/C=C/C",
        "C/C=C\\C",
        "F/C(Cl)=C(/Br)I",
        "CC(/C=C/C)=C\\C",
        "C/C=C/C=C\\C=C/C",
        "C1CCC/C=C/CC1",
        "C1CCC/C=C\\CC1",
        "C1C/C=C/CC/C=C/CC/C=C/C1",
        "C1CCCCC/C=C/CCCCC1",
        "C/C=C1\\CCCC(C)C1",
        "C/C=C1/CCCC(C)C1",
        "CC/C(=N\\O)c1ccccc1",
        "O=C(/C=C/c1ccccc1)/C=C/c1ccccc1",
        "C(/c1ccccc1)(\\c1ccccc1)=C(/CC)c1ccccc1",
        "CC/C=C\\C/C=C\\C/C=C\\CCCCCCCC(=O)O",
        "CC(C)(C)/C=C\\C(C)(C)C",
        "C/N=N/C",
        "[O-]/[N+](C)=C/c1ccccc1",
        "OC(=O)/C=C\\C(O)=O",
        "C1(=C/C=C/C)\\CCCCC1C",
    ];
    let (mut stated, mut wrong) = (0, Vec::new());
    for text in texts {
        let structure = read(text);
        let points = lay_out(&[View::same(&structure)]).remove(0);
        stated += structure.stereo.double_bonds.len();
        if defects(&structure, &points).sides > 0 {
            wrong.push(text);
        }
    }
    assert!(stated > 20, "{stated} marks were read");
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A deterministic sequence of choices (`SplitMix64`).
struct Choices(u64);

impl Choices {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed ^= mixed >> 27;
        (mixed >> 33) as usize % bound.max(1)
    }
}

/// Every place where an atom or a bond of the structure could hold electrons.
fn places(structure: &Structure) -> Vec<Place<AtomId>> {
    let atoms = structure
        .atom_ids()
        .filter(|atom| electrons::Electrons::of(structure, *atom).non_bonding().is_some_and(|count| count > 0));
    atoms.map(Place::Atom).chain(structure.bonds().map(|(_, a, b, _)| Place::Bond(a, b))).collect()
}

/// A head that touches the tail: a neighbouring bond, an atom of a bond, or a bond that forms with any other atom.
fn head(structure: &Structure, tail: Place<AtomId>, choices: &mut Choices) -> Option<Place<AtomId>> {
    let atoms: Vec<AtomId> = tail.atoms().collect();
    let at = *atoms.get(choices.below(atoms.len()))?;
    let neighbours: Vec<AtomId> = structure.neighbours(at).map(|(other, _)| other).collect();
    match choices.below(4) {
        0 if atoms.len() == 2 => Some(Place::Atom(at)),
        1 => {
            let other = AtomId::new(choices.below(structure.atom_count()));
            (other != at && !tail.touches(other)).then_some(Place::Bond(at, other))
        }
        _ => neighbours
            .get(choices.below(neighbours.len()))
            .map(|other| Place::Bond(at, *other))
            .filter(|head| *head != tail),
    }
}

/// How far a point is from what a place means. A bond that forms is meant by the line between its
/// atoms, its ends included: a head may be drawn at the atom that is bonded to.
fn off(structure: &Structure, points: &[Position], place: Place<AtomId>, end: Position) -> f64 {
    let at = |atom: AtomId| points[atom.index()];
    match place {
        Place::Atom(atom) => at(atom).distance(end),
        Place::Bond(a, b) if structure.bond_between(a, b).is_some() => at(a).middle(at(b)).distance(end),
        Place::Bond(a, b) => distance_to_segment(end, at(a), at(b)),
    }
}

#[test]
fn arrows_end_where_they_mean() {
    let texts: Vec<&str> = CAGES
        .iter()
        .chain(RINGS)
        .map(|(_, text)| *text)
        .chain([
            "[CH2]=C[CH2+]",
            "C[N+](=O)[O-]",
            "CC(=O)[O-].CBr",
            "[OH-].CC(C)(C)Br",
            "CC(=O)CC(=O)OCC",
            "[Br].C=CC",
            "O=S(=O)(O)O.OCC",
            "N#CC(C)=O",
            "CN=[N+]=[N-]",
            "[O-][O+]=O",
            "C[N+]#[C-]",
            "NC(=[NH2+])N",
            "CC(N)C(=O)NC(CO)C(=O)O",
            "[H]O[H].[H]Cl",
        ])
        .collect();
    let known: Vec<(Structure, Vec<Position>)> = texts
        .iter()
        .map(|text| {
            let structure = read(text);
            let points = lay_out(&[View::same(&structure)]).remove(0);
            (structure, points)
        })
        .collect();
    let mut choices = Choices(2024);
    let (mut drawn, mut through, mut wrong) = (0, 0, Vec::new());
    while drawn < 2000 {
        let (structure, points) = &known[choices.below(known.len())];
        let places = places(structure);
        let mut arrows = Vec::new();
        for _ in 0..=choices.below(3) {
            let tail = places[choices.below(places.len())];
            let moves = if choices.below(4) == 0 { Moves::Single } else { Moves::Pair };
            arrows.extend(head(structure, tail, &mut choices).map(|head| Arrow { moves, tail, head }));
        }
        let scene = Scene::new(structure, points, &arrows);
        let curves = curves_of(&scene);
        assert_eq!(curves.len(), arrows.len());
        drawn += 1;
        for (arrow, curve) in arrows.iter().zip(curves) {
            through += usize::from(curve.through_text);
            let [tail, .., tip] = curve.points;
            // An atom's own electrons are drawn as dots or charge beside it: the tail starts at those.
            let start = match arrow.tail {
                Place::Atom(_) => {
                    curve.starts_at.distance(tail).max(off(structure, points, arrow.tail, curve.starts_at) - 0.2)
                }
                Place::Bond(..) => off(structure, points, arrow.tail, tail),
            };
            let end = off(structure, points, arrow.head, tip);
            if start > 0.35 || end > 0.35 {
                wrong.push((smiles::write(structure, smiles::Labels::Classes), *arrow, start, end));
            }
        }
    }
    println!("{through} arrows of {drawn} drawings pass through text");
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(through * 50 < drawn, "{through} arrows pass through text");
}

#[test]
fn the_same_input_gives_the_same_picture() {
    for (_, text) in CAGES.iter().chain(RINGS) {
        let structure = read(text);
        let draw = || {
            let points = lay_out(&[View::same(&structure)]).remove(0);
            svg(&Scene { pairs: Pairs::All, ..Scene::new(&structure, &points, &[]) })
        };
        assert_eq!(draw(), draw(), "{text}");
    }
}

#[test]
fn electrons_move_and_atoms_do_not() {
    let start = read("[CH2:1]=[CH:2][CH:3]=[CH2:4].[CH2:5]=[CH2:6]");
    let product = read("[CH2:1]1[CH:2]=[CH:3][CH2:4][CH2:6][CH2:5]1");
    let map: Vec<Option<AtomId>> = product
        .atom_ids()
        .map(|atom| {
            let label = product.label(atom);
            start.atom_ids().find(|other| start.label(*other) == label)
        })
        .collect();
    let points = lay_out(&[View::same(&start), View::mapped(&product, &map)]);
    for (atom, of) in product.atom_ids().zip(&map) {
        assert_eq!(of.map(|of| points[0][of.index()]), Some(points[1][atom.index()]));
    }
    // The bonds that form are long in the start: room for arrows, and the two species apart.
    for (_, a, b, _) in product.bonds() {
        let length = points[1][a.index()].distance(points[1][b.index()]);
        assert!((0.9..2.0).contains(&length), "{length}");
    }
    assert_eq!(defects(&start, &points[0]).total(), 0);
}

#[test]
fn stated_coordinates_are_kept() {
    let mut structure = read("CCO");
    structure.coordinates = [(0, 0), (0, 15_000), (13_000, 22_500)].map(|(x, y)| Point { x, y }).to_vec();
    let points = lay_out(&[View::same(&structure)]).remove(0);
    assert!((points[1].y - points[0].y - 1.0).abs() < 0.02 && (points[1].x - points[0].x).abs() < 1e-9, "{points:?}");
    // A heap of points is no drawing: it is laid out anew.
    structure.coordinates = vec![Point::default(); 3];
    let points = lay_out(&[View::same(&structure)]).remove(0);
    assert_eq!(defects(&structure, &points).total(), 0);
}

/// The CORN rule (common practice): seen with the hydrogen towards the reader, the groups CO, R, N of an L-amino acid stand
/// clockwise. With x, y of the flat drawing and z of its wedge, their triple product is then positive.
fn corn(text: &str) -> f64 {
    let structure = read(text);
    let points = lay_out(&[View::same(&structure)]).remove(0);
    let wedges = wedges_of(&Scene::new(&structure, &points, &[]));
    assert_eq!(wedges.len(), 1, "{text}");
    let (centre, raised, up) = wedges[0];
    let rank = |atom: AtomId| match structure.atom(atom).element.symbol() {
        "N" => 2,
        _ => i32::from(
            structure.degree(atom) == 1 || structure.neighbours(atom).all(|(_, bond)| structure.bond(bond).order == 1),
        ),
    };
    let mut around: Vec<AtomId> = structure.neighbours(centre).map(|(other, _)| other).collect();
    around.sort_by_key(|atom| rank(*atom));
    let z = |atom: AtomId| if atom == raised { if up { 1.0 } else { -1.0 } } else { 0.0 };
    let [a, b, c] = [0, 1, 2].map(|at| (points[around[at].index()] - points[centre.index()], z(around[at])));
    a.1 * b.0.cross(c.0) + b.1 * c.0.cross(a.0) + c.1 * a.0.cross(b.0)
}

#[test]
fn wedges_show_the_stated_handedness() {
    let left = ["N[C@@H](C)C(O)=O", "C[C@H](N)C(O)=O", "OC(=O)[C@@H](N)Cc1ccccc1", "N[C@@H](CC(C)C)C(O)=O"];
    let right = ["N[C@H](C)C(O)=O", "C[C@@H](N)C(O)=O", "OC(=O)[C@H](N)Cc1ccccc1", "N[C@H](CC(C)C)C(O)=O"];
    let wrong: Vec<_> =
        left.iter().filter(|text| corn(text) <= 0.0).chain(right.iter().filter(|text| corn(text) >= 0.0)).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// Bonds (by their atoms, from 0) that lie or stand in the drawing of a molecule on its own.
#[test]
fn molecules_stand_as_people_draw_them() {
    let (lies, stands) = (true, false);
    let cases: &[(&str, &str, [usize; 2], bool)] = &[
        ("biphenyl", "c1ccccc1-c1ccccc1", [5, 6], lies),
        ("4-methylbiphenyl", "Cc1ccc(cc1)-c1ccccc1", [4, 7], lies),
        ("diazonium", "N#[N+]c1ccccc1", [0, 2], lies),
        ("benzonitrile", "N#Cc1ccccc1", [0, 2], lies),
        ("cis alkene", "C/C=C\\C", [1, 2], lies),
        ("spiro[5.5]undecane", "C1CCC2(CC1)CCCCC2", [2, 4], stands),
        ("triphenylphosphonium ylide", "C=P(c1ccccc1)(c1ccccc1)c1ccccc1", [0, 1], stands),
        ("quinolone", "O=c1cc[nH]c2ccccc12", [5, 10], stands),
        ("bicyclo[4.3.1]decane", "C1CC2CCCCC(C1)C2", [2, 7], stands),
    ];
    let mut wrong = Vec::new();
    for (name, text, [a, b], lies) in cases {
        let points = lay_out(&[View::same(&read(text))]).remove(0);
        let way = (points[*b] - points[*a]).unit();
        if (if *lies { way.y } else { way.x }).abs() > 0.01 {
            wrong.push((name, way));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The chain of penicillin G and of ATP leaves its ring to the side, so that the drawing is wide.
#[test]
fn branches_unfold() {
    let cases = [
        ("penicillin G", "CC1(C)SC2C(NC(=O)Cc3ccccc3)C(=O)N2C1C(=O)O"),
        ("ATP", "Nc1ncnc2c1ncn2C3OC(COP(=O)(O)OP(=O)(O)OP(=O)(O)O)C(O)C3O"),
        ("cephalosporin C", "CC(=O)OCC1=C(N2C(C(C2=O)NC(=O)CCCC(C(=O)O)N)SC1)C(=O)O"),
    ];
    let mut wrong = Vec::new();
    for (name, text) in cases {
        let points = lay_out(&[View::same(&read(text))]).remove(0);
        let reach = |of: fn(&Position) -> f64| {
            let (low, high) = points.iter().map(of).fold((f64::MAX, f64::MIN), |(l, h), at| (l.min(at), h.max(at)));
            high - low
        };
        let (width, height) = (reach(|point| point.x), reach(|point| point.y));
        if width < 1.7 * height {
            wrong.push((name, width, height));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Wedges at ring fusions lead to hydrogens (IUPAC 2006): how many are drawn, and how many wedges stay inside rings.
#[test]
fn ring_fusions_show_their_hydrogens() {
    let cases = [
        ("testosterone", "C[C@]12CC[C@H]3[C@H]([C@@H]1CC[C@@H]2O)CCC4=CC(=O)CC[C@]34C", 3),
        ("cis-decalin", "C1CC[C@H]2CCCC[C@@H]2C1", 2),
        ("norbornyl", "C1C[C@H]2C[C@@H]1C[CH+]2", 2),
        ("menthol", "CC(C)[C@@H]1CC[C@@H](C)C[C@H]1O", 0),
    ];
    let mut wrong = Vec::new();
    for (name, text, expected) in cases {
        let structure = read(text);
        let points = lay_out(&[View::same(&structure)]).remove(0);
        let scene = Scene::new(&structure, &points, &[]);
        let rings = rings_of(&structure);
        let inside = |(from, to, _): &(AtomId, AtomId, bool)| {
            rings.iter().any(|ring| ring.contains(&from.index()) && ring.contains(&to.index()))
        };
        let (drawn, inside) =
            (hydrogens_of(&scene).len(), wedges_of(&scene).iter().filter(|wedge| inside(wedge)).count());
        if (drawn, inside) != (expected, 0) {
            wrong.push((name, drawn, inside));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn hostile_names_are_text() {
    let mut structure = read("C=C");
    let hostile = "<script>alert(1)</script>\"'\u{202E}&";
    structure.clear_labels();
    structure.set_label(AtomId::new(0), &Label::from_text(hostile));
    structure.set_label(AtomId::new(1), &Label::from_text(&"x".repeat(10_000)));
    let points = lay_out(&[View::same(&structure)]).remove(0);
    let arrows = [Arrow {
        moves: Moves::Pair,
        tail: Place::Bond(AtomId::new(0), AtomId::new(1)),
        head: Place::Atom(AtomId::new(0)),
    }];
    let scene = Scene { title: hostile.to_owned(), ..Scene::new(&structure, &points, &arrows) };
    let panel = Panel { scene: scene.clone(), caption: hostile.to_owned(), sign: Some('+') };
    for picture in [svg(&scene), fragment(&scene), row(&[panel], hostile, true)] {
        assert!(!picture.contains("<script") && !picture.contains('\u{202E}'), "{picture}");
        assert!(picture.contains("&lt;script"));
        assert!(picture.matches('x').count() < 11_000 * 3, "long labels are cut where they are drawn");
    }
    // Arrows that name atoms which do not exist are left out.
    let stray = [Arrow { moves: Moves::Pair, tail: Place::Atom(AtomId::new(7)), head: Place::Atom(AtomId::new(9)) }];
    assert!(svg(&Scene { labels: Vec::new(), ..Scene::new(&structure, &points, &stray) }).contains("</svg>"));
}

#[test]
fn what_is_too_large_is_said_in_words() {
    for text in ["C".repeat(100_000), "C.".repeat(MOST_ATOMS) + "C", String::new()] {
        let structure = smiles::read(&text).structure;
        let points = lay_out(&[View::same(&structure)]).remove(0);
        let picture = svg(&Scene::new(&structure, &points, &[]));
        assert!(points.is_empty());
        assert!(picture.contains("too many to draw") || picture.contains("nothing drawn"));
        assert!(picture.len() < 5_000, "{}", picture.len());
    }
}

#[test]
fn any_drawing_up_to_the_cap_is_drawn() {
    let nets = [
        "C".repeat(MOST_ATOMS),
        format!("C{}", "(C)".repeat(300)),
        format!("C{}", "(=C(C)C)".repeat(90)),
        format!("C1{}C1", "C".repeat(500)),
        "c1ccc2cc3cc4cc5ccccc5cc4cc3cc2c1.".repeat(20) + "C",
    ];
    for text in nets {
        let structure = smiles::read(&text).structure;
        let points = lay_out(&[View::same(&structure)]).remove(0);
        assert_eq!(points.len(), structure.atom_count());
        assert!(points.iter().all(|point| point.x.is_finite() && point.y.is_finite()));
        assert!(svg(&Scene::new(&structure, &points, &[])).contains("</svg>"));
    }
}
