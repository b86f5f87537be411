//! Matchings that cover every vertex that must be covered, and of the others as many as possible.
//!
//! A walk that serves vertices of degree 1 first matches nearly every chemical graph completely and in linear time.
//! What it leaves is finished by Edmonds' search for augmenting paths with blossoms (J. Edmonds, "Paths, trees, and flowers",
//! Canad. J. Math. 17 (1965) 449), with contracted blossoms kept in a union-find. A vertex that need not be covered also
//! ends a path: it gives its partner away. A search that fails leaves a tree that no later search has to enter, so that
//! all failures together are linear too.
//!
//! `petgraph::algo::maximum_matching` is not used here: its first phase recurses along a path, which a chain of 100,000
//! atoms turns into a stack overflow, and it cannot tell the two kinds of vertices apart. The tests compare with it.

/// Whether a vertex has to be covered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    /// If possible.
    May,
    /// Without exception.
    Must,
}

const NONE: u32 = u32::MAX;

/// A graph with the matching found so far, in buffers that are kept for the next.
#[derive(Debug, Default)]
pub(super) struct Graph {
    needs: Vec<Need>,
    /// Where the neighbours of each vertex start in `arcs`; one longer than the vertices.
    starts: Vec<u32>,
    /// Neighbour and edge.
    arcs: Vec<(u32, u32)>,
    /// Partner of each vertex, or `NONE`.
    mate: Vec<u32>,
    /// The walk's: free neighbours of each vertex, and vertices with one.
    degree: Vec<u32>,
    forced: Vec<u32>,
}

impl Graph {
    /// Takes another graph, with no vertex matched. Edges name vertices by their index in `needs`.
    pub(super) fn take(&mut self, needs: &[Need], edges: &[(u32, u32)]) {
        let count = needs.len();
        let Self { needs: own, starts, arcs, mate, degree: next, .. } = self;
        own.clear();
        own.extend_from_slice(needs);
        starts.clear();
        starts.resize(count + 1, 0);
        for (a, b) in edges {
            starts[*a as usize + 1] += 1;
            starts[*b as usize + 1] += 1;
        }
        for at in 0..count {
            starts[at + 1] += starts[at];
        }
        next.clone_from(starts);
        arcs.clear();
        arcs.resize(edges.len() * 2, (0, 0));
        for (edge, (a, b)) in edges.iter().enumerate() {
            for (from, to) in [(*a, *b), (*b, *a)] {
                let slot = &mut next[from as usize];
                arcs[*slot as usize] = (to, edge as u32);
                *slot += 1;
            }
        }
        mate.clear();
        mate.resize(count, NONE);
    }

    /// Covers all vertices that must be and returns those for which it is impossible; then covers as many others as possible.
    pub(super) fn match_all(&mut self) -> Vec<u32> {
        self.match_in_walk();
        let mut left = Vec::new();
        if !self.mate.contains(&NONE) {
            return left;
        }
        let mut search = AugmentingPaths::new(self.needs.len());
        for root in self.uncovered(Need::Must) {
            if self.mate[root as usize] == NONE && !search.cover(self, root) {
                left.push(root);
            }
        }
        search.thaw();
        for root in self.uncovered(Need::May) {
            if self.mate[root as usize] == NONE {
                search.cover(self, root);
            }
        }
        left
    }

    /// As [`Graph::match_all`], but stops at the first vertex that cannot be covered. Says whether there was none.
    pub(super) fn match_musts(&mut self) -> bool {
        self.match_in_walk();
        if !self.mate.contains(&NONE) {
            return true;
        }
        let mut search = AugmentingPaths::new(self.needs.len());
        let covered = self
            .uncovered(Need::Must)
            .into_iter()
            .all(|root| self.mate[root as usize] != NONE || search.cover(self, root));
        if covered {
            search.thaw();
            for root in self.uncovered(Need::May) {
                if self.mate[root as usize] == NONE {
                    search.cover(self, root);
                }
            }
        }
        covered
    }

