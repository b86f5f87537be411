//! Formulas whose stored values are stale once a cell has changed: those that name it, and those that name these.

use super::place_of;
use super::tags::{Tag, Tags, unescaped};
use crate::bank::sheet::cell_name;
use rustc_hash::FxHashMap;

/// Formulas of a workbook that are looked at.
const MOST_FORMULAS: usize = 200_000;
/// References of one formula that are looked at.
const REFERENCES: usize = 256;
/// Rounds from formula to formula.
const ROUNDS: usize = 64;

/// A cell with a formula.
#[derive(Debug)]
struct Formula {
    sheet: String,
    place: (u32, u32),
    areas: Vec<Area>,
}

/// A stretch of cells; both ends included, from 0. No sheet: the formula's own.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Area {
    sheet: Option<String>,
    rows: (u32, u32),
    columns: (u32, u32),
}

impl Area {
    fn holds(&self, own_sheet: &str, (sheet, place): (&str, (u32, u32))) -> bool {
        let is_there = self.sheet.as_deref().unwrap_or(own_sheet).eq_ignore_ascii_case(sheet);
        let within = |(first, last): (u32, u32), at: u32| (first..=last).contains(&at);
        is_there && within(self.rows, place.0) && within(self.columns, place.1)
    }
}

/// The formulas of a workbook.
#[derive(Debug, Default)]
pub(super) struct Formulas {
    all: Vec<Formula>,
    /// Whether there are more than are looked at.
    pub(super) is_cut: bool,
}

impl Formulas {
    fn add(&mut self, sheet: &str, place: (u32, u32), areas: Vec<Area>) {
        if self.all.len() == MOST_FORMULAS {
            self.is_cut = true;
        } else if !areas.is_empty() {
            self.all.push(Formula { sheet: sheet.to_owned(), place, areas });
        }
    }

    /// Takes those of a sheet of an `.xlsx`.
    pub(super) fn xlsx(&mut self, sheet: &str, part: &[u8]) {
        let mut tags = Tags::new(part);
        let (mut place, mut row, mut column) = ((0, 0), 0, 0);
        // Shared formulas: where they were written, and the text.
        let mut shared: FxHashMap<String, ((u32, u32), String)> = FxHashMap::default();
        while let Some(tag) = tags.next() {
            match tag.local() {
                b"row" if !tag.is_end => {
                    row = tag.number("r").map_or(row + 1, |own| own);
                    column = 0;
                }
                b"c" if !tag.is_end => {
                    let here = (row.saturating_sub(1), column);
                    place = tag.attribute("r").and_then(|own| place_of(&own)).unwrap_or(here);
                    column = place.1 + 1;
                }
                b"f" if !tag.is_end => {
                    let text = text_of(&mut tags, &tag, part);
                    let number = tag.attribute("si").map(std::borrow::Cow::into_owned);
                    match (number, text.is_empty()) {
                        (Some(number), false) => {
                            self.add(sheet, place, areas(&text, (0, 0)));
                            shared.insert(number, (place, text));
                        }
                        (Some(number), true) => {
                            let Some((from, text)) = shared.get(&number) else { continue };
                            let by = (i64::from(place.0) - i64::from(from.0), i64::from(place.1) - i64::from(from.1));
                            self.add(sheet, place, areas(text, by));
                        }
                        (None, _) => self.add(sheet, place, areas(&text, (0, 0))),
                    }
                }
                _ => {}
            }
        }
    }

    /// Takes those of an `.ods`.
    pub(super) fn ods(&mut self, content: &[u8]) {
        let (mut sheet, mut row, mut column, mut tables) = (String::new(), 0_u32, 0_u32, 0_usize);
        let mut times = 1;
        for tag in Tags::new(content) {
            match (tag.local(), tag.is_end) {
                (b"table", true) => tables = tables.saturating_sub(1),
                (b"table", false) if tag.opens() => {
                    tables += 1;
                    (sheet, row) = (tag.attribute("name").unwrap_or_default().into_owned(), 0);
                }
                (b"table-row", false) => {
                    times = tag.number("number-rows-repeated").unwrap_or(1).max(1);
                    column = 0;
                    if tag.is_empty {
                        row = row.saturating_add(times);
                    }
                }
                (b"table-row", true) => row = row.saturating_add(times),
                (b"table-cell" | b"covered-table-cell", false) if tables == 1 => {
                    if let Some(text) = tag.attribute("formula") {
                        self.add(&sheet, (row, column), bracketed(&text));
                    }
                    column = column.saturating_add(tag.number("number-columns-repeated").unwrap_or(1).max(1));
                }
                _ => {}
            }
        }
    }

