//! What an item asks and answers, as numbers that do not depend on labels, the order of atoms, notation or format.

use super::stereo::marks;
use crate::arrows::{Arrow, DrawnArrow, Place};
use crate::bank::fields::option_number;
use crate::bank::{Accept, Arrows, Drawing, Field, Item, Step, Task, key};
use crate::compare::Compared;
use crate::findings::painted::{Painted, all_open, opened};
use crate::findings::quick::Outline;
use crate::findings::{Class, Judgement, StepAudit};
use crate::smiles::{self, Labels};
use crate::structure::canon::mix;
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, LabelIndex, Structure};

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StepPrint {
    /// Of the start.
    pub start: u64,
    /// Whether the step draws its start, rather than going on from the answer before.
    pub draws_start: bool,
    /// Of start and arrows together, as they are written.
    pub question: u64,
    /// The same with each open head at the bond that was settled on: who writes that bond means the same.
    pub resolved: u64,
    /// Of the drawing of the answer, if it is stated.
    pub answer: Option<u64>,
    /// `resonance`, where the answer is the start's drawing but for labels: whether the arrows lead to it as it is drawn.
    pub is_led_to: bool,
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
    /// Of those that are stated to count most, in any order; 0 where the item states none.
    pub major: u64,
    /// Which drawings of the product are right.
    pub accept: Accept,
    /// Of the species that are left out on purpose, in any order; 0 where the item names none.
    pub omits: u64,
    /// Whether all of it could be read.
    pub is_readable: bool,
}

/// What an item asks and answers, as the numbers by which it is matched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[repr(C, packed(4))]
pub struct Content {
    /// Of start and arrows.
    pub question: u64,
    /// Of all that is compared, but for the places of answers.
    pub content: u64,
    /// The same with each open head at the bond that was settled on.
    pub resolved: u64,
    /// Of the places of answers, 0 where they are not all labelled; in the last two bits [`READABLE`] and [`SYMMETRIC`].
    rest: u32,
}

/// All of the item could be read.
const READABLE: u32 = 1;
/// Its answer is told from its start by labels alone.
const SYMMETRIC: u32 = 2;

impl Content {
    /// Whether all of the item could be read.
    #[must_use]
    pub fn is_readable(self) -> bool {
        self.rest & READABLE != 0
    }

    /// Whether its answer is told from its start by labels alone.
    #[must_use]
    pub fn is_symmetric(self) -> bool {
        self.rest & SYMMETRIC != 0
    }

    /// Of the places of answers; 0 where they are not all labelled.
    #[must_use]
    pub fn places(self) -> u32 {
        self.rest >> 2
    }
}

/// What is compared of an item beside its steps.
#[derive(Debug, Clone, Copy, Default)]
struct Whole<'a> {
    task: Task,
    options: &'a [u64],
    keys: Option<&'a [usize]>,
    contributors: u64,
    major: u64,
    omits: u64,
    accept: Accept,
    is_readable: bool,
}

impl Whole<'_> {
    fn content(&self, steps: &[StepPrint]) -> Content {
        let mut question = mix(self.task as u64 + 1);
        let mut resolved = question;
        let mut content = 0;
        let mut places = 0;
        let mut is_placed = true;
        for step in steps {
            question = then(question, step.question);
            resolved = then(resolved, step.resolved);
            content = then(content, step.answer.map_or(1, |own| own | 2).wrapping_add(u64::from(step.is_led_to)));
            places = then(places, step.placed.unwrap_or_default());
            is_placed &= step.placed.is_some() || step.answer.is_none();
        }
        content = self.options.iter().fold(content, |sum, own| then(sum, *own));
        content = self.keys.iter().copied().flatten().fold(content, |sum, own| then(sum, *own as u64 + 1));
        for own in [self.contributors, self.major, self.omits, self.accept as u64] {
            content = then(content, own);
        }
        let flags = if self.is_readable { READABLE } else { 0 };
        let is_symmetric = steps.iter().any(|step| step.is_symmetric);
        let places = if is_placed { (narrow(places) >> 2).max(1) << 2 } else { 0 };
        Content {
            question,
            content: then(content, question),
            resolved: then(content, resolved),
            rest: places | flags | if is_symmetric { SYMMETRIC } else { 0 },
        }
    }
}

/// The content of a plain item, from its outline.
#[must_use]
pub fn of_outline(outline: &Outline, task: Task, accept: Accept) -> Content {
    let Outline { question, answer, placed, is_symmetric, is_led_to } = *outline;
    let step = StepPrint {
        draws_start: true,
        question,
        resolved: question,
        answer: Some(answer),
        is_led_to,
        placed,
        is_symmetric,
        ..StepPrint::default()
    };
    Whole { task, accept, is_readable: true, ..Whole::default() }.content(&[step])
}

