//! Which columns hold start, arrows and answer: the answer is the column that is the product.

use super::push::{Fit, Product, Pusher};
use super::series;
use super::table::{Column, Table};
use super::words::{Word, of_header};
use crate::bank::key::keyed;
use crate::bank::{Drawing, Field};

/// Rows that are pushed for each way to take the columns.
const FEW: usize = 24;
/// Rows that are pushed for the best ways.
const MANY: usize = 60;
/// Columns of structures and of arrows that are tried.
const STARTS: usize = 12;
const ARROWS: usize = 4;
/// The best ways that are looked at further.
const BEST: usize = 4;

/// A way to take columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Way {
    start: usize,
    arrows: usize,
    from_zero: bool,
}

/// What the columns hold that are about electrons.
#[derive(Debug, Clone, Default)]
pub(super) struct Mechanism {
    pub(super) start: Option<usize>,
    pub(super) arrows: Option<usize>,
    pub(super) answer: Option<usize>,
    /// Columns of options, in order, and their key.
    pub(super) options: Vec<usize>,
    pub(super) key: Option<usize>,
    /// The column of options in one cell.
    pub(super) list: Option<usize>,
    pub(super) omits: Option<usize>,
    /// Columns of sets of contributors.
    pub(super) answers: Option<usize>,
    pub(super) from_zero: bool,
    /// Whether empty starts are those above.
    pub(super) start_from_above: bool,
    /// Rows that were pushed, and those whose answer is the product.
    pub(super) tried: usize,
    pub(super) fitting: usize,
}

/// One row that was pushed.
struct Pushed<'t> {
    row: usize,
    start: &'t str,
    arrows: &'t str,
    product: Product,
    is_filled: bool,
}

/// Finds them.
pub(super) fn find(table: &Table<'_>) -> Mechanism {
    let drawn = table.which(Column::is_drawn);
    let arrows = table.which(Column::is_of_arrows);
    let pusher = Pusher::new();
    let mut mechanism = Mechanism::default();
    if let Some(way) = best_way(table, &pusher, &drawn, &arrows) {
        mechanism = of_way(table, &pusher, &drawn, way);
    } else {
        by_place(table, &drawn, &arrows, &mut mechanism);
    }
    mechanism.answers = contributors(table, &pusher, &mechanism);
    mechanism
}

/// The way in which most answers are products.
fn best_way(table: &Table<'_>, pusher: &Pusher, drawn: &[usize], arrows: &[usize]) -> Option<Way> {
    let mut ways: Vec<(usize, Way)> = Vec::new();
    for start in drawn.iter().copied().take(STARTS) {
        for arrows in arrows.iter().copied().take(ARROWS) {
            for from_zero in [false, true] {
                let way = Way { start, arrows, from_zero };
                let clean = pushed(table, pusher, way, FEW).len();
                if clean > 0 {
                    ways.push((clean, way));
                }
            }
        }
    }
    ways.sort_by_key(|(clean, way)| (std::cmp::Reverse(*clean), way.from_zero));
    let score = |way: &Way| {
        let rows = pushed(table, pusher, *way, FEW);
        let others = drawn.iter().filter(|at| **at != way.start);
        // In a multiple choice, no column is the product of all rows.
        let mut some = vec![false; rows.len()];
        let mut best = 0;
        for answer in others.take(STARTS) {
            let fits: Vec<Fit> = rows.iter().map(|row| fit(table, pusher, *way, row, *answer)).collect();
            some.iter_mut().zip(&fits).for_each(|(own, fit)| *own |= *fit > Fit::No);
            best = best.max(fits.iter().map(|fit| *fit as usize).sum());
        }
        (some.iter().filter(|own| **own).count(), best, rows.len())
    };
    let scored = ways.into_iter().take(BEST * 2).map(|(_, way)| (score(&way), way));
    let is_of_start = |way: &Way| of_header(table.header_text(way.start)) == Some(Word::Start);
    let best = scored.max_by_key(|(score, way)| {
        (
            *score,
            !way.from_zero,
            is_of_start(way),
            way.start < way.arrows,
            std::cmp::Reverse(way.arrows.abs_diff(way.start)),
        )
    });
    best.map(|(_, way)| way)
}

