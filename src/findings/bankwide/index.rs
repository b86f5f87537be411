//! What the bank has shown so far: four numbers an item, and two tables of 32-bit positions into them.

use super::super::digest::Digest;
use hashbrown::HashTable;
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

/// What was seen before of one item.
#[derive(Debug, Default)]
pub(super) struct Seen {
    /// The first item with the same id.
    pub(super) id: Option<Place>,
    /// The first item that asks the same, and whether it states the same answer.
    pub(super) question: Option<(Place, bool)>,
}

#[derive(Clone, Copy)]
struct Row {
    id: u64,
    question: u64,
    line: u32,
    answer: u32,
}

/// Rows of one block: blocks are never moved, so that growing costs no second copy of the index.
const BLOCK: usize = 1 << 14;

#[derive(Default)]
pub(super) struct Index {
    blocks: Vec<Vec<Row>>,
    count: u32,
    ids: HashTable<u32>,
    questions: HashTable<u32>,
    /// First position of each file.
    files: Vec<(u32, Arc<str>)>,
}

fn row(blocks: &[Vec<Row>], at: u32) -> Row {
    blocks[at as usize / BLOCK][at as usize % BLOCK]
}

impl Index {
    /// Adds an item and says what was seen of it before.
    pub(super) fn add(&mut self, digest: &Digest, line: u32, file: &Arc<str>) -> Seen {
        let at = self.count;
        let Some(next) = at.checked_add(1) else { return Seen::default() };
        if self.files.last().is_none_or(|(_, own)| !Arc::ptr_eq(own, file) && own != file) {
            self.files.push((at, Arc::clone(file)));
        }
        let answer = (digest.answer ^ (digest.answer >> 32)) as u32;
        let own =
            Row { id: digest.id.unwrap_or_default(), question: digest.question.unwrap_or_default(), line, answer };
        let mut seen = Seen::default();
        if let Some(id) = digest.id {
            let blocks = &self.blocks;
            match self.ids.find(id, |other| row(blocks, *other).id == id) {
                Some(first) => seen.id = Some(self.place(*first)),
                None => {
                    self.ids.insert_unique(id, at, |other| row(blocks, *other).id);
                }
            }
        }
        if let Some(question) = digest.question {
            let blocks = &self.blocks;
            match self.questions.find(question, |other| row(blocks, *other).question == question) {
                Some(first) => seen.question = Some((self.place(*first), row(blocks, *first).answer == answer)),
                None => {
                    self.questions.insert_unique(question, at, |other| row(blocks, *other).question);
                }
            }
        }
        if (at as usize).is_multiple_of(BLOCK) {
            self.blocks.push(Vec::with_capacity(BLOCK));
        }
        if let Some(block) = self.blocks.last_mut() {
            block.push(own);
        }
        self.count = next;
        seen
    }

    fn place(&self, at: u32) -> Place {
        let file = self.files.partition_point(|(first, _)| *first <= at).saturating_sub(1);
        let file = self.files.get(file).map_or_else(|| Arc::from(""), |(_, name)| Arc::clone(name));
        Place { file, line: row(&self.blocks, at).line }
    }
}
