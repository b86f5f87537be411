//! What is wrong with a text that a person wrote: its line, a mark under the character, what to do. In 80 columns.

use crate::findings::{Finding, Severity};
use crate::report::terminal::{WIDTH, plain, wrapped};
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use std::fmt;
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
    /// The complaint for standard error.
    pub(super) fn render(&self) -> String {
        let level = match self.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
            Severity::Note => Level::NOTE,
        };
        let room = WIDTH - self.severity.name().len() - 2;
        let title = wrapped(&plain(self.message), room).join("\n");
        let (text, span) = shown(self.text, &self.span);
        let snippet = Snippet::source(text)
            .line_start(self.line.max(1) as usize)
            .line_numbering(self.file.is_some())
            .annotation(AnnotationKind::Primary.span(span));
        let snippet = match self.file {
            Some(file) => snippet.path(plain(file)),
            None => snippet,
        };
        let mut group = level.primary_title(title).element(snippet);
        let remedy = wrapped(&plain(self.remedy), WIDTH - 12).join("\n");
        if !remedy.is_empty() {
            group = group.element(Level::HELP.message(remedy));
        }
        format!("{}\n", renderer().render(&[group]))
    }
}

/// The text as a terminal may show it, line by line, and the place in it.
fn shown(text: &str, span: &Range<usize>) -> (String, Range<usize>) {
    let (start, end) = (boundary(text, span.start), boundary(text, span.end.max(span.start)));
    let own = |part: &str| {
        let kept = |c: char| matches!(c, '\n' | '\r' | '\t');
        part.split_inclusive(kept)
            .map(|own| match own.chars().next_back() {
                Some(last) if kept(last) => plain(&own[..own.len() - 1]) + last.encode_utf8(&mut [0; 4]),
                _ => plain(own),
            })
            .collect::<String>()
    };
    let (before, place) = (own(&text[..start]), own(&text[start..end]));
    let span = before.len()..before.len() + place.len();
    (before + &place + &own(&text[end..]), span)
}

/// The nearest place at or before this one where a character begins.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// With colours where a person looks at a terminal and did not ask for none.
fn renderer() -> Renderer {
    let is_set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let is_dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    let colours = io::stderr().is_terminal() && !is_set("NO_COLOR") && !is_dumb;
    let renderer = if colours { Renderer::styled() } else { Renderer::plain() };
    renderer.term_width(WIDTH)
}

/// A finding as a complaint, where it has a place; else its sentence and what to do. `whose` is the file and the id of its item.
pub(super) fn of_finding(finding: &Finding, whose: Option<(&str, &str)>) -> String {
    let remedy = finding.name.entry().remedy;
    let id = whose.map(|(_, id)| format!("{id}: ")).unwrap_or_default();
    let message = format!("{}: {id}{}", finding.name, finding.message);
    let Some(spot) = &finding.spot else {
        let lines = wrapped(&plain(&format!("{}: {message}", finding.severity.name())), WIDTH - 2);
        let remedy = wrapped(remedy, WIDTH - 8).join("\n        ");
        return format!("{}\n  help: {remedy}\n", lines.join("\n  "));
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
