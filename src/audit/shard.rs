//! One audit on many machines: each shard judges every n-th chunk and keeps what was found in a partial audit; gathered, the
//! chunks pass through the same pipeline as in one run.
//!
//! A partial audit is a file of JSON lines, each sealed with a digest: what was audited, one line for each chunk of the shard,
//! one for each file of the bank, an end. It is whole or not there. Gathering reads the bank again, to cut it into the same chunks and to see that
//! it has not changed, but judges only what a partial audit does not hold.

mod partials;
mod sealed;

pub use partials::Partials;

use super::batch::{self, Judged};
use super::kept::{Kept, Known};
use super::{Input, Plan, Shared, pipeline};
use crate::bank::{OpenError, Source};
use crate::source::Mark;
use sealed::SealedLines;
use serde::{Deserialize, Serialize};
use std::io::{self, Write};
use std::sync::Arc;

/// Which part of an audit: the `own`-th of `of`, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shard {
    /// Which.
    pub own: u32,
    /// Of how many.
    pub of: u32,
}

impl std::str::FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text.split_once('/').and_then(|(own, of)| Some((own.parse().ok()?, of.parse().ok()?)));
        match parts {
            Some((own, of)) if of <= MOST_SHARDS && (1..=of).contains(&own) => Ok(Self { own, of }),
            _ => Err(format!("expected I/N with I from 1 to N, as 3/8, and N at most {MOST_SHARDS}")),
        }
    }
}

/// Shards of one audit, at most: all partial audits are read side by side.
const MOST_SHARDS: u32 = 512;

impl Shard {
    /// The name of its partial audit.
    #[must_use]
    pub fn file_name(self) -> String {
        format!("shard-{:04}-of-{:04}.jsonl", self.own, self.of)
    }

    fn has(self, chunk: u64) -> bool {
        chunk % u64::from(self.of) + 1 == u64::from(self.own)
    }
}

/// What was audited and how: the same for all shards of one audit, but for the shard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// The program's version.
    pub version: String,
    /// The shard.
    pub shard: Shard,
    /// The command line that names banks and settings.
    pub arguments: Vec<String>,
    /// A number for the settings, profile and all.
    pub settings: String,
}

/// A line of a partial audit.
#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Line {
    Manifest(Manifest),
    /// The number of a chunk and its items.
    Chunk(u64, Vec<Option<Kept>>),
    /// The end of a file: its name, its mark, the number of chunks up to here.
    File(String, String, u64),
    End,
}

/// Judges the chunks of a shard and writes its partial audit; gives the number of items.
///
/// # Errors
/// The partial audit cannot be written, a bank cannot be read to its end, or the run was interrupted.
pub fn run_shard(
    plan: &Plan,
    inputs: &[Input],
    manifest: &Manifest,
    out: &mut (dyn Write + Send),
    progress: &mut (dyn FnMut(u64) + Send),
) -> io::Result<u64> {
    let mut items = 0;
    let mut chunks = Chunks { shard: Some(manifest.shard), ..Chunks::default() };
    let mut out = SealedLines::new(out);
    out.write(&Line::Manifest(manifest.clone()))?;
    for input in inputs {
        let marker = Shared::default();
        let mut source = match input.open(&plan.bank, Some(&marker), None) {
            Ok(source) => source,
            Err(OpenError::Io(error)) => return Err(io::Error::new(error.kind(), format!("{}: {error}", input.name))),
            // What is no bank is for the gathering to say.
            Err(_) => continue,
        };
        let file: Arc<str> = Arc::from(input.name.as_str());
        let read = || {
            let next = chunks.next(&mut source);
            next.map_err(|fault| io::Error::new(fault.error().kind(), format!("{}: {}", input.name, fault.error())))
        };
        let judge = |(number, known)| (number, batch::judge(plan, false, &file, known));
        let tell = |(number, judged): (u64, Vec<Judged>)| {
            items += judged.len() as u64;
            out.write(&Line::Chunk(number, judged.into_iter().map(keep).collect()))?;
            progress(items);
            Ok(())
        };
        if pipeline::run(read, judge, tell, || plan.is_stopped())? {
            return Err(io::Error::other("interrupted: nothing was kept"));
        }
        let mark = marker.lock().map(|marker| marker.mark().to_string()).unwrap_or_default();
        out.write(&Line::File(input.name.clone(), mark, chunks.count))?;
    }
    out.write(&Line::End)?;
    Ok(items)
}

fn keep((item, digest): Judged) -> Option<Kept> {
    let (stereo_not_judged, findings) = item.kept()?;
    Some(Kept(digest, stereo_not_judged, findings))
}

/// Why there is no next chunk.
pub(super) enum ReadFault {
    /// The bank cannot be read further.
    Bank(io::Error),
    /// What shards have kept cannot be read, or is of another bank.
    Partials(io::Error),
}

impl ReadFault {
    fn error(&self) -> &io::Error {
        match self {
            Self::Bank(error) | Self::Partials(error) => error,
        }
    }
}

/// Counts the chunks of all inputs, and says of each what is to be done with it.
#[derive(Default)]
pub struct Chunks<'p> {
    /// Chunks so far.
    count: u64,
    shard: Option<Shard>,
    partials: Option<&'p mut Partials>,
}

impl<'p> Chunks<'p> {
    /// The chunks that partial audits hold.
    #[must_use]
    pub fn of(partials: &'p mut Partials) -> Self {
        Self { partials: Some(partials), ..Self::default() }
    }

    pub(super) fn are_gathered(&self) -> bool {
        self.partials.is_some()
    }

    /// The next chunk of a source that is to be judged, and its number.
    pub(super) fn next(&mut self, source: &mut Source) -> Result<Option<(u64, Known)>, ReadFault> {
        loop {
            let Some(batch) = source.next_batch().map_err(ReadFault::Bank)? else { return Ok(None) };
            let number = self.count;
            self.count += 1;
            if self.shard.is_some_and(|shard| !shard.has(number)) {
                continue;
            }
            let known = self.partials.as_mut().map(|partials| partials.chunk(number)).transpose();
            return Ok(Some((number, (batch, known.map_err(ReadFault::Partials)?))));
        }
    }

    /// Holds the end of a file against what the partial audits say of it.
    pub(super) fn end_of_file(&mut self, name: &str, mark: Option<Mark>, stopped: bool) -> io::Result<()> {
        let Some(partials) = self.partials.as_mut().filter(|_| !stopped) else { return Ok(()) };
        partials.end_of_file(name, &mark.map(|mark| mark.to_string()).unwrap_or_default(), self.count)
    }

    /// Holds the end of the bank against the ends of the partial audits.
    pub(super) fn end(&mut self, stopped: bool) -> io::Result<()> {
        self.partials.as_mut().filter(|_| !stopped).map_or(Ok(()), |partials| partials.end())
    }
}
