//! The reports that an audit writes.

use super::clock;
use crate::audit::Reporter;
use crate::findings::Severity;
use crate::report::corrections::CorrectionsReport;
use crate::report::csv::CsvReport;
use crate::report::html::{About, CardRenderer, HtmlReport};
use crate::report::json::JsonReport;
use crate::report::junit::JunitReport;
use crate::report::sarif::SarifReport;
use crate::report::xlsx::XlsxReport;
use anyhow::Context as _;
use std::io;
use std::path::Path;

/// The kinds of reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum ReportName {
    Csv,
    Html,
    Json,
    Sarif,
    Junit,
    Xlsx,
}

/// What is written, and what the reports say beside what was found.
pub(crate) struct Reports<'a> {
    pub(crate) write: &'a [ReportName],
    pub(crate) about: About,
    pub(crate) renderer: CardRenderer,
    /// Cards of one page.
    pub(crate) cards: usize,
    /// The severity from which a test has failed.
    pub(crate) threshold: Option<Severity>,
    /// The folder in which people will find them.
    pub(crate) place: &'a Path,
}

impl Reports<'_> {
    /// Begins the reports in a folder.
    pub(crate) fn create(self, out: &Path) -> anyhow::Result<Vec<Box<dyn Reporter>>> {
        let mut reporters = Vec::new();
        let fault = || format!("cannot write into {}", self.place.display());
        for name in self.write {
            if *name == ReportName::Csv {
                let report = CorrectionsReport::create(out).with_context(fault)?;
                reporters.push(Box::new(report) as Box<dyn Reporter>);
            }
            reporters.push(self.one(*name, out).with_context(fault)?);
        }
        Ok(reporters)
    }

    fn one(&self, name: ReportName, out: &Path) -> io::Result<Box<dyn Reporter>> {
        Ok(match name {
            ReportName::Csv => Box::new(CsvReport::create(out)?),
            ReportName::Json => Box::new(JsonReport::create(out)?),
            ReportName::Html => Box::new(HtmlReport::create(out, self.about.clone(), self.renderer, self.cards)?),
            ReportName::Sarif => {
                let here = std::env::current_dir().unwrap_or_default();
                Box::new(SarifReport::create(out, &here)?)
            }
            ReportName::Junit => Box::new(JunitReport::create(out, self.threshold, clock::stamp())?),
            ReportName::Xlsx => {
                let has_page = self.write.contains(&ReportName::Html);
                Box::new(XlsxReport::create(out, has_page.then_some(self.cards))?)
            }
        })
    }
}
