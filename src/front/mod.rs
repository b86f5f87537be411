//! The front door: what programs call, as people call the commands.
//!
//! ```
//! use keyassay::{Bank, Class};
//!
//! let bank = Bank::text("enolates.csv", "\
//! id,task,start,arrows,answer
//! q1,resonance,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]
//! q2,resonance,[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O:3]
//! ")?;
//! let audit = keyassay::audit(&bank)?;
//! assert_eq!((audit.totals().items, audit.totals().sound, audit.totals().faulty), (2, 1, 1));
//!
//! let item = &audit.items[0];
//! assert_eq!((item.id.as_str(), item.line, item.class), ("q2", 3, Class::Faulty));
//! let finding = &item.findings[0];
//! assert_eq!(finding.name.entry().name, "mismatched-product");
//! assert_eq!(finding.slips.names(), "head-charge-kept");
//! assert_eq!(finding.correction, "[CH2:1]=[CH:2][O-:3]");
//! # Ok::<(), keyassay::Error>(())
//! ```

mod one;
mod structures;

pub use one::{Judge, Verdict};
pub use structures::{Charge, Contributor, Picture, Push, contributors, draw, infer, push};

use crate::audit::{Audited, Content, Input, Look, Plan, Renderer, Reporter, Summary, Totals, run};
use crate::bank::Format;
use crate::bank::given::Given;
use crate::cli::audit::{Passed, inputs_of};
use crate::cli::reports::{ReportName, Reports};
use crate::cli::settings::{Applied, BankOptions};
use crate::demonstration;
use crate::findings::{Finding, Severity};
use crate::report::html::{About, CardRenderer};
use crate::report::stage::Stage;
use crate::structure::OctetRule;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Why something could not be done, as a sentence. What is wrong with a question is a [`Finding`], never an error.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A bank, a profile or a report could not be read or written.
    #[error("{0}")]
    Job(String),
    /// A structure could not be read.
    #[error("{message}")]
    Structure {
        /// What is wrong, and where.
        message: String,
        /// The character of the structure, counted from 1; 0 where it is about the whole.
        column: u32,
    },
    /// Arrows could not be read, or cannot be pushed.
    #[error("{message}")]
    Arrows {
        /// What is wrong, and where.
        message: String,
        /// The character of the arrows, counted from 1; 0 where it is about the whole.
        column: u32,
    },
}

impl Error {
    fn job(error: &anyhow::Error) -> Self {
        Self::Job(format!("{error:#}"))
    }
}

/// How a bank is read and judged, beside what its profile says.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Options {
    /// The profile; without one, `keyassay.toml` beside or above the files of the bank applies.
    pub profile: Option<PathBuf>,
    /// Which shells are over-full.
    pub octet: Option<OctetRule>,
    /// Threads; as many as can run at once where there is none.
    pub jobs: Option<usize>,
    /// Items whose cards are drawn for [`Audited::card`], from the first with findings on.
    pub cards: usize,
    /// Whether items without findings are kept in [`Audit::items`] too.
    pub sound: bool,
    /// Once it is set, the audit ends early, and [`Audit::summary`] says so.
    pub stop: Option<Arc<AtomicBool>>,
}

/// A bank: files and folders, a text, or the rows of a table.
#[derive(Debug, Clone)]
pub struct Bank(Kind);

#[derive(Debug, Clone)]
enum Kind {
    Demonstration,
    Paths(Vec<PathBuf>),
    Text(String, Format, Arc<[u8]>),
    Given(Arc<dyn Given>),
}

impl Bank {
    /// The built-in demonstration bank: the problem sets of a college that does not exist.
    #[must_use]
    pub fn demonstration() -> Self {
        Self(Kind::Demonstration)
    }

    /// Files and folders, as `keyassay audit` takes them.
    pub fn paths<P: Into<PathBuf>>(paths: impl IntoIterator<Item = P>) -> Self {
        Self(Kind::Paths(paths.into_iter().map(Into::into).collect()))
    }

