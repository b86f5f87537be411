//! The search: places that lose electrons are paired with places that gain them.
//!
//! With as many arrows as electrons must leave their places, every arrow goes straight from a loser to a gainer that shares
//! an atom with it. Only where no such pairing exists do arrows pass through places that end as they were: the number of
//! these is raised by one until a way is found. Loops, no recursion; every choice looked at takes one from the limit.

use super::super::{Arrow, Moves, Place};
use super::NoArrows;
use super::balance::Change;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashMap;

/// What a search found.
pub(super) struct Ways {
    /// Ways of one length, the shortest.
    pub ways: Vec<Vec<Arrow>>,
    /// Whether there may be more.
    pub is_cut_short: bool,
}

/// Ways that are collected before symmetry sorts them, at most.
const MOST_WAYS: usize = 1_024;
/// Places through which electrons may pass, at most. Textbook steps need none.
const DETOURS: usize = 8;
/// Places that a search with detours may look at.
const PLACES: usize = 400;

/// Finds the shortest sets of arrows that make the changes.
pub(super) fn solve(start: &Structure, changes: &[Change], left: &mut u64) -> Result<Ways, NoArrows> {
    let mut cut_short = false;
    for detours in 0..=DETOURS {
        // Parts that share no atom are solved apart; with detours they may need each other.
        let parts = if detours == 0 { parts(changes) } else { vec![changes.to_vec()] };
        let mut found: Vec<Vec<Vec<Arrow>>> = Vec::new();
        for part in parts {
            let mut search = ArrowSearch::new(start, &part, detours);
            search.run(left);
            cut_short |= search.is_cut_short;
            if search.ways.is_empty() {
                found.clear();
                break;
            }
            found.push(search.finish());
        }
        if !found.is_empty() {
            return Ok(Ways { ways: together(found), is_cut_short: cut_short });
        }
        if *left == 0 {
            return Err(NoArrows::OutOfSteps);
        }
    }
    Err(match (cut_short, is_apart(start, changes)) {
        (true, _) => NoArrows::OutOfSteps,
        (false, true) => NoArrows::Apart,
        (false, false) => NoArrows::TooFar,
    })
}

/// Whether electrons would have to go from species to species that no bond joins, before or after.
fn is_apart(start: &Structure, changes: &[Change]) -> bool {
    let (species, count) = start.species();
    let of = |atom: AtomId| species[atom.index()] as usize;
    let mut joined = Union::new(count);
    for (place, _) in changes {
        if let Place::Bond(a, b) = *place {
            joined.join(of(a), of(b));
        }
    }
    let mut sums = vec![0_i64; count];
    for (place, change) in changes {
        if let Some(atom) = place.atoms().next() {
            sums[joined.find(of(atom))] += i64::from(*change);
        }
    }
    sums.iter().any(|sum| *sum != 0)
}

/// The changes in groups of places that share atoms.
fn parts(changes: &[Change]) -> Vec<Vec<Change>> {
    let mut joined = Union::new(changes.len());
    let mut first_of: FxHashMap<AtomId, usize> = FxHashMap::default();
    for (at, (place, _)) in changes.iter().enumerate() {
        for atom in place.atoms() {
            joined.join(at, *first_of.entry(atom).or_insert(at));
        }
    }
    let mut part_of: FxHashMap<usize, usize> = FxHashMap::default();
    let mut parts: Vec<Vec<Change>> = Vec::new();
    for (at, change) in changes.iter().enumerate() {
        let part = *part_of.entry(joined.find(at)).or_insert(parts.len());
        match parts.get_mut(part) {
            Some(part) => part.push(*change),
            None => parts.push(vec![*change]),
        }
    }
    parts
}

/// Numbers that are joined into groups.
struct Union(Vec<usize>);

