//! Families of steps with the same reaction centre, and near repeats among them.

use super::centre::Centre;
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// Families and surroundings that are told apart; steps of later ones are counted as others.
pub const MOST_FAMILIES: usize = 200_000;
/// Families whose first step is kept, to be drawn.
const DRAWN: usize = 2_000;

/// Where a step stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The file.
    pub file: Arc<str>,
    /// The line.
    pub line: u32,
    /// The item.
    pub item: String,
}

/// Steps with the same reaction centre.
#[derive(Debug, Clone)]
pub struct Family {
    /// How many.
    pub steps: u64,
    /// The first of them.
    pub first: Place,
    /// The centre in words.
    pub words: String,
    /// The centre of the first, where it is kept.
    pub centre: Option<Box<Centre>>,
    /// Different surroundings out to two bonds.
    pub surroundings: u64,
    /// Steps whose surroundings another step of the family has, too: near repeats.
    pub near: u64,
}

/// Families by fingerprint.
#[derive(Debug, Default)]
pub struct Families {
    by_centre: FxHashMap<u64, Family>,
    surroundings: FxHashMap<u64, u64>,
    /// Steps of families that are not told apart.
    pub others: u64,
}

impl Families {
    /// Takes one step of an item.
    pub(super) fn take(&mut self, file: &Arc<str>, line: u32, item: &str, centre: Centre) {
        let Centre { family, surroundings, .. } = centre;
        let known = self.by_centre.len();
        if known >= MOST_FAMILIES && !self.by_centre.contains_key(&family) {
            self.others += 1;
            return;
        }
        let own = self.by_centre.entry(family).or_insert_with(|| Family {
            steps: 0,
            first: Place { file: Arc::clone(file), line, item: item.to_owned() },
            words: centre.in_words(),
            centre: (known < DRAWN).then(|| Box::new(centre)),
            surroundings: 0,
            near: 0,
        });
        own.steps += 1;
        let may_add = self.surroundings.len() < MOST_FAMILIES;
        if let Some(seen) = self.surroundings.get_mut(&surroundings) {
            // The first of them is a near repeat as soon as there is a second.
            own.near += if *seen == 1 { 2 } else { 1 };
            *seen += 1;
            return;
        }
        own.surroundings += 1;
        if may_add {
            self.surroundings.insert(surroundings, 1);
        }
    }

    /// The families, large ones first.
    #[must_use]
    pub fn list(&self) -> Vec<&Family> {
        let mut list: Vec<&Family> = self.by_centre.values().collect();
        list.sort_by(|a, b| {
            b.steps.cmp(&a.steps).then_with(|| a.words.cmp(&b.words)).then_with(|| {
                (&a.first.file, a.first.line, &a.first.item).cmp(&(&b.first.file, b.first.line, &b.first.item))
            })
        });
        list
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.by_centre.len()
    }
}
