//! Drawn stereochemistry: centres and double bonds with marks, as parities that do not depend on the notation.

use super::{AtomId, Structure};
use crate::source::Span;
use smallvec::SmallVec;

/// A neighbour of a centre, in the order in which the notation lists it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Neighbour {
    /// A drawn atom.
    Atom(AtomId),
    /// The undrawn hydrogen.
    Hydrogen,
    /// The place of a lone pair or of nothing (sulfoxides, phosphines).
    LonePair,
}

/// The geometries that SMILES has marks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Geometry {
    /// Four neighbours round an atom (`@`, `@TH1`).
    Tetrahedral,
    /// Extended tetrahedral: four neighbours round an even cumulene (`@AL1`). `atom` of the centre is the middle atom.
    Allene,
    /// Square planar, trigonal bipyramidal and octahedral marks: kept with their class and number, never compared.
    Other([u8; 2], u8),
}

/// A marked centre. Seen from the first neighbour the others run clockwise or anticlockwise in the listed order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Centre {
    /// The centre.
    pub atom: AtomId,
    /// What surrounds it.
    pub geometry: Geometry,
    /// Its neighbours in the order of the notation.
    pub neighbours: SmallVec<[Neighbour; 4]>,
    /// Whether the later neighbours run clockwise seen from the first.
    pub clockwise: bool,
}

/// A marked double bond: the reference neighbours of its two ends lie on the same side or on opposite sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DoubleBond {
    /// The two ends.
    pub ends: [AtomId; 2],
    /// A drawn neighbour of each end.
    pub references: [AtomId; 2],
    /// Whether the references lie on the same side.
    pub same_side: bool,
}

/// All marks of one drawing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Stereo {
    /// Marked centres in the order of the drawing.
    pub centres: Vec<Centre>,
    /// Marked double bonds in the order of the drawing.
    pub double_bonds: Vec<DoubleBond>,
    /// Where marks are written that cannot mean anything (a bond direction with no double bond beside it).
    pub idle_marks: Vec<Span>,
}

impl Stereo {
    /// Whether nothing is marked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.centres.is_empty() && self.double_bonds.is_empty()
    }

    /// The marks under other atom ids; a mark that names an atom without a new id is dropped.
    #[must_use]
    pub fn renumbered(&self, new_id: impl Fn(AtomId) -> Option<AtomId>) -> Self {
        let centre = |centre: &Centre| {
            let neighbours: Option<SmallVec<[Neighbour; 4]>> = centre
                .neighbours
                .iter()
                .map(|neighbour| match neighbour {
                    Neighbour::Atom(atom) => new_id(*atom).map(Neighbour::Atom),
                    other => Some(*other),
                })
                .collect();
            Some(Centre { atom: new_id(centre.atom)?, neighbours: neighbours?, ..*centre })
        };
        let double_bond = |bond: &DoubleBond| {
            Some(DoubleBond {
                ends: [new_id(bond.ends[0])?, new_id(bond.ends[1])?],
                references: [new_id(bond.references[0])?, new_id(bond.references[1])?],
                same_side: bond.same_side,
            })
        };
        Self {
            centres: self.centres.iter().filter_map(centre).collect(),
            double_bonds: self.double_bonds.iter().filter_map(double_bond).collect(),
            idle_marks: self.idle_marks.clone(),
        }
    }
}

/// The end of a cumulene to which an arm of one of its atoms leads along double bonds, behind the atom before it.
pub(crate) fn cumulene_end(structure: &Structure, middle: AtomId, arm: AtomId) -> (AtomId, AtomId) {
    let (mut before, mut end) = (middle, arm);
    // Each atom is passed once.
    for _ in 0..structure.atom_count() {
        let onward = structure.neighbours(end).find(|(next, bond)| *next != before && structure.bond(*bond).order == 2);
        let Some((next, _)) = onward else { break };
        (before, end) = (end, next);
    }
    (before, end)
}
