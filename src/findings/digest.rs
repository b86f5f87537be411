//! What bank-wide findings need of one item: a few numbers, worked out where the item is judged.

use crate::arrows::{Arrow, Moves, Place};
use crate::bank::{Item, Task};
use crate::compare::{Compared, may_be_same};
use crate::findings::verdict::StepAudit;
use crate::structure::canon::{Orders, Peel, Rest, mix};
use crate::structure::skeleton::{Node, folds_into};
use crate::structure::{AtomId, Bond, BondId, Element, Structure};
use std::cell::RefCell;

/// Fingerprints of one item. Equal items have equal ones; different ones nearly never (64 bits).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
pub struct Digest {
    /// Of the id, where the bank gives one.
    pub id: Option<u64>,
    /// Of start, arrows and task, up to labels and the order of atoms, where the arrows name atoms of the start.
    pub question: Option<u64>,
    /// Of the stated answer; 0 where it is the recomputed product. Of the reading where the arrows have several, each with an answer of
    /// its own.
    pub answer: u64,
    /// Whether its own recomputation proves the item right.
    pub is_proven: bool,
    /// Of the product, where an answer of a neighbour may have to be held against it.
    pub product: Option<u64>,
    /// Of the stated answer, where it is not the product.
    pub stated: Option<u64>,
}

/// What the quick way worked out of an item that it could not prove: the item is one step, and all of it could be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Attempt {
    /// Of start, arrows and task.
    pub question: u64,
    /// Of the drawing of the stated answer.
    pub answer: u64,
}

/// Digests an item but for `product`, which only the neighbours of mismatched items need. What is known of it is not worked out
/// again.
#[must_use]
pub fn digest(item: &Item, steps: &[StepAudit], attempt: Option<Attempt>) -> Digest {
    let mut digest = Digest { id: item.has_own_id.then(|| of_text(&item.id)), ..Digest::default() };
    let mut question = first_step(item.task);
    // What the arrows are taken for where they can be read in several ways; else 0.
    let mut reading = 0;
    let mut as_recomputed = true;
    let mut stated = None;
    for step in steps {
        let Some(start) = &step.start else { return digest };
        // A question with faulty arrows is a question; one whose arrows name no atoms of its start cannot be told apart.
        if step.pushed.is_none() && step.arrows.is_empty() {
            return digest;
        }
        question = match attempt {
            Some(known) => known.question,
            None => next_step(question, of_start_and_arrows(start, asked(step))),
        };
        if !step.asked.is_empty() {
            reading = mix(reading) ^ (of_start_and_arrows(start, &step.arrows) | 1);
        }
        // 0 where the answer is the product, so that one answer drawn in two ways is one.
        let equal = step.compared.as_ref().is_some_and(Compared::is_equal);
        let answer = step.answer.as_ref().filter(|_| !equal);
        stated = answer.map(|answer| attempt.map_or_else(|| of_drawing(answer), |known| known.answer));
        as_recomputed &= stated.is_none();
        digest.answer = mix(digest.answer) ^ stated.map_or(0, |stated| stated | 1);
    }
    if !steps.is_empty() && item.task != Task::Contributors {
        digest.question = Some(question);
    }
    if as_recomputed {
        digest.is_proven = !steps.is_empty() && steps.iter().all(|step| step.answer.is_some());
        digest.answer = if digest.is_proven { reading } else { 0 };
    }
    if let [step] = steps
        && step.compared.is_some()
    {
        digest.stated = stated;
    }
    digest
}

/// The arrows that a step asks about.
fn asked(step: &StepAudit) -> &[Arrow] {
    if step.asked.is_empty() { &step.arrows } else { &step.asked }
}

fn of_start_and_arrows(start: &Structure, arrows: &[Arrow]) -> u64 {
    DIGESTER.with_borrow_mut(|digester| digester.step(start, arrows))
}

/// Whether the stated answer of one item may be the product of another, so that their fingerprints have to be held against each
/// other.
#[must_use]
pub fn may_answer(stated: &[StepAudit], other: &[StepAudit]) -> bool {
    match (stated, other) {
        ([StepAudit { answer: Some(answer), .. }], [StepAudit { pushed: Some(pushed), .. }]) => {
            may_be_same(answer, &pushed.product)
        }
        // What was worked out is not kept of every item.
        _ => true,
    }
}

/// The fingerprint of the product of an item that is one step.
#[must_use]
pub fn of_product(steps: &[StepAudit]) -> Option<u64> {
    match steps {
        [step] => step.pushed.as_ref().map(|pushed| of_drawing(&pushed.product)),
        _ => None,
    }
}

thread_local! {
    static DIGESTER: RefCell<Digester> = RefCell::default();
}

/// A drawing, whatever its labels and the order of its atoms.
fn of_drawing(structure: &Structure) -> u64 {
    DIGESTER.with_borrow_mut(|digester| digester.drawing(structure))
}

/// Digests drawings and questions, in buffers that it keeps.
#[derive(Debug, Default)]
struct Digester {
    peel: Peel,
    nodes: Vec<Node>,
    /// By atom: the node that stands for it, and whether the atom is a hydrogen that is counted there.
    hosts: Vec<(u32, bool)>,
}

impl Digester {
    /// A drawing, whatever its labels and the order of its atoms.
    fn drawing(&mut self, structure: &Structure) -> u64 {
        let orders = self.feed(structure);
        let Self { peel, hosts, .. } = self;
        peel.gather(|rest| list(structure, orders, hosts, rest));
        peel.sum()
    }

