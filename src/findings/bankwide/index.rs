//! What the bank has shown so far: four numbers an item (24 bytes), and tables of 32-bit positions into them.

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
    /// Positions by id, once they are needed: ids that only ever grow cannot repeat, and most banks number their items.
    ids: Option<HashTable<u32>>,
    last_id: Vec<u8>,
    questions: HashTable<u32>,
    /// First position of each file.
    files: Vec<(u32, Arc<str>)>,
}

fn row(blocks: &[Vec<Row>], at: u32) -> Row {
    blocks[at as usize / BLOCK][at as usize % BLOCK]
}

/// The table of the ids of the first rows.
fn ids_of(blocks: &[Vec<Row>], count: u32) -> HashTable<u32> {
    let mut ids = HashTable::with_capacity(count as usize);
    for at in 0..count {
        let id = row(blocks, at).id;
        if id != 0 && ids.find(id, |other| row(blocks, *other).id == id).is_none() {
            ids.insert_unique(id, at, |other| row(blocks, *other).id);
        }
    }
    ids
}

impl Index {
    /// Adds an item and says what was seen of it before.
    pub(super) fn add(&mut self, digest: &Digest, line: u32, file: &Arc<str>, text: &[u8]) -> Seen {
        let at = self.count;
        let Some(next) = at.checked_add(1) else { return Seen::default() };
        if self.files.last().is_none_or(|(_, own)| !Arc::ptr_eq(own, file) && own != file) {
            self.files.push((at, Arc::clone(file)));
        }
        let answer = (digest.answer ^ (digest.answer >> 32)) as u32;
        let own =
            Row { id: digest.id.unwrap_or_default(), question: digest.question.unwrap_or_default(), line, answer };
        let mut seen = Seen::default();
        if let Some(id) = digest.id.filter(|_| !self.grows_to(text)) {
            let blocks = &self.blocks;
            let ids = self.ids.get_or_insert_with(|| ids_of(blocks, at));
            match ids.find(id, |other| row(blocks, *other).id == id).copied() {
                Some(first) => seen.id = Some(self.place(first)),
                None => {
                    ids.insert_unique(id, at, |other| row(blocks, *other).id);
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

    /// Whether ids have only grown up to this one, by length and then by letters.
    fn grows_to(&mut self, text: &[u8]) -> bool {
        let grows = self.ids.is_none() && (self.last_id.len(), &self.last_id[..]) < (text.len(), text);
        if grows {
            self.last_id.clear();
            self.last_id.extend_from_slice(text);
        }
        grows
    }

    fn place(&self, at: u32) -> Place {
        let file = self.files.partition_point(|(first, _)| *first <= at).saturating_sub(1);
        let file = self.files.get(file).map_or_else(|| Arc::from(""), |(_, name)| Arc::clone(name));
        Place { file, line: row(&self.blocks, at).line }
    }
}
