//! Writing: what is written is valid in schema 3 and is read back as it was.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use super::cml::{arrow, atoms, picture, questions};
use super::molecules::smiles;
use keyassay::arrows::{AtomName, DrawnArrow, Moves, Place};
use keyassay::cml::{Reaction, Sequence, Unwritten, Writer, read_molecule, write_molecule};
use keyassay::limits::Limits;
use keyassay::source::Span;
use keyassay::structure::stereo::{Centre, DoubleBond, Geometry, Neighbour};
use keyassay::structure::{Atom, AtomId, Bond, Element, Label, Point, Structure};
use proptest::prelude::*;
use std::path::Path;
use std::process::Command;

/// A drawing whatever the order of its bonds and marks: species are written one by one, with their bonds.
fn sorted(structure: &Structure) -> String {
    let whole = picture(structure);
    let mut parts: Vec<String> = whole.split(" | ").skip(1).map(str::to_owned).collect();
    if let Some(bonds) = parts.first_mut() {
        let mut list: Vec<&str> = bonds.split(' ').collect();
        list.sort_unstable();
        *bonds = list.join(" ");
    }
    parts.sort();
    format!("{} | {}", atoms(structure), parts.join(" | "))
}

/// A question as text, to compare.
fn told(question: &Sequence) -> String {
    let step = |step: &Reaction| {
        let side = |side: Option<&Structure>| side.map_or("none".to_owned(), sorted);
        let arrows = step.arrows.as_ref().map(|arrows| arrows.iter().map(arrow).collect::<Vec<_>>());
        format!(
            "  {:?} {:?} {}\n    {}\n    {}\n    {arrows:?}\n",
            step.id,
            step.title,
            step.spectators,
            side(step.start.as_ref()),
            side(step.answer.as_ref())
        )
    };
    format!("{:?} {:?}\n{}", question.id, question.title, question.steps.iter().map(step).collect::<String>())
}

fn written(questions: &[Sequence]) -> (String, Vec<Unwritten>) {
    let mut lost = Vec::new();
    let mut writer = Writer::new(Vec::new()).unwrap_or_else(|error| panic!("{error}"));
    for question in questions {
        lost.extend(writer.question(question).unwrap_or_else(|error| panic!("{error}")));
    }
    let bytes = writer.finish().unwrap_or_else(|error| panic!("{error}"));
    (String::from_utf8(bytes).unwrap_or_default(), lost)
}

/// Whether schema 3 accepts a document; `None` where the schema or the validator is not there.
fn is_valid(document: &str) -> Option<Result<(), String>> {
    let schema = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/reference/schemas/cml-schema-3.xsd");
    if !schema.exists() {
        return None;
    }
    let file =
        std::env::temp_dir().join(format!("keyassay-cml-{}-{:?}.cml", std::process::id(), std::thread::current().id()));
    std::fs::write(&file, document).ok()?;
    let output = Command::new("xmllint").arg("--noout").arg("--schema").arg(&schema).arg(&file).output();
    let removed = std::fs::remove_file(&file);
    let output = output.ok()?;
    assert!(removed.is_ok());
    let says = String::from_utf8_lossy(&output.stderr).into_owned();
    Some(if output.status.success() { Ok(()) } else { Err(says) })
}

fn label(number: u8) -> Label {
    if number.is_multiple_of(2) { Label::Number(u32::from(number)) } else { Label::Name(format!("x{number}").into()) }
}

/// Numbers come back as the ids that stand for them.
fn as_ids(structure: &Structure) -> Structure {
    let mut renamed = structure.clone();
    renamed.clear_labels();
    for atom in structure.atom_ids() {
        if let Some(label) = structure.label(atom) {
            renamed.set_label(atom, &as_id(&label));
        }
    }
    renamed
}

fn as_id(label: &Label) -> Label {
    match label {
        Label::Number(number) => Label::Name(format!("a{number}").into()),
        name @ Label::Name(_) => name.clone(),
    }
}

const ELEMENTS: [&str; 8] = ["*", "H", "B", "C", "N", "O", "S", "Fe"];

prop_compose! {
    /// A random drawing, chemically sensible or not: every atom states its hydrogens, so nothing is left to the valence rule.
    fn drawing()(
        atoms in prop::collection::vec((0..8_usize, -2..3_i16, 0..4_u16, prop::option::of(1..250_u16), prop::bool::weighted(0.9)), 0..12),
        bonds in prop::collection::vec((0..12_usize, 0..12_usize, 1..4_u8, prop::bool::weighted(0.2)), 0..14),
        sides in prop::collection::vec(any::<bool>(), 14),
        places in prop::option::of(prop::collection::vec((any::<i32>(), any::<i32>()), 12)),
    ) -> Structure {
        let mut structure = Structure::default();
        for (at, (element, charge, hydrogens, isotope, labelled)) in atoms.iter().enumerate() {
            let element = Element::from_symbol(ELEMENTS[*element].as_bytes()).unwrap_or(Element::ANY);
            let atom = Atom { charge: *charge, hydrogens: *hydrogens, isotope: *isotope, ..Atom::new(element) };
            let id = structure.add_atom(atom, Span::default());
            if *labelled {
                structure.set_label(id, &label(at as u8));
            }
        }
        for (a, b, order, aromatic) in bonds {
            let (a, b) = (AtomId::new(a), AtomId::new(b));
            let there = a.index() < atoms.len() && b.index() < atoms.len() && a != b;
            if there && structure.bond_between(a, b).is_none() {
                let bond = if aromatic { Bond::delocalised() } else { Bond::new(order) };
                structure.add_bond(a, b, bond, Span::default());
                if aromatic {
                    structure.atom_mut(a).aromatic = true;
                    structure.atom_mut(b).aromatic = true;
                }
            }
        }
        mark(&mut structure, &sides);
        if let Some(places) = places {
            structure.coordinates = places.iter().take(atoms.len()).map(|(x, y)| Point { x: *x, y: *y }).collect();
        }
        structure
    }
}

