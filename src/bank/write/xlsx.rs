//! An `.xlsx` (ECMA-376, part 1) that is written row by row: no more than a row is held in memory, and a disk that is full is an error like any other.

use crate::bank::rows::column_name;
use crate::qti::zip::{ZipEntry, ZipWriter};
use crate::xml::markup::{escaped, is_writable};
use std::fmt::Write as _;
use std::io::{self, Write};

/// A workbook while it fills.
pub struct Book<W: Write> {
    at: At<W>,
    /// The names of the sheets, and the area of each that has a filter.
    sheets: Vec<(String, Option<String>)>,
    row: String,
}

enum At<W: Write> {
    Between(ZipWriter<W>),
    Sheet(Box<ZipEntry<W>>),
    /// Writing has failed.
    Broken,
}

/// What a workbook says of itself.
#[derive(Debug, Clone, Copy, Default)]
pub struct About<'a> {
    /// Its title.
    pub title: &'a str,
    /// What has to be read beside it.
    pub comment: &'a str,
}

/// How cells look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// As the program has it.
    Plain,
    /// Text, whatever is typed: no program makes a day of `1-2`.
    Text,
    /// A heading.
    Heading,
}

/// The beginning of a sheet.
#[derive(Debug, Clone, Copy)]
pub struct Head<'a> {
    /// Its name.
    pub name: &'a str,
    /// Rows and columns that stay in sight.
    pub frozen: (u32, u32),
    /// The width of each column in characters, and the style of its empty cells.
    pub columns: &'a [(f64, Style)],
}

/// The end of a sheet.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tail<'a> {
    /// Rows and columns that a filter covers, from the first cell.
    pub filter: Option<(u32, u32)>,
    /// Columns whose cells are chosen from a list.
    pub lists: &'a [List<'a>],
}

/// A list to choose from.
#[derive(Debug, Clone, Copy)]
pub struct List<'a> {
    /// The column, from 0.
    pub column: u32,
    /// The last row in which it is offered, from 0; the first is the second of the sheet.
    pub last: u32,
    /// What may be chosen.
    pub words: &'a [&'a str],
    /// What is told where something else is typed: a title and a sentence.
    pub told: (&'a str, &'a str),
}

/// A cell.
#[derive(Debug, Clone, Copy)]
pub enum Cell<'a> {
    /// A text, whatever it begins with.
    Text(&'a str, Style),
    /// A number.
    Number(f64),
    /// A link to a place beside the workbook, and what it shows.
    Link(&'a str, &'a str),
}

const XML: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n";
const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006";
/// The styles, in the order of [`Style::number`]: plain; text at the top of its cell; the same in bold on several lines.
const STYLES: &str = r#"<fonts count="2"><font><sz val="11"/><name val="Calibri"/><family val="2"/></font><font><b/><sz val="11"/><name val="Calibri"/><family val="2"/></font></fonts><fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders><cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="3"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="49" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1" applyAlignment="1"><alignment vertical="top"/></xf><xf numFmtId="49" fontId="1" fillId="0" borderId="0" xfId="0" applyNumberFormat="1" applyFont="1" applyAlignment="1"><alignment vertical="top" wrapText="1"/></xf></cellXfs><cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>"#;

impl Style {
    fn number(self) -> u32 {
        match self {
            Self::Plain => 0,
            Self::Text => 1,
            Self::Heading => 2,
        }
    }
}

