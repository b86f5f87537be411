//! Cells of an `.xlsx` (ECMA-376, part 1, 18.3.1): new text goes into the cell itself, as an inline string.

use super::tags::{Tag, Tags, related_parts};
use super::{CellRefusal, Wanted, area_of, place_of};
use crate::bank::sheet::cell_name;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// The part of each sheet.
pub(in crate::bank::sheet) fn sheets(workbook: &[u8], relations: &[u8]) -> BTreeMap<String, String> {
    let parts = related_parts(relations);
    Tags::new(workbook)
        .filter(|tag| tag.local() == b"sheet" && !tag.is_end)
        .filter_map(|tag| Some((tag.attribute("name")?.into_owned(), parts.get(&*tag.attribute("id")?)?.clone())))
        .collect()
}

/// An area of a sheet: rows and columns from 0.
type Area = (RangeInclusive<u32>, RangeInclusive<u32>);

/// What a sheet says beside its cells.
#[derive(Default)]
struct About {
    merged: Vec<Area>,
    /// Areas of formulas that fill several cells.
    arrays: Vec<Area>,
    /// Styles of columns.
    styles: Vec<(RangeInclusive<u32>, u32)>,
}

impl About {
    fn of(sheet: &[u8]) -> Self {
        let mut about = Self::default();
        for tag in Tags::new(sheet).filter(|tag| !tag.is_end) {
            match tag.local() {
                b"mergeCell" => about.merged.extend(tag.attribute("ref").and_then(|own| area_of(&own))),
                b"f" if tag.attribute("t").is_some_and(|own| own == "array" || own == "dataTable") => {
                    about.arrays.extend(tag.attribute("ref").and_then(|own| area_of(&own)));
                }
                b"col" => {
                    if let (Some(min @ 1..), Some(max @ 1..), Some(style)) =
                        (tag.number("min"), tag.number("max"), tag.number("style"))
                    {
                        about.styles.push((min - 1..=max - 1, style));
                    }
                }
                _ => {}
            }
        }
        about
    }

    fn refusal(&self, (row, column): (u32, u32)) -> Option<CellRefusal> {
        let holds =
            |areas: &[Area]| areas.iter().any(|(rows, columns)| rows.contains(&row) && columns.contains(&column));
        let name = || cell_name(row + 1, column);
        if holds(&self.merged) {
            return Some(CellRefusal::Merged(name()));
        }
        holds(&self.arrays).then(|| CellRefusal::Formula(name()))
    }
}

/// Writes cells of a sheet; gives those that are refused.
pub(super) fn written(sheet: &[u8], mut wanted: Wanted<'_>) -> (Vec<u8>, Vec<(usize, CellRefusal)>) {
    let about = About::of(sheet);
    let mut refused = Vec::new();
    wanted.retain(|place, (edit, _)| match about.refusal(*place) {
        Some(why) => {
            refused.push((*edit, why));
            false
        }
        None => true,
    });
    let mut writer = Writer { sheet, about, wanted, out: Vec::with_capacity(sheet.len() + 4096), done: 0, refused };
    writer.all();
    writer.out.extend_from_slice(sheet.get(writer.done..).unwrap_or_default());
    (writer.out, writer.refused)
}

struct Writer<'s, 'w> {
    sheet: &'s [u8],
    about: About,
    wanted: Wanted<'w>,
    out: Vec<u8>,
    /// Bytes of the sheet that are written.
    done: usize,
    refused: Vec<(usize, CellRefusal)>,
}

/// A row while its cells go by.
#[derive(Clone, Copy, Default)]
struct Row {
    number: u32,
    /// The column behind the last cell.
    next: u32,
    style: Option<u32>,
}

