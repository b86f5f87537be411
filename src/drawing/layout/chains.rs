//! Growth: from a first ring system or chain end outwards, chains at 120 degrees, sp atoms straight, ring systems as wholes.

use super::measure::Side;
use super::rings::Unit;
use super::skeleton::Skeleton;
use crate::drawing::geometry::{Position, centroid, gaps};
use smallvec::SmallVec;
use std::collections::VecDeque;
use std::f64::consts::PI;

const THIRD: f64 = 2.0 * PI / 3.0;

/// What hangs on a node and is still to be placed.
#[derive(Debug, Clone, Copy)]
struct Item {
    node: usize,
    /// The block that is placed here as a whole with this node as its second member (a spiro ring).
    spiro: Option<usize>,
    length: f64,
    joining: bool,
    /// How far the branch reaches: longer branches continue the chain.
    reach: usize,
}

pub(super) struct Growth<'a> {
    species: &'a Skeleton,
    units: &'a [Unit],
    /// The blocks of each node.
    units_of: Vec<SmallVec<[usize; 2]>>,
    placed_units: Vec<bool>,
    points: Vec<Option<Position>>,
    /// The node from which each node was reached.
    parent: Vec<usize>,
    reach: Vec<usize>,
    queue: VecDeque<usize>,
}

/// Points for all nodes of one connected species. `fixed` holds those that are known already.
pub(super) fn grow(species: &Skeleton, units: &[Unit], fixed: &[Option<Position>]) -> Vec<Position> {
    let mut units_of = vec![SmallVec::new(); species.len()];
    for (id, unit) in units.iter().enumerate() {
        for node in &unit.nodes {
            units_of[*node].push(id);
        }
    }
    let mut growth = Growth {
        species,
        units,
        units_of,
        placed_units: vec![false; units.len()],
        points: vec![None; species.len()],
        parent: vec![usize::MAX; species.len()],
        reach: vec![0; species.len()],
        queue: VecDeque::new(),
    };
    growth.seed(fixed);
    while let Some(node) = growth.queue.pop_front() {
        growth.expand(node);
    }
    growth.points.into_iter().map(Option::unwrap_or_default).collect()
}

