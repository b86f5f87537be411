//! One question as its bank states it, before anything is read as chemistry.

use crate::arrows::DrawnArrow;
use crate::cml::FaultKind;
use crate::source::Span;
use crate::structure::Structure;

/// What the electrons of an item may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Task {
    /// Electrons move, no atom does: sigma bonds stay.
    Resonance,
    /// One elementary mechanism step.
    #[default]
    Step,
    /// The stated answer is the set of resonance contributors.
    Contributors,
}

impl Task {
    /// The task with this name, whatever its case.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Resonance, Self::Step, Self::Contributors]
            .into_iter()
            .find(|task| task.name().eq_ignore_ascii_case(name))
    }

    /// The name in banks.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Resonance => "resonance",
            Self::Step => "step",
            Self::Contributors => "contributors",
        }
    }
}

/// How a bank names its tasks.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tasks<'a> {
    /// The task of items that name none.
    pub default: Task,
    /// Words of the bank's own, in lower case (a profile), and what they mean.
    pub words: &'a [(String, Task)],
}

impl Tasks<'_> {
    /// The task that a text names, whatever its case and the space around it.
    #[must_use]
    pub fn named(self, text: &str) -> Option<Task> {
        let text = text.trim();
        let own = || {
            let text = text.to_lowercase();
            self.words.iter().find(|(word, _)| *word == text).map(|(_, task)| *task)
        };
        Task::from_name(text).or_else(own)
    }
}

/// What to say of a text that names no task.
pub(super) const NO_TASK: &str =
    "is no task: expected resonance, step or contributors; a profile can give them other words under [tasks]";

/// Which drawings of the product are right as an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Accept {
    /// The drawing to which the arrows lead.
    #[default]
    Drawing,
    /// Any legal resonance contributor of the product.
    Contributor,
}

impl Accept {
    /// The setting with this name, whatever its case.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Drawing, Self::Contributor].into_iter().find(|own| own.name().eq_ignore_ascii_case(name))
    }

    /// The name in banks and profiles.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Drawing => "drawing",
            Self::Contributor => "contributor",
        }
    }
}

/// How the text of a field is written in its file, which decides how a place in the text is found in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Writing {
    /// As it is.
    #[default]
    Plain,
    /// Between quotes, with quotes doubled.
    Quoted,
    /// A JSON string: between quotes, with escapes.
    JsonString,
    /// As it is, in two stretches of the file: so many bytes, a dot that is not in the file, and the rest, which stands so many bytes
    /// further on than the text has it.
    Parts(u32, u32),
    /// Not one stretch of the file (joined from several, or made by a reader): only its beginning is known.
    Joined,
}

/// A text of an item and where it stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Field {
    /// The text, decoded.
    pub text: String,
    /// First byte of the field in its chunk of the file, the opening quote included.
    pub start: u32,
    /// How it is written there.
    pub writing: Writing,
}

impl Field {
    /// Whether there is nothing but space.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.text.trim().is_empty()
    }

    /// The parts of the text that are separated by space, each as a field.
    pub fn parts(&self) -> impl Iterator<Item = Self> {
        self.text.split_whitespace().map(|part| {
            let offset = part.as_ptr() as usize - self.text.as_ptr() as usize;
            // Structures hold nothing that is written otherwise between quotes, but for the backslash in JSON.
            let (quote, writing) = match self.writing {
                Writing::Plain => (0, Writing::Plain),
                Writing::Quoted => (1, Writing::Plain),
                Writing::JsonString if !self.text.contains('\\') => (1, Writing::Plain),
                Writing::JsonString | Writing::Joined | Writing::Parts(..) => {
                    return Self { text: part.to_owned(), start: self.start, writing: Writing::Joined };
                }
            };
            Self { text: part.to_owned(), start: self.start + quote + offset as u32, writing }
        })
    }
}

/// A place for a field that is absent or blank.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slot {
    /// What a value would replace: a blank value, or nothing at the place where one could stand.
    pub span: Span,
    /// What has to stand before the value: separators of cells that the row lacks, a key.
    pub before: String,
    /// How the value would be written.
    pub writing: Writing,
}

/// A fault that a reader of whole documents found in a drawing, in the bytes of the document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawingFault {
    /// Where, in the chunk.
    pub span: Span,
    /// What kind it is of.
    pub kind: FaultKind,
    /// What is wrong, as a sentence.
    pub message: String,
}

/// A drawing of an item: a text still to be read, or a structure that the reader of a document has read.
#[derive(Debug, Clone)]
pub enum Drawing {
    /// SMILES, or CML where it begins with `<`.
    Text(Field),
    /// Read already.
    Read(Box<ReadDrawing>),
}

/// A structure that was read with its document.
#[derive(Debug, Clone, Default)]
pub struct ReadDrawing {
    /// The structure.
    pub structure: Structure,
    /// What was wrong with it.
    pub faults: Vec<DrawingFault>,
    /// Where it stands in the chunk.
    pub span: Span,
}

/// The arrows of a step.
#[derive(Debug, Clone)]
pub enum Arrows {
    /// In the text notation.
    Text(Field),
    /// Read already.
    Read {
        /// The arrows.
        arrows: Vec<DrawnArrow>,
        /// What was wrong with them.
        faults: Vec<DrawingFault>,
    },
}

/// One step as stated. An item without `steps` has one, numbered 0.
#[derive(Debug, Clone, Default)]
pub struct Step {
    /// The step's number as its bank counts; 0 for the only step of an item that is no sequence.
    pub number: u32,
    /// The start, absent where a sequence goes on from the answer before.
    pub start: Option<Drawing>,
    /// The arrows.
    pub arrows: Option<Arrows>,
    /// The stated answer.
    pub answer: Option<Drawing>,
    /// Where an answer could be written, if there is none and the format has a place for it.
    pub answer_slot: Option<Slot>,
    /// Where arrows could be written, if there are none and the format has a place for them.
    pub arrows_slot: Option<Slot>,
}

