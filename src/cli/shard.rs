//! `keyassay audit --shard I/N`: one part of an audit, kept for gathering.

use super::audit::{Arguments, progress_bar};
use super::{Ending, output};
use crate::audit::{Content, Input, Manifest, Plan, Shard, run_shard};
use crate::report::terminal;
use crate::source::{Mark, counted};
use anyhow::Context as _;
use std::fs;
use std::io::{BufWriter, Write as _};

/// Judges a shard. Its partial audit appears under its name only when it is whole.
pub(super) fn run(arguments: &Arguments, shard: Shard, plan: &Plan, inputs: &[Input]) -> anyhow::Result<Ending> {
    anyhow::ensure!(
        inputs.iter().all(|input| !matches!(input.content, Content::Stdin(_))),
        "standard input cannot be audited in shards: each shard and the gathering read the bank"
    );
    let out = &arguments.out;
    fs::create_dir_all(out).with_context(|| format!("cannot make the folder {}", out.display()))?;
    let path = out.join(shard.file_name());
    let waiting = out.join(format!(".{}.{}.tmp", shard.file_name(), std::process::id()));
    let cannot = || format!("cannot write {}", path.display());
    let manifest = Manifest {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        shard,
        arguments: command_line(),
        settings: settings(plan),
    };
    let bar = progress_bar(arguments.quiet);
    let items = fs::File::create(&waiting).with_context(cannot).and_then(|file| {
        let mut file = BufWriter::with_capacity(1 << 18, file);
        let items = run_shard(plan, inputs, &manifest, &mut file, &mut |items| bar.set_position(items))?;
        file.flush().and_then(|()| file.get_ref().sync_all()).with_context(cannot)?;
        Ok(items)
    });
    bar.finish_and_clear();
    if items.is_err() {
        // Best effort: it has no partial audit's name.
        let _ = fs::remove_file(&waiting);
    }
    let items = items?;
    fs::rename(&waiting, &path).with_context(cannot)?;
    if !arguments.quiet {
        let Shard { own, of } = shard;
        let path = terminal::plain(&path.display().to_string());
        output::print(&format!("Shard {own} of {of}: {} judged, kept in {path}.\n", counted(items as i64, "item")))?;
    }
    Ok(Ending::Fine)
}

/// What names banks and settings on this command line: all but the shard and the folder.
fn command_line() -> Vec<String> {
    let mut kept = Vec::new();
    let mut arguments = std::env::args_os().skip(2).map(|own| own.to_string_lossy().into_owned());
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--shard" | "--out" | "--jobs" => drop(arguments.next()),
            "--quiet" => {}
            other if ["--shard=", "--out=", "--jobs="].iter().any(|own| other.starts_with(own)) => {}
            _ => kept.push(argument),
        }
    }
    kept
}

/// A number for everything that decides how items are read and judged.
fn settings(plan: &Plan) -> String {
    let mut columns: Vec<_> = plan.bank.columns.iter().collect();
    columns.sort();
    let bank = (&plan.bank.limits, plan.bank.default_task, columns, plan.bank.keep_extra, plan.bank.encoding);
    let own = &plan.bank;
    let tables = (own.header_row, own.separator, own.labels_from_zero, &own.fill_down, &own.task_words);
    let all = format!("{bank:?} {tables:?} {:?} {:?} {}", plan.judge, plan.severities, plan.find_places);
    Mark::of(all.as_bytes()).to_string()
}

/// Holds the settings that apply now against those of the shards.
pub(super) fn hold(manifest: &Manifest, plan: &Plan) -> anyhow::Result<()> {
    let version = env!("CARGO_PKG_VERSION");
    anyhow::ensure!(
        manifest.version == version,
        "the shards are of version {}, this is {version}: gather with the version that judged",
        manifest.version
    );
    anyhow::ensure!(
        manifest.settings == settings(plan),
        "the profile or the reports are other than when the shards were audited: gather under the same, with --write of no \
         report that the shards did not have"
    );
    Ok(())
}
