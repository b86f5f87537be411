//! Drawn stereochemistry: compared under a correspondence of atoms, and as a condition on the search for one.
//!
//! Two drawings are one stereoisomer if some correspondence keeps every mark. Marks whose surroundings differ in colour
//! say the same in every correspondence, so that they are turned into colours themselves; only what is left is
//! tried out, within bounds.

mod describe;
mod search;

pub use search::{Agreeing, agreeing, idle_marks, omitting, only_omitted, same_drawing_and_stereo, without_idle_marks};

use super::difference::Mapping;
use crate::structure::{AtomId, Structure};
use describe::{Drawn, marks};
use rustc_hash::{FxHashMap, FxHashSet};

/// Where a stereo mark stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Mark {
    /// At an atom; for a cumulene at its middle atom.
    Centre(AtomId),
    /// At a double bond, its ends in ascending order.
    Bond(AtomId, AtomId),
}

impl Mark {
    /// The mark at a double bond.
    #[must_use]
    pub fn bond(a: AtomId, b: AtomId) -> Self {
        Self::Bond(a.min(b), a.max(b))
    }

    /// The atoms at which it stands.
    pub fn atoms(self) -> impl Iterator<Item = AtomId> {
        let (first, second) = match self {
            Self::Centre(atom) => (atom, None),
            Self::Bond(a, b) => (a, Some(b)),
        };
        std::iter::once(first).chain(second)
    }

    /// The same place under other atom ids.
    #[must_use]
    pub fn map(self, to: impl Fn(AtomId) -> Option<AtomId>) -> Option<Self> {
        Some(match self {
            Self::Centre(atom) => Self::Centre(to(atom)?),
            Self::Bond(a, b) => Self::bond(to(a)?, to(b)?),
        })
    }

    /// How messages call it.
    #[must_use]
    pub fn call(self, structure: &Structure) -> String {
        match self {
            Self::Centre(atom) => structure.call(atom),
            Self::Bond(a, b) => format!("double bond {}-{}", structure.call(a), structure.call(b)),
        }
    }
}

/// How a mark differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StereoChange {
    /// Both drawings have it, and they say the opposite.
    Inverted,
    /// The stated drawing lacks it.
    Dropped,
    /// Only the stated drawing has it.
    Added,
}

/// A mark of the recomputed drawing that the stated one does not have alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StereoDifference {
    /// Where, in the recomputed drawing.
    pub mark: Mark,
    /// What.
    pub change: StereoChange,
}

impl StereoDifference {
    /// In words.
    #[must_use]
    pub fn words(self, computed: &Structure) -> String {
        let what = match self.change {
            StereoChange::Inverted => "the stereochemistry is the opposite",
            StereoChange::Dropped => "the stereo mark is missing",
            StereoChange::Added => "a stereo mark is added",
        };
        format!("{}: {what}", self.mark.call(computed))
    }
}

/// Which marks are compared.
pub struct View<'a> {
    /// Whether an atom of the recomputed drawing keeps its surroundings, so that its marks can be judged.
    pub is_untouched: &'a dyn Fn(AtomId) -> bool,
    /// Marks, in the recomputed drawing, that mean nothing.
    pub ignored: &'a FxHashSet<Mark>,
}

/// The differences of marks under a correspondence: those of the recomputed drawing in its order, then added ones.
///
/// Where the surroundings of a mark themselves differ, or two of them are alike, it is not judged.
#[must_use]
pub fn stereo_differences(
    computed: &Structure,
    stated: &Structure,
    mapping: &Mapping,
    view: &View<'_>,
) -> Vec<StereoDifference> {
    let mut found = Vec::new();
    let mut of_stated: FxHashMap<Mark, Drawn<'_>> = FxHashMap::default();
    for drawn in marks(stated) {
        let judged = drawn.atoms(stated).iter().all(|atom| mapping.computed(*atom).is_some_and(view.is_untouched));
        if let Some(mark) = drawn.mark().map(|atom| mapping.computed(atom)).filter(|_| judged) {
            of_stated.insert(mark, drawn);
        }
    }
    for drawn in marks(computed) {
        let mark = drawn.mark();
        let other = of_stated.remove(&mark);
        let judged = drawn.atoms(computed).iter().all(|atom| (view.is_untouched)(*atom));
        if !judged || view.ignored.contains(&mark) || !mark.atoms().all(|atom| mapping.stated(atom).is_some()) {
            continue;
        }
        let change = match other {
            None => Some(StereoChange::Dropped),
            Some(other) => {
                let own = drawn.describe(computed, &|atom| Some(atom.index() as u64));
                let other = other.describe(stated, &|atom| Some(mapping.computed(atom)?.index() as u64));
                let opposite = matches!((own, other), (Some(own), Some(other)) if own.0 == other.0 && own.1 != other.1);
                opposite.then_some(StereoChange::Inverted)
            }
        };
        found.extend(change.map(|change| StereoDifference { mark, change }));
    }
    let mut added: Vec<Mark> = of_stated.into_keys().filter(|mark| !view.ignored.contains(mark)).collect();
    added.sort_unstable();
    found.extend(added.into_iter().map(|mark| StereoDifference { mark, change: StereoChange::Added }));
    found
}
