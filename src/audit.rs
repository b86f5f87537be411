//! The pipeline: files in, judged items out, in the order of the bank. The only place with threads.
//!
//! One thread cuts files into chunks of whole records while the pool judges the chunks before them; reporters see the
//! items in the order of the bank whatever the number of threads.

mod batch;
mod input;
mod kept;
mod passed;
mod pipeline;
mod shard;
mod spool;
mod sweep;

pub use input::{Content, Input};
pub use shard::{Chunks, Manifest, Partials, Shard, run_shard};
pub use spool::Spool;
pub use sweep::{Unswept, sweep};

use crate::bank::rows::Unasked;
use crate::bank::{OpenError, Settings as BankSettings, Source};
use crate::findings::bankwide::{BankWide, Hindsight};
use crate::findings::{Class, Finding, Name, Settings as JudgeSettings, Severity, StepAudit, classify};
use crate::known::{Entry, Known, Met};
use crate::source::{Mark, counted};
use batch::Judged;
use input::Shared;
use passed::Passed;
use rayon::prelude::*;
use shard::ReadFault;
use std::collections::BTreeMap;
use std::fmt;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What an audit reads and how it judges.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// How banks are read.
    pub bank: Arc<BankSettings>,
    /// How items are judged.
    pub judge: JudgeSettings,
    /// Severities other than the catalogue's.
    pub severities: BTreeMap<Name, Severity>,
    /// Findings that are known and accepted.
    pub known: Arc<Known>,
    /// Whether reporters see sound items too.
    pub show_sound: bool,
    /// Whether the marks of the files are taken, so that they can be corrected later.
    pub take_marks: bool,
    /// Whether the places are found that corrections write over.
    pub find_places: bool,
    /// Draws each item that reporters see, in the threads that judge; absent, nothing is drawn.
    pub renderer: Option<Arc<dyn Renderer>>,
    /// Whether this is the first of two looks at the inputs, or the second.
    pub look: Look,
    /// Where the bytes are counted that are read of files.
    pub read: Option<Arc<AtomicU64>>,
    /// Once it is set, the audit ends with the chunks that are being judged, and its summary says so.
    pub stop: Option<Arc<AtomicBool>>,
}

/// How often the inputs are gone through. What an item is told may depend on one that comes later; few banks have such items.
#[derive(Debug, Clone, Default)]
pub enum Look {
    /// Once: items that could be told more are counted in the notes of the summary.
    #[default]
    Once,
    /// Once more if need be: an audit that shows something too late ends without reports where its inputs can be read again.
    First,
    /// Once more, with what the first look has shown.
    Second(Arc<Hindsight>),
}

impl Plan {
    /// Sets the plan to look once more, with what an audit under it has shown too late; says whether it has.
    pub fn look_again(&mut self, summary: &mut Summary) -> bool {
        if summary.is_to_be_repeated {
            self.look = Look::Second(Arc::new(std::mem::take(&mut summary.hindsight)));
        }
        summary.is_to_be_repeated
    }

    /// Gives findings the severities that are set for them. One that is graver or lighter for a reason of its own keeps that.
    pub fn weigh(&self, findings: &mut [Finding]) {
        for finding in findings {
            if let Some(severity) = self.severities.get(&finding.name)
                && finding.severity == finding.name.entry().severity
            {
                finding.severity = *severity;
            }
        }
    }

    fn is_stopped(&self) -> bool {
        self.stop.as_ref().is_some_and(|stop| stop.load(Ordering::Relaxed))
    }
}

/// Makes the card of an item, which costs more than to judge it.
pub trait Renderer: fmt::Debug + Send + Sync {
    /// The card of one item, for [`Audited::card`].
    fn card(&self, item: &Audited) -> String;
}

