//! What a workbook is, and whether the library may be given it: its zip directory, the sizes of its parts, what is counted in them.

use super::beside::{Gatherer, OfSheets};
use super::edit::parts_of_sheets;
use super::records::XLS_BYTES;
use super::tags::unescaped;
use super::well_formed;
use crate::bank::source::{Again, OpenError};
use crate::limits::Limits;
use crate::qti::{Package, PackageError};
use std::io::{self, BufReader, Read, Seek, SeekFrom};

/// The kinds of workbooks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// `.xlsx` and `.xlsm`.
    Xlsx,
    /// `.xlsb`.
    Xlsb,
    /// `.xls`.
    Xls,
    /// `.ods`.
    Ods,
}

impl Kind {
    /// The kind of a zipped workbook, by the part that lists its sheets.
    fn of(package: &Package) -> Option<Self> {
        let parts = [("xl/workbook.xml", Self::Xlsx), ("xl/workbook.bin", Self::Xlsb), ("content.xml", Self::Ods)];
        parts.into_iter().find(|(part, _)| package.has(part)).map(|(_, kind)| kind)
    }
}

/// A workbook that the library may be given.
pub(super) struct Checked {
    pub(super) kind: Kind,
    pub(super) again: Again,
    /// What its sheets say beside their cells, as far as the tags of XML say it.
    pub(super) beside: OfSheets,
}

/// Bytes of a part that describes the workbook and holds no cells.
const DESCRIPTION: u64 = 32 << 20;

/// Checks a workbook.
pub(super) fn check(again: Again, limits: &Limits) -> Result<Checked, OpenError> {
    let mut start = [0; 8];
    let mut file = again()?;
    let mut length = 0;
    while length < start.len() {
        match file.read(&mut start[length..])? {
            0 => break,
            more => length += more,
        }
    }
    let no = |why: &str| Err(OpenError::NoBank(why.to_owned()));
    if start.starts_with(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1") {
        return match file.seek(SeekFrom::End(0))? {
            ..=XLS_BYTES => Ok(Checked { kind: Kind::Xls, again, beside: OfSheets::new() }),
            _ => no("it is a workbook of the old kind (.xls) of more than 64 MiB: save it as .xlsx"),
        };
    }
    if length == 0 {
        return no("it is empty");
    }
    if !start.starts_with(b"PK") {
        return no(
            "it is no workbook by its first bytes, whatever its name says (some programs write tables of text or HTML under such a name): \
             open it in a spreadsheet program and save it as .xlsx, or name its format with --as csv",
        );
    }
    drop(file);
    zipped(again, limits)
}

/// Checks the parts of a zipped workbook.
fn zipped(again: Again, limits: &Limits) -> Result<Checked, OpenError> {
    let no = |why: String| OpenError::NoBank(why);
    let roomy = Limits { zip_entry_bytes: limits.zip_total_bytes, ..limits.clone() };
    let package = Package::of_any(again, &roomy);
    let mut package = package.map_err(|error| match error {
        PackageError::Io(error) => OpenError::Io(error),
        other => no(other.to_string()),
    })?;
    if let Some(fault) = package.faults.first() {
        return Err(no(format!("its part '{}' cannot be read: {}", fault.name, fault.message)));
    }
    let kind = Kind::of(&package).ok_or_else(|| {
        no("it is a zip file, but no workbook: it has neither xl/workbook.xml nor content.xml".to_owned())
    })?;
    let names: Vec<(String, u64)> =
        package.names().into_iter().filter_map(|(name, size)| Some((name.to_owned(), size?))).collect();
    let mut gatherer = Gatherer::default();
    for (name, size) in names {
        let Some(part) = Part::of(&name, kind) else { continue };
        let most = match part {
            Part::Description => DESCRIPTION,
            Part::Strings | Part::Binary | Part::Content => limits.zip_entry_bytes,
            Part::Sheet => limits.zip_total_bytes,
        };
        if size > most {
            return Err(no(format!("its part '{name}' has {size} bytes, more than the {most} that are read")));
        }
        let source = package.read(&name).map_err(no)?;
        gatherer.sheet(&name);
        gatherer = scan(source, part, limits, gatherer).map_err(|why| no(format!("its part '{name}' {why}")))?;
    }
    let mut beside = gatherer.sheets;
    if kind == Kind::Xlsx && !beside.is_empty() {
        let mut bytes = |name: &str| {
            let mut bytes = Vec::new();
            // A part that is not there, or ends in a fault, is for the library to tell.
            let _ = package.read(name).map(|mut part| part.read_to_end(&mut bytes));
            bytes
        };
        let (workbook, relations) = (bytes("xl/workbook.xml"), bytes("xl/_rels/workbook.xml.rels"));
        let named = parts_of_sheets(&workbook, &relations).into_iter();
        beside = named.filter_map(|(sheet, part)| Some((sheet, beside.remove(&part)?))).collect();
    }
    Ok(Checked { kind, again: package.into_again(), beside })
}

