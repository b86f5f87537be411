//! An ordered partition of the nodes of one species, refined step by step (B. D. `McKay`, Congressus Numerantium 30 (1981) 45).
//!
//! Where a colour is a hash, singling one atom out changes every colour; here only cells that are really split cost
//! anything. A cell is named by the place where it starts, so that names can be compared between numberings.

use super::{Orders, mix};
use crate::structure::skeleton::Skeleton;
use std::collections::VecDeque;
use std::ops::Range;

/// The nodes of a species in cells. Nodes are counted from the first of the species.
#[derive(Debug, Clone)]
pub(super) struct Partition {
    /// The nodes, cell by cell.
    elements: Vec<u32>,
    /// Where each node is in `elements`.
    places: Vec<u32>,
    /// Where the cell of each node starts.
    cells: Vec<u32>,
    /// By start of a cell: where it ends.
    ends: Vec<u32>,
}

/// Buffers of [`Partition::refine`], empty between calls.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    queue: VecDeque<u32>,
    queued: Vec<bool>,
    weights: Vec<u64>,
    splitter: Vec<u32>,
    touched: Vec<u32>,
    keyed: Vec<(u32, u64, u32)>,
    fresh: Vec<u32>,
}

/// The species that is partitioned, and how its bonds count.
#[derive(Clone, Copy)]
pub(super) struct View<'a> {
    pub(super) skeleton: &'a Skeleton,
    pub(super) orders: Orders,
    pub(super) first: u32,
}

impl Partition {
    /// Cells of equal colours, in the order of the colours.
    pub(super) fn new(colours: &[u64]) -> Self {
        let count = colours.len();
        let mut elements: Vec<u32> = (0..count as u32).collect();
        elements.sort_unstable_by_key(|node| (colours[*node as usize], *node));
        let mut partition =
            Self { places: vec![0; count], cells: vec![0; count], ends: vec![0; count], elements: Vec::new() };
        let mut start = 0;
        for (at, node) in elements.iter().enumerate() {
            if at > 0 && colours[elements[at - 1] as usize] != colours[*node as usize] {
                start = at as u32;
            }
            partition.places[*node as usize] = at as u32;
            partition.cells[*node as usize] = start;
            partition.ends[start as usize] = at as u32 + 1;
        }
        partition.elements = elements;
        partition
    }

    /// The nodes in the order of their cells: an order of the drawing where every cell has one node.
    pub(super) fn elements(&self) -> &[u32] {
        &self.elements
    }

    /// Where a node is in [`Partition::elements`].
    pub(super) fn place(&self, node: u32) -> u32 {
        self.places[node as usize]
    }

    /// The cell of a node.
    pub(super) fn cell(&self, node: u32) -> u32 {
        self.cells[node as usize]
    }

    /// The nodes of a cell.
    pub(super) fn members(&self, cell: u32) -> &[u32] {
        &self.elements[cell as usize..self.ends[cell as usize] as usize]
    }