/// The rows that can be pushed in a way. An empty start is the one above.
fn pushed<'t>(table: &Table<'t>, pusher: &Pusher, way: Way, most: usize) -> Vec<Pushed<'t>> {
    let product = |row: usize| {
        let arrows = table.cell(row, way.arrows);
        let own = table.cell(row, way.start);
        let above = || (0..row).rev().map(|row| table.cell(row, way.start)).find(|cell| !cell.is_empty());
        let start = if own.is_empty() { above()? } else { own };
        if arrows.is_empty() {
            return None;
        }
        let product = pusher.product(start, arrows, way.from_zero)?;
        Some(Pushed { row, start, arrows, product, is_filled: !own.is_empty() })
    };
    table.spread(most).into_iter().filter_map(product).collect()
}

fn fit(table: &Table<'_>, pusher: &Pusher, way: Way, row: &Pushed<'_>, answer: usize) -> Fit {
    let cell = table.cell(row.row, answer);
    if !table.kind(row.row, answer).is_drawn() {
        return Fit::No;
    }
    pusher.fit((row.start, row.arrows, way.from_zero), &row.product, cell)
}

/// What the other columns are, given start and arrows.
fn of_way(table: &Table<'_>, pusher: &Pusher, drawn: &[usize], way: Way) -> Mechanism {
    let rows = pushed(table, pusher, way, MANY);
    let others: Vec<usize> = drawn.iter().copied().filter(|at| *at != way.start).collect();
    let fits: Vec<(usize, Vec<Fit>)> =
        others.iter().map(|at| (*at, rows.iter().map(|row| fit(table, pusher, way, row, *at)).collect())).collect();
    let mut own = Mechanism {
        start: Some(way.start),
        arrows: Some(way.arrows),
        from_zero: way.from_zero,
        tried: rows.len(),
        ..Mechanism::default()
    };
    choice(table, pusher, way, &rows, &fits, &mut own);
    answer(table, &fits, &mut own);
    let blank = rows.iter().filter(|row| !row.is_filled).count();
    let fitting = |row: &&Pushed<'_>| own.answer.is_some_and(|at| fit(table, pusher, way, row, at) > Fit::No);
    own.start_from_above = blank > 0 && rows.iter().filter(|row| !row.is_filled).filter(fitting).count() * 2 > blank;
    if let Some(answer) = own.answer {
        own.omits = others.iter().copied().filter(|at| *at != answer).find(|at| {
            let both = rows.iter().filter(|row| !table.cell(row.row, *at).is_empty());
            let fits = |row: &&Pushed<'_>| fit(table, pusher, way, row, answer) == Fit::InPart;
            let short: Vec<&Pushed<'_>> = both.filter(fits).collect();
            let omits = |row: &&&Pushed<'_>| {
                let (stated, omits) = (table.cell(row.row, answer), table.cell(row.row, *at));
                pusher.omits((row.start, row.arrows, way.from_zero), stated, omits)
            };
            !short.is_empty() && short.iter().filter(omits).count() * 2 > short.len()
        });
    }
    own
}

/// The answer: the column that is the product in most rows.
fn answer(table: &Table<'_>, fits: &[(usize, Vec<Fit>)], own: &mut Mechanism) {
    let score = |fits: &Vec<Fit>| fits.iter().map(|fit| *fit as usize).sum::<usize>();
    let free = fits.iter().filter(|(at, _)| !own.options.contains(at));
    let arrows = own.arrows.unwrap_or(0);
    let is_word = |at: usize| of_header(table.header_text(at)) == Some(Word::Answer);
    let best =
        free.max_by_key(|(at, fits)| (score(fits), is_word(*at), *at > arrows, std::cmp::Reverse(at.abs_diff(arrows))));
    let (found, fitting) = match best {
        Some((at, fits)) => (Some(*at), fits.iter().filter(|fit| **fit > Fit::No).count()),
        None => (None, 0),
    };
    let is_enough = fitting > 0 && (own.options.is_empty() || fitting * 2 > own.tried);
    if is_enough {
        (own.answer, own.fitting) = (found, fitting);
    } else if own.options.is_empty() {
        // No column is the product: one that nobody has filled yet, or the one that is called so.
        let is_open = |at: &usize| is_word(*at) && Some(*at) != own.start && !own.options.contains(at);
        own.answer = (0..table.columns.len()).find(is_open);
    }
}

