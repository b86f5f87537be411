//! The cards of one page, their filter and their list.

use super::fault::gravest;
use super::other;
use super::store::{Store, Stretch};
use super::text::{FILE, ID, shown};
use crate::audit::Audited;
use crate::bank::place_name;
use crate::findings::slips::Slip;
use crate::findings::{Name, Severity};
use askama::Template;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io;
use std::sync::Arc;

/// A page that fills.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    cards: String,
    items: Vec<Item>,
    findings: BTreeMap<Name, u64>,
    severities: BTreeMap<Severity, u64>,
    slips: BTreeMap<&'static str, u64>,
    files: Vec<(Arc<str>, u64)>,
}

/// A full page on the disk.
#[derive(Debug, Clone, Copy)]
pub(super) struct FilledSheet {
    pub(super) body: Stretch,
    /// Files that its filter names.
    pub(super) files: usize,
    pub(super) cards: usize,
    /// Whether cards speak of other items.
    pub(super) has_marks: bool,
}

#[derive(Debug)]
struct Item {
    card: u64,
    id: String,
    classes: String,
    place: String,
    finding: &'static str,
    /// Names of all its findings.
    findings: String,
    words: String,
}

struct Choice {
    value: String,
    name: String,
    count: u64,
}

#[derive(Template)]
#[template(path = "article.html")]
struct Article<'a> {
    card: u64,
    classes: &'a str,
    body: &'a str,
}

#[derive(Template)]
#[template(path = "filter.html")]
struct Filter<'a> {
    severities: Vec<Choice>,
    findings: Vec<Choice>,
    slips: Vec<Choice>,
    files: Vec<Choice>,
    items: &'a [Item],
    ids_heading: String,
}

/// The class of cards with a slip.
fn slip_class(slip: &str) -> String {
    format!("slip-{slip}")
}

/// The class of cards with a finding.
fn finding_class(name: Name) -> String {
    format!("f{}", name as usize)
}

impl Sheet {
    pub(super) fn len(&self) -> u64 {
        self.items.len() as u64
    }

    pub(super) fn add(&mut self, item: &Audited, card: u64, words: String, body: &str) {
        if self.files.last().is_none_or(|(file, _)| *file != item.file) {
            self.files.push((Arc::clone(&item.file), 0));
        }
        let mut classes = format!("p{}", self.files.len() - 1);
        if let Some((_, count)) = self.files.last_mut() {
            *count += 1;
        }
        let mut names: Vec<Name> = item.findings.iter().map(|finding| finding.name).collect();
        names.sort_unstable();
        names.dedup();
        let findings: Vec<&str> = names.iter().map(|name| name.entry().name).collect();
        let findings = findings.join(" ");
        for name in names {
            let _ = write!(classes, " {}", finding_class(name));
            *self.findings.entry(name).or_default() += 1;
        }
        if let Some(worst) = item.findings.iter().map(|finding| finding.severity).max() {
            let _ = write!(classes, " s-{}", worst.name());
            *self.severities.entry(worst).or_default() += 1;
        }
        let mut slips: Vec<&'static str> =
            item.findings.iter().flat_map(|finding| finding.slips.iter()).map(Slip::name).collect();
        slips.sort_unstable();
        slips.dedup();
        for slip in slips {
            let _ = write!(classes, " {}", slip_class(slip));
            *self.slips.entry(slip).or_default() += 1;
        }
        let article = Article { card, classes: &classes, body };
        self.cards.push_str(&article.render().unwrap_or_default());
        let worst = gravest(item);
        self.items.push(Item {
            card,
            id: shown(&item.id, ID),
            classes,
            place: place_name(&shown(&item.file, FILE), item.line),
            finding: worst.map_or("", |finding| finding.name.entry().name),
            findings,
            words,
        });
    }

    /// Puts the page on the disk.
    pub(super) fn fill(self, store: &mut Store) -> io::Result<FilledSheet> {
        let mut body = String::new();
        if !self.items.is_empty() {
            body = self.filter().render().unwrap_or_default();
        }
        body.push_str(&self.cards);
        let has_marks = other::has_marks(&body);
        Ok(FilledSheet { body: store.append(&body)?, files: self.files.len(), cards: self.items.len(), has_marks })
    }

    fn filter(&self) -> Filter<'_> {
        let severity = |(severity, count): (&Severity, &u64)| Choice {
            value: format!("s-{}", severity.name()),
            name: format!("{} is the worst", severity.name()),
            count: *count,
        };
        let finding = |(name, count): (&Name, &u64)| Choice {
            value: finding_class(*name),
            name: name.entry().name.to_owned(),
            count: *count,
        };
        let file = |(at, (name, count)): (usize, &(Arc<str>, u64))| Choice {
            value: format!("p{at}"),
            name: shown(name, FILE),
            count: *count,
        };
        let slip = |(slip, count): (&&'static str, &u64)| Choice {
            value: slip_class(slip),
            name: (*slip).to_owned(),
            count: *count,
        };
        let mut slips: Vec<Choice> = self.slips.iter().map(slip).collect();
        slips.sort_by(|a, b| (b.count, &a.name).cmp(&(a.count, &b.name)));
        let mut findings: Vec<Choice> = self.findings.iter().map(finding).collect();
        findings.sort_by(|a, b| (b.count, &a.name).cmp(&(a.count, &b.name)));
        Filter {
            severities: self.severities.iter().rev().map(severity).collect(),
            findings,
            slips,
            files: self.files.iter().enumerate().map(file).collect(),
            items: &self.items,
            ids_heading: format!("Items on this page: {}", self.items.len()),
        }
    }
}

/// The rules that hide what the filter of a page leaves out, without scripts.
pub(super) fn rules(files: usize) -> String {
    let mut css = String::new();
    let findings = Name::ALL.iter().map(|name| finding_class(*name));
    let severities = ["error", "warning", "note"].map(|name| format!("s-{name}"));
    let slips = Slip::ALL.iter().map(|slip| slip_class(slip.name()));
    for class in findings.chain(severities).chain(slips).chain((0..files).map(|at| format!("p{at}"))) {
        let _ = write!(css, "body:has(option[value={class}]:checked) :is(.card,.ids li):not(.{class}){{display:none}}");
    }
    css
}
