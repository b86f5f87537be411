//! Workbooks of binary records (`.xlsb`, MS-XLSB), read record by record. The library that reads the other kinds takes what stands in
//! them for granted; here nothing is looked at that is not there.

use super::beside::Beside;
use super::dates::Date;
use super::grid::ROWS;
use super::library::{Book, Sheet, Want};
use super::merged::Range;
use super::table::Cell;
use super::tags::related_parts;
use crate::bank::source::Again;
use crate::limits::Limits;
use crate::qti::Package;
use calamine::{ExcelDateTime, ExcelDateTimeType};
use std::collections::BTreeMap;
use std::io::{BufReader, ErrorKind, Read};

/// Columns of a sheet.
const COLUMNS: u32 = 1 << 14;

/// Reads a workbook. An error is a sentence about it.
pub(super) fn read(again: Again, limits: &Limits, to: &mut impl Book) -> Result<(), String> {
    let roomy = Limits { zip_entry_bytes: limits.zip_total_bytes, ..limits.clone() };
    let mut package = Package::of_any(again, &roomy).map_err(|error| error.to_string())?;
    let book = Workbook::read(&mut package, limits)?;
    let sheets: Vec<&Listed> = book.sheets.iter().filter(|own| own.part.contains("worksheets/")).collect();
    for own in sheets.iter().filter(|own| own.is_hidden) {
        to.hidden(&own.name);
    }
    for own in sheets {
        let broken = |why: String| format!("the sheet '{}' cannot be read to its end: {why}", own.name);
        let beside = beside(records(&mut package, &own.part, limits).map_err(broken)?).map_err(broken)?;
        let records = records(&mut package, &own.part, limits).map_err(broken)?;
        if !cells(records, &book, to.sheet(&own.name, beside)).map_err(broken)? {
            return Ok(());
        }
    }
    Ok(())
}

/// A sheet as the workbook lists it.
struct Listed {
    name: String,
    part: String,
    is_hidden: bool,
}

/// What the sheets refer to.
#[derive(Default)]
struct Workbook {
    sheets: Vec<Listed>,
    strings: Vec<String>,
    /// By style: whether numbers are shown as dates.
    dates: Vec<bool>,
    from_1904: bool,
}

impl Workbook {
    fn read(package: &mut Package, limits: &Limits) -> Result<Self, String> {
        let mut own = Self::default();
        let mut relations = Vec::new();
        package
            .read("xl/_rels/workbook.bin.rels")?
            .read_to_end(&mut relations)
            .map_err(|error| format!("its relations cannot be read: {error}"))?;
        let targets = related_parts(&relations);
        let mut parts = records(package, "xl/workbook.bin", limits)?;
        while let Some((kind, data)) = parts.next()? {
            match kind {
                // BrtWbProp: whether days are counted from 1904.
                0x99 => own.from_1904 = data.byte(0).is_some_and(|flags| flags & 1 == 1),
                // BrtBundleSh.
                0x9c => {
                    let state = data.long(0).unwrap_or(0);
                    let Some((id, behind)) = data.wide(8) else { continue };
                    let Some((name, _)) = data.wide(behind) else { continue };
                    let Some(part) = targets.get(&id).cloned() else { continue };
                    own.sheets.push(Listed { name, part, is_hidden: state != 0 });
                }
                _ => {}
            }
        }
        if package.has("xl/sharedStrings.bin") {
            own.read_strings(records(package, "xl/sharedStrings.bin", limits)?, limits)?;
        }
        if package.has("xl/styles.bin") {
            own.read_styles(records(package, "xl/styles.bin", limits)?)?;
        }
        Ok(own)
    }

    fn read_strings(&mut self, mut records: Records<impl Read>, limits: &Limits) -> Result<(), String> {
        while let Some((kind, data)) = records.next()? {
            // BrtSSTItem.
            if kind == 0x13 {
                if self.strings.len() as u64 >= limits.shared_strings {
                    return Err(format!("passes the limit `shared-strings` of {}", limits.shared_strings));
                }
                self.strings.push(data.wide(1).map(|(text, _)| text).unwrap_or_default());
            }
        }
        Ok(())
    }

