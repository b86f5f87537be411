//! What the bank has shown so far: three numbers an item (16 bytes), the answers that are wrong, and tables of positions by hash
//! (10 to 13 bytes an item).

use super::super::digest::Digest;
use super::positions::Positions;
use std::fmt;
use std::sync::Arc;

/// Where an item stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) file: Arc<str>,
    pub(super) line: u32,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.file, self.line)
    }
}

/// What was seen before of one item, as positions: plain numbers, so that nothing waits for them but who asks.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seen {
    /// The first item with the same id.
    pub(super) id: Option<u32>,
    /// The first item that asks the same.
    pub(super) question: Option<u32>,
}

/// Numbers in blocks, which are never moved, so that growing costs no second copy of them.
struct Column<N> {
    blocks: Vec<Vec<N>>,
}

/// Numbers of one block.
const BLOCK: usize = 1 << 14;

impl<N> Default for Column<N> {
    fn default() -> Self {
        Self { blocks: Vec::new() }
    }
}

impl<N: Copy> Column<N> {
    fn get(&self, at: u32) -> N {
        self.blocks[at as usize / BLOCK][at as usize % BLOCK]
    }

    fn push(&mut self, number: N) {
        match self.blocks.last_mut() {
            Some(block) if block.len() < BLOCK => block.push(number),
            _ => {
                let mut block = Vec::with_capacity(BLOCK);
                block.push(number);
                self.blocks.push(block);
            }
        }
    }
}

/// Half of the bits of an answer's digest.
fn short(answer: u64) -> u32 {
    (answer ^ (answer >> 32)) as u32
}

/// What the bank has shown so far.
#[derive(Default)]
pub(super) struct Index {
    ids: Column<u64>,
    /// The lower halves; the tables keep the upper ones.
    questions: Column<u32>,
    lines: Column<u32>,
    /// The answers that are not the product, each with its position; the others are 0.
    answers: Vec<(u32, u32)>,
    count: u32,
    /// Positions by id, once they are needed: ids that only ever grow cannot repeat, and most banks number their items.
    by_id: Option<Positions>,
    last_id: Vec<u8>,
    by_question: Positions,
    /// First position of each file.
    files: Vec<(u32, Arc<str>)>,
}

/// Positions of the first ids.
fn by_id(ids: &Column<u64>, count: u32) -> Positions {
    let mut positions = Positions::default();
    for at in 0..count {
        let id = ids.get(at);
        if id != 0 {
            positions.find_or_note(id, at, |other| ids.get(other) == id);
        }
    }
    positions
}

impl Index {
    /// Looks at the places of questions that will be added next.
    pub(super) fn fetch(&self, questions: impl Iterator<Item = u64>) {
        self.by_question.fetch(questions);
    }

    /// Adds an item and says what was seen of it before.
    pub(super) fn add(&mut self, digest: &Digest, line: u32, file: &Arc<str>, text: &[u8]) -> Seen {
        let at = self.count;
        let Some(next) = at.checked_add(1) else { return Seen::default() };
        if self.files.last().is_none_or(|(_, own)| !Arc::ptr_eq(own, file) && own != file) {
            self.files.push((at, Arc::clone(file)));
        }
        let answer = short(digest.answer);
        self.ids.push(digest.id.unwrap_or_default());
        self.questions.push(digest.question.unwrap_or_default() as u32);
        self.lines.push(line);
        if answer != 0 {
            self.answers.push((at, answer));
        }
        self.count = next;
        let mut seen = Seen::default();
        if let Some(id) = digest.id.filter(|_| !self.grows_to(text)) {
            let positions = self.by_id.get_or_insert_with(|| by_id(&self.ids, at));
            let ids = &self.ids;
            seen.id = positions.find_or_note(id, at, |other| ids.get(other) == id);
        }
        if let Some(question) = digest.question {
            let lower = &self.questions;
            seen.question = self.by_question.find_or_note(question, at, |other| lower.get(other) == question as u32);
        }
        seen
    }

    /// Whether ids have only grown up to this one, by length and then by letters.
    fn grows_to(&mut self, text: &[u8]) -> bool {
        let grows = self.by_id.is_none() && (self.last_id.len(), &self.last_id[..]) < (text.len(), text);
        if grows {
            self.last_id.clear();
            self.last_id.extend_from_slice(text);
        }
        grows
    }

    /// Whether the item at a position states this answer.
    pub(super) fn states(&self, at: u32, answer: u64) -> bool {
        self.answer(at) == short(answer)
    }

    fn answer(&self, at: u32) -> u32 {
        let found = self.answers.binary_search_by_key(&at, |(at, _)| *at);
        found.ok().and_then(|found| self.answers.get(found)).map_or(0, |(_, answer)| *answer)
    }

    /// Where the item at a position stands.
    pub(super) fn place(&self, at: u32) -> Place {
        let file = self.files.partition_point(|(first, _)| *first <= at).saturating_sub(1);
        let file = self.files.get(file).map_or_else(|| Arc::from(""), |(_, name)| Arc::clone(name));
        Place { file, line: self.lines.get(at) }
    }
}