/// What a part holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// Settings, relations, styles.
    Description,
    /// Shared strings.
    Strings,
    /// A sheet.
    Sheet,
    /// A binary part.
    Binary,
    /// All sheets of an `.ods`.
    Content,
}

impl Part {
    fn of(name: &str, kind: Kind) -> Option<Self> {
        let lower = name.to_ascii_lowercase();
        let ending = lower.rsplit('.').next().unwrap_or_default();
        match kind {
            Kind::Ods if lower == "content.xml" => Some(Self::Content),
            Kind::Ods => (lower == "meta.xml" || lower.starts_with("meta-inf/")).then_some(Self::Description),
            _ if ending == "bin" => Some(Self::Binary),
            _ if !matches!(ending, "xml" | "rels") => None,
            _ if lower.contains("sharedstrings") => Some(Self::Strings),
            _ if lower.contains("sheets/") && ending == "xml" => Some(Self::Sheet),
            _ if lower.contains("drawing") || lower.contains("media/") => None,
            _ => Some(Self::Description),
        }
    }
}

/// Reads a part to its end and counts what the library would keep of it. Where the library waits for the end of elements, they have one.
fn scan(source: impl Read, part: Part, limits: &Limits, gatherer: Gatherer) -> Result<Gatherer, String> {
    let (tag, cells) = (Vec::new(), Cells::default());
    let scan = Scan { part, limits, tag, in_tag: false, gap: 0, strings: 0, cells, content: 0, gatherer };
    let mut scanned = Scanned { source, scan, wrong: None };
    let read = if matches!(part, Part::Content | Part::Description) {
        well_formed::check(BufReader::new(&mut scanned))
    } else {
        io::copy(&mut scanned, &mut io::sink()).map(|_| ()).map_err(|error| format!("cannot be read: {error}"))
    };
    match read {
        Ok(()) => Ok(scanned.scan.gatherer),
        Err(why) => Err(scanned.wrong.take().unwrap_or(why)),
    }
}

/// A part whose bytes are scanned as they are read.
struct Scanned<'l, R> {
    source: R,
    scan: Scan<'l>,
    /// What the scan found wrong, where reading ended for that.
    wrong: Option<String>,
}

impl<R: Read> Read for Scanned<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = match self.source.read(buffer) {
            Err(error) if error.kind() != io::ErrorKind::Interrupted => {
                self.wrong = Some(format!("cannot be read: {error}"));
                return Err(error);
            }
            read => read?,
        };
        if self.scan.part != Part::Binary {
            self.scan.take(buffer.get(..count).unwrap_or_default()).map_err(|why| {
                self.wrong = Some(why.clone());
                io::Error::other(why)
            })?;
        }
        Ok(count)
    }
}

/// Bytes of a tag that are kept: its name and the attributes that repeat cells.
const TAG: usize = 1 << 12;

struct Scan<'l> {
    part: Part,
    limits: &'l Limits,
    tag: Vec<u8>,
    in_tag: bool,
    /// Bytes since a cell, a row or a text began or ended.
    gap: usize,
    strings: u64,
    cells: Cells,
    /// Bytes of text since the last tag.
    content: usize,
    gatherer: Gatherer,
}

/// Cells of the sheets of an `.ods`, as the library lays them out: rows as long as the longest, repeated ones in full.
#[derive(Default)]
struct Cells {
    rows: u64,
    width: u64,
    row_width: u64,
    row_repeats: u64,
    /// Rows without a value at the end of what was read.
    empty_rows: u64,
    /// Cells of the row up to the last filled one.
    filled: u64,
    before: u64,
}

