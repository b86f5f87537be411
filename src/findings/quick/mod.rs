//! The quick way: proves that a plain item is sound, or gives up and says nothing.
//!
//! Most items of a bank are sound and plain: one step, SMILES without stereo marks, no options. For these everything that
//! [`judge`](super::judge) would look at can be looked at in flat buffers that are used again for the next item. The quick way
//! never finds a fault: where anything is unusual it gives up, and the item is judged in full. What it proves is exactly that
//! `judge` would find nothing, so that a bank has one audit whether or not it is tried; a test holds the two to each other.
//!
//! Decisions are not made twice: electrons, roles in delocalised systems, understood hydrogens, sums of arrows, colours and
//! digests are those of the modules that `judge` uses.

mod arrows;
mod read;
mod same;
mod sketch;

use super::Settings;
use super::digest::{Digest, Digester};
use crate::bank::{Plain, Task};
use crate::limits::Limits;
use crate::structure::OctetRule;
use arrows::Moved;
use same::Comparison;
use sketch::{MOST, NONE, Sketch};

/// Proves items sound, one after the other, in buffers that it keeps.
#[derive(Debug, Default)]
pub struct Prover {
    octet: OctetRule,
    is_off: bool,
    start: Sketch,
    product: Sketch,
    answer: Sketch,
    /// The answer of the item that was proven last.
    proven: Sketch,
    moved: Moved,
    comparison: Comparison,
    digester: Digester,
    /// The atom of the start that carries each small label.
    by_label: Vec<u16>,
}

/// Bytes of a field that are looked at the quick way, at most.
const LONGEST: usize = 8192;
/// Labels from this on are not looked at the quick way.
const LABELS: usize = 1024;

impl Prover {
    /// A prover for these settings. It gives up on everything where they are unusual in what it does not ask about.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let is_off = settings.smiles.relaxed || !are_wide(&settings.limits) || !are_wide(&settings.smiles.limits);
        Self { octet: settings.octet, is_off, by_label: vec![NONE; LABELS], ..Self::default() }
    }

    /// The digest of an item that is sound without any finding; `None` says nothing about the item.
    pub fn prove(&mut self, item: &Plain<'_>) -> Option<Digest> {
        if self.is_off || item.start.len().max(item.arrows.len()).max(item.answer.len()) > LONGEST {
            return None;
        }
        self.start.read(item.start.trim())?;
        self.answer.read(item.answer.trim())?;
        self.start.possible(self.octet).then_some(())?;
        self.start.label_by_position();
        let labelled = index_labels(&self.start, &mut self.by_label);
        let proven = labelled.and_then(|()| self.push_and_compare(item));
        forget_labels(&self.start, &mut self.by_label);
        proven?;
        std::mem::swap(&mut self.answer, &mut self.proven);
        Some(Digest {
            id: item.id.map(super::digest::of_text),
            question: Some(self.digester.question(item.task, &self.start, &self.moved.arrows)),
            ..Digest::default()
        })
    }

    /// The digest of the product of the item that was proven last.
    pub fn product(&mut self) -> u64 {
        // The answer is the product.
        self.digester.drawing(&self.proven)
    }

    fn push_and_compare(&mut self, item: &Plain<'_>) -> Option<()> {
        let Self { octet, start, product, answer, moved, comparison, by_label, .. } = self;
        moved.read(item.arrows, start, by_label)?;
        moved.push(start, product, item.task == Task::Resonance)?;
        moved.leaves_possible(product, *octet).then_some(())?;
        product.fold_hydrogens();
        answer.fold_hydrogens();
        let same = if answer.has_labels() {
            comparison.by_labels(product, answer, by_label)
        } else {
            comparison.by_colours(product, answer) && comparison.differs_from_product(start)
        };
        same.then_some(())
    }
}

/// Whether no cap can be met by what the quick way looks at.
fn are_wide(limits: &Limits) -> bool {
    let Limits { atoms, bonds, arrows, branches, ring_numbers, field_bytes, search_steps, forms, steps, .. } = *limits;
    let (least, usual) = (MOST.max(LONGEST), Limits::default());
    let counts = [atoms, bonds, arrows, branches, field_bytes];
    counts.into_iter().all(|cap| cap >= least)
        && (search_steps >= usual.search_steps && forms >= usual.forms && ring_numbers >= usual.ring_numbers)
        && steps > 0
}

/// Notes which atom has which label; `None` where two have one or one is large.
fn index_labels(sketch: &Sketch, by_label: &mut [u16]) -> Option<()> {
    for (at, atom) in sketch.atoms.iter().enumerate() {
        let Some(label) = atom.class else { continue };
        let slot = by_label.get_mut(label as usize)?;
        if *slot != NONE {
            return None;
        }
        *slot = at as u16;
    }
    Some(())
}

fn forget_labels(sketch: &Sketch, by_label: &mut [u16]) {
    for label in sketch.atoms.iter().filter_map(|atom| atom.class) {
        if let Some(slot) = by_label.get_mut(label as usize) {
            *slot = NONE;
        }
    }
}
