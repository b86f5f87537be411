//! Arrows that were left out: the author's arrows and one or two more lead to the stated answer.

use super::labels::Shift;
use super::moves::may_need_one_more;
use super::single::{CHANGED, Drawing, Step, candidates};
use super::written::{in_place, placed, same_arrow, same_name, same_place, share_an_atom, takes_back};
use crate::arrows::infer::{Inferred, NoArrows, drawn};
use crate::arrows::{Arrow, AtomName, DrawnArrow, Moves, Place, notation, push, push_detached};
use crate::bank::Task;
use crate::compare::{Compared, arrows_between, arrows_under, kinds_of, left_out};
use crate::findings::settle::new_faults;
use crate::source::Span;
use crate::structure::{AtomId, Element, Structure};
use std::cell::OnceCell;

/// Arrows that may be missing, at most.
const MOST_MISSING: usize = 2;
/// Sets of missing arrows that are tried.
const WAYS: usize = 8;
/// Single arrows that sums let pass and that are tried.
const STEPS: usize = 24;
/// Arrows of a step in whose place another one is looked for, at most.
const ARROWS: usize = 16;
/// Hydrogens of one atom that arrows may name before another one is not looked for.
const HYDROGENS: u32 = 4;

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

/// What one arrow more, or another one, makes of the product of the author's arrows. Each question is answered once.
pub(in crate::findings) struct OneArrow<'a> {
    shift: Shift<'a>,
    /// The author's arrows on the atoms of the start.
    arrows: &'a [Arrow],
    /// What they give.
    product: &'a Structure,
    /// The stated answer.
    stated: &'a Structure,
    wanted: OnceCell<Drawing>,
    more: OnceCell<OneMore>,
    changed: OnceCell<Option<Vec<DrawnArrow>>>,
}

/// The author's arrows with one more; where none leads to the stated answer, in how many kinds of atoms the drawings are apart, if they
/// are not too far.
type OneMore = Result<Completed, Option<usize>>;

impl Completed {
    /// Whether an arrow that was left out touches what another one of the author's touches.
    pub fn joins(&self, own: &[DrawnArrow]) -> bool {
        let places = |arrow: &'_ DrawnArrow| [arrow.tail.clone(), arrow.head.clone()];
        let known: Vec<Place<AtomName>> = own.iter().flat_map(places).collect();
        self.added.iter().flat_map(places).any(|place| known.iter().any(|own| share_an_atom(own, &place)))
    }

    /// `one more arrow, 1 -> 1-2` behind "what the arrows give with".
    pub fn words(&self) -> String {
        let count = if self.added.len() == 1 { "one more arrow" } else { "two more arrows" };
        format!("{count}, {}", notation::write(&self.added))
    }
}

impl<'a> OneArrow<'a> {
    /// The question for the author's arrows on the atoms of the start, what they give, whether its electrons are possible or not, and
    /// the stated answer.
    pub fn new(shift: Shift<'a>, arrows: &'a [Arrow], product: &'a Structure, stated: &'a Structure) -> Self {
        let (wanted, more, changed) = Default::default();
        Self { shift, arrows, product, stated, wanted, more, changed }
    }

    fn wanted(&self) -> &Drawing {
        self.wanted.get_or_init(|| Drawing::new(self.stated))
    }

    /// The author's arrows with one more, if these lead to the stated answer: known from sums, without a search for a
    /// correspondence. Where there is none, in how many kinds of atoms the two drawings are apart, if they are not too far.
    fn more(&self) -> &OneMore {
        self.more.get_or_init(|| {
            let pushed = (self.product, &Drawing::new(self.product));
            self.shift.by_sums(self.arrows, self.shift.arrows, pushed, self.wanted(), self.stated)
        })
    }

    /// The same for full-headed arrows; `None` where the author has no arrows, or half-headed ones.
    fn more_pair(&self) -> Option<&OneMore> {
        (!self.shift.arrows.is_empty() && self.shift.has_pairs_only()).then(|| self.more())
    }

    /// The author's arrows with one more pair that leads to the stated answer.
    pub fn one_more_pair(&self) -> Option<&Completed> {
        self.more_pair().and_then(|more| more.as_ref().ok())
    }

    /// The author's arrows with one more that leads to the stated answer.
    pub fn added(&self) -> Option<&[DrawnArrow]> {
        self.more().as_ref().ok().map(|found| found.arrows.as_slice())
    }

    /// The author's arrows with another one in the place of one of them, or without it, that lead to the stated answer.
    pub fn changed(&self) -> Option<&[DrawnArrow]> {
        self.changed.get_or_init(|| self.shift.one_changed(self.arrows, self.wanted(), self.stated)).as_deref()
    }

    /// The author's arrows with one or two more, if these lead from the start to the stated answer.
    pub fn complete(&self) -> Option<Completed> {
        let Self { shift, product, stated, .. } = *self;
        self.completed(|| arrows_between(product, stated, shift.labels, shift.limits.search_steps / 100))
    }

