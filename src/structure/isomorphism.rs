//! Maps of one skeleton onto another, grown along bonds and taken back where they fail.
//!
//! Atoms are matched along the bonds of the first skeleton, species by species, from the atom whose class is rarest. With
//! classes from colour refinement the first attempt nearly always succeeds; the step limit ends the rest. No recursion.

use super::skeleton::{Arc, Skeleton};
use std::ops::Range;

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// A map was accepted.
    Found,
    /// All maps were tried and none was accepted.
    None,
    /// The step limit was met before all maps were tried.
    OutOfSteps,
}

const NONE: u32 = u32::MAX;

/// What may stand for what.
pub trait Rules {
    /// The class of a node of the first skeleton.
    fn class_a(&self, node: u32) -> u64;
    /// The class of a node of the second; nodes of different classes never stand for each other.
    fn class_b(&self, node: u32) -> u64;
    /// Whether two nodes of one class may stand for each other.
    fn nodes(&self, a: u32, b: u32) -> bool;
    /// Whether two bonds may.
    fn arcs(&self, a: &Arc, b: &Arc) -> bool;
}

#[derive(Debug, Clone, Copy)]
struct Step {
    node: u32,
    /// A neighbour that is mapped earlier, or `NONE` for the first node of a species.
    via: u32,
    /// For the first node of a species: its class.
    class: u64,
    /// The next candidate: among the bonds of the neighbour's image, or among the second skeleton's nodes.
    next: u32,
}

/// Buffers of the search.
#[derive(Debug, Clone, Default)]
pub struct Matcher {
    steps: Vec<Step>,
    /// By node of the first skeleton, counted from `first_a`.
    image: Vec<u32>,
    /// By node of the second, counted from `first_b`.
    taken: Vec<bool>,
    first_a: u32,
    first_b: u32,
    planned: Vec<bool>,
    classes: Vec<(u64, u32)>,
}

impl Matcher {
    /// Looks for maps of whole species `nodes_a` of `a` into the species `nodes_b` of `b` and shows
    /// each to `accept` until it accepts one. A map lists the image of each of `nodes_a`, in order. Every candidate that is
    /// looked at takes one from `limit`.
    pub fn search(
        &mut self,
        (a, nodes_a): (&Skeleton, Range<u32>),
        (b, nodes_b): (&Skeleton, Range<u32>),
        rules: &impl Rules,
        limit: &mut u64,
        mut accept: impl FnMut(&[u32]) -> bool,
    ) -> Outcome {
        if nodes_a.len() > nodes_b.len() {
            return Outcome::None;
        }
        self.plan(a, nodes_a.clone(), rules);
        (self.first_a, self.first_b) = (nodes_a.start, nodes_b.start);
        self.image.clear();
        self.image.resize(nodes_a.len(), NONE);
        self.taken.clear();
        self.taken.resize(nodes_b.len(), false);
        let mut depth = 0;
        loop {
            if depth == self.steps.len() {
                if accept(&self.image) {
                    return Outcome::Found;
                }
            } else if self.advance(depth, a, b, &nodes_b, rules, limit) {
                depth += 1;
                if let Some(step) = self.steps.get_mut(depth) {
                    step.next = 0;
                }
                continue;
            }
            if *limit == 0 {
                return Outcome::OutOfSteps;
            }
            let Some(back) = depth.checked_sub(1) else { return Outcome::None };
            depth = back;
            self.release(depth);
        }
    }

    /// The map that was accepted last: the image of each of the nodes that were mapped, in order.
    #[must_use]
    pub fn image(&self) -> &[u32] {
        &self.image
    }

    fn release(&mut self, depth: usize) {
        let node = self.steps[depth].node - self.first_a;
        let image = std::mem::replace(&mut self.image[node as usize], NONE);
        self.taken[(image - self.first_b) as usize] = false;
    }

    /// Orders the nodes so that each but the first of a species has a neighbour before it.
    fn plan(&mut self, a: &Skeleton, nodes: Range<u32>, rules: &impl Rules) {
        self.steps.clear();
        self.planned.clear();
        self.planned.resize(nodes.len(), false);
        let first = nodes.start;
        let mut at = nodes.start;
        while at < nodes.end {
            let species = a.species(a.species_of(at));
            at = species.end;
            let (root, class) = self.rarest(species, rules);
            self.planned[(root - first) as usize] = true;
            let mut next = self.steps.len();
            self.steps.push(Step { node: root, via: NONE, class, next: 0 });
            while let Some(step) = self.steps.get(next) {
                let via = step.node;
                next += 1;
                for arc in a.arcs(via) {
                    if !std::mem::replace(&mut self.planned[(arc.to - first) as usize], true) {
                        self.steps.push(Step { node: arc.to, via, class: 0, next: 0 });
                    }
                }
            }
        }
    }

    fn rarest(&mut self, nodes: Range<u32>, rules: &impl Rules) -> (u32, u64) {
        self.classes.clear();
        self.classes.extend(nodes.clone().map(|node| (rules.class_a(node), node)));
        self.classes.sort_unstable();
        let rarest = self.classes.chunk_by(|x, y| x.0 == y.0).min_by_key(|class| class.len());
        rarest.map_or((nodes.start, 0), |class| (class[0].1, class[0].0))
    }

    /// Maps the node of a step to its next candidate, if there is one.
    fn advance(
        &mut self,
        depth: usize,
        a: &Skeleton,
        b: &Skeleton,
        nodes_b: &Range<u32>,
        rules: &impl Rules,
        limit: &mut u64,
    ) -> bool {
        let step = self.steps[depth];
        let class = if step.via == NONE { step.class } else { rules.class_a(step.node) };
        let mut next = step.next;
        let found = loop {
            let candidate = if step.via == NONE {
                nodes_b.clone().nth(next as usize)
            } else {
                b.arcs(self.image[(step.via - self.first_a) as usize]).get(next as usize).map(|arc| arc.to)
            };
            let Some(candidate) = candidate else { break false };
            if *limit == 0 {
                break false;
            }
            next += 1;
            if self.taken[(candidate - self.first_b) as usize] || rules.class_b(candidate) != class {
                continue;
            }
            *limit -= 1;
            if rules.nodes(step.node, candidate) && self.bonds_agree(step.node, candidate, a, b, rules) {
                self.image[(step.node - self.first_a) as usize] = candidate;
                self.taken[(candidate - self.first_b) as usize] = true;
                break true;
            }
        };
        self.steps[depth].next = next;
        found
    }

    /// Whether every bond to a node that is mapped has its counterpart. As bonds are equal in number, none is left over.
    fn bonds_agree(&self, node: u32, candidate: u32, a: &Skeleton, b: &Skeleton, rules: &impl Rules) -> bool {
        let arcs = a.arcs(node);
        arcs.len() == b.arcs(candidate).len()
            && arcs.iter().all(|arc| match self.image[(arc.to - self.first_a) as usize] {
                NONE => true,
                image => b.arc_between(candidate, image).is_some_and(|other| rules.arcs(arc, other)),
            })
    }
}
