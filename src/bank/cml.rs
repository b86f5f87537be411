//! CML documents: a reaction is an item, a scheme of consecutive reactions an item with steps.
//!
//! The document is read in order, a record at a time. Its drawings and arrows are read with it; what was wrong with them
//! stands beside them until they are judged. Where a reaction refers to a molecule that stands further on in the document, the
//! document is opened again: once to gather its molecules, once to read on where reading stopped.

use super::chunk::Chunk;
use super::fields::Name;
use super::item::{
    Accept, Arrows, BadRecord, Drawing, DrawingFault, Field, Item, NO_TASK, ReadDrawing, Record, Step, Tasks, Writing,
};
use super::source::{OpenError, ReadAgain, Settings};
use crate::cml::{self, Content, Fault, FaultKind, ItemField, Part, Problem, Reaction, Reader, Sequence};
use crate::source::Span;
use crate::structure::{LabelIndex, Structure};
use std::io::{self, BufReader, Read};
use std::sync::Arc;

type Input = BufReader<Box<dyn Read + Send>>;

/// Bytes that are read at a time.
const BUFFER: usize = 1 << 16;

/// A document of questions.
pub(super) struct CmlSource {
    reader: Reader<Input>,
    /// Records that the reader has given.
    given: usize,
    /// A record that was read ahead.
    ahead: Option<cml::Record>,
    again: Option<ReadAgain>,
    name: String,
    settings: Arc<Settings>,
}

impl CmlSource {
    /// Opens a document and reads on to its first question.
    pub(super) fn open(
        name: &str,
        input: Box<dyn Read + Send>,
        again: Option<ReadAgain>,
        settings: &Arc<Settings>,
    ) -> Result<Self, OpenError> {
        let reader = Reader::new(BufReader::with_capacity(BUFFER, input), &settings.limits);
        let mut source =
            Self { reader, given: 0, ahead: None, again, name: name.to_owned(), settings: Arc::clone(settings) };
        source.ahead = source.next_question()?;
        match &source.ahead {
            Some(_) => Ok(source),
            None if source.given == 0 => Err(OpenError::NoItems("it has neither reactions nor molecules".to_owned())),
            None => {
                let molecules = source.given;
                Err(OpenError::NoItems(format!("{molecules} molecules and no reaction, so no question")))
            }
        }
    }

    /// The next record that is no bare molecule.
    fn next_question(&mut self) -> io::Result<Option<cml::Record>> {
        loop {
            let Some(record) = self.reader.next() else { return Ok(None) };
            self.given += 1;
            match &record.content {
                Content::Molecule(_) => {}
                Content::Questions(questions) if questions.is_empty() => {}
                Content::Questions(questions) if questions.iter().any(refers_ahead) && self.again.is_some() => {
                    return self.read_again();
                }
                Content::Questions(_) | Content::Unreadable(_) => return Ok(Some(record)),
            }
        }
    }

    /// Starts over with all molecules of the document, and goes on with the latest record.
    fn read_again(&mut self) -> io::Result<Option<cml::Record>> {
        let Some(again) = self.again.take() else { return Ok(None) };
        let input = || Ok::<_, io::Error>(BufReader::with_capacity(BUFFER, again()?));
        let mut first = Reader::new(input()?, &self.settings.limits);
        first.by_ref().for_each(drop);
        self.reader = Reader::with_library(input()?, &self.settings.limits, first.into_library());
        Ok(self.reader.nth(self.given - 1))
    }

    /// The items of the next record, and the text in which their places are found.
    pub(super) fn next_records(&mut self) -> io::Result<Option<(Chunk, Vec<Record>)>> {
        let record = match self.ahead.take() {
            Some(record) => record,
            None => match self.next_question()? {
                Some(record) => record,
                None => return Ok(None),
            },
        };
        let chunk = Chunk {
            text: record.text.to_string(),
            first_line: u32::try_from(record.place.line).unwrap_or(u32::MAX),
            offset: record.place.offset,
            first_column: u32::try_from(record.place.column - 1).unwrap_or(u32::MAX),
            ..Chunk::default()
        };
        let records = match record.content {
            Content::Questions(questions) => {
                let line_of = |question: &Sequence| chunk.line_of(question.span.start as usize);
                questions.into_iter().map(|question| self.record(line_of(&question), question)).collect()
            }
            Content::Unreadable(fault) => {
                let bad = BadRecord { is_item: true, id: None, message: fault.problem.to_string(), span: fault.span };
                let line = chunk.line_of(fault.span.start as usize);
                vec![Record { line, content: Err(bad) }]
            }
            Content::Molecule(_) => Vec::new(),
        };
        Ok(Some((chunk, records)))
    }

    fn record(&self, line: u32, question: Sequence) -> Record {
        let keep_extra = self.settings.keep_extra;
        let item = item(question, self.settings.tasks(), keep_extra, || format!("{}:{line}", self.name));
        Record { line, content: item }
    }
}

fn refers_ahead(question: &Sequence) -> bool {
    let faults = question.steps.iter().flat_map(|step| &step.faults);
    faults.into_iter().any(|fault| matches!(fault.problem, Problem::DanglingMolecule(_)))
}

