//! A table of corrections or decisions as texts, from whatever program saved it: CSV of any separator and encoding, `.xlsx`, `.ods`.

use crate::bank::sample::{Sample, sample};
use crate::bank::{Again, Format, Settings};
use crate::report::xlsx::{DECISIONS, MARK_COLUMNS, SUMMARY};
use crate::source::Encoding;
use crate::source::encoding::{decode, settle};
use anyhow::Context as _;
use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::sync::Arc;

/// Bytes of such a file: far beyond what an editor opens.
const TABLE_BYTES: u64 = 1 << 28;

/// A table, its header first.
pub(super) struct Table {
    /// All rows.
    pub(super) rows: Vec<Vec<String>>,
    /// What the bank's files were when they were audited, where the workbook says so: name, bytes, mark.
    pub(super) marks: Option<Vec<[String; 3]>>,
}

/// Reads a table.
pub(super) fn read(path: &Path) -> anyhow::Result<Table> {
    let cannot = || format!("{} cannot be read", path.display());
    let length = fs::metadata(path).with_context(cannot)?.len();
    anyhow::ensure!(
        length <= TABLE_BYTES,
        "{} passes the limit of {TABLE_BYTES} bytes for a table of decisions",
        path.display()
    );
    let bytes = fs::read(path).with_context(cannot)?;
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    match ending.as_deref() {
        Some("xlsx" | "xlsm" | "ods") => of_book(bytes).with_context(cannot),
        Some(other @ ("xls" | "xlsb")) => {
            anyhow::bail!("{}: decisions are not read from .{other}: save it as .xlsx, .ods or CSV", path.display())
        }
        _ => Ok(Table { rows: of_text(&bytes).with_context(cannot)?, marks: None }),
    }
}

/// The sheet of decisions of a workbook, else its first one. It is read as a bank is, behind the same checks.
fn of_book(bytes: Vec<u8>) -> anyhow::Result<Table> {
    let bytes: Arc<[u8]> = bytes.into();
    let again: Again = Box::new(move || Ok(Box::new(Cursor::new(Arc::clone(&bytes)))));
    let samples = sample("", Format::Workbook, again, &Settings::default(), usize::MAX)?;
    let sheets: Vec<Sample> = samples.ways.into_iter().flat_map(|way| way.tables).collect();
    let texts = |own: &Sample| own.rows.iter().map(|(_, row)| row.clone()).collect::<Vec<_>>();
    let named = |wanted: &str| sheets.iter().find(|own| own.name.strip_prefix('#') == Some(wanted));
    let rows = named(DECISIONS).or(sheets.first()).context("it has no sheet")?;
    Ok(Table { rows: texts(rows), marks: named(SUMMARY).and_then(|own| marks(&texts(own))) })
}

/// The marks in the sheet of counts: the rows below their heading.
fn marks(rows: &[Vec<String>]) -> Option<Vec<[String; 3]>> {
    let is_heading = |row: &&Vec<String>| row.iter().take(3).eq(MARK_COLUMNS.iter());
    let at = rows.iter().position(|row| is_heading(&row))?;
    let below = rows.get(at + 1..).unwrap_or_default();
    let mark = |row: &Vec<String>| {
        let [name, bytes, mark] = row.get(..3)? else { return None };
        // The letter keeps spreadsheet programs from taking digits for a number.
        Some([name.clone(), bytes.clone(), mark.strip_prefix('m')?.to_owned()])
    };
    Some(below.iter().map_while(mark).collect())
}

/// The rows of a CSV file as any program writes it.
fn of_text(bytes: &[u8]) -> anyhow::Result<Vec<Vec<String>>> {
    let encoding = settle(bytes.get(..bytes.len().min(1 << 16)).unwrap_or_default(), None).unwrap_or(Encoding::Utf8);
    let mut text = decode(bytes, encoding);
    if std::str::from_utf8(&text).is_err() {
        text = decode(bytes, Encoding::Windows1252);
    }
    let text = String::from_utf8(text).context("it is no text")?;
    let text = text.trim_start_matches('\u{feff}');
    let (separator, text) = separator(text);
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(separator).from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        rows.push(record?.iter().map(str::to_owned).collect());
    }
    Ok(rows)
}

/// The separator: that of a first line `sep=;`, else whichever stands most often in the header.
fn separator(text: &str) -> (u8, &str) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let line = first.trim_end_matches('\r');
    let is_named = line.get(..4).is_some_and(|begin| begin.eq_ignore_ascii_case("sep="));
    if let (true, [_, _, _, _, own]) = (is_named, line.as_bytes()) {
        return (*own, rest);
    }
    let count = |own: &u8| first.bytes().filter(|byte| byte == own).count();
    (*b";\t,".iter().max_by_key(|own| count(own)).unwrap_or(&b','), text)
}
