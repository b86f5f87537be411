//! What is wrong with a text that a person wrote: its line, a mark under the character, what to do. In 80 columns.

use crate::findings::{Finding, Severity};
use crate::report::terminal::{WIDTH, plain, wrapped};
use std::fmt::{self, Write as _};
use std::io::{self, IsTerminal};
use std::ops::Range;

/// A place in a text, with what to say of it.
pub(super) struct Complaint<'a> {
    /// How grave it is.
    pub(super) severity: Severity,
    /// What is wrong.
    pub(super) message: &'a str,
    /// The file, if it is one.
    pub(super) file: Option<&'a str>,
    /// The text, or the part of it round the place.
    pub(super) text: &'a str,
    /// The line on which the text starts.
    pub(super) line: u32,
    /// The place, in bytes of the text.
    pub(super) span: Range<usize>,
    /// What to do.
    pub(super) remedy: &'a str,
}

impl Complaint<'_> {
    /// The complaint for standard error: how grave and where, what is wrong, the line with a mark under the place, what to do.
    pub(super) fn render(&self) -> String {
        let place = Place::of(self);
        let mut head = self.severity.name().to_owned();
        if let Some(file) = self.file {
            let _ = write!(head, ", {}:{}:{}", plain(file), place.line, place.column);
        }
        let mut text = format!("{}\n", emphasised(&head));
        for line in wrapped(&plain(self.message), WIDTH - INDENT) {
            let _ = writeln!(text, "{:INDENT$}{line}", "");
        }
        if !place.shown.trim().is_empty() {
            let _ = writeln!(text, "{:DEEPER$}{}", "", place.shown);
            let _ = writeln!(text, "{:DEEPER$}{:before$}{}", "", "", "^".repeat(place.marks), before = place.before);
        }
        text.push_str(&to_do(self.remedy));
        text
    }
}

/// How far sentences and texts are set in.
const INDENT: usize = 2;
const DEEPER: usize = 6;

/// What to do, set in.
fn to_do(remedy: &str) -> String {
    set_in(remedy)
}

/// A sentence line by line, set in.
fn set_in(text: &str) -> String {
    let mut lines = String::new();
    for line in wrapped(&plain(text), WIDTH - INDENT).iter().filter(|line| !line.is_empty()) {
        let _ = writeln!(lines, "{:INDENT$}{line}", "");
    }
    lines
}

/// The part of a line that is shown, and the mark under it.
struct Place {
    /// Line and column, counted from 1.
    line: u32,
    column: usize,
    shown: String,
    /// Columns before the mark, and those that it takes.
    before: usize,
    marks: usize,
}

impl Place {
    fn of(complaint: &Complaint<'_>) -> Self {
        let text = complaint.text;
        let (start, end) = (boundary(text, complaint.span.start), boundary(text, complaint.span.end));
        let from = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let to = text[start..].find('\n').map_or(text.len(), |at| start + at);
        let line = complaint.line.max(1).saturating_add(text[..from].matches('\n').count() as u32);
        let column = text[from..start].chars().count() + 1;
        let [before, marked, behind] =
            [&text[from..start], &text[start..end.clamp(start, to)], &text[start.max(end.min(to))..to]].map(cells);
        let marks = columns(&marked).clamp(1, WIDTH - DEEPER);
        // What does not fit is cut off, more of it before the mark than behind.
        let room = WIDTH - DEEPER - marks;
        let behind_room = room.saturating_sub(columns(&before)).max(room / 3);
        let before = last(&before, room - behind_room.min(columns(&behind)).min(room));
        let shown = first(&format!("{marked}{behind}"), WIDTH - DEEPER - columns(&before));
        Self { line, column, before: columns(&before), marks, shown: before + &shown }
    }
}

/// A text as a terminal may show it on one line.
fn cells(text: &str) -> String {
    plain(&text.replace(['\t', '\r'], " "))
}

/// Columns that a character takes: two for those of East Asian writing and pictures, none for marks that combine.
fn width(character: char) -> usize {
    match u32::from(character) {
        0x300..=0x36F | 0x200B..=0x200F | 0xFE00..=0xFE0F => 0,
        0x1100..=0x115F
        | 0x2E80..=0xA4CF
        | 0xAC00..=0xD7A3
        | 0xF900..=0xFAFF
        | 0xFE30..=0xFE6F
        | 0xFF01..=0xFF60
        | 0xFFE0..=0xFFE6
        | 0x1F300..=0x1FAFF
        | 0x20000..=0x3FFFD => 2,
        _ => 1,
    }
}

fn columns(text: &str) -> usize {
    text.chars().map(width).sum()
}

/// As much of the beginning as fits.
fn first(text: &str, room: usize) -> String {
    let mut left = room;
    text.chars()
        .take_while(|own| {
            let fits = width(*own) <= left;
            left = left.saturating_sub(width(*own));
            fits
        })
        .collect()
}

/// As much of the end as fits.
fn last(text: &str, room: usize) -> String {
    let turned: String = text.chars().rev().collect();
    first(&turned, room).chars().rev().collect()
}

/// The nearest place at or before this one where a character begins.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// In bold where a person looks at a terminal and did not ask for none.
fn emphasised(text: &str) -> String {
    let is_set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let is_dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    // An old console of Windows shows the marks themselves; a terminal that takes them names itself there.
    let takes_marks = cfg!(not(windows)) || is_set("WT_SESSION") || is_set("TERM");
    let bold = io::stderr().is_terminal() && !is_set("NO_COLOR") && !is_dumb && takes_marks;
    if bold { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
}

/// A finding as a complaint, where it has a place; else its sentence and what to do. `whose` is the file and the id of its item.
pub(super) fn of_finding(finding: &Finding, whose: Option<(&str, &str)>) -> String {
    let remedy = finding.name.entry().remedy;
    let id = whose.map(|(_, id)| format!("{id}: ")).unwrap_or_default();
    let message = format!("{}: {id}{}", finding.name, finding.message());
    let Some(spot) = &finding.spot else {
        let lines = set_in(&message);
        return format!("{}\n{lines}{}", emphasised(finding.severity.name()), to_do(remedy));
    };
    // Where a long line is cut, spaces stand for what is cut off, so that the column is the one in the file.
    let cut = if whose.is_some() { spot.column.saturating_sub(1).saturating_sub(spot.mark).min(MOST_CUT) } else { 0 };
    let text = format!("{}{}", " ".repeat(cut as usize), spot.excerpt);
    let byte = |characters: u32| text.char_indices().nth(characters as usize).map_or(text.len(), |(at, _)| at);
    let (severity, line) = (finding.severity, spot.line);
    let span = byte(cut + spot.mark)..byte((cut + spot.mark).saturating_add(spot.length));
    let file = whose.map(|(file, _)| file);
    let file = spot.other_file().or(file);
    Complaint { severity, message: &message, file, text: &text, line, span, remedy }.render()
}

/// Characters of a cut line that spaces stand for; beyond, the column is that in the part that is shown.
const MOST_CUT: u32 = 10_000;

/// An error that says everything itself, in its own lines.
#[derive(Debug)]
pub(super) struct Shown(pub(super) String);

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.trim_end())
    }
}

impl std::error::Error for Shown {}
