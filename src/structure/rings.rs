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
    let mut frames = Vec::new();
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
