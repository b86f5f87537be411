//! Rows of a table that ask nothing: titles, lines of categories and totals, notes, blank rows. What a table's format makes of its
//! rows is not asked here: a row is cells.

use super::fields::Name;
use crate::arrows::notation;
use crate::smiles;
use std::collections::BTreeMap;
use std::fmt;

/// Rows among which the header is looked for. Titles, a date and a legend stand before it; more is another table.
pub const HEADER_ROWS: usize = 20;

/// The letters of a column, counted from 0: `A`, `Z`, `AA`.
#[must_use]
pub fn column_name(column: u32) -> String {
    let (mut rest, mut letters) = (u64::from(column) + 1, Vec::new());
    while rest > 0 {
        rest -= 1;
        letters.push(b'A' + (rest % 26) as u8);
        rest /= 26;
    }
    letters.reverse();
    letters.into_iter().map(char::from).collect()
}

/// How a column without a header is called, counted from 0: `column C`.
#[must_use]
pub fn column_label(column: u32) -> String {
    format!("column {}", column_name(column))
}

/// Whether a row asks a question, given by its filled cells, each with the field of its column. A cell reads as a structure or as
/// arrows, or is nearly one; or the row has an id and a task, a key, a prompt or a step: somebody forgot the structures.
pub fn asks<'c>(cells: impl Iterator<Item = (Option<Name>, &'c str)>) -> bool {
    let (mut has_id, mut has_more) = (false, false);
    for (name, cell) in cells {
        let cell = cell.trim();
        match name {
            _ if cell.is_empty() => {}
            // Bytes that stood for no character may hide anything.
            _ if cell.contains('\u{1a}') => return true,
            Some(Name::Id) => has_id = true,
            Some(Name::Task | Name::Key | Name::Prompt | Name::Step) => has_more = true,
            Some(name) if name.is_of_drawings() && is_drawn(name, cell) => return true,
            _ => {}
        }
    }
    has_id && has_more
}

/// Whether a cell of drawings or arrows holds such, or something that was meant to be.
fn is_drawn(name: Name, cell: &str) -> bool {
    if name == Name::Arrows {
        return cell.contains(['>', '\u{2192}', '\u{21d2}']) || notation::read(cell, 64).faults.is_empty();
    }
    let is_attempt = |word: &str| {
        let begins = word.starts_with(['B', 'C', 'N', 'O', 'P', 'S', 'F', 'I', 'b', 'c', 'n', 'o', 'p', 's', '*']);
        begins && word.contains(['=', '#', '(', ')'])
    };
    // Most cells show it by a bracket, which is found quickest in the whole of them.
    cell.starts_with('<') || cell.contains('[') || cell.split_whitespace().any(is_attempt) || {
        // A list of structures is a list of words.
        let reads = |word: &str| word.len() <= LONGEST && smiles::read(word).faults.is_empty();
        let word = cell.split_whitespace().next().unwrap_or_default();
        if matches!(name, Name::Answers | Name::Options | Name::Omits) { reads(word) } else { reads(cell) }
    }
}

/// Bytes of a cell that is read to see whether it is a structure: longer ones hold brackets.
const LONGEST: usize = 4096;

/// Whether a row says again what the header says, as tables that were put one below the other do.
pub fn repeats<'c>(header: &[String], cells: impl Iterator<Item = &'c str>) -> bool {
    let (mut count, mut same) = (0, true);
    for cell in cells {
        same &= header.get(count).map_or("", |own| own.as_str()).eq_ignore_ascii_case(cell.trim());
        count += 1;
    }
    same && count >= header.len()
}

/// Rows without a question: how many, and on which lines.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Unasked {
    /// How many.
    pub count: u64,
    /// First and last lines of rows that follow each other; the first of the file, if there are many.
    lines: BTreeMap<u32, u32>,
}

/// Stretches of rows that are kept.
const STRETCHES: usize = 1_000;
/// Stretches of rows that are told.
const TOLD: usize = 12;

impl Unasked {
    /// Notes the row of a line.
    pub fn add(&mut self, line: u32) {
        self.count += 1;
        match self.lines.range_mut(..=line).next_back() {
            Some((_, last)) if *last + 1 >= line => *last = line.max(*last),
            _ => {
                self.lines.insert(line, line);
            }
        }
        self.cap();
    }

    /// Takes those of another part of the file, whatever the order of the parts.
    pub fn absorb(&mut self, other: Self) {
        self.count += other.count;
        self.lines.extend(other.lines);
        self.cap();
    }

    fn cap(&mut self) {
        while self.lines.len() > STRETCHES {
            self.lines.pop_last();
        }
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// The lines as a text: `1-3, 17`.
    #[must_use]
    pub fn lines(&self) -> String {
        let mut stretches: Vec<(u32, u32)> = Vec::new();
        for (&first, &last) in &self.lines {
            match stretches.last_mut() {
                Some((_, before)) if *before + 1 >= first => *before = last.max(*before),
                _ => stretches.push((first, last)),
            }
        }
        let one =
            |(first, last): &(u32, u32)| if first == last { first.to_string() } else { format!("{first}-{last}") };
        let told: Vec<String> = stretches.iter().take(TOLD).map(one).collect();
        let more = if stretches.len() > TOLD { " and more" } else { "" };
        format!("{}{more}", told.join(", "))
    }
}

impl fmt::Display for Unasked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (rows, lines) = if self.count == 1 { ("row", "line") } else { ("rows", "lines") };
        write!(f, "{} {rows} ({lines} {})", self.count, self.lines())
    }
}

#[cfg(test)]
mod tests {
    use super::super::fields::Name;
    use super::{Unasked, asks};

    #[test]
    fn questions_are_told_from_what_stands_around_them() {
        let columns = [Name::Id, Name::Task, Name::Start, Name::Arrows, Name::Answer].map(Some);
        let cases = [
            ("||||", false),
            ("Carbonyls||||", false),
            ("||Week 3: resonance||", false),
            ("Total|||12|24", false),
            ("Note||see the list of errata|n/a|", false),
            ("total||42||", false),
            ("q1||C=O||", true),
            ("q1||C=O|1-2 -> 2|[CH2+][O-]", true),
            ("q1||CC(=O|see notes|", true),
            ("||N->B||", false),
            ("q1|step|||", true),
            ("q1|||1 -> 1-2|", true),
            ("q1|||1 > 2|", true),
            ("||[Na+||", true),
            ("||||<molecule/>", true),
            ("q\u{1a}||||", true),
            ("||CCO||", true),
        ];
        let mut failures = Vec::new();
        for (row, expected) in cases {
            if asks(columns.iter().copied().zip(row.split('|'))) != expected {
                failures.push(row);
            }
        }
        assert!(failures.is_empty(), "{failures:?}");
    }

    #[test]
    fn lines_are_the_same_in_whatever_order_parts_come() {
        let parts = [[1, 2, 3], [7, 9, 10], [11, 12, 20]].map(|lines| {
            let mut part = Unasked::default();
            for line in lines {
                part.add(line);
            }
            part
        });
        let mut found = Vec::new();
        for order in [[0, 1, 2], [2, 1, 0], [1, 2, 0]] {
            let mut all = Unasked::default();
            for at in order {
                all.absorb(parts[at].clone());
            }
            found.push(all.to_string());
        }
        assert!(found.iter().all(|own| own == "9 rows (lines 1-3, 7, 9-12, 20)"), "{found:?}");
    }
}
