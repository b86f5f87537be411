//! What arrows lead to: judged as the audit judges, but for the search of slips.

use crate::bank::{Arrows, Chunk, Drawing, Field, Item, Record, Step, Task};
use crate::compare::may_be_same;
use crate::findings::{Class, Context, Name, Settings, Severity, judge};
use crate::smiles;
use crate::structure::{Element, Structure};
use std::collections::BTreeMap;

/// How well an answer is the product.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fit {
    /// It is another structure.
    No,
    /// It is the product without species that are left out.
    InPart,
    /// It is the product.
    Whole,
}

/// Pushes arrows and compares.
pub(super) struct Pusher {
    settings: Settings,
}

/// The product of a start and arrows.
pub(super) struct Product {
    structure: Structure,
    heavy: BTreeMap<Element, usize>,
}

impl Pusher {
    pub(super) fn new() -> Self {
        let mut settings = Settings::default();
        // What slipped is not asked here.
        settings.limits.slip_atoms = 1;
        Self { settings }
    }

    /// The product of arrows without a fault. From 0 are counted only atoms of a start without labels.
    pub(super) fn product(&self, start: &str, arrows: &str, from_zero: bool) -> Option<Product> {
        if from_zero && (start.trim_start().starts_with('<') || smiles::read(start.trim()).structure.has_labels()) {
            return None;
        }
        let item = item(start, arrows, None, from_zero);
        let (class, mut steps) = self.judge(item, true);
        let structure = steps.pop()?.pushed?.product;
        let heavy = heavy(&structure);
        (class != Class::Faulty && class != Class::Unreadable).then_some(Product { structure, heavy })
    }

    /// Whether an answer is the product of start and arrows.
    pub(super) fn fit(&self, (start, arrows, from_zero): (&str, &str, bool), product: &Product, answer: &str) -> Fit {
        let answer = answer.trim();
        if !answer.starts_with('<') {
            let drawn = smiles::read(answer).structure;
            let own = heavy(&drawn);
            let is_part = own.iter().all(|(element, count)| product.heavy.get(element).is_some_and(|all| count <= all));
            let is_whole = own == product.heavy;
            if !is_part || (is_whole && !drawn.is_delocalised() && !may_be_same(&product.structure, &drawn)) {
                return Fit::No;
            }
        }
        let (class, findings) = self.verdict(item(start, arrows, Some(answer), from_zero));
        match class {
            Class::Sound if findings.contains(&Name::OmittedSpecies) => Fit::InPart,
            Class::Sound => Fit::Whole,
            _ => Fit::No,
        }
    }

    /// Whether an answer that leaves species out leaves out just these.
    pub(super) fn omits(&self, (start, arrows, from_zero): (&str, &str, bool), answer: &str, omits: &str) -> bool {
        let omits = Some(Field { text: omits.to_owned(), ..Field::default() });
        let item = Item { omits, ..item(start, arrows, Some(answer), from_zero) };
        let (class, findings) = self.verdict(item);
        class == Class::Sound && !findings.contains(&Name::OmittedSpecies)
    }

    /// Whether stated contributors are drawings of the start's atoms.
    pub(super) fn are_contributors(&self, start: &str, answers: &str) -> bool {
        let whole = Field { text: answers.to_owned(), ..Field::default() };
        let answers = whole.parts().map(Drawing::Text).collect();
        let step = Step { start: Some(drawing(start)), ..Step::default() };
        let item = Item { task: Task::Contributors, steps: vec![step], answers, ..Item::default() };
        let (class, findings) = self.verdict(item);
        class != Class::Unreadable && !findings.contains(&Name::IllegalContributor)
    }

    fn verdict(&self, item: Item) -> (Class, Vec<Name>) {
        let chunk = Chunk::default();
        let record = Record { line: 1, content: Ok(item) };
        let judgement = judge(&Context::new(&self.settings, &chunk), &record, "");
        let warned = judgement.findings.iter().filter(|own| own.severity > Severity::Note).map(|own| own.name);
        (judgement.class, warned.collect())
    }

    fn judge(&self, item: Item, product_only: bool) -> (Class, Vec<crate::findings::StepAudit>) {
        let chunk = Chunk::default();
        let context = Context { product_only, ..Context::new(&self.settings, &chunk) };
        let judgement = judge(&context, &Record { line: 1, content: Ok(item) }, "");
        (judgement.class, judgement.steps)
    }
}

fn drawing(text: &str) -> Drawing {
    Drawing::Text(Field { text: text.trim().to_owned(), ..Field::default() })
}

fn item(start: &str, arrows: &str, answer: Option<&str>, labels_from_zero: bool) -> Item {
    let step = Step {
        start: Some(drawing(start)),
        arrows: Some(Arrows::Text(Field { text: arrows.trim().to_owned(), ..Field::default() })),
        answer: answer.map(drawing),
        ..Step::default()
    };
    Item { steps: vec![step], labels_from_zero, ..Item::default() }
}

/// How many atoms there are of each element but hydrogen.
fn heavy(structure: &Structure) -> BTreeMap<Element, usize> {
    let mut heavy = BTreeMap::new();
    for (_, atom) in structure.atoms().filter(|(_, atom)| atom.element != Element::HYDROGEN) {
        *heavy.entry(atom.element).or_default() += 1;
    }
    heavy
}
