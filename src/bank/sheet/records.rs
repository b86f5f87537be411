//! Workbooks of the old kind (`.xls`): where their cells say that they stand.
//!
//! The library lays the cells of a sheet out as one rectangle around them, so that two cells that lie about their places would
//! make it ask for more memory than there is. So the records (MS-XLS 2.3) are walked before: a sheet has at most 256 columns and
//! 65,536 rows, and no more cells than the limit.

use std::io::{Cursor, Read};

/// The streams that hold the records, in workbooks of 1997 and later and in those of 1995.
const STREAMS: [&str; 2] = ["Workbook", "Book"];
/// Columns of a sheet.
const COLUMNS: u16 = 256;

/// A sheet, as far as it was read.
#[derive(Default)]
struct Sheet {
    /// First and last row and column of its cells.
    bounds: Option<[u16; 4]>,
}

/// Checks where the cells stand; the error is a sentence about the workbook.
pub(super) fn check(bytes: &[u8], most: u64) -> Result<(), String> {
    let damaged = |error: &dyn std::fmt::Display| {
        format!("it is damaged ({error}): open it in a spreadsheet program and save it as .xlsx")
    };
    head(bytes).map_err(|error| damaged(&error))?;
    let mut compound = cfb::CompoundFile::open(Cursor::new(bytes)).map_err(|error| damaged(&error))?;
    let name = STREAMS.into_iter().find(|name| compound.is_stream(name));
    let name = name.ok_or_else(|| "it is no workbook: it has no stream of sheets".to_owned())?;
    let stream = compound.open_stream(name).map_err(|error| damaged(&error))?;
    let mut records = Vec::new();
    stream.take(bytes.len() as u64).read_to_end(&mut records).map_err(|error| damaged(&error))?;
    walk(&records, most)
}

/// Checks the numbers of the head for which the library makes room before it reads on (MS-CFB 2.2): the sectors of the table of
/// sectors at 44, and what it takes for those of the table beyond the head, four bytes from 62.
fn head(bytes: &[u8]) -> Result<(), &'static str> {
    let long = |at: usize| u32::from(number(bytes, at)) | u32::from(number(bytes, at + 2)) << 16;
    let sectors = bytes.len() / 512 + 1;
    if long(44) as usize > sectors || long(62) > MOST_IN_HEAD {
        return Err("its head names more sectors than it has");
    }
    Ok(())
}

/// Entries of four bytes for which room is made without need, at most.
const MOST_IN_HEAD: u32 = 1 << 24;

/// Walks the records of all sheets.
fn walk(mut rest: &[u8], most: u64) -> Result<(), String> {
    let mut sheet = Sheet::default();
    while let Some((head, behind)) = rest.split_at_checked(4) {
        let kind = number(head, 0);
        let data = behind.get(..usize::from(number(head, 2))).unwrap_or(behind);
        match kind {
            // BOF: another sheet begins.
            0x0809 | 0x0409 | 0x0209 | 0x0009 => sheet = Sheet::default(),
            // Formula, Number, Label, BoolErr, Rk, LabelSst, RString.
            0x0006 | 0x0203 | 0x0204 | 0x0205 | 0x027e | 0x00fd | 0x00d6 if data.len() >= 4 => {
                sheet.take(number(data, 0), [number(data, 2); 2], most)?;
            }
            // MulRk: several cells of a row, the last one named at the end.
            0x00bd if data.len() >= 6 => {
                let last = number(data, data.len() - 2);
                sheet.take(number(data, 0), [number(data, 2), last], most)?;
            }
            _ => {}
        }
        rest = behind.get(data.len()..).unwrap_or_default();
    }
    Ok(())
}

impl Sheet {
    fn take(&mut self, row: u16, columns: [u16; 2], most: u64) -> Result<(), String> {
        let [first, last] = [columns[0].min(columns[1]), columns[0].max(columns[1])];
        if last >= COLUMNS {
            return Err(format!(
                "it is damaged: a cell stands in column {}, and a sheet of this kind has {COLUMNS}. Open it in a spreadsheet \
                 program and save it as .xlsx",
                u32::from(last) + 1
            ));
        }
        let [top, bottom, left, right] = self.bounds.unwrap_or([row, row, first, last]);
        let bounds = [top.min(row), bottom.max(row), left.min(first), right.max(last)];
        self.bounds = Some(bounds);
        let [top, bottom, left, right] = bounds.map(u64::from);
        if (bottom - top + 1) * (right - left + 1) > most {
            return Err(format!("one of its sheets passes the limit `sheet-cells` of {most}"));
        }
        Ok(())
    }
}

/// Two bytes as a number, the lower one first.
fn number(bytes: &[u8], at: usize) -> u16 {
    let byte = |at: usize| bytes.get(at).copied().unwrap_or_default();
    u16::from_le_bytes([byte(at), byte(at + 1)])
}

#[cfg(test)]
mod tests {
    use super::walk;

    fn record(kind: u16, data: &[u16]) -> Vec<u8> {
        let words = [&[kind, data.len() as u16 * 2], data].concat();
        words.iter().flat_map(|word| word.to_le_bytes()).collect()
    }

    #[test]
    fn cells_that_lie_about_their_places_are_refused() {
        type Record = (u16, &'static [u16]);
        let cases: [(&str, &[Record], bool); 7] = [
            ("two cells", &[(0x0203, &[0, 0, 1, 2]), (0x0203, &[99, 9, 1, 2])], true),
            ("too far right", &[(0x0203, &[0, 256, 1, 2])], false),
            ("several cells too far right", &[(0x00bd, &[0, 0, 1, 2, 3, 300])], false),
            ("too many between", &[(0x0203, &[0, 0]), (0x00fd, &[65_535, 255])], false),
            ("as far apart on two sheets", &[(0x0203, &[0, 0]), (0x0809, &[]), (0x00fd, &[65_535, 255])], true),
            ("other records", &[(0x0200, &[9, 999, 999])], true),
            ("cut short", &[(0x0203, &[])], true),
        ];
        let mut failures = Vec::new();
        for (name, records, is_good) in cases {
            let bytes: Vec<u8> = records.iter().flat_map(|(kind, data)| record(*kind, data)).collect();
            if walk(&bytes, 100_000).is_ok() != is_good {
                failures.push(format!("{name}: {:?}", walk(&bytes, 100_000)));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
