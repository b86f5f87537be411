//! Cages that people draw in one way, matched on the bare skeleton.
//!
//! The points are our own drawings in the perspective that textbooks use (from common practice, no source): bonds within 0.8 to
//! 1.2, no atom on a bond, bridges that must cross do so once or twice. A test holds them to that.

use super::skeleton::Skeleton;
use crate::drawing::geometry::{Position, widest_gap};

/// A cage: its bonds as pairs of its points.
pub(super) struct Template {
    #[cfg_attr(not(test), expect(dead_code, reason = "names the table's rows for readers and for the test"))]
    pub(super) name: &'static str,
    pub(super) points: &'static [(f64, f64)],
    pub(super) bonds: &'static [(usize, usize)],
}

/// Steps of one search for a match, and matches that are compared.
const STEPS: usize = 20_000;
const MATCHES: usize = 64;

#[rustfmt::skip]
pub(super) static TEMPLATES: &[Template] = &[
    Template { name: "bicyclo[1.1.1]pentane",
        points: &[(-0.85, 0.0), (0.85, 0.0), (0.0, 0.8), (0.0, 0.3), (0.0, -0.7)],
        bonds: &[(0, 2), (0, 3), (0, 4), (1, 2), (1, 3), (1, 4)] },
    Template { name: "bicyclo[2.1.1]hexane",
        points: &[(-0.81, 0.26), (-0.5, -0.69), (0.5, -0.69), (0.81, 0.26), (0.0, 0.85), (0.0, -0.12)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 0), (0, 5), (5, 3)] },
    Template { name: "bicyclo[2.2.1]heptane (norbornane)",
        points: &[(-1.0, 0.0), (-0.5, -0.87), (0.5, -0.87), (1.0, 0.0), (0.5, 0.87), (-0.5, 0.87), (0.0, 0.3)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 6), (6, 3)] },
    // The same from the front, for what carries something at its bridge (camphor).
    Template { name: "bicyclo[2.2.1]heptane with its bridge up",
        points: &[(-0.98, 0.12), (-0.58, -1.0), (0.58, -1.0), (0.98, 0.12), (0.41, -0.46), (-0.41, -0.46), (0.0, 0.8)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 6), (6, 3)] },
    Template { name: "bicyclo[3.1.1]heptane (pinane)",
        points: &[(-0.87, -0.5), (-0.87, 0.5), (0.0, 1.0), (0.87, 0.5), (0.87, -0.5), (0.0, -1.0), (0.0, -0.05)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 6), (6, 4)] },
    Template { name: "bicyclo[2.2.2]octane (quinuclidine)",
        points: &[(-1.1, 0.0), (-0.5, -0.85), (0.5, -0.85), (1.1, 0.0), (0.5, 0.85), (-0.5, 0.85), (-0.3, 0.3), (0.3, -0.3)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 6), (6, 7), (7, 3)] },
    Template { name: "bicyclo[3.2.1]octane (tropane)",
        points: &[(-1.12, -0.26), (-0.9, 0.72), (0.0, 1.15), (0.9, 0.72), (1.12, -0.26), (0.5, -1.04), (-0.5, -1.04), (0.0, 0.05)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 0), (0, 7), (7, 4)] },
    Template { name: "bicyclo[3.2.1]octane with its bridge up",
        points: &[(-0.98, 0.12), (-0.85, -0.93), (0.0, -1.35), (0.85, -0.93), (0.98, 0.12), (0.42, -0.46), (-0.42, -0.46), (0.0, 0.8)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 0), (0, 7), (7, 4)] },
    Template { name: "bicyclo[3.3.1]nonane",
        points: &[(-1.1, 0.0), (-0.92, 0.95), (0.0, 1.37), (0.92, 0.95), (1.1, 0.0), (0.92, -0.95), (0.0, -1.37), (-0.92, -0.95), (0.0, 0.35)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7), (7, 0), (0, 8), (8, 4)] },
    Template { name: "nortricyclane",
        points: &[(0.0, 0.95), (-0.85, 0.45), (0.85, 0.45), (0.15, 0.05), (-0.55, -0.45), (0.55, -0.45), (0.0, -1.05)],
        bonds: &[(0, 1), (0, 2), (0, 3), (1, 4), (2, 5), (3, 6), (4, 5), (4, 6), (5, 6)] },
    Template { name: "quadricyclane",
        points: &[(-0.68, 0.65), (0.49, 0.77), (1.15, -0.21), (0.14, -0.83), (-0.99, -0.49), (-0.45, 0.13), (0.35, -0.03)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (4, 0), (6, 1), (6, 2), (5, 3)] },
    Template { name: "semibullvalene",
        points: &[(-0.63, 0.96), (0.32, 1.09), (0.74, 0.33), (-0.16, -0.05), (-1.0, 0.17), (-0.62, -0.78), (0.27, -1.14), (1.02, -0.53)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7), (4, 0), (7, 2), (5, 3)] },
    Template { name: "bullvalene",
        points: &[(-0.52, 0.75), (0.52, 0.75), (0.0, 1.38), (-1.1, -0.1), (-0.8, -0.98), (0.0, -1.2), (0.8, -0.98), (1.1, -0.1), (0.2, 0.48), (0.2, -0.36)],
        bonds: &[(0, 1), (1, 2), (2, 0), (0, 3), (3, 4), (4, 5), (1, 7), (7, 6), (6, 5), (2, 8), (8, 9), (9, 5)] },
    Template { name: "prismane",
        points: &[(-0.55, 0.75), (0.55, 0.75), (0.05, 0.1), (-0.55, -0.2), (0.55, -0.2), (0.05, -0.85)],
        bonds: &[(0, 1), (1, 2), (2, 0), (3, 4), (4, 5), (5, 3), (0, 3), (1, 4), (2, 5)] },
    Template { name: "cubane",
        points: &[(-0.81, -0.76), (0.19, -0.76), (0.19, 0.24), (-0.81, 0.24), (-0.19, -0.24), (0.81, -0.24), (0.81, 0.76), (-0.19, 0.76)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4), (0, 4), (1, 5), (2, 6), (3, 7)] },
    Template { name: "basketane",
        points: &[(-0.81, -0.76), (0.19, -0.76), (0.19, 0.24), (-0.81, 0.24), (-0.19, -0.24), (0.81, -0.24), (0.81, 0.76), (-0.19, 0.76), (-0.19, 1.7), (0.81, 1.7)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (7, 4), (0, 4), (1, 5), (2, 6), (3, 7), (7, 8), (8, 9), (9, 6)] },
    Template { name: "twistane",
        points: &[(1.27, 0.58), (0.67, 1.24), (-0.09, 0.72), (0.05, -0.25), (0.41, -1.02), (0.7, -0.13), (-0.26, 0.1), (-0.99, 0.46), (-1.34, -0.52), (-0.6, -1.3)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7), (7, 8), (8, 9), (5, 0), (7, 2), (9, 4)] },
    // Rings A and B of the taxanes: a hexagon, its inner corner in the eight-membered ring.
    Template { name: "bicyclo[5.3.1]undecane (taxane)",
        points: &[(-1.4, 0.87), (-0.49, 1.28), (0.44, 0.92), (0.83, 0.0), (0.44, -0.92), (-0.49, -1.28), (-1.4, -0.87), (-2.4, -0.87), (-2.9, 0.0), (-2.4, 0.87), (-0.9, 0.0)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7), (7, 8), (8, 9), (9, 0), (0, 10), (10, 6)] },
    // A chair with a cap.
    Template { name: "adamantane",
        points: &[(-1.25, -0.1), (-0.62, -0.75), (0.32, -0.5), (1.2, -0.85), (0.72, -0.08), (-0.28, -0.3), (-1.1, 0.8), (0.25, 0.42), (0.8, 0.78), (-0.08, 1.2)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 6), (2, 7), (4, 8), (6, 9), (7, 9), (8, 9)] },
    Template { name: "morphine",
        points: &[(0.0, 2.0), (-0.87, 2.5), (-1.73, 2.0), (-1.73, 1.0), (-1.73, -1.0), (-1.73, -2.0), (-0.87, -2.5), (0.0, -2.0), (0.87, -0.5),
            (0.87, 0.5), (0.0, 1.0), (-0.87, 0.5), (-0.87, -0.5), (0.0, -1.0), (-0.27, 0.28), (0.55, 0.1), (1.6, 0.1), (-2.2, 0.0)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 11), (11, 10), (10, 0), (10, 9), (9, 8), (8, 13), (13, 12), (12, 11), (12, 4), (4, 5), (5, 6), (6, 7),
            (7, 13), (12, 14), (14, 15), (15, 16), (16, 8), (3, 17), (17, 4)] },
    Template { name: "morphinan",
        points: &[(0.0, 2.0), (-0.87, 2.5), (-1.73, 2.0), (-1.73, 1.0), (-1.73, -1.0), (-1.73, -2.0), (-0.87, -2.5), (0.0, -2.0), (0.87, -0.5),
            (0.87, 0.5), (0.0, 1.0), (-0.87, 0.5), (-0.87, -0.5), (0.0, -1.0), (-0.27, 0.28), (0.55, 0.1), (1.6, 0.1)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 11), (11, 10), (10, 0), (10, 9), (9, 8), (8, 13), (13, 12), (12, 11), (12, 4), (4, 5), (5, 6), (6, 7),
            (7, 13), (12, 14), (14, 15), (15, 16), (16, 8)] },
    Template { name: "porphine",
        points: &[(0.0, 1.45), (0.81, 2.04), (0.5, 2.99), (-0.5, 2.99), (-0.81, 2.04), (1.45, 0.0), (2.04, -0.81), (2.99, -0.5), (2.99, 0.5), (2.04, 0.81),
            (0.0, -1.45), (-0.81, -2.04), (-0.5, -2.99), (0.5, -2.99), (0.81, -2.04), (-1.45, 0.0), (-2.04, 0.81), (-2.99, 0.5), (-2.99, -0.5), (-2.04, -0.81),
            (1.77, 1.77), (1.77, -1.77), (-1.77, -1.77), (-1.77, 1.77)],
        bonds: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 0), (5, 6), (6, 7), (7, 8), (8, 9), (9, 5), (10, 11), (11, 12), (12, 13), (13, 14), (14, 10),
            (15, 16), (16, 17), (17, 18), (18, 19), (19, 15), (1, 20), (20, 9), (6, 21), (21, 14), (11, 22), (22, 19), (16, 23), (23, 4)] },
];

