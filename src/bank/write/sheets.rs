//! Sheets to be written as a workbook: all their cells are text, whatever they begin with.

use super::xlsx::{About, Book, Cell, Head, List, Style, Tail};
use crate::qti::zip::ZipWriter;
use crate::xml::markup::escaped;
use std::fmt::Write as _;
use std::io::{self, Write};

/// A sheet.
pub struct Sheet<'a> {
    /// Its name.
    pub name: String,
    /// Its rows, the header first.
    pub rows: Box<dyn Iterator<Item = Vec<String>> + 'a>,
    /// The width of each column, in characters.
    pub widths: Vec<f64>,
    /// Columns whose cells are chosen from a list.
    pub lists: Vec<(u16, Vec<&'static str>)>,
}

/// Characters of a cell: what spreadsheet programs take.
pub const CELL: usize = 32_767;
/// Rows of a sheet.
pub const ROWS: usize = 1_048_576;
/// Rows below the header for which lists are offered.
const OFFERED: u32 = 1_000;

/// Writes an `.xlsx`. Cells are formatted as text, so that a program which opens it makes no dates of `1-2`.
///
/// # Errors
/// Writing fails.
pub fn xlsx<W: Write>(out: W, sheets: Vec<Sheet<'_>>) -> io::Result<W> {
    let mut book = Book::new(out, About::default())?;
    for own in sheets {
        let columns: Vec<(f64, Style)> = own.widths.iter().map(|width| (*width, Style::Text)).collect();
        book.begin(&Head { name: &own.name, frozen: (1, 0), columns: &columns })?;
        for (row, cells) in own.rows.enumerate() {
            let style = if row == 0 { Style::Heading } else { Style::Text };
            let filled = cells.iter().enumerate().filter(|(_, cell)| !cell.is_empty());
            book.row(row as u32, filled.map(|(column, cell)| (column as u32, Cell::Text(cell, style))))?;
        }
        let lists: Vec<List<'_>> = own
            .lists
            .iter()
            .map(|(column, words)| List { column: u32::from(*column), last: OFFERED, words, told: ("", "") })
            .collect();
        book.end(&Tail { filter: None, lists: &lists })?;
    }
    book.finish()
}

const MANIFEST: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.3"><manifest:file-entry manifest:full-path="/" manifest:version="1.3" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/><manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>
"#;
const MEDIA_TYPE: &[u8] = b"application/vnd.oasis.opendocument.spreadsheet";
const HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:fo="urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0" xmlns:number="urn:oasis:names:tc:opendocument:xmlns:datastyle:1.0" office:version="1.3"><office:automatic-styles><number:text-style style:name="text"><number:text-content/></number:text-style><style:style style:name="cell" style:family="table-cell" style:data-style-name="text"/><style:style style:name="heading" style:family="table-cell" style:data-style-name="text"><style:text-properties fo:font-weight="bold"/></style:style>"#;

/// Writes an `.ods` (ODF 1.3).
///
/// # Errors
/// Writing fails.
pub fn ods<W: Write>(out: W, sheets: Vec<Sheet<'_>>) -> io::Result<W> {
    let mut content = HEAD.to_owned();
    let mut widths: Vec<f64> = sheets.iter().flat_map(|own| own.widths.iter().copied()).collect();
    widths.sort_by(f64::total_cmp);
    widths.dedup();
    for width in &widths {
        // A character is about 2.2 mm wide.
        let _ = write!(
            content,
            "<style:style style:name=\"w{width}\" style:family=\"table-column\"><style:table-column-properties style:column-width=\"{:.1}mm\"/></style:style>",
            width * 2.2
        );
    }
    content.push_str("</office:automatic-styles><office:body><office:spreadsheet>");
    validations(&mut content, &sheets);
    for own in sheets {
        table(&mut content, own);
    }
    content.push_str("</office:spreadsheet></office:body></office:document-content>\n");
    let mut zip = ZipWriter::new(out);
    zip.stored("mimetype", MEDIA_TYPE)?;
    zip.entry("content.xml", content.as_bytes())?;
    zip.entry("META-INF/manifest.xml", MANIFEST.as_bytes())?;
    zip.finish()
}

/// The name of the list of a column.
fn list_name(sheet: usize, column: u16) -> String {
    format!("list-{sheet}-{column}")
}

fn validations(content: &mut String, sheets: &[Sheet<'_>]) {
    if sheets.iter().all(|own| own.lists.is_empty()) {
        return;
    }
    content.push_str("<table:content-validations>");
    for (at, own) in sheets.iter().enumerate() {
        for (column, list) in &own.lists {
            let words: Vec<String> = list.iter().map(|word| format!("\"{word}\"")).collect();
            let condition = escaped(&format!("of:cell-content-is-in-list({})", words.join(";")));
            let _ = write!(
                content,
                "<table:content-validation table:name=\"{}\" table:condition=\"{condition}\" table:allow-empty-cell=\"true\"/>",
                list_name(at, *column)
            );
        }
    }
    content.push_str("</table:content-validations>");
}

fn table(content: &mut String, sheet: Sheet<'_>) {
    let Sheet { name, rows, widths, lists } = sheet;
    let _ = write!(content, "<table:table table:name=\"{}\">", escaped(&name));
    for width in &widths {
        let _ = write!(
            content,
            "<table:table-column table:style-name=\"w{width}\" table:default-cell-style-name=\"cell\"/>"
        );
    }
    if widths.is_empty() {
        content.push_str("<table:table-column/>");
    }
    let list =
        |column: usize| lists.iter().find(|(own, _)| usize::from(*own) == column).map(|(own, _)| list_name(0, *own));
    let mut count = 0;
    for (row, cells) in rows.enumerate() {
        content.push_str("<table:table-row>");
        for (column, cell) in cells.iter().enumerate() {
            let style = if row == 0 { "heading" } else { "cell" };
            let list = list(column).filter(|_| row > 0);
            let list = list.map_or(String::new(), |own| format!(" table:content-validation-name=\"{own}\""));
            let _ = write!(content, "<table:table-cell table:style-name=\"{style}\"{list}");
            if cell.is_empty() {
                content.push_str("/>");
                continue;
            }
            content.push_str(" office:value-type=\"string\">");
            paragraphs(content, cell);
            content.push_str("</table:table-cell>");
        }
        content.push_str("</table:table-row>");
        count = row as u32 + 1;
    }
    if !lists.is_empty() && count < OFFERED {
        let _ = write!(content, "<table:table-row table:number-rows-repeated=\"{}\">", OFFERED - count);
        for column in 0..widths.len() {
            let list = list(column).map_or(String::new(), |own| format!(" table:content-validation-name=\"{own}\""));
            let _ = write!(content, "<table:table-cell table:style-name=\"cell\"{list}/>");
        }
        content.push_str("</table:table-row>");
    }
    content.push_str("</table:table>");
}

/// Each line of a text is a paragraph; spaces that XML would lose are elements.
pub(in crate::bank) fn paragraphs(out: &mut String, text: &str) {
    for line in text.split('\n') {
        out.push_str("<text:p>");
        let mut before = ' ';
        for own in line.chars() {
            match own {
                ' ' if before == ' ' => out.push_str("<text:s/>"),
                '\t' => out.push_str("<text:tab/>"),
                own => out.push_str(&escaped(own.encode_utf8(&mut [0; 4]))),
            }
            before = own;
        }
        // A space at the end is lost as well.
        if line.ends_with(' ') && line.len() > 1 && out.ends_with(' ') {
            out.pop();
            out.push_str("<text:s/>");
        }
        out.push_str("</text:p>");
    }
}
