//! Runs of neighbouring items that state each other's answers, one place off.
//!
//! An item leans forward where its answer, which is not its product, is the product of the item behind it, and back where
//! it is that of the item before it. Three neighbours or more that lean the same way are a run: one finding on its
//! first item, and each of its items gets the slip.

use super::super::digest::Digest;
use super::super::{Finding, Name};
use super::Passing;

/// Fewest items of a run.
const LEAST: usize = 3;
/// Items of one run that may wait; a longer run is reported in pieces, so that memory stays bounded.
const MOST: usize = 10_000;

/// The slip of an item that states the answer of a neighbour.
const SLIP: &str = "answer-of-another-item";

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
    run: Vec<I>,
    lean: Option<Lean>,
    newest: Option<Newest<I>>,
}

impl<I> Default for Shifts<I> {
    fn default() -> Self {
        Self { run: Vec::new(), lean: None, newest: None }
    }
}

impl<I: Passing> Shifts<I> {
    pub(super) fn take(&mut self, item: I, digest: &Digest, settled: &mut Vec<I>) {
        let before = self.newest.take();
        let before_product = before.as_ref().and_then(|before| before.digest.product);
        if let Some(before) = before {
            let leans_forward = before.digest.stated.is_some() && before.digest.stated == digest.product;
            self.place(before.item, leans_forward, before.leans_back, settled);
        }
        let leans_back = digest.stated.is_some() && digest.stated == before_product;
        self.newest = Some(Newest { item, digest: *digest, leans_back });
    }

    pub(super) fn end(&mut self, settled: &mut Vec<I>) {
        if let Some(last) = self.newest.take() {
            self.place(last.item, false, last.leans_back, settled);
        }
        self.flush(settled);
    }

    /// Adds an item to the run, or ends the run before it.
    fn place(&mut self, item: I, leans_forward: bool, leans_back: bool, settled: &mut Vec<I>) {
        let lean = match self.lean {
            Some(Lean::Back) if leans_back => Some(Lean::Back),
            _ if leans_forward => Some(Lean::Forward),
            _ if leans_back => Some(Lean::Back),
            _ => None,
        };
        if lean != self.lean || self.run.len() >= MOST {
            self.flush(settled);
        }
        self.lean = lean;
        if lean.is_some() {
            self.run.push(item);
        } else {
            settled.push(item);
        }
    }

    fn flush(&mut self, settled: &mut Vec<I>) {
        let Some(lean) = self.lean.take() else { return };
        for finding in self.run.iter_mut().flat_map(|item| item.findings().iter_mut()) {
            if finding.name == Name::MismatchedProduct {
                SLIP.clone_into(&mut finding.slip);
            }
        }
        if self.run.len() >= LEAST {
            announce(&mut self.run, lean);
        }
        settled.append(&mut self.run);
    }
}

/// Puts the finding on the first item of a run.
fn announce<I: Passing>(run: &mut [I], lean: Lean) {
    let count = run.len();
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let (direction, remedy) = match lean {
        Lean::Forward => ("behind", "down"),
        Lean::Back => ("before", "up"),
    };
    let message = format!(
        "{count} neighbouring items, from {} (line {}) to {} (line {}), each state the answer of the item {direction} it: \
         move the answers of these items {remedy} by one",
        first.id(),
        first.line(),
        last.id(),
        last.line()
    );
    if let Some(first) = run.first_mut() {
        first.findings().push(Finding::new(Name::ShiftedAnswers, message));
    }
}
