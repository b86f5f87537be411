//! Searches for correspondences that keep stereo marks.

use super::describe::{Drawn, marks};
use super::{Mark, StereoChange, StereoDifference, View, stereo_differences};
use crate::compare::difference::Mapping;
use crate::compare::matching::{Search, Seeds, equal, find};
use crate::structure::canon::{Colours, Orders};
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashSet;

/// How a search for a correspondence that keeps all judged marks ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Agreeing {
    /// This one does.
    Found(Mapping),
    /// None does; under this one the fewest marks differ of all that were tried.
    Differs(Mapping, Vec<StereoDifference>),
    /// The step limit was met first.
    OutOfSteps,
}

/// Rounds in which marks are turned into colours; each round needs marks that the one before settled.
const ROUNDS: usize = 16;
/// Seeds of marks are far from those of labels, which count from 1.
const MARK_SEED: u64 = 1 << 40;

/// Looks for a correspondence without differences that keeps all judged marks. `fixed` holds what labels give, `first` is a
/// correspondence without differences in anything but marks.
#[must_use]
pub fn agreeing(
    computed: &Structure,
    stated: &Structure,
    fixed: &Mapping,
    first: &Mapping,
    view: &View<'_>,
    limit: u64,
) -> Agreeing {
    let found = stereo_differences(computed, stated, first, view);
    if found.is_empty() {
        return Agreeing::Found(first.clone());
    }
    let skeletons = [Skeleton::new(computed), Skeleton::new(stated)];
    let orders = Orders::for_both(&skeletons[0], &skeletons[1]);
    let pairs = pair_seeds(&skeletons, fixed, computed);
    let mut of_computed = Side::new(computed, &skeletons[0], orders, pairs[0].clone());
    let mut of_stated = Side::new(stated, &skeletons[1], orders, pairs[1].clone());
    // Colours at which some mark is not judged: a mark of the stated drawing there may be one that is or one that is not.
    let closed = closed_colours(computed, &of_computed, view);
    let is_open = |drawn: &Drawn<'_>, side: &Side<'_>| {
        drawn.atoms(side.structure).iter().all(|atom| !closed.contains(&side.first(*atom)))
    };
    for _ in 0..ROUNDS {
        let settled = [of_computed.settle(&is_open), of_stated.settle(&is_open)];
        if settled == [false, false] {
            break;
        }
    }
    let mut best = (first.clone(), found);
    let seeds = Seeds { computed: &of_computed.seeds, stated: &of_stated.seeds };
    let mut accept = |mapping: &Mapping| {
        let differing = stereo_differences(computed, stated, mapping, view);
        let agrees = differing.is_empty();
        if differing.len() < best.1.len() {
            best = (mapping.clone(), differing);
        }
        agrees
    };
    match find(computed, stated, fixed, seeds, true, limit, Some(&mut accept)) {
        Search::Found(mapping) => Agreeing::Found(mapping),
        Search::None => Agreeing::Differs(best.0, best.1),
        Search::OutOfSteps => Agreeing::OutOfSteps,
    }
}

/// Looks for a correspondence without differences under which no two marks contradict each other, whatever one side leaves out:
/// that and the marks left out.
#[must_use]
pub fn omitting(
    computed: &Structure,
    stated: &Structure,
    fixed: &Mapping,
    view: &View<'_>,
    limit: u64,
) -> Option<(Mapping, Vec<StereoDifference>)> {
    let mut accept = |mapping: &Mapping| only_omitted(&stereo_differences(computed, stated, mapping, view));
    match find(computed, stated, fixed, Seeds::default(), true, limit, Some(&mut accept)) {
        Search::Found(mapping) => {
            let found = stereo_differences(computed, stated, &mapping, view);
            Some((mapping, found))
        }
        Search::None | Search::OutOfSteps => None,
    }
}

/// Whether marks are only left out on one side, and none contradicts another.
#[must_use]
pub fn only_omitted(found: &[StereoDifference]) -> bool {
    found.iter().all(|own| own.change != StereoChange::Inverted)
}

