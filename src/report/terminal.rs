//! The summary on standard output, in 80 columns.

use crate::audit::Summary;
use std::fmt::Write as _;

/// The caution that stands wherever people read results.
pub const CAUTION: &str = "This is bookkeeping of electrons on paper: no laboratory procedure. \
                           Local rules and\nqualified supervision decide what is done.";
/// The same for a place that wraps its text itself.
pub const CAUTION_UNWRAPPED: &str = "This is bookkeeping of electrons on paper: no laboratory procedure. \
                                     Local rules and qualified supervision decide what is done.";

/// The summary as text.
#[must_use]
pub fn summary(summary: &Summary) -> String {
    let totals = &summary.totals;
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{} items: {} sound, {} faulty, {} undecided, {} unreadable",
        totals.items, totals.sound, totals.faulty, totals.undecided, totals.unreadable
    );
    let _ = writeln!(out, "{} with warnings", totals.warned);
    if !totals.findings.is_empty() {
        out.push('\n');
        let mut findings: Vec<_> = totals.findings.iter().collect();
        findings.sort_by_key(|(name, count)| (std::cmp::Reverse(**count), **name));
        for (name, count) in findings {
            let _ = writeln!(out, "{count:>9}  {name}");
        }
    }
    if summary.files.len() > 1 {
        out.push('\n');
        let _ = writeln!(out, "{:>9} {:>9} {:>9} {:>9}  file", "items", "faulty", "undecided", "unreadable");
        for (name, totals) in &summary.files {
            let counts = (totals.items, totals.faulty, totals.undecided, totals.unreadable);
            let _ = writeln!(out, "{:>9} {:>9} {:>9} {:>10}  {}", counts.0, counts.1, counts.2, counts.3, plain(name));
        }
    }
    if totals.stereo_not_judged > 0 {
        let _ = writeln!(out, "stereo marks at atoms that arrows touch, not compared: {}", totals.stereo_not_judged);
    }
    for (name, why) in &summary.unread {
        let _ = writeln!(out, "not read: {}: {}", plain(name), plain(why));
    }
    for (name, what) in &summary.without_items {
        let _ = writeln!(out, "no items: {}: {}", plain(name), plain(what));
    }
    if summary.skipped > 0 {
        let _ = writeln!(out, "{} files are no bank by their ending and were passed over", summary.skipped);
    }
    out
}

/// Text of a bank without the control characters that would steer a terminal.
#[must_use]
pub fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}
