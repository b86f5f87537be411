//! Hashes that have come by, one an item or none, and the positions at which they came first.

use super::positions::Positions;

/// Numbers in blocks, which are never moved, so that growing costs no second copy of them.
#[derive(Debug)]
pub(super) struct Column<N> {
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
    pub(super) fn get(&self, at: u32) -> N {
        self.blocks[at as usize / BLOCK][at as usize % BLOCK]
    }

    pub(super) fn push(&mut self, number: N) {
        match self.blocks.last_mut() {
            Some(block) if block.len() < BLOCK => block.push(number),
            _ => {
                let mut block = Vec::with_capacity(BLOCK);
                block.push(number);
                self.blocks.push(block);
            }
        }
    }

    fn numbers(&self) -> impl Iterator<Item = N> {
        self.blocks.iter().flatten().copied()
    }
}

/// Hashes with the position at which each came first.
#[derive(Debug, Default)]
pub(super) struct Hashes {
    count: u32,
    /// The lower halves; the positions keep the upper ones.
    lower: Column<u32>,
    positions: Positions,
}

impl Hashes {
    /// Takes the hash of the next item, if it has one, and says at which position it came first, if it came before.
    pub(super) fn take(&mut self, hash: Option<u64>) -> Option<u32> {
        let at = self.count;
        self.count += 1;
        self.lower.push(hash.unwrap_or_default() as u32);
        let hash = hash?;
        let Self { lower, positions, .. } = self;
        positions.find_or_note(hash, at, |other| lower.get(other) == hash as u32)
    }

    /// Looks at the places of hashes that will be taken next.
    pub(super) fn fetch(&self, hashes: impl Iterator<Item = u64>) {
        self.positions.fetch(hashes);
    }
}

/// Hashes of ids. Ids that only ever grow cannot repeat, and most banks number their items: positions are noted once they are needed.
#[derive(Debug)]
#[allow(clippy::large_enum_variant, reason = "there is one of them")]
pub(super) enum Ids {
    /// They have grown so far: all of them, 0 for an item without one, and the last.
    Growing(Column<u64>, Vec<u8>),
    /// They have not.
    Any(Hashes),
}

impl Default for Ids {
    fn default() -> Self {
        Self::Growing(Column::default(), Vec::new())
    }
}

impl Ids {
    /// Takes the id of the next item, as hash and text, and says at which position it came first, if it came before.
    pub(super) fn take(&mut self, id: Option<u64>, text: &[u8]) -> Option<u32> {
        if let Self::Growing(all, last) = self {
            // By length and then by letters, as numbers grow.
            let grows = (last.len(), &last[..]) < (text.len(), text);
            if id.is_none() || grows {
                all.push(id.unwrap_or_default());
                if id.is_some() {
                    last.clear();
                    last.extend_from_slice(text);
                }
                return None;
            }
            let mut hashes = Hashes::default();
            for own in all.numbers() {
                hashes.take((own != 0).then_some(own));
            }
            *self = Self::Any(hashes);
        }
        match self {
            Self::Any(hashes) => hashes.take(id),
            Self::Growing(..) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Ids;
    use proptest::prelude::*;
    use std::collections::HashMap;

    proptest! {
        /// Whether ids grow, stop to grow, repeat or are absent: the first of each is found.
        #[test]
        fn the_first_of_each_id_is_found(
            grown in 0_u32..60,
            others in prop::collection::vec(prop::option::of(0_u32..80), 0..60),
        ) {
            let all = (0..grown).map(|own| (own % 7 > 0).then_some(own)).chain(others);
            let (mut ids, mut first) = (Ids::default(), HashMap::new());
            for (at, own) in (0_u32..).zip(all) {
                let text = own.map(|own| format!("q{own}")).unwrap_or_default();
                // Any hash but 0 does.
                let hash = own.map(|own| u64::from(own + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
                let wanted = own.and_then(|own| first.get(&own).copied());
                prop_assert_eq!(ids.take(hash, text.as_bytes()), wanted, "item {}", at);
                if let Some(own) = own {
                    first.entry(own).or_insert(at);
                }
            }
        }
    }
}
