//! Arguments in, exit status out.

use std::process::ExitCode;

fn main() -> ExitCode {
    keyassay::cli::main(std::env::args_os())
}