    /// A text that is held in memory; the ending of its name is its format.
    ///
    /// # Errors
    /// The ending names no format.
    pub fn text(name: &str, text: impl Into<Vec<u8>>) -> Result<Self, Error> {
        let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending);
        let format = Format::from_name(ending);
        let format = format.ok_or_else(|| Error::Job(format!("{name}: its ending names no format")))?;
        Ok(Self(Kind::Text(name.to_owned(), format, text.into().into())))
    }

    /// Rows that a program gives. The `line` of an item is its row, counted from 1, its `file` empty.
    #[must_use]
    pub fn given(rows: Arc<dyn Given>) -> Self {
        Self(Kind::Given(rows))
    }

    /// What there is to read, under which profile, and what was passed over.
    fn inputs(&self, options: &Options) -> anyhow::Result<(Vec<Input>, Applied, Passed)> {
        let load = || Applied::load(options.profile.clone());
        let one = |name: &str, format, content| vec![Input { name: name.to_owned(), format, encoding: None, content }];
        let (inputs, mut applied, passed) = match &self.0 {
            Kind::Demonstration => (demonstration::inputs(), load()?, Passed::default()),
            Kind::Text(name, format, bytes) => {
                (one(name, *format, Content::Held(Arc::clone(bytes))), load()?, Passed::default())
            }
            Kind::Given(rows) => {
                (one("", Format::Workbook, Content::Given(Arc::clone(rows))), load()?, Passed::default())
            }
            Kind::Paths(paths) => {
                anyhow::ensure!(!paths.is_empty(), "there is no bank: give the path of one");
                let own = BankOptions { profile: options.profile.clone(), encoding: None };
                let applied = Applied::for_banks(&own, paths)?;
                let (inputs, passed) = inputs_of(paths, None, &applied, None)?;
                (inputs, applied, passed)
            }
        };
        if let Some(octet) = options.octet {
            applied.profile.octet = octet;
        }
        Ok((inputs, applied, passed))
    }

    /// What the page says of its audit.
    fn about(&self) -> String {
        match &self.0 {
            Kind::Demonstration => "the demonstration bank of keyassay".to_owned(),
            Kind::Text(name, ..) => name.clone(),
            Kind::Given(_) => "rows of a table".to_owned(),
            Kind::Paths(paths) => paths.iter().map(|own| own.display().to_string()).collect::<Vec<_>>().join(", "),
        }
    }

    /// Audits the bank. `progress` is told the number of items from time to time.
    ///
    /// # Errors
    /// There is nothing to read, or the profile cannot be.
    pub fn audit(&self, options: &Options, progress: &mut (dyn FnMut(u64) + Send)) -> Result<Audit, Error> {
        let mut work = || {
            let (inputs, applied, passed) = self.inputs(options)?;
            let renderer = CardRenderer { octet: applied.profile.octet };
            let mut plan = plan(options, &applied);
            let mut once = || -> anyhow::Result<(Summary, Vec<Audited>)> {
                let mut keep = Keep { items: Vec::new(), renderer, cards: options.cards, sound: options.sound };
                let mut summary = with_threads(options.jobs, || run(&plan, &inputs, &mut [&mut keep], progress))??;
                plan.look_again(&mut summary);
                Ok((summary, keep.items))
            };
            let (mut summary, mut items) = once()?;
            if summary.is_to_be_repeated {
                (summary, items) = once()?;
            }
            if let (0, Some((name, why)), false) = (summary.totals.items, summary.unread.first(), summary.interrupted) {
                let name = if name.is_empty() { "the rows" } else { name };
                anyhow::bail!("nothing could be read: {name}: {why}");
            }
            Ok(Audit { items, summary, told: passed.told })
        };
        work().map_err(|error| Error::job(&error))
    }

    /// Audits the bank and writes the reports with these names (`csv`, `html`, `json`, `sarif`, `junit`, `xlsx`) into a folder, as
    /// `keyassay audit --out DIR --write LIST` does.
    ///
    /// # Errors
    /// There is nothing to read, no such report, or a report cannot be written.
    pub fn write(&self, options: &Options, out: &Path, reports: &[&str]) -> Result<Summary, Error> {
        let work = || {
            let names = reports.iter().map(|name| {
                <ReportName as clap::ValueEnum>::from_str(name, true).map_err(|_| {
                    anyhow::anyhow!("there is no report '{name}': expected csv, html, json, sarif, junit or xlsx")
                })
            });
            let names: Vec<ReportName> = names.collect::<Result<_, _>>()?;
            let (inputs, applied, passed) = self.inputs(options)?;
            let renderer = CardRenderer { octet: applied.profile.octet };
            let has = |name| names.contains(&name);
            let mut plan = plan(options, &applied);
            plan.take_marks = has(ReportName::Csv) || has(ReportName::Json) || has(ReportName::Xlsx);
            plan.find_places = has(ReportName::Sarif);
            plan.renderer = has(ReportName::Html).then(|| Arc::new(renderer) as _);
            let mut once = || -> anyhow::Result<Summary> {
                let stage = Stage::create(out)?;
                let about = About { what: self.about(), when: String::new(), skipped: passed.skipped };
                let cards = plan.judge.limits.page_cards;
                let threshold = Some(Severity::Error);
                let reports = Reports { write: &names, about, renderer, cards, threshold, place: out };
                let mut reporters = reports.create(stage.folder())?;
                let mut borrowed: Vec<&mut dyn Reporter> = reporters.iter_mut().map(|own| own.as_mut() as _).collect();
                let mut summary = with_threads(options.jobs, || run(&plan, &inputs, &mut borrowed, &mut |_| {}))??;
                drop(reporters);
                if !summary.is_to_be_repeated {
                    let held = stage.finish(summary.interrupted)?.told();
                    anyhow::ensure!(held.is_empty(), held.join("\n"));
                }
                plan.look_again(&mut summary);
                Ok(summary)
            };
            let summary = once()?;
            if summary.is_to_be_repeated { once() } else { Ok(summary) }
        };
        work().map_err(|error| Error::job(&error))
    }
}

