//! What must hold always: the numbering of atoms, the order of arrows, the way a structure is written and whether
//! hydrogens are drawn never change a verdict; arrows keep charge and electrons and change nothing where they are not.
//!
//! The questions are the random ones of `corpus/witness/differential.jsonl`, right and wrong, labelled and not.

use super::molecules::{any_order, renumbered, smiles};
use keyassay::arrows::chains::chains;
use keyassay::arrows::{Arrow, notation, push, resolve};
use keyassay::audit::{Audited, Content, Input, Plan, Reporter, Summary, run};
use keyassay::bank::Format;
use keyassay::smiles::{Labels, write};
use keyassay::source::Span;
use keyassay::structure::electrons::Electrons;
use keyassay::structure::{Atom, AtomId, Bond, Element, LabelIndex, Structure};
use proptest::prelude::*;
use serde_json::{Value, json};
use std::sync::LazyLock;

/// A question of the frozen file whose structures are drawn localised.
#[derive(Debug, Clone)]
struct Question {
    task: String,
    start: String,
    arrows: String,
    answer: String,
}

static QUESTIONS: LazyLock<Vec<Question>> = LazyLock::new(|| {
    let text = include_str!("../../corpus/witness/differential.jsonl");
    let field = |value: &Value, name: &str| value[name].as_str().unwrap_or_default().to_owned();
    let read = |line: &str| {
        let value: Value = serde_json::from_str(line).expect("the frozen file is JSON Lines");
        Question {
            task: field(&value, "task"),
            start: field(&value, "start"),
            arrows: field(&value, "arrows"),
            answer: field(&value, "answer"),
        }
    };
    let plain = |question: &Question| {
        let drawn = [&question.start, &question.answer];
        drawn.iter().all(|text| !smiles(text).is_delocalised() && smiles(text).stereo.is_empty())
    };
    text.lines().map(read).filter(plain).collect()
});

/// Collects how the only item comes out.
#[derive(Default)]
struct Verdict(Vec<String>);

