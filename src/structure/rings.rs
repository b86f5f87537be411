//! Which bonds lie in a ring.

use super::{AtomId, Structure};

/// For each bond, whether it lies in a ring: whether its removal leaves its ends connected. One walk, linear, no recursion.
pub(crate) fn ring_bonds(structure: &Structure) -> Vec<bool> {
    const UNSEEN: u32 = u32::MAX;
    let atoms = structure.atom_count();
    let mut order = vec![UNSEEN; atoms];
    let mut low = vec![UNSEEN; atoms];
    let mut in_ring = vec![true; structure.bond_count()];
    let mut clock = 0;
    // A frame is an atom, the bond that led to it, and its bonds that are still to walk.
    let mut frames = Vec::with_capacity(16);
    for first in structure.atom_ids() {
        if order[first.index()] != UNSEEN {
            continue;
        }
        let open = |atom: AtomId| structure.neighbours(atom).collect::<smallvec::SmallVec<[_; 4]>>();
        order[first.index()] = clock;
        low[first.index()] = clock;
        clock += 1;
        frames.push((first, None, open(first)));
        while let Some((atom, came_by, rest)) = frames.last_mut() {
            let (atom, came_by) = (*atom, *came_by);
            if let Some((next, bond)) = rest.pop() {
                if Some(bond) == came_by {
                    continue;
                }
                if order[next.index()] == UNSEEN {
                    order[next.index()] = clock;
                    low[next.index()] = clock;
                    clock += 1;
                    frames.push((next, Some(bond), open(next)));
                } else {
                    low[atom.index()] = low[atom.index()].min(order[next.index()]);
                }
                continue;
            }
            frames.pop();
            if let (Some((parent, ..)), Some(bond)) = (frames.last(), came_by) {
                let reach = low[atom.index()];
                if reach > order[parent.index()] {
                    in_ring[bond.index()] = false;
                }
                let low_parent = &mut low[parent.index()];
                *low_parent = (*low_parent).min(reach);
            }
        }
    }
    in_ring
}

/// The same walk over adjacency lists, with buffers to reuse.
#[derive(Debug, Clone, Default)]
pub(crate) struct Walk {
    order: Vec<u32>,
    low: Vec<u32>,
    /// An atom, the bond that led to it, and its next bond to walk.
    frames: Vec<(u32, u32, u32)>,
    /// The ends of the bonds that lie in no ring.
    pub(crate) found: Vec<(u32, u32)>,
}

impl Walk {
    /// Finds the bonds of one species that lie in no ring. `starts` says where the bonds of each node start, `arc` gives
    /// the other end and the identity of one of them; nodes of the species are numbered in `nodes` without gaps.
    pub(crate) fn bridges(&mut self, nodes: std::ops::Range<u32>, starts: &[u32], arc: impl Fn(u32) -> (u32, u32)) {
        const UNSEEN: u32 = u32::MAX;
        let count = nodes.len();
        self.order.clear();
        self.order.resize(count, UNSEEN);
        self.low.clear();
        self.low.resize(count, UNSEEN);
        self.found.clear();
        let base = nodes.start;
        let mut clock = 0;
        self.enter(base, base, UNSEEN, starts, &mut clock);
        while let Some((node, came_by, next)) = self.frames.last_mut() {
            let (node, came_by) = (*node, *came_by);
            if *next < starts[node as usize + 1] {
                let (to, bond) = arc(*next);
                *next += 1;
                if bond == came_by {
                    continue;
                }
                let seen = self.order[(to - base) as usize];
                if seen == UNSEEN {
                    self.enter(base, to, bond, starts, &mut clock);
                } else {
                    let low = &mut self.low[(node - base) as usize];
                    *low = (*low).min(seen);
                }
                continue;
            }
            self.frames.pop();
            if let Some((parent, ..)) = self.frames.last() {
                let reach = self.low[(node - base) as usize];
                if reach > self.order[(parent - base) as usize] {
                    self.found.push((*parent, node));
                }
                let low = &mut self.low[(parent - base) as usize];
                *low = (*low).min(reach);
            }
        }
    }

    fn enter(&mut self, base: u32, node: u32, came_by: u32, starts: &[u32], clock: &mut u32) {
        self.order[(node - base) as usize] = *clock;
        self.low[(node - base) as usize] = *clock;
        *clock += 1;
        self.frames.push((node, came_by, starts[node as usize]));
    }
}
