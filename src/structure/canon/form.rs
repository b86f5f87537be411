//! The canonical form of a species: a numbering that depends on nothing but the drawing.
//!
//! Refine, single one atom out, refine again, and try the other atoms of its cell as well, except those that a symmetry
//! found on the way makes equivalent (B. D. `McKay`, Congressus Numerantium 30 (1981) 45). A symmetry is looked for as soon as two
//! atoms look alike, not only where a numbering is complete: that keeps dendrimers cheap.

use super::partition::{Partition, Scratch, View};
use super::{Colours, Orders};
use crate::structure::isomorphism::{Matcher, Outcome, Rules};
use crate::structure::skeleton::{Arc, Skeleton};
use std::ops::Range;

/// A numbering of one species, and what it looks like in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Canonical {
    /// The nodes in canonical order.
    pub order: Vec<u32>,
    /// Atoms and bonds in that order. Two species are the same drawing exactly if their forms are equal and certain.
    pub form: Vec<u64>,
    /// Whether the search was finished. If not, another numbering of the same drawing may get another form.
    pub certain: bool,
}

/// The canonical form of one species. `colours` are those of the drawing under the same `orders`; seeded colours give the
/// form of the drawing with its seeds. `limit` counts bonds looked at.
#[must_use]
pub fn canonical(skeleton: &Skeleton, colours: &Colours, species: u32, orders: Orders, limit: u64) -> Canonical {
    let nodes = skeleton.species(species);
    let root = Partition::new(&colours.all()[nodes.start as usize..nodes.end as usize]);
    let view = View { skeleton, orders, first: nodes.start };
    let mut search = Individualisation { view, nodes, limit, scratch: Scratch::default(), matcher: Matcher::default() };
    let mut best: Option<Canonical> = None;
    let mut open = vec![root];
    while let Some(partition) = open.pop() {
        let Some(cell) = partition.smallest_cell() else {
            let leaf = search.leaf(&partition);
            if best.as_ref().is_none_or(|best| leaf.form < best.form) {
                best = Some(leaf);
            }
            continue;
        };
        if search.limit == 0 {
            // Past the limit one numbering has to do.
            if best.is_none() {
                best = Some(search.any_leaf(partition));
            }
            break;
        }
        open.append(&mut search.children(&partition, cell));
    }
    let mut best = best.unwrap_or(Canonical { order: Vec::new(), form: Vec::new(), certain: true });
    best.certain = search.limit > 0;
    best
}

struct Individualisation<'a> {
    view: View<'a>,
    nodes: Range<u32>,
    limit: u64,
    scratch: Scratch,
    matcher: Matcher,
}

impl Individualisation<'_> {
    /// The partitions in which one node of the cell is singled out: of those with the least trace one for each set of
    /// nodes that symmetries exchange.
    fn children(&mut self, partition: &Partition, cell: u32) -> Vec<Partition> {
        let mut least = u64::MAX;
        let mut kept: Vec<Partition> = Vec::new();
        // Nodes that a symmetry has shown to be like one that was tried.
        let mut settled = vec![false; self.nodes.len()];
        for node in partition.members(cell) {
            if self.limit == 0 && !kept.is_empty() {
                break;
            }
            if settled[*node as usize] {
                continue;
            }
            let mut child = partition.clone();
            let single = child.single_out(*node);
            let trace = child.refine(self.view, single, &mut self.scratch, &mut self.limit);
            if trace > least {
                continue;
            }
            if trace < least {
                least = trace;
                kept.clear();
            }
            if kept.iter().any(|other| self.is_symmetry(other, &child)) {
                self.settle(*node, &mut settled);
                continue;
            }
            kept.push(child);
        }
        kept
    }

    /// Settles the nodes that the symmetry that was found last makes of one that is settled.
    fn settle(&self, node: u32, settled: &mut [bool]) {
        let mut node = node;
        while !std::mem::replace(&mut settled[node as usize], true) {
            node = self.matcher.image()[node as usize] - self.nodes.start;
        }
    }

    /// Whether a symmetry of the species turns one partition into the other. Where the few steps for it do not
    /// suffice, no: then both are tried, which costs more and errs in nothing.
    fn is_symmetry(&mut self, a: &Partition, b: &Partition) -> bool {
        let rules = Cells { view: self.view, a, b };
        let species = (self.view.skeleton, self.nodes.clone());
        let granted = self.limit.min(STEPS_A_NODE * self.nodes.len() as u64);
        let mut left = granted;
        let found = self.matcher.search(species.clone(), species, &rules, &mut left, |_| true) == Outcome::Found;
        self.limit -= granted - left;
        found
    }

    fn leaf(&self, partition: &Partition) -> Canonical {
        let View { skeleton, orders, first } = self.view;
        let mut form = Vec::new();
        let mut back = Vec::new();
        for (at, node) in partition.elements().iter().enumerate() {
            let node = node + first;
            form.push(orders.node_code(skeleton.node(node)));
            back.extend(skeleton.arcs(node).iter().filter_map(|arc| {
                let place = partition.place(arc.to - first);
                // The top bit tells bonds from atoms.
                (place < at as u32).then(|| 1 << 63 | u64::from(place) << 16 | orders.code(arc))
            }));
            back.sort_unstable();
            form.append(&mut back);
        }
        Canonical { order: partition.elements().iter().map(|node| node + first).collect(), form, certain: false }
    }

    fn any_leaf(&mut self, mut partition: Partition) -> Canonical {
        let mut from = 0;
        while let Some(cell) = partition.cell_from(from) {
            let Some(node) = partition.members(cell).first().copied() else { break };
            let single = partition.single_out(node);
            partition.refine(self.view, single, &mut self.scratch, &mut self.limit);
            from = cell;
        }
        self.leaf(&partition)
    }
}

/// Candidates that one search for a symmetry may look at, for each node: without a wrong turn it is one.
const STEPS_A_NODE: u64 = 20;

/// Cells as classes, by their names.
struct Cells<'a> {
    view: View<'a>,
    a: &'a Partition,
    b: &'a Partition,
}

impl Rules for Cells<'_> {
    fn class_a(&self, node: u32) -> u64 {
        u64::from(self.a.cell(node - self.view.first))
    }

    fn class_b(&self, node: u32) -> u64 {
        u64::from(self.b.cell(node - self.view.first))
    }

    fn nodes(&self, a: u32, b: u32) -> bool {
        let code = |node| self.view.orders.node_code(self.view.skeleton.node(node));
        code(a) == code(b)
    }

    fn arcs(&self, a: &Arc, b: &Arc) -> bool {
        self.view.orders.code(a) == self.view.orders.code(b)
    }
}
