//! `compare.html`: what became of the items of a bank that was moved.

use super::other::STATED;
use super::panels::{Drawings, Panel};
use super::text::{FILE, ID, MESSAGE, number, shown};
use super::write::STYLE;
use crate::findings::Judgement;
use crate::migration::detail::{Change, Detail};
use crate::migration::pair::Verdict;
use crate::structure::OctetRule;
use askama::Template;

/// Rows that are drawn; the rest is in the table.
const CARDS: usize = 300;
/// Rows of one list.
const LISTED: usize = 5_000;
/// Steps of one item that are drawn.
const STEPS: usize = 12;

/// The page as it grows.
#[derive(Debug, Default)]
pub struct MigratedPage {
    cards: String,
    drawn: usize,
    more: usize,
    lists: [(String, usize); 3],
}

#[derive(Template)]
#[template(path = "migrated.html")]
struct Page<'a> {
    version: &'static str,
    title: &'static str,
    style: &'static str,
    old: String,
    new: String,
    totals: &'a [(&'static str, String)],
    unread: &'a [(String, String)],
    cards: &'a str,
    more_cards: usize,
    lost: String,
    added: String,
    renamed: String,
}

#[derive(Template)]
#[template(path = "migrated_card.html")]
struct Card {
    class: &'static str,
    tag: &'static str,
    id: String,
    verdict: &'static str,
    old_place: String,
    new_place: String,
    message: String,
    rows: Vec<Row>,
}

struct Row {
    name: String,
    panels: Vec<Panel>,
}

#[derive(Template)]
#[template(path = "migrated_line.html")]
struct Line {
    id: String,
    place: String,
}

impl MigratedPage {
    /// Adds a row; `places` say where its items stand.
    pub fn add(
        &mut self,
        verdict: Verdict,
        [old, new]: [Option<&Detail>; 2],
        places: &[String; 2],
        change: &Change,
        octet: OctetRule,
    ) {
        let list = match verdict {
            Verdict::Lost => 0,
            Verdict::Added => 1,
            Verdict::Renamed => 2,
            Verdict::Changed | Verdict::Doubtful => return self.draw(verdict, [old, new], places, change, octet),
            Verdict::Same | Verdict::Rewritten => return,
        };
        let (text, count) = &mut self.lists[list];
        *count += 1;
        if *count > LISTED {
            return;
        }
        let names: Vec<String> = [old, new].into_iter().flatten().map(|own| shown(&own.id, ID)).collect();
        let places: Vec<String> = places.iter().filter(|own| !own.is_empty()).map(|own| shown(own, FILE)).collect();
        let line = Line { id: names.join(" \u{2192} "), place: places.join(" \u{2192} ") };
        text.push_str(&line.render().unwrap_or_default());
    }

    fn draw(
        &mut self,
        verdict: Verdict,
        items: [Option<&Detail>; 2],
        places: &[String; 2],
        change: &Change,
        octet: OctetRule,
    ) {
        if self.drawn >= CARDS {
            self.more += 1;
            return;
        }
        self.drawn += 1;
        let mut rows = Vec::new();
        for (name, item) in [("Old", items[0]), ("New", items[1])] {
            if let Some(judged) = item.and_then(|own| own.judged.as_deref()).filter(|_| verdict == Verdict::Changed) {
                rows.extend(drawn(name, &judged.1, octet));
            }
        }
        let mut names: Vec<String> = items.into_iter().flatten().map(|own| shown(&own.id, ID)).collect();
        names.dedup();
        let is_changed = verdict == Verdict::Changed;
        let card = Card {
            class: if is_changed { "s-error" } else { "s-warning" },
            tag: if is_changed { "error" } else { "warning" },
            id: names.join(" \u{2192} "),
            verdict: verdict.name(),
            old_place: shown(&places[0], FILE),
            new_place: shown(&places[1], FILE),
            message: shown(&change.message, MESSAGE),
            rows,
        };
        self.cards.push_str(&card.render().unwrap_or_default());
    }

    /// The page, with its `totals`.
    #[must_use]
    pub fn page(&self, [old, new]: [&str; 2], totals: &[(&'static str, u64)], unread: &[(String, String)]) -> String {
        let totals: Vec<(&'static str, String)> = totals.iter().map(|(name, count)| (*name, number(*count))).collect();
        let [lost, added, renamed] = [0, 1, 2].map(|at| {
            let (text, count) = &self.lists[at];
            match count {
                0 => "<p>None.</p>".to_owned(),
                _ if *count > LISTED => {
                    format!("<ul>{text}</ul><p>And {} more, all in compare.csv.</p>", count - LISTED)
                }
                _ => format!("<ul>{text}</ul>"),
            }
        });
        let page = Page {
            version: env!("CARGO_PKG_VERSION"),
            title: "Two banks compared",
            style: STYLE,
            old: shown(old, FILE),
            new: shown(new, FILE),
            totals: &totals,
            unread,
            cards: if self.drawn == 0 { "<p>None.</p>" } else { &self.cards },
            more_cards: self.more,
            lost,
            added,
            renamed,
        };
        page.render().unwrap_or_default()
    }
}

/// The drawings of one side, step by step.
fn drawn(name: &str, judgement: &Judgement, octet: OctetRule) -> Vec<Row> {
    let several = judgement.steps.len() > 1;
    let steps = judgement.steps.iter().take(STEPS).enumerate();
    let rows = steps.map(|(at, step)| Row {
        name: if several { format!("{name}, step {}", at + 1) } else { name.to_owned() },
        panels: if step.contributors.is_empty() {
            named(Drawings::new(step, false).panels(&[], octet), name)
        } else {
            super::set::panels(step, &[], octet)
        },
    });
    rows.collect()
}

/// Which of the two banks states an answer, where both have drawings.
fn named(mut panels: Vec<Panel>, name: &str) -> Vec<Panel> {
    for panel in panels.iter_mut().filter(|panel| panel.caption == STATED) {
        panel.caption = format!("Stated in the {} bank", name.to_lowercase());
    }
    panels
}