/// A text, eight bytes at a time.
#[must_use]
pub fn of_text(text: &str) -> u64 {
    let mut words = text.as_bytes().chunks_exact(8);
    let mut sum = text.len() as u64;
    for word in &mut words {
        sum = mix(sum ^ word.try_into().map_or(0, u64::from_le_bytes)).rotate_left(5);
    }
    let rest = words.remainder().iter().fold(0, |rest, byte| rest << 8 | u64::from(*byte));
    mix(sum ^ rest)
}

pub(super) fn then(sum: u64, next: u64) -> u64 {
    mix(sum.rotate_left(7) ^ mix(next))
}

fn narrow(print: u64) -> u32 {
    ((print ^ (print >> 32)) as u32).max(1)
}

/// A drawing, whatever its labels and the order of its atoms.
#[must_use]
pub fn of_drawing(structure: &Structure) -> u64 {
    seeded(structure, &Skeleton::new(structure), &[])
}

/// A drawing whose atoms are special by some numbers.
fn seeded(structure: &Structure, skeleton: &Skeleton, seeds: &[(AtomId, u64)]) -> u64 {
    let (mut painted, mut drawn) = (Painted::default(), skeleton);
    let whole = painted.drawing(&mut drawn, seeds);
    if structure.stereo.is_empty() {
        return whole;
    }
    painted.spread();
    whole ^ marks(structure, |atom| painted.colour(&drawn, atom))
}

/// A start, coloured by what arrows do to its atoms.
struct Asked {
    skeleton: Skeleton,
    painted: Painted,
    /// Of start and arrows.
    question: u64,
}

impl Asked {
    fn new(start: &Structure, arrows: &[Arrow]) -> Self {
        let (skeleton, mut painted) = (Skeleton::new(start), Painted::default());
        let whole = painted.start(&mut &skeleton, arrows);
        painted.spread();
        let whole = whole ^ marks(start, |atom| painted.colour(&&skeleton, atom));
        let question = painted.question(&&skeleton, arrows, whole);
        Self { skeleton, painted, question }
    }

    fn colour(&self, atom: AtomId) -> u64 {
        self.painted.colour(&&self.skeleton, atom)
    }
}

/// An answer with the places of its atoms in the start; `None` where not all of them are labelled.
fn of_placed(answer: &Structure, start: &Structure, asked: &Asked) -> Option<u64> {
    let labels = LabelIndex::new(start);
    let skeleton = Skeleton::new(answer);
    let mut seeds = Vec::new();
    for atom in answer.atom_ids().filter(|atom| !skeleton.is_folded(*atom)) {
        let place = labels.get(&answer.label(atom)?).map_or(1, |own| asked.colour(own));
        seeds.push((atom, place));
    }
    answer.has_labels().then(|| seeded(answer, &skeleton, &seeds))
}

/// The arrows of a step as they are written: an open head (from a bond onto a third atom) stays open, whichever of its two bonds was
/// settled on.
fn as_written(audit: &StepAudit) -> Vec<Arrow> {
    if audit.drawn_arrows.len() != audit.arrows.len() {
        return audit.arrows.clone();
    }
    let own = |(arrow, drawn): (&Arrow, &DrawnArrow)| {
        opened(arrow).filter(|_| matches!(drawn.head, Place::Atom(_))).unwrap_or(*arrow)
    };
    audit.arrows.iter().zip(&audit.drawn_arrows).map(own).collect()
}

/// `answer` is the stated one, where the judgement did not come to it.
fn of_step(stated: Option<&Step>, audit: &StepAudit, answer: Option<&Structure>, task: Task) -> StepPrint {
    let has_answer = stated.is_some_and(|own| own.answer.is_some());
    let Some(start) = &audit.start else {
        // A start that cannot be drawn is another one; the answer may still be what it was.
        let answer = audit.answer.as_ref().or(answer).filter(|_| has_answer);
        return StepPrint { answer: answer.map(of_drawing), draws_start: true, ..StepPrint::default() };
    };
    let written = as_written(audit);
    let asked = Asked::new(start, &written);
    let question = asked.question;
    let resolved = if written == audit.arrows { question } else { Asked::new(start, &audit.arrows).question };
    let open = all_open(&written, |a, b| start.bond_between(a, b).is_some());
    let of_places = open.map_or(asked, |open| Asked::new(start, &open));
    let plain = of_drawing(start);
    let answer = audit.answer.as_ref().or(answer).filter(|_| has_answer);
    let own = answer.map(of_drawing);
    let is_symmetric = own == Some(plain);
    // Contributors of a ring that differ by their Kekulé form alone: what tells them apart is whether the arrows lead to them.
    let agrees = audit.compared.as_ref().is_some_and(Compared::is_equal);
    StepPrint {
        start: plain,
        draws_start: stated.is_none_or(|stated| stated.start.is_some()),
        question,
        resolved,
        answer: own,
        is_led_to: task == Task::Resonance && is_symmetric && agrees,
        // Arrows that cannot be taken as they stand give the atoms no places.
        placed: audit.answer.as_ref().filter(|_| has_answer).and_then(|answer| of_placed(answer, start, &of_places)),
        is_symmetric,
    }
}