impl Union {
    fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    /// The number that stands for a group.
    fn find(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    fn join(&mut self, one: usize, two: usize) {
        let (one, two) = (self.find(one), self.find(two));
        self.0[one.max(two)] = one.min(two);
    }
}

/// Every way to take one set of arrows for each part, the first of each part first.
fn together(parts: Vec<Vec<Vec<Arrow>>>) -> Vec<Vec<Arrow>> {
    let mut whole: Vec<Vec<Arrow>> = vec![Vec::new()];
    for ways in parts {
        let mut next = Vec::new();
        for before in &whole {
            for way in &ways {
                if next.len() < MOST_WAYS {
                    next.push([before.as_slice(), way.as_slice()].concat());
                }
            }
        }
        whole = next;
    }
    whole
}

struct ArrowSearch {
    places: Vec<Place<AtomId>>,
    /// Places that share an atom with each place.
    touching: Vec<Vec<usize>>,
    /// Electrons that the start draws there.
    there: Vec<i32>,
    /// Electrons that still have to leave (more than 0) or to come.
    need: Vec<i32>,
    /// Electrons that arrows take.
    taken: Vec<i32>,
    /// Electrons of one arrow.
    unit: i32,
    detours: usize,
    ways: Vec<Vec<(usize, usize)>>,
    is_cut_short: bool,
}

/// One arrow of the way that is being built.
struct Choice {
    from: usize,
    /// Index into the places that touch it, one past the one taken.
    next: usize,
    /// Where the arrow goes, once it is drawn.
    to: Option<usize>,
    is_detour: bool,
}

impl ArrowSearch {
    fn new(start: &Structure, changes: &[Change], detours: usize) -> Self {
        let unit = if changes.iter().all(|(_, change)| change % 2 == 0) { 2 } else { 1 };
        let mut places: Vec<Place<AtomId>> = changes.iter().map(|(place, _)| *place).collect();
        let mut need: Vec<i32> = changes.iter().map(|(_, change)| -change).collect();
        if detours > 0 {
            add_places_around(start, &mut places, detours);
        }
        need.resize(places.len(), 0);
        let there = places.iter().map(|place| electrons(start, *place)).collect();
        let mut at_atom: FxHashMap<AtomId, Vec<usize>> = FxHashMap::default();
        for (at, place) in places.iter().enumerate() {
            for atom in place.atoms() {
                at_atom.entry(atom).or_default().push(at);
            }
        }
        let touching = places
            .iter()
            .enumerate()
            .map(|(at, place)| {
                let mut all: Vec<usize> = place.atoms().flat_map(|atom| at_atom[&atom].iter().copied()).collect();
                all.retain(|other| *other != at);
                all.sort_unstable();
                all.dedup();
                all
            })
            .collect();
        let taken = vec![0; places.len()];
        Self { places, touching, there, need, taken, unit, detours, ways: Vec::new(), is_cut_short: false }
    }

    /// Collects all ways with exactly the allowed number of detours.
    fn run(&mut self, left: &mut u64) {
        if self.need.iter().sum::<i32>() != 0 {
            return;
        }
        let Some(first) = self.next_place(None) else { return };
        let mut detours = 0;
        let mut stack = vec![first];
        while let Some(top) = stack.last_mut() {
            if let Some(to) = top.to.take() {
                let (from, is_detour) = (top.from, top.is_detour);
                self.take_back(from, to);
                detours -= usize::from(is_detour);
            }
            let Some(top) = stack.last_mut() else { break };
            if *left == 0 || self.ways.len() >= MOST_WAYS {
                self.is_cut_short = true;
                return;
            }
            // The next place is looked for among all of them.
            *left = left.saturating_sub(1 + self.places.len() as u64 / 64);
            let may_detour = detours < self.detours;
            let Some((next, to, is_detour)) = self.head(top, may_detour) else {
                stack.pop();
                continue;
            };
            top.next = next;
            top.to = Some(to);
            top.is_detour = is_detour;
            let from = top.from;
            detours += usize::from(is_detour);
            self.draw(from, to);
            if let Some(choice) = self.next_place(Some((from, next))) {
                stack.push(choice);
            } else if detours == self.detours {
                self.ways.push(stack.iter().filter_map(|choice| Some((choice.from, choice.to?))).collect());
            }
        }
    }

    fn draw(&mut self, from: usize, to: usize) {
        self.need[from] -= self.unit;
        self.taken[from] += self.unit;
        self.need[to] += self.unit;
    }

