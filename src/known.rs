//! Known findings: a list of what was looked at and accepted, so that a nightly audit tells only what is new.

use crate::findings::{Accepted, Finding, Name};
use crate::profile::{Fault, nearest};
use crate::source::Span;
use std::collections::HashMap;
use std::sync::Arc;

/// The columns of a list, in the order in which one is written.
pub const COLUMNS: [&str; 4] = ["item", "finding", "reason", "until"];

/// One row of a list: all findings of one name in one item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The item's id.
    pub item: String,
    /// The finding.
    pub finding: Name,
    /// Why it is accepted, and until when.
    pub accepted: Arc<Accepted>,
    /// Whether its day has passed.
    pub is_expired: bool,
    /// The line in the list.
    pub line: u32,
}

/// A list of known findings.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// The rows.
    pub entries: Vec<Entry>,
    by_item: HashMap<String, Vec<usize>>,
}

/// Which rows of a list were met.
#[derive(Debug, Clone, Default)]
pub struct Met(Vec<bool>);

impl Known {
    /// Marks the findings of an item that are known, and notes which rows of the list were met.
    pub fn apply(&self, item: &str, findings: &mut [Finding], met: &mut Met) {
        let Some(rows) = self.by_item.get(item) else { return };
        met.0.resize(self.entries.len(), false);
        for finding in findings {
            let Some(row) = rows.iter().find(|row| self.entries[**row].finding == finding.name) else { continue };
            met.0[*row] = true;
            if !self.entries[*row].is_expired {
                finding.known = Some(Arc::clone(&self.entries[*row].accepted));
            }
        }
    }

    /// The rows whose day has passed and whose finding is still there.
    pub fn expired<'a>(&'a self, met: &'a Met) -> impl Iterator<Item = &'a Entry> {
        self.with(met).filter(|(entry, is_met)| *is_met && entry.is_expired).map(|(entry, _)| entry)
    }

    /// The rows whose finding is gone.
    pub fn gone<'a>(&'a self, met: &'a Met) -> impl Iterator<Item = &'a Entry> {
        self.with(met).filter(|(_, is_met)| !*is_met).map(|(entry, _)| entry)
    }

    fn with<'a>(&'a self, met: &'a Met) -> impl Iterator<Item = (&'a Entry, bool)> {
        self.entries.iter().enumerate().map(|(at, entry)| (entry, met.0.get(at).copied().unwrap_or(false)))
    }
}

/// Reads a list as it stands on a day (`2026-11-25`). `cell` takes back what spreadsheets need to leave a cell alone.
///
/// # Errors
/// Every row that cannot stand.
pub fn read(text: &str, today: &str, cell: fn(&str) -> String) -> Result<Known, Vec<Fault>> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(text.as_bytes());
    let mut list = Reading { text, today, end: 0, counted: (0, 1), known: Known::default(), faults: Vec::new() };
    let mut columns: Option<Columns> = None;
    let mut row = csv::StringRecord::new();
    loop {
        let start = reader.position().byte() as usize;
        match reader.read_record(&mut row) {
            Ok(true) => list.end = reader.position().byte() as usize,
            Ok(false) => break,
            Err(error) => {
                list.fault(start, "", &format!("the row cannot be read: {error}"), "");
                break;
            }
        }
        let cells: Vec<String> = row.iter().map(|own| cell(own).trim().to_owned()).collect();
        if let Some(columns) = &columns {
            if !cells.iter().all(String::is_empty) {
                list.row(columns, &cells, start);
            }
            continue;
        }
        columns = Columns::of(&cells);
        if columns.is_none() {
            let remedy = "the first row is: item,finding,reason,until";
            list.fault(start, "", "the list has no columns 'item' and 'finding'", remedy);
            break;
        }
    }
    if list.faults.is_empty() { Ok(list.known) } else { Err(list.faults) }
}

/// Where the columns stand.
struct Columns([Option<usize>; 4]);

impl Columns {
    fn of(header: &[String]) -> Option<Self> {
        let place = |name: &str| {
            header.iter().position(|own| own.trim_start_matches('\u{feff}').trim().eq_ignore_ascii_case(name))
        };
        let places = COLUMNS.map(place);
        (places[0].is_some() && places[1].is_some()).then_some(Self(places))
    }

    fn cell<'a>(&self, cells: &'a [String], column: usize) -> &'a str {
        self.0[column].and_then(|at| cells.get(at)).map_or("", String::as_str)
    }
}

struct Reading<'a> {
    text: &'a str,
    today: &'a str,
    /// Where the row ends that is read.
    end: usize,
    /// Bytes whose lines are counted, and the line behind them.
    counted: (usize, u32),
    known: Known,
    faults: Vec<Fault>,
}

