//! The command line: one file a command.

mod amend;
mod answers;
mod audit;
mod clock;
mod compare;
mod complain;
mod contributors;
mod convert;
mod doubt;
mod draw;
mod explain;
mod extras;
mod faults;
mod findings;
mod gather;
mod infer;
mod interrupt;
mod jobs;
mod nights;
mod output;
mod profile;
mod push;
mod sequence;
mod settings;
mod shard;
mod structure;
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
    /// Propose a profile from the headers and the contents of a bank, in any language.
    Profile(profile::Arguments),
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

/// Runs the program; the exit status is 0, 1 or 2 as the contract says.
pub fn main(arguments: impl Iterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    interrupt::outlive_limits();
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
        Command::Profile(arguments) => profile::run(&arguments),
        Command::Findings(arguments) => findings::run(&arguments),
        Command::Extras(arguments) => extras::run(&arguments),
    };
    match result {
        Ok(Ending::Fine) => ExitCode::SUCCESS,
        Ok(Ending::Found) => ExitCode::from(1),
        Ok(Ending::Interrupted) => ExitCode::from(interrupt::STATUS),
        // Whoever read our output has seen enough.
        Err(error) if output::is_broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            if let Some(shown) = error.downcast_ref::<complain::Shown>() {
                eprintln!("{shown}");
            } else {
                let said = format!("{error:#}");
                let lines: Vec<String> = said.split('\n').map(terminal::plain).collect();
                eprintln!("keyassay: {}", lines.join("\n"));
            }
            ExitCode::from(2)
        }
    }
}
