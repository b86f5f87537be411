//! From named fields to an item: the one place that knows the names.

use super::item::{Accept, Arrows, BadRecord, Drawing, Field, Item, NO_TASK, Slot, Step, Tasks};
use crate::source::Span;

/// The fields that keyassay knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Name {
    /// The item's name.
    Id,
    /// `resonance`, `step` or `contributors`.
    Task,
    /// The drawn starting structure.
    Start,
    /// The curved arrows.
    Arrows,
    /// The stated answer.
    Answer,
    /// The stated contributors.
    Answers,
    /// Which of the stated contributors is stated to contribute most.
    Major,
    /// The number of a row's step.
    Step,
    /// A list of steps.
    Steps,
    /// Which drawings of the product are right.
    Accept,
    /// Species left out on purpose.
    Omits,
    /// A list of options.
    Options,
    /// One option, counted from 0.
    Option(u8),
    /// The keyed option.
    Key,
    /// Free text.
    Prompt,
    /// Free text.
    Tags,
}

impl Name {
    /// The field with this name, whatever its case and the space around it.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let name = text.trim().to_ascii_lowercase();
        if let Some(option) = name.strip_prefix("option_") {
            return option_number(option).map(Self::Option);
        }
        Some(match name.as_str() {
            "id" => Self::Id,
            "task" => Self::Task,
            "start" => Self::Start,
            "arrows" => Self::Arrows,
            "answer" => Self::Answer,
            "answers" => Self::Answers,
            "major" => Self::Major,
            "accept" => Self::Accept,
            "step" => Self::Step,
            "steps" => Self::Steps,
            "omits" => Self::Omits,
            "options" => Self::Options,
            "key" => Self::Key,
            "prompt" => Self::Prompt,
            "tags" => Self::Tags,
            _ => return None,
        })
    }

    /// Whether the field holds drawings or arrows. Lists of people have an `id` and a `key`, too.
    #[must_use]
    pub fn is_of_drawings(self) -> bool {
        match self {
            Self::Start
            | Self::Arrows
            | Self::Answer
            | Self::Answers
            | Self::Steps
            | Self::Omits
            | Self::Options
            | Self::Option(_) => true,
            Self::Id | Self::Task | Self::Major | Self::Accept | Self::Step | Self::Key | Self::Prompt | Self::Tags => {
                false
            }
        }
    }
}

/// `a` to `z` or a number from 1, as options are named.
#[must_use]
pub fn option_number(text: &str) -> Option<u8> {
    let text = text.trim();
    match text.as_bytes() {
        [letter] if letter.is_ascii_alphabetic() => Some(letter.to_ascii_lowercase() - b'a'),
        _ => text.parse::<u8>().ok().filter(|number| *number > 0).map(|number| number - 1),
    }
}

/// Unknown names that are kept, and their characters.
const NAMED: usize = 6;
const LONGEST: usize = 40;

/// Collects the fields of one record into an item.
#[derive(Debug, Default)]
pub struct Collector {
    item: Item,
    step: Step,
    task: Option<Field>,
    accept: Option<Field>,
    step_number: Option<Field>,
}

impl Collector {
    /// Takes a field. A blank one counts as absent.
    pub fn take(&mut self, name: Name, field: Field) {
        if field.is_blank() {
            return;
        }
        match name {
            Name::Id => {
                self.item.id = field.text.trim().to_owned();
                self.item.has_own_id = true;
            }
            Name::Task => self.task = Some(field),
            Name::Start => self.step.start = Some(Drawing::Text(field)),
            Name::Arrows => self.step.arrows = Some(Arrows::Text(field)),
            Name::Answer => self.step.answer = Some(Drawing::Text(field)),
            Name::Answers => self.item.answers.extend(field.parts().map(Drawing::Text)),
            Name::Major => self.item.major = Some(field),
            Name::Accept => self.accept = Some(field),
            Name::Step => self.step_number = Some(field),
            Name::Omits => self.item.add_omits(field),
            Name::Option(at) => self.option(at, field),
            Name::Options => self.item.options.extend(field.parts().map(Drawing::Text)),
            Name::Key => self.item.key = Some(field),
            Name::Prompt => self.item.prompt = field.text,
            Name::Tags => self.item.tags = field.text,
            // Only formats that nest have lists of steps; they hand each step over by `step`.
            Name::Steps => {}
        }
    }

