//! Which atom an id names, and which atoms stand in a molecule.

use super::rows::AtomRow;
use super::{Drawn, Frame};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;
use std::ops::Range;

/// Finds atoms by id: in a reference's own molecule first, then in those around it, then anywhere if only one has it.
#[derive(Default)]
pub(super) struct Ids<'a> {
    by_id: FxHashMap<&'a str, SmallVec<[u32; 1]>>,
    frames: &'a [Frame],
    frame_of: Vec<u32>,
}

impl<'a> Ids<'a> {
    pub(super) fn new(atoms: &'a [AtomRow], frames: &'a [Frame]) -> Self {
        let mut by_id: FxHashMap<&str, SmallVec<[u32; 1]>> = FxHashMap::default();
        for (at, row) in atoms.iter().enumerate() {
            if let Some(id) = row.id.as_deref() {
                by_id.entry(id).or_default().push(at as u32);
            }
        }
        Self { by_id, frames, frame_of: atoms.iter().map(|row| row.frame).collect() }
    }

    pub(super) fn find(&self, id: &str, frame: u32) -> Option<u32> {
        let found = self.by_id.get(id)?;
        let mut around = Some(frame);
        while let Some(frame) = around {
            // Atoms are read molecule by molecule, so those of one id are in the order of their molecules.
            let first = found.partition_point(|at| self.frame_of[*at as usize] < frame);
            if let Some(own) = found.get(first).filter(|at| self.frame_of[**at as usize] == frame) {
                return Some(*own);
            }
            around = self.frames.get(frame as usize).and_then(|frame| frame.parent);
        }
        found.first().copied().filter(|_| found.len() == 1)
    }
}

/// The atoms of each molecule and of those inside it, as a range: both stand in the order of the document.
pub(super) fn atoms_inside(drawn: &Drawn) -> Vec<Range<usize>> {
    let mut ends: Vec<u32> = (1..=drawn.frames.len() as u32).collect();
    for (at, frame) in drawn.frames.iter().enumerate().rev() {
        if let Some(parent) = frame.parent {
            ends[parent as usize] = ends[parent as usize].max(ends[at]);
        }
    }
    let first = |frame: u32| drawn.atoms.partition_point(|atom| atom.frame < frame);
    ends.iter().enumerate().map(|(at, end)| first(at as u32)..first(*end)).collect()
}
