//! Columns whose headers count: `Option A`, `Option B`; `Choice 1`, `Choice 2`; `a)`, `b)`; `1. Wahl`, `2. Wahl`.

use super::table::Table;

/// A header that counts: what stands beside the letter or number, and how far it has counted, from 0.
#[derive(Debug, PartialEq, Eq)]
struct Counted {
    rest: String,
    is_letter: bool,
    at: usize,
}

impl Counted {
    /// Of a letter or a number at the end or the beginning of a header, by itself.
    fn of(header: &str) -> Option<Self> {
        let header = header.trim().to_lowercase();
        let is_around = |own: char| !own.is_alphanumeric();
        let bare = header.trim_matches(is_around);
        let last = bare.rsplit(is_around).next().unwrap_or_default();
        let first = bare.split(is_around).next().unwrap_or_default();
        let behind = Self::count(last).map(|count| (count, &bare[..bare.len() - last.len()]));
        let before = || Self::count(first).map(|count| (count, &bare[first.len()..]));
        let ((is_letter, at), rest) = behind.or_else(before)?;
        Some(Self { rest: rest.trim_matches(is_around).to_owned(), is_letter, at })
    }

    fn count(word: &str) -> Option<(bool, usize)> {
        match word.as_bytes() {
            [letter @ b'a'..=b'z'] => Some((true, usize::from(letter - b'a'))),
            [b'1'..=b'9'] | [b'1'..=b'9', b'0'..=b'9'] => Some((false, word.parse::<usize>().ok()? - 1)),
            _ => None,
        }
    }
}

/// The longest series of columns that begins to count at its first: two or more of them hold structures, and the others nothing else.
/// Empty where there is none.
pub(super) fn longest(table: &Table<'_>) -> Vec<usize> {
    let counted: Vec<Option<Counted>> = (0..table.columns.len()).map(|at| Counted::of(table.header_text(at))).collect();
    let holds = |at: usize| table.columns[at].is_drawn() || table.columns[at].filled == 0;
    let mut best = Vec::new();
    for first in 0..counted.len() {
        let mut series: Vec<usize> = Vec::new();
        for (at, own) in counted.iter().enumerate().skip(first) {
            let Some(own) = own else { continue };
            let is_next = match series.first().and_then(|first| counted[*first].as_ref()) {
                None => at == first && own.at == 0,
                Some(first) => {
                    (own.at, own.is_letter, own.rest.as_str()) == (series.len(), first.is_letter, first.rest.as_str())
                }
            };
            if is_next && holds(at) {
                series.push(at);
            }
            if series.is_empty() {
                break;
            }
        }
        let drawn = series.iter().filter(|at| table.columns[**at].is_drawn()).count();
        if drawn > 1 && series.len() > best.len() {
            best = series;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::Counted;

    #[test]
    fn headers_that_count_are_known() {
        let cases = [
            ("Option A", Some(("option", true, 0))),
            ("choice_2", Some(("choice", false, 1))),
            ("c)", Some(("", true, 2))),
            ("3. Wahl", Some(("wahl", false, 2))),
            ("Antwort (D)", Some(("antwort", true, 3))),
            ("Option 10", Some(("option", false, 9))),
            ("Option 0", None),
            ("Product", None),
            ("SMILES2", None),
            ("", None),
        ];
        let found = |header: &str| Counted::of(header).map(|own| (own.rest, own.is_letter, own.at));
        let wrong: Vec<_> = cases
            .iter()
            .filter(|(header, own)| found(header) != own.map(|(rest, letter, at)| (rest.to_owned(), letter, at)))
            .collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
