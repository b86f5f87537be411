//! A shortest set of rings of a block: a minimum cycle basis from shortest paths (Horton 1987).

use super::skeleton::Skeleton;
use std::collections::VecDeque;

/// The rings of one cyclic block, shortest first, each as its nodes in order. The skeleton holds nothing but the block.
pub(super) fn rings(block: &Skeleton) -> Vec<Vec<usize>> {
    let wanted = (block.edges.len() + 1).saturating_sub(block.len());
    let trees: Vec<Tree> = (0..block.len()).map(|root| Tree::new(block, root)).collect();
    let mut candidates = Vec::new();
    for (root, tree) in trees.iter().enumerate() {
        for (edge, [a, b]) in block.edges.iter().map(|edge| edge.ends).enumerate() {
            // Each ring is found from every one of its nodes: its smallest node is enough.
            if tree.above[a] != b && tree.above[b] != a {
                candidates.push((tree.depth[a] + tree.depth[b] + 1, root, edge));
            }
        }
    }
    candidates.sort_unstable();
    let mut basis = Basis::new(block.edges.len());
    let mut found = Vec::new();
    for (_, root, edge) in candidates {
        if found.len() == wanted {
            break;
        }
        let Some(ring) = trees[root].ring(block.edges[edge].ends) else { continue };
        if basis.add(block, &ring) {
            found.push(ring);
        }
    }
    found
}

/// Shortest paths from one node.
struct Tree {
    above: Vec<usize>,
    depth: Vec<usize>,
}

impl Tree {
    fn new(graph: &Skeleton, root: usize) -> Self {
        let mut tree = Self { above: vec![usize::MAX; graph.len()], depth: vec![usize::MAX; graph.len()] };
        tree.depth[root] = 0;
        let mut open = VecDeque::from([root]);
        while let Some(node) = open.pop_front() {
            for (next, _) in &graph.links[node] {
                if tree.depth[*next] == usize::MAX {
                    tree.depth[*next] = tree.depth[node] + 1;
                    tree.above[*next] = node;
                    open.push_back(*next);
                }
            }
        }
        tree
    }

    fn path(&self, from: usize) -> Vec<usize> {
        let mut path = vec![from];
        let mut at = from;
        while let Some(next) = self.above.get(at).copied().filter(|next| *next != usize::MAX) {
            path.push(next);
            at = next;
        }
        path
    }

    /// The ring of an edge and the two paths from its ends to the root, where those meet only there.
    fn ring(&self, [a, b]: [usize; 2]) -> Option<Vec<usize>> {
        let mut ring = self.path(a);
        let other = self.path(b);
        let inner = other.len().checked_sub(1)?;
        if other[..inner].iter().any(|node| ring.contains(node)) || ring.len() + inner < 3 {
            return None;
        }
        ring.extend(other[..inner].iter().rev());
        Some(ring)
    }
}

/// Independent sets of edges, by elimination over the two-element field.
struct Basis {
    words: usize,
    rows: Vec<(usize, Vec<u64>)>,
}

impl Basis {
    fn new(edges: usize) -> Self {
        Self { words: edges.div_ceil(64), rows: Vec::new() }
    }

    fn add(&mut self, graph: &Skeleton, ring: &[usize]) -> bool {
        let mut row = vec![0_u64; self.words];
        for (at, node) in ring.iter().enumerate() {
            let next = ring[(at + 1) % ring.len()];
            if let Some(edge) = graph.edge_between(*node, next) {
                row[edge / 64] ^= 1 << (edge % 64);
            }
        }
        for (pivot, other) in &self.rows {
            if row[pivot / 64] >> (pivot % 64) & 1 == 1 {
                row.iter_mut().zip(other).for_each(|(word, with)| *word ^= with);
            }
        }
        let Some(word) = row.iter().position(|word| *word != 0) else { return false };
        self.rows.push((word * 64 + row[word].trailing_zeros() as usize, row));
        true
    }
}
