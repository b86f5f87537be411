//! The summary on standard output, in 80 columns.

use crate::audit::{Summary, Totals};
use crate::source::{counted, turns_direction};
use std::fmt::Write as _;

/// The caution that stands wherever people read results.
pub const CAUTION: &str = "This is bookkeeping of electrons on paper: no laboratory procedure.\n\
                           Local rules and qualified supervision decide what is done.";
/// The same for a place that wraps its text itself.
pub const CAUTION_UNWRAPPED: &str = "This is bookkeeping of electrons on paper: no laboratory procedure. \
                                     Local rules and qualified supervision decide what is done.";

/// The summary as text.
#[must_use]
pub fn summary(summary: &Summary) -> String {
    let totals = &summary.totals;
    let mut out = String::new();
    if summary.interrupted {
        out.push_str("Interrupted: these are partial results, of the items read so far.\n");
    }
    let _ = writeln!(
        out,
        "{}: {} sound, {} faulty, {} undecided, {} unreadable",
        counted(totals.items as i64, "item"),
        totals.sound,
        totals.faulty,
        totals.undecided,
        totals.unreadable
    );
    let _ = writeln!(out, "{} with warnings", totals.warned);
    if totals.not_ours > 0 {
        let _ = writeln!(out, "not ours: {} without chemistry", counted(totals.not_ours as i64, "item"));
    }
    findings(totals, &mut out);
    known(summary, &mut out);
    files(summary, &mut out);
    if totals.stereo_not_judged > 0 {
        let _ = writeln!(out, "stereo marks at atoms that arrows touch, not compared: {}", totals.stereo_not_judged);
    }
    not_judged(summary, &mut out);
    out
}

/// How often there is which finding.
fn findings(totals: &Totals, out: &mut String) {
    if totals.findings.is_empty() {
        return;
    }
    out.push('\n');
    let mut findings: Vec<_> = totals.findings.iter().collect();
    findings.sort_by_key(|(name, count)| (std::cmp::Reverse(**count), **name));
    for (name, count) in findings {
        let beside = totals.beside(name);
        let beside = if beside.is_empty() { beside } else { format!(" ({beside})") };
        let _ = writeln!(out, "{count:>9}  {name}{beside}");
    }
}

/// The counts of each file, where there are several.
fn files(summary: &Summary, out: &mut String) {
    if summary.files.len() <= 1 {
        return;
    }
    out.push('\n');
    let _ = writeln!(out, "{:>9} {:>9} {:>9} {:>9}  file", "items", "faulty", "undecided", "unreadable");
    for (name, totals) in &summary.files {
        let counts = (totals.items, totals.faulty, totals.undecided, totals.unreadable);
        let _ = writeln!(out, "{:>9} {:>9} {:>9} {:>10}  {}", counts.0, counts.1, counts.2, counts.3, plain(name));
    }
}

/// What was not read, was read as something else or was passed over.
fn not_judged(summary: &Summary, out: &mut String) {
    for (name, why) in &summary.unread {
        let lines = wrapped(&format!("not read: {}: {}", plain(name), plain(why)), WIDTH - 2);
        let _ = writeln!(out, "{}", lines.join("\n  "));
    }
    for (name, what) in &summary.without_items {
        let _ = writeln!(out, "no items: {}: {}", plain(name), plain(what));
    }
    for note in &summary.notes {
        let _ = writeln!(out, "{}", wrapped(&plain(note), WIDTH - 2).join("\n  "));
    }
    for (name, rows) in summary.unasked.iter().take(ROWS) {
        let lines = wrapped(&format!("without a question: {}: {rows}", plain(name)), WIDTH - 2);
        let _ = writeln!(out, "{}", lines.join("\n  "));
    }
    if summary.unasked.len() > ROWS {
        let _ = writeln!(out, "without a question: rows of {} more files", summary.unasked.len() - ROWS);
    }
    for (found, own) in &summary.normalised {
        let place = format!("{}:{}", plain(&own.file), own.line);
        let _ = writeln!(out, "{} read as '{}' in arrows: {}, first at {place}", code(*found), own.read_as, own.count);
    }
    if summary.skipped > 0 {
        let (verb, was) = if summary.skipped == 1 { ("is", "was") } else { ("are", "were") };
        let files = counted(summary.skipped as i64, "file");
        let _ = writeln!(out, "{files} {verb} no bank and {was} passed over");
    }
    if summary.left_out > 0 {
        let verb = if summary.left_out == 1 { "is" } else { "are" };
        let files = counted(summary.left_out as i64, "file");
        let _ = writeln!(out, "{files} {verb} left out: by the profile, or the audit's own");
    }
}

/// Rows of the list of known findings that are told one by one.
const ROWS: usize = 20;

/// What there is to say of known findings.
fn known(summary: &Summary, out: &mut String) {
    let count: u64 = summary.totals.known.values().sum();
    if count > 0 {
        let _ = writeln!(out, "\n{count} known, not counted above");
    }
    let lists = [
        ("its day has passed", &summary.expired, "accepted no longer: mend the item, or set another day"),
        ("known, and gone", &summary.gone, "take the row out of the list"),
    ];
    for (what, rows, remedy) in lists {
        for row in rows.iter().take(ROWS) {
            let until = if row.is_expired { format!(", until {}", row.accepted.until) } else { String::new() };
            let _ = writeln!(out, "{what}: {} {} (line {}{until}): {remedy}", plain(&row.item), row.finding, row.line);
        }
        if rows.len() > ROWS {
            let _ = writeln!(out, "{what}: {} more", rows.len() - ROWS);
        }
    }
}

/// A character as people look it up: U+2013.
#[must_use]
pub fn code(character: char) -> String {
    format!("U+{:04X}", u32::from(character))
}

/// Text of a bank without the characters that would steer a terminal: control characters, and marks of direction, which can
/// make a line read as another one.
#[must_use]
pub fn plain(text: &str) -> String {
    let steers = |c: char| c.is_control() || turns_direction(c);
    text.chars().map(|c| if steers(c) { '\u{fffd}' } else { c }).collect()
}

/// Columns of a terminal that everything fits.
pub const WIDTH: usize = 80;

/// Text in lines of at most `width` characters, broken at spaces; a longer word has a line of its own.
#[must_use]
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut room = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        match lines.last_mut() {
            Some(line) if length < room => {
                line.push(' ');
                line.push_str(word);
                room -= length + 1;
            }
            _ => {
                lines.push(word.to_owned());
                room = width.saturating_sub(length);
            }
        }
    }
    lines
}
