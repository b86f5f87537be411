//! Whether two skeletons are the same drawing, and under which correspondence of their atoms.
//!
//! Species are compared by fingerprint first, so that forty equal ones cost no search; then a map is grown for each pair of species. What
//! growing does not settle is settled by canonical form. Every search is bounded; where the bound is met before equality is
//! decided, the verdict says so.

pub(super) use super::as_drawn::NONE;
use super::as_drawn::Pairing;
use super::closest::Growth;
use crate::structure::canon::{Colours, Orders, canonical, mix};
use crate::structure::isomorphism::{Matcher, Outcome, Rules};
use crate::structure::skeleton::{Arc, Skeleton};
use std::ops::Range;

/// Whether the stated drawing is the recomputed one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// It is, under this correspondence: the recomputed node for each stated node.
    Equal(Vec<u32>),
    /// It certainly is not.
    Different,
    /// The step limit was met first.
    Undecided,
}

/// What is compared, and under which conditions.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The recomputed drawing.
    pub computed: &'a Skeleton,
    /// The stated drawing.
    pub stated: &'a Skeleton,
    /// Nodes (recomputed, stated) that labels make stand for each other.
    pub pairs: &'a [(u32, u32)],
    /// Numbers that tell nodes of the recomputed and of the stated drawing apart beyond what is drawn.
    pub seeds: [&'a [(u32, u64)]; 2],
    /// Whether whole species of the recomputed drawing may be missing from the stated one.
    pub may_omit: bool,
    /// Candidates and bonds that may be looked at. Linear work is always granted.
    pub limit: u64,
}

/// Buffers of the comparison, to reuse from item to item.
#[derive(Debug, Clone, Default)]
pub struct Correspond {
    pub(super) computed: Colours,
    pub(super) stated: Colours,
    pub(super) matcher: Matcher,
    pub(super) growth: Growth,
    /// Of the closest correspondence: the partners of both sides, and the nodes that have none when the search begins.
    pub(super) map: [Vec<u32>; 2],
    pub(super) open: [Vec<u32>; 2],
    seeds: Vec<(u32, u64)>,
    /// Species by fingerprint.
    order_computed: Vec<(u128, u32)>,
    order_stated: Vec<(u128, u32)>,
}

/// Candidates that the first search for a map of two species may look at, for each node, before canonical forms decide.
const STEPS_A_NODE: u64 = 30;

impl Correspond {
    /// Decides whether the stated drawing is the recomputed one. A correspondence must also please `accept`, which sees the
    /// recomputed node for each stated node; others are tried until one does.
    ///
    /// Bonds whose order is the tool's choice agree with order 1 and 2. That some localised form has just the orders of the
    /// other drawing follows from equal electrons at all atoms, but for atoms that may have a double bond or not:
    /// `accept` has to see to those.
    pub fn equal(&mut self, question: &Question<'_>, mut accept: impl FnMut(&[u32]) -> bool) -> Verdict {
        let Question { computed, stated, pairs, may_omit, limit, .. } = *question;
        let whole = computed.len() == stated.len() && computed.species_count() == stated.species_count();
        let fits = whole || (may_omit && stated.len() <= computed.len());
        if !fits || contradictory(pairs) {
            return Verdict::Different;
        }
        let sums = |side: &Skeleton| counts(side, orders(question), 0..side.len());
        if whole && sums(computed) != sums(stated) {
            return Verdict::Different;
        }
        let mut image = vec![NONE; stated.len() as usize];
        let is_plain = whole && !is_partial(question) && question.seeds.iter().all(|seeds| seeds.is_empty());
        if is_plain {
            if Pairing::new([computed, stated], &mut image).run(pairs) && accept(&image) {
                return Verdict::Equal(image);
            }
            image.fill(NONE);
        }
        self.colour(question, |_| true, |_| true);
        if whole && self.computed.whole() != self.stated.whole() {
            return Verdict::Different;
        }
        let mut left = limit.max(4 * u64::from(computed.len()));
        match self.pair_species(question, &mut image, &mut left) {
            Outcome::None => return Verdict::Different,
            Outcome::OutOfSteps => return Verdict::Undecided,
            Outcome::Found => {}
        }
        if accept(&image) {
            return Verdict::Equal(image);
        }
        let (rules, matcher) = self.rules(computed, stated);
        let (from, to) = ((stated, 0..stated.len()), (computed, 0..computed.len()));
        match matcher.search(from, to, &rules, &mut left, accept) {
            Outcome::Found => Verdict::Equal(matcher.image().to_vec()),
            Outcome::None => Verdict::Different,
            Outcome::OutOfSteps => Verdict::Undecided,
        }
    }

