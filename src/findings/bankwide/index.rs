//! What the bank has shown so far: three numbers an item (12 or, while ids grow, 16 bytes), the answers that are wrong (12), and tables
//! of positions by hash (9 to 10 bytes an item).

use super::conflicts::Stated;
use super::hashes::{Column, Hashes, Ids};
use super::place::Place;
use crate::findings::digest::Digest;
use std::sync::Arc;

/// What was seen before of one item, as positions: plain numbers, so that nothing waits for them but who asks.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seen {
    /// The first item with the same id.
    pub(super) id: Option<u32>,
    /// The first item that asks the same.
    pub(super) question: Option<u32>,
}

/// What nearly all items state.
const USUAL: Stated = Stated::Proven(0);

/// What the bank has shown so far.
#[derive(Default)]
pub(super) struct Index {
    ids: Ids,
    questions: Hashes,
    lines: Column<u32>,
    /// The answers that are not the product beyond doubt, each with its position.
    answers: Vec<(u32, Stated)>,
    count: u32,
    /// First position of each file.
    files: Vec<(u32, Arc<str>)>,
}

impl Index {
    /// Looks at the places of questions that will be added next.
    pub(super) fn fetch(&self, questions: impl Iterator<Item = u64>) {
        self.questions.fetch(questions);
    }

    /// Adds an item and says what was seen of it before.
    pub(super) fn add(&mut self, digest: &Digest, line: u32, file: &Arc<str>, text: &[u8]) -> Seen {
        let at = self.count;
        let Some(next) = at.checked_add(1) else { return Seen::default() };
        if self.files.last().is_none_or(|(_, own)| !Arc::ptr_eq(own, file) && own != file) {
            self.files.push((at, Arc::clone(file)));
        }
        self.lines.push(line);
        let stated = Stated::of(digest);
        if stated != USUAL {
            self.answers.push((at, stated));
        }
        self.count = next;
        Seen { id: self.ids.take(digest.id, text), question: self.questions.take(digest.question) }
    }

    /// What the item at a position states.
    pub(super) fn stated(&self, at: u32) -> Stated {
        let found = self.answers.binary_search_by_key(&at, |(at, _)| *at);
        found.ok().and_then(|found| self.answers.get(found)).map_or(USUAL, |(_, stated)| *stated)
    }

    /// The position of the item that is added next.
    pub(super) fn next(&self) -> u32 {
        self.count
    }

    /// Where the item at a position stands.
    pub(super) fn place(&self, at: u32) -> Place {
        let file = self.files.partition_point(|(first, _)| *first <= at).saturating_sub(1);
        let file = self.files.get(file).map_or_else(|| Arc::from(""), |(_, name)| Arc::clone(name));
        Place { file, line: self.lines.get(at) }
    }
}
