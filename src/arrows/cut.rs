//! Several steps drawn as one: arrows that are cut, in the order in which they are written, into successive steps.
//!
//! What is left after the first so many arrows is the same wherever the cuts are: the sum of these arrows. So a place
//! between two arrows can be a cut by itself, if the structure there has possible electrons and shells, and a run of arrows can be one
//! step by itself, if its tails find their electrons in the structure before it. The best way from the first arrow to
//! the last is then found from the end, place by place.

use super::push::{Account, accounts, electrons_there, is_detached, sum_of};
use super::{Arrow, Pushed, push};
use crate::limits::CUT_ARROWS;
use crate::structure::electrons::{Electrons, has_open_octet, judge_count};
use crate::structure::{AtomId, Element, OctetRule, Structure};
use std::cmp::Reverse;
use std::ops::Range;

/// One of the steps that arrows are cut into.
#[derive(Debug, Clone)]
pub struct CutStep {
    /// Its arrows, by their numbers counted from 0.
    pub arrows: Range<usize>,
    /// What they make of the structure before them.
    pub pushed: Pushed,
}

/// Arrows cut into successive steps.
#[derive(Debug, Clone)]
pub struct Cut {
    /// The steps, at least two.
    pub steps: Vec<CutStep>,
    /// The sum of all arrows on the start.
    pub sum: Pushed,
}

/// Cuts arrows into the fewest successive steps in which every tail finds its electrons in what the steps before it left, and
/// every step leads to possible electrons and shells. Of several such cuts: the one whose structures between have
/// the fewest open octets, then the fewest charges, then the latest cut.
///
/// `None` where there is no such cut, where the arrows are one step as they are, and where there are more of them than
/// [`CUT_ARROWS`].
#[must_use]
pub fn cut(start: &Structure, arrows: &[Arrow], octet: OctetRule) -> Option<Cut> {
    if arrows.len() > CUT_ARROWS || arrows.iter().any(is_detached) {
        return None;
    }
    let ends = Places::new(start, arrows, octet).ends(arrows)?;
    let mut steps: Vec<CutStep> = Vec::with_capacity(ends.len());
    let mut from = 0;
    for end in ends {
        let before = steps.last().map_or(start, |step| &step.pushed.product);
        let pushed = push(before, &arrows[from..end]).ok()?;
        steps.push(CutStep { arrows: from..end, pushed });
        from = end;
    }
    (steps.len() > 1).then(|| Cut { steps, sum: sum_of(start, arrows) })
}

/// An atom that arrows touch, as the start draws it.
struct Touched {
    element: Element,
    electrons: Electrons,
    /// The place of its own electrons, if arrows touch it, and the places of its bonds.
    own: Option<usize>,
    bonds: Vec<usize>,
}

/// The places that arrows touch, each with its electrons in the start.
struct Places {
    /// Sorted by their atoms.
    keys: Vec<(AtomId, AtomId)>,
    /// `None` where electrons are not judged.
    start: Vec<Option<i32>>,
    atoms: Vec<Touched>,
    octet: OctetRule,
}

/// How good a cut is; the least is best: steps, open octets, charges, then the latest cut.
type Cost = (usize, i32, i32, Reverse<usize>);

impl Places {
    fn new(start: &Structure, arrows: &[Arrow], octet: OctetRule) -> Self {
        let keys: Vec<(AtomId, AtomId)> = accounts(arrows).iter().map(|account: &Account| account.key).collect();
        let mut touched: Vec<AtomId> = keys.iter().flat_map(|(a, b)| [*a, *b]).collect();
        touched.sort_unstable();
        touched.dedup();
        let atom = |atom: AtomId| Touched {
            element: start.atom(atom).element,
            electrons: Electrons::of(start, atom),
            own: keys.iter().position(|key| *key == (atom, atom)),
            bonds: (0..keys.len()).filter(|at| is_bond_of(keys[*at], atom)).collect(),
        };
        let atoms = touched.into_iter().map(atom).collect();
        let there = keys.iter().map(|key| electrons_there(start, *key)).collect();
        Self { keys, start: there, atoms, octet }
    }