    /// Colours some species of both drawings alike, atoms that stand for each other by label with a seed of their own.
    fn colour(
        &mut self,
        question: &Question<'_>,
        wanted_computed: impl Fn(u32) -> bool,
        wanted_stated: impl Fn(u32) -> bool,
    ) {
        let Question { computed, stated, pairs, seeds: [of_computed, of_stated], .. } = *question;
        let orders = Orders::for_both(computed, stated);
        self.seeds.clear();
        self.seeds.extend_from_slice(of_computed);
        self.seeds.extend(pairs.iter().zip(1..).map(|((computed, _), seed)| (*computed, seed)));
        self.computed.refine_some(computed, orders, &self.seeds, wanted_computed);
        self.seeds.clear();
        self.seeds.extend_from_slice(of_stated);
        self.seeds.extend(pairs.iter().zip(1..).map(|((_, stated), seed)| (*stated, seed)));
        self.stated.refine_some(stated, orders, &self.seeds, wanted_stated);
    }

    /// Lists the species of both drawings by fingerprint.
    pub(super) fn sort_species(&mut self, computed: &Skeleton, stated: &Skeleton) {
        for (order, colours, skeleton) in
            [(&mut self.order_computed, &self.computed, computed), (&mut self.order_stated, &self.stated, stated)]
        {
            order.clear();
            order.extend((0..skeleton.species_count()).map(|species| (colours.species(species), species)));
            order.sort_unstable();
        }
    }

    /// Pairs of species (stated, recomputed) of one fingerprint, each species once. Only species of which sums say that they may
    /// be equal are coloured.
    pub(super) fn equal_species(&mut self, question: &Question<'_>) -> Vec<(u32, u32)> {
        let Question { computed, stated, .. } = *question;
        let counts = [computed, stated].map(|side| -> Vec<u64> {
            (0..side.species_count()).map(|species| counts(side, orders(question), side.species(species))).collect()
        });
        let sorted = counts.clone().map(|mut counts| {
            counts.sort_unstable();
            counts
        });
        let is_computed = |species: u32| sorted[1].binary_search(&counts[0][species as usize]).is_ok();
        let is_stated = |species: u32| sorted[0].binary_search(&counts[1][species as usize]).is_ok();
        self.colour(question, is_computed, is_stated);
        self.sort_species(computed, stated);
        let mut candidates = self.order_computed.iter().filter(|(_, species)| is_computed(*species)).peekable();
        let mut pairs = Vec::new();
        for (print, species) in self.order_stated.iter().filter(|(_, species)| is_stated(*species)) {
            while candidates.next_if(|(other, _)| other < print).is_some() {}
            if let Some((_, partner)) = candidates.next_if(|(other, _)| other == print) {
                pairs.push((*species, *partner));
            }
        }
        pairs
    }

    /// Finds a recomputed species for each stated one and maps them.
    fn pair_species(&mut self, question: &Question<'_>, image: &mut [u32], left: &mut u64) -> Outcome {
        let Question { computed, stated, .. } = *question;
        self.sort_species(computed, stated);
        let mut groups = std::mem::take(&mut self.order_stated);
        let candidates = std::mem::take(&mut self.order_computed);
        let mut outcome = Outcome::Found;
        for group in groups.chunk_by(|a, b| a.0 == b.0) {
            let print = group[0].0;
            let from = candidates.partition_point(|(other, _)| *other < print);
            let to = candidates.partition_point(|(other, _)| *other <= print);
            outcome = if to - from < group.len() {
                Outcome::None
            } else {
                self.pair_group(question, group, &candidates[from..to], image, left)
            };
            if outcome != Outcome::Found {
                break;
            }
        }
        groups.clear();
        (self.order_stated, self.order_computed) = (groups, candidates);
        outcome
    }

