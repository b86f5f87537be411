//! One item, from its record to its verdict.

use super::drawing::{DrawingReader, Role};
use super::step::{Start, StepAudit, judge_step};
use super::{Class, Finding, Name, classify};
use crate::bank::{Chunk, Drawing, Item, Record, Task};
use crate::limits::Limits;
use crate::smiles;
use crate::structure::OctetRule;

/// What judgement depends on, other than the item.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// Caps.
    pub limits: Limits,
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// How structures are read.
    pub smiles: smiles::Options,
}

/// The surroundings of one item.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// The settings of the run.
    pub settings: &'a Settings,
    /// The text in which places are found.
    pub chunk: &'a Chunk,
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// Whether the answer stands in options or in a set, so that a step without one lacks nothing.
    pub answer_is_elsewhere: bool,
    /// Whether only the product is wanted, so that a step without an answer lacks nothing.
    pub product_only: bool,
    /// Species that the item leaves out on purpose, as it states them.
    pub omits: Option<&'a str>,
}

impl<'a> Context<'a> {
    /// The surroundings of the items of one chunk.
    #[must_use]
    pub fn new(settings: &'a Settings, chunk: &'a Chunk) -> Self {
        Self { settings, chunk, octet: settings.octet, answer_is_elsewhere: false, product_only: false, omits: None }
    }

    pub(super) fn reader(&self) -> DrawingReader<'a> {
        DrawingReader {
            chunk: self.chunk,
            limits: &self.settings.limits,
            octet: self.octet,
            options: &self.settings.smiles,
        }
    }
}

/// The verdict on one record.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// The item's id.
    pub id: String,
    /// Line on which it starts.
    pub line: u32,
    /// How it comes out.
    pub class: Class,
    /// What was found, in the order in which it was found.
    pub findings: Vec<Finding>,
    /// What was worked out, step by step.
    pub steps: Vec<StepAudit>,
}

/// Judges one record.
#[must_use]
pub fn judge(context: &Context<'_>, record: &Record, file: &str) -> Judgement {
    match &record.content {
        Ok(item) => {
            let (findings, steps) = judge_item(context, item);
            Judgement { id: item.id.clone(), line: record.line, class: classify(&findings), findings, steps }
        }
        Err(bad) => {
            let finding = Finding::new(Name::UnreadableRecord, bad.message.clone()).at(context.chunk.spot(bad.span));
            let id = bad.id.clone().unwrap_or_else(|| format!("{file}:{}", record.line));
            Judgement { id, line: record.line, class: Class::Unreadable, findings: vec![finding], steps: Vec::new() }
        }
    }
}

fn judge_item(context: &Context<'_>, item: &Item) -> (Vec<Finding>, Vec<StepAudit>) {
    let mut findings = Vec::new();
    let mut steps: Vec<StepAudit> = Vec::with_capacity(item.steps.len());
    let answer_is_elsewhere = item.task == Task::Contributors || (!item.options.is_empty() && item.key.is_some());
    let omits = item.omits.as_ref().map(|field| field.text.as_str());
    let context = Context { answer_is_elsewhere, omits, ..*context };
    if let Some(field) = &item.omits {
        // Read for its faults alone: a list that cannot be read would excuse nothing and say nothing.
        context.reader().read(&Drawing::Text(field.clone()), Role::Omitted, &mut findings);
    }
    if item.task == Task::Contributors {
        return (findings, steps);
    }
    for step in &item.steps {
        let start = match (&step.start, steps.last()) {
            (Some(drawing), _) => Start::Drawn(drawing),
            (None, Some(StepAudit { answer: Some(before), .. })) => Start::Before(before.clone()),
            (None, _) => Start::Missing,
        };
        steps.push(judge_step(&context, item.task, step, start, &mut findings));
    }
    (findings, steps)
}