/// What of an item the judgement does not keep.
#[derive(Debug)]
pub struct Beside {
    /// The options in order; `None` for those that are blank or cannot be read.
    pub options: Vec<Option<Structure>>,
    /// Which drawings of the product are right.
    pub accept: Accept,
    /// What is left out on purpose, and whether any other species may be; `None` where that cannot be read.
    pub omits: Option<(bool, Vec<Structure>)>,
    /// By step: the stated answer, where the judgement did not come to it and it can be read.
    pub answers: Vec<Option<Structure>>,
}

/// The prints of an item.
#[must_use]
pub fn of_item(item: &Item, judgement: &Judgement, beside: &Beside) -> ItemPrint {
    let options = beside.options.as_slice();
    let stated = |at: usize| item.steps.get(at);
    let steps: Vec<StepPrint> = judgement
        .steps
        .iter()
        .enumerate()
        .map(|(at, audit)| {
            let answer = beside.answers.get(at).and_then(Option::as_ref);
            of_step(stated(at), audit, answer, item.task)
        })
        .collect();
    let drawn: Vec<u64> = judgement.steps.iter().flat_map(contributor_prints).collect();
    let contributors = drawn.iter().copied().fold(0, u64::wrapping_add);
    let major = item.major.as_ref().map_or(0, |field| of_major(field, &drawn));
    let omits = beside.omits.as_ref().map_or(0, |(any, species)| of_omits(*any, species));
    let keys = item.key.as_ref().and_then(|own| key::keyed(&own.text, &item.options).ok());
    let lacks_key = item.key.is_some() && keys.is_none();
    let blank = |drawing: &Drawing| matches!(drawing, Drawing::Text(field) if field.is_blank());
    let lacks_option = options.iter().zip(&item.options).any(|(read, stated)| read.is_none() && !blank(stated));
    ItemPrint {
        task: item.task,
        is_readable: judgement.class != Class::Unreadable
            && !lacks_key
            && !lacks_option
            && beside.omits.is_some()
            && !steps.is_empty(),
        steps,
        options: options.iter().map(|own| own.as_ref().map_or(0, of_drawing)).collect(),
        keys,
        contributors,
        major,
        accept: beside.accept,
        omits,
    }
}

/// The contributors that are stated to count most; `drawn` are all of the item. A part that names none stands for itself.
fn of_major(field: &Field, drawn: &[u64]) -> u64 {
    let parts = field.text.split([' ', ',', ';']).filter(|part| !part.is_empty());
    let own = |part| option_number(part).and_then(|at| drawn.get(usize::from(at)).copied());
    parts.map(|part| mix(own(part).unwrap_or_else(|| of_text(part)))).fold(0, u64::wrapping_add) | 1
}

/// The species that are left out on purpose. Who names any of them names all.
fn of_omits(any: bool, species: &[Structure]) -> u64 {
    if any {
        return 1;
    }
    let mut prints: Vec<u64> = species.iter().map(of_drawing).collect();
    prints.sort_unstable();
    // One name excuses all species of that drawing.
    prints.dedup();
    prints.into_iter().fold(0, then)
}

/// The stated contributors of a set, each with the places of its atoms where they are labelled.
fn contributor_prints(step: &StepAudit) -> impl Iterator<Item = u64> + '_ {
    let asked = step.start.as_ref().map(|start| (start, Asked::new(start, &[])));
    step.contributors.iter().map(move |(_, drawn)| {
        let placed = asked.as_ref().and_then(|(start, asked)| of_placed(drawn, start, asked));
        mix(of_drawing(drawn).wrapping_add(placed.unwrap_or_default()))
    })
}

impl ItemPrint {
    /// What items are matched by.
    #[must_use]
    pub fn content(&self) -> Content {
        let whole = Whole {
            task: self.task,
            options: &self.options,
            keys: self.keys.as_deref(),
            contributors: self.contributors,
            major: self.major,
            omits: self.omits,
            accept: self.accept,
            is_readable: self.is_readable,
        };
        whole.content(&self.steps)
    }
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