/// The points of a known cage where the whole block is one. `hanging` counts what hangs on each node: of several ways to
/// match, the one is taken that puts it where there is room.
pub(super) fn whole(block: &Skeleton, hanging: &[usize]) -> Option<Vec<Position>> {
    let mut degrees: Vec<usize> = block.links.iter().map(super::skeleton::Links::len).collect();
    degrees.sort_unstable();
    let fitting = TEMPLATES.iter().filter(|template| template.fits(&degrees, block.edges.len()));
    let matches = fitting
        .flat_map(|template| TemplateMatch::new(template, block).run().into_iter().map(move |nodes| (template, nodes)));
    let mut best: Option<(f64, &Template, Vec<usize>)> = None;
    for (template, nodes) in matches {
        let crowd = template.crowd(&nodes, hanging);
        if best.as_ref().is_none_or(|(least, ..)| crowd < least - 1e-6) {
            best = Some((crowd, template, nodes));
        }
    }
    let (_, template, nodes) = best?;
    let mut points = vec![Position::default(); block.len()];
    for (at, node) in nodes.into_iter().enumerate() {
        points[node] = template.point(at);
    }
    Some(points)
}

impl Template {
    fn fits(&self, degrees: &[usize], edges: usize) -> bool {
        if self.points.len() != degrees.len() || self.bonds.len() != edges {
            return false;
        }
        let mut own: Vec<usize> = self.links().iter().map(Vec::len).collect();
        own.sort_unstable();
        own == degrees
    }

