//! Wedges and hatches, read with the coordinates.
//!
//! A wedge points to the viewer, a hatch away, both from their narrow end, which is the stereocentre (Graphical representation of
//! stereochemical configuration, IUPAC Recommendations 2006, doi 10.1351/pac200678101897). Seen from a wedged neighbour the
//! others run as they run on the paper, seen from a hatched one the other way round. With three drawn neighbours the fourth
//! ligand lies on the other side of the paper; a mark between two bonds that open to 180 degrees or more is ambiguous by the
//! same recommendations, and means nothing here.

use super::rows::AtomRow;
use crate::structure::electrons::Electrons;
use crate::structure::stereo::{Centre, Geometry, Neighbour};
use crate::structure::{AtomId, Structure};
use smallvec::SmallVec;
use std::cmp::Ordering;

/// A neighbour and the direction to it.
#[derive(Debug, Clone, Copy)]
struct Spoke {
    atom: AtomId,
    x: i128,
    y: i128,
}

impl Spoke {
    fn cross(self, other: Self) -> i128 {
        self.x * other.y - self.y * other.x
    }

    /// Anticlockwise from the right.
    fn by_angle(&self, other: &Self) -> Ordering {
        let lower = |spoke: &Self| spoke.y < 0 || (spoke.y == 0 && spoke.x < 0);
        lower(self).cmp(&lower(other)).then_with(|| other.cross(*self).cmp(&0))
    }
}

/// The centre that wedges (neighbour, whether it points to the viewer) make of an atom, or why they make none.
pub(super) fn centre(
    structure: &Structure,
    rows: &[AtomRow],
    atom: AtomId,
    marks: &[(AtomId, bool)],
) -> Result<Centre, &'static str> {
    let spokes = spokes(structure, rows, atom)?;
    let undrawn = match spokes.len() {
        4 => None,
        3 => Some(undrawn_neighbour(structure, atom)?),
        _ => return Err("the atom at the narrow end has not three or four drawn neighbours"),
    };
    let mut found: Option<Centre> = None;
    for (neighbour, towards) in marks {
        let Some(at) = spokes.iter().position(|spoke| spoke.atom == *neighbour) else { continue };
        let mut order = spokes.clone();
        order.rotate_left(at);
        let Some(centre) = read(atom, &order, *towards, undrawn) else { continue };
        match &found {
            None => found = Some(centre),
            Some(first) if agree(first, &centre) => {}
            Some(_) => return Err("the wedges at the atom contradict each other"),
        }
    }
    found.ok_or("the wedge lies between bonds that open to 180 degrees or more, which is ambiguous")
}

/// The drawn neighbours, anticlockwise.
fn spokes(structure: &Structure, rows: &[AtomRow], atom: AtomId) -> Result<SmallVec<[Spoke; 4]>, &'static str> {
    const NO_PLACE: &str = "a wedge says nothing without x2 and y2 of the atom and its neighbours";
    let point = |id: AtomId| {
        let row = rows.get(id.index())?;
        Some((i128::from(row.x?), i128::from(row.y?)))
    };
    let (x, y) = point(atom).ok_or(NO_PLACE)?;
    let mut spokes: SmallVec<[Spoke; 4]> = SmallVec::new();
    for (neighbour, _) in structure.neighbours(atom) {
        let (to_x, to_y) = point(neighbour).ok_or(NO_PLACE)?;
        spokes.push(Spoke { atom: neighbour, x: to_x - x, y: to_y - y });
    }
    spokes.sort_by(Spoke::by_angle);
    let same = |a: &Spoke, b: &Spoke| a.by_angle(b) == Ordering::Equal;
    if spokes.iter().any(|spoke| spoke.x == 0 && spoke.y == 0) || spokes.windows(2).any(|pair| same(&pair[0], &pair[1]))
    {
        return Err("two bonds of the atom lie on each other");
    }
    Ok(spokes)
}

/// Reads one mark at the first spoke.
fn read(atom: AtomId, order: &[Spoke], towards: bool, undrawn: Option<Neighbour>) -> Option<Centre> {
    let mut neighbours: SmallVec<[Neighbour; 4]> = SmallVec::new();
    // Anticlockwise on the paper, so anticlockwise seen from a wedge, clockwise from a hatch; an undrawn neighbour
    // sees what the side opposite to the mark sees.
    let clockwise = match undrawn {
        None => !towards,
        Some(undrawn) => {
            let [_, after, last] = order else { return None };
            if after.cross(*last) <= 0 {
                return None;
            }
            neighbours.push(undrawn);
            towards
        }
    };
    neighbours.extend(order.iter().map(|spoke| Neighbour::Atom(spoke.atom)));
    Some(Centre { atom, geometry: Geometry::Tetrahedral, neighbours, clockwise })
}

/// Whether two readings of one atom say the same: the same sense, up to the exchanges that lead from one order to the other.
fn agree(a: &Centre, b: &Centre) -> bool {
    let mut order: SmallVec<[Neighbour; 4]> = b.neighbours.clone();
    let mut turned = false;
    for at in 0..order.len() {
        let Some(wanted) = a.neighbours.get(at) else { return false };
        let Some(found) = order.iter().position(|neighbour| neighbour == wanted) else { return false };
        if found != at {
            order.swap(at, found);
            turned = !turned;
        }
    }
    a.clockwise == (b.clockwise != turned)
}

/// The place that is left at an atom with three drawn neighbours: its hydrogen, or a lone pair.
pub(crate) fn undrawn_neighbour(structure: &Structure, atom: AtomId) -> Result<Neighbour, &'static str> {
    let pair = Electrons::of(structure, atom).non_bonding().is_some_and(|n| n >= 2);
    match structure.atom(atom).hydrogens {
        1 => Ok(Neighbour::Hydrogen),
        0 if pair => Ok(Neighbour::LonePair),
        0 => Err("the atom has three neighbours and nothing else"),
        _ => Err("the atom has several undrawn hydrogens"),
    }
}
