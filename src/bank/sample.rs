//! The first rows of a table as they stand there, for whoever has to find out what its columns hold.
//!
//! Nothing is taken for granted: a text is cut by each separator that may be meant, and its encoding is the one that its bytes allow.

use super::batch::Content;
use super::header::separator;
use super::source::{Again, OpenError, Settings, begun, open};
use super::{Format, arrows_of_list, sheet};
use crate::source::encoding::{Encoding, decode, settle};
use crate::source::packed::Packing;
use std::io::Read;
use std::sync::Arc;

/// A table, or the beginning of one.
#[derive(Debug, Clone, Default)]
pub struct Sample {
    /// The file; of a workbook, with its sheet.
    pub name: String,
    /// Rows that hold something, each with its line. Of JSON, the first row are the keys.
    pub rows: Vec<(u32, Vec<String>)>,
    /// Whether there are more.
    pub is_cut: bool,
    /// The separator by which it was taken apart.
    pub separator: Option<u8>,
}

/// One way to take a file apart.
#[derive(Debug, Clone, Default)]
pub struct Way {
    /// The separator of its cells, where there is one.
    pub separator: Option<u8>,
    /// Its tables.
    pub tables: Vec<Sample>,
}

/// What was read of a file.
#[derive(Debug, Clone, Default)]
pub struct Samples {
    /// The encoding that has to be declared, if one has.
    pub encoding: Option<Encoding>,
    /// Whether a first line names the separator.
    pub names_separator: bool,
    /// Whether columns are keys, which have no places.
    pub has_keys: bool,
    /// The ways to take it apart.
    pub ways: Vec<Way>,
}

/// Bytes of a text that are looked at.
const TEXT: u64 = 8 << 20;
/// Separators of cells that programs write.
const SEPARATORS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// Reads so many rows of each table of a file.
///
/// # Errors
/// It cannot be read, or is no table.
pub fn sample(
    name: &str,
    format: Format,
    again: Again,
    settings: &Settings,
    rows: usize,
) -> Result<Samples, OpenError> {
    match format {
        Format::Workbook => {
            let named = |own: sheet::Sampled| Sample {
                name: format!("{name}#{}", own.name),
                rows: own.rows,
                is_cut: own.is_cut,
                separator: None,
            };
            let tables = sheet::sample(again, settings, rows)?.into_iter().map(named).collect();
            Ok(Samples { ways: vec![Way { separator: None, tables }], ..Samples::default() })
        }
        Format::Csv | Format::Tsv => text(name, format, again()?, settings, rows),
        Format::Json | Format::JsonLines => keyed(name, format, &again, settings, rows),
        _ => Err(OpenError::NoBank("its fields have names of their own: it needs no profile to be read".to_owned())),
    }
}

/// The ways in which a text is a table.
fn text(
    name: &str,
    format: Format,
    reader: impl Read + Send + 'static,
    settings: &Settings,
    rows: usize,
) -> Result<Samples, OpenError> {
    let (start, mut reader) = begun(Box::new(reader))?;
    if let Some(packing) = Packing::of(&start) {
        reader = packing.unpacked(reader);
    }
    let mut bytes = Vec::new();
    reader.take(TEXT).read_to_end(&mut bytes)?;
    let is_cut = bytes.len() as u64 == TEXT;
    let (text, encoding) = decoded(&bytes, settings)?;
    let mut text = text.trim_start_matches('\u{feff}');
    let first = text.lines().next().unwrap_or_default();
    let named = separator(first);
    let mut line = 1;
    if named.is_some() {
        text = text.get(first.len()..).unwrap_or_default().trim_start_matches(['\r', '\n']);
        line = 2;
    }
    let tried = match (named.or(settings.separator), format) {
        (Some(own), _) => vec![own],
        (None, Format::Tsv) => vec![b'\t'],
        _ => SEPARATORS.into_iter().filter(|own| text.as_bytes().contains(own)).collect(),
    };
    let tables = |separator| vec![table(name, text, separator, rows, line, is_cut)];
    let ways = tried.into_iter().map(|own| Way { separator: Some(own), tables: tables(own) }).collect();
    Ok(Samples { encoding, names_separator: named.is_some(), has_keys: false, ways })
}

