//! How many corrections an audit leaves, and the command that applies them.

use crate::audit::{Audited, Reporter, Summary};
use crate::report::corrections::{ByGrade, NAME};
use crate::report::terminal::plain;
use crate::source::path::name_of;
use std::fmt::Write as _;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// Counts corrections by their grade.
#[derive(Debug, Default)]
pub(super) struct Waiting {
    corrections: ByGrade,
    /// The files that have some: the first, and whether there are others.
    file: Option<Arc<str>>,
    several: bool,
}

impl Waiting {
    /// The last lines of the summary: what waits, and how it is applied.
    pub(super) fn text(&self, folder: &Path, has_list: bool, has_book: bool) -> String {
        let ByGrade { certain, likely, ungraded } = self.corrections;
        let mut text = String::new();
        if self.corrections.all() == 0 {
            return text;
        }
        let _ =
            writeln!(text, "\nCorrections that wait: {certain} certain, {likely} likely, {ungraded} without a grade.");
        let bank = match &self.file {
            Some(file) if !self.several => plain(bank_of(file)),
            _ => "BANK".to_owned(),
        };
        let command = |list: &str, more: &str| {
            format!("keyassay amend {} --with {}{more} --out FILE", quoted(&bank), quoted(&name_of(&folder.join(list))))
        };
        if has_list {
            let least = if certain > 0 { "" } else { " --grade likely" };
            if certain + likely > 0 {
                let _ = writeln!(text, "  {}", command(NAME, least));
            }
            if certain > 0 && likely > 0 {
                text.push_str("applies the certain ones; with --grade likely, the likely ones too.\n");
            }
        }
        if has_book {
            let _ =
                writeln!(text, "  {}\napplies what an editor has accepted in the workbook.", command("audit.xlsx", ""));
        }
        text
    }
}

/// The file of a bank, without the sheet.
fn bank_of(file: &str) -> &str {
    let endings = [".xlsx", ".xlsm", ".xlsb", ".xls", ".ods"];
    let is_book = |at: &usize| {
        let name = file.get(..*at).unwrap_or_default().to_ascii_lowercase();
        endings.iter().any(|ending| name.ends_with(ending))
    };
    let sheet = file.match_indices('#').map(|(at, _)| at).find(is_book);
    sheet.and_then(|at| file.get(..at)).unwrap_or(file)
}

/// A word as a shell takes it for one; that of Windows knows double quotes alone, which no name of a file holds there.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+,:@%".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        return word.to_owned();
    }
    if cfg!(windows) {
        return format!("\"{word}\"");
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

impl Reporter for Waiting {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        let before = self.corrections;
        self.corrections.add(item);
        if self.corrections != before {
            match &self.file {
                None => self.file = Some(Arc::clone(&item.file)),
                Some(own) => self.several |= bank_of(own) != bank_of(&item.file),
            }
        }
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::bank_of;

    #[test]
    fn sheets_are_told_from_files_with_such_names() {
        let cases = [
            ("bank.xlsx#Week 1", "bank.xlsx"),
            ("a#b.csv", "a#b.csv"),
            ("a#b.ods#c#d", "a#b.ods"),
            ("bank.csv", "bank.csv"),
        ];
        let wrong: Vec<_> = cases.iter().filter(|(file, bank)| bank_of(file) != *bank).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