impl Writer<'_, '_> {
    fn all(&mut self) {
        let mut tags = Tags::new(self.sheet);
        let (mut row, mut next_row) = (Row::default(), 0);
        while let Some(tag) = tags.next() {
            match tag.local() {
                b"row" if !tag.is_end => {
                    let number = tag.number("r").and_then(|own| own.checked_sub(1)).unwrap_or(next_row);
                    self.rows_before(number, tag.start, tag.prefix());
                    let style = tag.number("s").filter(|_| tag.attribute("customFormat").is_some_and(|own| own != "0"));
                    row = Row { number, next: 0, style };
                    next_row = number + 1;
                    if tag.is_empty && self.is_wanted(number) {
                        self.copy(tag.start);
                        self.out.extend_from_slice(&tag.without(&[]));
                        self.out.push(b'>');
                        self.cells_before(row, u32::MAX, tag.prefix());
                        self.close(tag.prefix(), "row");
                        self.done = tag.end;
                    }
                }
                b"row" if self.is_wanted(row.number) => {
                    self.copy(tag.start);
                    self.cells_before(row, u32::MAX, tag.prefix());
                }
                b"c" if !tag.is_end => {
                    let place = tag.attribute("r").and_then(|own| place_of(&own));
                    let column = place.map_or(row.next, |(_, column)| column);
                    row.next = column + 1;
                    let (end, has_formula) = tags.pass(&tag, b"f");
                    self.cell(row, column, (&tag, end, has_formula));
                }
                b"sheetData" if tag.is_end => self.rows_before(u32::MAX, tag.start, tag.prefix()),
                b"sheetData" if tag.is_empty && !self.wanted.is_empty() => {
                    self.copy(tag.start);
                    self.out.extend_from_slice(&tag.without(&[]));
                    self.out.push(b'>');
                    self.done = tag.end;
                    self.rows_before(u32::MAX, tag.end, tag.prefix());
                    self.close(tag.prefix(), "sheetData");
                }
                _ => {}
            }
        }
    }

    /// Copies the sheet up to a byte.
    fn copy(&mut self, until: usize) {
        self.out.extend_from_slice(self.sheet.get(self.done..until).unwrap_or_default());
        self.done = self.done.max(until);
    }

    fn is_wanted(&self, row: u32) -> bool {
        self.wanted.range((row, 0)..=(row, u32::MAX)).next().is_some()
    }

    fn close(&mut self, prefix: &[u8], name: &str) {
        self.out.extend_from_slice(b"</");
        self.out.extend_from_slice(prefix);
        self.out.extend_from_slice(name.as_bytes());
        self.out.push(b'>');
    }

    /// Writes rows that the sheet does not have, up to another.
    fn rows_before(&mut self, number: u32, until: usize, prefix: &[u8]) {
        while let Some(row) = self.wanted.keys().next().map(|(row, _)| *row).filter(|row| *row < number) {
            self.copy(until);
            self.out.push(b'<');
            self.out.extend_from_slice(prefix);
            self.out.extend_from_slice(format!("row r=\"{}\">", row + 1).as_bytes());
            self.cells_before(Row { number: row, ..Row::default() }, u32::MAX, prefix);
            self.close(prefix, "row");
        }
    }

    /// Writes cells that the row does not have, up to another.
    fn cells_before(&mut self, row: Row, column: u32, prefix: &[u8]) {
        let coming = self.wanted.range((row.number, 0)..(row.number, column));
        let places: Vec<(u32, u32)> = coming.map(|(place, _)| *place).collect();
        for place in places {
            let Some((_, text)) = self.wanted.remove(&place) else { continue };
            let of_column =
                self.about.styles.iter().find(|(columns, _)| columns.contains(&place.1)).map(|(_, style)| *style);
            let mut tag = vec![b'<'];
            tag.extend_from_slice(prefix);
            tag.extend_from_slice(format!("c r=\"{}\"", cell_name(place.0 + 1, place.1)).as_bytes());
            if let Some(style) = row.style.or(of_column) {
                tag.extend_from_slice(format!(" s=\"{style}\"").as_bytes());
            }
            self.value(&tag, prefix, text);
        }
    }

    /// A cell of the sheet, with the byte behind it and whether it holds a formula.
    fn cell(&mut self, row: Row, column: u32, (tag, end, has_formula): (&Tag<'_>, usize, bool)) {
        if self.wanted.range((row.number, 0)..(row.number, column)).next().is_some() {
            self.copy(tag.start);
            self.cells_before(row, column, tag.prefix());
        }
        let Some((edit, text)) = self.wanted.remove(&(row.number, column)) else { return };
        if has_formula {
            self.refused.push((edit, CellRefusal::Formula(cell_name(row.number + 1, column))));
            return;
        }
        self.copy(tag.start);
        self.value(&tag.without(&["t", "vm"]), tag.prefix(), text);
        self.done = end;
    }

    /// Writes a cell whose tag is begun.
    fn value(&mut self, tag: &[u8], prefix: &[u8], text: &str) {
        self.out.extend_from_slice(tag);
        self.out.extend_from_slice(b" t=\"inlineStr\">");
        for name in ["is>", "t xml:space=\"preserve\">"] {
            self.out.push(b'<');
            self.out.extend_from_slice(prefix);
            self.out.extend_from_slice(name.as_bytes());
        }
        let mut content = String::with_capacity(text.len() + 16);
        crate::bank::write::xlsx::content(&mut content, text);
        self.out.extend_from_slice(content.as_bytes());
        for name in ["t", "is", "c"] {
            self.close(prefix, name);
        }
    }
}