impl Step {
    /// Where the element begins in its chunk whose drawings these are, if they were read with their document.
    #[must_use]
    pub fn element(&self) -> Option<Span> {
        match (&self.answer, &self.start) {
            (Some(Drawing::Read(read)), _) | (None, Some(Drawing::Read(read))) => Some(read.span),
            _ => None,
        }
    }
}

impl Item {
    /// Whether the task is to be named where the item is written: always, where leaving it out could mean another one under the
    /// profile of the bank or under none.
    #[must_use]
    pub fn names_task(&self) -> bool {
        self.task != Task::Step || self.default_task != Task::Step
    }
}

/// One item of a bank.
#[derive(Debug, Clone, Default)]
pub struct Item {
    /// The id; where the bank gives none, `file:line`.
    pub id: String,
    /// Whether the bank gives the id.
    pub has_own_id: bool,
    /// What the electrons may do.
    pub task: Task,
    /// The task of items of this bank that name none, after its profile.
    pub default_task: Task,
    /// The steps in order; never empty.
    pub steps: Vec<Step>,
    /// `contributors`: the stated set.
    pub answers: Vec<Drawing>,
    /// `contributors`: which of the set is stated to contribute most, if any.
    pub major: Option<Field>,
    /// Which drawings of the product are right, where the item says so.
    pub accept: Option<Accept>,
    /// Species that the answer leaves out on purpose; `*` stands for any.
    pub omits: Option<Field>,
    /// Drawn options of a multiple choice, in order.
    pub options: Vec<Drawing>,
    /// The keyed option.
    pub key: Option<Field>,
    /// Where a key could be written, if there is none and the format has a place for it.
    pub key_slot: Option<Slot>,
    /// Whether its arrows count the atoms of a start without labels from 0, after its bank's profile.
    pub labels_from_zero: bool,
    /// Free text, carried to the report.
    pub prompt: String,
    /// Free text, carried to the report.
    pub tags: String,
    /// Fields that keyassay does not know, in the order of the bank.
    pub extra: Vec<(String, String)>,
    /// Names of such fields, the first of them, where the item lacks a field and may have it under one of these.
    pub unknown_names: Vec<String>,
    /// Where a key was sought and not found, for formats that have several places for it.
    pub key_sought: Option<&'static str>,
}

impl Item {
    /// More species that are left out on purpose: each step may name its own.
    pub fn add_omits(&mut self, more: Field) {
        match &mut self.omits {
            None => self.omits = Some(more),
            Some(own) if own.text == more.text => {}
            Some(own) => {
                own.text = format!("{} {}", own.text, more.text);
                own.writing = Writing::Joined;
            }
        }
    }

    /// Moves all places of the item, whose text stands behind `by` bytes of a longer one.
    pub fn shift(&mut self, by: u32) {
        let drawings = self.steps.iter_mut().flat_map(|step| step.start.iter_mut().chain(&mut step.answer));
        for drawing in drawings.chain(&mut self.answers).chain(&mut self.options) {
            match drawing {
                Drawing::Text(field) => field.start += by,
                Drawing::Read(read) => {
                    read.span = read.span.moved(by);
                    move_faults(&mut read.faults, by);
                }
            }
        }
        for step in &mut self.steps {
            match &mut step.arrows {
                Some(Arrows::Text(field)) => field.start += by,
                Some(Arrows::Read { faults, .. }) => move_faults(faults, by),
                None => {}
            }
            for slot in [&mut step.answer_slot, &mut step.arrows_slot].into_iter().flatten() {
                slot.span = slot.span.moved(by);
            }
        }
        for field in [&mut self.major, &mut self.omits, &mut self.key].into_iter().flatten() {
            field.start += by;
        }
        if let Some(slot) = &mut self.key_slot {
            slot.span = slot.span.moved(by);
        }
    }

    /// Takes a later row of the same item: its steps, and what the rows before left blank.
    pub fn absorb(&mut self, mut later: Self) {
        self.steps.append(&mut later.steps);
        self.answers.append(&mut later.answers);
        if self.options.is_empty() {
            self.options = later.options;
        }
        if self.prompt.is_empty() {
            self.prompt = later.prompt;
        }
        if self.tags.is_empty() {
            self.tags = later.tags;
        }
        self.key = self.key.take().or(later.key);
        self.key_slot = self.key_slot.take().or(later.key_slot);
        self.major = self.major.take().or(later.major);
        self.accept = self.accept.or(later.accept);
        if let Some(more) = later.omits {
            self.add_omits(more);
        }
        self.extra.append(&mut later.extra);
    }
}

fn move_faults(faults: &mut [DrawingFault], by: u32) {
    for fault in faults {
        fault.span = fault.span.moved(by);
    }
}

/// A record that is no item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRecord {
    /// Whether an item stands there; else something of the file that is no item, such as an entry of a package.
    pub is_item: bool,
    /// Its id, if that much could be read.
    pub id: Option<String>,
    /// What is wrong and what to do.
    pub message: String,
    /// Where, in the chunk.
    pub span: Span,
}

/// One record of a bank: an item or what is wrong with it.
#[derive(Debug, Clone)]
pub struct Record {
    /// Line of the file on which the record starts, counted from 1.
    pub line: u32,
    /// The item.
    pub content: Result<Item, BadRecord>,
}

impl Record {
    /// Whether an item stands there, readable or not.
    #[must_use]
    pub fn is_item(&self) -> bool {
        self.content.as_ref().map_or_else(|bad| bad.is_item, |_| true)
    }
}