impl Scan<'_> {
    fn take(&mut self, mut bytes: &[u8]) -> Result<(), String> {
        while !bytes.is_empty() {
            let stop = if self.in_tag { b'>' } else { b'<' };
            let end = memchr::memchr(stop, bytes);
            let own = bytes.get(..end.unwrap_or(bytes.len())).unwrap_or_default();
            self.gap += own.len();
            if !self.in_tag {
                self.content += own.len();
            }
            if self.in_tag && self.tag.len() < TAG {
                self.tag.extend_from_slice(own.get(..own.len().min(TAG - self.tag.len())).unwrap_or_default());
            }
            if self.gap > self.limits.record_bytes {
                return Err(format!(
                    "holds a text or a cell beyond the limit `record-bytes` of {}",
                    self.limits.record_bytes
                ));
            }
            let Some(end) = end else { return Ok(()) };
            if self.in_tag {
                self.tag()?;
                self.content = 0;
            }
            self.in_tag = !self.in_tag;
            self.tag.clear();
            bytes = bytes.get(end + 1..).unwrap_or_default();
        }
        Ok(())
    }

    /// Takes a tag, without its angle brackets.
    fn tag(&mut self) -> Result<(), String> {
        let tag = std::mem::take(&mut self.tag);
        let is_end = tag.first() == Some(&b'/');
        let closes = is_end || tag.last() == Some(&b'/');
        let own = tag.strip_prefix(b"/").unwrap_or(&tag);
        let name_end = own.iter().position(|byte| byte.is_ascii_whitespace() || *byte == b'/').unwrap_or(own.len());
        let name = own.get(..name_end).unwrap_or_default();
        let local = name.rsplit(|byte| *byte == b':').next().unwrap_or_default();
        if matches!(local, b"c" | b"si" | b"row" | b"table-cell" | b"covered-table-cell" | b"table-row" | b"xf") {
            self.gap = 0;
        }
        if self.part == Part::Sheet && !is_end && matches!(local, b"c" | b"row" | b"mergeCell" | b"dimension") {
            place(own)?;
        }
        self.gather(own, local, (is_end, closes))?;
        match (self.part, local) {
            (Part::Strings, b"si") if !is_end => {
                self.strings += 1;
                if self.strings > self.limits.shared_strings {
                    return Err(format!("passes the limit `shared-strings` of {}", self.limits.shared_strings));
                }
            }
            (Part::Content, b"table") if is_end => self.cells.end_table(),
            (Part::Content, b"table-row") if is_end => self.cells.end_row(),
            (Part::Content, b"table-row") => {
                self.cells.row_repeats = repeats(own, b"number-rows-repeated=");
                if closes {
                    self.cells.end_row();
                }
            }
            (Part::Content, b"table-cell" | b"covered-table-cell") if !is_end => {
                let many = repeats(own, b"number-columns-repeated=");
                let filled = memchr::memmem::find(own, b"value-type=").is_some();
                self.cells.row_width = self.cells.row_width.saturating_add(many);
                // Empty cells behind the last filled one are no part of the sheet.
                if filled {
                    self.cells.filled = self.cells.row_width;
                }
            }
            _ => {}
        }
        if self.part == Part::Content && self.cells.count() > self.limits.sheet_cells {
            return Err(format!("passes the limit `sheet-cells` of {}", self.limits.sheet_cells));
        }
        self.tag = tag;
        Ok(())
    }
}

impl Scan<'_> {
    /// Notes what a tag says beside the cells; whether it ends an element, and whether nothing of that comes behind it.
    fn gather(&mut self, tag: &[u8], local: &[u8], (is_end, closes): (bool, bool)) -> Result<(), String> {
        let gatherer = &mut self.gatherer;
        match (self.part, local) {
            (Part::Sheet, b"row") if !is_end => {
                let number = attribute(tag, b" r=").and_then(cell).map(|(_, row)| row);
                gatherer.row(number, attribute(tag, b" hidden=").is_some_and(is_yes));
            }
            (Part::Sheet, b"col") if !is_end && attribute(tag, b" hidden=").is_some_and(is_yes) => {
                let number = |name: &[u8]| attribute(tag, name).and_then(cell).map_or(0, |(_, own)| own);
                let (first, last) = (number(b" min="), number(b" max="));
                if first > 0 && last >= first {
                    gatherer.own().hide_columns(first - 1, last - 1);
                }
            }
            (Part::Sheet, b"c") if !is_end => {
                let place = attribute(tag, b" r=").and_then(cell);
                let place = place.and_then(|(column, row)| Some((row.checked_sub(1)?, column.checked_sub(1)?)));
                gatherer.cell(place, attribute(tag, b" t=") == Some(b"str"));
                if closes {
                    gatherer.end_cell()?;
                }
            }
            (Part::Sheet, b"c") => gatherer.end_cell()?,
            (Part::Sheet, b"f") if !is_end => gatherer.formula(),
            // A program that works nothing out leaves the element empty.
            (Part::Sheet, b"v") if is_end && self.content > 0 => gatherer.value(),
            (Part::Content, b"table") if !is_end => {
                let name = attribute(tag, b"table:name=").unwrap_or_default();
                gatherer.sheet(&unescaped(name).unwrap_or_default());
            }
            (Part::Content, b"table-column") if !is_end => {
                gatherer.columns(repeats(tag, b"number-columns-repeated="), is_invisible(tag));
            }
            (Part::Content, b"table-row") => {
                if !is_end {
                    gatherer.repeated_row(repeats(tag, b"number-rows-repeated="), is_invisible(tag));
                }
                if closes {
                    gatherer.end_repeated_row();
                }
            }
            (Part::Content, b"table-cell" | b"covered-table-cell") if !is_end => {
                let has = |name: &[u8]| memchr::memmem::find(tag, name).is_some();
                let is_valueless = has(b"table:formula=") && !has(b"value-type=");
                gatherer.repeated_cell(repeats(tag, b"number-columns-repeated="), is_valueless)?;
            }
            _ => {}
        }
        Ok(())
    }
}