/// A judged item as reporters see it.
#[derive(Debug, Clone)]
pub struct Audited {
    /// The file's name.
    pub file: Arc<str>,
    /// Line on which the item starts.
    pub line: u32,
    /// The item's id.
    pub id: String,
    /// Whether it is an item; else something of a file that is none and has a finding, such as an entry of a package.
    pub is_item: bool,
    /// Free text of the bank.
    pub prompt: String,
    /// Free text of the bank.
    pub tags: String,
    /// How it comes out.
    pub class: Class,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was worked out.
    pub steps: Vec<StepAudit>,
    /// Stereo marks that were not compared, at atoms that arrows touch.
    pub stereo_not_judged: u32,
    /// Typographic characters of its arrow fields, each with what it was read as.
    pub normalised: Vec<(char, &'static str)>,
    /// What the plan's renderer made of it; empty where there is none.
    pub card: String,
}

/// Counts of an audit or of one file of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Totals {
    /// Items read.
    pub items: u64,
    /// Items with nothing wrong.
    pub sound: u64,
    /// Items with an error.
    pub faulty: u64,
    /// Items whose comparison could not be decided.
    pub undecided: u64,
    /// Items that could not be read.
    pub unreadable: u64,
    /// Items with a warning, whatever their class.
    pub warned: u64,
    /// Findings by name.
    pub findings: BTreeMap<&'static str, u64>,
    /// Findings that are known, by name; they are counted nowhere else.
    pub known: BTreeMap<&'static str, u64>,
    /// Of these, findings that are notes for a reason of their own though their name is graver: faults of wrong options, say.
    pub softened: BTreeMap<&'static str, u64>,
    /// Of these, further names of a mismatch that is counted too, so that one fault has several names.
    pub further_names: BTreeMap<&'static str, u64>,
    /// Findings by severity: notes, warnings, errors.
    pub by_severity: [u64; 3],
    /// Stereo marks that were not compared, at atoms that arrows touch.
    pub stereo_not_judged: u64,
    /// Items of other subjects, which have no chemistry and are not judged.
    pub not_ours: u64,
    /// Rows without a question: titles, categories, totals, notes, blank rows.
    pub unasked: u64,
}

impl Totals {
    /// Counts one item, or what is no item and has findings.
    fn count_passed(&mut self, item: &Audited) {
        if item.is_item {
            self.count(item.class, &item.findings);
        } else {
            self.count_findings(&item.findings);
        }
    }

    /// Counts one item.
    pub fn count(&mut self, class: Class, findings: &[Finding]) {
        self.items += 1;
        match class {
            Class::Sound => self.sound += 1,
            Class::Faulty => self.faulty += 1,
            Class::Undecided => self.undecided += 1,
            Class::Unreadable => self.unreadable += 1,
        }
        self.count_findings(findings);
    }

    fn count_findings(&mut self, findings: &[Finding]) {
        let new = || findings.iter().filter(|finding| finding.known.is_none());
        self.warned += u64::from(new().any(|finding| finding.severity == Severity::Warning));
        for finding in findings.iter().filter(|finding| finding.known.is_some()) {
            *self.known.entry(finding.name.entry().name).or_default() += 1;
        }
        for finding in new() {
            let entry = finding.name.entry();
            *self.findings.entry(entry.name).or_default() += 1;
            self.by_severity[finding.severity as usize] += 1;
            let is_mismatch = |other: &&Finding| other.name == Name::MismatchedProduct && other.step == finding.step;
            if finding.severity == Severity::Note && entry.severity != Severity::Note {
                *self.softened.entry(entry.name).or_default() += 1;
            } else if finding.name.is_name_of_mismatch() && new().any(|other| is_mismatch(&other)) {
                *self.further_names.entry(entry.name).or_default() += 1;
            }
        }
    }

    /// Adds other counts.
    pub fn add(&mut self, other: &Self) {
        self.items += other.items;
        self.sound += other.sound;
        self.faulty += other.faulty;
        self.undecided += other.undecided;
        self.unreadable += other.unreadable;
        self.warned += other.warned;
        self.stereo_not_judged += other.stereo_not_judged;
        self.not_ours += other.not_ours;
        self.unasked += other.unasked;
        let by_name = [
            (&mut self.findings, &other.findings),
            (&mut self.known, &other.known),
            (&mut self.softened, &other.softened),
            (&mut self.further_names, &other.further_names),
        ];
        for (own, more) in by_name {
            for (name, count) in more {
                *own.entry(name).or_default() += count;
            }
        }
        for (own, more) in self.by_severity.iter_mut().zip(other.by_severity) {
            *own += more;
        }
    }

    /// What there is to say beside the number of findings of a name; empty for most.
    #[must_use]
    pub fn beside(&self, name: &str) -> String {
        let all = self.findings.get(name).copied().unwrap_or_default();
        let many = |count: &u64| if *count == all { "all".to_owned() } else { count.to_string() };
        let softened = self.softened.get(name).map(|own| format!("{} as notes", many(own)));
        let further = self.further_names.get(name).map(|own| format!("{} with a mismatch, the same fault", many(own)));
        softened.into_iter().chain(further).collect::<Vec<_>>().join(", ")
    }

