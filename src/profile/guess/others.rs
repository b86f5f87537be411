//! Columns that are about questions, not about electrons: ids, steps, tasks, texts.

use super::cells::Kind;
use super::mechanism::Mechanism;
use super::table::Table;
use super::words::{Word, of_header, task_of};
use crate::bank::{Accept, Task};
use rustc_hash::FxHashSet;
use std::collections::BTreeSet;

/// What these columns hold.
#[derive(Debug, Clone, Default)]
pub(super) struct Others {
    pub(super) id: Option<usize>,
    pub(super) step: Option<usize>,
    pub(super) task: Option<usize>,
    pub(super) accept: Option<usize>,
    pub(super) prompt: Option<usize>,
    pub(super) tags: Option<usize>,
    /// The words of the bank's own that name tasks.
    pub(super) task_words: BTreeSet<(&'static str, String)>,
    /// Whether later steps leave their id empty.
    pub(super) id_from_above: bool,
}

/// Finds them among the columns that are free.
pub(super) fn find(table: &Table<'_>, mechanism: &Mechanism) -> Others {
    let taken = |at: usize| {
        let own = mechanism;
        [own.start, own.arrows, own.answer, own.key, own.list, own.omits, own.answers].contains(&Some(at))
            || own.options.contains(&at)
    };
    let free: Vec<usize> = (0..table.columns.len()).filter(|at| !taken(*at) && table.columns[*at].filled > 0).collect();
    let all = |at: &usize, holds: &dyn Fn(&str) -> bool| {
        let filled = table.columns[*at].filled;
        filled > 0 && table.count(*at, |row| holds(table.cell(row, *at))) == filled
    };
    let mut own = Others {
        task: free
            .iter()
            .copied()
            .find(|at| all(at, &|cell| task_of(cell).is_some()) && different(table, *at) <= WORDS),
        accept: free.iter().copied().find(|at| all(at, &|cell| Accept::from_name(cell).is_some())),
        step: free.iter().copied().find(|at| are_steps(table, *at) && have_names(table, *at, &free)),
        ..Others::default()
    };
    if let Some(at) = own.task {
        let words = table.data.iter().map(|row| table.cell(*row, at)).filter(|word| Task::from_name(word).is_none());
        own.task_words = words.filter_map(|word| Some((task_of(word)?.name(), word.to_owned()))).collect();
    }
    let others: Vec<usize> =
        free.into_iter().filter(|at| ![own.task, own.accept, own.step].contains(&Some(*at))).collect();
    let first_steps = first_steps(table, own.step);
    own.id = others
        .iter()
        .copied()
        .filter_map(|at| id_score(table, at, &first_steps).map(|score| (score, std::cmp::Reverse(at))))
        .max()
        .map(|(_, at)| at.0);
    if let (Some(id), Some(_)) = (own.id, own.step) {
        own.id_from_above = table.data.iter().any(|row| table.cell(*row, id).is_empty());
    }
    let texts: Vec<usize> = others.into_iter().filter(|at| Some(*at) != own.id).collect();
    let called = |word: Word| texts.iter().copied().find(|at| of_header(table.header_text(*at)) == Some(word));
    own.prompt = called(Word::Prompt).or_else(|| longest_text(table, &texts));
    own.tags = called(Word::Tags).filter(|at| Some(*at) != own.prompt);
    own
}

/// Words for tasks in one column.
const WORDS: usize = 8;

/// How many texts a column has.
fn different(table: &Table<'_>, column: usize) -> usize {
    table.data.iter().map(|row| table.cell(*row, column)).collect::<FxHashSet<_>>().len()
}

/// Whether a column counts the steps of items: from 1 on, and again from 1.
fn are_steps(table: &Table<'_>, column: usize) -> bool {
    let numbers: Vec<Option<u32>> = table
        .data
        .iter()
        .map(|row| match table.kind(*row, column) {
            Kind::Number(number) => Some(number),
            _ => None,
        })
        .collect();
    let filled = numbers.iter().flatten().count();
    let goes_on = |pair: &[Option<u32>]| matches!(pair, [Some(a), Some(b)] if *b == a + 1);
    let begins =
        |pair: &[Option<u32>]| matches!(pair, [Some(_), Some(1)] | [_, None]) || matches!(pair, [None, Some(1)]);
    let pairs = numbers.windows(2);
    let is_count = numbers.first().is_some_and(|first| first.is_none_or(|first| first == 1));
    let (on, again) =
        (pairs.clone().filter(|own| goes_on(own)).count(), pairs.clone().filter(|own| begins(own)).count());
    let starts = numbers.iter().flatten().filter(|own| **own == 1).count();
    is_count && filled > 1 && on > 0 && starts > 1 && (on + again) * 10 >= pairs.len() * 9
}

/// Whether rows that go on with an item are called like it, or nothing, in some column, and those that begin one otherwise: points
/// run 1, 2, 1, 2 as well.
fn have_names(table: &Table<'_>, steps: usize, columns: &[usize]) -> bool {
    let is_later = |row: usize| matches!(table.kind(row, steps), Kind::Number(2..));
    columns.iter().copied().filter(|at| *at != steps).any(|column| {
        let (mut above, mut fitting, mut later) = ("", 0, 0);
        for row in table.data.iter().copied() {
            let own = table.cell(row, column);
            let goes_on = own.is_empty() || own == above;
            fitting += usize::from(goes_on == is_later(row));
            later += usize::from(is_later(row));
            above = if own.is_empty() { above } else { own };
        }
        later > 0 && fitting * 10 >= table.data.len() * 9
    })
}

/// The rows that begin an item.
fn first_steps(table: &Table<'_>, step: Option<usize>) -> Vec<usize> {
    let is_first = |row: &&usize| step.is_none_or(|at| !matches!(table.kind(**row, at), Kind::Number(2..)));
    table.data.iter().filter(is_first).copied().collect()
}

/// How much a column looks like ids; `None` where it cannot hold any.
fn id_score(table: &Table<'_>, column: usize, rows: &[usize]) -> Option<u32> {
    let cells: Vec<&str> = rows.iter().map(|row| table.cell(*row, column)).filter(|own| !own.is_empty()).collect();
    let different: FxHashSet<&str> = cells.iter().copied().collect();
    let header = table.header_text(column);
    let is_own = header.eq_ignore_ascii_case("id");
    let is_word = of_header(header) == Some(Word::Id);
    let is_whole = cells.len() * 10 >= rows.len() * 9 && different.len() * 10 >= cells.len() * 9;
    let is_text = |cell: &&&str| cell.split_whitespace().count() > 2 || cell.chars().count() > 40;
    let is_decimal =
        |cell: &&&str| !cell.bytes().all(|byte| byte.is_ascii_digit()) && cell.replace(',', ".").parse::<f64>().is_ok();
    let odd = cells.iter().filter(|cell| is_text(cell) || is_decimal(cell) || is_date(cell)).count();
    if !is_whole || cells.is_empty() || odd * 4 > cells.len() || table.columns.get(column)?.is_drawn() {
        return None;
    }
    // Rows that are only numbered are numbered anew in each sheet.
    let numbers: Vec<u32> = cells.iter().filter_map(|cell| cell.parse().ok()).collect();
    let is_running = numbers.len() == cells.len()
        && numbers.first().is_some_and(|first| *first < 10)
        && numbers.windows(2).all(|pair| pair[1] > pair[0] && pair[1] - pair[0] < 10);
    let has_letter = cells.iter().filter(|cell| cell.chars().any(char::is_alphabetic)).count() * 2 > cells.len();
    let has_digit =
        cells.iter().filter(|cell| cell.bytes().any(|byte| byte.is_ascii_digit())).count() * 2 > cells.len();
    Some(
        8 * u32::from(is_own)
            + u32::from(is_word)
            + 2 * u32::from(!is_running)
            + 2 * u32::from(has_letter && has_digit)
            + u32::from(has_digit),
    )
}

/// Whether a text is a day: three numbers, one of them a year.
fn is_date(cell: &str) -> bool {
    let parts: Vec<&str> = cell.split(['-', '.', '/']).map(str::trim).collect();
    let is_number = |own: &&str| !own.is_empty() && own.len() < 5 && own.bytes().all(|byte| byte.is_ascii_digit());
    parts.len() == 3 && parts.iter().all(is_number) && [parts[0], parts[2]].iter().any(|own| own.len() == 4)
}

/// The column of the longest texts of several words.
fn longest_text(table: &Table<'_>, columns: &[usize]) -> Option<usize> {
    let words = |at: usize| table.data.iter().map(|row| table.cell(*row, at).split_whitespace().count()).sum::<usize>();
    let long =
        |at: &usize| table.columns[*at].filled * 2 > table.data.len() && words(*at) >= table.columns[*at].filled * 3;
    columns.iter().copied().filter(long).max_by_key(|at| words(*at))
}
