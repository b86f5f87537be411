//! How far an audit is: items, how many a second, and the time left. Silent where standard error is no terminal.

use crate::audit::{Content, Input};
use indicatif::{HumanCount, ProgressBar, ProgressStyle};
use std::fmt::Write as _;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Time after which there is something to tell the time left by.
const SETTLED: Duration = Duration::from_secs(2);

/// A counter on standard error.
pub(super) struct Progress {
    bar: ProgressBar,
    begun: Instant,
    /// Bytes of all files; 0 where that is not known.
    total: u64,
    /// Bytes read so far.
    read: Arc<AtomicU64>,
}

impl Progress {
    /// Begins to count.
    pub(super) fn new(quiet: bool, inputs: &[Input]) -> Self {
        let size = |input: &Input| match &input.content {
            Content::Path(path) => std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file).map(|own| own.len()),
            _ => None,
        };
        let total = inputs.iter().map(size).sum::<Option<u64>>().unwrap_or_default();
        let bar = if quiet { ProgressBar::hidden() } else { ProgressBar::new_spinner() };
        if let Ok(style) = ProgressStyle::with_template("{spinner} {msg}") {
            bar.set_style(style);
        }
        // Nobody sees one that is hidden; it needs no thread.
        if !bar.is_hidden() {
            bar.enable_steady_tick(Duration::from_millis(200));
        }
        Self { bar, begun: Instant::now(), total, read: Arc::default() }
    }

    /// Where the bytes that are read are counted.
    pub(super) fn counter(&self) -> Arc<AtomicU64> {
        Arc::clone(&self.read)
    }

    /// Takes the number of items so far.
    pub(super) fn tell(&self, items: u64) {
        if self.bar.is_hidden() {
            return;
        }
        self.bar.set_message(told(items, self.read.load(Ordering::Relaxed), self.total, self.begun.elapsed()));
    }

    /// Takes the counter away.
    pub(super) fn end(&self) {
        self.bar.finish_and_clear();
    }
}

/// `1,200,000 items, 310,000 a second, 12 s left`.
fn told(items: u64, read: u64, total: u64, passed: Duration) -> String {
    let seconds = passed.as_secs_f64().max(0.001);
    let rate = HumanCount((items as f64 / seconds) as u64);
    let mut text = format!("{} items, {rate} a second", HumanCount(items));
    if passed >= SETTLED && read > 0 && total > read {
        let left = seconds * (total - read) as f64 / read as f64;
        let _ = write!(text, ", {} left", time(left));
    }
    text
}

/// Seconds as people say them.
fn time(seconds: f64) -> String {
    match seconds.ceil() as u64 {
        own @ 0..120 => format!("{own} s"),
        own @ 120..7_200 => format!("{} min", own.div_ceil(60)),
        own => format!("{} h", own.div_ceil(3_600)),
    }
}

#[cfg(test)]
mod tests {
    use super::told;
    use std::time::Duration;

    #[test]
    fn time_left_is_told_where_it_is_known() {
        let cases = [
            ((1_200_000, 1, 4, 4), "1,200,000 items, 300,000 a second, 12 s left"),
            ((1_000, 1, 4, 1), "1,000 items, 1,000 a second"),
            ((1_000, 0, 0, 10), "1,000 items, 100 a second"),
            ((1_000, 4, 4, 10), "1,000 items, 100 a second"),
            ((600, 1, 100, 60), "600 items, 10 a second, 99 min left"),
            ((600, 1, 10_000, 60), "600 items, 10 a second, 167 h left"),
        ];
        let mut failures = Vec::new();
        for ((items, read, total, seconds), expected) in cases {
            let found = told(items, read, total, Duration::from_secs(seconds));
            if found != expected {
                failures.push(format!("{found}, not {expected}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
