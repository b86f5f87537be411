//! What a stereo mark says, in a form that does not depend on the order in which a notation lists things.
//!
//! Surroundings are turned into tokens by a key for atoms: a number under which atoms of both drawings stand for each
//! other, or a colour. Sorted tokens and one bit then say everything: the bit is the parity of the way from the listed to
//! the sorted order (exchanging two neighbours of a tetrahedron inverts it), or whether the greatest tokens of the two ends
//! of a double bond lie on one side.

use super::Mark;
use crate::compare::difference::is_folded;
use crate::structure::stereo::{Centre, DoubleBond, Geometry, Neighbour, cumulene_end};
use crate::structure::{AtomId, Structure};
use smallvec::SmallVec;

/// A neighbour as it can be compared: its kind and the key of the atom, for a hydrogen that of the atom that carries it.
pub(super) type Token = (u8, u64);

const NODE: u8 = 0;
const HYDROGEN: u8 = 1;
const LONE_PAIR: u8 = 2;

/// A mark with what it refers to.
#[derive(Debug, Clone, Copy)]
pub(super) enum Drawn<'a> {
    Centre(&'a Centre),
    Bond(&'a DoubleBond),
}

/// The marks of a drawing that can be compared, in its order: all but square planar and higher ones.
pub(super) fn marks(structure: &Structure) -> impl Iterator<Item = Drawn<'_>> {
    let centres = structure.stereo.centres.iter().filter(|centre| !matches!(centre.geometry, Geometry::Other(..)));
    centres.map(Drawn::Centre).chain(structure.stereo.double_bonds.iter().map(Drawn::Bond))
}

impl Drawn<'_> {
    /// Where the mark stands.
    pub(super) fn mark(self) -> Mark {
        match self {
            Self::Centre(centre) => Mark::Centre(centre.atom),
            Self::Bond(bond) => Mark::bond(bond.ends[0], bond.ends[1]),
        }
    }

    /// The atoms whose arrows would leave the mark without meaning.
    pub(super) fn atoms(self, structure: &Structure) -> SmallVec<[AtomId; 3]> {
        match self {
            Self::Centre(centre) if centre.geometry == Geometry::Allene => {
                let mut atoms = SmallVec::from_slice(&[centre.atom]);
                atoms.extend(cumulene_ends(structure, centre.atom));
                atoms
            }
            Self::Centre(centre) => SmallVec::from_slice(&[centre.atom]),
            Self::Bond(bond) => SmallVec::from_slice(&bond.ends),
        }
    }

    /// The sorted tokens of the surroundings, and the bit. `None` where an atom has no key or two neighbours have one.
    pub(super) fn describe(
        self,
        structure: &Structure,
        key: &dyn Fn(AtomId) -> Option<u64>,
    ) -> Option<(SmallVec<[Token; 6]>, bool)> {
        match self {
            Self::Centre(centre) => describe_centre(structure, centre, key),
            Self::Bond(bond) => describe_bond(structure, bond, key),
        }
    }
}

fn describe_centre(
    structure: &Structure,
    centre: &Centre,
    key: &dyn Fn(AtomId) -> Option<u64>,
) -> Option<(SmallVec<[Token; 6]>, bool)> {
    let ends = match centre.geometry {
        Geometry::Allene => {
            let ends: SmallVec<[AtomId; 2]> = cumulene_ends(structure, centre.atom).collect();
            [*ends.first()?, *ends.get(1)?]
        }
        _ => [centre.atom; 2],
    };
    let mut tokens: SmallVec<[Token; 6]> = SmallVec::new();
    for (at, neighbour) in centre.neighbours.iter().enumerate() {
        tokens.push(match neighbour {
            Neighbour::Atom(atom) => atom_token(structure, *atom, key)?,
            Neighbour::Hydrogen => (HYDROGEN, key(end_of_pair(structure, centre, ends, at))?),
            Neighbour::LonePair => (LONE_PAIR, key(centre.atom)?),
        });
    }
    let inversions = (0..tokens.len())
        .flat_map(|first| (first + 1..tokens.len()).map(move |second| (first, second)))
        .filter(|(first, second)| tokens[*first] > tokens[*second])
        .count();
    sort_distinct(&mut tokens)?;
    Some((tokens, centre.clockwise ^ (inversions % 2 == 1)))
}

/// The end of a cumulene that carries the hydrogen listed at a place: the one that its listed partner is bonded to.
fn end_of_pair(structure: &Structure, centre: &Centre, ends: [AtomId; 2], at: usize) -> AtomId {
    let partner = centre.neighbours.get(at ^ 1);
    let bonded =
        |end: &AtomId| matches!(partner, Some(Neighbour::Atom(atom)) if structure.bond_between(*end, *atom).is_some());
    ends.into_iter().find(bonded).unwrap_or(ends[at / 2 % 2])
}

fn describe_bond(
    structure: &Structure,
    bond: &DoubleBond,
    key: &dyn Fn(AtomId) -> Option<u64>,
) -> Option<(SmallVec<[Token; 6]>, bool)> {
    let mut same_side = bond.same_side;
    let mut ends: SmallVec<[(u64, SmallVec<[Token; 6]>); 2]> = SmallVec::new();
    for (end, reference) in bond.ends.into_iter().zip(bond.references) {
        let other = if end == bond.ends[0] { bond.ends[1] } else { bond.ends[0] };
        let mut around: SmallVec<[Token; 6]> = SmallVec::new();
        for (next, via) in structure.neighbours(end) {
            let is_axis = next == other || (structure.bond(via).order == 2 && next != reference);
            if !is_axis {
                around.push(atom_token(structure, next, key)?);
            }
        }
        if structure.atom(end).hydrogens > 0 {
            let carrier = key(end)?;
            around.extend((0..structure.atom(end).hydrogens).map(|_| (HYDROGEN, carrier)));
        }
        let named = atom_token(structure, reference, key)?;
        sort_distinct(&mut around)?;
        if around.len() > 2 {
            return None;
        }
        if !around.contains(&named) {
            return None;
        }
        same_side ^= around.last() != Some(&named);
        ends.push((key(end)?, around));
    }
    ends.sort_unstable();
    let tokens = ends.into_iter().flat_map(|(_, around)| around).collect();
    Some((tokens, same_side))
}

fn atom_token(structure: &Structure, atom: AtomId, key: &dyn Fn(AtomId) -> Option<u64>) -> Option<Token> {
    if !is_folded(structure, atom) {
        return Some((NODE, key(atom)?));
    }
    let (carrier, _) = structure.neighbours(atom).next()?;
    Some((HYDROGEN, key(carrier)?))
}

fn sort_distinct(tokens: &mut SmallVec<[Token; 6]>) -> Option<()> {
    tokens.sort_unstable();
    tokens.windows(2).all(|pair| pair[0] != pair[1]).then_some(())
}

/// The two ends of the cumulene whose middle atom is given, those drawn first first.
fn cumulene_ends(structure: &Structure, middle: AtomId) -> impl Iterator<Item = AtomId> {
    let mut arms: SmallVec<[AtomId; 4]> = structure
        .neighbours(middle)
        .filter(|(_, bond)| structure.bond(*bond).order == 2)
        .map(|(next, _)| next)
        .collect();
    arms.sort_unstable();
    arms.into_iter().map(move |arm| cumulene_end(structure, middle, arm).1)
}
