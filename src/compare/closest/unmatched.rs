//! The nodes that stand for nothing yet, by their kinds.

/// Lists from which nodes are taken and to which they are given back in the opposite order.
pub(super) struct Unmatched {
    /// By node, and behind the nodes by kind: the next and the one before of its list. The place of a kind is the end of its list and
    /// its beginning.
    next: Vec<u32>,
    before: Vec<u32>,
    /// How many nodes there are, and how many are in the lists.
    nodes: u32,
    left: u32,
}

impl Unmatched {
    /// Lists of some of so many nodes, each in the order given. `kind` says of which of so many kinds a node is.
    pub(super) fn new(of_b: &[u32], nodes: u32, kinds: usize, kind: impl Fn(u32) -> usize) -> Self {
        let ends: Vec<u32> = (0..nodes + kinds as u32).collect();
        let mut lists = Self { next: ends.clone(), before: ends, nodes, left: of_b.len() as u32 };
        for &node in of_b {
            let end = nodes + kind(node) as u32;
            let last = lists.before[end as usize];
            lists.link(last, node);
            lists.link(node, end);
        }
        lists
    }

    fn link(&mut self, one: u32, other: u32) {
        self.next[one as usize] = other;
        self.before[other as usize] = one;
    }

    /// How many nodes are in the lists.
    pub(super) fn len(&self) -> u32 {
        self.left
    }

    /// The first node of a kind, if any.
    #[inline]
    pub(super) fn first(&self, kind: usize) -> Option<u32> {
        self.behind(self.nodes + kind as u32)
    }

    /// The one behind a node that is in a list.
    #[inline]
    pub(super) fn behind(&self, node: u32) -> Option<u32> {
        let next = self.next[node as usize];
        (next < self.nodes).then_some(next)
    }

    pub(super) fn take(&mut self, node: u32) {
        self.link(self.before[node as usize], self.next[node as usize]);
        self.left -= 1;
    }

    /// Gives back the node that was taken last.
    pub(super) fn give_back(&mut self, node: u32) {
        self.next[self.before[node as usize] as usize] = node;
        self.before[self.next[node as usize] as usize] = node;
        self.left += 1;
    }
}