    /// The names of the formulas that depend on cells, directly or through others.
    pub(super) fn stale(&self, cells: &[(String, (u32, u32))]) -> Vec<String> {
        let mut is_stale = vec![false; self.all.len()];
        let mut changed: Vec<(&str, (u32, u32))> =
            cells.iter().map(|(sheet, place)| (sheet.as_str(), *place)).collect();
        for _ in 0..ROUNDS {
            let mut next = Vec::new();
            for (formula, stale) in self.all.iter().zip(&mut is_stale).filter(|(_, stale)| !**stale) {
                let depends =
                    |cell: &(&str, (u32, u32))| formula.areas.iter().any(|area| area.holds(&formula.sheet, *cell));
                if changed.iter().any(depends) {
                    *stale = true;
                    next.push((formula.sheet.as_str(), formula.place));
                }
            }
            if next.is_empty() || next.len() > REFERENCES * REFERENCES {
                break;
            }
            changed = next;
        }
        let name = |own: &Formula| format!("{}!{}", own.sheet, cell_name(own.place.0 + 1, own.place.1));
        self.all.iter().zip(is_stale).filter(|(_, stale)| *stale).map(|(own, _)| name(own)).collect()
    }
}

/// The text of an element.
fn text_of(tags: &mut Tags<'_>, tag: &Tag<'_>, part: &[u8]) -> String {
    let (end, _) = tags.pass(tag, b"");
    let inner = part.get(tag.end..end).unwrap_or_default();
    let text = memchr::memrchr(b'<', inner).map_or(&[][..], |close| inner.get(..close).unwrap_or_default());
    unescaped(text).unwrap_or_default().into_owned()
}

/// The cells that a formula of an `.xlsx` names: `B2`, `$B$2:C9`, `'Week 3'!D:D`. It may stand elsewhere than where it was written.
fn areas(formula: &str, by: (i64, i64)) -> Vec<Area> {
    let mut found = Vec::new();
    let mut rest = formula;
    let mut before = ' ';
    let mut sheet: Option<String> = None;
    while let Some(first) = rest.chars().next().filter(|_| found.len() < REFERENCES) {
        // A text, or the name of a sheet in quotes.
        if matches!(first, '"' | '\'') {
            let (text, behind) = quoted(rest, first);
            rest = behind;
            if first == '\'' && rest.starts_with('!') {
                sheet = Some(text);
                rest = &rest[1..];
            }
            before = '!';
            continue;
        }
        let is_inside = before.is_alphanumeric() || matches!(before, '_' | '.');
        let length = rest
            .find(|own: char| !(own.is_alphanumeric() || matches!(own, '$' | '_' | '.' | ':')))
            .unwrap_or(rest.len());
        if length == 0 || is_inside {
            before = first;
            rest = &rest[first.len_utf8()..];
            if !is_inside {
                sheet = None;
            }
            continue;
        }
        let (word, behind) = rest.split_at(length);
        rest = behind;
        before = ' ';
        if let Some(after) = rest.strip_prefix('!') {
            (sheet, rest) = (Some(word.to_owned()), after);
            continue;
        }
        if !rest.starts_with('(')
            && let Some((rows, columns)) = stretch(word, by)
        {
            found.push(Area { sheet: sheet.clone(), rows, columns });
        }
        sheet = None;
    }
    found
}

/// A text in quotes, which are doubled within, and what stands behind it.
fn quoted(text: &str, quote: char) -> (String, &str) {
    let mut out = String::new();
    let mut rest = text.get(1..).unwrap_or_default();
    while let Some((own, behind)) = rest.split_once(quote) {
        out.push_str(own);
        match behind.strip_prefix(quote) {
            Some(after) => {
                out.push(quote);
                rest = after;
            }
            None => return (out, behind),
        }
    }
    (out, "")
}

/// First and last row, first and last column.
type Stretch = ((u32, u32), (u32, u32));

