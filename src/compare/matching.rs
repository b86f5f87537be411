//! Correspondences of atoms where labels do not give them.

use super::correspond::{Correspond, Question, Verdict};
use super::difference::Mapping;
use super::forms::differences_in_best_forms;
use super::tally;
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

/// Numbers that tell nodes apart beyond what their drawings do; equal ones only may stand for each other.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seeds<'a> {
    pub(super) computed: &'a [(u32, u64)],
    pub(super) stated: &'a [(u32, u64)],
}

/// Skeletons and searches, kept from item to item for their memory.
#[derive(Default)]
struct Bench {
    sides: Sides,
    correspond: Correspond,
}

/// Both drawings as they are compared.
#[derive(Default)]
struct Sides {
    computed: Skeleton,
    stated: Skeleton,
    pairs: Vec<(u32, u32)>,
}

impl Sides {
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

    fn question<'a>(&'a self, seeds: Seeds<'a>, may_omit: bool, limit: u64) -> Question<'a> {
        let Seeds { computed: of_computed, stated: of_stated } = seeds;
        let seeds = [of_computed, of_stated];
        Question { computed: &self.computed, stated: &self.stated, pairs: &self.pairs, seeds, may_omit, limit }
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
    static BENCH: RefCell<Option<Box<Bench>>> = RefCell::default();
}

/// Looks for a correspondence without differences, but for whole species left out if `may_omit`, that keeps the pairs of
/// `fixed`.
pub(super) fn equal(computed: &Structure, stated: &Structure, fixed: &Mapping, may_omit: bool, limit: u64) -> Search {
    find(computed, stated, fixed, Seeds::default(), may_omit, limit, None)
}

/// As [`equal`], for a correspondence that pleases `accept` as well; others are tried until one does.
pub(super) fn find(
    computed: &Structure,
    stated: &Structure,
    fixed: &Mapping,
    seeds: Seeds<'_>,
    may_omit: bool,
    limit: u64,
    accept: Option<&mut dyn FnMut(&Mapping) -> bool>,
) -> Search {
    if tally::differ(computed, stated, may_omit) {
        return Search::None;
    }
    laid(computed, stated, fixed, |bench| bench.find(computed, stated, seeds, may_omit, limit, accept))
}

/// As [`equal`] where species may be left out, for drawings that sums do not tell apart.
pub(super) fn equal_beyond_sums(computed: &Structure, stated: &Structure, fixed: &Mapping, limit: u64) -> Search {
    laid(computed, stated, fixed, |bench| bench.find(computed, stated, Seeds::default(), true, limit, None))
}

/// The correspondence that explains an answer best.
pub(super) enum Best {
    /// One without differences, but for whole species left out.
    Equal(Mapping),
    /// The one with the fewest differences that was found.
    Closest {
        mapping: Mapping,
        /// Whether it is known to have the fewest.
        smallest: bool,
        /// Whether it is known that there are differences.
        differ: bool,
    },
}

/// What [`equal`] finds where species may be left out; where that is nothing, the correspondence with the fewest differences.
pub(super) fn best(computed: &Structure, stated: &Structure, fixed: &Mapping, limit: u64) -> Best {
    laid(computed, stated, fixed, |bench| {
        let differ = tally::differ(computed, stated, true)
            || match bench.find(computed, stated, Seeds::default(), true, limit, None) {
                Search::Found(mapping) => return Best::Equal(mapping),
                Search::None => true,
                Search::OutOfSteps => false,
            };
        let Bench { sides, correspond } = bench;
        let found = correspond.closest(&sides.question(Seeds::default(), true, limit), differ);
        let mapping = mapping((computed, &sides.computed), (stated, &sides.stated), found.image.into_iter());
        Best::Closest { mapping, smallest: found.smallest, differ }
    })
}

/// Does some work on a bench on which two drawings and their fixed pairs are laid.
fn laid<R>(computed: &Structure, stated: &Structure, fixed: &Mapping, work: impl FnOnce(&mut Bench) -> R) -> R {
    // A search within a search takes another bench.
    let mut bench = BENCH.take().unwrap_or_default();
    bench.sides.lay(computed, stated, fixed);
    let result = work(&mut bench);
    BENCH.set(Some(bench));
    result
}

impl Bench {
    /// As [`find`](self::find), of what has been laid here.
    fn find(
        &mut self,
        computed: &Structure,
        stated: &Structure,
        seeds: Seeds<'_>,
        may_omit: bool,
        limit: u64,
        mut accept: Option<&mut dyn FnMut(&Mapping) -> bool>,
    ) -> Search {
        let Self { sides, correspond } = self;
        let (left, right) = ((computed, &sides.computed), (stated, &sides.stated));
        // Equal skeletons are equal drawings, but where the number of double bonds at an atom or its unpaired electrons are open.
        let is_open = [&sides.computed, &sides.stated].iter().any(|side| side.is_loose() || side.states_unpaired());
        let verdict = correspond.equal(&sides.question(seeds, may_omit, limit), |image| {
            if !is_open && accept.is_none() {
                return true;
            }
            let mapping = mapping(left, right, image.iter().map(|node| Some(*node)));
            (!is_open || differences_in_best_forms(computed, stated, &mapping).0.list.is_empty())
                && accept.as_mut().is_none_or(|accept| accept(&mapping))
        });
        match verdict {
            Verdict::Equal(image) => Search::Found(mapping(left, right, image.into_iter().map(Some))),
            Verdict::Different => Search::None,
            Verdict::Undecided => Search::OutOfSteps,
        }
    }
}

/// A correspondence without differences, whatever the labels.
#[must_use]
pub fn correspondence(a: &Structure, b: &Structure, limit: u64) -> Search {
    equal(a, b, &Mapping::new(a, b), false, limit)
}

/// Whether two structures are the same drawing but for labels and the order of atoms; `None` where the limit was met.
#[must_use]
pub fn same_drawing(a: &Structure, b: &Structure, limit: u64) -> Option<bool> {
    match correspondence(a, b, limit) {
        Search::Found(_) => Some(true),
        Search::None => Some(false),
        Search::OutOfSteps => None,
    }
}
