//! `keyassay audit [PATH…]`.

use super::doubt::encodings_in_doubt;
use super::earlier::{self, Earlier, OwnFiles};
use super::explain::{Given, explain};
use super::faults::FirstFaults;
use super::progress::Progress;
use super::reports::{ReportName, Reports};
use super::settings::{Applied, BankOptions, Octet};
use super::waiting::Waiting;
use super::{Ending, clock, interrupt, output, shard};
use crate::audit::{Chunks, Content, Input, Look, Partials, Plan, Reporter, Shard, Spool, Summary, gather};
use crate::bank::{self, Format, walk};
use crate::demonstration;
use crate::findings::{Distractors, Severity};
use crate::report::html::{About, CardRenderer};
use crate::report::stage::{Placed, Stage};
use crate::report::terminal;
use crate::source::counted;
use crate::source::path::name_of;
use anyhow::Context as _;
use indicatif::{ProgressBar, ProgressStyle};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// Arguments of `keyassay audit`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Files and folders of banks; `-` is standard input. Without any, the built-in demonstration bank is audited.
    paths: Vec<PathBuf>,
    /// Folder for the reports.
    #[arg(long, value_name = "DIR", default_value = "reports")]
    pub(super) out: PathBuf,
    /// Reports to write, separated by commas.
    #[arg(long, value_name = "LIST", value_delimiter = ',', default_value = "csv,html,json")]
    write: Vec<ReportName>,
    /// The severity from which findings make the exit status 1.
    #[arg(long, value_name = "SEVERITY", default_value = "error")]
    pub(super) fail_on: FailOn,
    #[command(flatten)]
    bank: BankOptions,
    /// A list of known findings, which do not fail the run (columns item, finding, reason, until); else that of the profile.
    #[arg(long, value_name = "FILE")]
    pub(super) known: Option<PathBuf>,
    /// Start a list of known findings with all that fail this run.
    #[arg(long, value_name = "FILE")]
    pub(super) write_known: Option<PathBuf>,
    /// The folder of an earlier audit with its audit.json: what is new, gone and unchanged goes to changes.csv.
    #[arg(long, value_name = "DIR")]
    pub(super) since: Option<PathBuf>,
    /// Print what applies and from where, and audit nothing.
    #[arg(long)]
    explain_profile: bool,
    /// Which shells are over-full: as conventionally drawn (usual), or beyond 8 for all main-group atoms (strict).
    #[arg(long, value_name = "RULE")]
    octet: Option<Octet>,
    /// How faults of wrong options are judged: notes, since that is often their purpose (usual), or errors (strict).
    #[arg(long, value_name = "HOW")]
    distractors: Option<DistractorFaults>,
    /// Threads; all cores by default.
    #[arg(long, value_name = "N")]
    jobs: Option<usize>,
    /// Format of standard input and of files whose ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", value_parser = format_names(), ignore_case = true)]
    format: Option<String>,
    /// Show sound items in the page too.
    #[arg(long)]
    all: bool,
    /// Judge only every N-th part of the banks, the I-th, and keep what is found in DIR for `keyassay gather`.
    #[arg(long, value_name = "I/N", conflicts_with_all = ["since", "write_known"])]
    pub(super) shard: Option<Shard>,
    /// No summary, no progress.
    #[arg(long)]
    pub(super) quiet: bool,
}

impl Arguments {
    /// The same audit with the reports, the place and the threads of a gathering.
    pub(super) fn gathered(self, gathering: &super::gather::Arguments) -> Self {
        let super::gather::Arguments { out, write, fail_on, jobs, quiet, .. } = gathering;
        let (out, write) = (out.clone(), write.clone());
        Self { out, write, fail_on: *fail_on, jobs: *jobs, quiet: *quiet, shard: None, ..self }
    }
}

