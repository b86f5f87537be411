//! The atoms of a start by their labels.

use super::sketch::NO_LABEL;

/// Labels from this on are not looked at the quick way.
const LABELS: usize = 1024;
/// Bits of a slot that name an atom; the others name the item whose atom it is.
const ATOM_BITS: u32 = 8;

/// The atom that carries each small label. What earlier items left is not cleared but outdated.
#[derive(Debug)]
pub(super) struct Labels {
    slots: Box<[u32; LABELS]>,
    item: u32,
}

impl Default for Labels {
    fn default() -> Self {
        Self { slots: Box::new([0; LABELS]), item: 0 }
    }
}

impl Labels {
    /// Begins another item.
    pub(super) fn begin(&mut self) {
        self.item += 1;
        if self.item >> (u32::BITS - ATOM_BITS) != 0 {
            self.slots.fill(0);
            self.item = 1;
        }
    }

    /// Notes the label of an atom; `None` where another has it or it is large.
    #[inline]
    pub(super) fn note(&mut self, label: u16, at: u8) -> Option<()> {
        if label == NO_LABEL {
            return Some(());
        }
        let slot = self.slots.get_mut(usize::from(label))?;
        if *slot >> ATOM_BITS == self.item {
            return None;
        }
        *slot = self.item << ATOM_BITS | u32::from(at);
        Some(())
    }

    /// The atom that carries a label.
    #[inline]
    pub(super) fn atom(&self, label: u16) -> Option<u8> {
        let slot = self.slots.get(usize::from(label))?;
        (*slot >> ATOM_BITS == self.item).then_some(*slot as u8)
    }
}