    /// Findings that are one each: the further names of a mismatch are not counted.
    #[must_use]
    pub fn distinct(&self) -> u64 {
        self.findings.values().sum::<u64>() - self.further_names.values().sum::<u64>()
    }

    /// The gravest severity found.
    #[must_use]
    pub fn worst(&self) -> Option<Severity> {
        [Severity::Error, Severity::Warning, Severity::Note].into_iter().find(|own| self.by_severity[*own as usize] > 0)
    }
}

/// A typographic character that was read as a plain one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Normalised {
    /// What it was read as.
    pub read_as: &'static str,
    /// How often.
    pub count: u64,
    /// The file of the first item that has it.
    pub file: Arc<str>,
    /// The line of that item.
    pub line: u32,
}

impl Summary {
    fn note_normalised(&mut self, item: &Audited) {
        for (found, read_as) in &item.normalised {
            let first = || Normalised { read_as, count: 0, file: Arc::clone(&item.file), line: item.line };
            self.normalised.entry(*found).or_insert_with(first).count += 1;
        }
    }
}

/// What an audit came to.
#[derive(Debug, Clone, Default)]
pub struct Summary {
    /// Counts of the whole.
    pub totals: Totals,
    /// Counts file by file.
    pub files: Vec<(String, Totals)>,
    /// What the files were, where that was asked for.
    pub marks: Vec<(String, Mark)>,
    /// Files that could not be read, and why.
    pub unread: Vec<(String, String)>,
    /// Files of a bank's format that hold no items, and what they hold.
    pub without_items: Vec<(String, String)>,
    /// Files with rows without a question, and which rows.
    pub unasked: Vec<(String, Unasked)>,
    /// What else there is to say of files: sheets that are no table, hidden ones.
    pub notes: Vec<String>,
    /// Typographic characters that were read as plain ones in arrow fields.
    pub normalised: BTreeMap<char, Normalised>,
    /// Which rows of the list of known findings were met.
    pub met: Met,
    /// Rows of the list of known findings whose day has passed.
    pub expired: Vec<Entry>,
    /// Rows of the list of known findings whose findings are gone.
    pub gone: Vec<Entry>,
    /// Files that are no bank.
    pub skipped: u64,
    /// Files that the profile leaves out, and the audit's own.
    pub left_out: u64,
    /// What the items concerned could not be told, since it came later: the same audit with it ([`Look::Second`]) tells all.
    pub hindsight: Hindsight,
    /// Whether the audit ended without reports ([`Look::First`]).
    pub is_to_be_repeated: bool,
    /// Whether the audit was stopped before its end: nothing is known of the items after those counted.
    pub interrupted: bool,
}

/// Takes judged items in the order of the bank.
pub trait Reporter: Send {
    /// Takes one item. Sound items come only where the plan asks for them.
    ///
    /// # Errors
    /// The report cannot be written.
    fn item(&mut self, item: &Audited) -> io::Result<()>;

    /// Takes the summary, after all items.
    ///
    /// # Errors
    /// The report cannot be written.
    fn finish(&mut self, summary: &Summary) -> io::Result<()>;

    /// Whether it takes sound items also where the plan does not show them. They come without what was worked out.
    fn wants_sound(&self) -> bool {
        false
    }

    /// Whether it shows what was worked out about items with findings; else that may be left out.
    fn wants_steps(&self) -> bool {
        false
    }
}

/// Items whose cards are in memory at one time. A card takes some 20 kB.
const DRAWN_AT_ONCE: usize = 256;

/// Audits inputs in order.
///
/// `progress` is told the number of items after each hand-over.
///
/// ```
/// use keyassay::audit::{Audited, Content, Input, Plan, Reporter, Summary, run};
/// use keyassay::bank::Format;
/// use std::io;
///
/// struct Names(Vec<String>);
///
/// impl Reporter for Names {
///     fn item(&mut self, item: &Audited) -> io::Result<()> {
///         self.0.extend(item.findings.iter().map(|finding| format!("{}: {}", item.id, finding.name)));
///         Ok(())
///     }
///
///     fn finish(&mut self, _: &Summary) -> io::Result<()> {
///         Ok(())
///     }
/// }
///
/// let bank = "id,start,arrows,answer\nq1,[CH3:1][Br:2],1-2 -> 2,[CH3+:1].[Br-:2]\nq2,[CH3:1][Br:2],1-3 -> 2,[CH3+:1].[Br-:2]\n";
/// let content = Content::Held(bank.as_bytes().into());
/// let input = Input { name: "bank.csv".to_owned(), format: Format::Csv, encoding: None, content };
/// let mut names = Names(Vec::new());
/// let summary = run(&Plan::default(), &[input], &mut [&mut names], &mut |_| {})?;
/// assert_eq!((summary.totals.items, names.0), (2, vec!["q2: unknown-atom".to_owned()]));
/// # Ok::<(), io::Error>(())
/// ```
///
/// # Errors
/// A reporter failed. Inputs that cannot be read are in the summary.
pub fn run(
    plan: &Plan,
    inputs: &[Input],
    reporters: &mut [&mut dyn Reporter],
    progress: &mut (dyn FnMut(u64) + Send),
) -> io::Result<Summary> {
    gather(plan, inputs, Chunks::default(), reporters, progress)
}

