//! Lists of items across all pages of cards: of all items with findings, of one finding, of one slip.

use super::fault::{brief, gravest};
use super::store::{Store, Stretch};
use super::text::{FILE, ID, shown};
use crate::audit::Audited;
use crate::bank::place_name;
use crate::findings::Name;
use crate::findings::slips::{Slip, Slips};
use askama::Template;
use std::collections::BTreeMap;
use std::io;

/// Items on one page of a list.
const ROWS: u64 = 1_000;
/// Items on one page of the list of all: a browser filters them while one types.
const ALL_ROWS: u64 = 20_000;
/// Items of that list that stand together: a browser lays out only those groups that are in view. A page has whole ones.
const GROUP: u64 = 200;
/// Characters of prompt and structures by which an item is found in the list of all.
const FOUND_BY: usize = 300;
/// Bytes of a list that wait in memory; there may be some hundred lists.
const WAITING: usize = 1 << 16;

/// What a list is about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    /// Every item with a card.
    Items,
    /// Items with a finding.
    Finding(Name),
    /// Items with a finding that these slips explain, as the finding names them.
    Slip(Name, Slips),
}

impl Key {
    /// The part of a file's name or an anchor that stands for the list.
    pub(super) fn slug(&self) -> String {
        match self {
            Self::Items => "items".to_owned(),
            Self::Finding(name) => name.entry().name.to_owned(),
            Self::Slip(name, slips) => format!("{}-{}", name.entry().name, slips.names_with("-")),
        }
    }

    /// The heading of the list.
    pub(super) fn title(&self) -> String {
        match self {
            Self::Items => "All items with findings".to_owned(),
            Self::Finding(name) => name.entry().name.to_owned(),
            Self::Slip(name, slips) => {
                format!("{}, {}: {}", name.entry().name, slips.names(), slips.meanings())
            }
        }
    }
}

#[derive(Template)]
#[template(path = "row.html")]
struct Row<'a> {
    href: &'a str,
    id: &'a str,
    place: &'a str,
    message: String,
}

/// A row of the list of all items, with what it can be filtered by.
#[derive(Debug, Template)]
#[template(path = "row_item.html")]
struct ItemRow {
    href: String,
    id: String,
    place: String,
    severity: &'static str,
    findings: String,
    slips: String,
    file: String,
    /// Prompt and structures.
    text: String,
    finding: &'static str,
    words: String,
}

/// Rows of the list of all items that stand together, and behind them for the filter what they do not show, as JSON: text that is
/// no part of the document, so that a browser has a third less to build.
#[derive(Debug, Default)]
struct Group {
    rows: String,
    data: String,
    count: u64,
}

impl Group {
    fn add(&mut self, row: &ItemRow) {
        self.rows.push_str(&row.render().unwrap_or_default());
        let own = [row.severity, &row.findings, &row.slips, &row.file, &row.place, &row.id, &row.words, &row.text];
        let json = serde_json::to_string(&own).unwrap_or_else(|_| "[]".to_owned());
        self.data.push_str(if self.count == 0 { "" } else { ",\n" });
        // Nothing in it may end the element.
        self.data.push_str(&json.replace('<', "\\u003c"));
        self.count += 1;
    }

    /// The group as HTML.
    fn take(&mut self) -> String {
        let Self { rows, data, .. } = std::mem::take(self);
        format!("<ol class=\"rows\">{rows}</ol>\n<script type=\"application/json\">[{data}]</script>\n")
    }
}

impl ItemRow {
    fn new(item: &Audited, words: &str) -> Self {
        let worst = gravest(item);
        let mut findings: Vec<&str> = item.findings.iter().map(|own| own.name.entry().name).collect();
        let mut slips: Vec<&str> = item.findings.iter().flat_map(|own| own.slips.iter()).map(Slip::name).collect();
        for names in [&mut findings, &mut slips] {
            names.sort_unstable();
            names.dedup();
        }
        let structures = worst.map(|own| format!("{} {}", own.stated, own.computed)).unwrap_or_default();
        Self {
            href: String::new(),
            id: shown(&item.id, ID),
            place: place_name(&shown(&item.file, FILE), item.line),
            severity: worst.map_or("", |own| own.severity.name()),
            findings: findings.join(" "),
            slips: slips.join(" "),
            file: shown(&item.file, FILE),
            text: format!("{} {}", shown(&item.prompt, FOUND_BY), shown(structures.trim(), FOUND_BY)),
            finding: worst.map_or("", |own| own.name.entry().name),
            words: words.to_owned(),
        }
    }
}