    /// Pairs species of one fingerprint. Where species of both sides may only agree, as atoms whose unpaired electrons one
    /// drawing does not state, an early pair may have to give way.
    fn pair_group(
        &mut self,
        question: &Question<'_>,
        stated: &[(u128, u32)],
        computed: &[(u128, u32)],
        image: &mut [u32],
        left: &mut u64,
    ) -> Outcome {
        let mut group = Group {
            question,
            stated,
            computed,
            owners: vec![FREE; computed.len()],
            in_doubt: false,
            rearranged: false,
        };
        for at in 0..stated.len() {
            let found = self.first_partner(&mut group, at, image, left)
                || (is_partial(question) && self.make_way(&mut group, at, image, left));
            if !found {
                return if group.in_doubt { Outcome::OutOfSteps } else { Outcome::None };
            }
        }
        if group.rearranged {
            // Trying has written over maps that stand.
            for (place, owner) in group.owners.iter().enumerate().filter(|(_, owner)| **owner != FREE) {
                let (from, to) = (stated[*owner].1, computed[place].1);
                if self.map_species(question, from, to, image, left) != Outcome::Found {
                    return Outcome::OutOfSteps;
                }
            }
        }
        Outcome::Found
    }

    /// Takes the first free species that fits. Equal species are mostly written in one order: the one at the same place
    /// comes first.
    fn first_partner(&mut self, group: &mut Group<'_>, at: usize, image: &mut [u32], left: &mut u64) -> bool {
        let count = group.computed.len();
        for place in (at..count).chain(0..at.min(count)) {
            if group.owners[place] == FREE && self.tries(group, at, place, image, left) {
                group.owners[place] = at;
                return true;
            }
        }
        false
    }

    fn tries(&mut self, group: &mut Group<'_>, at: usize, place: usize, image: &mut [u32], left: &mut u64) -> bool {
        let (from, to) = (group.stated[at].1, group.computed[place].1);
        let outcome = self.map_species(group.question, from, to, image, left);
        group.in_doubt |= outcome == Outcome::OutOfSteps;
        outcome == Outcome::Found
    }

    /// Finds a partner for a stated species by letting others change theirs (an augmenting path, breadth first).
    fn make_way(&mut self, group: &mut Group<'_>, first: usize, image: &mut [u32], left: &mut u64) -> bool {
        group.rearranged = true;
        let mut came_from = vec![FREE; group.computed.len()];
        let mut queue = std::collections::VecDeque::from([first]);
        while let Some(at) = queue.pop_front() {
            for place in 0..group.computed.len() {
                if came_from[place] != FREE || !self.tries(group, at, place, image, left) {
                    continue;
                }
                came_from[place] = at;
                if group.owners[place] == FREE {
                    group.shift(place, &came_from);
                    return true;
                }
                queue.push_back(group.owners[place]);
            }
        }
        false
    }

    /// Maps one stated species onto one recomputed species of the same fingerprint.
    pub(super) fn map_species(
        &mut self,
        question: &Question<'_>,
        from: u32,
        to: u32,
        image: &mut [u32],
        left: &mut u64,
    ) -> Outcome {
        let Question { computed, stated, .. } = *question;
        let (nodes, onto) = (stated.species(from), computed.species(to));
        if nodes.len() != onto.len() {
            return Outcome::None;
        }
        let (rules, matcher) = self.rules(computed, stated);
        let granted = (*left).min(STEPS_A_NODE * nodes.len() as u64);
        let mut steps = granted;
        let mut outcome =
            matcher.search((stated, nodes.clone()), (computed, onto.clone()), &rules, &mut steps, |_| true);
        *left -= granted - steps;
        if outcome == Outcome::OutOfSteps && *left > 0 {
            let by_form = self.map_by_form(question, (from, to), image, left);
            if by_form != Outcome::OutOfSteps {
                return by_form;
            }
            let (rules, matcher) = self.rules(computed, stated);
            outcome = matcher.search((stated, nodes.clone()), (computed, onto), &rules, left, |_| true);
        }
        if outcome == Outcome::Found {
            image[nodes.start as usize..nodes.end as usize].copy_from_slice(self.matcher.image());
        }
        outcome
    }