    /// Start and arrows.
    fn step(&mut self, start: &Structure, arrows: &[Arrow]) -> u64 {
        let orders = self.feed(start);
        let Self { peel, hosts, .. } = self;
        of_arrows(peel, arrows, |atom| hosts[atom.index()], |rest| list(start, orders, hosts, rest))
    }

    /// Gives a drawing for colouring, bond by bond and without the comparison view: neither species nor rings nor the neighbours of
    /// an atom are asked for. Says how orders count.
    fn feed(&mut self, structure: &Structure) -> Orders {
        self.number_nodes(structure);
        let Self { peel, nodes, hosts } = self;
        let orders = Orders::of(structure);
        if orders == Orders::Free {
            for (a, b, order) in shown(structure, hosts) {
                for end in [a, b] {
                    let pi = &mut nodes[end as usize].pi;
                    *pi = pi.saturating_add(u16::from(order - 1));
                }
            }
        }
        peel.begin();
        peel.add_nodes(nodes.iter().map(|node| (orders.node_code(node), [0; 3])));
        for (a, b, order) in shown(structure, hosts) {
            peel.add_bond(a, b, orders.kind(order));
        }
        orders
    }

    /// Numbers the nodes of a drawing, and counts hydrogens at the atoms that they are counted at.
    fn number_nodes(&mut self, structure: &Structure) {
        let Self { nodes, hosts, .. } = self;
        nodes.clear();
        hosts.clear();
        let mut any_folded = false;
        for (id, atom) in structure.atoms() {
            let is_folded = atom.element == Element::HYDROGEN && folds_into(structure, id).is_some();
            hosts.push((nodes.len() as u32, is_folded));
            any_folded |= is_folded;
            if !is_folded {
                nodes.push(Node::of(atom));
            }
        }
        if !any_folded {
            return;
        }
        for id in structure.atom_ids() {
            let (_, is_folded) = hosts[id.index()];
            if let (true, Some(host)) = (is_folded, folds_into(structure, id)) {
                let (host, _) = hosts[host.index()];
                hosts[id.index()].0 = host;
                let count = &mut nodes[host as usize].hydrogens;
                *count = count.saturating_add(1);
            }
        }
    }
}

/// The bonds between nodes of a drawing, with their orders.
fn shown<'a>(structure: &'a Structure, hosts: &'a [(u32, bool)]) -> impl Iterator<Item = (u32, u32, u8)> + 'a {
    structure.bonds().filter_map(|(_, a, b, bond): (BondId, AtomId, AtomId, Bond)| {
        let [(a, a_is_folded), (b, b_is_folded)] = [a, b].map(|end| hosts[end.index()]);
        (bond.order > 0 && !a_is_folded && !b_is_folded).then_some((a, b, bond.order))
    })
}

/// Lists the bonds between nodes that are left.
fn list(structure: &Structure, orders: Orders, hosts: &[(u32, bool)], rest: &mut Rest<'_>) {
    shown(structure, hosts).for_each(|(a, b, order)| rest.take(a, b, orders.kind(order)));
}

/// The question of an item that is one step, whose start was given for colouring. `host` says of an atom which node stands for it, and
/// whether it is a hydrogen that is counted there; `list` gives the bonds of the start.
pub(super) fn of_step(
    task: Task,
    start: &mut Peel,
    arrows: &[Arrow],
    host: impl Fn(AtomId) -> (u32, bool),
    list: impl FnOnce(&mut Rest<'_>),
) -> u64 {
    next_step(first_step(task), of_arrows(start, arrows, host, list))
}

/// Start and arrows: atoms are coloured by what the arrows do to them, then each arrow adds its ends' colours.
fn of_arrows(
    start: &mut Peel,
    arrows: &[Arrow],
    host: impl Fn(AtomId) -> (u32, bool),
    list: impl FnOnce(&mut Rest<'_>),
) -> u64 {
    for arrow in arrows {
        let moves = u64::from(arrow.moves == Moves::Single) << 4;
        for (role, place) in [(1, arrow.tail), (2, arrow.head)] {
            let kind = u64::from(matches!(place, Place::Bond(..))) << 5;
            for atom in place.atoms() {
                let (node, is_folded) = host(atom);
                start.seed(node, role | kind | moves | u64::from(is_folded) << 8);
            }
        }
    }
    start.gather(list);
    let sum = start.sum();
    let touched = arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms()));
    start.spread_to(touched.map(|atom| host(atom).0));
    let colour = |atom: AtomId| {
        let (node, is_folded) = host(atom);
        start.of(node).wrapping_add(u64::from(is_folded) << 8)
    };
    let place = |place: Place<AtomId>| match place {
        Place::Atom(a) => mix(colour(a)),
        Place::Bond(a, b) => mix(mix(colour(a)).wrapping_add(mix(colour(b)))),
    };
    arrows.iter().fold(sum, |sum, arrow| {
        let kind = u64::from(arrow.moves == Moves::Single);
        sum.wrapping_add(mix(place(arrow.tail) ^ mix(place(arrow.head) ^ kind)))
    })
}

/// What the digests of steps are added to.
fn first_step(task: Task) -> u64 {
    mix(task as u64 + 1)
}

fn next_step(question: u64, step: u64) -> u64 {
    mix(question ^ step)
}

/// FNV-1a, spread once more: short, and the same on every machine and in every version.
pub(super) fn of_text(text: &str) -> u64 {
    mix(text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)))
}
