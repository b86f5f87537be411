//! `keyassay convert BANK --to FORMAT --out FILE`.

use super::doubt::encoding_in_doubt;
use super::settings::{Applied, BankOptions};
use super::{Ending, output};
use crate::bank::write::{BankWriter, Target};
use crate::bank::{self, Format, Settings, walk};
use crate::report::file::WholeFile;
use crate::report::terminal::plain;
use crate::source::counted;
use crate::source::path::name_of;
use anyhow::Context as _;
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Arguments of `keyassay convert`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The bank: a file, or `-` for standard input.
    bank: PathBuf,
    /// The format to write.
    #[arg(long, value_name = "FORMAT")]
    to: To,
    /// The file to write, or `-` for standard output.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Format of standard input and of files whose ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", value_parser = super::audit::format_names(), ignore_case = true)]
    format: Option<String>,
    #[command(flatten)]
    options: BankOptions,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum To {
    Csv,
    Jsonl,
    Cml,
    Qti,
    Xlsx,
    Ods,
}

impl To {
    fn target(self) -> Target {
        match self {
            Self::Csv => Target::Csv,
            Self::Jsonl => Target::JsonLines,
            Self::Cml => Target::Cml,
            Self::Qti => Target::Qti,
            Self::Xlsx => Target::Xlsx,
            Self::Ods => Target::Ods,
        }
    }
}

/// Runs the command: writes the bank, and lists on standard error what the format cannot carry.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let settings = Arc::new(settings(&arguments.options, &arguments.bank)?);
    let name = name_of(&arguments.bank);
    let mut source = open(arguments, &name, &settings).with_context(|| plain(&name))?;
    let cannot_write = || format!("cannot write {}", arguments.out.display());
    let to_output = arguments.out == Path::new("-");
    let file = if to_output { WholeFile::standard_output() } else { WholeFile::create(&arguments.out) };
    let file = file.with_context(cannot_write)?;
    let mut writer = BankWriter::new(file, arguments.to.target(), &settings.limits).with_context(cannot_write)?;
    let (mut written, mut left_out, mut reduced) = (0_u64, 0_u64, 0_u64);
    while let Some(batch) = source.next_batch().with_context(|| format!("{name} could not be read to its end"))? {
        let (_, records) = batch.records();
        for record in &records {
            let carried = writer.record(record).with_context(cannot_write)?;
            let id = match &record.content {
                Ok(item) => item.id.clone(),
                Err(bad) => bad.id.clone().unwrap_or_else(|| format!("{name}:{}", record.line)),
            };
            if let Some(why) = &carried.left_out {
                left_out += 1;
                eprintln!("{}: left out: {}", plain(&id), plain(why));
                continue;
            }
            written += 1;
            reduced += u64::from(!carried.lost.is_empty());
            for lost in &carried.lost {
                eprintln!("{}: not carried: {}", plain(&id), plain(lost));
            }
        }
    }
    let mut file = writer.finish().with_context(cannot_write)?;
    file.finish().with_context(cannot_write)?;
    let place = if to_output { "standard output".to_owned() } else { arguments.out.display().to_string() };
    let mut told = format!("{} written to {place}", counted(written as i64, "item"));
    add_left_out(&mut told, &source, &name, reduced, left_out);
    if to_output {
        output::say(&told);
    } else {
        output::print(&format!("{told}.\n"))?;
    }
    Ok(if left_out == 0 { Ending::Fine } else { Ending::Found })
}

/// Adds what was not written whole, and what was not written.
fn add_left_out(told: &mut String, source: &bank::Source, name: &str, reduced: u64, left_out: u64) {
    if reduced > 0 {
        let _ = write!(told, ", {reduced} of them without what the format cannot carry (listed above)");
    }
    for (file, unasked) in source.unasked() {
        let of = if file == name { String::new() } else { format!(" of {}", plain(&file)) };
        let _ = write!(told, "; {unasked}{of} without a question left out");
    }
    if left_out > 0 {
        let _ = write!(told, "; {left_out} left out (listed above)");
    }
}

/// How the bank is read: under its profile, fields that keyassay does not know included.
fn settings(options: &BankOptions, bank: &Path) -> anyhow::Result<Settings> {
    Ok(Settings { keep_extra: true, ..Applied::of_bank(options, bank)? })
}

fn open(arguments: &Arguments, name: &str, settings: &Arc<Settings>) -> anyhow::Result<bank::Source> {
    let named = match &arguments.format {
        None => None,
        Some(format) => Some(Format::from_name(format).with_context(|| format!("there is no format '{format}'"))?),
    };
    if arguments.bank == Path::new("-") {
        let format = named.context("standard input needs --as FORMAT")?;
        return Ok(bank::open(name, format, Box::new(io::stdin()), settings)?);
    }
    let format =
        named.or_else(|| walk::of_file(&arguments.bank)).context("its ending names no format: use --as FORMAT")?;
    if let Some(doubt) = encoding_in_doubt(&arguments.bank, format, settings.encoding) {
        output::say(&doubt);
    }
    let path = arguments.bank.clone();
    let file = std::fs::File::open(&path)?;
    let again: bank::Again = Box::new(move || Ok(Box::new(std::fs::File::open(&path)?) as _));
    Ok(bank::open_again(name, format, Box::new(file), Some(again), settings)?)
}