impl Reporter for Verdict {
    fn item(&mut self, item: &Audited) -> std::io::Result<()> {
        self.0.push(format!("{:?}", item.class));
        let mut names: Vec<String> = item.findings.iter().map(|finding| finding.name.to_string()).collect();
        names.sort();
        names.dedup();
        self.0.extend(names);
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> std::io::Result<()> {
        Ok(())
    }
}

/// The class of a question and the names of its findings.
fn verdict(question: &Question) -> Vec<String> {
    let line = json!({
        "id": "q", "task": question.task, "start": question.start, "arrows": question.arrows, "answer": question.answer,
    });
    // A built-in input wants bytes that live for ever; a few kilobytes a case are affordable in a test.
    let bytes: &'static [u8] = Box::leak(line.to_string().into_bytes().into_boxed_slice());
    let input = Input {
        name: "q.jsonl".to_owned(),
        format: Format::JsonLines,
        encoding: None,
        content: Content::BuiltIn(bytes),
    };
    let plan = Plan { show_sound: true, ..Plan::default() };
    let mut seen = Verdict::default();
    run(&plan, &[input], &mut [&mut seen], &mut |_| ()).expect("nothing is written");
    seen.0
}

/// The question with labels on every atom of its start, so that atoms can be written in any order.
fn with_labels(question: &Question) -> Question {
    let mut start = smiles(&question.start);
    start.label_by_position();
    Question { start: write(&start, Labels::Classes), ..question.clone() }
}

/// The drawing with its undrawn hydrogens drawn out, but for those that arrows name.
fn hydrogens_drawn(structure: &Structure, keep: &[AtomId]) -> Structure {
    let mut drawn = structure.clone();
    for id in structure.atom_ids().filter(|id| !keep.contains(id)) {
        for _ in 0..std::mem::take(&mut drawn.atom_mut(id).hydrogens) {
            let hydrogen = drawn.add_atom(Atom::new(Element::HYDROGEN), Span::default());
            drawn.add_bond(id, hydrogen, Bond::new(1), Span::default());
        }
    }
    drawn
}

/// A question and orders for the atoms of its start, of its answer, and for its arrows.
fn any_case() -> impl Strategy<Value = (Question, Vec<usize>, Vec<usize>, Vec<usize>)> {
    (0..QUESTIONS.len()).prop_flat_map(|at| {
        let question = with_labels(&QUESTIONS[at]);
        let counts = (smiles(&question.start).atom_count(), smiles(&question.answer).atom_count());
        let arrows = notation::read(&question.arrows, 1000).arrows.len();
        (Just(question), any_order(counts.0), any_order(counts.1), any_order(arrows))
    })
}

/// The start with hydrogens drawn out that arrows name, and the arrows on it, where they have one reading.
fn pushed(question: &Question) -> Option<(Structure, Vec<Arrow>, Structure)> {
    let start = smiles(&question.start);
    let labels = LabelIndex::new(&start);
    let resolved = resolve::resolve(start, &labels, &notation::read(&question.arrows, 1000).arrows);
    if !resolved.faults.is_empty() || resolved.arrows.iter().any(|(_, open)| open.other_head.is_some()) {
        return None;
    }
    let arrows: Vec<Arrow> = resolved.arrows.iter().map(|(_, open)| open.arrow).collect();
    let product = push(&resolved.start, &arrows).ok()?.product;
    Some((resolved.start, arrows, product))
}

fn electrons(structure: &Structure) -> i64 {
    structure.atom_ids().filter_map(|id| Electrons::of(structure, id).non_bonding()).map(i64::from).sum::<i64>()
        + structure.bonds().map(|(_, _, _, bond)| 2 * i64::from(bond.order)).sum::<i64>()
        + structure.atoms().map(|(_, atom)| 2 * i64::from(atom.hydrogens)).sum::<i64>()
}

fn judged(structure: &Structure) -> bool {
    structure.atoms().all(|(_, atom)| atom.element.is_judged())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn rewriting_never_changes_a_verdict((question, start, answer, arrows) in any_case()) {
        let before = verdict(&question);
        let drawn = notation::read(&question.arrows, 1000).arrows;
        // Tails that find no electrons in the start may be several steps drawn as one, whose order counts.
        let is_one_sum = pushed(&question).is_some();
        let shuffled: Vec<_> = arrows.iter().map(|at| drawn[*at].clone()).collect();
        let shuffled = if is_one_sum { shuffled } else { drawn };
        let rewritten = Question {
            start: write(&renumbered(&smiles(&question.start), &start), Labels::Classes),
            answer: write(&renumbered(&smiles(&question.answer), &answer), Labels::Classes),
            arrows: notation::write(&shuffled),
            task: question.task.clone(),
        };
        prop_assert_eq!(before, verdict(&rewritten), "{:?}", rewritten);
    }

    #[test]
    fn drawing_hydrogens_never_changes_a_verdict((question, ..) in any_case()) {
        let before = verdict(&question);
        let start = smiles(&question.start);
        let labels = LabelIndex::new(&start);
        let named: Vec<AtomId> = notation::read(&question.arrows, 1000)
            .arrows
            .iter()
            .flat_map(|arrow| [arrow.tail.clone(), arrow.head.clone()])
            .flat_map(|place| match place {
                keyassay::arrows::Place::Atom(a) => vec![a],
                keyassay::arrows::Place::Bond(a, b) => vec![a, b],
            })
            .filter(|name| name.hydrogen.is_some())
            .filter_map(|name| labels.get(&name.label))
            .collect();
        let rewritten = Question {
            start: write(&hydrogens_drawn(&start, &named), Labels::Classes),
            answer: write(&hydrogens_drawn(&smiles(&question.answer), &[]), Labels::Classes),
            ..question.clone()
        };
        // Labels one off may name an undrawn hydrogen (`17h`) that is none any more once it is drawn: the advice that
        // labels are shifted may come and go with it, the verdict may not.
        let without_advice = |names: Vec<String>| -> Vec<String> {
            names.into_iter().filter(|name| name != "shifted-labels").collect()
        };
        prop_assert_eq!(without_advice(before), without_advice(verdict(&rewritten)), "{:?}", rewritten);
    }

    #[test]
    fn charge_and_electrons_are_kept((question, ..) in any_case()) {
        let Some((start, _, product)) = pushed(&question) else { return Ok(()) };
        prop_assert_eq!(start.net_charge(), product.net_charge());
        if judged(&start) {
            prop_assert_eq!(electrons(&start), electrons(&product));
        }
    }

    /// Common practice, no source: along a string exactly the first tail and the last head change charge, and nothing
    /// changes where no arrow is.
    #[test]
    fn charges_change_at_the_ends_of_strings_only((question, ..) in any_case()) {
        let Some((start, arrows, product)) = pushed(&question) else { return Ok(()) };
        let mut expected: Vec<i32> = start.atoms().map(|(_, atom)| 2 * i32::from(atom.charge)).collect();
        for chain in chains(&arrows) {
            let electrons = chain.arrows.first().map_or(0, |arrow| arrows[*arrow].moves.electrons());
            if let (Some(first), Some(last)) = (chain.atoms.first(), chain.atoms.last()) {
                expected[first.index()] += electrons;
                expected[last.index()] -= electrons;
            }
        }
        let half: Vec<i32> = product.atoms().map(|(_, atom)| 2 * i32::from(atom.charge)).collect();
        // A lone single electron that goes to the other place of its own atom carries half a charge in this account and
        // none in the drawing: strings of pairs are what the rule is about.
        if arrows.iter().all(|arrow| arrow.moves.electrons() == 2) {
            prop_assert_eq!(&expected, &half, "{:?}", question);
        }
        let touched = |atom: AtomId| arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom));
        for id in start.atom_ids().filter(|id| !touched(*id)) {
            prop_assert_eq!(start.atom(id), product.atom(id));
        }
    }

    #[test]
    fn reversed_arrows_lead_back((question, ..) in any_case()) {
        let Some((start, arrows, product)) = pushed(&question) else { return Ok(()) };
        let reversed: Vec<Arrow> =
            arrows.iter().map(|arrow| Arrow { tail: arrow.head, head: arrow.tail, ..*arrow }).collect();
        // The way back may need electrons that only the way itself brings together: then it is no single step.
        let Ok(back) = push(&product, &reversed) else { return Ok(()) };
        for id in start.atom_ids() {
            prop_assert_eq!(start.atom(id).charge, back.product.atom(id).charge);
            for (next, bond) in start.neighbours(id) {
                let order = back.product.bond_between(id, next).map_or(0, |own| back.product.bond(own).order);
                prop_assert_eq!(start.bond(bond).order, order);
            }
        }
        prop_assert_eq!(start.bond_count(), back.product.bond_count());
    }
}

#[test]
fn there_are_questions_of_every_kind() {
    let with_product = QUESTIONS.iter().filter(|question| pushed(&with_labels(question)).is_some()).count();
    assert!(QUESTIONS.len() > 1_000 && with_product > 500, "{} {with_product}", QUESTIONS.len());
}

/// Of several correspondences that are equally close, one touches what no arrow does and one does not.
#[test]
fn equally_close_correspondences_do_not_depend_on_the_order_of_an_answer() {
    let verdicts = ["[H][C-]1[CH]2[CH]1[C]([CH3])[Br+][CH]2[CH2][H]", "[H][C-]1C2C1C(C[H])[Br+][C]2C"].map(|answer| {
        verdict(&Question {
            task: "step".into(),
            start: "[CH:661]([H:413])=[C:808]([CH:404]([CH3:852])[Br:350])[CH:315]=[CH:214][CH2:72][H:937]".into(),
            arrows: "661-808 -> 808-661h; 350 -> 214; 214-315 -> 315-661; 661h-661 -> 661".into(),
            answer: answer.into(),
        })
    });
    assert_eq!(verdicts[0], verdicts[1]);
}