impl<W: Write> Book<W> {
    /// Begins a workbook.
    ///
    /// # Errors
    /// Writing fails.
    pub fn new(out: W, about: About<'_>) -> io::Result<Self> {
        let mut zip = ZipWriter::new(out);
        zip.entry(
            "_rels/.rels",
            relations(&[
                (&format!("{OFFICE}/officeDocument"), "xl/workbook.xml"),
                (&format!("{PACKAGE}/relationships/metadata/core-properties"), "docProps/core.xml"),
            ])
            .as_bytes(),
        )?;
        // The same bytes whenever it is written.
        let core = format!(
            "{XML}<cp:coreProperties xmlns:cp=\"{PACKAGE}/metadata/core-properties\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:dcterms=\"http://purl.org/dc/terms/\" xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\"><dc:title>{}</dc:title><dc:creator>keyassay</dc:creator><dc:description>{}</dc:description><dcterms:created xsi:type=\"dcterms:W3CDTF\">2000-01-01T00:00:00Z</dcterms:created></cp:coreProperties>",
            escaped(about.title),
            escaped(about.comment)
        );
        zip.entry("docProps/core.xml", core.as_bytes())?;
        zip.entry("xl/styles.xml", format!("{XML}<styleSheet xmlns=\"{MAIN}\">{STYLES}</styleSheet>").as_bytes())?;
        Ok(Self { at: At::Between(zip), sheets: Vec::new(), row: String::new() })
    }

    /// Begins a sheet, behind the end of the one before.
    ///
    /// # Errors
    /// Writing fails.
    pub fn begin(&mut self, head: &Head<'_>) -> io::Result<()> {
        let zip = self.between()?;
        self.sheets.push((head.name.to_owned(), None));
        let mut entry = zip.begin(&format!("xl/worksheets/sheet{}.xml", self.sheets.len()))?;
        entry.write_all(beginning(head, self.sheets.len() == 1).as_bytes())?;
        self.at = At::Sheet(Box::new(entry));
        Ok(())
    }

    /// Writes a row, by its number from 0: higher ones behind lower ones. Each cell comes with its column, in their order.
    ///
    /// # Errors
    /// Writing fails.
    pub fn row<'c>(&mut self, number: u32, cells: impl Iterator<Item = (u32, Cell<'c>)>) -> io::Result<()> {
        let row = &mut self.row;
        row.clear();
        let _ = write!(row, "<row r=\"{}\">", number + 1);
        for (column, cell) in cells {
            cell.write(row, &format!("{}{}", column_name(column), number + 1));
        }
        row.push_str("</row>");
        match &mut self.at {
            At::Sheet(entry) => entry.write_all(row.as_bytes()),
            At::Between(_) | At::Broken => Err(no_sheet()),
        }
    }

    /// Bytes of the sheet that is being written.
    #[must_use]
    pub fn length(&self) -> u64 {
        match &self.at {
            At::Sheet(entry) => entry.length(),
            At::Between(_) | At::Broken => 0,
        }
    }

    /// Ends the sheet.
    ///
    /// # Errors
    /// Writing fails.
    pub fn end(&mut self, tail: &Tail<'_>) -> io::Result<()> {
        let At::Sheet(mut entry) = std::mem::replace(&mut self.at, At::Broken) else { return Err(no_sheet()) };
        entry.write_all(ending(tail).as_bytes())?;
        if let (Some((rows, columns)), Some((_, area))) = (tail.filter, self.sheets.last_mut()) {
            *area = Some(format!("$A$1:${}${}", column_name(columns.max(1) - 1), rows.max(1)));
        }
        self.at = At::Between(entry.end()?);
        Ok(())
    }

    /// Ends the workbook.
    ///
    /// # Errors
    /// Writing fails.
    pub fn finish(&mut self) -> io::Result<W> {
        let mut zip = self.between()?;
        zip.entry("xl/workbook.xml", self.workbook().as_bytes())?;
        let mut targets: Vec<(String, String)> = (1..=self.sheets.len())
            .map(|at| (format!("{OFFICE}/worksheet"), format!("worksheets/sheet{at}.xml")))
            .collect();
        targets.push((format!("{OFFICE}/styles"), "styles.xml".to_owned()));
        let targets: Vec<(&str, &str)> =
            targets.iter().map(|(kind, target)| (kind.as_str(), target.as_str())).collect();
        zip.entry("xl/_rels/workbook.xml.rels", relations(&targets).as_bytes())?;
        zip.entry("[Content_Types].xml", self.types().as_bytes())?;
        zip.finish()
    }

    /// The file, between two sheets.
    fn between(&mut self) -> io::Result<ZipWriter<W>> {
        match std::mem::replace(&mut self.at, At::Broken) {
            At::Between(zip) => Ok(zip),
            At::Sheet(_) | At::Broken => Err(io::Error::other("the sheet before was not written to its end")),
        }
    }

    fn workbook(&self) -> String {
        let (mut sheets, mut areas) = (String::new(), String::new());
        for (at, (name, area)) in self.sheets.iter().enumerate() {
            let number = at + 1;
            let _ = write!(sheets, "<sheet name=\"{}\" sheetId=\"{number}\" r:id=\"rId{number}\"/>", escaped(name));
            if let Some(area) = area {
                let quoted = escaped(&name.replace('\'', "''"));
                let _ = write!(
                    areas,
                    "<definedName name=\"_xlnm._FilterDatabase\" localSheetId=\"{at}\" hidden=\"1\">'{quoted}'!{area}</definedName>"
                );
            }
        }
        if !areas.is_empty() {
            areas = format!("<definedNames>{areas}</definedNames>");
        }
        format!(
            "{XML}<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><bookViews><workbookView/></bookViews><sheets>{sheets}</sheets>{areas}</workbook>"
        )
    }

    fn types(&self) -> String {
        let kind = "application/vnd.openxmlformats-officedocument.spreadsheetml";
        let mut parts = String::new();
        let mut part = |name: &str, kind: &str| {
            let _ = write!(parts, "<Override PartName=\"/{name}\" ContentType=\"{kind}+xml\"/>");
        };
        part("xl/workbook.xml", &format!("{kind}.sheet.main"));
        part("xl/styles.xml", &format!("{kind}.styles"));
        part("docProps/core.xml", "application/vnd.openxmlformats-package.core-properties");
        for at in 1..=self.sheets.len() {
            part(&format!("xl/worksheets/sheet{at}.xml"), &format!("{kind}.worksheet"));
        }
        format!(
            "{XML}<Types xmlns=\"{PACKAGE}/content-types\"><Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Default Extension=\"xml\" ContentType=\"application/xml\"/>{parts}</Types>"
        )
    }
}

