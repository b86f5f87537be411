//! A correspondence along the order of both drawings: answers are copied from starts, so that branches mostly stand in one order.

use super::NONE;
use super::cost::Map;
use crate::structure::skeleton::{Arc, Skeleton};
use smallvec::SmallVec;

/// Nodes at most: each may be looked for among all.
const MOST: usize = 256;

/// Pairs the open nodes of both sides, each with the first that has its element and as many bonds, from neighbour to neighbour.
/// Whether that is any good, its cost has to say. False where a node finds none or there are too many.
pub(super) fn pair(map: &mut Map<'_>, of_a: &[u32], of_b: &[u32]) -> bool {
    if of_a.len() != of_b.len() || of_a.len() > MOST {
        return false;
    }
    let Map { a, b, .. } = *map;
    let mut open: SmallVec<[u32; 32]> = SmallVec::new();
    for first in of_a {
        if map.image(*first) != NONE {
            continue;
        }
        let fits = |v: &&u32| map.source(**v) == NONE && are_alike(a, *first, b, **v);
        let Some(v) = of_b.iter().find(fits) else { return false };
        map.assign(*first, *v);
        open.push(*first);
        while let Some(u) = open.pop() {
            let near = b.arcs(map.image(u));
            for arc in a.arcs(u) {
                if map.image(arc.to) != NONE {
                    continue;
                }
                let is_free = |own: &&Arc| map.source(own.to) == NONE && are_alike(a, arc.to, b, own.to);
                let alike = near.iter().find(|own| arc.agrees(own) && is_free(own));
                if let Some(own) = alike.or_else(|| near.iter().find(is_free)) {
                    map.assign(arc.to, own.to);
                    open.push(arc.to);
                }
            }
        }
    }
    true
}

fn are_alike(a: &Skeleton, u: u32, b: &Skeleton, v: u32) -> bool {
    a.node(u).element == b.node(v).element && a.arcs(u).len() == b.arcs(v).len()
}
