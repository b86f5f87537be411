//! Positions of items by a 64-bit hash, for millions of them: a look-up and what it adds touch one place in memory.

/// Tables by the lowest bits of the hash, so that only a small part of all is moved at a time.
const TABLES: usize = 16;

/// Positions by hash.
#[derive(Debug, Default)]
pub(super) struct Positions {
    tables: [Table; TABLES],
}

/// An open table. A slot holds the upper half of a hash and a position; it lies at or behind the place that the upper half
/// says, in proportion to the whole.
#[derive(Debug, Default)]
struct Table {
    slots: Vec<u64>,
    count: usize,
}

/// No position is so high.
const EMPTY: u64 = u64::MAX;
/// Slots that a table begins with.
const LEAST: usize = 16;

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
            table.slots.get(table.place((hash >> 32) as u32)).copied().unwrap_or_default()
        };
        // Nobody asks for the sum, but for it every slot must be read.
        std::hint::black_box(hashes.fold(0_u64, |sum, hash| sum.wrapping_add(first(hash))));
    }
}

impl Table {
    /// Where the slot of a hash would best lie.
    fn place(&self, upper: u32) -> usize {
        ((u64::from(upper) * self.slots.len() as u64) >> 32) as usize
    }

    fn find_or_note(&mut self, upper: u32, at: u32, is_same: impl Fn(u32) -> bool) -> Option<u32> {
        // Seven eighths full at most, or the way to an empty slot is long.
        if (self.count + 1) * 8 > self.slots.len() * 7 {
            self.grow();
        }
        let mut place = self.place(upper);
        loop {
            let slot = self.slots[place];
            if slot == EMPTY {
                self.slots[place] = u64::from(upper) << 32 | u64::from(at);
                self.count += 1;
                return None;
            }
            if (slot >> 32) as u32 == upper && is_same(slot as u32) {
                return Some(slot as u32);
            }
            place = if place + 1 == self.slots.len() { 0 } else { place + 1 };
        }
    }

    /// Makes room for an eighth more. Slots keep their order but for those that wrapped round, so that this goes through memory from
    /// one end to the other.
    fn grow(&mut self) {
        let length = LEAST.max(self.slots.len() + self.slots.len() / 8);
        let old = std::mem::replace(&mut self.slots, vec![EMPTY; length]);
        for slot in old.into_iter().filter(|slot| *slot != EMPTY) {
            let mut place = self.place((slot >> 32) as u32);
            while self.slots[place] != EMPTY {
                place = if place + 1 == length { 0 } else { place + 1 };
            }
            self.slots[place] = slot;
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
