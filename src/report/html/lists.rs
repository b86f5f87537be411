//! Lists of items across all pages of cards: of all items with findings, of one finding, of one slip.

use super::store::{Store, Stretch};
use super::text::{BRIEF, FILE, ID, shown, slip_words};
use crate::audit::Audited;
use crate::findings::Name;
use askama::Template;
use std::collections::BTreeMap;
use std::io;

/// Items on one page of a list.
const ROWS: u64 = 1_000;
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
    Slip(Name, String),
}

impl Key {
    /// The part of a file's name or an anchor that stands for the list.
    pub(super) fn slug(&self) -> String {
        match self {
            Self::Items => "items".to_owned(),
            Self::Finding(name) => name.entry().name.to_owned(),
            Self::Slip(name, slip) => format!("{}-{}", name.entry().name, slip.replace(' ', "-")),
        }
    }

    /// The heading of the list.
    pub(super) fn title(&self) -> String {
        match self {
            Self::Items => "All items with findings".to_owned(),
            Self::Finding(name) => name.entry().name.to_owned(),
            Self::Slip(name, slip) => format!("{}, {slip}: {}", name.entry().name, slip_words(slip)),
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

/// An item on its way into the lists.
#[derive(Debug)]
pub(super) struct Entry {
    /// Number of its card in the whole report.
    pub(super) card: u64,
    id: String,
    place: String,
    /// The lists it belongs to, with what each says.
    keys: Vec<(Key, String)>,
}

impl Entry {
    pub(super) fn new(item: &Audited, card: u64) -> Self {
        let mut keys: Vec<(Key, String)> = Vec::new();
        let mut add = |key: Key, message: &str| {
            if keys.iter().all(|(own, _)| *own != key) {
                keys.push((key, shown(message, BRIEF)));
            }
        };
        let worst = item.findings.iter().rev().max_by_key(|finding| finding.severity);
        add(Key::Items, worst.map_or("", |finding| finding.message.as_str()));
        for finding in &item.findings {
            add(Key::Finding(finding.name), &finding.message);
            if !finding.slip.is_empty() {
                add(Key::Slip(finding.name, finding.slip.clone()), &finding.message);
            }
        }
        Self { card, id: shown(&item.id, ID), place: format!("{}:{}", shown(&item.file, FILE), item.line), keys }
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
}

impl Lists {
    /// Adds an item whose card stands on `page`.
    pub(super) fn add(&mut self, entry: &Entry, page: &str, store: &mut Store) -> io::Result<()> {
        let href = format!("{page}#c{}", entry.card);
        for (key, message) in &entry.keys {
            let list = self.lists.entry(key.clone()).or_default();
            if list.count.is_multiple_of(ROWS) {
                list.put(store)?;
                list.pages.push(Vec::new());
            }
            list.count += 1;
            let row = Row { href: &href, id: &entry.id, place: &entry.place, message: message.clone() };
            list.rows.push_str(&row.render().unwrap_or_default());
            if list.rows.len() > WAITING {
                list.put(store)?;
            }
        }
        Ok(())
    }

    /// Puts the last rows of each list on the disk too.
    pub(super) fn close(&mut self, store: &mut Store) -> io::Result<()> {
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