/// The item of a question.
fn item(
    question: Sequence,
    tasks: Tasks<'_>,
    keep_extra: bool,
    default_id: impl FnOnce() -> String,
) -> Result<Item, BadRecord> {
    let (id, prompt) = names(&question);
    let faults = question.steps.iter().flat_map(|step| &step.faults);
    if let Some(fault) = faults.into_iter().find(|fault| fault.problem.kind() == FaultKind::Record) {
        return Err(BadRecord { is_item: true, id, message: fault.problem.to_string(), span: fault.span });
    }
    let has_own_id = id.is_some();
    let alone = question.steps.len() == 1;
    let number = |at: usize| if alone { 0 } else { at as u32 + 1 };
    let steps = question.steps.into_iter().enumerate().map(|(at, reaction)| step(number(at), reaction)).collect();
    let mut item = Item {
        id: id.unwrap_or_else(default_id),
        has_own_id,
        task: tasks.default,
        default_task: tasks.default,
        steps,
        prompt,
        ..Item::default()
    };
    for field in question.fields {
        set_field(&mut item, field, tasks, keep_extra)?;
    }
    Ok(item)
}

/// Sets a field that stands as metadata.
fn set_field(item: &mut Item, field: ItemField, tasks: Tasks<'_>, keep_extra: bool) -> Result<(), BadRecord> {
    let ItemField { name, value, span } = field;
    // References make the text another one than what stands in the file.
    let plain = value.len() == (span.end - span.start) as usize;
    let writing = if plain { Writing::Plain } else { Writing::Joined };
    let text = Field { text: value, start: span.start, writing };
    match Name::from_text(&name) {
        // A blank option has its place; any other blank field is an absent one.
        own if text.text.is_empty() && own != Some(Name::Options) => {}
        Some(Name::Task) => {
            item.task = tasks.named(&text.text).ok_or_else(|| BadRecord {
                is_item: true,
                id: Some(item.id.clone()),
                message: format!("'{}' {NO_TASK}", text.text.trim()),
                span,
            })?;
        }
        Some(Name::Accept) => {
            item.accept = Some(Accept::from_name(text.text.trim()).ok_or_else(|| BadRecord {
                is_item: true,
                id: Some(item.id.clone()),
                message: format!("'{}' is nothing to accept: expected drawing or contributor", text.text.trim()),
                span,
            })?);
        }
        Some(Name::Answers) => item.answers.push(Drawing::Text(text)),
        Some(Name::Options) => item.options.push(Drawing::Text(text)),
        Some(Name::Major) => item.major = Some(text),
        Some(Name::Omits) => item.omits = Some(text),
        Some(Name::Key) => item.key = Some(text),
        Some(Name::Prompt) => item.prompt = text.text,
        Some(Name::Tags) => item.tags = text.text,
        _ if keep_extra => item.extra.push((name, text.text)),
        _ => {}
    }
    Ok(())
}

/// A question is named by its id, else by its title; a title beside an id is its prompt. A scheme of one step is named by
/// the step where it has no name itself.
fn names(question: &Sequence) -> (Option<String>, String) {
    let only = match &question.steps[..] {
        [only] => Some(only),
        _ => None,
    };
    let id = question.id.clone().or_else(|| only.and_then(|step| step.id.clone()));
    let title = question.title.clone().or_else(|| only.and_then(|step| step.title.clone()));
    match id {
        Some(id) => (Some(id), title.unwrap_or_default()),
        None => (title, String::new()),
    }
}

fn step(number: u32, reaction: Reaction) -> Step {
    let Reaction { start, answer, arrows, faults, span, .. } = reaction;
    let of = |part: Part| faults.iter().filter(move |fault| fault.part == part);
    let of_arrows: Vec<DrawingFault> = of(Part::Arrows).map(drawing_fault).collect();
    let arrows = match arrows {
        // A map without links is an empty field.
        arrows if of_arrows.is_empty() && arrows.as_ref().is_none_or(Vec::is_empty) => None,
        arrows => Some(Arrows::Read { arrows: arrows.unwrap_or_default(), faults: of_arrows }),
    };
    Step {
        number,
        start: start.and_then(|structure| drawing(structure, of(Part::Start), span)),
        arrows,
        answer: answer.and_then(|structure| drawing(structure, of(Part::Answer), span)),
        answer_slot: None,
        arrows_slot: None,
    }
}

/// A drawing with its faults; `None` where a list is there and empty, which draws nothing.
fn drawing<'a>(structure: Structure, faults: impl Iterator<Item = &'a Fault>, span: Span) -> Option<Drawing> {
    let faults = drawing_faults(&structure, faults);
    if structure.is_empty() && faults.is_empty() {
        return None;
    }
    Some(Drawing::Read(Box::new(ReadDrawing { structure, faults, span })))
}

/// The faults of a drawing as the judges take them. Labels that two atoms carry are found by the judges themselves.
pub(crate) fn drawing_faults<'a>(structure: &Structure, faults: impl Iterator<Item = &'a Fault>) -> Vec<DrawingFault> {
    let mut found: Vec<DrawingFault> = faults.map(drawing_fault).collect();
    let is_repeated = |fault: &DrawingFault| fault.kind == FaultKind::RepeatedLabel;
    if found.iter().any(is_repeated) && !LabelIndex::new(structure).repeated.is_empty() {
        found.retain(|fault| !is_repeated(fault));
    }
    found
}

fn drawing_fault(fault: &Fault) -> DrawingFault {
    DrawingFault { span: fault.span, kind: fault.problem.kind(), message: fault.problem.to_string() }
}