    fn links(&self) -> Vec<Vec<usize>> {
        let mut links = vec![Vec::new(); self.points.len()];
        for (a, b) in self.bonds {
            links[*a].push(*b);
            links[*b].push(*a);
        }
        links
    }

    fn point(&self, at: usize) -> Position {
        self.points.get(at).map(|(x, y)| Position::new(*x, *y)).unwrap_or_default()
    }

    /// How little room a match leaves for what hangs on the nodes: how near the cage is to where it would stand.
    fn crowd(&self, nodes: &[usize], hanging: &[usize]) -> f64 {
        let links = self.links();
        let near = |at: usize| -> f64 {
            let here = self.point(at);
            let bonds: Vec<f64> = links[at].iter().map(|next| (self.point(*next) - here).angle()).collect();
            let (from, width) = widest_gap(&bonds);
            let end = here + Position::towards(from + width / 2.0);
            (0..self.points.len()).map(|other| 1.0 / (0.01 + end.distance(self.point(other)).powi(2))).sum()
        };
        let weight = |node: &usize| hanging.get(*node).copied().unwrap_or(0) as f64;
        nodes.iter().enumerate().filter(|(_, node)| weight(node) > 0.0).map(|(at, node)| weight(node) * near(at)).sum()
    }
}

/// A search for all ways to lay a template on a block, depth first with an explicit stack and a bound on its steps.
struct TemplateMatch<'a> {
    block: &'a Skeleton,
    links: Vec<Vec<usize>>,
    /// Template points in an order in which each but the first has a neighbour before it.
    order: Vec<usize>,
    /// The block's node of each template point.
    node_of: Vec<usize>,
    used: Vec<bool>,
}

