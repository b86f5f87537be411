//! Arrows that were left out: the author's arrows and one or two more lead to the stated answer.

use super::labels::Shift;
use crate::arrows::infer::{Inferred, NoArrows, drawn};
use crate::arrows::{Arrow, AtomName, DrawnArrow, Moves, Place, notation, push_detached};
use crate::compare::{Compared, arrows_between, arrows_under};
use crate::structure::Structure;

/// Arrows that may be missing, at most.
const MOST: usize = 2;
/// Sets of missing arrows that are tried.
const WAYS: usize = 8;
/// Arrows of a step in whose place another one is looked for, at most.
const ARROWS: usize = 16;

/// The author's arrows with those that were left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::findings) struct Completed {
    /// All arrows, the author's in their order.
    pub arrows: Vec<DrawnArrow>,
    /// Those that were left out.
    pub added: Vec<DrawnArrow>,
    /// Whether one of them only leads on what an arrow of the author's has just brought: then that arrow may have another head.
    pub leads_on: bool,
}

impl Completed {
    /// `one more arrow, 1 -> 1-2` behind "what the arrows give with".
    pub fn words(&self) -> String {
        let count = if self.added.len() == 1 { "one more arrow" } else { "two more arrows" };
        format!("{count}, {}", notation::write(&self.added))
    }
}

impl Shift<'_> {
    /// The author's arrows with one or two more, if these lead from the start to the stated answer. `product` is what the author's
    /// arrows alone give, whether its electrons are possible or not.
    pub fn complete(&self, product: &Structure, stated: &Structure) -> Option<Completed> {
        let found = || arrows_between(product, stated, self.labels, self.limits.search_steps / 100);
        self.completed(found, stated)
    }

    /// As [`Shift::complete`], for a product that has been compared.
    pub fn complete_compared(&self, product: &Structure, stated: &Structure, own: &Compared) -> Option<Completed> {
        self.completed(|| arrows_under(product, stated, own, self.limits.search_steps / 100), stated)
    }

    fn completed(&self, found: impl FnOnce() -> Result<Inferred, NoArrows>, stated: &Structure) -> Option<Completed> {
        if self.arrows.is_empty() {
            return None;
        }
        let on_top = found().ok().and_then(|found| self.with_more(&found, stated, self.arrows, MOST));
        on_top.or_else(|| self.containing(stated))
    }

    /// As [`Shift::complete`], by the arrows that lead all the way: an aromatic start may be taken in another localised form once
    /// all arrows are there, and without labels the atoms correspond otherwise.
    fn containing(&self, stated: &Structure) -> Option<Completed> {
        let start = self.as_drawn();
        let found = arrows_between(&start, stated, self.labels, self.limits.search_steps / 100).ok()?;
        let most = self.arrows.len() + MOST;
        found.ways.iter().filter(|way| (self.arrows.len() + 1..=most).contains(&way.len())).find_map(|way| {
            let mut added = drawn(&found.start, way).ok()?;
            for own in self.arrows {
                let at = added.iter().position(|arrow| same_arrow(arrow, own))?;
                added.remove(at);
            }
            let arrows = added.iter().fold(self.arrows.to_vec(), placed);
            let leads_on = lead_on(&added, self.arrows);
            self.lead_to(&start, &arrows, stated).then_some(Completed { arrows, added, leads_on })
        })
    }

    /// Whether another arrow in the place of one of the author's leads to the stated answer, or leaving that one out. `arrows` are
    /// the author's on the atoms of the start.
    pub fn one_changed(&self, arrows: &[Arrow], stated: &Structure) -> Option<Vec<DrawnArrow>> {
        if arrows.len() != self.arrows.len() || arrows.len() > ARROWS {
            return None;
        }
        (0..arrows.len()).find_map(|at| {
            let others = [&arrows[..at], &arrows[at + 1..]].concat();
            let drawn = [&self.arrows[..at], &self.arrows[at + 1..]].concat();
            let product = push_detached(self.start, &others).ok()?.product;
            let found = arrows_between(&product, stated, self.labels, self.limits.search_steps / 100);
            let found = match found {
                // Without it the others lead there already.
                Err(NoArrows::Nothing) => return self.lead_to(&self.as_drawn(), &drawn, stated).then_some(drawn),
                other => other.ok()?,
            };
            let found = self.with_more(&found, stated, &drawn, 1)?;
            Some(in_place(&drawn, &found.added, at))
        })
    }

    /// Arrows with those that lead on from what they give, if these are no more than `most`.
    fn with_more(&self, found: &Inferred, stated: &Structure, own: &[DrawnArrow], most: usize) -> Option<Completed> {
        let pairs_only = self.arrows.iter().all(|arrow| arrow.moves == Moves::Pair);
        let fits = |way: &&Vec<Arrow>| {
            way.len() <= most && (!pairs_only || way.iter().all(|arrow| arrow.moves == Moves::Pair))
        };
        let start = self.as_drawn();
        let tried = found.ways.iter().filter(fits).take(WAYS).filter_map(|way| {
            let added = drawn(&found.start, way).ok()?;
            if added.iter().any(|arrow| own.iter().any(|other| takes_back(arrow, other))) {
                return None;
            }
            let arrows = added.iter().fold(own.to_vec(), placed);
            let leads_on = lead_on(&added, own);
            self.lead_to(&start, &arrows, stated).then_some(Completed { arrows, added, leads_on })
        });
        first_of(tried)
    }
}