/// A cell, or a stretch between two, whole columns or whole rows.
fn stretch(word: &str, by: (i64, i64)) -> Option<Stretch> {
    let (first, last) = word.split_once(':').unwrap_or((word, word));
    let (first, last) = (corner(first, by)?, corner(last, by)?);
    if first.0.is_none() && first.1.is_none() || (!word.contains(':') && (first.0.is_none() || first.1.is_none())) {
        return None;
    }
    let ends = |a: Option<u32>, b: Option<u32>| match (a, b) {
        (Some(a), Some(b)) => (a.min(b), a.max(b)),
        _ => (0, u32::MAX),
    };
    Some((ends(first.0, last.0), ends(first.1, last.1)))
}

/// Row and column of a corner, each where it is named; those without `$` go along.
fn corner(word: &str, by: (i64, i64)) -> Option<(Option<u32>, Option<u32>)> {
    let (column_stays, rest) = word.strip_prefix('$').map_or((false, word), |rest| (true, rest));
    let letters = rest.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (letters, rest) = rest.split_at(letters);
    let (row_stays, digits) = match rest.strip_prefix('$') {
        Some(digits) => (true, digits),
        // `$7`: the mark is the row's.
        None => (letters.is_empty() && column_stays, rest),
    };
    if letters.len() > 3 || digits.len() > 7 || !digits.bytes().all(|own| own.is_ascii_digit()) {
        return None;
    }
    let moved = |at: u32, stays: bool, by: i64| u32::try_from(i64::from(at) + if stays { 0 } else { by }).ok();
    let column = match letters {
        "" => None,
        letters => Some(moved(super::column_of(letters)?, column_stays, by.1)?),
    };
    let row = match digits {
        "" => None,
        digits => Some(moved(digits.parse::<u32>().ok()?.checked_sub(1)?, row_stays, by.0)?),
    };
    (row.is_some() || column.is_some()).then_some((row, column))
}

/// The cells that a formula of an `.ods` names: `[.B2]`, `[.B2:.C9]`, `[$'Week 3'.D4]`.
fn bracketed(formula: &str) -> Vec<Area> {
    let mut found = Vec::new();
    for part in formula.split('[').skip(1).take(REFERENCES) {
        let inner = part.split(']').next().unwrap_or_default();
        let (sheet, rest) = if let Some(behind) = inner.trim_start_matches('$').strip_prefix('\'') {
            let whole = format!("'{behind}");
            let (name, rest) = quoted(&whole, '\'');
            (Some(name), rest.trim_start_matches('.').to_owned())
        } else {
            let (name, rest) = inner.split_once('.').unwrap_or(("", inner));
            (Some(name.trim_start_matches('$').to_owned()).filter(|name| !name.is_empty()), rest.to_owned())
        };
        let plain: Vec<&str> = rest.split(':').map(|own| own.rsplit('.').next().unwrap_or(own)).collect();
        if let Some((rows, columns)) = stretch(&plain.join(":"), (0, 0)) {
            found.push(Area { sheet, rows, columns });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{Area, areas, bracketed};

    fn told(areas: &[Area]) -> String {
        let one = |own: &Area| {
            let end = |at: u32| if at == u32::MAX { "end".to_owned() } else { at.to_string() };
            let sheet = own.sheet.clone().unwrap_or_default();
            format!("{sheet}!{}-{},{}-{}", own.rows.0, end(own.rows.1), own.columns.0, end(own.columns.1))
        };
        areas.iter().map(one).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn references_of_formulas_are_found() {
        let cases = [
            ("G6*2", "!5-5,6-6"),
            ("SUM(G6:G11)+$B$2", "!5-10,6-6 !1-1,1-1"),
            ("'Week 3'!D4&\"B2\"", "Week 3!3-3,3-3"),
            ("Other!A:B", "Other!0-end,0-1"),
            ("SUM(3:4)", "!2-3,0-end"),
            ("LOG10(2)+A1B", ""),
            ("TRUE+12", ""),
        ];
        let mut failures = Vec::new();
        for (formula, expected) in cases {
            let found = told(&areas(formula, (0, 0)));
            if found != expected {
                failures.push(format!("{formula}: {found}"));
            }
        }
        if told(&areas("G6*$G$1", (2, 1))) != "!7-7,7-7 !0-0,6-6" {
            failures.push(format!("moved: {}", told(&areas("G6*$G$1", (2, 1)))));
        }
        let open = told(&bracketed("of:=SUM([.G6:.G11];[$'Week 3'.B2];[$Old.C3])"));
        if open != "!5-10,6-6 Week 3!1-1,1-1 Old!2-2,2-2" {
            failures.push(open);
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