/// Marks double bonds and centres of four drawn neighbours.
fn mark(structure: &mut Structure, sides: &[bool]) {
    let other = |structure: &Structure, end: AtomId, not: AtomId| {
        structure.neighbours(end).map(|(atom, _)| atom).find(|atom| *atom != not)
    };
    for (at, (_, a, b, bond)) in structure.clone().bonds().enumerate() {
        if let (Some(one), Some(two)) = (other(structure, a, b), other(structure, b, a))
            && bond == Bond::new(2)
        {
            structure.stereo.double_bonds.push(DoubleBond {
                ends: [a, b],
                references: [one, two],
                same_side: sides[at],
            });
        }
    }
    for (at, atom) in structure.atom_ids().enumerate() {
        let neighbours: Vec<Neighbour> = structure.neighbours(atom).map(|(atom, _)| Neighbour::Atom(atom)).collect();
        if neighbours.len() == 4 {
            let centre = Centre {
                atom,
                geometry: Geometry::Tetrahedral,
                neighbours: neighbours.into(),
                clockwise: sides[at % 14],
            };
            structure.stereo.centres.push(centre);
        }
    }
}

prop_compose! {
    fn arrows()(list in prop::collection::vec((any::<bool>(), prop::array::uniform4(0..12_u8), any::<bool>(), any::<bool>(), 0..4_u32), 0..5)) -> Vec<DrawnArrow> {
        let name = |number: u8, hydrogen: u32| AtomName {
            label: label(number),
            hydrogen: (hydrogen > 0).then_some(hydrogen),
            span: Span::default(),
        };
        list.iter().map(|(pair, [a, b, c, d], tail, head, hydrogen)| DrawnArrow {
            moves: if *pair { Moves::Pair } else { Moves::Single },
            tail: if *tail { Place::Atom(name(*a, 0)) } else { Place::Bond(name(*a, 0), name(*b, *hydrogen)) },
            head: if *head { Place::Atom(name(*c, 0)) } else { Place::Bond(name(*c, *hydrogen), name(*d, 0)) },
            span: Span::default(),
        }).collect()
    }
}

prop_compose! {
    fn reaction()(
        id in prop::option::of("[a-zA-Z][a-zA-Z0-9_.-]{0,6}"),
        title in prop::option::of("\\PC{1,8}"),
        start in prop::option::of(drawing()),
        answer in prop::option::of(drawing()),
        drawn in prop::option::of(arrows()),
    ) -> Reaction {
        // Titles are read without the space around them.
        let title = title.map(|title| title.trim().to_owned()).filter(|title| !title.is_empty());
        // An arrow names atoms that the start has; hydrogens are those of labelled atoms.
        let known = |arrow: &DrawnArrow| {
            let of = |place: &Place<AtomName>| match place {
                Place::Atom(a) => vec![a.label.clone()],
                Place::Bond(a, b) => vec![a.label.clone(), b.label.clone()],
            };
            let labels: Vec<Label> = start.iter().flat_map(|start| start.atom_ids().filter_map(|atom| start.label(atom))).collect();
            [&arrow.tail, &arrow.head].into_iter().flat_map(of).all(|label| labels.contains(&label))
        };
        let arrows = drawn.map(|drawn| drawn.into_iter().filter(known).collect());
        Reaction { id, title, start, answer, arrows, ..Reaction::default() }
    }
}