    fn take_back(&mut self, from: usize, to: usize) {
        self.need[from] += self.unit;
        self.taken[from] -= self.unit;
        self.need[to] -= self.unit;
    }

    /// The place from which the next arrow starts: the one before, if it has more to lose, else the one with the fewest heads.
    fn next_place(&self, before: Option<(usize, usize)>) -> Option<Choice> {
        // Two arrows from one place are taken in one order only.
        if let Some((from, next)) = before.filter(|(from, _)| self.need[*from] > 0) {
            return Some(Choice { from, next: next - 1, to: None, is_detour: false });
        }
        let heads = |at: usize| self.touching[at].iter().filter(|to| self.need[**to] < 0).count();
        let losing = (0..self.places.len()).filter(|at| self.need[*at] > 0);
        let from = losing.min_by_key(|at| heads(*at))?;
        Some(Choice { from, next: 0, to: None, is_detour: false })
    }

    /// The next place to which an arrow may go: its index behind it, itself, and whether electrons only pass there.
    fn head(&self, choice: &Choice, may_detour: bool) -> Option<(usize, usize, bool)> {
        let touching = self.touching.get(choice.from)?;
        for (at, to) in touching.iter().enumerate().skip(choice.next) {
            if self.need[*to] < 0 {
                return Some((at + 1, *to, false));
            }
            let passes = self.taken[*to] + self.need[*to] + self.unit <= self.there[*to];
            if may_detour && passes {
                return Some((at + 1, *to, true));
            }
        }
        None
    }

    /// The ways as arrows; two half-headed arrows along one path are one full-headed one.
    fn finish(self) -> Vec<Vec<Arrow>> {
        let Self { places, unit, ways, .. } = self;
        let mut all: Vec<Vec<Arrow>> = ways.into_iter().map(|way| arrows(&places, unit, way)).collect();
        let least = all.iter().map(Vec::len).min().unwrap_or(0);
        all.retain(|way| way.len() == least);
        all.sort_unstable();
        all.dedup();
        all
    }
}

fn arrows(places: &[Place<AtomId>], unit: i32, mut way: Vec<(usize, usize)>) -> Vec<Arrow> {
    way.sort_unstable();
    let mut arrows: Vec<Arrow> = Vec::with_capacity(way.len());
    for (from, to) in way {
        let (tail, head) = (places[from], places[to]);
        match arrows.last_mut() {
            Some(last) if unit == 1 && last.moves == Moves::Single && (last.tail, last.head) == (tail, head) => {
                last.moves = Moves::Pair;
            }
            _ => {
                let moves = if unit == 1 { Moves::Single } else { Moves::Pair };
                arrows.push(Arrow { moves, tail, head });
            }
        }
    }
    arrows
}

fn electrons(start: &Structure, place: Place<AtomId>) -> i32 {
    match place {
        Place::Atom(a) => Electrons::of(start, a).non_bonding().unwrap_or(i32::MAX / 2),
        Place::Bond(a, b) => start.bond_between(a, b).map_or(0, |bond| 2 * i32::from(start.bond(bond).order)),
    }
}

/// Adds the places within some steps of those that change in which the start draws electrons.
fn add_places_around(start: &Structure, places: &mut Vec<Place<AtomId>>, steps: usize) {
    let mut seen: std::collections::BTreeSet<Place<AtomId>> = places.iter().copied().collect();
    let mut rim: Vec<AtomId> = places.iter().flat_map(|place| place.atoms()).collect();
    let mut reached: std::collections::BTreeSet<AtomId> = rim.iter().copied().collect();
    for _ in 0..steps.div_ceil(2) {
        let mut next = Vec::new();
        for atom in rim {
            let own = std::iter::once(Place::Atom(atom));
            let bonds = start.neighbours(atom).map(|(other, _)| Place::Bond(atom.min(other), atom.max(other)));
            for place in own.chain(bonds) {
                if places.len() >= PLACES {
                    return;
                }
                if electrons(start, place) > 0 && seen.insert(place) {
                    places.push(place);
                }
                next.extend(place.atoms().filter(|atom| reached.insert(*atom)));
            }
        }
        rim = next;
    }
}