fn no_sheet() -> io::Error {
    io::Error::other("no sheet of the workbook is being written")
}

/// Relations to parts, each by its kind and its target.
fn relations(targets: &[(&str, &str)]) -> String {
    let mut text = format!("{XML}<Relationships xmlns=\"{PACKAGE}/relationships\">");
    for (at, (kind, target)) in targets.iter().enumerate() {
        let _ = write!(text, "<Relationship Id=\"rId{}\" Type=\"{kind}\" Target=\"{target}\"/>", at + 1);
    }
    text + "</Relationships>"
}

fn beginning(head: &Head<'_>, is_first: bool) -> String {
    let mut text = format!("{XML}<worksheet xmlns=\"{MAIN}\"><sheetViews><sheetView");
    if is_first {
        text.push_str(" tabSelected=\"1\"");
    }
    text.push_str(" workbookViewId=\"0\">");
    let (rows, columns) = head.frozen;
    if rows + columns > 0 {
        let split = |name: &str, count: u32| if count > 0 { format!(" {name}=\"{count}\"") } else { String::new() };
        let pane = match (rows, columns) {
            (_, 0) => "bottomLeft",
            (0, _) => "topRight",
            _ => "bottomRight",
        };
        let _ = write!(
            text,
            "<pane{}{} topLeftCell=\"{}{}\" activePane=\"{pane}\" state=\"frozen\"/><selection pane=\"{pane}\"/>",
            split("xSplit", columns),
            split("ySplit", rows),
            column_name(columns),
            rows + 1
        );
    }
    text.push_str("</sheetView></sheetViews><sheetFormatPr defaultRowHeight=\"15\"/>");
    if !head.columns.is_empty() {
        text.push_str("<cols>");
        for (at, (width, style)) in head.columns.iter().enumerate() {
            let (at, style) = (at + 1, style.number());
            let _ =
                write!(text, "<col min=\"{at}\" max=\"{at}\" width=\"{width}\" style=\"{style}\" customWidth=\"1\"/>");
        }
        text.push_str("</cols>");
    }
    text + "<sheetData>"
}