/// Options and their key: the key names the option that is the product.
fn choice(
    table: &Table<'_>,
    pusher: &Pusher,
    way: Way,
    rows: &[Pushed<'_>],
    fits: &[(usize, Vec<Fit>)],
    own: &mut Mechanism,
) {
    let keys: Vec<usize> = (0..table.columns.len()).filter(|at| may_be_key(table, *at)).collect();
    let whole = fits.iter().map(|(_, fits)| fits.iter().filter(|fit| **fit == Fit::Whole).count()).max().unwrap_or(0);
    let best = columns_with_key(table, rows, fits, &keys);
    if let Some(best) = best.filter(|best| best.hits * 2 > rows.len() && best.hits + 1 >= whole) {
        (own.options, own.key, own.fitting) = (best.options, Some(best.key), best.hits);
        return;
    }
    for list in table.which(Column::is_of_lists) {
        for key in &keys {
            let named = |row: &&Pushed<'_>| {
                let options: Vec<&str> = table.cell(row.row, list).split_whitespace().collect();
                let drawn: Vec<Drawing> = options.iter().map(|own| text(own)).collect();
                let places = keyed(table.cell(row.row, *key), &drawn).unwrap_or_default();
                let is_right = |own: &usize| {
                    pusher.fit((row.start, row.arrows, way.from_zero), &row.product, options[*own]) > Fit::No
                };
                !places.is_empty() && places.iter().all(is_right)
            };
            let hits = rows.iter().filter(named).count();
            if hits * 2 > rows.len() {
                (own.list, own.key, own.fitting) = (Some(list), Some(*key), hits);
                return;
            }
        }
    }
    if let Some(named) = named_options(table, rows, fits, &keys) {
        (own.options, own.key, own.fitting) = (named.options, Some(named.key), named.hits);
    }
}

/// Options that their headers count, where the key of most rows is wrong, or the rows are few: a column whose cells name them, by
/// letters or under a header that says so.
fn named_options(table: &Table<'_>, rows: &[Pushed<'_>], fits: &[(usize, Vec<Fit>)], keys: &[usize]) -> Option<Keyed> {
    let options = series::longest(table);
    let drawn: Vec<usize> = options.iter().filter_map(|at| fits.iter().position(|(own, _)| own == at)).collect();
    if drawn.len() < 2 {
        return None;
    }
    let places = |row: usize, key: usize| {
        let drawn: Vec<Drawing> = options.iter().map(|at| text(table.cell(row, *at))).collect();
        keyed(table.cell(row, key), &drawn).unwrap_or_default()
    };
    let names_most = |key: &usize| {
        let named = table.data.iter().filter(|row| !places(**row, *key).is_empty()).count();
        let is_called = matches!(of_header(table.header_text(*key)), Some(Word::Key | Word::Answer));
        // Points are numbers, too.
        let has_letters = table.columns[*key].numbers == 0;
        !options.contains(key) && named * 2 > table.data.len() && (is_called || has_letters)
    };
    let is_called = |key: &usize| of_header(table.header_text(*key)) == Some(Word::Key);
    let key = keys.iter().copied().filter(names_most).max_by_key(|key| (is_called(key), std::cmp::Reverse(*key)))?;
    let is_right = |at: usize| {
        let places = places(rows[at].row, key);
        let fit = |place: &usize| fits.iter().any(|(own, fits)| *own == options[*place] && fits[at] > Fit::No);
        !places.is_empty() && places.iter().all(fit)
    };
    let hits = (0..rows.len()).filter(|at| is_right(*at)).count();
    Some(Keyed { hits, options, key })
}

