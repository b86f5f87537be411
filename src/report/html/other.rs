//! Cards that speak of another item: linked to its card, with its answer beside their own.
//!
//! A card is drawn before it is known whether the other item gets one, and where. So it holds a mark, and the marks are resolved
//! when its page is written.

use super::HtmlReport;
use super::store::Stretch;
use super::text::{FILE, count, shown};
use crate::bank::place_name;
use crate::findings::{Finding, Other};
use askama::Template;
use rustc_hash::{FxHashMap, FxHasher};
use std::collections::BTreeMap;
use std::hash::Hasher;
use std::io;

/// How marks begin. Nothing from a bank looks so, as it is escaped.
const LINK: &str = "<!--card of ";
const ANSWER: &str = "<!--answer of ";
const END: &str = "-->";
const ARTICLE_END: &str = "</article>";
/// Links back on one card.
const LINKS_BACK: usize = 8;
/// The caption of the panel that shows what an item states.
pub(super) const STATED: &str = "Stated in the bank";

/// Another item, as a card names it.
#[derive(Debug)]
pub(super) struct Named {
    pub(super) place: String,
    /// What stands in marks for the place.
    pub(super) mark: String,
}

impl Named {
    pub(super) fn new(other: &Other) -> Self {
        let place = place_name(&shown(&other.file, FILE), other.line);
        Self { place, mark: format!("{:016x} {}", hash(&other.file), other.line) }
    }
}

fn hash(file: &str) -> u64 {
    let mut hasher = FxHasher::default();
    hasher.write(file.as_bytes());
    hasher.finish()
}

#[derive(Template)]
#[template(path = "other_answer.html")]
struct Answer<'a> {
    svg: &'a str,
    href: &'a str,
    caption: &'a str,
}

#[derive(Template)]
#[template(path = "back.html")]
struct Back {
    links: Vec<LinkBack>,
    more: String,
}

struct LinkBack {
    href: String,
    place: String,
}

/// Whether a page has marks.
pub(super) fn has_marks(body: &str) -> bool {
    body.contains(LINK) || body.contains(ANSWER)
}

/// Cards that speak of other items, as far as their items are linked back: one of so many.
const SPEAKING: usize = 200_000;

/// Which cards speak of which items.
#[derive(Debug, Default)]
pub(super) struct Speaking(Vec<(String, u64)>);

