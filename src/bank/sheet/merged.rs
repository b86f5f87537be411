//! Merged cells: what their first cell holds stands in all of them.

use super::table::Cell;
use std::collections::BTreeMap;

/// A merged range, rows and columns counted from 0, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Range {
    pub(super) first: (u32, u32),
    pub(super) last: (u32, u32),
}

/// Bytes that merged cells may be filled with in one sheet.
const FILLED_BYTES: usize = 256 << 20;

/// The merged ranges of a sheet, met from its top to its bottom.
#[derive(Debug, Default)]
pub(super) struct Merged {
    /// Those that begin further down, by their first row.
    coming: BTreeMap<u32, Vec<Range>>,
    /// Those that a row goes through, with what they hold.
    open: Vec<(Range, Cell)>,
    filled: usize,
}

impl Merged {
    pub(super) fn new(ranges: Vec<Range>) -> Self {
        let mut merged = Self::default();
        for range in ranges {
            if range.first <= range.last && range.first.1 <= range.last.1 {
                merged.coming.entry(range.first.0).or_default().push(range);
            }
        }
        merged
    }

    /// Whether a row may be filled though nothing is written in it.
    pub(super) fn reach(&self, row: u32) -> bool {
        self.open.iter().any(|(range, cell)| range.last.0 >= row && !cell.is_empty())
    }

    /// Fills a row, within so many columns.
    pub(super) fn fill(&mut self, row: u32, cells: &mut Vec<Cell>, columns: u32) -> Result<(), String> {
        while self.coming.first_key_value().is_some_and(|(first, _)| *first <= row) {
            let Some((first, ranges)) = self.coming.pop_first() else { break };
            for range in ranges.into_iter().filter(|_| first == row) {
                let held = cells.get(range.first.1 as usize).cloned().unwrap_or_default();
                if !held.is_empty() {
                    self.open.push((range, held));
                }
            }
        }
        self.open.retain(|(range, _)| range.last.0 >= row);
        for (range, held) in &self.open {
            for column in range.first.1..=range.last.1.min(columns.saturating_sub(1)) {
                let at = column as usize;
                if cells.len() <= at {
                    cells.resize(at + 1, Cell::Empty);
                }
                if let Some(cell) = cells.get_mut(at).filter(|cell| cell.is_empty()) {
                    self.filled += held.size();
                    *cell = held.clone();
                }
            }
            if self.filled > FILLED_BYTES {
                return Err(format!("merged cells would be filled with more than {FILLED_BYTES} bytes"));
            }
        }
        Ok(())
    }
}
