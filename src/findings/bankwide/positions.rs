//! Positions of items by a 64-bit hash, for millions of them: a look-up and what it adds touch one place in memory.

/// Tables by the lowest bits of the hash, so that only a small part of all is moved at a time.
const TABLES: usize = 16;

/// Positions by hash.
#[derive(Debug, Default)]
pub(super) struct Positions {
    tables: [Table; TABLES],
}

/// An open table. A slot holds the upper half of a hash and a position; it lies in or behind the line that the upper half says, in
/// proportion to the whole. Lines fill from their beginning, and only what finds its line full goes on to the next.
#[derive(Debug, Default)]
struct Table {
    lines: Vec<Line>,
    count: usize,
}

/// Slots that the processor fetches from memory at once, so that a look-up waits for one line, seldom for two.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
struct Line([u64; SLOTS]);

/// Slots of a line.
const SLOTS: usize = 8;
/// No position is so high.
const EMPTY: u64 = u64::MAX;
/// Lines that a table begins with.
const LEAST: usize = 2;

impl Positions {
    /// The position that is noted for a hash; where there is none, `at` is noted. `is_same` says whether the item at a position
    /// has the whole hash, of which the upper half agrees.
    pub(super) fn find_or_note(&mut self, hash: u64, at: u32, is_same: impl Fn(u32) -> bool) -> Option<u32> {
        self.tables[hash as usize % TABLES].find_or_note((hash >> 32) as u32, at, is_same)
    }

    /// Looks at the places of hashes. Those of a large table are far away: here the processor fetches many of them at once, where
    /// [`find_or_note`](Self::find_or_note) would wait for each.
    pub(super) fn fetch(&self, hashes: impl Iterator<Item = u64>) {
        let first = |hash: u64| {
            let table = &self.tables[hash as usize % TABLES];
            table.lines.get(table.place((hash >> 32) as u32)).map_or(0, |line| line.0[0])
        };
        // Nobody asks for the sum, but for it every line must be read.
        std::hint::black_box(hashes.fold(0_u64, |sum, hash| sum.wrapping_add(first(hash))));
    }
}

impl Table {
    /// The line in which a hash would best lie.
    fn place(&self, upper: u32) -> usize {
        ((u64::from(upper) * self.lines.len() as u64) >> 32) as usize
    }

    fn find_or_note(&mut self, upper: u32, at: u32, is_same: impl Fn(u32) -> bool) -> Option<u32> {
        // Seven eighths full at most, or too many lines are full.
        if (self.count + 1) * 8 > self.lines.len() * SLOTS * 7 {
            self.grow();
        }
        let mut place = self.place(upper);
        loop {
            for slot in &mut self.lines[place].0 {
                if *slot == EMPTY {
                    *slot = u64::from(upper) << 32 | u64::from(at);
                    self.count += 1;
                    return None;
                }
                if (*slot >> 32) as u32 == upper && is_same(*slot as u32) {
                    return Some(*slot as u32);
                }
            }
            place = if place + 1 == self.lines.len() { 0 } else { place + 1 };
        }
    }

    /// Makes room for an eighth more. Slots keep their order but for those that wrapped round, so that this goes through memory from
    /// one end to the other.
    fn grow(&mut self) {
        let length = LEAST.max(self.lines.len() + self.lines.len().div_ceil(8));
        let old = std::mem::replace(&mut self.lines, vec![Line([EMPTY; SLOTS]); length]);
        for slot in old.iter().flat_map(|line| line.0).filter(|slot| *slot != EMPTY) {
            let mut place = self.place((slot >> 32) as u32);
            loop {
                if let Some(free) = self.lines[place].0.iter_mut().find(|own| **own == EMPTY) {
                    *free = slot;
                    break;
                }
                place = if place + 1 == length { 0 } else { place + 1 };
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Positions;
    use proptest::prelude::*;
    use std::collections::HashMap;

    proptest! {
        /// Hashes of few bits in each half meet often, and crowd at both ends of a table.
        #[test]
        fn positions_are_those_of_the_first(
            halves in prop::collection::vec((0_u32..40, prop::bool::ANY, 0_u32..20), 0..400),
        ) {
            let upper = |own: u32, is_high: bool| if is_high { u32::MAX - own } else { own };
            let hashes: Vec<u64> =
                halves.iter().map(|(own, is_high, low)| u64::from(upper(*own, *is_high)) << 32 | u64::from(*low)).collect();
            let (mut positions, mut first) = (Positions::default(), HashMap::new());
            for (at, hash) in (0_u32..).zip(&hashes) {
                positions.fetch(hashes.iter().copied());
                let found = positions.find_or_note(*hash, at, |other| hashes[other as usize] == *hash);
                prop_assert_eq!(found, first.get(hash).copied());
                first.entry(*hash).or_insert(at);
            }
        }
    }
}
