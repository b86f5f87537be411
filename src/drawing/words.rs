//! Structures and arrows in words, for people who do not see the picture.

use crate::arrows::{Arrow, Moves, Place};
use crate::source::signed;
use crate::structure::electrons::unpaired;
use crate::structure::{AtomId, Structure};
use std::fmt::Write as _;

/// Bonds and atoms beyond this number are counted, not listed.
const LISTED: usize = 24;

/// A structure in words: its size, its atoms with charges, its bonds.
#[must_use]
pub fn structure(structure: &Structure) -> String {
    if structure.is_empty() {
        return "Nothing is drawn.".to_owned();
    }
    let (_, species) = structure.species();
    let mut text = count(structure.atom_count(), "atom");
    if species > 1 {
        let _ = write!(text, " in {species} species");
    }
    let net = structure.net_charge();
    if net != 0 {
        let _ = write!(text, ", net charge {net:+}");
    }
    text.push_str(". ");
    let charged: Vec<String> = structure.atom_ids().filter_map(|atom| remark(structure, atom)).take(LISTED).collect();
    if !charged.is_empty() {
        text.push_str(&charged.join("; "));
        text.push_str(". ");
    }
    let mut bonds: Vec<String> = structure
        .bonds()
        .take(LISTED)
        .map(|(_, a, b, bond)| {
            format!("{} {} {}", name(structure, a), kind(bond.order, bond.aromatic), name(structure, b))
        })
        .collect();
    if structure.bond_count() > LISTED {
        bonds.push(format!("and {} more bonds", structure.bond_count() - LISTED));
    }
    if !bonds.is_empty() {
        text.push_str("Bonds: ");
        text.push_str(&bonds.join(", "));
        text.push('.');
    }
    text.trim_end().to_owned()
}

/// Arrows in words, one sentence each.
#[must_use]
pub fn arrows(structure: &Structure, arrows: &[Arrow]) -> String {
    let mut sentences: Vec<String> = arrows
        .iter()
        .take(LISTED)
        .enumerate()
        .map(|(at, arrow)| {
            let what = match (arrow.moves, arrow.tail) {
                (Moves::Pair, Place::Atom(atom)) => format!("a lone pair of {}", name(structure, atom)),
                (Moves::Single, Place::Atom(atom)) => format!("one electron of {}", name(structure, atom)),
                (Moves::Pair, Place::Bond(a, b)) => {
                    format!("the pair between {} and {}", name(structure, a), name(structure, b))
                }
                (Moves::Single, Place::Bond(a, b)) => {
                    format!("one electron of the bond between {} and {}", name(structure, a), name(structure, b))
                }
            };
            let to = match arrow.head {
                Place::Atom(atom) => format!("onto {}", name(structure, atom)),
                Place::Bond(a, b) => format!("between {} and {}", name(structure, a), name(structure, b)),
            };
            format!("Arrow {}: {what} moves {to}.", at + 1)
        })
        .collect();
    if arrows.len() > LISTED {
        sentences.push(format!("And {} more arrows.", arrows.len() - LISTED));
    }
    sentences.join(" ")
}

/// An atom as words call it: element and label, or element and position.
fn name(structure: &Structure, atom: AtomId) -> String {
    if atom.index() >= structure.atom_count() {
        return "an atom that is not drawn".to_owned();
    }
    let label = structure.label(atom).map_or_else(|| (atom.index() + 1).to_string(), |label| label.to_string());
    format!("{} {label}", structure.atom(atom).element.name())
}

fn remark(structure: &Structure, atom: AtomId) -> Option<String> {
    let own = structure.atom(atom);
    let mut parts = Vec::new();
    if own.charge != 0 {
        parts.push(format!("charge {}", signed(own.charge)));
    }
    match unpaired(structure, atom) {
        i32::MIN..=0 => {}
        1 => parts.push("one unpaired electron".to_owned()),
        more => parts.push(format!("{more} unpaired electrons")),
    }
    if let Some(isotope) = own.isotope {
        parts.push(format!("mass number {isotope}"));
    }
    (!parts.is_empty()).then(|| format!("{} with {}", name(structure, atom), parts.join(" and ")))
}

fn kind(order: u8, aromatic: bool) -> &'static str {
    match (order, aromatic) {
        (0, _) => "no longer bonded to",
        (1, true) => "delocalised to",
        (1, false) => "single to",
        (2, _) => "double to",
        (3, _) => "triple to",
        _ => "quadruple to",
    }
}

fn count(number: usize, what: &str) -> String {
    if number == 1 { format!("1 {what}") } else { format!("{number} {what}s") }
}
