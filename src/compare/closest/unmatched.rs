//! The nodes that stand for nothing yet, in their order.

/// A list from which nodes are taken and to which they are given back in the opposite order.
pub(super) struct Unmatched {
    /// By node and one behind the last: the next and the one before that are in the list; the one behind the last is its end and
    /// its beginning.
    next: Vec<u32>,
    before: Vec<u32>,
}

impl Unmatched {
    /// A list of some of so many nodes, in ascending order.
    pub(super) fn new(nodes: &[u32], count: u32) -> Self {
        let mut list = Self { next: vec![count; count as usize + 1], before: vec![count; count as usize + 1] };
        let mut last = count;
        for &node in nodes {
            list.link(last, node);
            last = node;
        }
        list.link(last, count);
        list
    }

    fn link(&mut self, one: u32, other: u32) {
        self.next[one as usize] = other;
        self.before[other as usize] = one;
    }

    /// The first node in the list, if any.
    pub(super) fn first(&self) -> Option<u32> {
        self.behind(self.next.len() as u32 - 1)
    }

    /// The one behind a node that is in the list.
    #[inline]
    pub(super) fn behind(&self, node: u32) -> Option<u32> {
        let next = self.next[node as usize];
        (next as usize + 1 < self.next.len()).then_some(next)
    }

    pub(super) fn take(&mut self, node: u32) {
        self.link(self.before[node as usize], self.next[node as usize]);
    }

    /// Gives back the node that was taken last.
    pub(super) fn give_back(&mut self, node: u32) {
        self.next[self.before[node as usize] as usize] = node;
        self.before[self.next[node as usize] as usize] = node;
    }
}
