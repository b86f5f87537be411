//! Stereo marks as a number that does not depend on how a drawing is numbered.
//!
//! A mark is read by the colours of the atoms round it: its neighbours in the order of their colours have a handedness, whatever
//! the order in which they are written. Where two neighbours have one colour the mark says only that it is there, unless other
//! marks tell them apart.

use crate::structure::canon::mix;
use crate::structure::stereo::{Centre, DoubleBond, Geometry, Neighbour};
use crate::structure::{AtomId, Structure};

/// The marks of a drawing; `colour` gives symmetry classes of atoms. 0 where there is none.
#[must_use]
pub fn marks(structure: &Structure, colour: impl Fn(AtomId) -> u64) -> u64 {
    let stereo = &structure.stereo;
    let centres = stereo.centres.iter().map(|centre| of_centre(centre, &colour));
    let bonds = stereo.double_bonds.iter().map(|bond| of_bond(structure, bond, &colour));
    centres.chain(bonds).fold(0, u64::wrapping_add)
}

/// A number for a neighbour: undrawn hydrogens and lone pairs have small ones.
fn rank(neighbour: Neighbour, colour: &impl Fn(AtomId) -> u64) -> u64 {
    match neighbour {
        Neighbour::Atom(atom) => colour(atom).max(2),
        Neighbour::Hydrogen => 1,
        Neighbour::LonePair => 0,
    }
}

fn of_centre(centre: &Centre, colour: &impl Fn(AtomId) -> u64) -> u64 {
    let own = mix(colour(centre.atom) ^ 3);
    if let Geometry::Other(class, number) = centre.geometry {
        return mix(own ^ u64::from(class[0]) << 16 ^ u64::from(class[1]) << 8 ^ u64::from(number));
    }
    let ranks: Vec<u64> = centre.neighbours.iter().map(|neighbour| rank(*neighbour, colour)).collect();
    let inversions = (0..ranks.len()).flat_map(|at| (0..at).map(move |before| (before, at)));
    let mut odd = false;
    for (before, at) in inversions {
        match ranks[before].cmp(&ranks[at]) {
            std::cmp::Ordering::Equal => return own,
            std::cmp::Ordering::Greater => odd = !odd,
            std::cmp::Ordering::Less => {}
        }
    }
    mix(own ^ 1 ^ u64::from(odd != centre.clockwise) << 1)
}

fn of_bond(structure: &Structure, bond: &DoubleBond, colour: &impl Fn(AtomId) -> u64) -> u64 {
    let [a, b] = bond.ends;
    let own = mix(mix(colour(a)).wrapping_add(mix(colour(b))) ^ 5);
    let mut same_side = bond.same_side;
    for (end, other, reference) in [(a, b, bond.references[0]), (b, a, bond.references[1])] {
        let rival = structure.neighbours(end).map(|(atom, _)| atom).find(|atom| *atom != other && *atom != reference);
        match rival.map(|rival| colour(rival).cmp(&colour(reference))) {
            Some(std::cmp::Ordering::Equal) => return own,
            Some(std::cmp::Ordering::Greater) => same_side = !same_side,
            Some(std::cmp::Ordering::Less) | None => {}
        }
    }
    mix(own ^ 1 ^ u64::from(same_side) << 1)
}
