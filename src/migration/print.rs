//! What an item asks and answers, as numbers that do not depend on labels, the order of atoms, notation or format.

use super::stereo::marks;
use crate::arrows::{Arrow, Moves, Place};
use crate::bank::{Arrows, Drawing, Item, Step, Task, key};
use crate::compare::Compared;
use crate::findings::{Class, Judgement, StepAudit};
use crate::smiles::{self, Labels};
use crate::structure::canon::{Colours, Orders, mix};
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, LabelIndex, Structure};

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StepPrint {
    /// Of the start.
    pub start: u64,
    /// Whether the step draws its start, rather than going on from the answer before.
    pub draws_start: bool,
    /// Of start and arrows together.
    pub question: u64,
    /// Of the drawing of the answer, if it is stated.
    pub answer: Option<u64>,
    /// Of the answer with the places of its atoms in the start, where all of them are labelled.
    pub placed: Option<u64>,
    /// Whether start and answer are one drawing but for labels.
    pub is_symmetric: bool,
}

/// One item.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ItemPrint {
    /// The task.
    pub task: Task,
    /// The steps.
    pub steps: Vec<StepPrint>,
    /// The options in order; 0 for blank ones.
    pub options: Vec<u64>,
    /// The places of the keyed options, in order; `None` where the key names none.
    pub keys: Option<Vec<usize>>,
    /// Of the stated contributors, in any order.
    pub contributors: u64,
    /// Whether all of it could be read.
    pub is_readable: bool,
}

/// What of an item the index keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Print {
    /// Of the id, where the bank gives one; else 0.
    pub id: u64,
    /// Of start and arrows.
    pub question: u64,
    /// Of all that is compared, but for the places of answers.
    pub content: u64,
    /// Of the places of answers; 0 where they are not all labelled.
    pub places: u32,
    /// Of the fields as they are written.
    pub text: u32,
    /// The line on which the item starts.
    pub line: u32,
    /// Whether all of it could be read.
    pub is_readable: bool,
    /// Whether its answer is told from its start by labels alone.
    pub is_symmetric: bool,
}

/// FNV-1a, spread once more.
#[must_use]
pub fn of_text(text: &str) -> u64 {
    mix(text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)))
}

fn then(sum: u64, next: u64) -> u64 {
    mix(sum.rotate_left(7) ^ mix(next))
}

fn narrow(print: u64) -> u32 {
    ((print ^ (print >> 32)) as u32).max(1)
}

/// A drawing for colouring. Orders 1 and 2 are not told apart, but the double bonds of each atom are: two drawings of one skeleton
/// that agree so differ by cycles of alternating bonds alone, which other Kekulé spellings do.
struct Painted {
    skeleton: Skeleton,
    colours: Colours,
}

impl Painted {
    fn new(structure: &Structure, seeds: impl Fn(&Skeleton) -> Vec<(u32, u64)>) -> Self {
        let skeleton = Skeleton::new(structure);
        let mut colours = Colours::default();
        let seeds = seeds(&skeleton);
        colours.refine(&skeleton, Orders::Free, &seeds);
        Self { skeleton, colours }
    }

    fn whole(&self, structure: &Structure) -> u64 {
        let whole = self.colours.whole();
        let drawn = mix(whole as u64 ^ ((whole >> 64) as u64).rotate_left(32));
        drawn ^ marks(structure, |atom| self.colour(atom))
    }

    fn colour(&self, atom: AtomId) -> u64 {
        let own = self.colours.of(self.skeleton.host(atom));
        if self.skeleton.is_folded(atom) { mix(own) } else { own }
    }
}

/// A drawing, whatever its labels and the order of its atoms.
#[must_use]
pub fn of_drawing(structure: &Structure) -> u64 {
    Painted::new(structure, |_| Vec::new()).whole(structure)
}

/// The start, coloured by what the arrows do to its atoms.
fn painted_question(start: &Structure, arrows: &[Arrow]) -> Painted {
    Painted::new(start, |skeleton| {
        let mut seeds = Vec::new();
        for arrow in arrows {
            let moves = u64::from(arrow.moves == Moves::Single) << 4;
            for (role, place) in [(1, arrow.tail), (2, arrow.head)] {
                let kind = u64::from(matches!(place, Place::Bond(..))) << 5;
                for atom in place.atoms() {
                    let folded = u64::from(skeleton.is_folded(atom)) << 8;
                    seeds.push((skeleton.host(atom), role | kind | moves | folded));
                }
            }
        }
        seeds
    })
}

fn of_question(painted: &Painted, start: &Structure, arrows: &[Arrow]) -> u64 {
    let place = |place: Place<AtomId>| match place {
        Place::Atom(a) => mix(painted.colour(a)),
        Place::Bond(a, b) => mix(mix(painted.colour(a)).wrapping_add(mix(painted.colour(b)))),
    };
    arrows.iter().fold(painted.whole(start), |sum, arrow| {
        let kind = u64::from(arrow.moves == Moves::Single);
        sum.wrapping_add(mix(place(arrow.tail) ^ mix(place(arrow.head) ^ kind)))
    })
}

/// An answer with the places of its atoms in the start; `None` where not all of them are labelled.
fn of_placed(answer: &Structure, start: &Structure, painted: &Painted) -> Option<u64> {
    let labels = LabelIndex::new(start);
    let skeleton = Skeleton::new(answer);
    let mut seeds = Vec::new();
    for atom in answer.atom_ids().filter(|atom| !skeleton.is_folded(*atom)) {
        let place = labels.get(&answer.label(atom)?).map_or(1, |own| painted.colour(own));
        seeds.push((skeleton.host(atom), place));
    }
    answer.has_labels().then(|| Painted::new(answer, |_| seeds.clone()).whole(answer))
}

