//! The push alone against an independent bond-electron matrix (`corpus/witness/differential.jsonl`) and textbooks
//! (`corpus/witness/worked-examples.jsonl`): the product, atom by atom and bond by bond, without the comparison of an audit.

use super::witness::{Disagreements, text};
use keyassay::arrows::resolve::{Resolved, readings, resolve};
use keyassay::arrows::{ArrowFault, notation, push};
use keyassay::smiles::{Labels, read, write};
use keyassay::structure::{Element, LabelIndex, Structure};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
struct Question {
    id: String,
    start: String,
    arrows: String,
    answer: String,
    #[serde(default)]
    expect: serde_json::Value,
}

impl Question {
    /// Whether the question has a right answer, names every atom of it and leaves no choice of localised forms.
    fn is_right_and_labelled(&self) -> bool {
        let sound = self.expect.is_null() || self.expect == "sound";
        let carries = |text: &str| {
            let structure = read(text).structure;
            let named = structure.atoms().all(|(_, atom)| atom.class.is_some() || atom.element == Element::HYDROGEN);
            named && !structure.is_delocalised()
        };
        sound && carries(&self.start) && carries(&self.answer)
    }
}

fn questions(file: &str) -> Vec<Question> {
    text(file).lines().map(|line| serde_json::from_str(line).expect("an item")).collect()
}

fn resolved(question: &Question) -> Resolved {
    let mut start = read(&question.start).structure;
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    resolve(start, &labels, &notation::read(&question.arrows, 100).arrows)
}

type Atoms = BTreeMap<u32, (Element, i16, usize)>;
type Bonds = BTreeMap<(u32, u32), u8>;

/// What a drawing says of its labelled atoms: element, charge, hydrogens and bonds. Hydrogens without a number of their
/// own count at their neighbour; free ones are left to the balance of charges.
fn labelled(structure: &Structure) -> (Atoms, Bonds) {
    let class = |id| structure.atom(id).class;
    let hydrogens = |id| {
        let drawn = structure
            .neighbours(id)
            .filter(|(other, _)| structure.atom(*other).element == Element::HYDROGEN && class(*other).is_none());
        usize::from(structure.atom(id).hydrogens) + drawn.count()
    };
    let atoms =
        structure.atoms().filter_map(|(id, atom)| Some((atom.class?, (atom.element, atom.charge, hydrogens(id)))));
    let bonds = structure.bonds().filter_map(|(_, a, b, bond)| {
        let (a, b) = (class(a)?, class(b)?);
        Some(((a.min(b), a.max(b)), bond.order))
    });
    (atoms.collect(), bonds.collect())
}

/// Whether a reading of the arrows gives the answer; the wrong products where none does.
fn right(question: &Question) -> Option<String> {
    let resolved = resolved(question);
    let answer = read(&question.answer).structure;
    let mut products = Vec::new();
    for arrows in readings(&resolved.arrows, 64) {
        match push(&resolved.start, &arrows) {
            Ok(pushed)
                if labelled(&pushed.product) == labelled(&answer)
                    && pushed.product.net_charge() == answer.net_charge() =>
            {
                return None;
            }
            Ok(pushed) => products.push(write(&pushed.product, Labels::Classes)),
            Err(faults) => products.push(format!("{faults:?}")),
        }
    }
    Some(format!(
        "{} {} [{}]: {products:?}, expected {}",
        question.id, question.start, question.arrows, question.answer
    ))
}

#[test]
fn products_are_those_of_the_independent_matrix() {
    let mut found = Disagreements::default();
    for question in questions("differential.jsonl").iter().filter(|question| question.is_right_and_labelled()) {
        found.case(right(question));
    }
    found.settle(550);
}

#[test]
fn products_are_those_of_the_textbooks() {
    let mut found = Disagreements::default();
    for question in questions("worked-examples.jsonl").iter().filter(|question| question.is_right_and_labelled()) {
        found.case(right(question));
    }
    found.settle(51);
}

fn name(fault: &ArrowFault) -> &'static str {
    match fault {
        ArrowFault::Detached { .. } => "detached-head",
        ArrowFault::EmptyTail { .. } => "empty-tail",
        ArrowFault::Overdrawn { .. } => "overdrawn-tail",
        ArrowFault::UnpairedInBond { .. } => "unpaired-half-arrow",
    }
}

#[test]
fn arrows_that_the_independent_matrix_refuses_are_refused() {
    let mut found = Disagreements::default();
    for question in questions("differential.jsonl") {
        let expected = question.expect.as_str().unwrap_or_default();
        if !["detached-head", "empty-tail", "overdrawn-tail", "unpaired-half-arrow"].contains(&expected) {
            continue;
        }
        let resolved = resolved(&question);
        let names = readings(&resolved.arrows, 64)
            .next()
            .and_then(|arrows| push(&resolved.start, &arrows).err())
            .map(|faults| faults.iter().map(name).collect::<Vec<_>>())
            .unwrap_or_default();
        let agrees = names.contains(&expected);
        found.case(
            (!agrees).then(|| format!("{} [{}]: {names:?}, expected {expected}", question.start, question.arrows)),
        );
    }
    found.settle(300);
}