    /// The same for a product that has been compared.
    pub fn complete_compared(&self, own: &Compared) -> Option<Completed> {
        self.completed(|| arrows_under(self.product, self.stated, own, self.shift.limits.search_steps / 100))
    }

    fn completed(&self, found: impl FnOnce() -> Result<Inferred, NoArrows>) -> Option<Completed> {
        let Self { shift, stated, .. } = *self;
        if shift.arrows.is_empty() {
            return None;
        }
        match self.more_pair() {
            Some(Ok(found)) => return Some(found.clone()),
            // Two arrows change no more kinds than these.
            Some(Err(changed)) if changed.is_none_or(|changed| changed > 2 * CHANGED) => return None,
            // One other arrow in the place of one of the author's is less than two more.
            Some(Err(_)) if self.changed().is_some() => return None,
            _ => {}
        }
        let on_top = found().ok().and_then(|found| shift.with_more(&found, stated, shift.arrows, MOST_MISSING));
        on_top.or_else(|| if shift.touch_a_ring(shift.arrows) { shift.containing(stated) } else { None })
    }
}

impl Shift<'_> {
    fn has_pairs_only(&self) -> bool {
        self.arrows.iter().all(|arrow| arrow.moves == Moves::Pair)
    }

    /// Whether arrows touch a ring that is drawn delocalised.
    fn touch_a_ring<'a>(&self, arrows: impl IntoIterator<Item = &'a DrawnArrow>) -> bool {
        let touches = |name: &AtomName| {
            let atom = self.labels.get(&name.label);
            atom.is_some_and(|atom| self.start.neighbours(atom).any(|(_, bond)| self.start.bond(bond).aromatic))
        };
        arrows.into_iter().flat_map(|own| [&own.tail, &own.head]).any(|place| match place {
            Place::Atom(a) => touches(a),
            Place::Bond(a, b) => touches(a) || touches(b),
        })
    }

    /// Arrows with one that leads from what they give, `product`, to the stated answer. Where there is none, in how many kinds of atoms
    /// the two are apart, if they are not too far.
    fn by_sums(
        &self,
        arrows: &[Arrow],
        own: &[DrawnArrow],
        (product, shown): (&Structure, &Drawing),
        wanted: &Drawing,
        stated: &Structure,
    ) -> OneMore {
        let mut steps = candidates(product, shown, wanted)?;
        let first = steps.found();
        let left = STEPS.saturating_sub(first.len());
        let first = self.one_more(arrows, own, first.iter().take(STEPS), stated);
        // Those that come first to mind are none: all others.
        first.or_else(|| self.one_more(arrows, own, steps.widen().iter().take(left), stated)).ok_or(Some(0))
    }

    /// Arrows with one of those that sums let pass.
    fn one_more<'s>(
        &self,
        arrows: &[Arrow],
        own: &[DrawnArrow],
        steps: impl Iterator<Item = &'s Step>,
        stated: &Structure,
    ) -> Option<Completed> {
        let tried = steps.filter_map(|step| {
            let arrow = self.named(*step, own)?;
            if own.iter().any(|other| takes_back(&arrow, other)) {
                return None;
            }
            let leads = match step {
                Step::Arrow(arrow) => self.leads(&[arrows, &[*arrow]].concat(), stated),
                Step::Hydride(..) | Step::Proton(_) => false,
            };
            // Other forms of a ring may be taken, and a hydrogen that is not drawn has no place yet.
            let may_otherwise = || !matches!(step, Step::Arrow(_)) || self.touch_a_ring(own.iter().chain([&arrow]));
            let with = placed(own.to_vec(), &arrow);
            (leads || may_otherwise() && self.lead_to(&self.as_drawn(), &with, stated)).then(|| {
                let added = vec![arrow];
                let leads_on = lead_on(&added, own);
                Completed { arrows: with, added, leads_on }
            })
        });
        first_of(tried)
    }

    /// The author's arrows with the two of a proton that passes from one atom to another, where they lead to the stated answer in
    /// one step.
    pub fn with_proton(
        &self,
        product: &Structure,
        (from, to): (AtomId, AtomId),
        stated: &Structure,
    ) -> Option<Vec<DrawnArrow>> {
        let drawn = product.neighbours(from).map(|(next, _)| next);
        let drawn = drawn.filter(|next| product.atom(*next).element == Element::HYDROGEN);
        let moving = match drawn.into_iter().find_map(|next| self.start.label(next)) {
            Some(label) => AtomName { label, hydrogen: None, span: Span::default() },
            None => self.undrawn_hydrogen(from, self.arrows)?,
        };
        let (from, to) = (self.name(from)?, self.name(to)?);
        let arrow = |tail, head| DrawnArrow { moves: Moves::Pair, tail, head, span: Span::default() };
        let more = [
            arrow(Place::Atom(to.clone()), Place::Bond(to, moving.clone())),
            arrow(Place::Bond(from.clone(), moving), Place::Atom(from)),
        ];
        let arrows = [self.arrows, &more].concat();
        self.lead_to(&self.as_drawn(), &arrows, stated).then_some(arrows)
    }

    fn name(&self, atom: AtomId) -> Option<AtomName> {
        Some(AtomName { label: self.start.label(atom)?, hydrogen: None, span: Span::default() })
    }

    /// A hydrogen that an atom carries undrawn and that no arrow names.
    fn undrawn_hydrogen(&self, carrier: AtomId, own: &[DrawnArrow]) -> Option<AtomName> {
        let label = self.start.label(carrier)?;
        let name = |count: u32| AtomName { label: label.clone(), hydrogen: Some(count), span: Span::default() };
        let is_free = |name: &AtomName| {
            let is_it = |other: &AtomName| same_name(other, name);
            !own.iter().flat_map(|own| [&own.tail, &own.head]).any(|place| match place {
                Place::Atom(a) => is_it(a),
                Place::Bond(a, b) => is_it(a) || is_it(b),
            })
        };
        (1..=HYDROGENS).map(name).find(is_free)
    }

    /// An arrow as it is written beside others.
    fn named(&self, step: Step, own: &[DrawnArrow]) -> Option<DrawnArrow> {
        let (tail, head) = match step {
            Step::Arrow(arrow) => return drawn(self.start, &[arrow]).ok()?.pop(),
            Step::Hydride(from, to) => {
                let moving = self.undrawn_hydrogen(from, own)?;
                (Place::Bond(self.name(from)?, moving.clone()), Place::Bond(moving, self.name(to)?))
            }
            Step::Proton(from) => {
                (Place::Bond(self.name(from)?, self.undrawn_hydrogen(from, own)?), Place::Atom(self.name(from)?))
            }
        };
        Some(DrawnArrow { moves: Moves::Pair, tail, head, span: Span::default() })
    }

    /// Whether arrows on the atoms of the start lead to the stated answer, in the localised form that is taken.
    fn leads(&self, arrows: &[Arrow], stated: &Structure) -> bool {
        push(self.start, arrows).is_ok_and(|pushed| {
            new_faults(self.start, &pushed, arrows, self.octet).is_empty()
                && (self.task != Task::Resonance || !pushed.moves_sigma())
                && left_out(&pushed.product, stated, self.labels, self.limits.search_steps / 100)
                    .is_some_and(|omitted| omitted.is_empty())
        })
    }

    /// As [`Shift::complete`], by the arrows that lead all the way: an aromatic start may be taken in another localised form once
    /// all arrows are there.
    fn containing(&self, stated: &Structure) -> Option<Completed> {
        let start = self.as_drawn();
        let found = arrows_between(&start, stated, self.labels, self.limits.search_steps / 100).ok()?;
        let most = self.arrows.len() + MOST_MISSING;
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
    fn one_changed(&self, arrows: &[Arrow], wanted: &Drawing, stated: &Structure) -> Option<Vec<DrawnArrow>> {
        if arrows.len() != self.arrows.len() || arrows.len() > ARROWS {
            return None;
        }
        let pairs_only = arrows.iter().all(|arrow| arrow.moves == Moves::Pair);
        if pairs_only && !Drawing::new(self.start).may_become(wanted) {
            return None;
        }
        let apart = kinds_of(stated).wrapping_sub(kinds_of(self.start));
        (0..arrows.len()).find_map(|at| {
            let others = [&arrows[..at], &arrows[at + 1..]].concat();
            if pairs_only && !may_need_one_more(self.start, &others, apart) {
                return None;
            }
            let drawn = [&self.arrows[..at], &self.arrows[at + 1..]].concat();
            let product = push_detached(self.start, &others).ok()?.product;
            let is_other = |found: &Completed| !found.added.iter().any(|arrow| same_arrow(arrow, &self.arrows[at]));
            // Without it the others may lead there already.
            let without = || self.lead_to(&self.as_drawn(), &drawn, stated).then(|| drawn.clone());
            if arrows[at].moves == Moves::Single {
                let found = arrows_between(&product, stated, self.labels, self.limits.search_steps / 100);
                return match found {
                    Err(NoArrows::Nothing) => without(),
                    other => Some(in_place(&drawn, &self.with_more(&other.ok()?, stated, &drawn, 1)?.added, at)),
                };
            }
            let shown = Drawing::new(&product);
            if let Some(arrows) = if shown.is_like(wanted) { without() } else { None } {
                return Some(arrows);
            }
            let found = self.by_sums(&others, &drawn, (&product, &shown), wanted, stated).ok().filter(is_other)?;
            Some(in_place(&drawn, &found.added, at))
        })
    }

    /// Arrows with those that lead on from what they give, if these are no more than `most`.
    fn with_more(&self, found: &Inferred, stated: &Structure, own: &[DrawnArrow], most: usize) -> Option<Completed> {
        let pairs_only = self.has_pairs_only();
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