/// The text, and the encoding that has to be declared for it.
fn decoded(bytes: &[u8], settings: &Settings) -> Result<(String, Option<Encoding>), OpenError> {
    let settled = settle(bytes.get(..bytes.len().min(256)).unwrap_or_default(), settings.encoding);
    let own = settled.map_err(OpenError::NoBank)?;
    let is_utf8 = |bytes: &[u8]| std::str::from_utf8(bytes).err().is_none_or(|error| error.error_len().is_none());
    let other = own == Encoding::Utf8 && settings.encoding.is_none() && !is_utf8(bytes);
    let encoding = if other { Encoding::Windows1252 } else { own };
    let text = String::from_utf8_lossy(&decode(bytes, encoding)).into_owned();
    Ok((text, other.then_some(encoding).or(settings.encoding)))
}

fn table(name: &str, text: &str, separator: u8, rows: usize, first_line: u32, is_cut: bool) -> Sample {
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader.has_headers(false).flexible(true).delimiter(separator).from_reader(text.as_bytes());
    let mut sample = Sample { name: name.to_owned(), rows: Vec::new(), is_cut, separator: Some(separator) };
    let mut record = csv::StringRecord::new();
    while let Ok(true) = reader.read_record(&mut record) {
        if sample.rows.len() == rows {
            sample.is_cut = true;
            break;
        }
        let line = record.position().map_or(0, |own| own.line() as u32) + first_line - 1;
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        if cells.iter().any(|cell| !cell.trim().is_empty()) {
            sample.rows.push((line, cells));
        }
    }
    sample
}

/// Objects as rows, their keys as the header.
fn keyed(name: &str, format: Format, again: &Again, settings: &Settings, rows: usize) -> Result<Samples, OpenError> {
    let reader: Box<dyn Read + Send> = Box::new(again()?);
    let mut source = open(name, format, reader, &Arc::new(settings.clone()))?;
    let mut keys: Vec<String> = Vec::new();
    let mut objects: Vec<(u32, Vec<(usize, String)>)> = Vec::new();
    let mut is_cut = false;
    'batches: while let Some(batch) = source.next_batch()? {
        let Content::Text(chunk) = batch.content else { continue };
        for span in &chunk.records {
            if objects.len() == rows {
                is_cut = true;
                break 'batches;
            }
            let Ok(serde_json::Value::Object(object)) = serde_json::from_str(span.of(&chunk.text)) else { continue };
            let mut cells = Vec::new();
            for (key, value) in object {
                let known = keys.iter().position(|own| *own == key);
                if known.is_none() && keys.len() == MOST_KEYS {
                    continue;
                }
                let at = known.unwrap_or_else(|| {
                    keys.push(key);
                    keys.len() - 1
                });
                cells.push((at, shown(&value)));
            }
            objects.push((chunk.line_of(span.start as usize), cells));
        }
    }
    let width = keys.len();
    let row = |cells: Vec<(usize, String)>| {
        let mut row = vec![String::new(); width];
        for (at, cell) in cells {
            row[at] = cell;
        }
        row
    };
    let objects = objects.into_iter().map(|(line, cells)| (line, row(cells)));
    let rows = std::iter::once((0, keys)).chain(objects).collect();
    let table = Sample { name: name.to_owned(), rows, is_cut, separator: None };
    let ways = vec![Way { separator: None, tables: vec![table] }];
    Ok(Samples { has_keys: true, ways, ..Samples::default() })
}

/// Different keys that are looked at.
const MOST_KEYS: usize = 256;

/// A value as the cell of a table would have it.
fn shown(value: &serde_json::Value) -> String {
    use serde_json::Value;
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(list) => {
            let texts: Vec<&str> = list.iter().filter_map(Value::as_str).collect();
            if texts.len() < list.len() {
                return value.to_string();
            }
            texts.join(if arrows_of_list(&texts) { "; " } else { " " })
        }
        other => other.to_string(),
    }
}