impl<'a> TemplateMatch<'a> {
    fn new(template: &Template, block: &'a Skeleton) -> Self {
        let links = template.links();
        let mut order = vec![0];
        let mut at = 0;
        while at < order.len() {
            for next in &links[order[at]] {
                if !order.contains(next) {
                    order.push(*next);
                }
            }
            at += 1;
        }
        let free = vec![usize::MAX; links.len()];
        Self { block, links, order, node_of: free, used: vec![false; block.len()] }
    }

    fn run(mut self) -> Vec<Vec<usize>> {
        let mut found = Vec::new();
        let mut open: Vec<Vec<usize>> = vec![(0..self.block.len()).collect()];
        for _ in 0..STEPS {
            let depth = open.len();
            let Some(choices) = open.last_mut() else { break };
            let point = self.order[depth - 1];
            self.release(point);
            let Some(node) = choices.pop() else {
                open.pop();
                continue;
            };
            if !self.agrees(point, node) {
                continue;
            }
            self.node_of[point] = node;
            self.used[node] = true;
            if depth < self.order.len() {
                open.push(self.choices(self.order[depth]));
                continue;
            }
            found.push(self.node_of.clone());
            if found.len() == MATCHES {
                break;
            }
        }
        found
    }

    fn release(&mut self, point: usize) {
        let node = std::mem::replace(&mut self.node_of[point], usize::MAX);
        if let Some(used) = self.used.get_mut(node) {
            *used = false;
        }
    }

    /// Nodes next to where a placed neighbour of the point lies.
    fn choices(&self, point: usize) -> Vec<usize> {
        let placed = self.links[point].iter().map(|next| self.node_of[*next]).find(|node| *node != usize::MAX);
        placed.map(|node| self.block.links[node].iter().map(|(next, _)| *next).collect()).unwrap_or_default()
    }

    fn agrees(&self, point: usize, node: usize) -> bool {
        let bonded = |next: &usize| {
            let other = self.node_of[*next];
            other == usize::MAX || self.block.edge_between(node, other).is_some()
        };
        !self.used[node]
            && self.links[point].len() == self.block.links[node].len()
            && self.links[point].iter().all(bonded)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::layout::measure::Picture;

    #[test]
    fn templates_are_drawn_without_a_defect() {
        let mut wrong = Vec::new();
        for template in TEMPLATES {
            let points: Vec<Position> = (0..template.points.len()).map(|at| template.point(at)).collect();
            let bonds: Vec<[usize; 2]> = template.bonds.iter().map(|(a, b)| [*a, *b]).collect();
            let in_ring = vec![true; bonds.len()];
            let defects = Picture { points: &points, bonds: &bonds, in_ring: &in_ring, sides: &[] }.defects();
            // Norbornane from the front is foreshortened: measured against its neighbours in a whole molecule it is within the limits.
            let length = bonds.iter().map(|[a, b]| points[*a].distance(points[*b]));
            let short = length.clone().fold(f64::INFINITY, f64::min) < 0.8 || length.fold(0.0, f64::max) > 1.2;
            if short || defects.total() - defects.lengths > 0 || defects.crossings > 3 {
                wrong.push((template.name, defects));
            }
        }
        assert!(wrong.is_empty(), "{wrong:#?}");
    }
}
