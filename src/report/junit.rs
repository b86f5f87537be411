//! `junit.xml`: every item a test case, every file a suite, as both schemas of that format allow it.
//!
//! The Ant schema (Windy Road) wants properties, a time, a host and both outputs in every suite and one result at most in a case;
//! the other one (Jenkins, junit-10) is content with that.

use super::file::WholeFile;
use crate::audit::{Audited, Reporter, Summary};
use crate::findings::{Class, Finding, Severity};
use std::fs::File;
use std::io::{self, BufWriter, Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Writes `junit.xml`. The cases of a file wait in a temporary one, because their number comes before them.
pub struct JunitReport {
    file: WholeFile,
    cases: BufWriter<File>,
    waiting: PathBuf,
    /// The severity from which a finding fails its item; none does where there is none.
    threshold: Option<Severity>,
    /// When the audit was made: `2024-03-01T14:05:00`.
    when: String,
    suite: Suite,
    suites: u64,
}

/// The suite that is being gathered.
#[derive(Default)]
struct Suite {
    name: Option<Arc<str>>,
    tests: u64,
    failures: u64,
    errors: u64,
    skipped: u64,
}

/// How an item comes out as a test.
enum Outcome<'a> {
    Passed,
    Skipped(String),
    Failed(&'static str, &'a Finding),
}

impl JunitReport {
    /// Begins the report in a folder.
    ///
    /// # Errors
    /// The files cannot be created.
    pub fn create(folder: &Path, threshold: Option<Severity>, when: String) -> io::Result<Self> {
        let waiting = folder.join(format!("junit.xml.cases.{}.tmp", std::process::id()));
        let mut file = WholeFile::create(&folder.join("junit.xml"))?;
        let cases = File::options().read(true).write(true).create(true).truncate(true).open(&waiting)?;
        file.write_all(b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n")?;
        let (cases, suite) = (BufWriter::new(cases), Suite::default());
        Ok(Self { file, cases, waiting, threshold, when, suite, suites: 0 })
    }

    /// Whether a finding fails its item.
    fn fails(&self, finding: &Finding) -> bool {
        finding.known.is_none() && self.threshold.is_some_and(|threshold| finding.severity >= threshold)
    }

    fn outcome<'a>(&self, item: &'a Audited) -> Outcome<'a> {
        let kind = if item.class == Class::Unreadable { "error" } else { "failure" };
        if let Some(finding) = item.findings.iter().find(|finding| self.fails(finding)) {
            return Outcome::Failed(kind, finding);
        }
        if let Some((finding, reason)) =
            item.findings.iter().find_map(|own| own.known.as_ref().map(|known| (own, &known.reason)))
        {
            return Outcome::Skipped(format!("known: {}: {reason}", finding.name));
        }
        match item.class {
            Class::Undecided => Outcome::Skipped("the comparison could not be decided".to_owned()),
            _ => Outcome::Passed,
        }
    }

    fn case(&mut self, name: &str, class: &str, result: &str) -> io::Result<()> {
        self.suite.tests += 1;
        let (name, class) = (attribute(name), attribute(class));
        write!(self.cases, "  <testcase name=\"{name}\" classname=\"{class}\" time=\"0.000\"")?;
        if result.is_empty() { self.cases.write_all(b"/>\n") } else { writeln!(self.cases, ">{result}</testcase>") }
    }

    fn end_suite(&mut self) -> io::Result<()> {
        let Suite { name, tests, failures, errors, skipped } = std::mem::take(&mut self.suite);
        let Some(name) = name else { return Ok(()) };
        let (name, id, when) = (attribute(&name), self.suites, attribute(&self.when));
        self.suites += 1;
        write!(
            self.file,
            "<testsuite name=\"{name}\" package=\"keyassay\" id=\"{id}\" timestamp=\"{when}\" hostname=\"localhost\" \
             tests=\"{tests}\" failures=\"{failures}\" errors=\"{errors}\" skipped=\"{skipped}\" time=\"0.000\">\n  \
             <properties><property name=\"keyassay\" value=\"{}\"/></properties>\n",
            env!("CARGO_PKG_VERSION")
        )?;
        self.cases.flush()?;
        let cases = self.cases.get_mut();
        cases.rewind()?;
        io::copy(cases, &mut self.file)?;
        cases.rewind()?;
        cases.set_len(0)?;
        self.file.write_all(b"  <system-out/>\n  <system-err/>\n</testsuite>\n")
    }

    fn begin_suite(&mut self, name: &Arc<str>) -> io::Result<()> {
        if self.suite.name.as_ref() != Some(name) {
            self.end_suite()?;
            self.suite.name = Some(Arc::clone(name));
        }
        Ok(())
    }
}

impl Reporter for JunitReport {
    fn item(&mut self, item: &Audited) -> io::Result<()> {
        self.begin_suite(&item.file)?;
        let result = match self.outcome(item) {
            Outcome::Passed => String::new(),
            Outcome::Skipped(why) => {
                self.suite.skipped += 1;
                format!("<skipped message=\"{}\"/>", attribute(&why))
            }
            Outcome::Failed(kind, finding) => {
                let count = if kind == "error" { &mut self.suite.errors } else { &mut self.suite.failures };
                *count += 1;
                let (kind_of, message) = (finding.name.entry().name, attribute(&finding.message()));
                let told = text(&told(item));
                format!("<{kind} type=\"{kind_of}\" message=\"{message}\">{told}</{kind}>")
            }
        };
        self.case(&item.id, &item.file, &result)
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        for (name, why) in &summary.unread {
            self.begin_suite(&Arc::from(format!("{name} (the file)")))?;
            self.suite.errors += 1;
            let result = format!("<error type=\"not-read\" message=\"{}\"/>", attribute(why));
            self.case("can be read", name, &result)?;
        }
        self.end_suite()?;
        self.file.write_all(b"</testsuites>\n")?;
        self.file.finish()
    }

    fn wants_sound(&self) -> bool {
        true
    }
}

impl Drop for JunitReport {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.waiting);
    }
}

/// All findings of an item, one a line.
fn told(item: &Audited) -> String {
    let mut all = format!("{}:{}\n", item.file, item.line);
    for finding in &item.findings {
        let step = if finding.step > 0 { format!("step {}: ", finding.step) } else { String::new() };
        let line = [finding.severity.name(), ": ", finding.name.entry().name, ": ", &step, &finding.told()];
        all.extend(line);
        if !finding.correction.is_empty() {
            all.extend(["\n  it should say: ", &finding.correction]);
        }
        all.push('\n');
    }
    all
}

/// Text of a bank as text of XML: markup escaped, characters that XML 1.0 does not have replaced.
fn text(own: &str) -> String {
    let has = |c: char| matches!(c, '\t' | '\n' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    let clean: String = own.chars().map(|c| if has(c) { c } else { '\u{fffd}' }).collect();
    quick_xml::escape::escape(clean).into_owned()
}

/// The same for the value of an attribute, which is never empty.
fn attribute(own: &str) -> String {
    let own = text(own).replace(['\n', '\t'], " ");
    if own.trim().is_empty() { "(none)".to_owned() } else { own }
}
