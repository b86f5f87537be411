//! Findings about the arrows of a step.

use crate::arrows::{Arrow, ArrowFault, DrawnArrow, Place};
use crate::findings::rules::drawing::name;
use crate::findings::{Finding, Name};
use crate::source::{counted, signed};
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Structure};

/// One finding of an arrow, and the arrow it points at (counted from 0).
pub(crate) fn finding(start: &Structure, arrows: &[Arrow], drawn: &[DrawnArrow], fault: ArrowFault) -> Finding {
    let at = fault.arrow();
    let Some(arrow) = arrows.get(at) else { return Finding::new(Name::UnreadableArrows, "an arrow cannot be applied") };
    let text = drawn.get(at).map(ToString::to_string).unwrap_or_default();
    let number = at + 1;
    match fault {
        ArrowFault::Detached { .. } => {
            let message = format!(
                "arrow {number} ({text}): the head, {}, touches no atom of the tail, {}",
                place(start, arrow.head),
                place(start, arrow.tail)
            );
            Finding::new(Name::DetachedHead, message).about(atoms(start, &[arrow.tail, arrow.head]))
        }
        ArrowFault::EmptyTail { .. } => {
            let message = match arrow.tail {
                Place::Atom(atom) => format!(
                    "arrow {number} ({text}) starts at {}, which has no non-bonding electrons to give ({})",
                    start.call(atom),
                    count(start, atom)
                ),
                Place::Bond(a, b) => format!(
                    "arrow {number} ({text}) starts between {} and {}, where no bond is drawn",
                    start.call(a),
                    start.call(b)
                ),
            };
            Finding::new(Name::EmptyTail, message).about(atoms(start, &[arrow.tail]))
        }
        ArrowFault::Overdrawn { taken, there, .. } => {
            let message = format!(
                "the arrows take {} from {}, where {there} {} drawn (arrow {number}, {text}, is the last to take)",
                counted(taken, "electron"),
                place(start, arrow.tail),
                if there == 1 { "is" } else { "are" }
            );
            Finding::new(Name::OverdrawnTail, message).about(atoms(start, &[arrow.tail]))
        }
        ArrowFault::UnpairedInBond { left, between: (a, b), .. } => {
            let message = format!(
                "the half-headed arrows leave {} between {} and {}: a bond is made or broken by two of them",
                counted(left, "electron"),
                start.call(a),
                start.call(b)
            );
            Finding::new(Name::UnpairedHalfArrow, message).about(atoms(start, &[Place::Bond(a, b)]))
        }
    }
}

fn count(start: &Structure, atom: AtomId) -> String {
    let electrons = Electrons::of(start, atom);
    let valence = electrons.valence.unwrap_or(0);
    format!(
        "{}, {}, charge {}",
        counted(valence, "valence electron"),
        counted(electrons.bonds, "bond"),
        signed(electrons.charge)
    )
}

/// A place in words: `C4` or `the bond C4-O5`.
fn place(start: &Structure, place: Place<AtomId>) -> String {
    match place {
        Place::Atom(a) => start.call(a),
        Place::Bond(a, b) if start.bond_between(a, b).is_some() => {
            format!("the bond {}-{}", start.call(a), start.call(b))
        }
        Place::Bond(a, b) => format!("between {} and {}", start.call(a), start.call(b)),
    }
}

/// Labels of the atoms of places, each once.
pub(crate) fn atoms(start: &Structure, places: &[Place<AtomId>]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for atom in places.iter().flat_map(|place| place.atoms()) {
        let own = name(start, atom);
        if !names.contains(&own) {
            names.push(own);
        }
    }
    names
}
