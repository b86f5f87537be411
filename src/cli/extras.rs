//! `keyassay extras --out DIR`: shell completions and the man pages.

use super::{Ending, output};
use crate::report::file::WholeFile;
use anyhow::Context as _;
use clap::{Command, CommandFactory, ValueEnum};
use clap_complete::Shell;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Arguments of `keyassay extras`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The folder for them.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let out = &arguments.out;
    std::fs::create_dir_all(out).with_context(|| format!("cannot make the folder {}", out.display()))?;
    let mut command = super::Arguments::command().disable_help_subcommand(true);
    let mut written = Vec::new();
    for shell in Shell::value_variants() {
        let mut script = Vec::new();
        clap_complete::generate(*shell, &mut command, "keyassay", &mut script);
        let name = file_name(*shell);
        write(out, name, &script)?;
        written.push(name.to_owned());
    }
    command.build();
    for (name, own) in pages(&command) {
        let mut page = Vec::new();
        clap_mangen::Man::new(own).render(&mut page).context("cannot make a man page")?;
        write(out, &name, &page)?;
        written.push(name);
    }
    output::print(&format!("{} in {}\n", written.join(", "), out.display()))?;
    Ok(Ending::Fine)
}

/// The name under which a shell looks for its script.
fn file_name(shell: Shell) -> &'static str {
    match shell {
        Shell::Bash => "keyassay.bash",
        Shell::Elvish => "keyassay.elv",
        Shell::Fish => "keyassay.fish",
        Shell::PowerShell => "keyassay.ps1",
        _ => "_keyassay",
    }
}

/// The man page of the program and one of each command.
fn pages(command: &Command) -> Vec<(String, Command)> {
    let mut pages = vec![("keyassay.1".to_owned(), command.clone())];
    for own in command.get_subcommands().filter(|own| own.get_name() != "help") {
        pages.push((format!("keyassay-{}.1", own.get_name()), own.clone()));
    }
    pages
}

fn write(folder: &Path, name: &str, bytes: &[u8]) -> anyhow::Result<()> {
    let path = folder.join(name);
    let cannot = || format!("cannot write {}", path.display());
    let mut file = WholeFile::create(&path).with_context(cannot)?;
    file.write_all(bytes).with_context(cannot)?;
    file.finish().with_context(cannot)
}
