//! What the first page says about the whole: five numbers, the bar, the chart, the table of files.

use super::lists::{Key, Lists};
use super::text::{FILE, MESSAGE, count, number, shown};
use super::{About, page_name};
use crate::audit::{Summary, Totals};
use crate::findings::slips::Slips;
use crate::findings::{Name, Severity};
use crate::report::corrections::ByGrade;
use askama::Template;
use rustc_hash::FxHashMap;
use std::cmp::Reverse;

/// Files that the first page lists; of more, those with most faults, and all of them on pages of their own.
pub(super) const FILES: usize = 60;
/// Files that could not be read, named on the first page.
const UNREAD: usize = 100;
/// Slips that the chart names under one finding.
const SLIPS: usize = 20;

#[derive(Template)]
#[template(path = "overview.html")]
pub(super) struct Overview<'a> {
    about: &'a About,
    version: &'static str,
    items: String,
    numbers: Vec<Number>,
    bar: Vec<Part>,
    bar_words: String,
    /// Corrections that wait, by grade; empty where there are none.
    waiting: String,
    chart_heading: String,
    chart: Vec<ChartRow>,
    files: Vec<FileRow>,
    files_caption: String,
    files_href: String,
    unread: Vec<(String, String)>,
    more_unread: String,
    without_items: Vec<(String, String)>,
    more_without_items: String,
    skipped: String,
    not_ours: String,
    unasked: Vec<(String, String)>,
    more_unasked: String,
    interrupted: bool,
}

struct Number {
    class: &'static str,
    word: &'static str,
    count: String,
    /// Whether it overlaps the others.
    beside: bool,
}

struct Part {
    class: &'static str,
    x: u64,
    width: u64,
}

struct ChartRow {
    name: &'static str,
    severity: &'static str,
    count: String,
    /// What there is to say beside the number.
    beside: String,
    width: u64,
    meaning: &'static str,
    list: Listed,
    slips: Vec<SlipRow>,
}

struct SlipRow {
    items: String,
    words: String,
    slip: String,
    list: Listed,
}

/// Where the items of a row are listed.
#[derive(Debug, Clone)]
pub(super) enum Listed {
    /// In this page: the rows of their table, as HTML.
    Here(String),
    /// On a page of their own.
    There(String),
}

#[derive(Template)]
#[template(path = "chart_line.html")]
struct ChartLine<'a> {
    row: &'a ChartRow,
}

#[derive(Template)]
#[template(path = "slip_line.html")]
struct SlipLine<'a> {
    row: &'a SlipRow,
}

impl ChartRow {
    /// The row without its list: name, number, bar, meaning.
    fn line(&self) -> String {
        ChartLine { row: self }.render().unwrap_or_default()
    }
}

impl SlipRow {
    fn line(&self) -> String {
        SlipLine { row: self }.render().unwrap_or_default()
    }
}

/// One file in the table.
pub(super) struct FileRow {
    pub(super) href: String,
    pub(super) name: String,
    pub(super) numbers: Vec<String>,
}

/// Where the first card of each file is: page and card.
pub(super) type FirstCards<'a> = FxHashMap<&'a str, (u64, u64)>;

impl<'a> Overview<'a> {
    /// `listed` says where a list is.
    pub(super) fn new(
        about: &'a About,
        summary: &Summary,
        corrections: ByGrade,
        lists: &Lists,
        first_cards: &FirstCards,
        listed: &dyn Fn(&Key) -> Listed,
    ) -> Self {
        let totals = &summary.totals;
        let parts = parts(totals);
        let words: Vec<String> = parts.iter().map(|(word, count)| format!("{} {word}", number(*count))).collect();
        let mut numbers: Vec<Number> = parts
            .iter()
            .map(|(word, many)| Number { class: word, word, count: number(*many), beside: false })
            .collect();
        numbers.push(Number { class: "warnings", word: "with warnings", count: number(totals.warned), beside: true });
        let unasked: Vec<_> = summary.unasked.iter().map(|(name, rows)| (name.clone(), rows.to_string())).collect();
        let all_files = summary.files.len();
        let files_caption = if all_files > FILES {
            format!("The {FILES} files with most faulty and unreadable items, of {}.", number(all_files as u64))
        } else {
            count(all_files as u64, "file")
        };
        Self {
            about,
            version: env!("CARGO_PKG_VERSION"),
            items: count(totals.items, "item"),
            numbers,
            bar: bar(&parts, totals.items),
            bar_words: words.join(", "),
            waiting: waiting(corrections),
            chart_heading: format!("Findings by name: {}", number(totals.distinct())),
            chart: chart(totals, lists, listed),
            files: files(summary, first_cards),
            files_caption,
            files_href: if all_files > FILES { "audit-files.html".to_owned() } else { String::new() },
            unread: first(&summary.unread),
            more_unread: more(&summary.unread),
            without_items: first(&summary.without_items),
            more_without_items: more(&summary.without_items),
            interrupted: summary.interrupted,
            unasked: first(&unasked),
            more_unasked: more(&unasked),
            not_ours: if totals.not_ours > 0 { count(totals.not_ours, "item") } else { String::new() },
            skipped: if about.skipped > 0 { count(about.skipped, "file") } else { String::new() },
        }
    }
}

