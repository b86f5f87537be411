//! One item, from its record to its verdict.

use crate::bank::{Item, Record, Task, place_name};
use crate::findings::correction::complete;
use crate::findings::judge::choice::Choice;
use crate::findings::judge::contributors::judge_set;
use crate::findings::judge::sequence::judge_steps;
use crate::findings::rules::context::Context;
use crate::findings::rules::loose;
use crate::findings::rules::omits::Omits;
use crate::findings::verdict::StepAudit;
use crate::findings::{Class, Finding, Name, classify};
use crate::limits::Limits;
use std::fmt::Write as _;

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

impl Judgement {
    /// Stereo marks that were not compared, at atoms that arrows touch.
    #[must_use]
    pub fn stereo_not_judged(&self) -> u32 {
        self.steps.iter().map(|step| step.stereo_not_judged).sum()
    }
}

/// Judges one record.
///
/// ```
/// use keyassay::bank::{Format, Settings as BankSettings, open};
/// use keyassay::findings::{Class, Context, Settings, judge};
/// use std::sync::Arc;
///
/// let bank = "id,start,arrows,answer\nq1,[CH3:1][Br:2],1-2 -> 2,[CH3+:1].[Br:2]\n";
/// let mut source = open("bank.csv", Format::Csv, Box::new(bank.as_bytes()), &Arc::new(BankSettings::default()))?;
/// let (chunk, records) = source.next_batch()?.expect("the bank has items").records();
/// let settings = Settings::default();
/// let judgement = judge(&Context::new(&settings, &chunk), &records[0], "bank.csv");
/// assert_eq!(judgement.class, Class::Faulty);
/// assert_eq!(judgement.findings[0].correction, "[CH3+:1].[Br-:2]");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn judge(context: &Context<'_>, record: &Record, file: &str) -> Judgement {
    match &record.content {
        Ok(item) => {
            let (mut findings, steps) = judge_item(context, item);
            loose::merge(&mut findings);
            name_other_fields(item, &mut findings);
            complete(context.chunk, item, &steps, &mut findings);
            Judgement { id: item.id.clone(), line: record.line, class: classify(&findings), findings, steps }
        }
        Err(bad) => {
            let finding = Finding::new(Name::UnreadableRecord, bad.message.clone()).at(context.chunk.spot(bad.span));
            let own = bad.id.clone().filter(|id| !id.trim().is_empty());
            let id = own.unwrap_or_else(|| place_name(file, record.line));
            Judgement { id, line: record.line, class: Class::Unreadable, findings: vec![finding], steps: Vec::new() }
        }
    }
}

/// Where fields are missing, says once what else the item has: a bank may have other names for them.
fn name_other_fields(item: &Item, findings: &mut [Finding]) {
    let missing = findings.iter_mut().find(|finding| finding.name == Name::MissingField);
    if let (Some(missing), [_, ..]) = (missing, item.unknown_names.as_slice()) {
        let names = item.unknown_names.iter().map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ");
        let _ = write!(missing.what, "; it has {names}, which name no field: a profile can map other names");
    }
}

/// An item of more parts than anyone draws is not judged at all.
fn over_limit(limits: &Limits, item: &Item) -> Option<Finding> {
    let parts = [
        ("steps", item.steps.len(), limits.steps),
        ("options", item.options.len(), limits.options),
        ("stated contributors", item.answers.len(), limits.options),
    ];
    let (what, count, limit) = parts.into_iter().find(|(_, count, limit)| count > limit)?;
    let message = format!("the item has {count} {what} and passes the limit of {limit}: split it");
    Some(Finding::new(Name::UnreadableRecord, message))
}

fn judge_item(context: &Context<'_>, item: &Item) -> (Vec<Finding>, Vec<StepAudit>) {
    let mut findings = Vec::new();
    findings.extend(over_limit(&context.settings.limits, item));
    if !findings.is_empty() {
        return (findings, Vec::new());
    }
    let omits = item.omits.as_ref().map(|field| Omits::read(&context.reader(), field, &mut findings));
    let any_kekule_form = item.task == Task::Step;
    let accept = item.accept.unwrap_or(context.accept);
    let first_label = u32::from(!item.labels_from_zero);
    let context = Context { omits: omits.as_ref(), accept, any_kekule_form, first_label, ..*context };
    if item.task == Task::Contributors {
        let steps = judge_set(&context, item, &mut findings);
        return (findings, steps);
    }
    if item.options.is_empty() && item.key.is_none() {
        let steps = judge_steps(&context, item, &mut findings);
        return (findings, steps);
    }
    let choice = Choice::read(&context, item, &mut findings);
    let options = choice.keyed_first();
    let with_choice = Context { answer_is_elsewhere: choice.states_the_answer(), options: &options, ..context };
    let mut steps = judge_steps(&with_choice, item, &mut findings);
    choice.judge(&context, steps.last_mut(), &mut findings);
    (findings, steps)
}