/// An item on its way into the lists.
#[derive(Debug)]
pub(super) struct Entry {
    /// Number of its card in the whole report.
    pub(super) card: u64,
    item: ItemRow,
    /// The lists it belongs to but that of all, with what each says.
    keys: Vec<(Key, String)>,
}

impl Entry {
    /// `words` says what its gravest finding is about.
    pub(super) fn new(item: &Audited, card: u64, words: &str) -> Self {
        let mut keys: Vec<(Key, String)> = Vec::new();
        let mut add = |key: Key, message: &str| {
            if keys.iter().all(|(own, _)| *own != key) {
                keys.push((key, message.to_owned()));
            }
        };
        for finding in &item.findings {
            let is_gravest = gravest(item).is_some_and(|own| std::ptr::eq(own, finding));
            let words = if is_gravest { words.to_owned() } else { brief(finding, item) };
            add(Key::Finding(finding.name), &words);
            if !finding.slips.is_empty() {
                add(Key::Slip(finding.name, finding.slips.clone()), &words);
            }
        }
        Self { card, item: ItemRow::new(item, words), keys }
    }
}

/// One list: rows that wait in memory and pages that wait on the disk.
#[derive(Debug, Default)]
pub(super) struct List {
    pub(super) count: u64,
    rows: String,
    pages: Vec<Vec<Stretch>>,
}

impl List {
    /// Adds rows, `count` of them; `most` go on one page.
    fn add(&mut self, rows: &str, count: u64, most: u64, store: &mut Store) -> io::Result<()> {
        if self.count.is_multiple_of(most) {
            self.put(store)?;
            self.pages.push(Vec::new());
        }
        self.count += count;
        self.rows.push_str(rows);
        if self.rows.len() > WAITING { self.put(store) } else { Ok(()) }
    }

    /// Puts the rows on the disk, as a part of the last page.
    fn put(&mut self, store: &mut Store) -> io::Result<()> {
        if !self.rows.is_empty() {
            let part = store.append(&self.rows)?;
            self.rows.clear();
            if let Some(page) = self.pages.last_mut() {
                page.push(part);
            }
        }
        Ok(())
    }
}

/// All lists.
#[derive(Debug, Default)]
pub(super) struct Lists {
    lists: BTreeMap<Key, List>,
    /// The last rows of the list of all.
    group: Group,
}

impl Lists {
    /// Adds an item whose card stands on `page`.
    pub(super) fn add(&mut self, mut entry: Entry, page: &str, store: &mut Store) -> io::Result<()> {
        let href = format!("{page}#c{}", entry.card);
        for (key, message) in entry.keys {
            let row = Row { href: &href, id: &entry.item.id, place: &entry.item.place, message };
            self.lists.entry(key).or_default().add(&row.render().unwrap_or_default(), 1, ROWS, store)?;
        }
        entry.item.href = href;
        self.group.add(&entry.item);
        if self.group.count < GROUP { Ok(()) } else { self.put_group(store) }
    }

    fn put_group(&mut self, store: &mut Store) -> io::Result<()> {
        let count = self.group.count;
        self.lists.entry(Key::Items).or_default().add(&self.group.take(), count, ALL_ROWS, store)
    }

    /// Puts the last rows of each list on the disk too.
    pub(super) fn close(&mut self, store: &mut Store) -> io::Result<()> {
        if self.group.count > 0 {
            self.put_group(store)?;
        }
        self.lists.values_mut().try_for_each(|list| list.put(store))
    }

    /// The lists with their pages.
    pub(super) fn iter(&self) -> impl Iterator<Item = (&Key, u64, &[Vec<Stretch>])> {
        self.lists.iter().map(|(key, list)| (key, list.count, list.pages.as_slice()))
    }

    /// Items in one list.
    pub(super) fn count(&self, key: &Key) -> u64 {
        self.lists.get(key).map_or(0, |list| list.count)
    }
}
