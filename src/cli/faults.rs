//! The first faults of an audit on the terminal, each with its line of the bank; all of them are in the reports.

use super::complain::of_finding;
use crate::audit::{Audited, Reporter, Summary};
use crate::findings::{Finding, Severity};
use crate::source::counted;
use std::fmt::Write as _;
use std::io;

/// Faults that are shown. Whoever sees five opens the page.
const SHOWN: usize = 5;

/// Keeps what is to be shown.
#[derive(Default)]
pub(super) struct FirstFaults {
    shown: Vec<String>,
    left: u64,
}

impl FirstFaults {
    /// For standard error, after the audit.
    pub(super) fn text(&self) -> String {
        let mut text = self.shown.join("\n");
        if self.left > 0 {
            let _ = writeln!(
                text,
                "\nand {} with a place in the bank: see the reports",
                counted(self.left as i64, "more error")
            );
        }
        if !text.is_empty() {
            text.push('\n');
        }
        text
    }
}

impl Reporter for FirstFaults {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        let is_shown = |finding: &&Finding| {
            finding.severity == Severity::Error && finding.known.is_none() && finding.spot.is_some()
        };
        for finding in item.findings.iter().filter(is_shown) {
            if self.shown.len() < SHOWN {
                self.shown.push(of_finding(finding, Some((&item.file, &item.id))));
            } else {
                self.left += 1;
            }
        }
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> io::Result<()> {
        Ok(())
    }
}
