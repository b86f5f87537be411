//! Runs of neighbouring items that state each other's answers, one place off.
//!
//! An item leans forward where its answer, which is not its product, is the product of the item behind it, and back where
//! it is that of the item before it. Three neighbours or more that lean the same way are a run: one finding on its
//! first item, and each of its items gets the slip. A faulty item that leans nowhere does not end a run; a sound one does.

use super::Passing;
use crate::findings::correction::answer_of_another_item;
use crate::findings::digest::Digest;
use crate::findings::slips::Slips;
use crate::findings::{Finding, Name, Other};
use std::sync::Arc;

/// Fewest items of a run.
const LEAST: usize = 3;
/// Items of one run that may wait; a longer run is reported in pieces, so that memory stays bounded.
const LONGEST_RUN: usize = 10_000;

/// Items in a row that a run passes over because they are faulty for another reason.
const GAP: usize = 2;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lean {
    Forward,
    Back,
}

/// The newest item, if its answer is wrong: whether it leans forward is known only when the next one comes.
struct Newest<I> {
    item: I,
    kind: Kind,
    /// The digest of its answer.
    stated: u64,
}

/// What a run needs of an item but for its forward lean.
#[derive(Debug, Clone, Copy)]
struct Kind {
    is_sound: bool,
    leans_back: bool,
}

pub(super) struct Shifts<I> {
    /// The items of the run; `false` for those that lean nowhere themselves.
    run: Vec<(I, bool)>,
    lean: Option<Lean>,
    /// Items at the end of the run that lean nowhere.
    gap: usize,
    newest: Option<Newest<I>>,
    /// The digest of the product of the item that was taken last.
    product: Option<u64>,
}

impl<I> Default for Shifts<I> {
    fn default() -> Self {
        Self { run: Vec::new(), lean: None, gap: 0, newest: None, product: None }
    }
}

impl<I: Passing> Shifts<I> {
    pub(super) fn take(&mut self, item: I, digest: &Digest, file: &Arc<str>, settled: &mut Vec<I>) {
        if let Some(before) = self.newest.take() {
            let leans_forward = Some(before.stated) == digest.product;
            self.place(before.item, before.kind, leans_forward, file, settled);
        }
        let leans_back = digest.stated.is_some() && digest.stated == self.product;
        self.product = digest.product;
        let kind = Kind { is_sound: digest.question.is_some() && digest.is_proven, leans_back };
        match digest.stated {
            Some(stated) => self.newest = Some(Newest { item, kind, stated }),
            // It cannot lean, and most items are such: they pass on without a stop.
            None => self.place(item, kind, false, file, settled),
        }
    }

    pub(super) fn end(&mut self, file: &Arc<str>, settled: &mut Vec<I>) {
        if let Some(last) = self.newest.take() {
            self.place(last.item, last.kind, false, file, settled);
        }
        self.product = None;
        self.flush(file, settled);
    }

    /// Adds an item to the run, or ends the run before it.
    fn place(&mut self, item: I, kind: Kind, leans_forward: bool, file: &Arc<str>, settled: &mut Vec<I>) {
        let lean = match self.lean {
            Some(Lean::Back) if kind.leans_back => Some(Lean::Back),
            _ if leans_forward => Some(Lean::Forward),
            _ if kind.leans_back => Some(Lean::Back),
            _ => None,
        };
        if lean.is_none() && self.lean.is_some() && !kind.is_sound && self.gap < GAP {
            self.gap += 1;
            self.run.push((item, false));
            return;
        }
        if lean != self.lean || self.run.len() >= LONGEST_RUN {
            self.flush(file, settled);
        }
        self.lean = lean;
        self.gap = 0;
        if lean.is_some() {
            self.run.push((item, true));
        } else {
            settled.push(item);
        }
    }

    fn flush(&mut self, file: &Arc<str>, settled: &mut Vec<I>) {
        let Some(lean) = self.lean.take() else { return };
        let whose = match lean {
            Lean::Forward => "that of the item behind",
            Lean::Back => "that of the item before",
        };
        let lines: Vec<(String, u32)> =
            self.run.iter().map(|(item, _)| (item.file().unwrap_or(file).to_string(), item.line())).collect();
        let neighbour = |at: usize| {
            let at = if lean == Lean::Back { at.checked_sub(1)? } else { at + 1 };
            let (file, line) = lines.get(at)?.clone();
            Some(Box::new(Other { file, line, is_right: false }))
        };
        let run = self.run.iter_mut().enumerate().filter(|(_, (_, leans))| *leans);
        let (places, mut leaning): (Vec<usize>, Vec<&mut I>) = run.map(|(at, (item, _))| (at, item)).unzip();
        for (at, item) in places.into_iter().zip(&mut leaning) {
            let findings = item.findings();
            // An answer of other atoms is that of another compound. Of the same atoms it may be a question about the same
            // compound, and then it says nothing about this one.
            let is_of_another = findings.iter().any(|finding| finding.name == Name::UnbalancedAtoms);
            let is_in_doubt = |finding: &Finding| finding.fix.as_ref().is_some_and(|fix| fix.is_in_doubt);
            let mismatches =
                findings.iter_mut().filter(|finding| finding.name == Name::MismatchedProduct && !is_in_doubt(finding));
            for finding in mismatches.filter(|finding| is_of_another && !is_explained(&finding.slips)) {
                answer_of_another_item(finding, whose);
                finding.other = neighbour(at);
            }
        }
        if leaning.len() >= LEAST {
            announce(&mut leaning, lean, file);
        }
        settled.extend(self.run.drain(..).map(|(item, _)| item));
    }
}

/// Whether slips with the item's own arrows alone explain its answer. What was drawn otherwise may be so by chance.
fn is_explained(slips: &Slips) -> bool {
    !slips.is_empty() && slips.iter().all(|slip| !slip.lies_in_the_answer())
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
        first.add(Finding::new(Name::ShiftedAnswers, message));
    }
}
