//! Several steps drawn as one: the finding, and the sequence as a bank would write it.

use crate::arrows::{Arrow, AtomName, CutStep, DrawnArrow, Place, notation};
use crate::compare::difference::is_folded;
use crate::findings::correction::folded;
use crate::findings::fix::{StepRow, steps_text};
use crate::findings::verdict::StepAudit;
use crate::findings::{Finding, Name};
use crate::smiles::{self, Labels};
use crate::source::Span;
use crate::structure::{AtomId, Label, Structure};
use std::fmt::Write as _;

/// One step of a sequence that was drawn as one step.
#[derive(Debug, Clone)]
pub struct SequenceStep {
    /// What it starts from, with the hydrogens that arrows name drawn out.
    pub start: Structure,
    /// Its arrows on the atoms of that start.
    pub arrows: Vec<Arrow>,
    /// The same arrows as they are written: a hydrogen that an earlier step has moved goes by the atom that carries it now.
    pub written: Vec<DrawnArrow>,
    /// What it leads to, on the same atoms.
    pub product: Structure,
    /// The same as an answer that a bank states: hydrogens counted, every atom that arrows name labelled.
    pub answer: Structure,
}

/// The steps that a step's arrows are cut into, as a bank would write them; the step itself where they are one; none where they
/// have no product.
#[must_use]
pub fn sequence_of(audit: &StepAudit) -> Vec<SequenceStep> {
    let (Some(start), Some(pushed)) = (&audit.start, &audit.pushed) else { return Vec::new() };
    let whole = [CutStep { arrows: 0..audit.arrows.len(), pushed: pushed.clone() }];
    let several = if audit.several.is_empty() { &whole } else { audit.several.as_slice() };
    let names = Names::new(start, audit);
    let mut before = start;
    let mut steps = Vec::with_capacity(several.len());
    for CutStep { arrows, pushed } in several {
        let arrows = audit.arrows.get(arrows.clone()).unwrap_or_default().to_vec();
        let (drawn, written) = names.write(before, &arrows);
        let product = names.on(&pushed.product);
        let answer = folded(&product, audit.drawn_atoms);
        steps.push(SequenceStep { start: drawn, arrows, written, product, answer });
        before = &pushed.product;
    }
    steps
}

/// The cut in the numbers of the arrows: `1-3 | 4 | 5-6`.
#[must_use]
pub fn cut_words(steps: &[CutStep]) -> String {
    let words: Vec<String> = steps.iter().map(|step| numbers(step.arrows.start + 1, step.arrows.end)).collect();
    words.join(" | ")
}

fn numbers(first: usize, last: usize) -> String {
    if first == last { first.to_string() } else { format!("{first}-{last}") }
}

/// What to say of several steps drawn as one. The proposal is the item's `steps`.
pub(crate) fn finding(audit: &StepAudit) -> Finding {
    let several = &audit.several;
    let mut message =
        format!("the arrows are {} successive steps drawn as one, cut as {}", several.len(), cut_words(several));
    let first = several.get(1).map_or(0, |step| step.arrows.start);
    if let Some(arrow) = audit.drawn_arrows.get(first) {
        let last = several.last().map_or(0, |step| step.arrows.start);
        let more = if last > first { ", and so on" } else { "" };
        let _ = write!(
            message,
            ": the step that begins with arrow {} ({arrow}) takes electrons that the arrows before it have brought{more}",
            first + 1
        );
    }
    Finding { correction: steps_field(audit), ..Finding::new(Name::StepsInOne, message) }
}

/// The sequence as the field `steps` of a bank in JSON.
fn steps_field(audit: &StepAudit) -> String {
    let sequence = sequence_of(audit);
    // Atom ids of a document are no labels that SMILES can carry: the start is written with the numbers used here.
    let renamed = audit.start.as_ref().is_some_and(|start| has_names(start, audit.drawn_atoms));
    let first = sequence.first().filter(|_| renamed);
    let mut start = first.map(|step| smiles::write(&folded(&step.start, audit.drawn_atoms), Labels::Classes));
    let rows = sequence.iter().map(|step| StepRow {
        start: start.take(),
        arrows: notation::write(&step.written),
        answer: smiles::write(&step.answer, Labels::Classes),
    });
    steps_text(&rows.collect::<Vec<_>>())
}

