//! One bank as the numbers of its items: at most 56 bytes an item, and 8 while items are matched.

use super::print::{Beside, ItemPrint, Print, of_item, of_text};
use crate::audit::{Input, Unswept, sweep};
use crate::bank::{Batch, Record, Settings};
use crate::findings::{Context, Judgement, Settings as JudgeSettings, content, judge};
use std::io;
use std::sync::Arc;

/// The numbers of a bank's items, in its order.
#[derive(Debug, Default)]
pub struct Indexed {
    /// By item.
    pub prints: Vec<Print>,
    /// The first item of each file, and the file.
    files: Vec<(u32, Arc<str>)>,
    /// By input: the first item of each of its batches.
    pub(super) batches: Vec<Vec<u32>>,
    /// What could not be read.
    pub unswept: Unswept,
}

impl Indexed {
    /// The file in which an item stands.
    #[must_use]
    pub fn file(&self, at: u32) -> Arc<str> {
        let next = self.files.partition_point(|(first, _)| *first <= at);
        next.checked_sub(1).and_then(|own| self.files.get(own)).map_or_else(|| Arc::from(""), |own| Arc::clone(&own.1))
    }
}

/// Judges one record, and makes its print.
pub(super) fn judged(context: &Context<'_>, record: &Record, file: &str) -> (Judgement, ItemPrint) {
    let judgement = judge(context, record, file);
    let print = match &record.content {
        Ok(item) => {
            let beside = Beside {
                options: content::options(context, item),
                accept: item.accept.unwrap_or(context.accept),
                answers: content::answers(context, item, &judgement.steps),
                omits: item.omits.as_ref().map_or(Some((false, Vec::new())), |field| content::omits(context, field)),
            };
            of_item(item, &judgement, &beside)
        }
        Err(_) => ItemPrint::default(),
    };
    (judgement, print)
}

/// Reads a bank.
///
/// # Errors
/// It has more items than can be numbered.
pub fn index(
    settings: &Arc<Settings>,
    judging: &JudgeSettings,
    inputs: &[Input],
    progress: &mut (dyn FnMut(u64) + Send),
) -> io::Result<Indexed> {
    let mut all = Indexed { batches: vec![Vec::new(); inputs.len()], ..Indexed::default() };
    let work = |input: usize, _, batch: Batch| {
        let file = batch.file().unwrap_or_else(|| Arc::from(inputs[input].name.as_str()));
        let (chunk, records) = batch.records();
        let context = Context::new(judging, &chunk);
        let print = |record: &Record| match &record.content {
            Ok(item) => judged(&context, record, &file).1.brief(item, record.line),
            // A record that is not well formed may still say which item it is.
            Err(bad) => {
                let id = bad.id.as_ref().filter(|id| !id.trim().is_empty());
                Print { id: id.map_or(0, |id| of_text(id) | 1), line: record.line, ..Print::default() }
            }
        };
        let prints: Vec<Print> = records.iter().map(print).collect();
        (file, prints)
    };
    let unswept = sweep(settings, inputs, work, |input, (file, prints)| {
        let first = u32::try_from(all.prints.len()).map_err(io::Error::other)?;
        all.batches[input].push(first);
        if all.files.last().is_none_or(|(_, last)| *last != file) {
            all.files.push((first, file));
        }
        all.prints.extend(prints);
        progress(all.prints.len() as u64);
        Ok(())
    })?;
    all.unswept = unswept;
    Ok(all)
}
