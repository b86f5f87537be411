//! Which bonds of a drawing lie as they did for a reason that is gone in the drawing that follows.

use super::skeleton::Skeleton;
use super::union::is_linear;
use crate::structure::{AtomId, Structure};

/// For each bond of the drawing that follows, whether it was there before (`kept`) and may keep its direction. Not so are: the bonds of
/// a small ring that opened; those of an atom that was or becomes the middle of a line and has other neighbours now; single atoms at
/// a centre outside rings that takes up a fourth neighbour, which would stand between two of them.
pub(super) fn shaped(
    before: &Structure,
    after: &Skeleton,
    known: &dyn Fn(usize) -> Option<AtomId>,
    kept: &[bool],
) -> Vec<bool> {
    let mut shaped = kept.to_vec();
    let in_ring = after.in_ring(&after.cyclic_blocks());
    for (at, edge) in after.edges.iter().enumerate().filter(|(at, _)| kept[*at] && !in_ring[*at]) {
        let ends = edge.ends.map(known);
        shaped[at] = !matches!(ends, [Some(a), Some(b)] if in_small_ring(before, a, b));
    }
    for node in 0..after.len() {
        let Some(atom) = known(node) else { continue };
        let links = &after.links[node];
        let stays = links.iter().all(|(_, edge)| kept[*edge]) && before.degree(atom) == links.len();
        if stays || links.iter().any(|(_, edge)| in_ring[*edge]) {
            continue;
        }
        if is_linear(before, atom) != after.linear[node] {
            loosen(after, node, &mut shaped, |_| true);
        } else if links.len() == 4 && links.iter().any(|(_, edge)| !kept[*edge]) {
            loosen(after, node, &mut shaped, |next| after.links[next].len() == 1);
        }
    }
    shaped
}

/// Lets the neighbours of a node go that may; one always stays, so that the node has a direction.
fn loosen(after: &Skeleton, node: usize, shaped: &mut [bool], may_go: impl Fn(usize) -> bool) {
    let held: Vec<(usize, usize)> = after.links[node].iter().copied().filter(|(_, edge)| shaped[*edge]).collect();
    let first =
        held.iter().find(|(next, _)| !may_go(*next)).or(held.iter().max_by_key(|(next, _)| after.links[*next].len()));
    let stays = first.map(|(next, _)| *next);
    for (next, edge) in held {
        shaped[edge] &= Some(next) == stays || !may_go(next);
    }
}

/// Whether a bond lies in a ring of three or four.
fn in_small_ring(structure: &Structure, a: AtomId, b: AtomId) -> bool {
    let next = |atom: AtomId| structure.neighbours(atom).map(|(other, _)| other);
    let three = next(a).any(|one| one != b && structure.bond_between(one, b).is_some());
    three
        || next(a)
            .filter(|one| *one != b)
            .any(|one| next(b).any(|other| other != a && other != one && structure.bond_between(one, other).is_some()))
}