/// The start of a step as a bank would write it, its atoms labelled as arrows name them.
#[must_use]
pub fn start_text(audit: &StepAudit) -> Option<String> {
    let start = audit.start.as_ref()?;
    Some(smiles::write(&folded(start, audit.drawn_atoms), Labels::Classes))
}

/// Whether the drawing names atoms by ids that are no numbers.
fn has_names(start: &Structure, drawn: usize) -> bool {
    start.atom_ids().take(drawn).any(|atom| matches!(start.label(atom), Some(Label::Name(_))))
}

/// How the atoms of one sequence are called in all of its steps.
struct Names {
    /// By atom, where it is called at all.
    numbers: Vec<Option<u32>>,
    drawn_atoms: usize,
}

impl Names {
    /// Every atom keeps its number; atoms that arrows touch and that have none get the next ones that are free.
    fn new(start: &Structure, audit: &StepAudit) -> Self {
        let by_position = has_names(start, audit.drawn_atoms);
        let number = |atom: AtomId| match start.label(atom) {
            _ if by_position => u32::try_from(atom.index() + 1).ok(),
            Some(Label::Number(number)) => Some(number),
            _ => None,
        };
        let mut numbers: Vec<Option<u32>> = start.atom_ids().map(number).collect();
        // Class 0 is no label in SMILES: where atoms are counted from 0, the sequence counts them from 1.
        if numbers.contains(&Some(0)) {
            numbers.iter_mut().flatten().for_each(|number| *number += 1);
        }
        let mut next = numbers.iter().flatten().max().map_or(1, |most| most.saturating_add(1));
        let touched = audit.arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms()));
        for atom in touched {
            if let Some(number @ None) = numbers.get_mut(atom.index()) {
                *number = Some(next);
                next = next.saturating_add(1);
            }
        }
        Self { numbers, drawn_atoms: audit.drawn_atoms }
    }

    /// A structure of the sequence with these numbers.
    fn on(&self, structure: &Structure) -> Structure {
        let mut own = structure.clone();
        own.clear_labels();
        for (at, number) in self.numbers.iter().enumerate() {
            if let Some(number) = number {
                own.set_label(AtomId::new(at), &Label::Number(*number));
            }
        }
        own
    }

    /// Arrows as they are written on the structure before them, and that structure with the names they use.
    fn write(&self, before: &Structure, arrows: &[Arrow]) -> (Structure, Vec<DrawnArrow>) {
        let mut drawn = self.on(before);
        let mut named: Vec<(AtomId, AtomId)> = Vec::new();
        let mut name = |atom: AtomId| {
            let own =
                |atom: AtomId| Label::Number(self.numbers.get(atom.index()).copied().flatten().unwrap_or_default());
            let plain = AtomName { label: own(atom), hydrogen: None, span: Span::default() };
            let carrier = before.neighbours(atom).map(|(carrier, _)| carrier).next();
            let Some(carrier) = carrier.filter(|_| atom.index() >= self.drawn_atoms && is_folded(before, atom)) else {
                return plain;
            };
            if !named.contains(&(carrier, atom)) {
                named.push((carrier, atom));
            }
            let place = named.iter().filter(|(own, _)| *own == carrier).position(|(_, own)| *own == atom).unwrap_or(0);
            let called = AtomName { label: own(carrier), hydrogen: Some(place as u32 + 1), span: Span::default() };
            drawn.atom_mut(atom).class = None;
            drawn.set_label(atom, &Label::Name(called.to_string().into()));
            called
        };
        let mut place = |place: Place<AtomId>| place.map(&mut name);
        let written = arrows
            .iter()
            .map(|arrow| DrawnArrow {
                moves: arrow.moves,
                tail: place(arrow.tail),
                head: place(arrow.head),
                span: Span::default(),
            })
            .collect();
        (drawn, written)
    }
}
