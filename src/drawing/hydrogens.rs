//! Hydrogens that a drawing shows though the structure only counts them: those of marked centres where rings meet.
//!
//! A wedge inside a ring is hard to read, so the recommendations for stereochemistry (IUPAC 2006, from memory) draw the
//! hydrogen of a ring fusion and give the wedge to it. Where there is no room for one, the wedge stays in the ring.

use super::canvas::TEXT;
use super::figure::{Area, Figure, Run};
use super::geometry::{Position, centroid, distance_to_segment, full_turn, gaps, segments_cross};
use super::layout;
use crate::structure::stereo::{Centre, Geometry, Neighbour};
use crate::structure::{AtomId, Structure};
use std::f64::consts::PI;

/// How far from its atom the letter stands, in bond lengths.
const REACH: f64 = 0.72;
/// How near another atom, a letter of it, or a bond may be.
const CLEAR: f64 = 0.5;
const CLEAR_OF_BONDS: f64 = 0.3;
/// Larger rings have room inside like outside.
const INSIDE: usize = 8;
/// The narrowest gap between two bonds that takes a hydrogen.
const NARROWEST: f64 = PI * 0.45;

/// A hydrogen that is drawn to carry a wedge.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hydrogen {
    /// Its atom.
    pub(super) centre: AtomId,
    pub(super) at: Position,
}

/// Finds the hydrogens of a figure and writes them.
pub(super) fn draw(figure: &mut Figure) {
    let structure = figure.structure;
    let candidates: Vec<AtomId> =
        structure.stereo.centres.iter().filter(|own| is_candidate(structure, own)).map(|own| own.atom).collect();
    if candidates.is_empty() {
        return;
    }
    let mut in_ring = vec![false; structure.bond_count()];
    let rings = layout::rings_of(structure);
    for ring in &rings {
        for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            let bond = structure.bond_between(AtomId::new(*a), AtomId::new(*b));
            if let Some(slot) = bond.and_then(|bond| in_ring.get_mut(bond.index())) {
                *slot = true;
            }
        }
    }
    for centre in candidates {
        let fused = structure.neighbours(centre).all(|(_, bond)| in_ring.get(bond.index()) == Some(&true));
        let bare = figure.writing.get(centre.index()).is_some_and(|writing| writing.runs.is_empty());
        if fused
            && bare
            && let Some(at) = place(figure, centre, &rings)
        {
            put(figure, Hydrogen { centre, at });
        }
    }
}

/// A centre of four with one undrawn hydrogen and three bonds.
fn is_candidate(structure: &Structure, centre: &Centre) -> bool {
    centre.geometry == Geometry::Tetrahedral
        && centre.neighbours.len() == 4
        && centre.neighbours.contains(&Neighbour::Hydrogen)
        && centre.atom.index() < structure.atom_count()
        && structure.degree(centre.atom) == 3
}

fn put(figure: &mut Figure, hydrogen: Hydrogen) {
    let here = figure.at(hydrogen.centre);
    let run = Run { at: hydrogen.at, size: TEXT, text: "H".to_owned() };
    if let Some(writing) = figure.writing.get_mut(hydrogen.centre.index()) {
        writing.areas.push(run.area());
        // The wedge that leads there.
        writing.areas.push(Area { middle: here + (hydrogen.at - here) * 0.62, half: Position::new(0.07, 0.07) });
        writing.runs.push(run);
    }
    figure.hydrogens.push(hydrogen);
}

/// Where a hydrogen has room: in the middle of a gap between bonds, outside rings first, the wider the better.
fn place(figure: &Figure, centre: AtomId, rings: &[Vec<usize>]) -> Option<Position> {
    let here = figure.at(centre);
    let toward = |ring: &&Vec<usize>| centroid(ring.iter().filter_map(|node| figure.points.get(*node).copied()));
    let own = rings.iter().filter(|ring| ring.len() <= INSIDE && ring.contains(&centre.index()));
    let middles: Vec<f64> = own.map(|ring| (toward(&ring) - here).angle()).collect();
    let inside = |gap: &(f64, f64)| middles.iter().any(|angle| full_turn(angle - gap.0) < gap.1);
    let mut all = gaps(&figure.bond_directions(centre));
    all.sort_by(|a, b| inside(a).cmp(&inside(b)).then(b.1.total_cmp(&a.1)));
    let spots = all.into_iter().filter(|(_, width)| *width > NARROWEST);
    spots
        .map(|(from, width)| here + Position::towards(from + width / 2.0) * REACH)
        .find(|at| is_free(figure, centre, *at))
}

fn is_free(figure: &Figure, centre: AtomId, at: Position) -> bool {
    let here = figure.at(centre);
    let half = Position::new(0.22, 0.2);
    let near_atom = |atom: AtomId| atom != centre && figure.at(atom).distance(at) < CLEAR;
    let over = figure.writing.iter().flat_map(|writing| &writing.areas).any(|area| area.meets(at, half));
    let struck = |a: AtomId, b: AtomId| {
        let (from, to) = (figure.at(a), figure.at(b));
        let own = a == centre || b == centre;
        let clear = if own { 0.25 } else { CLEAR_OF_BONDS };
        distance_to_segment(at, from, to) < clear || (!own && segments_cross(here, at, from, to))
    };
    !over && !figure.structure.atom_ids().any(near_atom) && !figure.structure.bonds().any(|(_, a, b, _)| struck(a, b))
}
