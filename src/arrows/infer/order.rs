//! The order in which arrows are given: as a chemist writes them.

use super::super::chains::chains;
use super::super::{Arrow, AtomName, DrawnArrow, Moves, Place};
use super::NoArrows;
use crate::source::Span;
use crate::structure::canon::{fingerprint, mix};
use crate::structure::skeleton::Skeleton;
use crate::structure::{Atom, AtomId, Bond, Element, Structure};

/// Atoms that symmetry may look at, over all ways.
const WORK: usize = 1 << 20;

/// Sorts ways, conventional ones first, and keeps one of those that a symmetry of the start exchanges.
///
/// Common practice, no source: few strings that close on themselves, few sigma bonds that are broken only to be made again.
pub(super) fn distinct(start: &Structure, ways: Vec<Vec<Arrow>>, most: usize) -> Vec<Vec<Arrow>> {
    let few = (WORK / start.atom_count().max(1)).max(1);
    let mut ranked: Vec<(Rank, Vec<Arrow>)> = ways.into_iter().take(few).map(|way| ranked(start, &way)).collect();
    ranked.sort_unstable();
    // Only ways through the same elements can be exchanged by a symmetry.
    let through = |way: &[Arrow]| elements(start, way);
    let mut all: Vec<u64> = ranked.iter().map(|(_, way)| through(way)).collect();
    all.sort_unstable();
    let is_alone =
        |own: u64| all.partition_point(|other| *other <= own) - all.partition_point(|other| *other < own) < 2;
    let mut seen = Vec::new();
    let mut kept = Vec::new();
    for (_, way) in ranked {
        if kept.len() == most {
            break;
        }
        if is_alone(through(&way)) {
            kept.push(way);
            continue;
        }
        let print = print(start, &way);
        if !seen.contains(&print) {
            seen.push(print);
            kept.push(way);
        }
    }
    kept
}

/// The elements of the atoms at which arrows begin and end, in any order, as one number.
fn elements(start: &Structure, way: &[Arrow]) -> u64 {
    let place = |place: Place<AtomId>| {
        let atoms = place.atoms().map(|atom| mix(u64::from(start.atom(atom).element.number()) + 1));
        atoms.fold(0_u64, u64::wrapping_add)
    };
    let arrow = |arrow: &Arrow| mix(place(arrow.tail) ^ mix(place(arrow.head)).wrapping_add(arrow.moves as u64));
    way.iter().map(arrow).fold(0, u64::wrapping_add)
}

/// Strings that close on themselves, sigma bonds broken and made again, and the atoms in the order of the strings.
type Rank = (usize, usize, Vec<Vec<AtomId>>);

/// A way with its rank, written string after string: each from its first tail to its last head; strings that start at a lone pair
/// first.
fn ranked(start: &Structure, way: &[Arrow]) -> (Rank, Vec<Arrow>) {
    let mut strings = chains(way);
    let closed = strings.iter().filter(|string| string.is_closed()).count();
    let atoms = strings.iter().map(|string| string.atoms.clone()).collect();
    let first = |arrows: &[usize]| arrows.first().and_then(|at| way.get(*at)).copied();
    strings.sort_by_key(|string| {
        let arrow = first(&string.arrows);
        let from_pair = arrow.is_some_and(|arrow| matches!(arrow.tail, Place::Atom(_)));
        (string.is_closed(), !from_pair, arrow)
    });
    let mut order: Vec<usize> = strings.into_iter().flat_map(|string| string.arrows).collect();
    order.extend((0..way.len()).filter(|at| !order.contains(at)).collect::<Vec<_>>());
    let written = order.into_iter().filter_map(|at| way.get(at)).copied().collect();
    ((closed, sigma_tails(start, way), atoms), written)
}

/// Tails at single bonds to which another arrow brings electrons back.
fn sigma_tails(start: &Structure, way: &[Arrow]) -> usize {
    let is_single = |place: Place<AtomId>| match place {
        Place::Bond(a, b) => start.bond_between(a, b).is_some_and(|bond| start.bond(bond).order == 1),
        Place::Atom(_) => false,
    };
    way.iter().filter(|arrow| is_single(arrow.tail) && way.iter().any(|other| other.head == arrow.tail)).count()
}

/// A number that a renumbering of the start cannot change: of the drawing with its arrows drawn in as atoms of no element.
fn print(start: &Structure, way: &[Arrow]) -> u128 {
    let mut drawing = start.clone();
    drawing.clear_labels();
    drawing.stereo = crate::structure::stereo::Stereo::default();
    for arrow in way {
        let kind = if arrow.moves == Moves::Pair { 1 } else { 2 };
        let mut end = |place: Place<AtomId>, mark: u16| {
            let node = drawing.add_atom(Atom { isotope: Some(mark), ..Atom::new(Element::ANY) }, Span::default());
            for atom in place.atoms() {
                drawing.add_bond(node, atom, Bond::new(1), Span::default());
            }
            node
        };
        let (tail, head) = (end(arrow.tail, kind), end(arrow.head, 3));
        drawing.add_bond(tail, head, Bond::new(2), Span::default());
    }
    fingerprint(&Skeleton::new(&drawing))
}

/// Arrows in the notation, by the labels of the start.
///
/// # Errors
/// [`NoArrows::NoLabel`] if an arrow is at an atom without one.
pub fn drawn(start: &Structure, arrows: &[Arrow]) -> Result<Vec<DrawnArrow>, NoArrows> {
    let name = |atom: AtomId| {
        let label = start.label(atom).ok_or_else(|| NoArrows::NoLabel(start.call(atom)))?;
        Ok(AtomName { label, hydrogen: None, span: Span::default() })
    };
    let place = |place: Place<AtomId>| {
        Ok(match place {
            Place::Atom(a) => Place::Atom(name(a)?),
            Place::Bond(a, b) => Place::Bond(name(a)?, name(b)?),
        })
    };
    let arrow = |arrow: &Arrow| {
        Ok(DrawnArrow { moves: arrow.moves, tail: place(arrow.tail)?, head: place(arrow.head)?, span: Span::default() })
    };
    arrows.iter().map(arrow).collect()
}
