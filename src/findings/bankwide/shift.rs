//! Runs of neighbouring items that state each other's answers, one place off.
//!
//! An item leans forward where its answer, which is not its product, is the product of the item behind it, and back where
//! it is that of the item before it. Three neighbours or more that lean the same way are a run: one finding on its
//! first item, and each of its items gets the slip. A faulty item that leans nowhere does not end a run; a sound one does.

use super::super::correction::answer_of_another_item;
use super::super::digest::Digest;
use super::super::{Finding, Name};
use super::Passing;
use std::sync::Arc;

/// Fewest items of a run.
const LEAST: usize = 3;
/// Items of one run that may wait; a longer run is reported in pieces, so that memory stays bounded.
const MOST: usize = 10_000;

/// Items in a row that a run passes over because they are faulty for another reason.
const GAP: usize = 2;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lean {
    Forward,
    Back,
}

/// The newest item, whose forward lean is known only when the next one comes.
struct Newest<I> {
    item: I,
    digest: Digest,
    leans_back: bool,
}

pub(super) struct Shifts<I> {
    /// The items of the run; `false` for those that lean nowhere themselves.
    run: Vec<(I, bool)>,
    lean: Option<Lean>,
    /// Items at the end of the run that lean nowhere.
    gap: usize,
    newest: Option<Newest<I>>,
}

impl<I> Default for Shifts<I> {
    fn default() -> Self {
        Self { run: Vec::new(), lean: None, gap: 0, newest: None }
    }
}

impl<I: Passing> Shifts<I> {
    pub(super) fn take(&mut self, item: I, digest: &Digest, file: &Arc<str>, settled: &mut Vec<I>) {
        let before = self.newest.take();
        let before_product = before.as_ref().and_then(|before| before.digest.product);
        if let Some(before) = before {
            let leans_forward = before.digest.stated.is_some() && before.digest.stated == digest.product;
            self.place(before, leans_forward, file, settled);
        }
        let leans_back = digest.stated.is_some() && digest.stated == before_product;
        self.newest = Some(Newest { item, digest: *digest, leans_back });
    }

    pub(super) fn end(&mut self, file: &Arc<str>, settled: &mut Vec<I>) {
        if let Some(last) = self.newest.take() {
            self.place(last, false, file, settled);
        }
        self.flush(file, settled);
    }

    /// Adds an item to the run, or ends the run before it.
    fn place(&mut self, newest: Newest<I>, leans_forward: bool, file: &Arc<str>, settled: &mut Vec<I>) {
        let lean = match self.lean {
            Some(Lean::Back) if newest.leans_back => Some(Lean::Back),
            _ if leans_forward => Some(Lean::Forward),
            _ if newest.leans_back => Some(Lean::Back),
            _ => None,
        };
        let is_sound = newest.digest.question.is_some() && newest.digest.answer == 0;
        if lean.is_none() && self.lean.is_some() && !is_sound && self.gap < GAP {
            self.gap += 1;
            self.run.push((newest.item, false));
            return;
        }
        if lean != self.lean || self.run.len() >= MOST {
            self.flush(file, settled);
        }
        self.lean = lean;
        self.gap = 0;
        if lean.is_some() {
            self.run.push((newest.item, true));
        } else {
            settled.push(newest.item);
        }
    }

    fn flush(&mut self, file: &Arc<str>, settled: &mut Vec<I>) {
        let Some(lean) = self.lean.take() else { return };
        let whose = match lean {
            Lean::Forward => "that of the item behind",
            Lean::Back => "that of the item before",
        };
        let mut leaning: Vec<&mut I> = self.run.iter_mut().filter(|(_, leans)| *leans).map(|(item, _)| item).collect();
        for finding in leaning.iter_mut().flat_map(|item| item.findings().iter_mut()) {
            if finding.name == Name::MismatchedProduct {
                answer_of_another_item(finding, whose);
            }
        }
        if leaning.len() >= LEAST {
            announce(&mut leaning, lean, file);
        }
        settled.extend(self.run.drain(..).map(|(item, _)| item));
    }
}

/// Puts the finding on the first item of a run.
fn announce<I: Passing>(run: &mut [&mut I], lean: Lean, file: &Arc<str>) {
    let count = run.len();
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let (direction, remedy) = match lean {
        Lean::Forward => ("behind", "down"),
        Lean::Back => ("before", "up"),
    };
    let message = format!(
        "{count} neighbouring items, from {} (line {}) to {} (line {}), each state the answer of the item {direction} it: \
         move the answers of these items {remedy} by one",
        first.id(file),
        first.line(),
        last.id(file),
        last.line()
    );
    if let Some(first) = run.first_mut() {
        first.add(Finding::new(Name::ShiftedAnswers, message), file);
    }
}