    /// The matched edges.
    pub(super) fn matched_edges(&self) -> impl Iterator<Item = u32> + '_ {
        (0..self.mate.len() as u32).filter_map(|vertex| {
            let mate = self.mate[vertex as usize];
            let upwards = mate != NONE && mate > vertex;
            let edge = self.neighbours(vertex).iter().find(|(to, _)| upwards && *to == mate);
            edge.map(|(_, edge)| *edge)
        })
    }

    fn neighbours(&self, vertex: u32) -> &[(u32, u32)] {
        let at = vertex as usize;
        &self.arcs[self.starts[at] as usize..self.starts[at + 1] as usize]
    }

    fn uncovered(&self, need: Need) -> Vec<u32> {
        let open = |at: &u32| self.mate[*at as usize] == NONE && self.needs[*at as usize] == need;
        (0..self.mate.len() as u32).filter(open).collect()
    }

    /// Matches vertices with one free neighbour first, then the next free vertex with its most constrained neighbour.
    fn match_in_walk(&mut self) {
        let count = self.mate.len() as u32;
        let Self { starts, arcs, mate, degree, forced, .. } = self;
        let own = |vertex: u32| starts[vertex as usize] as usize..starts[vertex as usize + 1] as usize;
        degree.clear();
        degree.extend((0..count).map(|vertex| own(vertex).len() as u32));
        forced.clear();
        forced.extend((0..count).rev().filter(|vertex| degree[*vertex as usize] == 1));
        let mut next = 0;
        loop {
            let vertex = if let Some(vertex) = forced.pop() {
                vertex
            } else if next < count {
                next += 1;
                next - 1
            } else {
                return;
            };
            if mate[vertex as usize] != NONE {
                continue;
            }
            let free = arcs[own(vertex)].iter().filter(|(to, _)| mate[*to as usize] == NONE);
            let Some(partner) = free.map(|(to, _)| *to).min_by_key(|to| degree[*to as usize]) else { continue };
            mate[vertex as usize] = partner;
            mate[partner as usize] = vertex;
            for end in [vertex, partner] {
                for (to, _) in &arcs[own(end)] {
                    degree[*to as usize] -= 1;
                    if degree[*to as usize] == 1 && mate[*to as usize] == NONE {
                        forced.push(*to);
                    }
                }
            }
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Mark {
    /// Not reached.
    None,
    /// Reached over an even number of edges.
    Outer,
    /// Reached over an odd number of edges.
    Inner,
    /// In the tree of a search that failed.
    Frozen,
}

/// Buffers of the search for augmenting paths.
struct AugmentingPaths {
    mark: Vec<Mark>,
    /// For an inner vertex, and for one that a blossom made outer: the neighbour on the way back to the root.
    back: Vec<u32>,
    /// Union-find: the base of the blossom of each vertex.
    base: Vec<u32>,
    /// When the search for a common base passed here last.
    passed: Vec<u32>,
    clock: u32,
    queue: std::collections::VecDeque<u32>,
    /// What the present search has marked.
    touched: Vec<u32>,
}

impl AugmentingPaths {
    fn new(count: usize) -> Self {
        Self {
            mark: vec![Mark::None; count],
            back: vec![NONE; count],
            base: (0..count as u32).collect(),
            passed: vec![0; count],
            clock: 0,
            queue: std::collections::VecDeque::new(),
            touched: Vec::new(),
        }
    }

    /// Forgets the failed searches.
    fn thaw(&mut self) {
        for (at, mark) in self.mark.iter_mut().enumerate() {
            *mark = Mark::None;
            self.base[at] = at as u32;
        }
    }

    /// Covers the uncovered vertex `root` without uncovering one that must be covered.
    fn cover(&mut self, graph: &mut Graph, root: u32) -> bool {
        // A vertex that need not be covered must not take the place of another of its kind: nothing would be gained.
        let may_displace = graph.needs[root as usize] == Need::Must;
        if self.mark[root as usize] == Mark::Frozen {
            return false;
        }
        self.set(root, Mark::Outer);
        self.queue.push_back(root);
        while let Some(vertex) = self.queue.pop_front() {
            if may_displace && vertex != root && graph.needs[vertex as usize] == Need::May {
                let orphan = graph.mate[vertex as usize];
                graph.mate[vertex as usize] = NONE;
                self.augment(graph, orphan);
                self.reset(Mark::None);
                return true;
            }
            if let Some(free) = self.grow(graph, vertex) {
                self.augment(graph, free);
                self.reset(Mark::None);
                return true;
            }
        }
        self.reset(Mark::Frozen);
        false
    }

    /// Visits the neighbours of an outer vertex; returns a free one.
    fn grow(&mut self, graph: &Graph, vertex: u32) -> Option<u32> {
        for (to, _) in graph.neighbours(vertex) {
            let mark = self.mark[*to as usize];
            match mark {
                Mark::None => {
                    self.set(*to, Mark::Inner);
                    self.back[*to as usize] = vertex;
                    let mate = graph.mate[*to as usize];
                    if mate == NONE {
                        return Some(*to);
                    }
                    self.set(mate, Mark::Outer);
                    self.queue.push_back(mate);
                }
                Mark::Outer if self.find(vertex) != self.find(*to) => {
                    let base = self.common_base(graph, vertex, *to);
                    self.contract(graph, vertex, *to, base);
                    self.contract(graph, *to, vertex, base);
                }
                Mark::Outer | Mark::Inner | Mark::Frozen => {}
            }
        }
        None
    }

    /// Exchanges matched and unmatched edges from `vertex`, which is free and has a way back, to the root.
    fn augment(&self, graph: &mut Graph, vertex: u32) {
        let mut inner = vertex;
        while inner != NONE {
            let outer = self.back[inner as usize];
            let next = graph.mate[outer as usize];
            graph.mate[inner as usize] = outer;
            graph.mate[outer as usize] = inner;
            inner = next;
        }
    }

    fn set(&mut self, vertex: u32, mark: Mark) {
        self.mark[vertex as usize] = mark;
        self.touched.push(vertex);
    }

    fn reset(&mut self, mark: Mark) {
        while let Some(vertex) = self.touched.pop() {
            self.mark[vertex as usize] = mark;
            self.base[vertex as usize] = vertex;
            self.back[vertex as usize] = NONE;
        }
        self.queue.clear();
    }

    fn find(&mut self, vertex: u32) -> u32 {
        let mut at = vertex;
        while self.base[at as usize] != at {
            let up = self.base[at as usize];
            self.base[at as usize] = self.base[up as usize];
            at = up;
        }
        at
    }

    /// The first blossom base that the ways from two outer vertices to the root have in common.
    fn common_base(&mut self, graph: &Graph, a: u32, b: u32) -> u32 {
        self.clock += 1;
        let (mut here, mut there) = (self.find(a), self.find(b));
        loop {
            if here != NONE {
                if self.passed[here as usize] == self.clock {
                    return here;
                }
                self.passed[here as usize] = self.clock;
                here = self.parent_base(graph, here);
            }
            std::mem::swap(&mut here, &mut there);
        }
    }

    /// The base two edges nearer to the root, or `NONE` at the root.
    fn parent_base(&mut self, graph: &Graph, base: u32) -> u32 {
        match graph.mate[base as usize] {
            NONE => NONE,
            mate => self.find(self.back[mate as usize]),
        }
    }

    /// Makes the way from `vertex` to `base` part of the blossom that the edge `vertex`-`other` closes.
    fn contract(&mut self, graph: &Graph, vertex: u32, other: u32, base: u32) {
        let (mut outer, mut other) = (vertex, other);
        while self.find(outer) != base {
            self.back[outer as usize] = other;
            let inner = graph.mate[outer as usize];
            if self.mark[inner as usize] == Mark::Inner {
                self.mark[inner as usize] = Mark::Outer;
                self.queue.push_back(inner);
            }
            for end in [outer, inner] {
                if self.base[end as usize] == end {
                    self.base[end as usize] = base;
                }
            }
            other = inner;
            outer = self.back[inner as usize];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Graph, NONE, Need};
    use petgraph::graph::UnGraph;
    use proptest::prelude::*;

    fn any_graph() -> impl Strategy<Value = (Vec<Need>, Vec<(u32, u32)>)> {
        (1..24_u32).prop_flat_map(|count| {
            let needs = prop::collection::vec(prop_oneof![1 => Just(Need::May), 3 => Just(Need::Must)], count as usize);
            let edges = prop::collection::btree_set((0..count, 0..count), 0..count as usize * 2);
            let proper = edges.prop_map(|edges| edges.into_iter().filter(|(a, b)| a < b).collect());
            (needs, proper)
        })
    }

    /// As many vertices with `need` as a matching can cover: the others are joined to each other, so that they cover
    /// themselves, and one more is added where their number is odd.
    fn uncoverable(needs: &[Need], edges: &[(u32, u32)]) -> usize {
        let mut graph = UnGraph::<(), ()>::new_undirected();
        let nodes: Vec<_> = needs.iter().map(|_| graph.add_node(())).collect();
        for (a, b) in edges {
            graph.add_edge(nodes[*a as usize], nodes[*b as usize], ());
        }
        let mut open: Vec<_> = nodes.iter().copied().filter(|node| needs[node.index()] == Need::May).collect();
        let musts = needs.len() - open.len();
        if musts % 2 != open.len() % 2 {
            open.push(graph.add_node(()));
        }
        for (at, a) in open.iter().enumerate() {
            for b in &open[at + 1..] {
                graph.add_edge(*a, *b, ());
            }
        }
        graph.node_count() - 2 * petgraph::algo::maximum_matching(&graph).len()
    }

    fn maximum(count: usize, edges: &[(u32, u32)]) -> usize {
        let mut graph = UnGraph::<(), ()>::new_undirected();
        let nodes: Vec<_> = (0..count).map(|_| graph.add_node(())).collect();
        for (a, b) in edges {
            graph.add_edge(nodes[*a as usize], nodes[*b as usize], ());
        }
        petgraph::algo::maximum_matching(&graph).len()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]
        #[test]
        fn agrees_with_petgraph((needs, edges) in any_graph()) {
            let mut graph = Graph::default();
            // What another graph has left behind must not matter.
            graph.take(&[Need::Must; 5], &[(0, 1), (1, 2), (2, 0), (3, 4)]);
            graph.match_all();
            graph.take(&needs, &edges);
            let left = graph.match_all();
            let matched: Vec<_> = graph.matched_edges().map(|edge| edges[edge as usize]).collect();
            let mut covered = vec![false; needs.len()];
            for (a, b) in &matched {
                prop_assert!(!covered[*a as usize] && !covered[*b as usize], "two matched edges meet");
                covered[*a as usize] = true;
                covered[*b as usize] = true;
            }
            for (at, mate) in graph.mate.iter().enumerate() {
                prop_assert_eq!(covered[at], *mate != NONE);
            }
            let open = (0..needs.len()).filter(|at| needs[*at] == Need::Must && !covered[*at]).count();
            prop_assert_eq!(open, left.len());
            prop_assert_eq!(left.is_empty(), uncoverable(&needs, &edges) == 0);
            prop_assert_eq!(matched.len(), maximum(needs.len(), &edges));
            graph.take(&needs, &edges);
            prop_assert_eq!(graph.match_musts(), left.is_empty());
        }
    }
}
