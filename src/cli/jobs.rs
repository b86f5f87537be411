//! How many threads an audit uses.

use super::output;
use anyhow::Context as _;
use std::thread::available_parallelism;

/// Starts the threads that `--jobs` asks for, all that can run at once without it, but no more than this program can run at once: on Linux that respects the
/// processors that a scheduler or a container (cgroup) leaves it. More of them only wait for each other.
///
/// # Errors
/// The system does not give them.
pub(super) fn start(asked: Option<usize>) -> anyhow::Result<()> {
    let most = available_parallelism().map_or(1, usize::from);
    if let Some(asked) = asked.filter(|asked| *asked > most) {
        output::say(&format!("--jobs {asked}: {most} can run at once here, so {most} it is"));
    }
    // Without a wish the environment may have one.
    let threads = asked.map_or(0, |asked| asked.clamp(1, most));
    // Not left to the library's first use, which would end the program where the system gives no thread.
    let started = rayon::ThreadPoolBuilder::new().num_threads(threads).build_global();
    started.context("the system does not give the threads: --jobs 1 needs only one")
}
