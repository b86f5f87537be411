//! Plain reaction SMILES: `start>>answer`, a tab, the arrows, a tab, the id.

use super::chunk::Chunk;
use super::fields::{Collector, Name};
use super::item::{BadRecord, Field, Item, Record, Slot, Task, Writing};
use crate::source::Span;

/// How lines become items.
pub struct ReactionSmilesReader<'a> {
    /// The task of all items.
    pub default_task: Task,
    /// The file's name in ids of items that have none.
    pub file: &'a str,
}

impl ReactionSmilesReader<'_> {
    /// Reads the lines of a chunk. Blank lines and lines that begin with `#` separate and comment.
    #[must_use]
    pub fn read(&self, chunk: &Chunk) -> Vec<Record> {
        let mut records = Vec::with_capacity(chunk.records.len());
        let (mut line, mut seen) = (chunk.first_line, 0);
        for span in &chunk.records {
            let (start, end) = (span.start as usize, span.end as usize);
            line += super::chunk::line_breaks(chunk.text.as_bytes().get(seen..start).unwrap_or_default());
            seen = start;
            let text = chunk.text.get(start..end).unwrap_or_default();
            if !text.starts_with('#') {
                let content = chunk.whole(self.item(text, start, line), (start, end));
                records.push(Record { line, content });
            }
        }
        records
    }

    fn item(&self, text: &str, offset: usize, line: u32) -> Result<Item, BadRecord> {
        let mut cells = text.split('\t');
        let reaction = cells.next().unwrap_or_default();
        let parts: Vec<&str> = reaction.split('>').collect();
        let &[start, agents, answer] = parts.as_slice() else {
            let message =
                "the line is no reaction: expected start>>answer, a tab, the arrows, a tab, the id".to_owned();
            return Err(BadRecord { id: None, message, span: Span::new(offset, offset + reaction.len()) });
        };
        let field = |part: &str| Field {
            text: part.to_owned(),
            start: (offset + part.as_ptr() as usize - text.as_ptr() as usize) as u32,
            writing: Writing::Plain,
        };
        // What stands between the two '>' takes no part: it is there before and after.
        let both = |side: &str| match (agents.is_empty(), side.is_empty()) {
            (true, _) => field(side),
            // One text is both sides: it is no place where one of them can be corrected.
            (false, true) => Field { writing: Writing::Joined, ..field(agents) },
            (false, false) => Field { text: format!("{side}.{agents}"), ..field(side) },
        };
        let mut collector = Collector::default();
        collector.take(Name::Start, both(start));
        collector.take(Name::Answer, both(answer));
        if agents.is_empty() && answer.trim().is_empty() {
            let Field { start, writing, .. } = field(answer);
            let span = Span { start, end: start + answer.len() as u32 };
            collector.slot(Name::Answer, Slot { span, before: String::new(), writing });
        }
        for (name, cell) in [Name::Arrows, Name::Id].into_iter().zip(cells) {
            collector.take(name, field(cell));
        }
        collector.finish(self.default_task, || format!("{}:{line}", self.file))
    }
}
