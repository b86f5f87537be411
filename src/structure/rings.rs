//! Which bonds lie in a ring.

use super::Structure;
use petgraph::algo::bridges::bridges;
use petgraph::visit::EdgeRef;
use smallvec::SmallVec;
use std::cell::RefCell;

/// No atom, or one that was not met yet.
const UNSEEN: u32 = u32::MAX;

/// For each bond, whether it lies in a ring: whether its removal leaves its ends connected. No recursion.
pub(crate) fn ring_bonds(structure: &Structure) -> Vec<bool> {
    along_the_drawing(structure).unwrap_or_else(|| by_walk(structure))
}

fn along_the_drawing(structure: &Structure) -> Option<Vec<bool>> {
    thread_local! {
        static TREE: RefCell<Tree> = RefCell::default();
    }
    TREE.with_borrow_mut(|tree| tree.ring_bonds(structure))
}

/// A drawing taken for a tree, in buffers that are kept for the next.
#[derive(Default)]
struct Tree {
    /// By atom: the earlier atom on which it hangs, and the bond.
    hangs_on: Vec<(u32, u32)>,
    /// By atom: how far up ring bonds lead from it; itself where none does.
    top: Vec<u32>,
}

impl Tree {
    /// Takes the bond by which each atom hangs on an earlier one for the tree, as people draw and SMILES is written; every other
    /// bond closes a ring with the way through the tree between its ends. Bonds that are known to lie in rings are leapt over, so
    /// that none is walked twice. `None` where that is no tree of the whole.
    fn ring_bonds(&mut self, structure: &Structure) -> Option<Vec<bool>> {
        let Self { hangs_on, top } = self;
        hangs_on.clear();
        hangs_on.resize(structure.atom_count(), (UNSEEN, 0));
        let mut closures = SmallVec::<[_; 8]>::new();
        for (id, a, b, _) in structure.bonds() {
            let (early, late) = (a.min(b).index() as u32, a.max(b).index());
            if hangs_on[late].0 == UNSEEN && (early as usize) < late {
                hangs_on[late] = (early, id.index() as u32);
            } else {
                closures.push((early, late as u32, id.index()));
            }
        }
        let mut in_ring = vec![false; structure.bond_count()];
        top.clear();
        top.extend(0..structure.atom_count() as u32);
        for (mut a, mut b, closure) in closures {
            in_ring[closure] = true;
            loop {
                (a, b) = (climb(top, a), climb(top, b));
                if a == b {
                    break;
                }
                // What hangs on an earlier atom is never above it.
                let late = if a > b { &mut a } else { &mut b };
                let (early, bond) = hangs_on[*late as usize];
                if early == UNSEEN {
                    return None;
                }
                in_ring[bond as usize] = true;
                top[*late as usize] = early;
                *late = early;
            }
        }
        Some(in_ring)
    }
}

/// The end of the way up from an atom; the way is halved for the next.
fn climb(top: &mut [u32], mut at: u32) -> u32 {
    loop {
        let up = top[at as usize];
        if up == at {
            return at;
        }
        let next = top[up as usize];
        top[at as usize] = next;
        at = next;
    }
}

/// One walk over all bonds. No bond is drawn twice between two atoms: such drawings are refused.
fn by_walk(structure: &Structure) -> Vec<bool> {
    let mut in_ring = vec![true; structure.bond_count()];
    for bridge in bridges(structure.graph()) {
        in_ring[bridge.id().index()] = false;
    }
    in_ring
}

/// The walk over adjacency lists, with buffers to reuse.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::smiles;
    use crate::source::Span;
    use crate::structure::{Atom, AtomId, Bond, Element};
    use proptest::prelude::*;

    fn drawn(atoms: usize, bonds: &[(usize, usize)]) -> Structure {
        let mut structure = Structure::default();
        for _ in 0..atoms {
            structure.add_atom(Atom::new(Element::CARBON), Span::default());
        }
        for (a, b) in bonds.iter().filter(|(a, b)| a != b && a.max(b) < &atoms) {
            let (a, b) = (AtomId::new(*a), AtomId::new(*b));
            if structure.bond_between(a, b).is_none() {
                structure.add_bond(a, b, Bond::new(1), Span::default());
            }
        }
        structure
    }

    #[test]
    fn both_ways_find_the_ring_bonds_of_smiles() {
        let texts = [
            "CCO",
            "C1CC1C",
            "C1CC1.C1CC1",
            "C1.C2.C12",
            "C1.C2.CC12",
            "C12CC1CC2",
            "C1CC2CC1CC2C",
            "C1CCCC1C1CC1",
            "C=1CC1",
            "C12C3C4C1C5C2C3C45",
            "",
        ];
        let faults: Vec<_> = texts
            .iter()
            .filter(|text| {
                let structure = smiles::read(text).structure;
                ring_bonds(&structure) != by_walk(&structure)
            })
            .collect();
        assert_eq!(faults, Vec::<&&str>::new());
        let leaps = texts.iter().filter(|text| along_the_drawing(&smiles::read(text).structure).is_some());
        assert!(leaps.count() > 7, "the usual drawing needs no walk");
    }

    proptest! {
        #[test]
        fn both_ways_agree(atoms in 1_usize..12, bonds in prop::collection::vec((0_usize..12, 0_usize..12), 0..18)) {
            let structure = drawn(atoms, &bonds);
            if let Some(in_ring) = along_the_drawing(&structure) {
                prop_assert_eq!(in_ring, by_walk(&structure));
            }
        }
    }
}
