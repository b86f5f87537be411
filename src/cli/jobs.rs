//! How many threads an audit uses.

use super::output;
use anyhow::Context as _;
use std::thread::available_parallelism;

/// Starts the threads that `--jobs` asks for, but no more than this program can run at once: on Linux that respects the
/// processors that a scheduler or a container (cgroup) leaves it. More of them only wait for each other.
///
/// # Errors
/// The system does not give them.
pub(super) fn start(asked: Option<usize>) -> anyhow::Result<()> {
    let Some(asked) = asked else { return Ok(()) };
    let most = available_parallelism().map_or(1, usize::from);
    if asked > most {
        output::say(&format!("--jobs {asked}: {most} can run at once here, so {most} it is"));
    }
    let threads = asked.clamp(1, most);
    rayon::ThreadPoolBuilder::new().num_threads(threads).build_global().context("cannot start the threads")
}
