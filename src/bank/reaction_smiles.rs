//! Plain reaction SMILES: `start>>answer`, a tab, the arrows, a tab, the id.

use super::chunk::Chunk;
use super::fields::{Collector, Name};
use super::item::{BadRecord, Field, Item, Record, Slot, Tasks, Writing};
use crate::smiles;
use crate::source::Span;

/// How lines become items.
pub struct ReactionSmilesReader<'a> {
    /// The task of all items.
    pub tasks: Tasks<'a>,
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
        let cell = cells.next().unwrap_or_default();
        let (reaction, tail) = smiles::split_tail(cell);
        let parts: Vec<&str> = reaction.split('>').collect();
        let &[start, agents, answer] = parts.as_slice() else {
            let message =
                "the line is no reaction: expected start>>answer, a tab, the arrows, a tab, the id".to_owned();
            return Err(refused(message, Span::new(offset, offset + reaction.len())));
        };
        let place = |part: &str| (offset + part.as_ptr() as usize - text.as_ptr() as usize) as u32;
        let field = |part: &str| Field { text: part.to_owned(), start: place(part), writing: Writing::Plain };
        let mut drawn = (beside(field(start), field(agents)), field(answer));
        if let Some((tail, from)) = tail {
            let tails = smiles::reaction_tails(tail, from, &drawn.0.text, answer).map_err(|(span, message)| {
                refused(message, Span::new(offset + span.start as usize, offset + span.end as usize))
            })?;
            drawn.0.text.push_str(&tails[0]);
            drawn.1.text.push_str(&tails[1]);
        }
        let mut collector = Collector::default();
        collector.take(Name::Start, drawn.0);
        if answer.trim().is_empty() {
            let Field { start, writing, .. } = field(answer);
            let span = Span { start, end: start + answer.len() as u32 };
            collector.slot(Name::Answer, Slot { span, before: String::new(), writing });
        } else {
            collector.take(Name::Answer, drawn.1);
        }
        // What no arrow touches may be missing from the answer. What cannot be read is told of the start.
        if smiles::read(agents.trim()).faults.is_empty() {
            collector.take(Name::Omits, field(agents));
        }
        let mut has_arrows = false;
        for (name, cell) in [Name::Arrows, Name::Id].into_iter().zip(cells) {
            has_arrows |= name == Name::Arrows;
            let own = field(cell);
            let span = Span { start: own.start, end: own.start + cell.len() as u32 };
            collector.slot(name, Slot { span, before: String::new(), writing: own.writing });
            collector.take(name, own);
        }
        if !has_arrows {
            let end = (offset + text.len()) as u32;
            let slot = Slot { span: Span { start: end, end }, before: "\t".to_owned(), writing: Writing::Plain };
            collector.slot(Name::Arrows, slot);
        }
        collector.finish(self.tasks, || format!("{}:{line}", self.file))
    }
}

fn refused(message: String, span: Span) -> BadRecord {
    BadRecord { is_item: true, id: None, message, span }
}

/// The agents beside the start, numbered after it.
fn beside(start: Field, agents: Field) -> Field {
    match (start.is_blank(), agents.is_blank()) {
        (_, true) => start,
        (true, false) => agents,
        (false, false) => {
            let own = start.text.trim_end();
            let gap = agents.start - start.start - own.len() as u32 - 1;
            Field { text: format!("{own}.{}", agents.text), writing: Writing::Parts(own.len() as u32, gap), ..start }
        }
    }
}
