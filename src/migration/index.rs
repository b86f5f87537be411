//! One bank as the numbers of its items: 24 bytes an item as it is written, and 28 more where that does not settle what became of it.

use super::print::{Beside, Content, ItemPrint, of_item, of_outline};
use super::written::Written;
use crate::audit::{Input, Unswept, sweep};
use crate::bank::{Batch, Chunk, Plain, Record, Settings, Taker};
use crate::findings::quick::Outliner;
use crate::findings::{Context, Judgement, Settings as JudgeSettings, content, judge};
use std::io;
use std::sync::Arc;

/// The items of a bank as they are written, in its order.
#[derive(Debug, Default)]
pub struct Indexed {
    /// By item.
    pub items: Vec<Written>,
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

/// Reads a bank.
///
/// # Errors
/// It has more items than can be numbered.
pub fn index(
    settings: &Arc<Settings>,
    inputs: &[Input],
    progress: &mut (dyn FnMut(u64) + Send),
) -> io::Result<Indexed> {
    let mut all = Indexed { batches: vec![Vec::new(); inputs.len()], ..Indexed::default() };
    let work = |input: usize, _, batch: Batch| {
        let file = batch.file().unwrap_or_else(|| Arc::from(inputs[input].name.as_str()));
        let mut taken = AsWritten(Vec::with_capacity(batch.likely_records()));
        batch.hand_over(&mut taken);
        (file, taken.0)
    };
    let unswept = sweep(settings, inputs, work, |input, (file, items)| {
        let first = number(all.items.len())?;
        all.batches[input].push(first);
        if all.files.last().is_none_or(|(_, last)| *last != file) {
            all.files.push((first, file));
        }
        all.items.extend(items);
        progress(all.items.len() as u64);
        Ok(())
    })?;
    // The last number stands for no item.
    number(all.items.len())?;
    all.unswept = unswept;
    Ok(all)
}

fn number(count: usize) -> io::Result<u32> {
    u32::try_from(count).map_err(io::Error::other)
}

/// Takes items as they are written.
struct AsWritten(Vec<Written>);

impl Taker for AsWritten {
    fn plain(&mut self, plain: &Plain<'_>, line: u32) -> bool {
        self.0.push(Written::plain(plain, line));
        true
    }

    fn record(&mut self, record: Record) {
        self.0.push(Written::record(&record));
    }

    fn end(&mut self, _: &Chunk) {}
}

/// Some items of a bank, by their places.
#[derive(Debug, Default)]
pub struct Chosen {
    /// A bit an item.
    words: Vec<u64>,
    /// By word: how many are chosen before it.
    before: Vec<u32>,
}

impl Chosen {
    /// Those of so many items for which this holds.
    #[must_use]
    pub fn new(items: usize, is_chosen: impl Fn(u32) -> bool) -> Self {
        let mut chosen = Self { words: vec![0; items.div_ceil(64)], before: Vec::new() };
        for at in (0..).take(items).filter(|at| is_chosen(*at)) {
            chosen.words[at as usize / 64] |= 1 << (at % 64);
        }
        let mut count = 0;
        for word in &chosen.words {
            chosen.before.push(count);
            count += word.count_ones();
        }
        chosen
    }

    /// How many these are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.words.iter().map(|word| word.count_ones() as usize).sum()
    }

    fn has(&self, at: u32) -> bool {
        self.words.get(at as usize / 64).is_some_and(|word| word >> (at % 64) & 1 != 0)
    }

    /// Whether any from the one to before the other is chosen.
    fn has_any(&self, from: u32, to: u32) -> bool {
        let words = from as usize / 64..(to as usize).div_ceil(64).min(self.words.len());
        words.clone().any(|word| self.words[word] != 0) && (from..to).any(|at| self.has(at))
    }

    /// How many before an item are chosen, if it is.
    fn rank(&self, at: u32) -> Option<usize> {
        let (word, bit) = (at as usize / 64, at % 64);
        let below = self.words.get(word)? & ((1 << bit) - 1);
        self.has(at).then(|| self.before[word] as usize + below.count_ones() as usize)
    }
}

/// What some items of a bank ask and answer.
#[derive(Debug, Default)]
pub struct Contents {
    chosen: Chosen,
    /// By rank among them.
    own: Vec<Content>,
}

impl Contents {
    /// The content of an item, if it was asked for.
    #[must_use]
    pub fn get(&self, at: u32) -> Option<Content> {
        self.own.get(self.chosen.rank(at)?).copied()
    }
}

/// Reads what some items of a bank ask and answer.
///
/// # Errors
/// The bank is no longer what it was.
pub fn contents(
    settings: &Arc<Settings>,
    judging: &JudgeSettings,
    inputs: &[Input],
    indexed: &Indexed,
    chosen: Chosen,
    progress: &mut (dyn FnMut(u64) + Send),
) -> io::Result<Contents> {
    let count = chosen.count();
    let mut own: Vec<Content> = Vec::with_capacity(count);
    if count == 0 {
        return Ok(Contents { chosen, own });
    }
    let work = |input: usize, at: usize, batch: Batch| {
        let firsts = &indexed.batches[input];
        let Some(&first) = firsts.get(at) else { return Vec::new() };
        let next = firsts.get(at + 1).copied().unwrap_or(indexed.items.len() as u32);
        if !chosen.has_any(first, next) {
            return Vec::new();
        }
        let file = batch.file().unwrap_or_else(|| Arc::from(inputs[input].name.as_str()));
        let mut taken = InContent {
            judging,
            chosen: &chosen,
            file: &file,
            outliner: Outliner::new(judging),
            at: first,
            left: Vec::new(),
            found: Vec::with_capacity(batch.likely_records()),
        };
        batch.hand_over(&mut taken);
        taken.found.sort_unstable_by_key(|(at, _)| *at);
        taken.found
    };
    sweep(settings, inputs, work, |_, found| {
        own.extend(found.into_iter().map(|(_, content)| content));
        progress(own.len() as u64);
        Ok(())
    })?;
    if own.len() != count {
        return Err(super::detail::changed_meanwhile());
    }
    Ok(Contents { chosen, own })
}

/// Takes what items ask and answer: the quick way, else by a judgement.
struct InContent<'a> {
    judging: &'a JudgeSettings,
    chosen: &'a Chosen,
    file: &'a str,
    outliner: Outliner,
    /// The item that comes.
    at: u32,
    /// Those that are to be judged.
    left: Vec<(u32, Record)>,
    found: Vec<(u32, Content)>,
}

impl Taker for InContent<'_> {
    fn plain(&mut self, plain: &Plain<'_>, _: u32) -> bool {
        if self.chosen.has(self.at) {
            let Some(outline) = self.outliner.outline(plain) else { return false };
            let accept = plain.accept.unwrap_or(self.judging.accept);
            self.found.push((self.at, of_outline(&outline, plain.task, accept)));
        }
        self.at += 1;
        true
    }

    fn record(&mut self, record: Record) {
        if self.chosen.has(self.at) {
            self.left.push((self.at, record));
        }
        self.at += 1;
    }

    fn end(&mut self, chunk: &Chunk) {
        let context = Context::new(self.judging, chunk);
        let content = |record: &Record| judged(&context, record, self.file).1.content();
        self.found.extend(self.left.drain(..).map(|(at, record)| (at, content(&record))));
    }
}

/// Judges one record, and makes its print.
#[must_use]
pub fn judged(context: &Context<'_>, record: &Record, file: &str) -> (Judgement, ItemPrint) {
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
