//! What bank-wide findings need of one item: a few numbers, worked out where the item is judged.

use super::step::StepAudit;
use crate::arrows::{Moves, Place};
use crate::bank::{Item, Task};
use crate::structure::canon::{Colours, Orders, mix};
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, Structure};
use std::cell::RefCell;

/// Fingerprints of one item. Equal items have equal ones; different ones nearly never (64 bits).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Digest {
    /// Of the id, where the bank gives one.
    pub id: Option<u64>,
    /// Of start, arrows and task, up to labels and the order of atoms, where the arrows name atoms of the start.
    pub question: Option<u64>,
    /// Of the stated answer; 0 where it is the recomputed product.
    pub answer: u64,
    /// Of the product, where an answer of a neighbour may have to be held against it.
    pub product: Option<u64>,
    /// Of the stated answer, where it is not the product.
    pub stated: Option<u64>,
}

/// Digests an item but for `product`, which only the neighbours of mismatched items need.
#[must_use]
pub fn digest(item: &Item, steps: &[StepAudit]) -> Digest {
    let mut digest = Digest { id: item.has_own_id.then(|| of_text(&item.id)), ..Digest::default() };
    let mut question = mix(item.task as u64 + 1);
    for step in steps {
        let Some(start) = &step.start else { return digest };
        // A question with faulty arrows is a question; one whose arrows name no atoms of its start cannot be told apart.
        if step.pushed.is_none() && step.arrows.is_empty() {
            return digest;
        }
        question = mix(question ^ of_question(start, step));
        digest.answer = mix(digest.answer) ^ of_answer(step);
    }
    if !steps.is_empty() && item.task != Task::Contributors {
        digest.question = Some(question);
    }
    if steps.iter().all(|step| of_answer(step) == 0) {
        digest.answer = 0;
    }
    if let [step] = steps
        && step.compared.as_ref().is_some_and(|compared| !compared.is_equal())
    {
        digest.stated = step.answer.as_ref().map(of_drawing);
    }
    digest
}

/// The fingerprint of the product of an item that is one step.
#[must_use]
pub fn of_product(steps: &[StepAudit]) -> Option<u64> {
    match steps {
        [step] => step.pushed.as_ref().map(|pushed| of_drawing(&pushed.product)),
        _ => None,
    }
}

/// 0 where the answer is the product, so that one answer drawn in two ways is one.
fn of_answer(step: &StepAudit) -> u64 {
    match (&step.compared, &step.answer) {
        (Some(compared), _) if compared.is_equal() => 0,
        (_, Some(answer)) => of_drawing(answer) | 1,
        (_, None) => 0,
    }
}

#[derive(Default)]
struct Bench {
    skeleton: Skeleton,
    colours: Colours,
    seeds: Vec<(u32, u64)>,
}

thread_local! {
    static BENCH: RefCell<Bench> = RefCell::default();
}

/// A drawing, whatever its labels and the order of its atoms.
fn of_drawing(structure: &Structure) -> u64 {
    let mut bench = BENCH.take();
    bench.skeleton.rebuild(structure);
    bench.colours.refine(&bench.skeleton, orders(&bench.skeleton), &[]);
    let whole = bench.colours.whole();
    BENCH.set(bench);
    fold(whole)
}

/// Start and arrows: atoms are coloured by what the arrows do to them, then each arrow adds its ends' colours.
fn of_question(start: &Structure, step: &StepAudit) -> u64 {
    let mut bench = BENCH.take();
    bench.skeleton.rebuild(start);
    bench.seeds.clear();
    let hydrogen = |atom: AtomId, bench: &Bench| u64::from(bench.skeleton.is_folded(atom)) << 8;
    for arrow in &step.arrows {
        let moves = u64::from(arrow.moves == Moves::Single) << 4;
        for (role, place) in [(1, arrow.tail), (2, arrow.head)] {
            let kind = u64::from(matches!(place, Place::Bond(..))) << 5;
            for atom in place.atoms() {
                let seed = role | kind | moves | hydrogen(atom, &bench);
                let host = bench.skeleton.host(atom);
                bench.seeds.push((host, seed));
            }
        }
    }
    bench.colours.refine(&bench.skeleton, orders(&bench.skeleton), &bench.seeds);
    let colour = |atom: AtomId| bench.colours.of(bench.skeleton.host(atom)).wrapping_add(hydrogen(atom, &bench));
    let place = |place: Place<AtomId>| match place {
        Place::Atom(a) => mix(colour(a)),
        Place::Bond(a, b) => mix(mix(colour(a)).wrapping_add(mix(colour(b)))),
    };
    let mut sum = fold(bench.colours.whole());
    for arrow in &step.arrows {
        let kind = u64::from(arrow.moves == Moves::Single);
        sum = sum.wrapping_add(mix(place(arrow.tail) ^ mix(place(arrow.head) ^ kind)));
    }
    BENCH.set(bench);
    sum
}

fn orders(skeleton: &Skeleton) -> Orders {
    Orders::for_both(skeleton, skeleton)
}

fn fold(whole: u128) -> u64 {
    (whole as u64) ^ ((whole >> 64) as u64)
}

/// FNV-1a, spread once more: short, and the same on every machine and in every version.
fn of_text(text: &str) -> u64 {
    mix(text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)))
}