    /// What canonical forms say: `OutOfSteps` if they do not decide it.
    fn map_by_form(
        &self,
        question: &Question<'_>,
        (from, to): (u32, u32),
        image: &mut [u32],
        left: &mut u64,
    ) -> Outcome {
        let Question { computed, stated, .. } = *question;
        *left /= 2;
        let one = canonical(stated, &self.stated, from, orders(question), *left / 2);
        let two = canonical(computed, &self.computed, to, orders(question), *left / 2);
        if !one.certain || !two.certain {
            return Outcome::OutOfSteps;
        }
        if one.form != two.form {
            return Outcome::None;
        }
        for (node, to) in one.order.iter().zip(&two.order) {
            image[*node as usize] = *to;
        }
        if self.agrees(question, stated.species(from), image) { Outcome::Found } else { Outcome::OutOfSteps }
    }

    /// Whether atoms and bonds of some nodes agree under a map.
    fn agrees(&self, question: &Question<'_>, nodes: Range<u32>, image: &[u32]) -> bool {
        let Question { computed, stated, .. } = *question;
        nodes.into_iter().all(|node| {
            let to = image[node as usize];
            stated.node(node).agrees(computed.node(to))
                && self.stated.of(node) == self.computed.of(to)
                && stated
                    .arcs(node)
                    .iter()
                    .all(|arc| computed.arc_between(to, image[arc.to as usize]).is_some_and(|other| arc.agrees(other)))
        })
    }

    fn rules<'a>(&'a mut self, computed: &'a Skeleton, stated: &'a Skeleton) -> (Agreeing<'a>, &'a mut Matcher) {
        let rules = Agreeing { computed, stated, of_computed: self.computed.all(), of_stated: self.stated.all() };
        (rules, &mut self.matcher)
    }
}

/// No owner.
const FREE: usize = usize::MAX;

/// Species of one fingerprint, and who has whom.
struct Group<'a> {
    question: &'a Question<'a>,
    stated: &'a [(u128, u32)],
    computed: &'a [(u128, u32)],
    /// By place in `computed`: the place in `stated`, or `FREE`.
    owners: Vec<usize>,
    /// Whether some pair could not be decided.
    in_doubt: bool,
    /// Whether a species had to look beyond the free ones.
    rearranged: bool,
}

impl Group<'_> {
    /// Gives a free place to the species that came to it, that one's place to the species that came there, and so on.
    fn shift(&mut self, place: usize, came_from: &[usize]) {
        let mut place = place;
        loop {
            let at = came_from[place];
            let before = self.owners.iter().position(|owner| *owner == at);
            self.owners[place] = at;
            let Some(before) = before else { return };
            place = before;
        }
    }
}

/// Whether agreement is weaker than equality, so that two species may agree with a third and not with each other.
fn is_partial(question: &Question<'_>) -> bool {
    let Question { computed, stated, .. } = *question;
    (computed.states_unpaired() && stated.states_unpaired()) || computed.has_free() || stated.has_free()
}

fn orders(question: &Question<'_>) -> Orders {
    Orders::for_both(question.computed, question.stated)
}

/// Atoms and bonds by themselves, summed up: enough to tell most drawings apart that differ.
fn counts(skeleton: &Skeleton, orders: Orders, nodes: Range<u32>) -> u64 {
    nodes.fold(0, |sum, node| {
        let bonds = skeleton.arcs(node).iter().fold(0, |sum: u64, arc| sum.wrapping_add(mix(orders.code(arc))));
        sum.wrapping_add(mix(orders.node_code(skeleton.node(node)) ^ bonds.rotate_left(1)))
    })
}

/// Whether pairs give one node two partners.
fn contradictory(pairs: &[(u32, u32)]) -> bool {
    let repeats = |mut nodes: Vec<u32>| {
        nodes.sort_unstable();
        nodes.windows(2).any(|two| two[0] == two[1])
    };
    pairs.len() > 1
        && (repeats(pairs.iter().map(|pair| pair.0).collect()) || repeats(pairs.iter().map(|pair| pair.1).collect()))
}

/// Atoms stand for atoms of their colour.
struct Agreeing<'a> {
    computed: &'a Skeleton,
    stated: &'a Skeleton,
    of_computed: &'a [u64],
    of_stated: &'a [u64],
}

impl Rules for Agreeing<'_> {
    fn class_a(&self, node: u32) -> u64 {
        self.of_stated[node as usize]
    }

    fn class_b(&self, node: u32) -> u64 {
        self.of_computed[node as usize]
    }

    fn nodes(&self, a: u32, b: u32) -> bool {
        self.stated.node(a).agrees(self.computed.node(b))
    }

    fn arcs(&self, a: &Arc, b: &Arc) -> bool {
        a.agrees(b)
    }
}