/// The formats that `--as` may name.
pub(super) fn format_names() -> clap::builder::PossibleValuesParser {
    clap::builder::PossibleValuesParser::new(Format::NAMES.iter().map(|(name, _)| *name))
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum FailOn {
    Error,
    Warning,
    Never,
}

impl FailOn {
    pub(super) fn threshold(self) -> Option<Severity> {
        match self {
            Self::Error => Some(Severity::Error),
            Self::Warning => Some(Severity::Warning),
            Self::Never => None,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum DistractorFaults {
    Usual,
    Strict,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    run_with(arguments, None)
}

/// Runs the command, with what shards have judged.
pub(super) fn run_with(arguments: &Arguments, partials: Option<&mut Partials>) -> anyhow::Result<Ending> {
    let format = arguments.format.as_deref().and_then(Format::from_name);
    let demonstration = arguments.paths.is_empty();
    let applied = applied(arguments)?;
    if arguments.explain_profile {
        output::print(&explain(&applied, &given(arguments)))?;
        return Ok(Ending::Fine);
    }
    let (inputs, passed) =
        if demonstration { (demonstration::inputs(), Passed::default()) } else { inputs(arguments, format, &applied)? };
    passed.tell();
    for doubt in encodings_in_doubt(&inputs, applied.profile.encoding) {
        output::say(&doubt);
    }
    super::jobs::start(arguments.jobs)?;
    if let Some(shard) = arguments.shard {
        return shard::run(arguments, shard, &plan(arguments, &applied)?, &inputs);
    }
    let (summary, place, extra) = audit(arguments, &inputs, &passed, &applied, partials)?;
    if !arguments.quiet {
        if demonstration {
            output::print("No path given: this is the audit of the built-in demonstration bank.\n\n")?;
        }
        if let Some(path) = &applied.path {
            output::print(&format!("Profile: {}\n\n", terminal::plain(&name_of(path))))?;
        }
        output::print(&terminal::summary(&summary))?;
        output::print(&extra)?;
        output::print(&next(arguments, &place.folder, demonstration))?;
        output::print(&format!("{}\n", terminal::CAUTION))?;
    }
    output::all_replaced(&place)?;
    if summary.interrupted {
        return Ok(Ending::Interrupted);
    }
    if let ([], [(name, what), ..], 0) = (&summary.unread[..], &summary.without_items[..], summary.totals.items) {
        anyhow::bail!("nothing could be read: {name}: {what}");
    }
    if summary.totals.items == 0 && !summary.unread.is_empty() {
        anyhow::bail!("nothing could be read: {}: {}", summary.unread[0].0, summary.unread[0].1);
    }
    if demonstration {
        return Ok(Ending::Fine);
    }
    let Some(threshold) = arguments.fail_on.threshold() else { return Ok(Ending::Fine) };
    let found = summary.totals.worst().is_some_and(|worst| worst >= threshold) || !summary.unread.is_empty();
    Ok(if found { Ending::Found } else { Ending::Fine })
}

/// Where the reports are, and what to look at next.
fn next(arguments: &Arguments, place: &Path, demonstration: bool) -> String {
    let mut text = format!("\nReports are in {}.\n", terminal::plain(&name_of(place)));
    if arguments.write.contains(&ReportName::Html) {
        let page = place.join("audit.html");
        let _ = writeln!(text, "Next: open {} in a browser.", terminal::plain(&name_of(&page)));
    }
    if demonstration {
        text += "A bank of your own: keyassay audit BANK. Its faults make the status 1; these do not.\n";
    }
    text
}

/// The profile that applies, with the options that change it. The demonstration has none but one that is named.
fn applied(arguments: &Arguments) -> anyhow::Result<Applied> {
    let mut applied = Applied::for_banks(&arguments.bank, &arguments.paths)?;
    if let Some(octet) = arguments.octet {
        applied.profile.octet = octet.rule();
    }
    if let Some(distractors) = arguments.distractors {
        applied.profile.distractors = match distractors {
            DistractorFaults::Usual => Distractors::Usual,
            DistractorFaults::Strict => Distractors::Strict,
        };
    }
    Ok(applied)
}

/// What options say, for people who ask from where it comes.
fn given(arguments: &Arguments) -> Vec<Given> {
    let word = |is_strict: bool| if is_strict { "\"strict\"" } else { "\"usual\"" }.to_owned();
    vec![
        Given { key: "octet", value: arguments.octet.map(|own| word(own == Octet::Strict)) },
        Given { key: "distractors", value: arguments.distractors.map(|own| word(own == DistractorFaults::Strict)) },
        Given { key: "known", value: arguments.known.as_deref().map(|own| format!("\"{}\"", own.display())) },
        Given { key: "encoding", value: arguments.bank.encoding.map(|own| format!("\"{}\"", own.name())) },
    ]
}

/// Files that were met and not audited.
#[derive(Debug, Default)]
pub(crate) struct Passed {
    /// No bank by their ending.
    pub(crate) skipped: u64,
    /// Left out by the profile, or the audit's own.
    pub(crate) left_out: u64,
    /// What there is to say of some of them.
    pub(crate) told: Vec<String>,
}

impl Passed {
    /// Notes a file with the ending of a bank that is none.
    fn over(&mut self, file: &Path, why: &str) {
        self.skipped += 1;
        self.told.push(format!("passed over: {}: {}", terminal::plain(&name_of(file)), terminal::plain(why)));
    }

    /// Says what there is to say: of the first files, where there are many.
    fn tell(&self) {
        self.told.iter().take(TOLD).for_each(|told| output::say(told));
        if let Some(more @ 1..) = self.told.len().checked_sub(TOLD) {
            output::say(&format!("passed over or not entered, too: {}", counted(more as i64, "more file")));
        }
    }
}

/// Files that are named one by one. Who walks over a tree of programs meets thousands.
const TOLD: usize = 20;

fn inputs(arguments: &Arguments, format: Option<Format>, applied: &Applied) -> anyhow::Result<(Vec<Input>, Passed)> {
    inputs_of(&arguments.paths, format, applied, Some(&OwnFiles::new(arguments, applied)))
}

/// The banks that paths name, and how many files were passed over, for commands that have no files of their own among them.
pub(super) fn files(paths: &[PathBuf], format: Option<Format>, applied: &Applied) -> anyhow::Result<(Vec<Input>, u64)> {
    let (inputs, passed) = inputs_of(paths, format, applied, None)?;
    passed.tell();
    for doubt in encodings_in_doubt(&inputs, applied.profile.encoding) {
        output::say(&doubt);
    }
    Ok((inputs, passed.skipped + passed.left_out))
}

pub(crate) fn inputs_of(
    paths: &[PathBuf],
    format: Option<Format>,
    applied: &Applied,
    own: Option<&OwnFiles>,
) -> anyhow::Result<(Vec<Input>, Passed)> {
    let mut inputs = Vec::new();
    let mut passed = Passed::default();
    let settings = Arc::new(applied.profile.bank());
    for path in paths {
        if path == Path::new("-") {
            let format = format.context("standard input needs --as FORMAT (csv, tsv, jsonl, json, smi, ...)")?;
            inputs.push(Input {
                name: "-".to_owned(),
                format,
                encoding: None,
                content: Content::Stdin(Spool::default()),
            });
            continue;
        }
        anyhow::ensure!(path.exists(), "{}: no such file or folder", path.display());
        let walk = walk::walk(path, format);
        anyhow::ensure!(
            !walk.files.is_empty() || path.is_dir(),
            "{}: its ending names no format: use --as FORMAT",
            path.display()
        );
        passed.told.extend(walk.faults.iter().map(|fault| terminal::plain(fault)));
        passed.skipped += walk.skipped as u64;
        for object in &walk.objects {
            passed.over(object, "it holds one object, where a bank is an array of them");
        }
        for (file, format) in walk.files {
            if path.is_dir() && (!applied.takes(&file) || own.is_some_and(|own| own.holds(&file))) {
                passed.left_out += 1;
                continue;
            }
            if path.is_dir()
                && let Some(why) = other_table(&file, format, &settings)
            {
                passed.over(&file, &why);
                continue;
            }
            let (name, encoding) = (name_of(&file), applied.encoding_of(&file));
            inputs.push(Input { name, format, encoding, content: Content::Path(file) });
        }
    }
    anyhow::ensure!(!inputs.is_empty(), "there is no bank to read in {}", paths[0].display());
    Ok((inputs, passed))
}

/// Bytes of a workbook that is looked at before it is read: opening one reads it through.
const SMALL_BOOK: u64 = 8 << 20;

/// Why a file that was met in a folder is a table of something else, if it is: a list of people beside the banks, say. One that
/// cannot be read at all is for the audit to tell.
fn other_table(file: &Path, format: Format, settings: &Arc<bank::Settings>) -> Option<String> {
    let is_small = || std::fs::metadata(file).is_ok_and(|own| own.len() <= SMALL_BOOK);
    match format {
        Format::Csv | Format::Tsv => {}
        Format::Workbook if is_small() => {}
        _ => return None,
    }
    let opened = bank::open("", format, Box::new(std::fs::File::open(file).ok()?), settings);
    if let Err(bank::OpenError::OtherTable(why)) = opened { Some(why) } else { None }
}

/// What is read and how it is judged.
fn plan(arguments: &Arguments, applied: &Applied) -> anyhow::Result<Plan> {
    let profile = &applied.profile;
    let page = arguments.write.contains(&ReportName::Html);
    Ok(Plan {
        bank: Arc::new(profile.bank()),
        judge: profile.judge(),
        severities: profile.severities.clone(),
        known: Arc::new(earlier::known(arguments.known.as_deref(), applied)?),
        show_sound: arguments.all && page,
        take_marks: arguments
            .write
            .iter()
            .any(|name| matches!(name, ReportName::Csv | ReportName::Json | ReportName::Xlsx)),
        find_places: arguments.write.contains(&ReportName::Sarif),
        read: None,
        look: Look::First,
        stop: Some(interrupt::watched()),
        renderer: page.then(|| Arc::new(CardRenderer { octet: profile.octet }) as _),
    })
}

/// Gives the folder in which the reports are, too, and what there is to say of earlier audits.
fn audit(
    arguments: &Arguments,
    inputs: &[Input],
    passed: &Passed,
    applied: &Applied,
    mut partials: Option<&mut Partials>,
) -> anyhow::Result<(Summary, Placed, String)> {
    let mut plan = plan(arguments, applied)?;
    if let Some(partials) = &partials {
        shard::hold(partials.manifest(), &plan)?;
    }
    let (mut summary, place, told) = audit_with(arguments, inputs, passed, &plan, partials.as_deref_mut())?;
    if !plan.look_again(&mut summary) {
        return Ok((summary, place, told));
    }
    if let Some(partials) = partials.as_deref_mut() {
        partials.begin_again()?;
    }
    audit_with(arguments, inputs, passed, &plan, partials)
}

fn reports<'a>(arguments: &'a Arguments, passed: &Passed, plan: &Plan) -> Reports<'a> {
    Reports {
        write: &arguments.write,
        about: about(arguments, passed.skipped),
        renderer: CardRenderer { octet: plan.judge.octet },
        cards: plan.judge.limits.page_cards,
        threshold: arguments.fail_on.threshold(),
        place: &arguments.out,
    }
}

/// The audit under a plan. Nothing is left of one that is to be repeated.
fn audit_with(
    arguments: &Arguments,
    inputs: &[Input],
    passed: &Passed,
    plan: &Plan,
    partials: Option<&mut Partials>,
) -> anyhow::Result<(Summary, Placed, String)> {
    let mut earlier = Earlier::check(arguments)?;
    let stage =
        Stage::create(&arguments.out).with_context(|| format!("cannot make the folder {}", arguments.out.display()))?;
    let out = stage.folder();
    let mut reporters = reports(arguments, passed, plan).create(out)?;
    earlier.begin(arguments, out)?;
    let progress = Progress::new(arguments.quiet, inputs);
    let plan = Plan { read: Some(progress.counter()), ..plan.clone() };
    let mut borrowed: Vec<&mut dyn Reporter> = reporters.iter_mut().map(|reporter| reporter.as_mut() as _).collect();
    borrowed.extend(earlier.reporters());
    let mut faults = FirstFaults::default();
    borrowed.push(&mut faults);
    let mut waiting = Waiting::default();
    borrowed.push(&mut waiting);
    let chunks = partials.map(Chunks::of).unwrap_or_default();
    let mut summary = gather(&plan, inputs, chunks, &mut borrowed, &mut |items| progress.tell(items))
        .with_context(|| format!("cannot write the reports in {}", arguments.out.display()))?;
    progress.end();
    if summary.is_to_be_repeated {
        return Ok((summary, Placed::default(), String::new()));
    }
    // The demonstration's faults are its purpose.
    if !arguments.quiet && !arguments.paths.is_empty() {
        eprint!("{}", faults.text());
    }
    drop(reporters);
    let told = earlier.end();
    let place = stage
        .finish(summary.interrupted)
        .with_context(|| format!("cannot write the reports in {}", arguments.out.display()))?;
    let has = |name| arguments.write.contains(&name);
    // The demonstration's bank is none of the user's files.
    let told = if arguments.paths.is_empty() {
        told
    } else {
        told + &waiting.text(&place.folder, has(ReportName::Csv), has(ReportName::Xlsx))
    };
    summary.skipped = passed.skipped;
    summary.left_out = passed.left_out;
    Ok((summary, place, told))
}

/// What the page says of this audit. That of the demonstration names no day, so that it can be published and compared.
fn about(arguments: &Arguments, skipped: u64) -> About {
    if arguments.paths.is_empty() {
        let what = "the demonstration bank of keyassay".to_owned();
        return About { what, when: String::new(), skipped };
    }
    let paths: Vec<String> = arguments.paths.iter().map(|path| name_of(path)).collect();
    About { what: paths.join(", "), when: clock::now(), skipped }
}

/// A counter on standard error, silent where that is no terminal.
pub(super) fn progress_bar(quiet: bool) -> ProgressBar {
    let bar = if quiet { ProgressBar::hidden() } else { ProgressBar::new_spinner() };
    if let Ok(style) = ProgressStyle::with_template("{spinner} {human_pos} items, {per_sec}") {
        bar.set_style(style);
    }
    // Nobody sees one that is hidden; it needs no thread.
    if !bar.is_hidden() {
        bar.enable_steady_tick(Duration::from_millis(200));
    }
    bar
}
