//! What an item asks and answers, as numbers that do not depend on labels, the order of atoms, notation or format.

use super::stereo::marks;
use crate::arrows::{Arrow, DrawnArrow, Moves, Place};
use crate::bank::fields::option_number;
use crate::bank::{Accept, Arrows, Drawing, Field, Item, Step, Task, key};
use crate::compare::Compared;
use crate::findings::{Class, Judgement, StepAudit};
use crate::smiles::{self, Labels};
use crate::structure::canon::{Colours, Orders, mix};
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, LabelIndex, Structure};
use rustc_hash::FxHashMap;

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

/// What of an item the index keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Print {
    /// Of the id, where the bank gives one; else 0.
    pub id: u64,
    /// Of start and arrows.
    pub question: u64,
    /// Of all that is compared, but for the places of answers.
    pub content: u64,
    /// The same with each open head at the bond that was settled on.
    pub resolved: u64,
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
    /// Of hydrogens that stand at their neighbour: what arrows do to each, which tells two of one atom apart.
    roles: FxHashMap<AtomId, u64>,
}

impl Painted {
    fn new(structure: &Structure, seeds: impl Fn(&Skeleton) -> Vec<(u32, u64)>) -> Self {
        let skeleton = Skeleton::new(structure);
        let mut colours = Colours::default();
        let seeds = seeds(&skeleton);
        colours.refine(&skeleton, Orders::Free, &seeds);
        Self { skeleton, colours, roles: FxHashMap::default() }
    }

    fn whole(&self, structure: &Structure) -> u64 {
        let whole = self.colours.whole();
        let drawn = mix(whole as u64 ^ ((whole >> 64) as u64).rotate_left(32));
        drawn ^ marks(structure, |atom| self.colour(atom))
    }

    fn colour(&self, atom: AtomId) -> u64 {
        let own = self.colours.of(self.skeleton.host(atom));
        if self.skeleton.is_folded(atom) {
            mix(own).wrapping_add(self.roles.get(&atom).copied().unwrap_or(0))
        } else {
            own
        }
    }
}

/// A drawing, whatever its labels and the order of its atoms.
#[must_use]
pub fn of_drawing(structure: &Structure) -> u64 {
    Painted::new(structure, |_| Vec::new()).whole(structure)
}

/// What an arrow does to the atoms of one of its places.
fn role(arrow: &Arrow, is_head: bool, place: Place<AtomId>) -> u64 {
    let moves = u64::from(arrow.moves == Moves::Single) << 4;
    let kind = u64::from(matches!(place, Place::Bond(..))) << 5;
    (1 + u64::from(is_head)) | kind | moves
}

/// The start, coloured by what the arrows do to its atoms.
fn painted_question(start: &Structure, arrows: &[Arrow]) -> Painted {
    let places = || arrows.iter().flat_map(|arrow| [(arrow, false, arrow.tail), (arrow, true, arrow.head)]);
    let mut painted = Painted::new(start, |skeleton| {
        let mut seeds = Vec::new();
        for (arrow, is_head, place) in places() {
            for atom in place.atoms() {
                let folded = u64::from(skeleton.is_folded(atom)) << 8;
                seeds.push((skeleton.host(atom), role(arrow, is_head, place) | folded));
            }
        }
        seeds
    });
    for (arrow, is_head, place) in places() {
        for atom in place.atoms().filter(|atom| painted.skeleton.is_folded(*atom)) {
            let own = painted.roles.entry(atom).or_insert(0);
            *own = own.wrapping_add(mix(role(arrow, is_head, place)));
        }
    }
    painted
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

/// An arrow whose head makes a new bond from one end of its tail's bond, left open between the two ends.
fn opened(arrow: &Arrow) -> Option<Arrow> {
    let (Place::Bond(a, b), Place::Bond(c, d)) = (arrow.tail, arrow.head) else { return None };
    let head = match ([a, b].contains(&c), [a, b].contains(&d)) {
        (true, false) => d,
        (false, true) => c,
        _ => return None,
    };
    Some(Arrow { head: Place::Atom(head), ..*arrow })
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

/// The arrows with every head that makes a new bond left open: what does not depend on whether that is written or settled.
fn all_open(start: &Structure, arrows: &[Arrow]) -> Vec<Arrow> {
    let is_new = |arrow: &Arrow| matches!(arrow.head, Place::Bond(c, d) if start.bond_between(c, d).is_none());
    arrows.iter().map(|arrow| opened(arrow).filter(|_| is_new(arrow)).unwrap_or(*arrow)).collect()
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
    let painted = painted_question(start, &written);
    let question = of_question(&painted, start, &written);
    let resolved = if written == audit.arrows {
        question
    } else {
        of_question(&painted_question(start, &audit.arrows), start, &audit.arrows)
    };
    let open = all_open(start, &written);
    let of_places = if open == written { painted } else { painted_question(start, &open) };
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
        let mut resolved = question;
        let mut content = 0;
        let mut places = 0;
        let mut is_placed = true;
        for step in &self.steps {
            question = then(question, step.question);
            resolved = then(resolved, step.resolved);
            content = then(content, step.answer.map_or(1, |own| own | 2).wrapping_add(u64::from(step.is_led_to)));
            places = then(places, step.placed.unwrap_or_default());
            is_placed &= step.placed.is_some() || step.answer.is_none();
        }
        content = self.options.iter().fold(content, |sum, own| then(sum, *own));
        content = self.keys.iter().flatten().fold(content, |sum, own| then(sum, *own as u64 + 1));
        for own in [self.contributors, self.major, self.omits, self.accept as u64] {
            content = then(content, own);
        }
        Print {
            id: if item.has_own_id { of_text(&item.id) | 1 } else { 0 },
            question,
            content: then(content, question),
            resolved: then(content, resolved),
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
    for field in [&item.key, &item.omits, &item.major] {
        sum = then(sum, field.as_ref().map_or(0, |own| of_text(own.text.trim())));
    }
    then(sum, item.accept.map_or(0, |own| own as u64 + 1))
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