    /// Takes the place of a field that is absent or blank, if that is a field which can be filled.
    pub fn slot(&mut self, name: Name, slot: Slot) {
        match name {
            Name::Answer if self.step.answer.is_none() => self.step.answer_slot = Some(slot),
            Name::Arrows if self.step.arrows.is_none() => self.step.arrows_slot = Some(slot),
            Name::Key if self.item.key.is_none() => self.item.key_slot = Some(slot),
            _ => {}
        }
    }

    /// Whether a field that could be filled is still empty.
    #[must_use]
    pub fn lacks(&self, name: Name) -> bool {
        match name {
            Name::Answer => {
                let item = &self.item;
                let elsewhere = !(item.steps.is_empty() && item.answers.is_empty() && item.options.is_empty());
                self.step.answer.is_none() && !elsewhere
            }
            Name::Arrows => self.step.arrows.is_none() && self.item.steps.is_empty() && self.item.answers.is_empty(),
            Name::Key => self.item.key.is_none() && !self.item.options.is_empty(),
            _ => false,
        }
    }

    /// Puts an option in its place; options between that a bank leaves blank stay blank and keep their letters.
    fn option(&mut self, at: u8, field: Field) {
        let at = usize::from(at);
        while self.item.options.len() <= at {
            self.item.options.push(Drawing::Text(Field::default()));
        }
        self.item.options[at] = Drawing::Text(field);
    }

    /// Whether a field without which nothing can be judged is absent.
    #[must_use]
    pub fn is_short_of_fields(&self) -> bool {
        let step = &self.step;
        self.item.steps.is_empty() && (step.start.is_none() || (step.arrows.is_none() && self.item.answers.is_empty()))
    }

    /// Names that the item may have for what it is short of.
    pub fn unknown_names<'a>(&mut self, names: impl Iterator<Item = &'a str>) {
        self.item.unknown_names = names.take(NAMED).map(|name| name.chars().take(LONGEST).collect()).collect();
    }

    /// One stated contributor of a list.
    pub fn answer(&mut self, field: Field) {
        self.item.answers.push(Drawing::Text(field));
    }

    /// One option of a list.
    pub fn next_option(&mut self, field: Field) {
        self.item.options.push(Drawing::Text(field));
    }

    /// One step of a list.
    pub fn next_step(&mut self, step: Step) {
        self.item.steps.push(step);
    }

    /// A field that keyassay does not know. One that is called like a field, and is none because a profile finds that field
    /// elsewhere, gets another name, so that no bank is written in which it is taken for the field.
    pub fn extra(&mut self, name: &str, text: &str) {
        let is_field = Name::from_text(name).is_some();
        let name = if is_field { format!("bank_{}", name.trim()) } else { name.to_owned() };
        self.item.extra.push((name, text.to_owned()));
    }

    /// The item.
    ///
    /// # Errors
    /// A task that there is not, a step number that is none.
    pub fn finish(mut self, tasks: Tasks<'_>, default_id: impl FnOnce() -> String) -> Result<Item, BadRecord> {
        if !self.item.has_own_id {
            self.item.id = default_id();
        }
        self.item.default_task = tasks.default;
        self.item.task = match &self.task {
            None => tasks.default,
            Some(field) => match tasks.named(&field.text) {
                Some(task) => task,
                None => return Err(self.bad(field, NO_TASK)),
            },
        };
        if let Some(field) = &self.accept {
            match Accept::from_name(field.text.trim()) {
                Some(accept) => self.item.accept = Some(accept),
                None => return Err(self.bad(field, "is nothing to accept: expected drawing or contributor")),
            }
        }
        if let Some(field) = &self.step_number {
            match field.text.trim().parse::<u32>() {
                Ok(number) if number > 0 => self.step.number = number,
                _ => return Err(self.bad(field, "is no number of a step: expected 1, 2, …")),
            }
        }
        if self.item.steps.is_empty() {
            self.item.steps = vec![self.step];
        } else if let (Some(first), Some(start)) =
            (self.item.steps.iter_mut().min_by_key(|step| step.number), self.step.start)
        {
            // A start beside the list of steps is the start of the first one.
            first.start.get_or_insert(start);
        }
        Ok(self.item)
    }

    fn bad(&self, field: &Field, what: &str) -> BadRecord {
        let id = self.item.has_own_id.then(|| self.item.id.clone());
        let start = field.start as usize;
        BadRecord {
            is_item: true,
            id,
            message: format!("'{}' {what}", field.text.trim()),
            span: Span::new(start, start + field.text.len()),
        }
    }
}