impl Speaking {
    /// Notes what a card speaks of.
    pub(super) fn note(&mut self, findings: &[Finding], card: u64) {
        for other in findings.iter().filter_map(|finding| finding.other.as_deref()) {
            let mark = Named::new(other).mark;
            if self.0.len() < SPEAKING && self.0.last() != Some(&(mark.clone(), card)) {
                self.0.push((mark, card));
            }
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Cards by the places of their items.
pub(super) struct Cards {
    /// For cards whose items others speak of, the cards of those.
    spoken_of: BTreeMap<u64, Vec<u64>>,
    /// First and last card of each stretch of a file.
    files: FxHashMap<u64, Vec<(u64, u64)>>,
    /// The page that was looked at last.
    page: Option<(u64, String)>,
}

impl Cards {
    pub(super) fn of(report: &HtmlReport) -> Self {
        let mut files: FxHashMap<u64, Vec<(u64, u64)>> = FxHashMap::default();
        let ends = report.files.iter().skip(1).map(|(_, card)| card - 1).chain([report.cards]);
        for ((file, first), last) in report.files.iter().zip(ends) {
            files.entry(hash(file)).or_default().push((*first, last));
        }
        let mut own = Self { files, page: None, spoken_of: BTreeMap::new() };
        for (mark, by) in &report.speaking.0 {
            if let Some(card) = own.card(mark, &report.lines).filter(|card| card != by) {
                own.spoken_of.entry(card).or_default().push(*by);
            }
        }
        own
    }

    /// Whether items of these cards are spoken of elsewhere.
    pub(super) fn are_spoken_of(&self, cards: std::ops::RangeInclusive<u64>) -> bool {
        self.spoken_of.range(cards).next().is_some()
    }

    /// The links back, put at the ends of the cards that are spoken of.
    fn link_back(&self, page: u64, body: &str, report: &HtmlReport) -> String {
        let first = (page - 1) * report.page_cards + 1;
        let mut out = String::with_capacity(body.len() + 1024);
        let mut rest = body;
        for (card, speaking) in self.spoken_of.range(first..first + report.page_cards) {
            let Some(begin) = rest.find(&format!(" id=\"c{card}\"")) else { continue };
            let Some(end) = rest[begin..].find(ARTICLE_END).map(|end| begin + end) else { continue };
            out.push_str(&rest[..end]);
            out.push_str(&back(speaking, page, report, &rest[begin..end]));
            rest = &rest[end..];
        }
        out.push_str(rest);
        out
    }

    /// The card of the item that a mark names.
    fn card(&self, mark: &str, lines: &[u32]) -> Option<u64> {
        let (file, line) = mark.split_once(' ')?;
        let stretches = self.files.get(&u64::from_str_radix(file, 16).ok()?)?;
        let line: u32 = line.parse().ok()?;
        stretches.iter().find_map(|(first, last)| {
            let own = lines.get(usize::try_from(first - 1).ok()?..usize::try_from(*last).ok()?)?;
            own.binary_search(&line).ok().map(|at| first + at as u64)
        })
    }

    /// The body of a page with its marks resolved.
    pub(super) fn resolve(&mut self, page: u64, body: &str, report: &mut HtmlReport) -> io::Result<String> {
        let mut out = String::with_capacity(body.len() + 4096);
        let mut rest = body;
        while let Some(at) = [LINK, ANSWER].iter().filter_map(|begin| rest.find(begin)).min() {
            let (before, mark) = rest.split_at(at);
            out.push_str(before);
            let (begin, is_link) = if mark.starts_with(LINK) { (LINK, true) } else { (ANSWER, false) };
            let Some((named, behind)) = mark[begin.len()..].split_once(END) else { break };
            rest = behind;
            let card = self.card(named, &report.lines);
            let href = card.map(|card| href(card, page, report));
            match (card, href) {
                (Some(_), Some(href)) if is_link => {
                    out.extend(["<a href=\"", &href, "\">To the card of that item</a>"]);
                }
                (None, _) if is_link => out.push_str("That item has no finding, and so no card."),
                (Some(card), Some(href)) => out.push_str(&self.answer(card, &href, report)?),
                _ => {}
            }
        }
        out.push_str(rest);
        Ok(self.link_back(page, &out, report))
    }

    /// What another card shows as stated.
    fn answer(&mut self, card: u64, href: &str, report: &mut HtmlReport) -> io::Result<String> {
        let page = report.page_of(card);
        if self.page.as_ref().is_none_or(|(own, _)| *own != page) {
            let sheet = usize::try_from(page - 1).ok().and_then(|at| report.filled.get(at)).map(|sheet| sheet.body);
            let body = sheet.map(|body: Stretch| report.store.read(body)).transpose()?;
            self.page = Some((page, body.unwrap_or_default()));
        }
        let body = self.page.as_ref().map_or("", |(_, body)| body);
        let svg = stated(body, card).unwrap_or_default();
        if svg.is_empty() {
            return Ok(String::new());
        }
        Ok(Answer { svg, href, caption: "Stated by the other item" }.render().unwrap_or_default())
    }
}

/// The links from a card to those that speak of it, but for those to which it has a link already: the other one's says the same.
fn back(speaking: &[u64], page: u64, report: &HtmlReport, card: &str) -> String {
    let is_new = |link: &LinkBack| !card.contains(&format!("href=\"{}\"", link.href));
    let all = speaking.iter().map(|by| LinkBack { href: href(*by, page, report), place: place(*by, report) });
    let links: Vec<LinkBack> = all.take(LINKS_BACK).filter(is_new).collect();
    let more = speaking.len().saturating_sub(LINKS_BACK);
    let more = if more > 0 { count(more as u64, "card") } else { String::new() };
    // A template writes into memory, which does not fail.
    if links.is_empty() { String::new() } else { Back { links, more }.render().unwrap_or_default() + "\n" }
}

/// The file and line of the item of a card.
fn place(card: u64, report: &HtmlReport) -> String {
    let file = report.files[..report.files.partition_point(|(_, first)| *first <= card)].last();
    let line = usize::try_from(card - 1).ok().and_then(|at| report.lines.get(at)).copied().unwrap_or_default();
    place_name(&file.map(|(file, _)| shown(file, FILE)).unwrap_or_default(), line)
}

/// Where a card stands, from a page.
fn href(card: u64, page: u64, report: &HtmlReport) -> String {
    match report.page_of(card) {
        own if own == page => format!("#c{card}"),
        _ => super::card_href(card, report.page_cards),
    }
}

/// The picture of the stated answer on a card.
fn stated(body: &str, card: u64) -> Option<&str> {
    let own = &body[body.find(&format!(" id=\"c{card}\""))?..];
    let own = &own[..own.find("</article>")?];
    let end = own.find(&format!("<figcaption>{STATED}"))?;
    let from = own[..end].rfind("<svg")?;
    // No other figure between picture and caption.
    (!own[from..end].contains("<figure")).then_some(&own[from..end])
}