/// Whether two structures are the same drawing and the same stereoisomer, but for labels and the order of atoms.
/// `None` where the limit was met.
#[must_use]
pub fn same_drawing_and_stereo(a: &Structure, b: &Structure, limit: u64) -> Option<bool> {
    let fixed = Mapping::new(a, b);
    let first = match equal(a, b, &fixed, false, limit) {
        Search::Found(first) => first,
        Search::None => return Some(false),
        Search::OutOfSteps => return None,
    };
    if a.stereo.is_empty() && b.stereo.is_empty() {
        return Some(true);
    }
    let (a, b) = (without_idle_marks(a, limit), without_idle_marks(b, limit));
    let view = View { is_untouched: &|_| true, ignored: &FxHashSet::default() };
    match agreeing(&a, &b, &fixed, &first, &view, limit) {
        Agreeing::Found(_) => Some(true),
        Agreeing::Differs(..) => Some(false),
        Agreeing::OutOfSteps => None,
    }
}

/// A drawing without the marks that cannot mean anything.
#[must_use]
pub fn without_idle_marks(structure: &Structure, limit: u64) -> Structure {
    let mut plain = structure.clone();
    let idle: FxHashSet<Mark> = idle_marks(structure, limit).into_iter().collect();
    plain.stereo.centres.retain(|centre| !idle.contains(&Mark::Centre(centre.atom)));
    plain.stereo.double_bonds.retain(|bond| !idle.contains(&Mark::bond(bond.ends[0], bond.ends[1])));
    plain
}

/// The marks of a drawing that cannot mean anything: a symmetry inverts them that leaves the surroundings of all other
/// marks where they are.
///
/// Where marks have a meaning only together, as on the two sides of a ring, none of them is such a mark.
#[must_use]
pub fn idle_marks(structure: &Structure, limit: u64) -> Vec<Mark> {
    if structure.stereo.is_empty() {
        return Vec::new();
    }
    let skeleton = Skeleton::new(structure);
    let orders = Orders::for_both(&skeleton, &skeleton);
    let mut side = Side::new(structure, &skeleton, orders, Vec::new());
    side.settle(&|_, _| true);
    let open: Vec<Drawn<'_>> = marks(structure).filter(|drawn| !side.settled.contains(&drawn.mark())).collect();
    let steps = limit / (open.len() as u64).max(1);
    // One search looks at every atom: of very many marks only so many are looked at, the others count as meant.
    let mut searches = limit / (structure.atom_count() as u64).max(1);
    let is_idle = |drawn: &Drawn<'_>| {
        if two_hydrogens(structure, *drawn) || side.equal_leaves(structure, *drawn) {
            return true;
        }
        let affordable = searches > 0;
        searches = searches.saturating_sub(1);
        affordable && can_be_inverted_alone(structure, &skeleton, drawn.mark(), steps)
    };
    open.into_iter().filter(is_idle).map(Drawn::mark).collect()
}

/// Whether a symmetry inverts one mark and leaves the surroundings of all others where they are.
fn can_be_inverted_alone(structure: &Structure, skeleton: &Skeleton, mark: Mark, steps: u64) -> bool {
    let others = marks(structure).filter(|drawn| drawn.mark() != mark);
    let around = |atom: AtomId| structure.neighbours(atom).map(|(next, _)| next).chain([atom]);
    let mut fixed: Vec<u32> = others
        .flat_map(|drawn| drawn.atoms(structure))
        .flat_map(around)
        .chain(mark.atoms())
        .map(|atom| skeleton.host(atom))
        .collect();
    fixed.sort_unstable();
    fixed.dedup();
    let seeds: Vec<(u32, u64)> = fixed.into_iter().zip(MARK_SEED..).collect();
    let seeds = Seeds { computed: &seeds, stated: &seeds };
    let view = View { is_untouched: &|_| true, ignored: &FxHashSet::default() };
    let mut inverts_it = |mapping: &Mapping| matches!(stereo_differences(structure, structure, mapping, &view)[..], [only] if only.mark == mark);
    let nothing = Mapping::new(structure, structure);
    let found = find(structure, structure, &nothing, seeds, false, steps, Some(&mut inverts_it));
    matches!(found, Search::Found(_))
}