    /// All cells from `from` on, in order.
    fn cells_from(&self, from: u32) -> impl Iterator<Item = Range<u32>> + '_ {
        let mut at = from;
        std::iter::from_fn(move || {
            let start = at;
            at = *self.ends.get(start as usize)?;
            Some(start..at)
        })
    }

    /// The first of the smallest cells with more than one node.
    pub(super) fn smallest_cell(&self) -> Option<u32> {
        self.cells_from(0).filter(|cell| cell.len() > 1).min_by_key(Range::len).map(|cell| cell.start)
    }

    /// The first cell with more than one node that starts at `from`, the start of a cell, or later.
    pub(super) fn cell_from(&self, from: u32) -> Option<u32> {
        self.cells_from(from).find(|cell| cell.len() > 1).map(|cell| cell.start)
    }

    /// Gives a node a cell of its own, behind the rest of its cell, and returns the new cell.
    pub(super) fn single_out(&mut self, node: u32) -> u32 {
        let start = self.cells[node as usize];
        let last = self.ends[start as usize] - 1;
        if last == start {
            return start;
        }
        self.swap_to(node, last);
        self.ends[start as usize] = last;
        self.ends[last as usize] = last + 1;
        self.cells[node as usize] = last;
        last
    }

    fn swap_to(&mut self, node: u32, place: u32) {
        let old = self.places[node as usize];
        let other = self.elements[place as usize];
        self.elements.swap(old as usize, place as usize);
        self.places[node as usize] = place;
        self.places[other as usize] = old;
    }

    /// Splits cells until the nodes of each have as many bonds of each kind to each cell, starting from what the cell
    /// `splitter` tells apart. Returns a hash of everything that was told apart, the same for every numbering.
    pub(super) fn refine(&mut self, view: View<'_>, splitter: u32, scratch: &mut Scratch, steps: &mut u64) -> u64 {
        scratch.queued.resize(self.cells.len(), false);
        scratch.weights.resize(self.cells.len(), 0);
        scratch.queue.push_back(splitter);
        scratch.queued[splitter as usize] = true;
        let mut trace = u64::from(splitter);
        while let Some(cell) = scratch.queue.pop_front() {
            scratch.queued[cell as usize] = false;
            self.weigh(view, cell, scratch, steps);
            trace = mix(trace.rotate_left(5) ^ u64::from(cell));
            let mut keyed = std::mem::take(&mut scratch.keyed);
            for group in keyed.chunk_by(|a, b| a.0 == b.0) {
                for (cell, weight, _) in group {
                    trace = mix(trace.rotate_left(5) ^ mix(*weight) ^ u64::from(*cell));
                }
                self.split(group, scratch);
            }
            keyed.clear();
            scratch.keyed = keyed;
        }
        trace
    }

    /// Sums, for each node with a bond to the cell, the kinds of those bonds; sorted by cell and sum.
    fn weigh(&self, view: View<'_>, cell: u32, scratch: &mut Scratch, steps: &mut u64) {
        scratch.splitter.clear();
        scratch.splitter.extend_from_slice(self.members(cell));
        for node in &scratch.splitter {
            let arcs = view.skeleton.arcs(node + view.first);
            *steps = steps.saturating_sub(1 + arcs.len() as u64);
            for arc in arcs {
                let to = arc.to - view.first;
                let weight = &mut scratch.weights[to as usize];
                if *weight == 0 {
                    scratch.touched.push(to);
                }
                // Less than 2^40 each and fewer than 2^24 of them, so that no sum comes round to 0.
                *weight = weight.wrapping_add(mix(view.orders.code(arc)) >> 24 | 1);
            }
        }
        for node in scratch.touched.drain(..) {
            let weight = std::mem::take(&mut scratch.weights[node as usize]);
            let cell = self.cells[node as usize];
            // A node alone in its cell cannot be split off, but its bonds are part of what the numbering must agree in.
            scratch.keyed.push((cell, weight, node));
        }
        scratch.keyed.sort_unstable();
    }

    /// Splits one cell by the sums of those of its nodes that have one, sorted.
    fn split(&mut self, group: &[(u32, u64, u32)], scratch: &mut Scratch) {
        let start = group[0].0;
        let end = self.ends[start as usize];
        let untouched = end - start - group.len() as u32;
        if end - start == 1 || (untouched == 0 && group[0].1 == group[group.len() - 1].1) {
            return;
        }
        for (place, (.., node)) in (start + untouched..end).zip(group).rev() {
            self.swap_to(*node, place);
        }
        scratch.fresh.clear();
        scratch.fresh.push(start);
        let mut at = start + untouched;
        for part in group.chunk_by(|a, b| a.1 == b.1) {
            let next = at + part.len() as u32;
            if at > start {
                self.ends[scratch.fresh[scratch.fresh.len() - 1] as usize] = at;
                scratch.fresh.push(at);
                for (.., node) in part {
                    self.cells[*node as usize] = at;
                }
            }
            self.ends[at as usize] = next;
            at = next;
        }
        self.queue_parts(scratch, start);
    }

    /// Every part of a cell has to be a splitter, but the largest where the whole has been one.
    fn queue_parts(&self, scratch: &mut Scratch, start: u32) {
        let size = |cell: &u32| self.ends[*cell as usize] - cell;
        let largest = scratch.fresh.iter().copied().rev().max_by_key(size);
        let spare = if scratch.queued[start as usize] { None } else { largest };
        for part in scratch.fresh.drain(..) {
            if Some(part) != spare && !scratch.queued[part as usize] {
                scratch.queued[part as usize] = true;
                scratch.queue.push_back(part);
            }
        }
    }
}
