//! How many corrections an audit leaves, and the command that applies them.

use crate::audit::{Audited, Reporter, Summary};
use crate::findings::Grade;
use crate::report::corrections::{self, NAME};
use crate::report::terminal::plain;
use std::fmt::Write as _;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// Counts corrections by their grade.
#[derive(Debug, Default)]
pub(super) struct Waiting {
    certain: u64,
    likely: u64,
    ungraded: u64,
    /// The files that have some: the first, and whether there are others.
    file: Option<Arc<str>>,
    several: bool,
}

impl Waiting {
    /// The last lines of the summary: what waits, and how it is applied.
    pub(super) fn text(&self, folder: &Path, has_list: bool, has_book: bool) -> String {
        let Self { certain, likely, ungraded, .. } = self;
        let mut text = String::new();
        if certain + likely + ungraded == 0 {
            return text;
        }
        let _ =
            writeln!(text, "\nCorrections that wait: {certain} certain, {likely} likely, {ungraded} without a grade.");
        let bank = match &self.file {
            Some(file) if !self.several => plain(file.split('#').next().unwrap_or(file)),
            _ => "BANK".to_owned(),
        };
        let command = |list: &str, more: &str| {
            format!(
                "keyassay amend {} --with {}{more} --out FILE",
                quoted(&bank),
                quoted(&folder.join(list).display().to_string())
            )
        };
        if has_list {
            let least = if *certain > 0 { "" } else { " --grade likely" };
            if certain + likely > 0 {
                let _ = writeln!(text, "  {}", command(NAME, least));
            }
            if *certain > 0 && *likely > 0 {
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

/// A word as a shell takes it for one.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+,:@%".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

impl Reporter for Waiting {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        for (_, fix) in corrections::of_item(item) {
            match fix.grade {
                Grade::Certain => self.certain += 1,
                Grade::Likely => self.likely += 1,
                Grade::None => self.ungraded += 1,
            }
            match &self.file {
                None => self.file = Some(Arc::clone(&item.file)),
                Some(own) => self.several |= **own != *item.file,
            }
        }
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> io::Result<()> {
        Ok(())
    }
}