/// Whether a mark stands at an atom with two hydrogens.
fn two_hydrogens(structure: &Structure, drawn: Drawn<'_>) -> bool {
    let [one, two] = match drawn {
        Drawn::Centre(centre) => [centre.atom; 2],
        Drawn::Bond(bond) => bond.ends,
    };
    [one, two].iter().any(|atom| crate::compare::difference::total_hydrogens(structure, *atom) > 1)
}

/// Labels as seeds of both sides.
fn pair_seeds(skeletons: &[Skeleton; 2], fixed: &Mapping, computed: &Structure) -> [Vec<(u32, u64)>; 2] {
    let mut seeds = [Vec::new(), Vec::new()];
    for atom in computed.atom_ids() {
        let Some(stated) = fixed.stated(atom) else { continue };
        if !skeletons[0].is_folded(atom) && !skeletons[1].is_folded(stated) {
            let seed = seeds[0].len() as u64 + 1;
            seeds[0].push((skeletons[0].host(atom), seed));
            seeds[1].push((skeletons[1].host(stated), seed));
        }
    }
    seeds
}

/// The colours of atoms at which marks are not judged.
fn closed_colours(computed: &Structure, side: &Side<'_>, view: &View<'_>) -> FxHashSet<u64> {
    let ignored = view.ignored.iter().flat_map(|mark| mark.atoms());
    let touched = computed.atom_ids().filter(|atom| !(view.is_untouched)(*atom));
    touched.chain(ignored).map(|atom| side.first(atom)).collect()
}

/// One drawing whose marks are turned into colours.
struct Side<'a> {
    structure: &'a Structure,
    skeleton: &'a Skeleton,
    orders: Orders,
    colours: Colours,
    /// The colours before any mark.
    bare: Vec<u64>,
    seeds: Vec<(u32, u64)>,
    settled: FxHashSet<Mark>,
}

impl<'a> Side<'a> {
    fn new(structure: &'a Structure, skeleton: &'a Skeleton, orders: Orders, seeds: Vec<(u32, u64)>) -> Self {
        let mut colours = Colours::default();
        colours.refine(skeleton, orders, &seeds);
        let bare = colours.all().to_vec();
        Self { structure, skeleton, orders, colours, bare, seeds, settled: FxHashSet::default() }
    }

    /// The colour of an atom before any mark.
    fn first(&self, atom: AtomId) -> u64 {
        self.bare[self.skeleton.host(atom) as usize]
    }

    /// Turns the marks whose surroundings differ in colour into colours. Says whether there were new ones.
    fn settle(&mut self, takes: &dyn Fn(&Drawn<'_>, &Self) -> bool) -> bool {
        let mut fresh = Vec::new();
        for drawn in marks(self.structure) {
            if self.settled.contains(&drawn.mark()) || !takes(&drawn, self) {
                continue;
            }
            let key = |atom: AtomId| Some(self.colours.of(self.skeleton.host(atom)));
            if let Some((_, bit)) = drawn.describe(self.structure, &key) {
                fresh.push((drawn.mark(), bit));
            }
        }
        for (mark, bit) in &fresh {
            self.settled.insert(*mark);
            let kind = if matches!(mark, Mark::Centre(_)) { 0 } else { 2 };
            let seed = MARK_SEED + kind + u64::from(*bit);
            self.seeds.extend(mark.atoms().map(|atom| (self.skeleton.host(atom), seed)));
        }
        if !fresh.is_empty() {
            self.colours.refine(self.skeleton, self.orders, &self.seeds);
        }
        !fresh.is_empty()
    }

    /// Whether two neighbours of a mark are atoms of one colour with no other neighbours: exchanging them changes nothing
    /// but the mark.
    fn equal_leaves(&self, structure: &Structure, drawn: Drawn<'_>) -> bool {
        drawn.atoms(structure).iter().any(|atom| {
            let arcs = self.skeleton.arcs(self.skeleton.host(*atom));
            let mut leaves: Vec<u64> = arcs
                .iter()
                .filter(|arc| self.skeleton.arcs(arc.to).len() == 1)
                .map(|arc| self.colours.of(arc.to))
                .collect();
            leaves.sort_unstable();
            leaves.windows(2).any(|pair| pair[0] == pair[1])
        })
    }
}