    fn read_styles(&mut self, mut records: Records<impl Read>) -> Result<(), String> {
        let mut of_dates: BTreeMap<u16, bool> = BTreeMap::new();
        let mut in_cells = false;
        while let Some((kind, data)) = records.next()? {
            match kind {
                // BrtFmt.
                0x2c => {
                    let code = data.wide(2).map(|(code, _)| code).unwrap_or_default();
                    of_dates.insert(data.short(0).unwrap_or(0), shows_dates(&code));
                }
                // BrtBeginCellXFs, BrtEndCellXFs.
                0x269 => in_cells = true,
                0x26a => in_cells = false,
                // BrtXF.
                0x2f if in_cells => {
                    let format = data.short(2).unwrap_or(0);
                    self.dates.push(of_dates.get(&format).copied().unwrap_or(is_of_dates(format)));
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// A number as its style shows it.
    fn number(&self, data: &Data<'_>, value: f64) -> Cell {
        let style = data.long(4).unwrap_or(0) & 0x00ff_ffff;
        number(value, self.dates.get(style as usize).copied().unwrap_or(false), self.from_1904)
    }

    /// The value of a cell's record; `None` for other records.
    fn value(&self, kind: u16, data: &Data<'_>) -> Option<Cell> {
        let text = |found: Option<(String, usize)>| Cell::text(&found.map(|(text, _)| text).unwrap_or_default());
        Some(match kind {
            // BrtCellRk: a packed number (2.5.122).
            0x02 => {
                let packed = data.long(8)?;
                self.number(data, super::records::packed(packed))
            }
            // BrtCellError, BrtFmlaError.
            0x03 | 0x0b => Cell::Error(error_name(data.byte(8)?).to_owned()),
            // BrtCellBool, BrtFmlaBool.
            0x04 | 0x0a => Cell::Text(if data.byte(8)? == 0 { "FALSE" } else { "TRUE" }.to_owned()),
            // BrtCellReal, BrtFmlaNum.
            0x05 | 0x09 => self.number(data, data.double(8)?),
            // BrtCellSt, BrtFmlaString.
            0x06 | 0x08 => text(data.wide(8)),
            // BrtCellIsst.
            0x07 => Cell::text(self.strings.get(data.long(8)? as usize).map_or("", String::as_str)),
            // BrtCellRString: a rich text in the cell itself.
            0x3e => text(data.wide(9)),
            _ => return None,
        })
    }
}

/// A number as it is stored, or the day that it is shown as.
pub(super) fn number(value: f64, is_date: bool, from_1904: bool) -> Cell {
    // Days that spreadsheet programs know: up to the end of the year 9999.
    if !is_date || !(1.0..2_958_466.0).contains(&value) {
        return Cell::Text(format!("{value}"));
    }
    let (year, month, day, ..) = ExcelDateTime::new(value, ExcelDateTimeType::DateTime, from_1904).to_ymd_hms_milli();
    Cell::Date(Date::new((year, month, day)))
}

/// Whether a format that workbooks name by its number alone shows dates (ECMA-376, part 1, 18.8.30).
pub(super) fn is_of_dates(format: u16) -> bool {
    matches!(format, 14..=17 | 22 | 27..=31 | 36)
}

/// Whether a format shows numbers as dates: days, months or years outside quotes and brackets.
pub(super) fn shows_dates(code: &str) -> bool {
    let (mut quoted, mut bracketed, mut escaped) = (false, false, false);
    code.chars().any(|own| {
        if std::mem::take(&mut escaped) {
            return false;
        }
        match own {
            '\\' | '_' | '*' => escaped = true,
            '"' => quoted = !quoted,
            '[' if !quoted => bracketed = true,
            ']' if !quoted => bracketed = false,
            'd' | 'D' | 'y' | 'Y' => return !quoted && !bracketed,
            _ => {}
        }
        false
    })
}

pub(super) fn error_name(code: u8) -> &'static str {
    match code {
        0x00 => "#NULL!",
        0x07 => "#DIV/0!",
        0x0f => "#VALUE!",
        0x17 => "#REF!",
        0x1d => "#NAME?",
        0x24 => "#NUM!",
        0x2a => "#N/A",
        _ => "#ERROR",
    }
}

/// What the sheet says beside its cells: merged ranges, which stand behind them, and what is hidden.
fn beside(mut records: Records<impl Read>) -> Result<Beside, String> {
    let mut beside = Beside::default();
    while let Some((kind, data)) = records.next()? {
        match kind {
            // BrtMergeCell.
            0xb0 => {
                if let [Some(top), Some(bottom), Some(left), Some(right)] = [0, 4, 8, 12].map(|at| data.long(at))
                    && bottom < ROWS
                    && right < COLUMNS
                {
                    beside.merged.push(Range { first: (top, left), last: (bottom, right) });
                }
            }
            // BrtRowHdr: a bit says that the row has no height.
            0x00 if data.byte(11).is_some_and(|flags| flags & 0x10 > 0) => {
                data.long(0).into_iter().for_each(|row| beside.hide_rows(row, row));
            }
            // BrtColInfo.
            0x3c if data.short(16).is_some_and(|flags| flags & 1 > 0) => {
                if let (Some(first), Some(last)) = (data.long(0), data.long(4)) {
                    beside.hide_columns(first, last);
                }
            }
            _ => {}
        }
    }
    Ok(beside)
}

fn cells(mut records: Records<impl Read>, book: &Workbook, mut sheet: impl Sheet) -> Result<bool, String> {
    let mut row = 0;
    let mut is_data = false;
    while let Some((kind, data)) = records.next()? {
        match kind {
            // BrtBeginSheetData, BrtEndSheetData.
            0x91 => is_data = true,
            0x92 => break,
            // BrtRowHdr.
            0x00 if is_data => {
                row = data
                    .long(0)
                    .filter(|row| *row < ROWS)
                    .ok_or("a row stands beyond the last one that a sheet has")?;
            }
            _ if is_data => {
                let Some(value) = book.value(kind, &data) else { continue };
                let column = data.long(0).filter(|own| *own < COLUMNS);
                let column = column.ok_or("a cell stands beyond the last column that a sheet has")?;
                match sheet.cell((row, column), value)? {
                    Want::More => {}
                    Want::NextSheet => break,
                    Want::Nothing => return Ok(false),
                }
            }
            _ => {}
        }
    }
    sheet.end()
}

/// The records of a part.
struct Records<R> {
    source: R,
    data: Vec<u8>,
    /// Bytes of one record.
    most: usize,
}

fn records(package: &mut Package, part: &str, limits: &Limits) -> Result<Records<impl Read + use<>>, String> {
    let source = BufReader::new(package.read(part)?);
    Ok(Records { source, data: Vec::new(), most: limits.record_bytes })
}

impl<R: Read> Records<R> {
    /// The next record: its kind and its data (2.1.4).
    fn next(&mut self) -> Result<Option<(u16, Data<'_>)>, String> {
        let Some(low) = self.byte()? else { return Ok(None) };
        let cut = "its last record is cut off";
        let mut kind = u16::from(low & 0x7f);
        if low & 0x80 != 0 {
            kind |= u16::from(self.byte()?.ok_or(cut)? & 0x7f) << 7;
        }
        let mut length = 0_usize;
        for at in 0..4 {
            let byte = self.byte()?.ok_or(cut)?;
            length |= usize::from(byte & 0x7f) << (7 * at);
            if byte & 0x80 == 0 {
                break;
            }
        }
        if length > self.most {
            return Err(format!("a record passes the limit `record-bytes` of {}", self.most));
        }
        self.data.clear();
        let read = (&mut self.source).take(length as u64).read_to_end(&mut self.data);
        read.map_err(|error| error.to_string())?;
        if self.data.len() < length {
            return Err(cut.to_owned());
        }
        Ok(Some((kind, Data(&self.data))))
    }

    fn byte(&mut self) -> Result<Option<u8>, String> {
        let mut byte = [0];
        match self.source.read_exact(&mut byte) {
            Ok(()) => Ok(Some(byte[0])),
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => Ok(None),
            Err(error) => Err(error.to_string()),
        }
    }
}

/// The data of a record. What is not there is `None`.
pub(super) struct Data<'d>(pub(super) &'d [u8]);

impl Data<'_> {
    fn bytes<const N: usize>(&self, at: usize) -> Option<[u8; N]> {
        self.0.get(at..at.checked_add(N)?)?.try_into().ok()
    }

    pub(super) fn byte(&self, at: usize) -> Option<u8> {
        self.0.get(at).copied()
    }

    pub(super) fn short(&self, at: usize) -> Option<u16> {
        self.bytes(at).map(u16::from_le_bytes)
    }

    pub(super) fn long(&self, at: usize) -> Option<u32> {
        self.bytes(at).map(u32::from_le_bytes)
    }

    pub(super) fn double(&self, at: usize) -> Option<f64> {
        self.bytes(at).map(f64::from_le_bytes)
    }

    /// A text in UTF-16 behind its length, and the place behind it.
    fn wide(&self, at: usize) -> Option<(String, usize)> {
        let length = self.long(at)?.checked_mul(2)? as usize;
        let from = at + 4;
        let bytes = self.0.get(from..from.checked_add(length)?)?;
        let units = bytes.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]]));
        let text = char::decode_utf16(units).map(|own| own.unwrap_or(char::REPLACEMENT_CHARACTER)).collect();
        Some((text, from + length))
    }
}

