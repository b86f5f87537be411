//! The nodes whose images are to be chosen, and what every choice costs, as far as counting can tell.

use super::NONE;
use super::bound;
use super::cost::{ATOM, Map, node_cost};

/// Nodes of both sides that are open; every other is decided as in the map.
#[derive(Debug)]
pub(super) struct Open<'a> {
    pub(super) of_a: &'a [u32],
    pub(super) of_b: &'a [u32],
    /// By side and node: whether it is open; empty where all are.
    marks: [Vec<bool>; 2],
}

impl<'a> Open<'a> {
    pub(super) fn new(map: &Map<'_>, [of_a, of_b]: &'a [Vec<u32>; 2]) -> Self {
        let marks =
            |open: &[u32], count: u32| if open.len() == count as usize { Vec::new() } else { marked(open, count) };
        Self { of_a, of_b, marks: [marks(of_a, map.a.len()), marks(of_b, map.b.len())] }
    }

    /// Whether all nodes are open.
    fn is_all(&self) -> bool {
        self.marks.iter().all(Vec::is_empty)
    }

    /// What every correspondence costs that changes nothing but the open nodes. It does not matter how these are mapped now.
    pub(super) fn least(&self, map: &Map<'_>) -> u32 {
        self.base(map) + bound::least(map, self.of_a, self.of_b, &self.bonds(map))
    }

    /// As [`least`](Self::least), closer where one side has one node more; 0 where it has not.
    pub(super) fn least_but_one(&self, map: &Map<'_>) -> u32 {
        match bound::least_but_one(map, self.of_a, self.of_b, &self.bonds(map)) {
            0 => 0,
            least => self.base(map) + least,
        }
    }

    /// How many more bonds of each kind the first side has, of those that are to be decided, as one of their ends is.
    pub(super) fn bonds(&self, map: &Map<'_>) -> bound::Bonds {
        let any_order = bound::any_order(map.a, map.b);
        // Every bond counts twice, as seen from both ends.
        let mut twice = bound::Bonds::default();
        let sides = [(map.a, self.of_a, 1), (map.b, self.of_b, -1)];
        for ((side, nodes, by), marks) in sides.into_iter().zip(&self.marks) {
            if marks.is_empty() {
                for arc in side.all_arcs() {
                    twice[bound::kind(any_order, arc)] += by;
                }
                continue;
            }
            for node in nodes {
                for arc in side.arcs(*node) {
                    twice[bound::kind(any_order, arc)] += if marks[arc.to as usize] { by } else { 2 * by };
                }
            }
        }
        twice.map(|count| count / 2)
    }

    /// The cost of everything that touches no open node.
    pub(super) fn base(&self, map: &Map<'_>) -> u32 {
        if self.is_all() {
            return 0;
        }
        let Map { a, b, .. } = *map;
        let [is_open_a, is_open_b] = [0, 1]
            .map(|side: usize| move |node: u32| self.marks[side].get(node as usize).is_none_or(|is_open| *is_open));
        let mut cost = 0;
        for u in (0..a.len()).filter(|u| !is_open_a(*u)) {
            let image = map.image(u);
            cost += if image == NONE { ATOM } else { node_cost(a.node(u), b.node(image)) };
            let settled = a.arcs(u).iter().filter(|arc| arc.to > u && !is_open_a(arc.to));
            cost += settled.map(|arc| map.cost_of_a(image, arc)).sum::<u32>();
        }
        for v in (0..b.len()).filter(|v| !is_open_b(*v)) {
            let source = map.source(v);
            cost += if source == NONE { ATOM } else { 0 };
            let settled = b.arcs(v).iter().filter(|arc| arc.to > v && !is_open_b(arc.to));
            cost += settled.map(|arc| map.cost_of_b(source, arc)).sum::<u32>();
        }
        cost
    }
}

pub(super) fn marked(nodes: &[u32], count: u32) -> Vec<bool> {
    let mut marked = vec![false; count as usize];
    for node in nodes {
        marked[*node as usize] = true;
    }
    marked
}
