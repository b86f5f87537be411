//! `survey.html`: one page that needs no network and no script, in the looks of the audit's page.

use super::shown::of_value;
use super::{Family, Head, Section, Survey, Tail, Value, never};
use crate::drawing::layout::{View, lay_out};
use crate::drawing::{self, Scene};
use crate::report::file::WholeFile;
use crate::report::html::{FILE, ID, STYLE, number, shown};
use askama::Template;
use std::io::{self, Write as _};
use std::path::Path;

/// Rows of a chart; the rest is in the table.
const ROWS: usize = 30;
/// Families that the page lists, and those of them that it draws.
const FAMILIES: usize = 200;
const DRAWN: usize = 60;
/// Atoms of a start that is drawn in the list.
const ATOMS: usize = 80;

#[derive(Template)]
#[template(path = "survey.html")]
struct Page<'a> {
    version: &'static str,
    style: &'static str,
    what: &'a str,
    numbers: Vec<(String, &'static str)>,
    left_out: Vec<String>,
    heads: Vec<&'static str>,
    matrix: Vec<MatrixRow>,
    charts: Vec<Chart>,
    absent: Vec<(&'static str, String)>,
    families: Vec<FamilyRow>,
    families_heading: String,
    more_families: String,
    unread: &'a [(String, String)],
}

struct MatrixRow {
    tail: &'static str,
    cells: Vec<Bar>,
}

/// A number with the length of its bar.
struct Bar {
    count: String,
    width: u64,
}

/// A section as bars.
struct Chart {
    heading: &'static str,
    unit: &'static str,
    about: &'static str,
    rows: Vec<(String, Bar)>,
    more: String,
}

struct FamilyRow {
    words: String,
    steps: Bar,
    near: String,
    place: String,
    item: String,
    svg: String,
}

/// Writes the page into a folder.
///
/// # Errors
/// It cannot be written.
pub fn write_page(survey: &Survey, what: &str, folder: &Path) -> io::Result<()> {
    let mut file = WholeFile::create(&folder.join("survey.html"))?;
    file.write_all(page(survey, what).render().unwrap_or_default().as_bytes())?;
    file.finish()
}

fn page<'a>(survey: &'a Survey, what: &'a str) -> Page<'a> {
    let families = survey.families.list();
    let most = families.first().map_or(0, |own| own.steps);
    let row = |(at, own): (usize, &&Family)| family(own, most, at < DRAWN);
    let told = survey.families.count();
    let left = told.saturating_sub(FAMILIES);
    Page {
        version: env!("CARGO_PKG_VERSION"),
        style: STYLE,
        what,
        numbers: vec![
            (number(survey.items), "items"),
            (number(survey.steps), "steps"),
            (number(survey.arrows), "arrows"),
            (number(told as u64), "different reaction centres"),
        ],
        left_out: left_out(survey),
        heads: Head::ALL.iter().map(|head| head.name()).collect(),
        matrix: matrix(survey),
        charts: charts(survey),
        absent: never(survey).into_iter().map(|own| (heading(own.section).0, of_value(&own.value))).collect(),
        families: families.iter().enumerate().take(FAMILIES).map(row).collect(),
        families_heading: format!("Reaction centres: {}", number(told as u64)),
        more_families: if left > 0 { number(left as u64) } else { String::new() },
        unread: &survey.unswept.unread,
    }
}

/// What is not counted, and why.
fn left_out(survey: &Survey) -> Vec<String> {
    let parts = [
        (survey.unread, "without a start that can be read: counted only by task and form"),
        (survey.unpushed, "with arrows that cannot be pushed: those steps are not counted"),
        (survey.families.others, "steps of reaction centres beyond the limit, which are not told apart"),
    ];
    parts.into_iter().filter(|(count, _)| *count > 0).map(|(count, why)| format!("{} {why}", number(count))).collect()
}

fn bar(count: u64, most: u64) -> Bar {
    // A bar that is there is seen.
    let width = if count == 0 { 0 } else { (count * 1000 / most.max(1)).max(4) };
    Bar { count: number(count), width }
}

fn matrix(survey: &Survey) -> Vec<MatrixRow> {
    let count = |tail, head| survey.counts.of(Section::Move, &Value::Moves(Box::new([(tail, head)])));
    let all = || Tail::ALL.into_iter().flat_map(|tail| Head::ALL.map(|head| count(tail, head)));
    let most = all().max().unwrap_or_default();
    let row = |tail: Tail| MatrixRow {
        tail: tail.name(),
        cells: Head::ALL.iter().map(|head| bar(count(tail, *head), most)).collect(),
    };
    Tail::ALL.into_iter().map(row).collect()
}

/// Heading and meaning of a section.
fn heading(section: Section) -> (&'static str, &'static str) {
    match section {
        Section::Task => ("Tasks", "What the electrons may do."),
        Section::Form => ("Answers", "How the answer is given."),
        Section::Steps => ("Steps of an item", "A sequence has several."),
        Section::Arrows => ("Arrows of a step", "Full and half-headed ones."),
        Section::Species => ("Species of the start", "Parts that no bond joins."),
        Section::Atoms => ("Size of the start", "Atoms other than hydrogen."),
        Section::Move => ("Tails and heads", "Where electrons come from and where they go."),
        Section::Pattern => ("Patterns of a step", "The tails and heads of all its arrows, whatever their order."),
        Section::NetCharge => ("Net charge of the start", "The sum of its formal charges."),
        Section::ChargedAtom => ("Charged atoms", "Items whose start has such an atom."),
        Section::Element => ("Elements", "Items whose start has the element, hydrogens included."),
        Section::Touched => ("Elements at the arrows", "Items whose arrows touch such an atom."),
        Section::Mark => ("Other marks", "Items whose start, or whose arrows, have them."),
    }
}

fn charts(survey: &Survey) -> Vec<Chart> {
    let shown = Section::ALL.into_iter().filter(|section| *section != Section::Move);
    let charts = shown.map(|section| {
        let values = survey.counts.section(section);
        let most = values.iter().map(|(_, count)| *count).max().unwrap_or_default();
        let rows = if section == Section::Atoms && values.len() > ROWS { binned(&values) } else { Vec::new() };
        let rows: Vec<(String, Bar)> = if rows.is_empty() {
            values.iter().take(ROWS).map(|(value, count)| (of_value(value), bar(*count, most))).collect()
        } else {
            rows
        };
        let left = values.len().saturating_sub(ROWS);
        let more = if left > 0 && section != Section::Atoms { number(left as u64) } else { String::new() };
        let (heading, about) = heading(section);
        Chart { heading, unit: section.unit(), about, rows, more }
    });
    charts.filter(|chart| !chart.rows.is_empty()).collect()
}

/// Numbers in at most [`ROWS`] ranges of one width.
fn binned(values: &[(&Value, u64)]) -> Vec<(String, Bar)> {
    let numbers: Vec<(i64, u64)> = values
        .iter()
        .filter_map(|(value, count)| if let Value::Number(own) = value { Some((*own, *count)) } else { None })
        .collect();
    let (Some(first), Some(last)) = (numbers.first(), numbers.last()) else { return Vec::new() };
    let width = ((last.0 - first.0) / ROWS as i64 + 1).max(1);
    let mut bins = vec![0; ((last.0 - first.0) / width + 1) as usize];
    for (own, count) in &numbers {
        if let Some(bin) = bins.get_mut(((own - first.0) / width) as usize) {
            *bin += count;
        }
    }
    let most = bins.iter().copied().max().unwrap_or_default();
    let name = |at: usize| {
        let from = first.0 + at as i64 * width;
        if width == 1 { from.to_string() } else { format!("{from} to {}", from + width - 1) }
    };
    bins.iter().enumerate().map(|(at, count)| (name(at), bar(*count, most))).collect()
}

fn family(own: &Family, most: u64, is_drawn: bool) -> FamilyRow {
    let centre = own.centre.as_ref().filter(|centre| is_drawn && centre.start.atom_count() <= ATOMS);
    let svg = centre.map_or_else(String::new, |centre| {
        let points = lay_out(&[View::same(&centre.start)]).into_iter().next().unwrap_or_default();
        let title = format!("The first step of this centre: {}", own.words);
        drawing::fragment(&Scene { title, ..Scene::new(&centre.start, &points, &centre.arrows) })
    });
    FamilyRow {
        words: shown(&own.words, 400),
        steps: bar(own.steps, most),
        near: if own.near > 0 { number(own.near) } else { String::new() },
        place: crate::bank::place_name(&shown(&own.first.file, FILE), own.first.line),
        item: shown(&own.first.item, ID),
        svg,
    }
}
