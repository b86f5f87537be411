//! Findings that only the whole bank shows: repeated ids and questions, conflicting and shifted answers.
//!
//! Items come by in the order of the bank. The index keeps a few numbers of each; items wait only while they may belong
//! to a run of shifted answers.

mod hashes;
mod index;
mod positions;
mod shift;

use super::digest::Digest;
use super::{Finding, Name};
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
    fn add(&mut self, finding: Finding, file: &Arc<str>);
}

/// Watches items go by.
pub struct BankWide<I> {
    index: Index,
    shifts: Shifts<I>,
    file: Arc<str>,
}

impl<I: Passing> Default for BankWide<I> {
    fn default() -> Self {
        Self { index: Index::default(), shifts: Shifts::default(), file: Arc::default() }
    }
}

impl<I: Passing> BankWide<I> {
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
        let seen = self.index.add(&digest, item.line(), item.file().unwrap_or(&self.file), item.own_id());
        if let Some(first) = seen.id.map(|first| self.index.place(first)) {
            let message = format!("the id '{}' is also that of the item at {first}", item.id(&self.file));
            item.add(Finding::new(Name::RepeatedId, message), &self.file);
        }
        match seen.question.map(|first| (self.index.place(first), self.index.states(first, digest.answer))) {
            Some((first, true)) => {
                let message =
                    format!("the item asks the same as the one at {first}: same start and arrows, up to labels");
                item.add(Finding::new(Name::RepeatedQuestion, message), &self.file);
            }
            Some((first, false)) => {
                let message = format!("the item asks the same as the one at {first} and states another answer");
                item.add(Finding::new(Name::ConflictingAnswers, message), &self.file);
            }
            None => {}
        }
        self.shifts.take(item, &digest, &self.file, settled);
    }

    /// Gives back what still waits, at the end of a file: runs do not go on in the next one.
    pub fn end_of_file(&mut self, settled: &mut Vec<I>) {
        self.shifts.end(&self.file, settled);
    }
}