/// What a reaction is after it was written and read.
fn expected(reaction: &Reaction) -> Reaction {
    let name = |name: &AtomName| AtomName { label: as_id(&name.label), ..name.clone() };
    let arrow = |arrow: &DrawnArrow| {
        let place = |place: &Place<AtomName>| place.clone().map(|own| name(&own));
        DrawnArrow { tail: place(&arrow.tail), head: place(&arrow.head), ..arrow.clone() }
    };
    let mut start = reaction.start.as_ref().map(as_ids);
    let answer = reaction.answer.as_ref().map(as_ids);
    if let Some(start) = &mut start {
        start.stereo.centres.sort_by_key(|centre| centre.atom);
    }
    Reaction {
        start,
        answer,
        arrows: reaction.arrows.as_ref().map(|arrows| arrows.iter().map(arrow).collect()),
        ..reaction.clone()
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn drawings_are_read_back(structure in drawing()) {
        let (text, lost) = write_molecule(&structure);
        prop_assert!(lost.is_empty(), "{:?}", lost);
        let (read, _) = read_molecule(&text, &Limits::default());
        prop_assert_eq!(picture(&read), picture(&as_ids(&structure)), "{}", text);
    }

    #[test]
    fn questions_are_read_back(steps in prop::collection::vec(reaction(), 1..4), id in prop::option::of("[a-z]{3}")) {
        let id = if steps.len() > 1 && id.is_none() { Some("q".to_owned()) } else { id };
        let question = Sequence { id, title: None, steps, ..Sequence::default() };
        let (text, lost) = written(std::slice::from_ref(&question));
        prop_assert!(lost.is_empty(), "{:?}", lost);
        let wanted = Sequence { steps: question.steps.iter().map(expected).collect(), ..question };
        let read = questions(&text);
        prop_assert_eq!(read.iter().map(told).collect::<String>(), told(&wanted), "{}", text);
    }
}

#[test]
fn written_documents_are_valid_in_schema_3() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut all = Vec::new();
    for _ in 0..200 {
        let steps = prop::collection::vec(reaction(), 1..4);
        let tree = steps.new_tree(&mut runner).unwrap_or_else(|error| panic!("{error}"));
        let steps = proptest::strategy::ValueTree::current(&tree);
        all.push(Sequence { id: (steps.len() > 1).then(|| "q".to_owned()), title: None, steps, ..Sequence::default() });
    }
    let (text, _) = written(&all);
    let alone: String = all
        .iter()
        .filter_map(|question| question.steps[0].start.as_ref())
        .map(|start| write_molecule(start).0)
        .collect();
    let alone = format!("<cml xmlns=\"http://www.xml-cml.org/schema\">{alone}</cml>");
    for document in [text, alone] {
        if let Some(verdict) = is_valid(&document) {
            assert_eq!(verdict, Ok(()));
        }
    }
}

#[test]
fn what_cannot_be_written_is_listed() {
    let mut repeated = smiles("[CH4:1].[CH4:2]");
    let second = repeated.atom_ids().nth(1);
    if let Some(second) = second {
        repeated.set_label(second, &Label::Number(1));
    }
    let mut strange = smiles("C");
    let first = strange.atom_ids().next();
    if let Some(first) = first {
        strange.set_label(first, &Label::Name("m1:é".into()));
    }
    let cases = [
        (smiles("C$C"), "the order 4 of the bond between C#1 and C#2: CML knows 1, 2, 3 and A"),
        (smiles("[0CH4]"), "the isotope 0 of C#1: CML counts them from 1"),
        (smiles("F[Pt@SP1](F)(Cl)Cl"), "the stereo mark at Pt#2: CML has no such parity"),
        (repeated, "the label 1 of a second atom: ids are unique in a molecule"),
        (strange, "the label m1:é, which became m1__: ids are letters, digits, _ and -, and begin with a letter"),
    ];
    for (structure, wanted) in cases {
        let (text, lost) = write_molecule(&structure);
        let lost: Vec<String> = lost.iter().map(ToString::to_string).collect();
        assert_eq!(lost, [wanted], "{text}");
    }
}

#[test]
fn stereochemistry_goes_there_and_back() {
    let molecules = [
        "N[C@@H](C)C(=O)O",
        "F/C=C/F",
        "F/C=C\\F",
        "C[S@](=O)CC",
        "FC=[C@]=CCl",
        "F[C@](Cl)(Br)I",
        "C[C@@H]1CC[C@H](C)CC1",
        "[H][C@](F)(Cl)Br",
    ];
    for text in molecules {
        let mut structure = smiles(text);
        let (written, lost) = write_molecule(&structure);
        let (read, faults) = read_molecule(&written, &Limits::default());
        structure.stereo.centres.sort_by_key(|centre| centre.atom);
        assert_eq!((picture(&read), lost, faults), (picture(&structure), Vec::new(), Vec::new()), "{text}");
    }
}

#[test]
fn names_that_xml_does_not_take_are_kept_where_they_can_be() {
    let named = |id: &str, title: Option<&str>| Sequence {
        steps: vec![Reaction { id: Some(id.to_owned()), title: title.map(str::to_owned), ..Reaction::default() }],
        ..Sequence::default()
    };
    let cases = [
        (named("q1", Some("a <b> & \"c\"\n'd'")), Some("q1"), Some("a <b> & \"c\"\n'd'"), 0),
        (named("HM 09/3", None), None, Some("HM 09/3"), 0),
        (named("7", Some("seven")), None, Some("seven"), 1),
        (named("q", Some("a\u{1}b")), Some("q"), Some("ab"), 1),
    ];
    for (question, id, title, count) in cases {
        let (text, lost) = written(std::slice::from_ref(&question));
        let read = questions(&text);
        let step = &read[0].steps[0];
        assert_eq!((step.id.as_deref(), step.title.as_deref(), lost.len()), (id, title, count), "{text}");
    }
}
