//! The command line: one file a command.

mod amend;
mod answers;
pub(crate) mod audit;
mod clock;
mod compare;
mod complain;
pub(crate) mod contributors;
mod convert;
mod doubt;
pub(crate) mod draw;
mod earlier;
mod explain;
mod extras;
mod faults;
mod findings;
mod gather;
pub(crate) mod infer;
mod interrupt;
mod jobs;
mod output;
mod profile;
mod progress;
pub(crate) mod push;
pub(crate) mod reports;
mod sequence;
pub(crate) mod settings;
mod shard;
pub(crate) mod structure;
mod survey;
mod template;
mod waiting;

use crate::report::terminal;
use clap::{Parser, Subcommand};
use std::ffi::OsString;
use std::process::ExitCode;

/// Audits banks of curved-arrow questions: recomputes every stated answer from its arrows and reports what is wrong.
#[derive(Debug, Parser)]
#[command(name = "keyassay", version, max_term_width = 80, after_help = crate::report::terminal::CAUTION_UNWRAPPED)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Audit banks; without a path, the built-in demonstration bank.
    Audit(audit::Arguments),
    /// Print the product of arrows on a start, every tail and head worked through.
    Push(push::Arguments),
    /// Cut the arrows of several steps into successive steps, with the structures between.
    Sequence(sequence::Arguments),
    /// Print the fewest arrows that lead from one structure to another.
    Infer(infer::Arguments),
    /// Write a corrected copy of a bank, every byte outside the corrected fields unchanged.
    Amend(amend::Arguments),
    /// List the resonance contributors of a structure, ranked, with the arrows between them.
    Contributors(contributors::Arguments),
    /// Write the worked key of the items that are proven sound, to print.
    Answers(answers::Arguments),
    /// Say item by item whether a bank that was moved still asks and answers the same.
    Compare(compare::Arguments),
    /// Draw a structure and its arrows as SVG.
    Draw(draw::Arguments),
    /// Make one report of the partial audits of many machines.
    Gather(gather::Arguments),
    /// Write a bank in another format.
    Convert(convert::Arguments),
    /// Make an empty bank to fill in, with worked examples and the fields explained.
    Template(template::Arguments),
    /// Propose a profile from the headers and the contents of a bank, in any language.
    Profile(profile::Arguments),
    /// Count what banks ask: patterns of arrows, sizes, families of questions, gaps.
    Survey(survey::Arguments),
    /// Say what a finding means, with an example and what to do.
    Findings(findings::Arguments),
    /// Write completions for shells and the man pages.
    Extras(extras::Arguments),
}

/// How a command ends, other than by an error.
enum Ending {
    /// Done, nothing to complain of.
    Fine,
    /// Done, and something was found, or there is no result: status 1.
    Found,
    /// Interrupted, with partial results: status 130.
    Interrupted,
}

/// Runs the program.
pub fn main(arguments: impl Iterator<Item = OsString>) -> ExitCode {
    ExitCode::from(status(arguments))
}

/// Runs the program and gives its exit status: 0, 1, 2 or 130, as the README has it.
pub fn status(arguments: impl Iterator<Item = OsString>) -> u8 {
    interrupt::outlive_limits();
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            let _ = error.print();
            return if error.use_stderr() { 2 } else { 0 };
        }
    };
    let result = match arguments.command {
        Command::Audit(arguments) => audit::run(&arguments),
        Command::Push(arguments) => push::run(&arguments),
        Command::Sequence(arguments) => sequence::run(&arguments),
        Command::Infer(arguments) => infer::run(&arguments),
        Command::Amend(arguments) => amend::run(&arguments),
        Command::Contributors(arguments) => contributors::run(&arguments),
        Command::Answers(arguments) => answers::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Draw(arguments) => draw::run(&arguments),
        Command::Gather(arguments) => gather::run(&arguments),
        Command::Convert(arguments) => convert::run(&arguments),
        Command::Template(arguments) => template::run(&arguments),
        Command::Profile(arguments) => profile::run(&arguments),
        Command::Survey(arguments) => survey::run(&arguments),
        Command::Findings(arguments) => findings::run(&arguments),
        Command::Extras(arguments) => extras::run(&arguments),
    };
    match result {
        Ok(Ending::Fine) => 0,
        Ok(Ending::Found) => 1,
        Ok(Ending::Interrupted) => interrupt::STATUS,
        // Whoever read our output has seen enough.
        Err(error) if output::is_broken_pipe(&error) => 0,
        Err(error) => {
            if let Some(shown) = error.downcast_ref::<complain::Shown>() {
                eprintln!("{shown}");
            } else {
                let said = format!("{error:#}");
                let lines: Vec<String> = said.split('\n').map(terminal::plain).collect();
                eprintln!("keyassay: {}", lines.join("\n"));
            }
            2
        }
    }
}