impl Growth<'_> {
    fn seed(&mut self, fixed: &[Option<Position>]) {
        if fixed.iter().any(Option::is_some) {
            self.points = fixed.to_vec();
            self.placed_units =
                self.units.iter().map(|unit| unit.nodes.iter().all(|node| fixed[*node].is_some())).collect();
            let known: Vec<usize> = (0..fixed.len()).filter(|node| fixed[*node].is_some()).collect();
            self.measure_reach(known[0]);
            self.queue.extend(known);
            return;
        }
        let largest = (0..self.units.len()).max_by_key(|unit| (self.units[*unit].nodes.len(), usize::MAX - unit));
        if let Some(unit) = largest {
            let first = self.units[unit].nodes[0];
            self.measure_reach(first);
            self.put_unit(unit, |point| point);
        } else if self.species.len() > 0 {
            let end = self.farthest(self.farthest(self.in_largest_species()));
            self.measure_reach(end);
            self.points[end] = Some(Position::default());
            self.queue.push_back(end);
        }
    }

    fn breadth_first(&self, root: usize) -> (Vec<usize>, Vec<usize>) {
        let mut above = vec![usize::MAX; self.species.len()];
        let mut order = vec![root];
        above[root] = root;
        let mut at = 0;
        while at < order.len() {
            let node = order[at];
            for (next, edge) in &self.species.links[node] {
                if above[*next] == usize::MAX && !self.species.edges[*edge].joining {
                    above[*next] = node;
                    order.push(*next);
                }
            }
            at += 1;
        }
        (order, above)
    }

    /// A node of the largest of the species that form bonds with each other.
    fn in_largest_species(&self) -> usize {
        let mut best = (0, 0);
        let mut seen = vec![false; self.species.len()];
        for node in 0..self.species.len() {
            if seen[node] {
                continue;
            }
            let (order, _) = self.breadth_first(node);
            if order.len() > best.0 {
                best = (order.len(), node);
            }
            for node in order {
                seen[node] = true;
            }
        }
        best.1
    }

    fn farthest(&self, root: usize) -> usize {
        self.breadth_first(root).0.last().copied().unwrap_or(root)
    }

    /// How far each node's branch reaches, seen from the root.
    fn measure_reach(&mut self, root: usize) {
        let (order, above) = self.breadth_first(root);
        for node in order.iter().rev() {
            let up = above[*node];
            if up != *node {
                self.reach[up] = self.reach[up].max(self.reach[*node] + 1);
            }
        }
    }

    fn put_unit(&mut self, unit: usize, place: impl Fn(Position) -> Position) {
        self.placed_units[unit] = true;
        let Unit { nodes, points, .. } = &self.units[unit];
        for (node, point) in nodes.iter().zip(points) {
            if self.points[*node].is_none() {
                self.points[*node] = Some(place(*point));
                self.queue.push_back(*node);
            }
        }
    }

    fn at(&self, node: usize) -> Position {
        self.points[node].unwrap_or_default()
    }

    /// Directions from a node to its placed neighbours.
    fn taken(&self, node: usize) -> Vec<f64> {
        let placed = self.species.links[node].iter().filter_map(|(next, _)| self.points[*next]);
        placed.map(|point| (point - self.at(node)).angle()).collect()
    }

    fn items(&self, node: usize) -> Vec<Item> {
        let mut items: Vec<Item> = Vec::new();
        for (next, edge) in self.species.links[node].iter().rev() {
            if self.points[*next].is_some() {
                continue;
            }
            let spiro = self.units_of[node].iter().find(|unit| self.units[**unit].nodes.binary_search(next).is_ok());
            if let Some(unit) = spiro
                && items.iter().any(|item| item.spiro == Some(*unit))
            {
                continue;
            }
            let edge = self.species.edges[*edge];
            items.push(Item {
                node: *next,
                spiro: spiro.copied(),
                length: edge.length,
                joining: edge.joining,
                reach: self.reach[*next] + 3 * usize::from(spiro.is_some()),
            });
        }
        items.sort_by_key(|item| (item.joining, std::cmp::Reverse(item.reach), item.node));
        items
    }

    fn expand(&mut self, node: usize) {
        let items = self.items(node);
        let (bonded, joining): (Vec<Item>, Vec<Item>) = items.into_iter().partition(|item| !item.joining);
        for group in [bonded, joining] {
            if group.is_empty() {
                continue;
            }
            let taken = self.taken(node);
            let mut slots = self.slots(node, &taken, &group);
            self.obey_mark(node, &group, &mut slots);
            for (item, angle) in group.iter().zip(slots) {
                self.put(node, item, angle);
            }
        }
    }

    fn put(&mut self, node: usize, item: &Item, angle: f64) {
        if let Some(unit) = item.spiro {
            if !self.placed_units[unit] {
                self.put_inward(unit, node, self.at(node), angle);
            }
            return;
        }
        if self.points[item.node].is_some() {
            return;
        }
        let point = self.at(node) + Position::towards(angle) * item.length;
        self.parent[item.node] = node;
        match self.units_of[item.node].first().copied() {
            Some(unit) if !self.placed_units[unit] => self.put_hanging(unit, item.node, node, point, angle),
            _ => {
                self.points[item.node] = Some(point);
                self.queue.push_back(item.node);
            }
        }
    }

    /// Places a block so that its inside, seen from one of its nodes, lies in a direction, or a little off it where that
    /// keeps it clear of what is placed.
    fn put_inward(&mut self, unit: usize, node: usize, at: Position, angle: f64) {
        let (own, free, width) = self.free_side(unit, node);
        let inside = free + width / 2.0 + PI;
        let axis = own + Position::towards(inside);
        let image = |mirrored: bool, off: f64| {
            move |point: Position| {
                let point = if mirrored { point.mirrored(own, axis) } else { point };
                at + (point - own).turned(angle + off - inside)
            }
        };
        let cost = |mirrored: bool, off: f64| {
            let place = image(mirrored, off);
            let unit = &self.units[unit];
            let near = unit.nodes.iter().zip(&unit.points).filter(|(other, _)| **other != node);
            near.map(|(_, point)| self.crowd(place(*point))).sum::<f64>() + 1.5 * f64::abs(off)
        };
        let mut best = (f64::INFINITY, false, 0.0);
        for off in [0.0, 0.12, -0.12, 0.24, -0.24] {
            for mirrored in [false, true] {
                let cost = cost(mirrored, off);
                if cost < best.0 - 1e-6 {
                    best = (cost, mirrored, off);
                }
            }
        }
        self.put_unit(unit, image(best.1, best.2));
    }

    /// Places a block on the bond that leads to one of its nodes, as it is or mirrored, whichever shows a marked double bond
    /// rightly and lies farther from what is placed.
    fn put_hanging(&mut self, unit: usize, node: usize, parent: usize, at: Position, angle: f64) {
        let (own, from, width) = self.free_side(unit, node);
        let outside =
            self.species.links[node].iter().filter(|(next, _)| self.units[unit].nodes.binary_search(next).is_err());
        let share = outside.count().max(1) as f64 + 1.0;
        let back = from + width / share;
        let turn = angle + PI - back;
        let mirror_axis = Position::towards(angle);
        let plain = move |point: Position| at + (point - own).turned(turn);
        let mirrored = move |point: Position| plain(point).mirrored(at, at + mirror_axis);
        let points = &self.units[unit].points;
        let images = [
            points.iter().map(|point| plain(*point)).collect::<Vec<_>>(),
            points.iter().map(|point| mirrored(*point)).collect(),
        ];
        let wrong = images.each_ref().map(|image| self.breaks_mark(unit, node, parent, image));
        let crowd = images.each_ref().map(|image| image.iter().map(|point| self.crowd(*point)).sum::<f64>());
        if (wrong[1], crowd[1] + 1e-6) < (wrong[0], crowd[0]) {
            self.put_unit(unit, mirrored);
        } else {
            self.put_unit(unit, plain);
        }
    }

    /// Whether a marked double bond that leads into a block would be drawn wrongly.
    fn breaks_mark(&self, unit: usize, node: usize, parent: usize, image: &[Position]) -> bool {
        let unit = &self.units[unit];
        let at = |wanted: usize| {
            unit.nodes.binary_search(&wanted).ok().and_then(|at| image.get(at).copied()).or(self.points[wanted])
        };
        self.species.marks.iter().filter(|mark| mark.ends.contains(&node) && mark.ends.contains(&parent)).any(|mark| {
            let all = [mark.ends[0], mark.ends[1], mark.references[0], mark.references[1]].map(at);
            let [Some(a), Some(b), Some(c), Some(d)] = all else { return false };
            !Side { ends: [0, 1], references: [2, 3], same: mark.same_side }.holds(&[a, b, c, d])
        })
    }

    /// A node of a block in the block's own points, and the gap between its ring bonds that is free for what hangs on it.
    fn free_side(&self, unit: usize, node: usize) -> (Position, f64, f64) {
        let unit = &self.units[unit];
        let local = |node: usize| unit.nodes.binary_search(&node).ok().and_then(|at| unit.points.get(at).copied());
        let own = local(node).unwrap_or_default();
        let taken: Vec<f64> = self.species.links[node]
            .iter()
            .filter_map(|(next, _)| local(*next).map(|point| (point - own).angle()))
            .collect();
        let gap = best_gap(own, &taken, &unit.points);
        (own, gap.0, gap.1)
    }

    /// How near the placed points are to a point.
    fn crowd(&self, point: Position) -> f64 {
        let near = self.points.iter().flatten().map(|other| point.distance(*other));
        near.filter(|distance| *distance < 3.0).map(|distance| 1.0 / (0.05 + distance * distance)).sum()
    }

    fn slots(&self, node: usize, taken: &[f64], items: &[Item]) -> Vec<f64> {
        let count = items.len();
        let here = self.at(node);
        if items.iter().all(|item| item.joining) && !taken.is_empty() {
            return self.joining_slots(node, taken, items);
        }
        match taken {
            [] => match count {
                1 => vec![if items[0].joining { 0.0 } else { PI / 6.0 }],
                2 if self.species.linear[node] => vec![0.0, PI],
                2 => vec![-PI / 6.0, PI + PI / 6.0],
                3 => vec![PI / 2.0, PI / 2.0 + THIRD, PI / 2.0 - THIRD],
                _ => (0..count).map(|at| at as f64 * 2.0 * PI / count as f64).collect(),
            },
            [back] => self.chain_slots(node, *back, items),
            _ => {
                let known: Vec<Position> = self.points.iter().flatten().copied().collect();
                let (from, width) = best_gap(here, taken, &known);
                spread(from, width, items)
            }
        }
    }

    /// Directions for what follows in a chain, `back` being the way back.
    fn chain_slots(&self, node: usize, back: f64, items: &[Item]) -> Vec<f64> {
        let side = self.zigzag(node, back);
        let joined = self.species.links[node]
            .iter()
            .any(|(next, edge)| self.points[*next].is_some() && self.species.edges[*edge].joining);
        let breaks = |item: &Item| {
            self.species.edge_between(node, item.node).is_some_and(|edge| self.species.edges[edge].breaking)
        };
        if let Some(leaving) = items.iter().position(breaks).filter(|_| joined) {
            return displaced_slots(back, side, leaving, items.len());
        }
        let branches = items.iter().filter(|item| item.reach > 0).count();
        let offsets: Vec<f64> = match items.len() {
            1 if self.species.linear[node] => vec![PI],
            1 if self.is_displaced(node) => vec![PI * 0.56],
            1 => vec![THIRD],
            // Another species joins a group of one line from its side.
            2 if self.species.linear[node] && joined => vec![PI / 2.0, -PI / 2.0],
            2 => vec![THIRD, -THIRD],
            3 if joined || branches != 1 || self.species.cross[node] => vec![PI, PI / 2.0, -PI / 2.0],
            3 => vec![THIRD, THIRD + 4.0 * PI / 9.0, THIRD + 8.0 * PI / 9.0],
            count => (1..=count).map(|at| 2.0 * PI * at as f64 / (count as f64 + 1.0)).collect(),
        };
        offsets.into_iter().map(|offset| back + side * offset).collect()
    }

    /// On which side a chain goes on: opposite to the last turn, else where there is more room.
    fn zigzag(&self, node: usize, back: f64) -> f64 {
        let here = self.at(node);
        let parent = self.parent[node];
        if let Some(before) =
            self.parent.get(parent).copied().and_then(|before| self.points.get(before).copied().flatten())
        {
            let turn = (self.at(parent) - before).cross(here - self.at(parent));
            if turn.abs() > 0.05 {
                // Going on with `back + side * 120 degrees` turns to the right where side is positive.
                return if turn > 0.0 { 1.0 } else { -1.0 };
            }
        }
        let room = |side: f64| {
            let next = here + Position::towards(back + side * THIRD);
            self.crowd(next) + self.crowd(next + Position::towards(back + PI) * 1.2)
        };
        if room(-1.0) < room(1.0) - 1e-6 { -1.0 } else { 1.0 }
    }

    /// Directions for partners from other species: opposite a bond that breaks (attack from behind), else the roomiest.
    fn joining_slots(&self, node: usize, taken: &[f64], items: &[Item]) -> Vec<f64> {
        let here = self.at(node);
        let mut taken = taken.to_vec();
        let mut slots = Vec::new();
        for item in items {
            let behind = self.behind_breaking(node);
            let mut choices: Vec<f64> = match taken[..] {
                [only] if !self.species.linear[node] => vec![only + THIRD, only - THIRD],
                _ => gaps(&taken).into_iter().map(|(from, width)| from + width / 2.0).collect(),
            };
            choices.extend(behind);
            let clear = |angle: f64| {
                let near = taken.iter().map(|other| (angle - other).cos()).fold(-1.0, f64::max);
                let target = here + Position::towards(angle) * item.length;
                let beyond = here + Position::towards(angle) * (item.length + 1.0);
                let wanted = if behind.is_some_and(|behind| (angle - behind).cos() > 0.99) { -1.5 } else { 0.0 };
                wanted + self.crowd(target) + self.crowd(beyond) + if near > 0.65 { 50.0 * near } else { near }
            };
            let best = choices.into_iter().min_by(|a, b| clear(*a).total_cmp(&clear(*b))).unwrap_or(0.0);
            taken.push(best);
            slots.push(best);
        }
        slots
    }

    /// The direction opposite a placed bond that breaks.
    fn behind_breaking(&self, node: usize) -> Option<f64> {
        let broken = self.species.links[node]
            .iter()
            .find(|(next, edge)| self.species.edges[*edge].breaking && self.points[*next].is_some());
        broken.map(|(next, _)| (self.at(node) - self.at(*next)).angle())
    }

    /// Whether a partner joins opposite a bond that breaks.
    fn is_displaced(&self, node: usize) -> bool {
        let any = |what: fn(&super::skeleton::Edge) -> bool| {
            self.species.links[node].iter().any(|(_, edge)| what(&self.species.edges[*edge]))
        };
        any(|edge| edge.joining) && any(|edge| edge.breaking)
    }

    /// Swaps or mirrors directions so that a marked double bond whose other end is placed is shown as stated.
    fn obey_mark(&self, node: usize, items: &[Item], slots: &mut [f64]) {
        for mark in &self.species.marks {
            let Some(own) = mark.ends.iter().position(|end| *end == node) else { continue };
            let (Some(other), Some(reference)) =
                (self.points[mark.ends[1 - own]], self.points[mark.references[1 - own]])
            else {
                continue;
            };
            let Some(at) = items.iter().position(|item| item.node == mark.references[own]) else { continue };
            let axis = self.at(node) - other;
            let wanted_left = (axis.cross(reference - other) > 0.0) == mark.same_side;
            let is_left = axis.cross(Position::towards(slots[at])) > 0.0;
            if wanted_left != is_left {
                let line = axis.angle();
                for slot in slots.iter_mut() {
                    *slot = 2.0 * line - *slot;
                }
            }
        }
    }
}