/// Columns of options and the column of their key.
struct Keyed {
    /// Rows in which the key names the product.
    hits: usize,
    options: Vec<usize>,
    key: usize,
}

/// The neighbouring columns of options, and the key, that most rows agree with.
fn columns_with_key(
    table: &Table<'_>,
    rows: &[Pushed<'_>],
    fits: &[(usize, Vec<Fit>)],
    keys: &[usize],
) -> Option<Keyed> {
    let mut best: Option<Keyed> = None;
    for first in 0..fits.len() {
        for last in first + 1..fits.len() {
            let run = &fits[first..=last];
            // A key may be the text of an option; an option is no key.
            for key in keys.iter().filter(|key| !run.iter().any(|(at, _)| at == *key)) {
                let named = |at: usize| {
                    let row = &rows[at];
                    let options: Vec<Drawing> = run.iter().map(|(at, _)| text(table.cell(row.row, *at))).collect();
                    let places = keyed(table.cell(row.row, *key), &options).unwrap_or_default();
                    !places.is_empty() && places.iter().all(|own| run[*own].1[at] > Fit::No)
                };
                let hits = (0..rows.len()).filter(|at| named(*at)).count();
                // As many right ones, and more options beside them.
                if best.as_ref().is_none_or(|own| (hits, run.len()) > (own.hits, own.options.len())) {
                    best = Some(Keyed { hits, options: run.iter().map(|(at, _)| *at).collect(), key: *key });
                }
            }
        }
    }
    best
}

fn text(cell: &str) -> Drawing {
    Drawing::Text(Field { text: cell.to_owned(), ..Field::default() })
}

/// Characters of a key.
const KEY: usize = 12;

/// Whether a column may be a key: short texts, few different ones.
fn may_be_key(table: &Table<'_>, column: usize) -> bool {
    let mut different: Vec<&str> =
        table.data.iter().map(|row| table.cell(*row, column)).filter(|own| !own.is_empty()).collect();
    let filled = different.len();
    let is_short = different.iter().all(|own| own.chars().count() <= KEY);
    different.sort_unstable();
    different.dedup();
    filled * 2 > table.data.len() && is_short && different.len() <= 64
}

/// Where nothing can be pushed: by the places of the columns.
fn by_place(table: &Table<'_>, drawn: &[usize], arrows: &[usize], own: &mut Mechanism) {
    own.arrows = arrows.first().copied();
    let is = |word: Word| (0..table.columns.len()).find(|at| of_header(table.header_text(*at)) == Some(word));
    let called = |word: Word| drawn.iter().copied().find(|at| is(word) == Some(*at));
    let before = |at: usize| drawn.iter().copied().rfind(|own| *own < at);
    own.start = called(Word::Start)
        .or_else(|| own.arrows.and_then(before))
        .or_else(|| drawn.iter().copied().find(|at| called(Word::Answer) != Some(*at)));
    let mut rest = drawn.iter().copied().filter(|at| Some(*at) != own.start);
    own.answer = called(Word::Answer)
        .filter(|at| Some(*at) != own.start)
        .or_else(|| own.arrows.and_then(|arrows| rest.clone().find(|at| *at > arrows)))
        .or_else(|| rest.next());
}

/// The column of stated contributors: lists of drawings of the start's atoms.
fn contributors(table: &Table<'_>, pusher: &Pusher, own: &Mechanism) -> Option<usize> {
    let taken = |at: &usize| own.list == Some(*at) || own.options.contains(at) || own.start == Some(*at);
    let start = own.start?;
    table.which(Column::is_of_lists).into_iter().filter(|at| !taken(at)).find(|at| {
        let rows: Vec<usize> = table.spread(MANY).into_iter().filter(|row| !table.cell(*row, *at).is_empty()).collect();
        let fits = |row: &&usize| pusher.are_contributors(table.cell(**row, start), table.cell(**row, *at));
        rows.iter().filter(fits).count() * 2 > rows.len()
    })
}