/// As [`run`], with what shards of the same audit have judged; what they have not kept is judged here.
///
/// # Errors
/// A reporter failed, or the partial audits are not of these inputs.
pub fn gather(
    plan: &Plan,
    inputs: &[Input],
    mut chunks: Chunks<'_>,
    reporters: &mut [&mut dyn Reporter],
    progress: &mut (dyn FnMut(u64) + Send),
) -> io::Result<Summary> {
    let bank_wide = match &plan.look {
        Look::Second(hindsight) => BankWide::knowing(hindsight),
        Look::Once | Look::First => BankWide::default(),
    };
    let (summary, settled) = (Summary::default(), Vec::new());
    let mut run = Run { plan, bank_wide, reporters, summary, settled };
    for input in inputs {
        if plan.is_stopped() {
            run.summary.interrupted = true;
            break;
        }
        run.input(input, &mut chunks, progress)?;
    }
    let Run { mut summary, reporters, bank_wide, .. } = run;
    chunks.end(summary.interrupted)?;
    summary.hindsight = bank_wide.hindsight();
    if !summary.hindsight.is_empty() && !summary.interrupted {
        match plan.look {
            Look::First if inputs.iter().all(Input::stays) => {
                summary.is_to_be_repeated = true;
                return Ok(summary);
            }
            Look::First | Look::Once => summary.notes.push(told_late(summary.hindsight.questions())),
            Look::Second(_) => {}
        }
    }
    summary.expired = plan.known.expired(&summary.met).cloned().collect();
    if !summary.interrupted {
        summary.gone = plan.known.gone(&summary.met).cloned().collect();
    }
    for reporter in reporters.iter_mut() {
        reporter.finish(&summary)?;
    }
    Ok(summary)
}

/// What there is to say where the inputs were read once.
fn told_late(questions: usize) -> String {
    let questions = counted(questions as i64, "question");
    format!(
        "{questions} asked again with another answer that is right: only the later items are told, since the input could be read \
         once. Give the bank as a file"
    )
}

/// What judged items pass through, on one thread and in the order of the bank.
struct Run<'a, 'r> {
    plan: &'a Plan,
    bank_wide: BankWide<Passed>,
    reporters: &'a mut [&'r mut dyn Reporter],
    summary: Summary,
    settled: Vec<Passed>,
}

impl Run<'_, '_> {
    /// Judges an input, or says why it was not read.
    fn input(
        &mut self,
        input: &Input,
        chunks: &mut Chunks<'_>,
        progress: &mut (dyn FnMut(u64) + Send),
    ) -> io::Result<()> {
        let plan = self.plan;
        let before = input.state();
        let marker = (plan.take_marks || chunks.are_gathered()).then(Shared::default);
        let mut source = match input.open(&plan.bank, marker.as_ref(), plan.read.as_ref()) {
            Ok(source) => source,
            Err(OpenError::NoItems(what)) => {
                self.summary.without_items.push((input.name.clone(), what));
                return Ok(());
            }
            Err(error) => {
                self.summary.unread.push((input.name.clone(), error.to_string()));
                return Ok(());
            }
        };
        let totals = self.file(input, &mut source, chunks, progress)?;
        self.summary.files.push((input.name.clone(), totals));
        if before != input.state() {
            let why = "changed while it was read: audit it again when nobody writes it";
            self.summary.unread.push((input.name.clone(), why.to_owned()));
        }
        let mark = marker.and_then(|marker| marker.lock().map(|marker| marker.mark()).ok());
        let is_cut_short = self.summary.interrupted;
        chunks.end_of_file(&input.name, mark, is_cut_short)?;
        // Of a file that was not read to its end there is no mark to correct it by.
        let mark = mark.filter(|_| plan.take_marks && !is_cut_short);
        self.summary.marks.extend(mark.map(|mark| (input.name.clone(), input.whole_mark(mark))));
        Ok(())
    }