/// The first that leads on nothing, else the first.
fn first_of(tried: impl Iterator<Item = Completed>) -> Option<Completed> {
    let mut first = None;
    for found in tried {
        if !found.leads_on {
            return Some(found);
        }
        first.get_or_insert(found);
    }
    first
}

fn lead_on(added: &[DrawnArrow], own: &[DrawnArrow]) -> bool {
    // From an atom, a pair that the start draws there goes on: that is an arrow of its own.
    let is_bond = |arrow: &&DrawnArrow| matches!(arrow.tail, Place::Bond(..));
    added.iter().filter(is_bond).any(|arrow| own.iter().any(|own| same_place(&arrow.tail, &own.head)))
}

fn in_place(others: &[DrawnArrow], with: &[DrawnArrow], at: usize) -> Vec<DrawnArrow> {
    [&others[..at], with, &others[at..]].concat()
}

/// Whether one arrow only undoes another.
fn takes_back(one: &DrawnArrow, other: &DrawnArrow) -> bool {
    same_place(&one.tail, &other.head) && same_place(&one.head, &other.tail)
}

fn names(place: &Place<AtomName>) -> (String, String) {
    match place {
        Place::Atom(a) => (a.to_string(), String::new()),
        Place::Bond(a, b) => {
            let (a, b) = (a.to_string(), b.to_string());
            if a <= b { (a, b) } else { (b, a) }
        }
    }
}

fn same_arrow(one: &DrawnArrow, other: &DrawnArrow) -> bool {
    one.moves == other.moves && same_place(&one.tail, &other.tail) && same_place(&one.head, &other.head)
}

fn same_place(one: &Place<AtomName>, other: &Place<AtomName>) -> bool {
    names(one) == names(other)
}

/// Puts an arrow where it joins the string of the others best, behind all others where it joins none.
fn placed(mut arrows: Vec<DrawnArrow>, arrow: &DrawnArrow) -> Vec<DrawnArrow> {
    let joins = |one: Option<&DrawnArrow>, next: Option<&DrawnArrow>| {
        let (Some(one), Some(next)) = (one, next) else { return 0 };
        let (head, tail) = (names(&one.head), names(&next.tail));
        let shared = |name: &String| !name.is_empty() && (*name == tail.0 || *name == tail.1);
        i32::from(shared(&head.0) || shared(&head.1))
    };
    let gain = |at: usize| {
        let (before, after) = (at.checked_sub(1).and_then(|at| arrows.get(at)), arrows.get(at));
        joins(before, Some(arrow)) + joins(Some(arrow), after) - joins(before, after)
    };
    let at = (0..=arrows.len()).max_by_key(|at| (gain(*at), *at)).unwrap_or(0);
    arrows.insert(at, arrow.clone());
    arrows
}