/// Directions at a node that is attacked from `back`: what leaves goes opposite, the others stand aside.
fn displaced_slots(back: f64, side: f64, leaving: usize, count: usize) -> Vec<f64> {
    let aside: &[f64] = match count {
        0..=2 => &[PI * 0.56],
        3 => &[PI * 0.55, -PI * 0.55],
        _ => &[PI * 0.62, PI * 0.38, -PI * 0.5],
    };
    let mut aside = aside.iter().cycle();
    (0..count).map(|at| back + side * if at == leaving { PI } else { aside.next().copied().unwrap_or(PI) }).collect()
}

/// Directions for items in a gap, evenly; a spiro ring takes the room of two.
fn spread(from: f64, width: f64, items: &[Item]) -> Vec<f64> {
    let room = |item: &Item| if item.spiro.is_some() { 2.0 } else { 1.0 };
    let step = width / (items.iter().map(room).sum::<f64>() + 1.0);
    let mut at = from + step / 2.0;
    items
        .iter()
        .map(|item| {
            let half = step * room(item) / 2.0;
            at += 2.0 * half;
            at - half
        })
        .collect()
}

/// The gap between directions in which something hangs best: wide, and away from the other points.
fn best_gap(here: Position, taken: &[f64], points: &[Position]) -> (f64, f64) {
    let inside = centroid(points.iter().copied());
    let worth = |(from, width): (f64, f64)| {
        let end = here + Position::towards(from + width / 2.0);
        let near = points.iter().map(|point| point.distance(end)).fold(2.0, f64::min);
        // The inside of a ring is as wide as the outside of two, but has more atoms round it.
        let round = points.iter().filter(|point| point.distance(end) < 1.3).count();
        near.min(1.0) * 3.0 - 0.04 * round as f64 + width.min(PI * 4.0 / 3.0) + 0.02 * end.distance(inside).min(10.0)
    };
    gaps(taken).into_iter().fold(
        (0.0, -1.0),
        |best, gap| {
            if best.1 < 0.0 || worth(gap) > worth(best) + 1e-6 { gap } else { best }
        },
    )
}
