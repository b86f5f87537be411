//! The push: the sum of all arrows of one step.
//!
//! Arrows are not applied one by one. Every tail takes electrons from what the start draws, every head brings electrons to
//! its place, and what is left is the product: the reaction matrix added to the bond-electron matrix (Dugundji and Ugi,
//! Top. Curr. Chem. 1973, 39, 19). An atom's charge changes by `-(change of n) - (change of b)`.

use super::{Arrow, Place};
use crate::source::Span;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Bond, BondId, Structure};
use smallvec::SmallVec;

/// What is wrong with arrows on a start, with the number (from 0) of an arrow that shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ArrowFault {
    /// The head touches no atom of the tail.
    Detached {
        /// The arrow.
        arrow: usize,
    },
    /// There are no electrons at the tail.
    EmptyTail {
        /// The arrow.
        arrow: usize,
    },
    /// All arrows together take more electrons from a place than are there.
    Overdrawn {
        /// The last arrow that takes from the place.
        arrow: usize,
        /// Electrons taken.
        taken: i32,
        /// Electrons there.
        there: i32,
    },
    /// A bond is left with an odd number of electrons.
    UnpairedInBond {
        /// An arrow that takes from the bond or gives to it.
        arrow: usize,
        /// The bond's electrons after the step.
        left: i32,
        /// The bond.
        between: (AtomId, AtomId),
    },
}

impl ArrowFault {
    /// The arrow that shows the fault, counted from 0.
    #[must_use]
    pub fn arrow(self) -> usize {
        match self {
            Self::Detached { arrow }
            | Self::EmptyTail { arrow }
            | Self::Overdrawn { arrow, .. }
            | Self::UnpairedInBond { arrow, .. } => arrow,
        }
    }
}

impl Pushed {
    /// Whether a sigma bond is made or broken.
    #[must_use]
    pub fn moves_sigma(&self) -> bool {
        self.bonds.iter().any(|change| (change.before == 0) != (change.after == 0))
    }
}

/// A bond whose order the arrows change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BondChange {
    /// The two atoms.
    pub between: (AtomId, AtomId),
    /// Order before; 0 where there is no bond.
    pub before: u8,
    /// Order after; 0 where no bond is left.
    pub after: u8,
}

/// What a push gives: the product, or the faults of the arrows.
#[derive(Debug, Clone)]
pub struct Pushed {
    /// The recomputed product. Its atoms are those of the start.
    pub product: Structure,
    /// The bonds that change, in the order of their atoms.
    pub bonds: Vec<BondChange>,
}

/// One place and what the arrows do to it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Account {
    pub(crate) key: (AtomId, AtomId),
    pub(crate) taken: i32,
    pub(crate) given: i32,
    arrow: usize,
    taking_arrow: usize,
}

pub(crate) type Accounts = SmallVec<[Account; 12]>;

/// A place as a key: atoms in ascending order, an atom twice for its own electrons.
pub(super) fn key(place: Place<AtomId>) -> (AtomId, AtomId) {
    match place {
        Place::Atom(a) => (a, a),
        Place::Bond(a, b) => (a.min(b), a.max(b)),
    }
}

/// Sums what the arrows take from and give to each place; sorted, one account a place.
pub(crate) fn accounts(arrows: &[Arrow]) -> Accounts {
    let mut all = Accounts::new();
    for (at, arrow) in arrows.iter().enumerate() {
        let electrons = arrow.moves.electrons();
        all.push(Account { key: key(arrow.tail), taken: electrons, given: 0, arrow: at, taking_arrow: at });
        all.push(Account { key: key(arrow.head), taken: 0, given: electrons, arrow: at, taking_arrow: 0 });
    }
    all.sort_by_key(|account| account.key);
    all.dedup_by(|next, kept| {
        let same = next.key == kept.key;
        if same {
            if next.taken > 0 {
                kept.taking_arrow = next.taking_arrow;
            }
            kept.taken += next.taken;
            kept.given += next.given;
            kept.arrow = kept.arrow.max(next.arrow);
        }
        same
    });
    all
}

/// Applies arrows to a localised start, all at once.
///
/// # Errors
/// Every fault of the arrows, in the order of the places they concern; the step has no product then.
pub fn push(start: &Structure, arrows: &[Arrow]) -> Result<Pushed, Vec<ArrowFault>> {
    sum(start, arrows, detached(arrows))
}

/// As [`push`], but a head may touch no atom of its tail: electrons are carried over a distance. No arrow of a question may do
/// so; the slips of people who draw answers do.
///
/// # Errors
/// Every other fault of the arrows.
pub fn push_detached(start: &Structure, arrows: &[Arrow]) -> Result<Pushed, Vec<ArrowFault>> {
    sum(start, arrows, Vec::new())
}

fn sum(start: &Structure, arrows: &[Arrow], mut faults: Vec<ArrowFault>) -> Result<Pushed, Vec<ArrowFault>> {
    let accounts = accounts(arrows);
    for account in &accounts {
        faults.extend(check(electrons_there(start, account.key), account));
    }
    if !faults.is_empty() {
        faults.sort_by_key(|fault| fault.arrow());
        return Err(faults);
    }
    Ok(apply(start, &accounts))
}

