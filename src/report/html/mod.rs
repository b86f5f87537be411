//! `audit.html`: the report that a person reads. One page, or where there are many cards, pages of cards and lists.
//!
//! Cards are drawn where items are judged ([`CardRenderer`]) and wait on the disk until the totals are known, so that an
//! audit of a million items needs no more memory than one of a thousand. A page stands alone: no network, no other file,
//! complete without scripts. Everything that comes from a bank is escaped by the templates, nothing of it becomes a link.

mod book;
mod card;
mod chain;
mod fault;
mod fix;
mod joint;
mod ledger;
mod lists;
mod migrated;
mod options;
mod other;
mod overview;
mod panels;
mod proposed;
mod set;
mod sheet;
mod store;
mod text;
mod working;
mod write;

pub use book::{AnswerBook, BookRenderer, Shape};
pub use card::CardRenderer;
pub use ledger::marked_rows;
pub use migrated::MigratedPage;
pub use panels::scenes_of;
pub(crate) use text::{FILE, ID, number, shown};
pub use write::STYLE;
pub(super) use write::remove_older;

use super::corrections::ByGrade;
use crate::audit::{Audited, Renderer, Reporter, Summary};
use fault::{brief, gravest};
use lists::{Entry, Lists};
use sheet::{FilledSheet, Sheet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use store::Store;
use write::Writer;

/// What a page says about its audit, other than the results.
#[derive(Debug, Clone, Default)]
pub struct About {
    /// What was audited, in a few words.
    pub what: String,
    /// When, as text; empty where the page is to be the same on every day.
    pub when: String,
    /// Files that were passed over because they are no bank.
    pub skipped: u64,
}

/// Writes `audit.html` and the pages that follow it.
#[derive(Debug)]
pub struct HtmlReport {
    folder: PathBuf,
    about: About,
    renderer: CardRenderer,
    page_cards: u64,
    store: Store,
    sheet: Sheet,
    filled: Vec<FilledSheet>,
    lists: Lists,
    /// Items of the first page, which are listed when it is known whether there is a second one.
    first: Vec<Entry>,
    cards: u64,
    /// The lines of the items that have cards, in order.
    lines: Vec<u32>,
    /// The first card of each file that has one.
    files: Vec<(Arc<str>, u64)>,
    /// Which cards speak of other items.
    speaking: other::Speaking,
    unjudged: u64,
    corrections: ByGrade,
}

impl HtmlReport {
    /// Begins the report in a folder; `page_cards` cards go on one page.
    ///
    /// # Errors
    /// The folder cannot be written.
    pub fn create(folder: &Path, about: About, renderer: CardRenderer, page_cards: usize) -> io::Result<Self> {
        Ok(Self {
            folder: folder.to_owned(),
            about,
            renderer,
            page_cards: page_cards.max(1) as u64,
            store: Store::create(folder)?,
            sheet: Sheet::default(),
            filled: Vec::new(),
            lists: Lists::default(),
            first: Vec::new(),
            cards: 0,
            lines: Vec::new(),
            files: Vec::new(),
            speaking: other::Speaking::default(),
            unjudged: 0,
            corrections: ByGrade::default(),
        })
    }

    fn turn_page(&mut self) -> io::Result<()> {
        let filled = std::mem::take(&mut self.sheet).fill(&mut self.store)?;
        self.filled.push(filled);
        Ok(())
    }

    /// Lists the items of the first page: in the page itself if it is `alone`, else in files of their own.
    fn list_first_page(&mut self, alone: bool) -> io::Result<()> {
        let page = if alone { "" } else { "audit.html" };
        for entry in std::mem::take(&mut self.first) {
            self.lists.add(entry, page, &mut self.store)?;
        }
        Ok(())
    }

    fn list(&mut self, item: &Audited, words: &str) -> io::Result<()> {
        if item.findings.is_empty() {
            return Ok(());
        }
        let entry = Entry::new(item, self.cards, words);
        if self.cards <= self.page_cards {
            self.first.push(entry);
            return Ok(());
        }
        if !self.first.is_empty() {
            self.list_first_page(false)?;
        }
        let page = page_name(self.page_of(self.cards));
        self.lists.add(entry, &page, &mut self.store)
    }

    /// The page of a card, both counted from 1.
    fn page_of(&self, card: u64) -> u64 {
        page_of(card, self.page_cards)
    }
}

/// The page of a card, both counted from 1, where `page_cards` go on one page.
fn page_of(card: u64, page_cards: u64) -> u64 {
    (card.max(1) - 1) / page_cards.max(1) + 1
}

/// Where a card stands, from the folder of the reports. Cards are counted from 1, `page_cards` go on one page.
#[must_use]
pub fn card_href(card: u64, page_cards: u64) -> String {
    format!("{}#c{card}", page_name(page_of(card, page_cards)))
}

/// The file of a page, counted from 1.
fn page_name(page: u64) -> String {
    if page <= 1 { "audit.html".to_owned() } else { format!("audit-{page}.html") }
}

impl Reporter for HtmlReport {
    fn wants_steps(&self) -> bool {
        true
    }

    fn item(&mut self, item: &Audited) -> io::Result<()> {
        if self.sheet.len() >= self.page_cards {
            self.turn_page()?;
        }
        self.cards += 1;
        self.lines.push(item.line);
        self.speaking.note(&item.findings, self.cards);
        if self.files.last().is_none_or(|(file, _)| *file != item.file) {
            self.files.push((Arc::clone(&item.file), self.cards));
        }
        let unjudged = |atom: &crate::structure::Atom| !atom.element.is_judged();
        let starts = item.steps.iter().filter_map(|step| step.start.as_ref());
        self.unjudged += u64::from(starts.flat_map(crate::structure::Structure::atoms).any(|(_, atom)| unjudged(atom)));
        self.corrections.add(item);
        // Drawings are paired for these words: once an item.
        let words = gravest(item).map(|finding| brief(finding, item)).unwrap_or_default();
        self.list(item, &words)?;
        if item.card.is_empty() {
            let card = self.renderer.card(item);
            self.sheet.add(item, self.cards, words, &card);
        } else {
            self.sheet.add(item, self.cards, words, &item.card);
        }
        Ok(())
    }

    fn finish(&mut self, summary: &Summary) -> io::Result<()> {
        let alone = self.filled.is_empty();
        self.list_first_page(alone)?;
        let last = std::mem::take(&mut self.sheet).fill(&mut self.store)?;
        self.filled.push(last);
        self.lists.close(&mut self.store)?;
        Writer { report: self, summary, cards: None }.write()
    }
}
