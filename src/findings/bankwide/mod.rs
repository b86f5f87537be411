//! Findings that only the whole bank shows: repeated ids and questions, conflicting and shifted answers.
//!
//! Items come by in the order of the bank. The index keeps a few numbers of each; items wait only while they may belong
//! to a run of shifted answers.

mod conflicts;
mod hashes;
mod index;
mod place;
mod positions;
mod shift;

use crate::findings::digest::Digest;
use crate::findings::{Finding, Name};
pub use conflicts::Hindsight;
use conflicts::{Conflicts, Stated};
use index::Index;
use shift::Shifts;
use std::sync::Arc;

/// An item that passes by: what it comes to, and what may still be added to it.
pub trait Passing {
    /// Line on which it starts.
    fn line(&self) -> u32;
    /// The file it stands in, where it knows; else that which was begun last.
    fn file(&self) -> Option<&Arc<str>>;
    /// Its id.
    fn id(&self, file: &Arc<str>) -> String;
    /// Its own id, if the bank gives one.
    fn own_id(&self) -> &[u8];
    /// Its findings so far.
    fn findings(&mut self) -> &mut [Finding];
    /// Adds a finding, which may change how it comes out.
    fn add(&mut self, finding: Finding);
}

/// Watches items go by.
pub struct BankWide<I> {
    index: Index,
    conflicts: Conflicts,
    shifts: Shifts<I>,
    file: Arc<str>,
}

impl<I: Passing> Default for BankWide<I> {
    fn default() -> Self {
        Self::knowing(&Hindsight::default())
    }
}

impl<I: Passing> BankWide<I> {
    /// One that has seen the bank before.
    #[must_use]
    pub fn knowing(hindsight: &Hindsight) -> Self {
        let conflicts = Conflicts::knowing(hindsight);
        Self { index: Index::default(), conflicts, shifts: Shifts::default(), file: Arc::default() }
    }

    /// What came too late for the items concerned: gone through once more with it, the bank is told all of it.
    #[must_use]
    pub fn hindsight(&self) -> Hindsight {
        self.conflicts.hindsight()
    }

    /// The items that come now stand in this file.
    pub fn begin_file(&mut self, file: &Arc<str>) {
        self.file = Arc::clone(file);
    }

    /// Says which items [`take`](Self::take) will be given next; that goes faster then.
    pub fn announce<'a>(&self, digests: impl Iterator<Item = &'a Digest>) {
        self.index.fetch(digests.filter_map(|digest| digest.question));
    }

    /// Takes the next item; gives back those that are settled, in order.
    pub fn take(&mut self, mut item: I, digest: Digest, settled: &mut Vec<I>) {
        let at = self.index.next();
        let seen = self.index.add(&digest, item.line(), item.file().unwrap_or(&self.file), item.own_id());
        if let Some(first) = seen.id.map(|first| self.index.place(first)) {
            let message = format!("the id '{}' is also that of the item at {first}", item.id(&self.file));
            let finding =
                Finding { other: Some(Box::new(first.other(false))), ..Finding::new(Name::RepeatedId, message) };
            item.add(finding);
        }
        if digest.question.is_some() {
            let Self { index, conflicts, .. } = self;
            let first = seen.question.map(|first| (first, index.stated(first)));
            if let Some(finding) = conflicts.take(at, Stated::of(&digest), &|at| index.place(at), first) {
                item.add(finding);
            }
        }
        self.shifts.take(item, &digest, &self.file, settled);
    }

    /// Gives back what still waits, at the end of a file: runs do not go on in the next one.
    pub fn end_of_file(&mut self, settled: &mut Vec<I>) {
        self.shifts.end(&self.file, settled);
    }
}