fn of_step(stated: Option<&Step>, audit: &StepAudit, task: Task, has_answer: bool) -> StepPrint {
    let Some(start) = &audit.start else { return StepPrint::default() };
    let painted = painted_question(start, &audit.arrows);
    let plain = of_drawing(start);
    let answer = audit.answer.as_ref().filter(|_| has_answer);
    let own = answer.map(of_drawing);
    let is_symmetric = own == Some(plain);
    // Contributors of a ring that differ by their Kekulé form alone: what tells them apart is whether the arrows lead to them.
    let agrees = audit.compared.as_ref().is_some_and(Compared::is_equal);
    let form = u64::from(task == Task::Resonance && is_symmetric && agrees);
    StepPrint {
        start: plain,
        draws_start: stated.is_none_or(|stated| stated.start.is_some()),
        question: of_question(&painted, start, &audit.arrows),
        answer: own.map(|own| own.wrapping_add(form)),
        placed: answer.and_then(|answer| of_placed(answer, start, &painted)),
        is_symmetric,
    }
}

/// The prints of an item.
#[must_use]
pub fn of_item(item: &Item, judgement: &Judgement, options: &[Option<Structure>]) -> ItemPrint {
    let stated = |at: usize| item.steps.get(at);
    let steps: Vec<StepPrint> = judgement
        .steps
        .iter()
        .enumerate()
        .map(|(at, audit)| of_step(stated(at), audit, item.task, stated(at).is_some_and(|own| own.answer.is_some())))
        .collect();
    let contributors = judgement.steps.iter().flat_map(contributor_prints).fold(0, u64::wrapping_add);
    let keys = item.key.as_ref().and_then(|own| key::keyed(&own.text, &item.options).ok());
    let lacks_key = item.key.is_some() && keys.is_none();
    let blank = |drawing: &Drawing| matches!(drawing, Drawing::Text(field) if field.is_blank());
    let lacks_option = options.iter().zip(&item.options).any(|(read, stated)| read.is_none() && !blank(stated));
    ItemPrint {
        task: item.task,
        is_readable: judgement.class != Class::Unreadable && !lacks_key && !lacks_option && !steps.is_empty(),
        steps,
        options: options.iter().map(|own| own.as_ref().map_or(0, of_drawing)).collect(),
        keys,
        contributors,
    }
}

/// The stated contributors of a set, each with the places of its atoms where they are labelled.
fn contributor_prints(step: &StepAudit) -> impl Iterator<Item = u64> + '_ {
    let painted = step.start.as_ref().map(|start| (start, painted_question(start, &[])));
    step.contributors.iter().map(move |(_, drawn)| {
        let placed = painted.as_ref().and_then(|(start, painted)| of_placed(drawn, start, painted));
        mix(of_drawing(drawn).wrapping_add(placed.unwrap_or_default()))
    })
}

impl ItemPrint {
    /// What the index keeps.
    #[must_use]
    pub fn brief(&self, item: &Item, line: u32) -> Print {
        let mut question = mix(self.task as u64 + 1);
        let mut content = 0;
        let mut places = 0;
        let mut is_placed = true;
        for step in &self.steps {
            question = then(question, step.question);
            content = then(content, step.answer.map_or(1, |own| own | 2));
            places = then(places, step.placed.unwrap_or_default());
            is_placed &= step.placed.is_some() || step.answer.is_none();
        }
        content = self.options.iter().fold(then(content, question), |sum, own| then(sum, *own));
        content = self.keys.iter().flatten().fold(content, |sum, own| then(sum, *own as u64 + 1));
        Print {
            id: if item.has_own_id { of_text(&item.id) | 1 } else { 0 },
            question,
            content: then(content, self.contributors),
            places: if is_placed { narrow(places) } else { 0 },
            text: narrow(of_fields(item)),
            line,
            is_readable: self.is_readable,
            is_symmetric: self.steps.iter().any(|step| step.is_symmetric),
        }
    }
}

/// The fields of an item as they are written.
fn of_fields(item: &Item) -> u64 {
    let mut sum = mix(item.task as u64);
    for step in &item.steps {
        for drawing in [&step.start, &step.answer] {
            sum = then(sum, drawing.as_ref().map_or(0, |own| of_text(&drawing_text(own))));
        }
        sum = then(sum, step.arrows.as_ref().map_or(0, |own| of_text(&arrows_text(own))));
    }
    for drawing in item.options.iter().chain(&item.answers) {
        sum = then(sum, of_text(&drawing_text(drawing)));
    }
    then(sum, item.key.as_ref().map_or(0, |key| of_text(key.text.trim())))
}

/// A drawing as its bank writes it; as SMILES where a document draws it.
#[must_use]
pub fn drawing_text(drawing: &Drawing) -> String {
    match drawing {
        Drawing::Text(field) => field.text.trim().to_owned(),
        Drawing::Read(read) => smiles::write(&read.structure, Labels::Classes),
    }
}

/// Arrows as their bank writes them; in the text notation where a document draws them.
#[must_use]
pub fn arrows_text(arrows: &Arrows) -> String {
    match arrows {
        Arrows::Text(field) => field.text.trim().to_owned(),
        Arrows::Read { arrows, .. } => arrows.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
    }
}
