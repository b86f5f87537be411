//! Plain items: one step whose drawings and arrows are texts, and nothing else that is judged.

use super::Chunk;
use super::item::{Accept, Arrows, Drawing, Item, Record, Task};

/// A plain item, as it stands in the text of its bank.
#[derive(Debug, Clone, Copy)]
pub struct Plain<'a> {
    /// Its own id, if the bank gives one.
    pub id: Option<&'a str>,
    /// The task.
    pub task: Task,
    /// The start.
    pub start: &'a str,
    /// The arrows.
    pub arrows: &'a str,
    /// The stated answer.
    pub answer: &'a str,
    /// Which drawings of the product are right, where the item says so.
    pub accept: Option<Accept>,
    /// Free text.
    pub prompt: &'a str,
    /// Free text.
    pub tags: &'a str,
}

impl<'a> Plain<'a> {
    /// An item of a task of which nothing else is known yet.
    pub(super) fn of_task(task: Task) -> Self {
        Self { id: None, task, start: "", arrows: "", answer: "", accept: None, prompt: "", tags: "" }
    }

    /// The item as a plain one, if it is one.
    #[must_use]
    pub fn of(item: &'a Item) -> Option<Self> {
        let [step] = item.steps.as_slice() else { return None };
        let (Some(Drawing::Text(start)), Some(Arrows::Text(arrows)), Some(Drawing::Text(answer))) =
            (&step.start, &step.arrows, &step.answer)
        else {
            return None;
        };
        let more = item.omits.is_some() || item.key.is_some() || item.major.is_some();
        let more = more || !item.options.is_empty() || !item.answers.is_empty();
        if more || item.labels_from_zero || step.number > 1 || item.task == Task::Contributors {
            return None;
        }
        Some(Self {
            id: item.has_own_id.then_some(item.id.as_str()),
            task: item.task,
            start: &start.text,
            arrows: &arrows.text,
            answer: &answer.text,
            accept: item.accept,
            prompt: &item.prompt,
            tags: &item.tags,
        })
    }
}

/// A text without space round it; nearly always it has none.
pub(crate) fn trimmed(text: &str) -> &str {
    match text.as_bytes() {
        [first, .., last] if first.is_ascii_graphic() && last.is_ascii_graphic() => text,
        _ => text.trim(),
    }
}

/// Takes the records of a batch in their order.
pub trait Taker {
    /// Takes a plain item that starts on a line, or leaves it; one that is left comes again as a record.
    fn plain(&mut self, plain: &Plain<'_>, line: u32) -> bool;

    /// Takes a record.
    fn record(&mut self, record: Record);

    /// Says that these were all, and gives the chunk in which they stand.
    fn end(&mut self, chunk: &Chunk);
}
