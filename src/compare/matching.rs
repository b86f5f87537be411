//! Correspondences of atoms where labels do not give them.

use super::correspond::{Correspond, Question, Verdict};
use super::difference::Mapping;
use super::forms::differences_in_best_forms;
use crate::structure::Structure;
use crate::structure::skeleton::Skeleton;
use std::cell::RefCell;

/// How a search for a correspondence without differences ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Search {
    /// This one.
    Found(Mapping),
    /// There is none.
    None,
    /// The step limit was met first.
    OutOfSteps,
}

/// Skeletons and searches, kept from item to item for their memory.
#[derive(Default)]
struct Bench {
    computed: Skeleton,
    stated: Skeleton,
    correspond: Correspond,
    pairs: Vec<(u32, u32)>,
}

impl Bench {
    /// Looks at two structures; `fixed` gives atoms that stand for each other.
    fn lay(&mut self, computed: &Structure, stated: &Structure, fixed: &Mapping) {
        self.computed.rebuild(computed);
        self.stated.rebuild(stated);
        self.pairs.clear();
        for (id, _) in computed.atoms() {
            let Some(other) = fixed.stated(id) else { continue };
            if !self.computed.is_folded(id) && !self.stated.is_folded(other) {
                self.pairs.push((self.computed.host(id), self.stated.host(other)));
            }
        }
    }

    fn question(&self, may_omit: bool, limit: u64) -> Question<'_> {
        Question { computed: &self.computed, stated: &self.stated, pairs: &self.pairs, may_omit, limit }
    }
}

/// The correspondence of atoms for one of nodes: the recomputed node of each stated one.
fn mapping(
    (computed, of_computed): (&Structure, &Skeleton),
    (stated, of_stated): (&Structure, &Skeleton),
    image: impl Iterator<Item = Option<u32>>,
) -> Mapping {
    let mut mapping = Mapping::new(computed, stated);
    for (node, image) in (0..).zip(image) {
        if let Some(image) = image {
            mapping.pair(of_computed.atom(image), of_stated.atom(node));
        }
    }
    mapping
}

thread_local! {
    static BENCH: RefCell<Bench> = RefCell::default();
}

/// Looks for a correspondence without differences, but for whole species left out if `may_omit`, that keeps the pairs of
/// `fixed`.
pub(super) fn equal(computed: &Structure, stated: &Structure, fixed: &Mapping, may_omit: bool, limit: u64) -> Search {
    let mut bench = BENCH.take();
    bench.lay(computed, stated, fixed);
    let mut correspond = std::mem::take(&mut bench.correspond);
    let (left, right) = ((computed, &bench.computed), (stated, &bench.stated));
    // Equal skeletons are equal drawings, but where the number of double bonds at an atom or its unpaired electrons are open.
    let is_open = [&bench.computed, &bench.stated].iter().any(|side| side.is_loose() || side.states_unpaired());
    let verdict = correspond.equal(&bench.question(may_omit, limit), |image| {
        !is_open || {
            let mapping = mapping(left, right, image.iter().map(|node| Some(*node)));
            differences_in_best_forms(computed, stated, &mapping).0.list.is_empty()
        }
    });
    let search = match verdict {
        Verdict::Equal(image) => Search::Found(mapping(left, right, image.into_iter().map(Some))),
        Verdict::Different => Search::None,
        Verdict::Undecided => Search::OutOfSteps,
    };
    bench.correspond = correspond;
    BENCH.set(bench);
    search
}

/// The correspondence with the fewest differences that was found, and whether it is known to have the fewest.
pub(super) fn closest(computed: &Structure, stated: &Structure, fixed: &Mapping, limit: u64) -> (Mapping, bool) {
    let mut bench = BENCH.take();
    bench.lay(computed, stated, fixed);
    let mut correspond = std::mem::take(&mut bench.correspond);
    let found = correspond.closest(&bench.question(true, limit));
    let mapping = mapping((computed, &bench.computed), (stated, &bench.stated), found.image.into_iter());
    bench.correspond = correspond;
    BENCH.set(bench);
    (mapping, found.smallest)
}

/// Whether two structures are the same drawing but for labels and the order of atoms; `None` where the limit was met.
#[must_use]
pub fn same_drawing(a: &Structure, b: &Structure, limit: u64) -> Option<bool> {
    match equal(a, b, &Mapping::new(a, b), false, limit) {
        Search::Found(_) => Some(true),
        Search::None => Some(false),
        Search::OutOfSteps => None,
    }
}