/// Audits a bank, with nothing set but what its profile says.
///
/// # Errors
/// There is nothing to read, or the profile cannot be.
///
/// ```
/// let audit = keyassay::audit(&keyassay::Bank::demonstration())?;
/// let totals = audit.totals();
/// assert_eq!(totals.items, totals.sound + totals.faulty + totals.undecided + totals.unreadable);
/// # Ok::<(), keyassay::Error>(())
/// ```
pub fn audit(bank: &Bank) -> Result<Audit, Error> {
    bank.audit(&Options::default(), &mut |_| {})
}

/// What an audit came to.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Audit {
    /// The items with findings, or all where the options say so, in the order of the bank.
    pub items: Vec<Audited>,
    /// Counts, and what there is to say of files.
    pub summary: Summary,
    /// What there is to say of files that were passed over.
    pub told: Vec<String>,
}

impl Audit {
    /// The counts.
    #[must_use]
    pub fn totals(&self) -> &Totals {
        &self.summary.totals
    }

    /// All findings in the order of the bank, each with its item.
    pub fn findings(&self) -> impl Iterator<Item = (&Audited, &Finding)> {
        self.items.iter().flat_map(|item| item.findings.iter().map(move |finding| (item, finding)))
    }
}

fn plan(options: &Options, applied: &Applied) -> Plan {
    let profile = &applied.profile;
    Plan {
        bank: Arc::new(profile.bank()),
        judge: profile.judge(),
        severities: profile.severities.clone(),
        look: Look::First,
        stop: options.stop.clone(),
        ..Plan::default()
    }
}

/// Does work in threads of its own, so that programs which fork or have threads of theirs are left alone.
fn with_threads<T: Send>(jobs: Option<usize>, work: impl FnOnce() -> T + Send) -> anyhow::Result<T> {
    let most = std::thread::available_parallelism().map_or(1, usize::from);
    let threads = jobs.map_or(most, |jobs| jobs.clamp(1, most));
    Ok(rayon::ThreadPoolBuilder::new().num_threads(threads).build()?.install(work))
}

/// Keeps items with findings, the first of them with their cards.
struct Keep {
    items: Vec<Audited>,
    renderer: CardRenderer,
    cards: usize,
    sound: bool,
}

impl Reporter for Keep {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        let is_drawn = self.items.len() < self.cards;
        let card = if is_drawn { self.renderer.card(item) } else { String::new() };
        let Audited { file, id, prompt, tags, findings, normalised, .. } = item;
        self.items.push(Audited {
            file: Arc::clone(file),
            id: id.clone(),
            prompt: prompt.clone(),
            tags: tags.clone(),
            findings: findings.clone(),
            normalised: normalised.clone(),
            steps: Vec::new(),
            card,
            ..*item
        });
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> io::Result<()> {
        Ok(())
    }

    fn wants_sound(&self) -> bool {
        self.sound
    }

    fn wants_steps(&self) -> bool {
        self.cards > 0
    }
}
