//! Arrows that count the atoms one too high or one too low.

use crate::arrows::resolve::resolve;
use crate::arrows::{AtomName, DrawnArrow, Place};
use crate::bank::Task;
use crate::compare::left_out;
use crate::findings::settle::{Settled, Taken, new_faults, settle};
use crate::limits::Limits;
use crate::structure::{AtomId, Label, LabelIndex, OctetRule, Structure};
use std::borrow::Cow;

/// What is needed to try the arrows with other labels.
#[derive(Clone, Copy)]
pub(in crate::findings) struct Shift<'a> {
    /// The start with the hydrogens that the arrows as written drew out.
    pub start: &'a Structure,
    /// Number of its atoms that are drawn in the bank.
    pub drawn_atoms: usize,
    /// Labels of the start.
    pub labels: &'a LabelIndex,
    /// The arrows as written.
    pub arrows: &'a [DrawnArrow],
    /// What the item asks for: in resonance no sigma bond moves.
    pub task: Task,
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// Caps.
    pub limits: &'a Limits,
}

/// The arrows under moved labels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::findings) struct Shifted {
    /// 1 where every label is to be one higher, -1 where one lower.
    pub by: i8,
    /// The arrows that lead to the stated answer.
    pub arrows: Vec<DrawnArrow>,
}

impl Shifted {
    /// `up` or `down`.
    pub fn way(&self) -> &'static str {
        if self.by > 0 { "up" } else { "down" }
    }
}

impl Shift<'_> {
    /// The arrows with every label moved by one, if they then lead to the stated answer without fault.
    pub fn find(&self, stated: &Structure) -> Option<Shifted> {
        if self.arrows.is_empty() || stated.is_empty() {
            return None;
        }
        let mut start = None;
        // One too low is counting from 0, the commoner slip.
        [1, -1].into_iter().find_map(|by| {
            let moved = self.arrows.iter().map(|arrow| self.moved(arrow, by));
            let arrows: Vec<DrawnArrow> = moved.collect::<Option<_>>()?;
            let start = start.get_or_insert_with(|| self.as_drawn());
            self.lead_to(start, &arrows, stated).then_some(Shifted { by, arrows })
        })
    }

    /// An arrow with its labels moved; `None` where no atom has the new label.
    fn moved(&self, arrow: &DrawnArrow, by: i8) -> Option<DrawnArrow> {
        let name = |name: &AtomName| {
            let Label::Number(number) = name.label else { return None };
            let label = Label::Number(number.checked_add_signed(i32::from(by))?);
            self.labels.get(&label)?;
            Some(AtomName { label, ..name.clone() })
        };
        let place = |place: &Place<AtomName>| {
            Some(match place {
                Place::Atom(a) => Place::Atom(name(a)?),
                Place::Bond(a, b) => Place::Bond(name(a)?, name(b)?),
            })
        };
        Some(DrawnArrow { tail: place(&arrow.tail)?, head: place(&arrow.head)?, ..arrow.clone() })
    }

    /// The start as its bank draws it.
    pub fn as_drawn(&self) -> Cow<'_, Structure> {
        if self.drawn_atoms >= self.start.atom_count() {
            return Cow::Borrowed(self.start);
        }
        Cow::Owned(without_drawn_out(self.start, self.drawn_atoms))
    }

    /// Whether arrows lead from the start to a stated answer, without a fault that the start has not.
    pub fn lead_to(&self, start: &Structure, arrows: &[DrawnArrow], stated: &Structure) -> bool {
        let resolved = resolve(start.clone(), self.labels, arrows);
        if !resolved.faults.is_empty() {
            return false;
        }
        let steps = self.limits.search_steps / 100;
        match settle(resolved.start, &resolved.arrows, self.octet, self.limits.forms.min(16)) {
            Settled::Faulty(..) => false,
            Settled::Possible(ways) => ways.iter().any(|way| {
                is_clean(way, self.octet)
                    && (self.task != Task::Resonance || !way.pushed.moves_sigma())
                    && left_out(&way.pushed.product, stated, self.labels, steps)
                        .is_some_and(|omitted| omitted.is_empty())
            }),
        }
    }
}

/// Whether the arrows are one step, and the product has no electron fault that the start has not and is another drawing.
fn is_clean(way: &Taken, octet: OctetRule) -> bool {
    way.steps.is_empty()
        && way.pushed.bonds.iter().any(|change| change.before != change.after)
        && new_faults(&way.start, &way.pushed, &way.arrows, octet).is_empty()
}

/// Takes back the hydrogens that arrows drew out: the atoms behind the first `drawn` ones.
fn without_drawn_out(start: &Structure, drawn: usize) -> Structure {
    let mut as_drawn = start.part(|atom| atom.index() < drawn);
    for hydrogen in (drawn..start.atom_count()).map(AtomId::new) {
        for (carrier, _) in start.neighbours(hydrogen).filter(|(carrier, _)| carrier.index() < drawn) {
            as_drawn.atom_mut(carrier).hydrogens += 1;
        }
    }
    as_drawn
}
