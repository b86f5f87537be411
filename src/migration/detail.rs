//! What a row tells of its items: they are read again.

use super::index::{Indexed, judged};
use super::pair::{Row, Verdict};
use super::print::{ItemPrint, StepPrint, arrows_text, drawing_text};
use crate::audit::{Input, sweep};
use crate::bank::{Batch, Field, Item, Record, Settings};
use crate::compare::compare;
use crate::compare::difference::Names;
use crate::findings::{Class, Context, Judgement, Settings as JudgeSettings};
use crate::structure::{LabelIndex, Structure};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::io;
use std::sync::Arc;

/// An item that was read again.
#[derive(Debug, Clone)]
pub struct Detail {
    /// Its id.
    pub id: String,
    /// The item, where it could be read, with its judgement.
    pub judged: Option<Box<(Item, Judgement, ItemPrint)>>,
}

/// Reads items again. `wanted` holds their places in order, each with whether it is judged as well.
///
/// # Errors
/// The bank is no longer what it was.
pub fn details(
    settings: &Arc<Settings>,
    judging: &JudgeSettings,
    inputs: &[Input],
    indexed: &Indexed,
    wanted: &[(u32, bool)],
) -> io::Result<HashMap<u32, Detail>> {
    let mut found = HashMap::new();
    let work = |input: usize, at: usize, batch: Batch| {
        let Some(&first) = indexed.batches[input].get(at) else { return Vec::new() };
        let file = batch.file().unwrap_or_else(|| Arc::from(inputs[input].name.as_str()));
        let from = wanted.partition_point(|(own, _)| *own < first);
        let Some((next, _)) = wanted.get(from) else { return Vec::new() };
        if (*next - first) as usize >= batch.likely_records().max(1) * 2 {
            return Vec::new();
        }
        let (chunk, records) = batch.records();
        let context = Context::new(judging, &chunk);
        let own =
            wanted[from..].iter().map_while(|(at, deep)| Some((*at, *deep, records.get((*at - first) as usize)?)));
        own.map(|(at, deep, record)| (at, detail(&context, record, &file, deep))).collect()
    };
    sweep(settings, inputs, work, |_, some: Vec<(u32, Detail)>| {
        found.extend(some);
        Ok(())
    })?;
    if found.len() < wanted.len() {
        return Err(changed_meanwhile());
    }
    Ok(found)
}

/// What is said where a bank is not what it was when it was read before.
pub(super) fn changed_meanwhile() -> io::Error {
    io::Error::other("a bank changed while it was read: compare again when nobody writes it")
}

fn detail(context: &Context<'_>, record: &Record, file: &str, deep: bool) -> Detail {
    let judged = deep.then(|| judged(context, record, file));
    match (&record.content, judged) {
        (Ok(item), Some((judgement, print))) => {
            Detail { id: item.id.clone(), judged: Some(Box::new((item.clone(), judgement, print))) }
        }
        (Ok(item), None) => Detail { id: item.id.clone(), judged: None },
        (Err(bad), _) => {
            let id = bad.id.clone().filter(|id| !id.trim().is_empty());
            Detail { id: id.unwrap_or_else(|| format!("{file}:{}", record.line)), judged: None }
        }
    }
}

/// What differs between two items.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Change {
    /// The fields, separated by spaces.
    pub field: String,
    /// What they were.
    pub old: String,
    /// What they are.
    pub new: String,
    /// The difference in a sentence.
    pub message: String,
}

const NAMES: Names =
    Names { one: "old", other: "new", one_drawing: "old bank", other_drawing: "new bank", second_first: false };
/// Differences of one drawing that a message names.
const NAMED: usize = 6;
/// Steps of the search for a correspondence that only explains.
const STEPS: u64 = 20_000;

/// What a row says of its items, in words.
#[must_use]
pub fn change(row: &Row, old: Option<&Detail>, new: Option<&Detail>) -> Change {
    let both = old.and_then(|own| own.judged.as_deref()).zip(new.and_then(|own| own.judged.as_deref()));
    match (row.verdict, both) {
        (Verdict::Changed, Some((one, other))) => changed(one, other),
        (Verdict::Lost, _) => {
            Change { message: "no item of the new bank has this id or asks this".to_owned(), ..Change::default() }
        }
        (Verdict::Added, _) => {
            Change { message: "no item of the old bank has this id or asks this".to_owned(), ..Change::default() }
        }
        (Verdict::Renamed, _) => {
            Change { message: "the same question and answer under another id".to_owned(), ..Change::default() }
        }
        _ => Change { message: row.why().to_owned(), ..Change::default() },
    }
}

type Judged = (Item, Judgement, ItemPrint);