#[cfg(test)]
mod tests {
    use super::{Data, Records, shows_dates};

    #[test]
    fn formats_of_dates_are_told_from_others() {
        let cases = [
            ("dd/mm/yyyy", true),
            ("0.00", false),
            ("\"day\" 0", false),
            ("[Red]0", false),
            ("d\\-mmm", true),
            ("\\d0", false),
        ];
        let wrong: Vec<_> = cases.iter().filter(|(code, own)| shows_dates(code) != *own).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }

    #[test]
    fn records_that_are_cut_off_are_told() {
        let cases: [(&[u8], &str); 5] = [
            (&[], "none"),
            (&[0x85, 0x01, 0x02, 7, 8], "133:[7, 8]"),
            (&[0x05, 0x03, 1], "its last record is cut off"),
            (&[0x85], "its last record is cut off"),
            (&[0x05, 0xff, 0xff, 0xff, 0x7f], "a record passes the limit `record-bytes` of 100"),
        ];
        let mut failures = Vec::new();
        for (bytes, expected) in cases {
            let mut records = Records { source: bytes, data: Vec::new(), most: 100 };
            let told = match records.next() {
                Ok(None) => "none".to_owned(),
                Ok(Some((kind, Data(data)))) => format!("{kind}:{data:?}"),
                Err(why) => why,
            };
            if told != expected {
                failures.push(format!("{bytes:?}: {told}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
