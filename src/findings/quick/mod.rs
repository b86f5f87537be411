//! The quick way: proves that a plain item is sound, or gives up and says nothing.
//!
//! Most items of a bank are sound and plain: one step, SMILES without stereo marks, no options. For these everything that
//! [`judge`](crate::findings::judge) would look at can be looked at in flat buffers that are used again for the next item. The quick way
//! never finds a fault: where anything is unusual it gives up, and the item is judged in full. What it proves is exactly that
//! `judge` would find nothing, or nothing but notes, so that a bank has one audit whether or not it is tried; a test holds the
//! two to each other.
//!
//! Decisions are not made twice: electrons, roles in delocalised systems, understood hydrogens, sums of arrows, colours and
//! digests are those of the modules that `judge` uses.

mod arrows;
mod bare;
mod gather;
mod labels;
mod loose;
mod outline;
mod pen;
mod read;
mod rings;
mod same;
mod sketch;

use crate::arrows::notation;
use crate::bank::{Plain, Task, trimmed};
use crate::findings::digest::{self, Attempt, Digest};
use crate::findings::role::Role;
use crate::findings::rules::answer::indistinct;
use crate::findings::{Finding, Settings};
use crate::limits::Limits;
use crate::smiles::brackets::Brackets;
use crate::structure::canon::Peel;
use crate::structure::electrons::Shells;
use crate::structure::{AtomId, Element};
use arrows::Moved;
use labels::Labels;
pub use outline::{Outline, Outliner};
use same::Comparison;
use sketch::{Atom, MOST_ATOMS, Sketch};
use std::borrow::Cow;

/// What is proven of an item: that it is sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proof {
    /// Its digest.
    pub digest: Digest,
    /// What may be said of it nevertheless.
    pub notes: Vec<Finding>,
}

/// Proves items sound, one after the other, in buffers that it keeps.
#[derive(Debug)]
pub struct Prover {
    shells: &'static Shells,
    is_off: bool,
    limits: Limits,
    brackets: Brackets<Atom>,
    start: Sketch,
    product: Sketch,
    answer: Sketch,
    /// The answer of the item that was proven last, and its digest where that was worked out.
    proven: Sketch,
    proven_digest: Option<u64>,
    /// Whether start, answer and arrows of the last item could be read.
    has_read: bool,
    moved: Moved,
    comparison: Comparison,
    peel: Peel,
    places: Box<[u8; 256]>,
    labels: Labels,
}

/// Bytes of a field that are looked at the quick way, at most.
const LONGEST: usize = 8192;

