//! Findings that only the whole bank shows: repeated ids and questions, conflicting and shifted answers.
//!
//! Items come by in the order of the bank. The index keeps a few numbers of each; items wait only while they may belong
//! to a run of shifted answers.

mod index;
mod shift;

use super::digest::Digest;
use super::{Class, Finding, Name, classify};
use index::{Index, Place};
use shift::Shifts;
use std::sync::Arc;

/// An item that passes by: what it comes to, and what may still be added to it.
pub trait Passing {
    /// Name of the file it stands in.
    fn file(&self) -> &Arc<str>;
    /// Line on which it starts.
    fn line(&self) -> u32;
    /// Its id.
    fn id(&self) -> &str;
    /// Its findings so far.
    fn findings(&mut self) -> &mut Vec<Finding>;
    /// Sets how it comes out.
    fn set_class(&mut self, class: Class);
}

/// Watches items go by.
pub struct BankWide<I> {
    index: Index,
    shifts: Shifts<I>,
}

impl<I: Passing> Default for BankWide<I> {
    fn default() -> Self {
        Self { index: Index::default(), shifts: Shifts::default() }
    }
}

impl<I: Passing> BankWide<I> {
    /// Takes the next item; gives back those that are settled, in order.
    pub fn take(&mut self, mut item: I, digest: Digest, settled: &mut Vec<I>) {
        let place = Place { file: Arc::clone(item.file()), line: item.line() };
        let seen = self.index.add(&digest, place);
        if let Some(first) = seen.id {
            let message = format!("the id '{}' is also that of the item at {first}", item.id());
            item.findings().push(Finding::new(Name::RepeatedId, message));
        }
        match seen.question {
            Some((first, true)) => {
                let message =
                    format!("the item asks the same as the one at {first}: same start and arrows, up to labels");
                item.findings().push(Finding::new(Name::RepeatedQuestion, message));
            }
            Some((first, false)) => {
                let message = format!("the item asks the same as the one at {first} and states another answer");
                item.findings().push(Finding::new(Name::ConflictingAnswers, message));
            }
            None => {}
        }
        self.shifts.take(item, &digest, settled);
        settle(settled);
    }

    /// Gives back what still waits, at the end of a file: runs do not go on in the next one.
    pub fn end_of_file(&mut self, settled: &mut Vec<I>) {
        self.shifts.end(settled);
        settle(settled);
    }
}

/// The class after all findings.
fn settle<I: Passing>(items: &mut [I]) {
    for item in items {
        if !item.findings().is_empty() {
            let class = classify(item.findings());
            item.set_class(class);
        }
    }
}