/// The value of an attribute, as it is written.
fn attribute<'t>(tag: &'t [u8], name: &[u8]) -> Option<&'t [u8]> {
    let at = memchr::memmem::find(tag, name)? + name.len();
    let (quote, value) = tag.get(at..)?.split_first()?;
    memchr::memchr(*quote, value).and_then(|end| value.get(..end))
}

fn is_yes(value: &[u8]) -> bool {
    matches!(value, b"1" | b"true")
}

/// Whether rows or columns of an `.ods` are not shown.
fn is_invisible(tag: &[u8]) -> bool {
    matches!(attribute(tag, b"table:visibility="), Some(b"collapse" | b"filter"))
}

impl Cells {
    fn end_row(&mut self) {
        let repeats = self.row_repeats.max(1);
        if self.filled > 0 {
            self.rows = self.rows.saturating_add(self.empty_rows).saturating_add(repeats);
            self.empty_rows = 0;
            self.width = self.width.max(self.filled);
        } else {
            self.empty_rows = self.empty_rows.saturating_add(repeats);
        }
        (self.row_width, self.row_repeats, self.filled) = (0, 0, 0);
    }

    fn end_table(&mut self) {
        self.before = self.count();
        (self.rows, self.width, self.empty_rows) = (0, 0, 0);
    }

    fn count(&self) -> u64 {
        self.before.saturating_add(self.rows.saturating_mul(self.width))
    }
}

/// Checks the place that a tag names: letters and digits that no sheet has would run over in the library, and so would a range that
/// ends before it begins.
fn place(tag: &[u8]) -> Result<(), String> {
    for name in [&b" r="[..], b" ref="] {
        let Some(at) = memchr::memmem::find(tag, name) else { continue };
        let value = tag.get(at + name.len() + 1..).unwrap_or_default();
        let value = value.split(|byte| matches!(byte, b'"' | b'\'')).next().unwrap_or_default();
        let mut before = (0, 0);
        for own in value.split(|byte| *byte == b':').map(cell) {
            let own = own.ok_or("names a cell that no sheet has")?;
            if own.0 < before.0 || own.1 < before.1 {
                return Err("names a range of cells that ends before it begins".to_owned());
            }
            before = own;
        }
    }
    Ok(())
}

/// The column and row that a text such as `C17` names, as numbers that grow with them; what is no name of a cell counts as letters and
/// digits come. `None` where there are more of them than any sheet needs.
fn cell(text: &[u8]) -> Option<(u32, u32)> {
    let (mut column, mut row, mut letters, mut digits) = (0, 0, 0, 0);
    for byte in text {
        match byte {
            b'0'..=b'9' => (row, digits) = (row * 10 + u32::from(byte - b'0'), digits + 1),
            byte if byte.is_ascii_alphabetic() => {
                (column, letters) = (column * 26 + u32::from(byte.to_ascii_uppercase() - b'A' + 1), letters + 1);
            }
            _ => {}
        }
        if letters > 3 || digits > 7 {
            return None;
        }
    }
    Some((column, row))
}

/// How often a cell or row is repeated.
fn repeats(tag: &[u8], name: &[u8]) -> u64 {
    let Some(at) = memchr::memmem::find(tag, name) else { return 1 };
    let digits = tag.get(at + name.len() + 1..).unwrap_or_default().iter().take_while(|byte| byte.is_ascii_digit());
    digits.fold(0_u64, |number, digit| number.saturating_mul(10).saturating_add(u64::from(digit - b'0'))).max(1)
}
