//! Equality of drawings whose atoms stand mostly in one order, as those of answers that were copied from a start do.

use crate::structure::skeleton::Skeleton;

/// No node.
pub(super) const NONE: u32 = u32::MAX;
/// Nodes and bonds that may be looked at for each node: what is not settled by then is looked for in another way.
const STEPS_A_NODE: usize = 16;

/// Pairs nodes from neighbour to neighbour, each with the first that looks like it, beginning with the `pairs` that are given.
/// A pairing that comes to its end is a proof of equality; one that does not says nothing. Both drawings have as many nodes, and no
/// bond order is the tool's choice.
pub(super) struct Pairing<'a> {
    computed: &'a Skeleton,
    stated: &'a Skeleton,
    /// The recomputed node for each stated node.
    image: &'a mut [u32],
    is_taken: Vec<bool>,
    /// Stated nodes whose neighbours are still to be paired.
    open: Vec<u32>,
    left: usize,
}

impl<'a> Pairing<'a> {
    /// A pairing of nothing yet; `image` says so for each stated node.
    pub(super) fn new([computed, stated]: [&'a Skeleton; 2], image: &'a mut [u32]) -> Self {
        let nodes = image.len();
        let (is_taken, open) = (vec![false; nodes], Vec::with_capacity(nodes));
        Self { computed, stated, image, is_taken, open, left: STEPS_A_NODE * nodes }
    }

    /// Whether the drawings are equal under the pairing, which then is in `image`.
    pub(super) fn run(&mut self, pairs: &[(u32, u32)]) -> bool {
        self.pair_all(pairs).is_some()
    }

    fn pair_all(&mut self, pairs: &[(u32, u32)]) -> Option<()> {
        for &(own, stated) in pairs {
            (self.is_free(own) && self.are_alike(stated, own)).then(|| self.pair(stated, own))?;
        }
        self.follow_bonds()?;
        let nodes = self.stated.len();
        for stated in 0..nodes {
            if self.image[stated as usize] != NONE {
                continue;
            }
            // The next of its drawing is mostly the next of the other.
            let own = (stated..nodes).chain(0..stated).find(|own| {
                self.left = self.left.saturating_sub(1);
                self.left == 0 || (self.is_free(*own) && self.are_alike(stated, *own))
            });
            self.pair(stated, own.filter(|_| self.left > 0)?);
            self.follow_bonds()?;
        }
        Some(())
    }

    fn follow_bonds(&mut self) -> Option<()> {
        while let Some(stated) = self.open.pop() {
            let own = self.image[stated as usize];
            for arc in self.stated.arcs(stated) {
                let ways = self.computed.arcs(own);
                self.left = self.left.checked_sub(ways.len() + 1)?;
                let known = self.image[arc.to as usize];
                let fits = |to: u32| {
                    if known == NONE { self.is_free(to) && self.are_alike(arc.to, to) } else { to == known }
                };
                let way = ways.iter().find(|way| way.order == arc.order && fits(way.to))?;
                if known == NONE {
                    self.pair(arc.to, way.to);
                }
            }
        }
        Some(())
    }

    fn is_free(&self, own: u32) -> bool {
        !self.is_taken[own as usize]
    }

    /// Whether two nodes are alike by themselves and have as many bonds.
    fn are_alike(&self, stated: u32, own: u32) -> bool {
        self.stated.node(stated) == self.computed.node(own)
            && self.stated.arcs(stated).len() == self.computed.arcs(own).len()
    }

    fn pair(&mut self, stated: u32, own: u32) {
        self.image[stated as usize] = own;
        self.is_taken[own as usize] = true;
        self.open.push(stated);
    }
}