/// How many corrections wait in which grade.
fn waiting(corrections: ByGrade) -> String {
    let ByGrade { certain, likely, ungraded } = corrections;
    let parts = [(certain, "certain"), (likely, "likely"), (ungraded, "to be looked at")];
    let words: Vec<String> =
        parts.iter().filter(|(many, _)| *many > 0).map(|(many, word)| format!("{} {word}", number(*many))).collect();
    if words.is_empty() {
        return String::new();
    }
    format!("{} ready ({})", count(corrections.all(), "correction"), words.join(", "))
}

/// The first files of a list with what is said of them.
fn first(files: &[(String, String)]) -> Vec<(String, String)> {
    files.iter().take(UNREAD).map(|(name, what)| (shown(name, FILE), shown(what, MESSAGE))).collect()
}

/// How many files a list has beyond those shown.
fn more(files: &[(String, String)]) -> String {
    match files.len().saturating_sub(UNREAD) {
        0 => String::new(),
        more => count(more as u64, "more file"),
    }
}

fn parts(totals: &Totals) -> [(&'static str, u64); 4] {
    [
        ("sound", totals.sound),
        ("faulty", totals.faulty),
        ("undecided", totals.undecided),
        ("unreadable", totals.unreadable),
    ]
}

/// The parts of the bar, in thousandths of its length.
fn bar(parts: &[(&'static str, u64)], items: u64) -> Vec<Part> {
    let at = |sum: u64| (u128::from(sum) * 1000 / u128::from(items.max(1))) as u64;
    let mut sum = 0;
    let mut bar = Vec::new();
    for (class, count) in parts.iter().filter(|(_, count)| *count > 0) {
        let x = at(sum);
        sum += count;
        bar.push(Part { class, x, width: (at(sum) - x).max(2) });
    }
    bar
}

fn chart(totals: &Totals, lists: &Lists, listed: &dyn Fn(&Key) -> Listed) -> Vec<ChartRow> {
    let most = totals.findings.values().copied().max().unwrap_or(1).max(1);
    let mut rows: Vec<(Name, u64)> =
        totals.findings.iter().filter_map(|(name, many)| Some((Name::from_text(name)?, *many))).collect();
    rows.sort_by_key(|(name, many)| (Reverse(*many), *name));
    let row = |(name, many): (Name, u64)| ChartRow {
        name: name.entry().name,
        severity: severity(totals, name, many).name(),
        count: number(many),
        beside: totals.beside(name.entry().name),
        width: (u128::from(many) * 1000 / u128::from(most)).max(4) as u64,
        meaning: name.entry().meaning,
        list: listed(&Key::Finding(name)),
        slips: slips(name, lists, listed),
    };
    rows.into_iter().map(row).collect()
}

/// How grave the findings of a name are: as usual, but where all of them are notes.
fn severity(totals: &Totals, name: Name, many: u64) -> Severity {
    let entry = name.entry();
    if totals.softened.get(entry.name) == Some(&many) { Severity::Note } else { entry.severity }
}

/// Groups of items with one finding and one slip, the largest first.
fn slips(name: Name, lists: &Lists, listed: &dyn Fn(&Key) -> Listed) -> Vec<SlipRow> {
    let own = lists.iter().filter_map(|(key, many, _)| match key {
        Key::Slip(own, slip) if *own == name => Some((many, slip, key)),
        _ => None,
    });
    let mut groups: Vec<(u64, &Slips, &Key)> = own.collect();
    groups.sort_by_key(|(many, slip, _)| (Reverse(*many), *slip));
    groups
        .into_iter()
        .take(SLIPS)
        .map(|(many, slip, key)| SlipRow {
            items: count(many, "item"),
            words: slip.meanings(),
            slip: slip.names_with(", ").into_owned(),
            list: listed(key),
        })
        .collect()
}

fn files(summary: &Summary, first_cards: &FirstCards) -> Vec<FileRow> {
    let mut files: Vec<&(String, Totals)> = summary.files.iter().collect();
    if files.len() > FILES {
        files.sort_by_key(|(_, totals)| Reverse(totals.faulty + totals.unreadable));
        files.truncate(FILES);
    }
    files.into_iter().map(|(name, totals)| file_row(name, totals, first_cards)).collect()
}

/// One row of the table of files; its name leads to the file's first card.
pub(super) fn file_row(name: &str, totals: &Totals, first_cards: &FirstCards) -> FileRow {
    let href = first_cards.get(name).map(|(page, card)| {
        let page = if *page <= 1 { String::new() } else { page_name(*page) };
        format!("{page}#c{card}")
    });
    let numbers = [totals.items, totals.sound, totals.faulty, totals.undecided, totals.unreadable, totals.warned];
    FileRow { href: href.unwrap_or_default(), name: shown(name, FILE), numbers: numbers.map(number).to_vec() }
}