fn ending(tail: &Tail<'_>) -> String {
    let mut text = "</sheetData>".to_owned();
    if let Some((rows, columns)) = tail.filter {
        let _ = write!(text, "<autoFilter ref=\"A1:{}{}\"/>", column_name(columns.max(1) - 1), rows.max(1));
    }
    if !tail.lists.is_empty() {
        let _ = write!(text, "<dataValidations count=\"{}\">", tail.lists.len());
        for list in tail.lists {
            let (column, last) = (column_name(list.column), list.last.max(1) + 1);
            let (title, error) = (escaped(list.told.0), escaped(list.told.1));
            let words = escaped(&list.words.join(","));
            let _ = write!(
                text,
                "<dataValidation type=\"list\" allowBlank=\"1\" showInputMessage=\"1\" showErrorMessage=\"1\" errorTitle=\"{title}\" error=\"{error}\" sqref=\"{column}2:{column}{last}\"><formula1>\"{words}\"</formula1></dataValidation>"
            );
        }
        text.push_str("</dataValidations>");
    }
    text + "</worksheet>"
}

impl Cell<'_> {
    fn write(self, out: &mut String, place: &str) {
        // Writing into a string does not fail.
        let _ = match self {
            Self::Text(text, style) => {
                let style = match style.number() {
                    0 => String::new(),
                    number => format!(" s=\"{number}\""),
                };
                let _ = write!(out, "<c r=\"{place}\"{style} t=\"inlineStr\"><is><t xml:space=\"preserve\">");
                content(out, text);
                write!(out, "</t></is></c>")
            }
            Self::Number(number) => write!(out, "<c r=\"{place}\"><v>{number}</v></c>"),
            Self::Link(target, shown) => {
                let quoted = |text: &str| text.replace('"', "\"\"");
                let _ = write!(out, "<c r=\"{place}\" t=\"str\"><f>");
                content(out, &format!("HYPERLINK(\"{}\",\"{}\")", quoted(target), quoted(shown)));
                out.push_str("</f><v>");
                content(out, shown);
                write!(out, "</v></c>")
            }
        };
    }
}

/// A text as what a cell holds. What XML cannot write, and a text that reads as such a character spelt out, are spelt out
/// (`_x000D_`: ECMA-376, part 1, 22.9.2.19).
pub(in crate::bank) fn content(out: &mut String, text: &str) {
    for (at, own) in text.char_indices() {
        match own {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '_' if spelt(text.get(at..).unwrap_or_default()).is_some() => out.push_str("_x005F_"),
            '\r' => out.push_str("_x000D_"),
            own if is_writable(own) => out.push(own),
            own => {
                let _ = write!(out, "_x{:04X}_", u32::from(own));
            }
        }
    }
}

/// The character that a text begins with, where it is spelt out.
pub(in crate::bank) fn spelt(text: &str) -> Option<char> {
    let (digits, rest) = text.strip_prefix("_x")?.split_at_checked(4)?;
    let number = u32::from_str_radix(digits, 16).ok().filter(|_| rest.starts_with('_') && !digits.starts_with('+'))?;
    char::from_u32(number)
}

#[cfg(test)]
mod tests {
    use super::{content, spelt};

    #[test]
    fn characters_are_spelt_out_where_a_cell_cannot_hold_them() {
        let cases = [
            ("a<b>&c", "a&lt;b&gt;&amp;c"),
            ("two\r\nlines", "two_x000D_\nlines"),
            ("\u{1}", "_x0001_"),
            ("_x0041_", "_x005F_x0041_"),
            ("a_x00_", "a_x00_"),
            ("_x+041_", "_x+041_"),
        ];
        let written = |text: &str| {
            let mut out = String::new();
            content(&mut out, text);
            out
        };
        let wrong: Vec<_> = cases.iter().filter(|(text, expected)| written(text) != *expected).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
        assert_eq!([spelt("_x0041_b"), spelt("_x004"), spelt("_xD800_")], [Some('A'), None, None]);
    }
}
