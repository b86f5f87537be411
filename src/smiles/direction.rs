//! Bond directions `/` and `\`: from marks on single bonds to the sides of double bonds.

use super::error::{SmilesError, SmilesFault};
use crate::source::Span;
use crate::structure::stereo::DoubleBond;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

/// A direction mark: `/` says that `to` lies above `from`.
pub(super) struct Direction {
    pub(super) from: AtomId,
    pub(super) to: AtomId,
    pub(super) up: bool,
    pub(super) span: Span,
}

/// A mark seen from one end of a double bond: the neighbour and whether it lies above the end.
type Seen = (AtomId, bool, usize);

/// Works out the marked double bonds of a structure.
pub(super) fn double_bonds(
    structure: &mut Structure,
    directions: &[Direction],
    relaxed: bool,
    faults: &mut Vec<SmilesError>,
) {
    let seen_from = seen_from(directions);
    let mut used = vec![false; directions.len()];
    let mut beside = vec![false; directions.len()];
    let mut found = Vec::new();
    for (_, a, b, bond) in structure.bonds() {
        if bond.order != 2 || bond.aromatic {
            continue;
        }
        let none = SmallVec::new();
        let (at_a, at_b) = (seen_from.get(&a).unwrap_or(&none), seen_from.get(&b).unwrap_or(&none));
        for (_, _, mark) in at_a.iter().chain(at_b) {
            beside[*mark] = true;
        }
        // Two marks at one end say something of this bond only where the other end has one too: the carbonyl of
        // O=C(/C=C/F)/C=C/F lies between two marked bonds and is none.
        let marked = !at_a.is_empty() && !at_b.is_empty();
        for marks in [at_a, at_b].into_iter().filter(|_| marked) {
            if let Some(at) = contradiction(marks) {
                faults.push(SmilesError { span: directions[at].span, fault: SmilesFault::DirectionsContradict });
            }
        }
        if let (Some(left), Some(right)) = (at_a.first(), at_b.first()) {
            for (_, _, mark) in at_a.iter().chain(at_b) {
                used[*mark] = true;
            }
            let same_side = left.1 == right.1;
            found.push(DoubleBond { ends: [a, b], references: [left.0, right.0], same_side });
        }
    }
    structure.stereo.double_bonds = found;
    for (at, mark) in directions.iter().enumerate() {
        if used[at] {
            continue;
        }
        if beside[at] && !relaxed {
            faults.push(SmilesError { span: mark.span, fault: SmilesFault::DirectionAlone });
        } else {
            structure.stereo.idle_marks.push(mark.span);
        }
    }
}

/// The marks at each atom, as seen from it.
fn seen_from(directions: &[Direction]) -> FxHashMap<AtomId, SmallVec<[Seen; 2]>> {
    let mut seen_from: FxHashMap<AtomId, SmallVec<[Seen; 2]>> = FxHashMap::default();
    for (at, mark) in directions.iter().enumerate() {
        seen_from.entry(mark.from).or_default().push((mark.to, mark.up, at));
        seen_from.entry(mark.to).or_default().push((mark.from, !mark.up, at));
    }
    seen_from
}

/// Two neighbours of one end on the same side, or one neighbour on both.
fn contradiction(marks: &[Seen]) -> Option<usize> {
    let (first, rest) = marks.split_first()?;
    rest.iter().find(|mark| (mark.1 == first.1) != (mark.0 == first.0)).map(|mark| mark.2)
}