/// The sum of arrows whatever their tails find: for arrows that have been shown to find it one after the other.
pub(super) fn sum_of(start: &Structure, arrows: &[Arrow]) -> Pushed {
    apply(start, &accounts(arrows))
}

fn detached(arrows: &[Arrow]) -> Vec<ArrowFault> {
    let numbered = arrows.iter().enumerate();
    numbered.filter(|(_, arrow)| is_detached(arrow)).map(|(arrow, _)| ArrowFault::Detached { arrow }).collect()
}

/// Whether the head touches no atom of the tail.
pub(super) fn is_detached(arrow: &Arrow) -> bool {
    !arrow.head.atoms().any(|atom| arrow.tail.touches(atom))
}

/// The electrons of a place of the start; `None` where they are not judged.
pub(super) fn electrons_there(start: &Structure, (a, b): (AtomId, AtomId)) -> Option<i32> {
    if a == b {
        return Electrons::of(start, a).non_bonding();
    }
    Some(2 * start.bond_between(a, b).map_or(0, |bond| i32::from(start.bond(bond).order)))
}

/// Holds what is taken from a place and given to it against the electrons that are there. Atoms whose electrons are not
/// judged never run out of them.
pub(crate) fn check(there: Option<i32>, account: &Account) -> Option<ArrowFault> {
    let (a, b) = account.key;
    let there = there.unwrap_or(i32::MAX);
    // A place that no tail takes from may hold fewer electrons than none where the start is drawn so.
    if account.taken > 0 && there <= 0 {
        return Some(ArrowFault::EmptyTail { arrow: account.taking_arrow });
    }
    if account.taken > there.max(0) {
        return Some(ArrowFault::Overdrawn { arrow: account.taking_arrow, taken: account.taken, there });
    }
    if a == b {
        return None;
    }
    let left = there - account.taken + account.given;
    let odd = left % 2 != 0;
    odd.then_some(ArrowFault::UnpairedInBond { arrow: account.arrow, left, between: (a, b) })
}

fn apply(start: &Structure, accounts: &[Account]) -> Pushed {
    let bonds: Vec<BondChange> = accounts.iter().filter_map(|account| change_of_bond(start, account)).collect();
    let broken = bonds.iter().filter(|change| change.after == 0);
    let broken: SmallVec<[BondId; 4]> =
        broken.filter_map(|change| start.bond_between(change.between.0, change.between.1)).collect();
    let mut product = start.copy_without(&broken, bonds.len() - broken.len());
    let mut changes = bonds.iter();
    for account in accounts {
        let (a, b) = account.key;
        let less = account.taken - account.given;
        if a == b {
            add_charge(&mut product, a, less);
        } else if less != 0
            && let Some(change) = changes.next()
        {
            add_charge(&mut product, a, less / 2);
            add_charge(&mut product, b, less / 2);
            draw_bond(&mut product, change);
        }
    }
    product.drop_broken_bonds();
    let touched = |atom: AtomId| accounts.iter().any(|account| account.key.0 == atom || account.key.1 == atom);
    product.stereo.centres.retain(|centre| !touched(centre.atom));
    product.stereo.double_bonds.retain(|bond| !bond.ends.iter().any(|end| touched(*end)));
    for account in accounts {
        for atom in [account.key.0, account.key.1] {
            settle_unpaired(&mut product, atom);
        }
    }
    Pushed { product, bonds }
}

fn add_charge(product: &mut Structure, atom: AtomId, change: i32) {
    let charge = &mut product.atom_mut(atom).charge;
    *charge = (i32::from(*charge) + change).clamp(i32::from(i16::MIN), i32::from(i16::MAX)) as i16;
}

/// What an account makes of a bond, if it is one of a bond that changes.
fn change_of_bond(start: &Structure, account: &Account) -> Option<BondChange> {
    let (a, b) = account.key;
    if a == b || account.given == account.taken {
        return None;
    }
    let before = start.bond_between(a, b).map_or(0, |bond| start.bond(bond).order);
    let after = i32::from(before) + (account.given - account.taken) / 2;
    Some(BondChange { between: (a, b), before, after: after.clamp(0, i32::from(u8::MAX)) as u8 })
}

/// Draws a bond as it is after the step; one that is broken is gone already.
fn draw_bond(product: &mut Structure, change: &BondChange) {
    let BondChange { between: (a, b), after, .. } = *change;
    if after == 0 {
        return;
    }
    match product.bond_between(a, b) {
        Some(bond) => *product.bond_mut(bond) = Bond::new(after),
        None => {
            product.add_bond(a, b, Bond::new(after), Span::default());
        }
    }
}

/// A stated number of unpaired electrons stays only where the new count still allows it.
fn settle_unpaired(product: &mut Structure, atom: AtomId) {
    let Some(stated) = product.atom(atom).unpaired else { return };
    let n = Electrons::of(product, atom).non_bonding().unwrap_or(0);
    let stated = i32::from(stated);
    if stated > n || (n - stated) % 2 != 0 {
        product.atom_mut(atom).unpaired = None;
    }
}