    /// Where the steps of the best cut end.
    fn ends(&self, arrows: &[Arrow]) -> Option<Vec<usize>> {
        let place = |key| self.keys.binary_search(&key).ok();
        let moves: Vec<(usize, usize, i32)> = arrows
            .iter()
            .map(|arrow| {
                Some((
                    place(super::push::key(arrow.tail))?,
                    place(super::push::key(arrow.head))?,
                    arrow.moves.electrons(),
                ))
            })
            .collect::<Option<_>>()?;
        let count = moves.len();
        let between = self.between(&moves);
        let mut best: Vec<Option<(Cost, usize)>> = vec![None; count + 1];
        best[count] = Some(((0, 0, 0, Reverse(0)), count));
        for from in (0..count).rev() {
            let Some(before) = &between[from] else { continue };
            let mut taken = vec![0; self.keys.len()];
            for to in from + 1..=count {
                let (tail, _, electrons) = moves[to - 1];
                taken[tail] += electrons;
                if before.left[tail].is_some_and(|there| there < taken[tail]) {
                    break;
                }
                let (Some(after), Some((rest, _))) = (&between[to], best[to]) else { continue };
                let own = if to == count { (0, 0) } else { (after.open, after.charges) };
                let cost = (rest.0 + 1, rest.1 + own.0, rest.2 + own.1, Reverse(to));
                if best[from].is_none_or(|(least, _)| cost < least) {
                    best[from] = Some((cost, to));
                }
            }
        }
        let mut ends = Vec::new();
        let mut at = 0;
        while at < count {
            at = best[at]?.1;
            ends.push(at);
        }
        Some(ends)
    }

    /// For each place before, between and behind arrows what is left there; `None` where no step can end.
    fn between(&self, moves: &[(usize, usize, i32)]) -> Vec<Option<Between>> {
        let mut left = self.start.clone();
        // What the arrows have changed, also where electrons are not judged.
        let mut change = vec![0; self.keys.len()];
        let mut all = vec![self.judge(&left, &change, true)];
        for (tail, head, electrons) in moves {
            for (place, more) in [(*tail, -electrons), (*head, *electrons)] {
                change[place] += more;
                if let Some(left) = &mut left[place] {
                    *left += more;
                }
            }
            all.push(self.judge(&left, &change, false));
        }
        all
    }

    /// Judges what is left at one place. Of the start, `as_drawn`, only the bonds are looked at.
    fn judge(&self, left: &[Option<i32>], change: &[i32], as_drawn: bool) -> Option<Between> {
        let is_bond = |at: usize| self.keys[at].0 != self.keys[at].1;
        let odd = |(at, left): (usize, &Option<i32>)| is_bond(at) && left.is_some_and(|left| left < 0 || left % 2 != 0);
        if left.iter().enumerate().any(odd) {
            return None;
        }
        let mut found = Between { left: left.to_vec(), open: 0, charges: 0 };
        for atom in self.atoms.iter().filter(|_| !as_drawn) {
            let bonds: i32 = atom.bonds.iter().map(|at| change[*at] / 2).sum();
            let own = atom.own.map_or(0, |at| change[at]);
            let Electrons { valence, bonds: before, charge } = atom.electrons;
            let electrons = Electrons { valence, bonds: before + bonds, charge: charge - own - bonds };
            let is_faulty = |electrons| judge_count(atom.element, electrons, self.octet).is_some();
            if is_faulty(electrons) && !is_faulty(atom.electrons) {
                return None;
            }
            found.open += i32::from(has_open_octet(atom.element, electrons));
            found.charges += electrons.charge.abs();
        }
        Some(found)
    }
}

/// What is left between two arrows.
struct Between {
    left: Vec<Option<i32>>,
    open: i32,
    charges: i32,
}

fn is_bond_of(key: (AtomId, AtomId), atom: AtomId) -> bool {
    key.0 != key.1 && (key.0 == atom || key.1 == atom)
}
