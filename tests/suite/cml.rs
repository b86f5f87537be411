//! What the tests of CML share: pictures of drawings as text, and documents read to the end.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use keyassay::arrows::{AtomName, DrawnArrow, Moves, Place};
use keyassay::cml::{BareMolecule, Content, Fault, FaultKind, Reader, Record, Sequence};
use keyassay::limits::Limits;
use keyassay::structure::stereo::{Centre, Neighbour};
use keyassay::structure::{AtomId, Structure};

/// How an atom is called in a picture: element and position, and its label if it has one.
fn name(structure: &Structure, atom: AtomId) -> String {
    match structure.label(atom) {
        Some(label) => label.to_string(),
        None => format!("#{}", atom.index() + 1),
    }
}

/// A centre with its neighbours sorted: every exchange turns the sense round.
fn sorted_centre(structure: &Structure, centre: &Centre) -> String {
    let mut names: Vec<String> = centre
        .neighbours
        .iter()
        .map(|neighbour| match neighbour {
            Neighbour::Atom(atom) => name(structure, *atom),
            Neighbour::Hydrogen => "H".to_owned(),
            Neighbour::LonePair => "lone pair".to_owned(),
        })
        .collect();
    let mut clockwise = centre.clockwise;
    for end in (1..names.len()).rev() {
        for at in 0..end {
            if names[at] > names[at + 1] {
                names.swap(at, at + 1);
                clockwise = !clockwise;
            }
        }
    }
    let sense = if clockwise { "clockwise" } else { "anticlockwise" };
    format!("{} {:?} {} {sense}", name(structure, centre.atom), centre.geometry, names.join(" "))
}

/// Everything that a structure says, as text: atoms in order, then bonds, stereo, coordinates.
pub(crate) fn picture(structure: &Structure) -> String {
    let mut parts = vec![atoms(structure), bonds(structure)];
    parts.extend(marks(structure));
    if !structure.coordinates.is_empty() {
        parts.push(
            structure.coordinates.iter().map(|point| format!("{},{}", point.x, point.y)).collect::<Vec<_>>().join(" "),
        );
    }
    parts.join(" | ")
}

/// The marks of stereochemistry of a structure, independent of the order in which they name neighbours.
pub(crate) fn marks(structure: &Structure) -> Vec<String> {
    let mut parts = Vec::new();
    parts.extend(structure.stereo.centres.iter().map(|centre| sorted_centre(structure, centre)));
    for bond in &structure.stereo.double_bonds {
        let mut ends = [0, 1].map(|at| (name(structure, bond.references[at]), name(structure, bond.ends[at])));
        ends.sort();
        let side = if bond.same_side { "with" } else { "against" };
        parts.push(format!("{}-{} {side} {}-{}", ends[0].0, ends[0].1, ends[1].0, ends[1].1));
    }
    parts
}

/// The atoms of a structure: label, element, charge, undrawn hydrogens, isotope, stated unpaired electrons.
pub(crate) fn atoms(structure: &Structure) -> String {
    let atom = |id: AtomId| {
        let atom = structure.atom(id);
        let mut text = format!("{}:{}", name(structure, id), atom.element.symbol());
        if atom.aromatic {
            text = text.to_lowercase();
        }
        if atom.charge != 0 {
            text += &format!("{:+}", atom.charge);
        }
        if atom.hydrogens > 0 {
            text += &format!("h{}", atom.hydrogens);
        }
        text += &atom.isotope.map_or(String::new(), |mass| format!("/{mass}"));
        text += &atom.unpaired.map_or(String::new(), |unpaired| format!("^{unpaired}"));
        text
    };
    structure.atom_ids().map(atom).collect::<Vec<_>>().join(" ")
}

/// The bonds of a structure in order: `a-b`, `a=b`, `a#b`, `a:b`.
pub(crate) fn bonds(structure: &Structure) -> String {
    let sign = |order: u8, aromatic: bool| {
        if aromatic { ":" } else { ["?", "-", "=", "#"].get(usize::from(order)).copied().unwrap_or("$") }
    };
    let bond = structure.bonds().map(|(_, a, b, bond)| {
        format!("{}{}{}", name(structure, a), sign(bond.order, bond.aromatic), name(structure, b))
    });
    bond.collect::<Vec<_>>().join(" ")
}

/// The records of a document.
pub(crate) fn records(text: &str) -> Vec<Record> {
    Reader::new(text.as_bytes(), &Limits::default()).collect()
}

/// The bare molecules of a document.
pub(crate) fn molecules(text: &str) -> Vec<BareMolecule> {
    let molecule = |record: Record| match record.content {
        Content::Molecule(molecule) => Some(*molecule),
        _ => None,
    };
    records(text).into_iter().filter_map(molecule).collect()
}

/// The questions of a document.
pub(crate) fn questions(text: &str) -> Vec<Sequence> {
    let of = |record: Record| match record.content {
        Content::Questions(questions) => questions,
        _ => Vec::new(),
    };
    records(text).into_iter().flat_map(of).collect()
}

/// All faults of a document: their kind and the text that they point at.
pub(crate) fn faults(text: &str) -> Vec<(FaultKind, String, String)> {
    let mut found = Vec::new();
    for record in records(text) {
        let mut take = |fault: &Fault| {
            found.push((fault.problem.kind(), fault.span.of(&record.text).to_owned(), fault.problem.to_string()));
        };
        match &record.content {
            Content::Molecule(molecule) => molecule.faults.iter().for_each(&mut take),
            Content::Questions(questions) => {
                questions.iter().flat_map(|question| &question.steps).flat_map(|step| &step.faults).for_each(&mut take);
            }
            Content::Unreadable(fault) => take(fault),
        }
    }
    found
}

/// An arrow in the text notation.
pub(crate) fn arrow(arrow: &DrawnArrow) -> String {
    let name = |name: &AtomName| match name.hydrogen {
        None => name.label.to_string(),
        Some(number) => format!("{}h{number}", name.label),
    };
    let place = |place: &Place<AtomName>| match place {
        Place::Atom(atom) => name(atom),
        Place::Bond(a, b) => format!("{}-{}", name(a), name(b)),
    };
    let sign = if arrow.moves == Moves::Pair { "->" } else { "~>" };
    format!("{} {sign} {}", place(&arrow.tail), place(&arrow.head))
}

/// The arrows of the first step of a document's first question.
pub(crate) fn arrows(text: &str) -> String {
    let questions = questions(text);
    let steps = questions.first().map(|question| question.steps.as_slice()).unwrap_or_default();
    let drawn = steps.first().and_then(|step| step.arrows.clone()).unwrap_or_default();
    drawn.iter().map(arrow).collect::<Vec<_>>().join("; ")
}