impl Prover {
    /// A prover for these settings. It gives up on everything where they are unusual in what it does not ask about.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        Self {
            shells: Shells::of(settings.octet),
            is_off: settings.smiles.relaxed || !are_wide(&settings.limits) || !are_wide(&settings.smiles.limits),
            limits: settings.smiles.limits.clone(),
            brackets: Brackets::new(Atom::new(Element::ANY)),
            start: Sketch::default(),
            product: Sketch::default(),
            answer: Sketch::default(),
            proven: Sketch::default(),
            proven_digest: None,
            has_read: false,
            moved: Moved::default(),
            comparison: Comparison::default(),
            peel: Peel::default(),
            places: Box::new([0; 256]),
            labels: Labels::default(),
        }
    }

    /// The proof that an item is sound; `None` says nothing about the item.
    pub fn prove(&mut self, item: &Plain<'_>) -> Option<Proof> {
        let mut notes = Vec::new();
        self.read_item(item, &mut notes)?;
        self.push_and_compare(item, &mut notes)?;
        self.proven_digest = self.comparison.product_sum();
        if !notes.is_empty() {
            crate::findings::rules::loose::merge(&mut notes);
        }
        self.has_read = false;
        std::mem::swap(&mut self.answer, &mut self.proven);
        let (id, question) = (item.id.map(digest::of_text), Some(self.question(item.task)));
        Some(Proof { digest: Digest { id, question, is_proven: true, ..Digest::default() }, notes })
    }

    /// Reads start, answer and arrows, and notes what is to be said of them.
    #[inline]
    fn read_item(&mut self, item: &Plain<'_>, notes: &mut Vec<Finding>) -> Option<()> {
        self.has_read = false;
        if self.is_off || item.start.len().max(item.arrows.len()).max(item.answer.len()) > LONGEST {
            return None;
        }
        let standard_start = self.read(trimmed(item.start), Role::Start, notes)?;
        let of_start = notes.len();
        self.read(trimmed(item.answer), Role::Answer, notes)?;
        self.start.look_at_atoms(&mut self.labels, self.shells)?;
        self.read_arrows(&standard_start, item, notes)?;
        // Arrows come before the answer.
        notes[of_start..].reverse();
        Some(())
    }

    /// The digest of the product of the item that was proven last.
    pub fn product(&mut self) -> u64 {
        if let Some(digest) = self.proven_digest {
            return digest;
        }
        // The answer is the product.
        let Self { proven, peel, places, .. } = self;
        drawing(proven, peel, places)
    }

    /// What was worked out of the last item, if it could not be proven.
    pub fn attempt(&mut self, task: Task) -> Option<Attempt> {
        if !self.has_read {
            return None;
        }
        let question = self.question(task);
        let Self { answer, peel, places, .. } = self;
        answer.fold_hydrogens();
        Some(Attempt { question, answer: drawing(answer, peel, places) })
    }

    /// The digest of start and arrows.
    fn question(&mut self, task: Task) -> u64 {
        let Self { start, peel, places, moved, .. } = self;
        let orders = start.orders();
        start.feed(orders, peel, places);
        let host = |atom: AtomId| {
            let at = atom.index() as u8;
            (u32::from(places[usize::from(at)]), start.atom(at).folded)
        };
        digest::of_step(task, peel, &moved.arrows, host, |rest| start.list(orders, places, rest))
    }

    /// Reads a drawing and gives its standard spelling. Where that is another, notes what is to be said of it.
    #[inline]
    fn read<'t>(&mut self, text: &'t str, role: Role, notes: &mut Vec<Finding>) -> Option<Cow<'t, str>> {
        let sketch = if role == Role::Start { &mut self.start } else { &mut self.answer };
        if sketch.read(text, &self.limits, &mut self.brackets).is_some() {
            return Some(text.into());
        }
        let (standard, forms) = loose::standard_drawing(text)?;
        sketch.read(&standard, &self.limits, &mut self.brackets)?;
        notes.extend(crate::findings::rules::loose::of_drawing(text, &forms, role));
        Some(standard.into())
    }

    /// Reads the arrows, and notes what is to be said of them where they are spelt loosely.
    #[inline]
    fn read_arrows(&mut self, start: &str, item: &Plain<'_>, notes: &mut Vec<Finding>) -> Option<()> {
        if self.moved.read(trimmed(item.arrows), &mut self.start, &self.labels).is_some() {
            return Some(());
        }
        let arrows = loose::standard_arrows(trimmed(item.arrows), &self.start, &self.labels)?;
        // Hydrogens may have been drawn out.
        self.start.read(start, &self.limits, &mut self.brackets)?;
        self.start.look_at_atoms(&mut self.labels, self.shells)?;
        self.moved.read(&notation::write(&arrows), &mut self.start, &self.labels)?;
        notes.push(crate::findings::rules::loose::of_arrows(&arrows));
        Some(())
    }

    /// Proves that the answer is the product, and notes what is to be said of it.
    fn push_and_compare(&mut self, item: &Plain<'_>, notes: &mut Vec<Finding>) -> Option<()> {
        let Self { shells, start, product, answer, moved, comparison, labels, has_read, .. } = self;
        *has_read = true;
        start.fold_hydrogens();
        moved.push(start, product, item.task == Task::Resonance)?;
        moved.leaves_possible(product, shells).then_some(())?;
        product.fold_again(moved.touched());
        answer.fold_hydrogens();
        if answer.has_labels() {
            return comparison.by_labels(product, answer, labels).then_some(());
        }
        comparison.without_labels(product, answer, moved.touched()).then_some(())?;
        if comparison.is_same(start, product, moved.touched())? {
            notes.push(indistinct(Role::Answer));
        }
        Some(())
    }
}

/// The digest of a drawing.
fn drawing(sketch: &Sketch, peel: &mut Peel, places: &mut [u8; 256]) -> u64 {
    sketch.gather(sketch.orders(), peel, places);
    peel.sum()
}

/// Whether no cap can be met by what the quick way looks at.
fn are_wide(limits: &Limits) -> bool {
    let Limits { atoms, bonds, arrows, branches, ring_numbers, field_bytes, search_steps, forms, steps, .. } = *limits;
    let (least, usual) = (MOST_ATOMS.max(LONGEST), Limits::default());
    let counts = [atoms, bonds, arrows, branches, field_bytes];
    counts.into_iter().all(|cap| cap >= least)
        && (search_steps >= usual.search_steps && forms >= usual.forms && ring_numbers >= usual.ring_numbers)
        && steps > 0
}
