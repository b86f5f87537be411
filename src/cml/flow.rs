//! Arrows from the identity of electrons: the same electrons in another place have moved.

use super::arrows::named;
use super::fault::{Faults, Problem};
use super::molecule::clipped;
use super::names::{Key, Tag};
use super::side::{NamedElectrons, Side};
use super::tree::{NodeId, Tree};
use crate::arrows::{DrawnArrow, Moves, Place};
use crate::structure::Label;
use rustc_hash::FxHashMap;

type ById<'a> = FxHashMap<&'a str, &'a NamedElectrons>;

fn by_id<'a>(side: &'a Side, faults: &mut Faults) -> ById<'a> {
    let mut found = ById::default();
    for electrons in &side.electrons {
        if found.insert(&electrons.id, electrons).is_some() {
            faults.push(Problem::RepeatedElectron(clipped(&electrons.id)), electrons.span);
        }
    }
    found
}

/// One electron id on both sides is the same electrons (`electronMap="USE_IDS"`).
pub(super) fn by_ids(start: &Side, answer: &Side, faults: &mut Faults) -> Vec<DrawnArrow> {
    by_id(start, faults);
    let after = by_id(answer, faults);
    let mut arrows = Vec::new();
    for electrons in &start.electrons {
        if let Some(moved) = after.get(&*electrons.id) {
            push(electrons, moved, start, answer, faults, &mut arrows);
        }
    }
    arrows
}

/// Links lead from electrons of the reactants to the same electrons in the products.
pub(super) fn by_map(tree: &Tree, map: NodeId, start: &Side, answer: &Side, faults: &mut Faults) -> Vec<DrawnArrow> {
    let (before, after) = (by_id(start, faults), by_id(answer, faults));
    let mut arrows = Vec::new();
    for link in tree.children_of(map, Tag::Link) {
        let mut find = |key: Key, name: &'static str, among: &ById| -> Option<NamedElectrons> {
            let Some((id, span)) = tree.stated(link, key) else {
                faults.push(Problem::LinkEnd(name), tree.span(link));
                return None;
            };
            let found = among.get(&*id).map(|electrons| NamedElectrons { span, ..(*electrons).clone() });
            if found.is_none() {
                let problem = Problem::LinkTarget { kind: Tag::Electron.name(), id: clipped(&id) };
                faults.push(problem, span);
            }
            found
        };
        let (from, to) = (find(Key::From, "from", &before), find(Key::To, "to", &after));
        if let (Some(from), Some(to)) = (from, to) {
            push(&from, &to, start, answer, faults, &mut arrows);
        }
    }
    arrows
}

/// Adds the arrow of electrons that are in another place after the step.
fn push(
    before: &NamedElectrons,
    after: &NamedElectrons,
    start: &Side,
    answer: &Side,
    faults: &mut Faults,
    arrows: &mut Vec<DrawnArrow>,
) {
    let place = |electrons: &NamedElectrons, side: &Side| {
        electrons.place.and_then(|place| named(&side.structure, place, electrons.span))
    };
    let (Some(tail), Some(head)) = (place(before, start), place(after, answer)) else {
        faults.push(Problem::ElectronPlace(clipped(&before.id)), before.span);
        return;
    };
    if labels(&tail) == labels(&head) {
        return;
    }
    let moves = match before.count {
        2 => Moves::Pair,
        1 => Moves::Single,
        count => {
            let problem = Problem::ElectronCount { id: clipped(&before.id), count };
            faults.push(problem, before.span);
            return;
        }
    };
    arrows.push(DrawnArrow { moves, tail, head, span: before.span });
}

/// A place by its labels, whatever the order of a bond's ends.
fn labels(place: &Place<crate::arrows::AtomName>) -> (&Label, Option<&Label>) {
    match place {
        Place::Atom(atom) => (&atom.label, None),
        Place::Bond(a, b) => ((&a.label).min(&b.label), Some((&a.label).max(&b.label))),
    }
}