    fn file(
        &mut self,
        input: &Input,
        source: &mut Source,
        chunks: &mut Chunks<'_>,
        progress: &mut (dyn FnMut(u64) + Send),
    ) -> io::Result<Totals> {
        let plan = self.plan;
        let file: Arc<str> = Arc::from(input.name.as_str());
        let mut totals = Totals::default();
        let mut ended_by = None;
        let keeps_steps = plan.renderer.is_some() || self.reporters.iter().any(|reporter| reporter.wants_steps());
        self.bank_wide.begin_file(&file);
        let read = || match chunks.next(source) {
            Ok(next) => Ok(next.map(|(_, known)| known)),
            Err(ReadFault::Partials(error)) => Err(error),
            Err(ReadFault::Bank(error)) => {
                ended_by = Some(error);
                Ok(None)
            }
        };
        let tell = |judged| {
            self.take(judged, &file, &mut totals)?;
            progress(self.summary.totals.items + totals.items);
            Ok(())
        };
        let judge = |known| batch::judge(plan, keeps_steps, &file, known);
        let is_cut = pipeline::run(read, judge, tell, || plan.is_stopped())?;
        self.summary.interrupted |= is_cut;
        if let Some(error) = ended_by.filter(|_| !is_cut) {
            let why = format!("could not be read to its end: {error}");
            self.summary.unread.push((input.name.clone(), why));
        }
        self.bank_wide.end_of_file(&mut self.settled);
        self.report(&file, &mut totals)?;
        totals.not_ours = source.not_ours();
        let unasked = source.unasked();
        totals.unasked = unasked.iter().map(|(_, own)| own.count).sum();
        self.summary.unasked.extend(unasked);
        self.summary.notes.extend(source.notes());
        self.summary.totals.add(&totals);
        Ok(totals)
    }

    fn take(&mut self, judged: Vec<Judged>, file: &Arc<str>, totals: &mut Totals) -> io::Result<()> {
        self.bank_wide.announce(judged.iter().map(|(_, digest)| digest));
        for (item, digest) in judged {
            self.bank_wide.take(item, digest, &mut self.settled);
        }
        self.report(file, totals)
    }

    /// Counts settled items and hands those with findings to the reporters, drawn if the plan says so, a bounded number at a
    /// time.
    fn report(&mut self, file: &Arc<str>, totals: &mut Totals) -> io::Result<()> {
        let Self { plan, reporters, summary, settled, .. } = self;
        let any_sound = reporters.iter().any(|reporter| reporter.wants_sound());
        let is_shown = |item: &Audited| plan.show_sound || !item.findings.is_empty();
        let mut shown = Vec::new();
        for item in settled.drain(..) {
            let mut item = match item {
                Passed::Sound(_) if !any_sound => {
                    totals.count(Class::Sound, &[]);
                    continue;
                }
                Passed::Sound(sound) => Box::new(sound.audited(file)),
                Passed::Told(sound, findings) => Box::new(sound.told(findings, file, &plan.judge)),
                Passed::Full(item) => item,
            };
            weigh(&mut item, plan);
            summary.note_normalised(&item);
            plan.known.apply(&item.id, &mut item.findings, &mut summary.met);
            totals.count_passed(&item);
            totals.stereo_not_judged += u64::from(item.stereo_not_judged);
            if any_sound || is_shown(&item) {
                shown.push(item);
            }
        }
        for some in shown.chunks_mut(DRAWN_AT_ONCE) {
            if let Some(renderer) = &plan.renderer {
                some.par_iter_mut().filter(|item| is_shown(item)).for_each(|item| item.card = renderer.card(item));
            }
            for item in some {
                for reporter in reporters.iter_mut().filter(|own| is_shown(item) || own.wants_sound()) {
                    reporter.item(item)?;
                }
                item.card = String::new();
            }
        }
        Ok(())
    }
}

/// Weighs the findings of an item, which may change how it comes out.
fn weigh(item: &mut Audited, plan: &Plan) {
    if plan.severities.is_empty() || item.findings.is_empty() {
        return;
    }
    plan.weigh(&mut item.findings);
    item.class = classify(&item.findings);
}