impl Reading<'_> {
    /// A fault at a text in the row that starts at a byte; at the row's beginning where the text is empty, or is written otherwise
    /// in quotes.
    fn fault(&mut self, start: usize, at: &str, message: &str, remedy: &str) {
        let row = self.text.get(start..self.end.max(start)).unwrap_or_default();
        let skipped = row.len() - row.trim_start_matches(['\n', '\r']).len();
        let (from, length) = row.find(at).map_or((skipped, 0), |found| (found.max(skipped), at.len()));
        let span = Span::new(start + from, start + from + length);
        self.faults.push(Fault { message: message.to_owned(), remedy: remedy.to_owned(), span });
    }

    /// The line of the row that starts at a byte, or behind empty lines there. Rows come in their order, so that each byte is
    /// looked at once.
    fn line_of(&mut self, start: usize) -> u32 {
        let rest = self.text.get(start..).unwrap_or_default();
        let at = start + rest.len() - rest.trim_start_matches(['\n', '\r']).len();
        let (from, line) = self.counted;
        let passed = self.text.get(from..at).map_or(0, |passed| passed.matches('\n').count());
        self.counted = (at.max(from), line + passed as u32);
        self.counted.1
    }

    fn row(&mut self, columns: &Columns, cells: &[String], start: usize) {
        let [item, name, reason, until] = [0, 1, 2, 3].map(|column| columns.cell(cells, column));
        let Some(finding) = Name::from_text(name) else {
            let near = nearest(name, Name::ALL.iter().map(|own| own.entry().name));
            let remedy =
                near.map_or("`keyassay findings` lists them".to_owned(), |near| format!("did you mean '{near}'?"));
            return self.fault(start, name, &format!("there is no finding '{name}'"), &remedy);
        };
        if item.is_empty() {
            return self.fault(start, "", "the row names no item", "give the item's id");
        }
        if !until.is_empty() && !is_day(until) {
            let message = format!("'{until}' is no day");
            return self.fault(start, until, &message, "write it as 2027-03-31, or leave it empty");
        }
        let line = self.line_of(start);
        let rows = self.known.by_item.entry(item.to_owned()).or_default();
        if let Some(first) = rows.iter().map(|row| &self.known.entries[*row]).find(|own| own.finding == finding) {
            let message = format!("{name} of {item} stands in line {} already", first.line);
            return self.fault(start, item, &message, "keep one of the rows");
        }
        rows.push(self.known.entries.len());
        self.known.entries.push(Entry {
            item: item.to_owned(),
            finding,
            accepted: Arc::new(Accepted { reason: reason.to_owned(), until: until.to_owned() }),
            is_expired: !until.is_empty() && until < self.today,
            line,
        });
    }
}

/// Whether a text is a day of the calendar: `2026-11-25`. Such texts are in the order of their days.
fn is_day(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return false };
    let digits = |part: &str, count: usize| part.len() == count && part.bytes().all(|own| own.is_ascii_digit());
    if !(digits(year, 4) && digits(month, 2) && digits(day, 2)) {
        return false;
    }
    let number = |part: &str| part.parse::<u32>().unwrap_or(0);
    let (year, month, day) = (number(year), number(month), number(day));
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + u32::from(is_leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    };
    (1..=days).contains(&day)
}

#[cfg(test)]
mod tests {
    use super::{is_day, read};

    #[test]
    fn days_are_those_of_the_calendar() {
        let cases = [
            ("2026-11-25", true),
            ("2024-02-29", true),
            ("2026-02-29", false),
            ("2026-13-01", false),
            ("2026-00-10", false),
            ("25.11.2026", false),
            ("2026-11", false),
        ];
        for (text, expected) in cases {
            assert_eq!(is_day(text), expected, "{text}");
        }
    }

    #[test]
    fn rows_that_cannot_stand_are_refused_at_their_place() {
        let cases = [
            ("id,why\n", "", "the first row is: item,finding,reason,until"),
            ("item,finding\nq1,mismatched-prodct\n", "mismatched-prodct", "did you mean 'mismatched-product'?"),
            (
                "item,finding,reason,until\nq1,empty-tail,why,31.3.\n",
                "31.3.",
                "write it as 2027-03-31, or leave it empty",
            ),
            ("item,finding\nq1,empty-tail\n\nq1,empty-tail\n", "q1", "keep one of the rows"),
            ("finding,item\nempty-tail,\n", "", "give the item's id"),
        ];
        let mut failures = Vec::new();
        for (text, place, remedy) in cases {
            match read(text, "2026-11-25", str::to_owned) {
                Err(faults) if faults.len() == 1 && faults[0].span.of(text) == place && faults[0].remedy == remedy => {}
                other => failures.push(format!("{text}: {other:?}")),
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
