//! Wedges: which bond of a marked centre rises or falls, so that the flat drawing has the stated handedness.
//!
//! The sense of a wedge is that of the IUPAC recommendations for the graphical representation of stereochemistry (2006):
//! the narrow end at the centre, a solid wedge towards the reader, a hashed one away.

use super::figure::Figure;
use super::geometry::{Position, full_turn, widest_gap};
use super::hydrogens::Hydrogen;
use crate::structure::stereo::{Centre, Geometry, Neighbour};
use crate::structure::{AtomId, BondId, Element};
use rustc_hash::FxHashMap;
use std::f64::consts::PI;

/// A bond drawn as a wedge with its narrow end at `from`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wedge {
    pub(super) from: AtomId,
    /// Towards the reader.
    pub(super) up: bool,
}

/// The wedges of a picture.
#[derive(Debug, Default)]
pub(super) struct Wedges {
    /// Those that bonds are.
    pub(super) bonds: FxHashMap<BondId, Wedge>,
    /// Those that lead to hydrogens drawn for them: the hydrogen, and whether its wedge comes towards the reader.
    pub(super) hydrogens: Vec<(Hydrogen, bool)>,
}

/// Wedges for all tetrahedral centres. A centre whose flat drawing cannot show it gets none.
pub(super) fn assign(figure: &Figure, rings: &[Vec<usize>]) -> Wedges {
    let mut in_ring = vec![false; figure.structure.atom_count()];
    for node in rings.iter().flatten() {
        if let Some(slot) = in_ring.get_mut(*node) {
            *slot = true;
        }
    }
    let centres = || figure.structure.stereo.centres.iter().filter(|centre| centre.geometry == Geometry::Tetrahedral);
    let mut marked = vec![false; figure.structure.atom_count()];
    for centre in centres() {
        if let Some(slot) = marked.get_mut(centre.atom.index()) {
            *slot = true;
        }
    }
    let (mut wedges, mut hydrogens) = (FxHashMap::default(), Vec::new());
    for centre in centres() {
        if let Some(own) = figure.hydrogens.iter().find(|own| own.centre == centre.atom)
            && let Some(up) = rises(figure, centre, Raised::Hydrogen(own.at))
        {
            hydrogens.push((*own, up));
            continue;
        }
        let mut choices: Vec<_> = choices(figure, centre, &in_ring, &marked);
        choices.retain(|(_, bond, _)| !wedges.contains_key(bond));
        for (_, bond, neighbour) in choices {
            if let Some(up) = rises(figure, centre, Raised::Atom(neighbour)) {
                wedges.insert(bond, Wedge { from: centre.atom, up });
                break;
            }
        }
    }
    Wedges { bonds: wedges, hydrogens }
}

type Choice = ((bool, bool, bool, bool, bool, usize), BondId, AtomId);

/// The bonds of a centre, best for a wedge first: single, out of rings, not to other centres, to hydrogens and ends.
fn choices(figure: &Figure, centre: &Centre, in_ring: &[bool], marked: &[bool]) -> Vec<Choice> {
    let structure = figure.structure;
    let flag = |list: &[bool], atom: AtomId| list.get(atom.index()).copied().unwrap_or(false);
    let mut choices: Vec<Choice> = structure
        .neighbours(centre.atom)
        .map(|(other, bond)| {
            let rank = (
                structure.bond(bond).order != 1,
                is_between(figure, centre.atom, other),
                flag(in_ring, other) && flag(in_ring, centre.atom),
                flag(marked, other),
                structure.atom(other).element != Element::HYDROGEN,
                structure.degree(other),
            );
            (rank, bond, other)
        })
        .collect();
    choices.sort_unstable();
    choices
}

/// Whether a bond of a centre with three bonds on one side of a line is the middle one. Readers differ in what a wedge there
/// means, so that the recommendations avoid it.
fn is_between(figure: &Figure, centre: AtomId, other: AtomId) -> bool {
    let directions = figure.bond_directions(centre);
    if directions.len() != 3 {
        return false;
    }
    let (from, width) = widest_gap(&directions);
    let own = full_turn((figure.at(other) - figure.at(centre)).angle());
    let edge = |angle: f64| (own - angle).cos() > 1.0 - 1e-6;
    width > PI - 0.05 && !edge(from) && !edge(from + width)
}

/// The neighbour that a wedge leads to.
#[derive(Clone, Copy)]
enum Raised {
    Atom(AtomId),
    /// The undrawn hydrogen, drawn here.
    Hydrogen(Position),
}

/// Whether the bond to a neighbour must rise for the centre to have its stated handedness; `None` where it shows nothing.
fn rises(figure: &Figure, centre: &Centre, raised: Raised) -> Option<bool> {
    let here = figure.at(centre.atom);
    let flat = |neighbour: &Neighbour| match (neighbour, raised) {
        (Neighbour::Atom(atom), Raised::Atom(own)) if own == *atom => Some(((figure.at(*atom) - here).unit(), 1.0)),
        (Neighbour::Atom(atom), _) => Some(((figure.at(*atom) - here).unit(), 0.0)),
        (Neighbour::Hydrogen, Raised::Hydrogen(at)) => Some(((at - here).unit(), 1.0)),
        _ => None,
    };
    let known: Vec<(Position, f64)> = centre.neighbours.iter().filter_map(flat).collect();
    let [_, _, _, ..] = known[..] else { return None };
    // What is not drawn points away from what is.
    let rest = known.iter().fold((Position::default(), 0.0), |sum, (flat, z)| (sum.0 - *flat, sum.1 - z));
    let space = |neighbour: &Neighbour| flat(neighbour).unwrap_or(rest);
    let [first, second, third, fourth] = centre.neighbours[..] else { return None };
    let origin = space(&first);
    let from_first = |neighbour: &Neighbour| {
        let (flat, z) = space(neighbour);
        (flat - origin.0, z - origin.1)
    };
    let (a, b, c) = (from_first(&second), from_first(&third), from_first(&fourth));
    let volume = a.1 * b.0.cross(c.0) + b.1 * c.0.cross(a.0) + c.1 * a.0.cross(b.0);
    // Seen from the first neighbour the others run anticlockwise where the volume is negative.
    (volume.abs() > 0.1).then_some((volume > 0.0) == centre.clockwise)
}
