//! What the shape of a molecule forbids.

use crate::structure::{AtomId, Structure, ring_bonds};
use std::collections::VecDeque;

/// Rings of up to this many atoms are too small for an allene or a triple bond to be drawn into them. Cyclooctyne is the
/// smallest cycloalkyne that can be kept (common practice, from memory: Clayden, Greeves, Warren, Organic Chemistry, 2nd ed., ch. 22,
/// benzyne).
const SMALL_RING: u32 = 7;

/// For each atom, whether it lies in a small ring.
pub(super) fn small_ring_atoms(structure: &Structure) -> Vec<bool> {
    let in_ring = ring_bonds(structure);
    let mut small = vec![false; structure.atom_count()];
    let mut distance = vec![u32::MAX; structure.atom_count()];
    let mut reached = Vec::new();
    for (bond, a, b, _) in structure.bonds() {
        if !in_ring[bond.index()] || (small[a.index()] && small[b.index()]) {
            continue;
        }
        // The shortest way round from one end to the other.
        let mut queue = VecDeque::from([a]);
        distance[a.index()] = 0;
        reached.push(a);
        'search: while let Some(here) = queue.pop_front() {
            let far = distance[here.index()] + 1;
            if far >= SMALL_RING {
                break;
            }
            for (next, via) in structure.neighbours(here) {
                if via == bond || !in_ring[via.index()] || distance[next.index()] != u32::MAX {
                    continue;
                }
                distance[next.index()] = far;
                reached.push(next);
                if next == b {
                    break 'search;
                }
                queue.push_back(next);
            }
        }
        if distance[b.index()] != u32::MAX {
            small[a.index()] = true;
            small[b.index()] = true;
        }
        for atom in reached.drain(..) {
            distance[AtomId::index(atom)] = u32::MAX;
        }
    }
    small
}
