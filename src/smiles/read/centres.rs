//! What chirality marks mean with the neighbours that their atoms turned out to have.

use super::super::error::SmilesFault;
use super::MarkedCentre;
use crate::structure::stereo::{Centre, Geometry, Neighbour, cumulene_end};
use crate::structure::{AtomId, Structure};
use smallvec::SmallVec;

/// Says what a chirality mark means with the neighbours that the atom turned out to have.
pub(super) fn settle_centre(structure: &Structure, centre: &MarkedCentre) -> Result<Centre, SmilesFault> {
    let mut neighbours = centre.neighbours.clone();
    let has = neighbours.len();
    let plain = if has == 2 { Geometry::Allene } else { Geometry::Tetrahedral };
    let geometry = centre.mark.geometry.unwrap_or(plain);
    match geometry {
        Geometry::Tetrahedral if has == 3 => {
            // A lone pair stands where an undrawn hydrogen would: behind the atom that comes before, else first.
            let comes_first = matches!(neighbours.first(), Some(Neighbour::Atom(first)) if *first < centre.atom);
            neighbours.insert(usize::from(comes_first), Neighbour::LonePair);
        }
        Geometry::Tetrahedral if has != 4 => return Err(SmilesFault::ChiralNeighbours { needs: 4, has }),
        Geometry::Allene => {
            neighbours =
                allene_neighbours(structure, centre.atom).ok_or(SmilesFault::ChiralNeighbours { needs: 2, has })?;
        }
        _ => {}
    }
    Ok(Centre { atom: centre.atom, geometry, neighbours, clockwise: centre.mark.clockwise })
}

/// The four substituents at the two ends of the cumulene round its middle atom, as if they were the middle's neighbours.
fn allene_neighbours(structure: &Structure, middle: AtomId) -> Option<SmallVec<[Neighbour; 4]>> {
    let mut arms: SmallVec<[AtomId; 2]> = structure.neighbours(middle).map(|(next, _)| next).collect();
    arms.sort_unstable();
    let mut all = SmallVec::new();
    for arm in arms {
        let (before, end) = cumulene_end(structure, middle, arm);
        let mut own: SmallVec<[AtomId; 2]> =
            structure.neighbours(end).map(|(next, _)| next).filter(|next| *next != before).collect();
        own.sort_unstable();
        let mut listed: SmallVec<[Neighbour; 2]> = own.iter().map(|atom| Neighbour::Atom(*atom)).collect();
        if listed.len() == 1 && structure.atom(end).hydrogens == 1 {
            listed.insert(usize::from(own[0] < end), Neighbour::Hydrogen);
        }
        all.extend(listed);
    }
    (all.len() == 4).then_some(all)
}