fn changed(old: &Judged, new: &Judged) -> Change {
    let mut told = Vec::new();
    if old.2.task != new.2.task {
        told.push(("task", [old, new].map(|own| own.0.task.name().to_owned()), "the task is another".to_owned()));
    }
    if old.2.steps.len() == new.2.steps.len() {
        for at in 0..old.2.steps.len() {
            changed_step(at, old, new, &mut told);
        }
    } else {
        let count = |own: &Judged| own.2.steps.len().to_string();
        let message = format!("{} steps were, {} are", count(old), count(new));
        told.push(("steps", [count(old), count(new)], message));
    }
    if old.2.contributors != new.2.contributors {
        let all = |own: &Judged| own.0.answers.iter().map(drawing_text).collect::<Vec<_>>().join(" ");
        told.push(("answers", [all(old), all(new)], "the set of contributors is another".to_owned()));
    }
    if old.2.options != new.2.options {
        let all = |own: &Judged| own.0.options.iter().map(drawing_text).collect::<Vec<_>>().join(" ");
        told.push(("options", [all(old), all(new)], options_words(&old.2.options, &new.2.options)));
    }
    if old.2.keys != new.2.keys {
        let key = |own: &Judged| own.0.key.as_ref().map(|key| key.text.trim().to_owned()).unwrap_or_default();
        let message = format!("the key was '{}' and is '{}'", key(old), key(new));
        told.push(("key", [key(old), key(new)], message));
    }
    changed_rest(old, new, &mut told);
    let mut fields: Vec<&str> = Vec::new();
    for (field, ..) in &told {
        if !fields.contains(field) {
            fields.push(field);
        }
    }
    let values = |side: usize| told.iter().map(|(_, values, _)| values[side].as_str()).collect::<Vec<_>>().join(" | ");
    let mut message = told.iter().map(|(.., words)| words.as_str()).collect::<Vec<_>>().join("; ");
    let class = |own: &Judged| match own.1.class {
        Class::Sound => "sound",
        Class::Faulty => "faulty",
        Class::Undecided => "undecided",
        Class::Unreadable => "unreadable",
    };
    let _ = write!(message, "; the item was {} and is {}", class(old), class(new));
    Change { field: fields.join(" "), old: values(0), new: values(1), message }
}

/// The fields that say how an answer is taken.
fn changed_rest(old: &Judged, new: &Judged, told: &mut Told) {
    let text = |field: &Option<Field>| field.as_ref().map(|own| own.text.trim().to_owned()).unwrap_or_default();
    if old.2.major != new.2.major {
        let values = [old, new].map(|own| text(&own.0.major));
        let message = format!("the contributor that counts most was '{}' and is '{}'", values[0], values[1]);
        told.push(("major", values, message));
    }
    if old.2.accept != new.2.accept {
        let values = [old, new].map(|own| own.2.accept.name().to_owned());
        let message = format!("the item accepted any {} and accepts any {}", values[0], values[1]);
        told.push(("accept", values, message.replace("any drawing", "the drawing alone")));
    }
    if old.2.omits != new.2.omits {
        let values = [old, new].map(|own| text(&own.0.omits));
        let words = |value: &str| if value.is_empty() { "nothing".to_owned() } else { format!("'{value}'") };
        let message = format!("left out on purpose was {} and is {}", words(&values[0]), words(&values[1]));
        told.push(("omits", values, message));
    }
}

type Told = Vec<(&'static str, [String; 2], String)>;

fn changed_step(at: usize, old: &Judged, new: &Judged, told: &mut Told) {
    let (one, other): (&StepPrint, &StepPrint) = (&old.2.steps[at], &new.2.steps[at]);
    let (Some(old_step), Some(new_step)) = (old.0.steps.get(at), new.0.steps.get(at)) else { return };
    let of_step = if old.2.steps.len() > 1 { format!(" of step {}", at + 1) } else { String::new() };
    let audits = (old.1.steps.get(at), new.1.steps.get(at));
    // A start that goes on from the answer before differs where that does, which has been told.
    let tells_start = one.start != other.start && (at == 0 || (one.draws_start && other.draws_start));
    if tells_start {
        let text = [old_step, new_step].map(|own| own.start.as_ref().map(drawing_text).unwrap_or_default());
        let starts = audits.0.and_then(|own| own.start.as_ref()).zip(audits.1.and_then(|own| own.start.as_ref()));
        told.push(("start", text, format!("the start{of_step} is another{}", words(starts))));
    }
    let arrows = [old_step, new_step].map(|own| own.arrows.as_ref().map(arrows_text).unwrap_or_default());
    let asks_the_same = one.question == other.question || one.resolved == other.resolved;
    if one.start == other.start && !asks_the_same {
        let message = format!("the arrows{of_step} were '{}' and are '{}'", arrows[0], arrows[1]);
        told.push(("arrows", arrows, message));
    }
    let is_placed_otherwise = asks_the_same
        && (one.placed.zip(other.placed).is_some_and(|(a, b)| a != b) || one.is_led_to != other.is_led_to);
    if one.answer != other.answer || is_placed_otherwise {
        let text = [old_step, new_step].map(|own| own.answer.as_ref().map(drawing_text).unwrap_or_default());
        let answers = audits.0.and_then(|own| own.answer.as_ref()).zip(audits.1.and_then(|own| own.answer.as_ref()));
        let message = if one.answer == other.answer {
            format!("the answer{of_step} is the same drawing with its labels at other atoms")
        } else {
            format!("the answer{of_step} is another{}", words(answers))
        };
        told.push(("answer", text, message));
    }
}

/// How two drawings differ, in the words of the audit.
fn words(both: Option<(&Structure, &Structure)>) -> String {
    let Some((old, new)) = both else { return String::new() };
    let mut bare = new.clone();
    bare.clear_labels();
    let compared = compare(old, &bare, &LabelIndex::default(), STEPS);
    let all = &compared.differences.list;
    let (old, new) = compared.drawings(old, new);
    let mut words: Vec<String> =
        all.iter().take(NAMED).map(|difference| difference.words_between(old, new, &NAMES)).collect();
    if words.is_empty() {
        return " in its stereo marks or its species".to_owned();
    }
    if all.len() > NAMED {
        words.push(format!("and {} more differences", all.len() - NAMED));
    }
    format!(": {}", words.join("; "))
}

fn options_words(old: &[u64], new: &[u64]) -> String {
    let sorted = |own: &[u64]| {
        let mut own = own.to_vec();
        own.sort_unstable();
        own
    };
    if sorted(old) == sorted(new) {
        return "the options stand in another order".to_owned();
    }
    let letter = |at: usize| crate::bank::key::letter(at);
    let most = old.len().max(new.len());
    let other: Vec<String> = (0..most).filter(|at| old.get(*at) != new.get(*at)).map(letter).collect();
    format!("other options: {}", other.join(", "))
}
