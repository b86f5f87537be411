//! Cards that speak of another item: linked to its card, with its answer beside their own.
//!
//! A card is drawn before it is known whether the other item gets one, and where. So it holds a mark, and the marks are resolved
//! when its page is written.

use super::HtmlReport;
use super::store::Stretch;
use super::text::{FILE, shown};
use crate::bank::place_name;
use crate::findings::Other;
use askama::Template;
use rustc_hash::{FxHashMap, FxHasher};
use std::hash::Hasher;
use std::io;

/// How marks begin. Nothing from a bank looks so, as it is escaped.
const LINK: &str = "<!--card of ";
const ANSWER: &str = "<!--answer of ";
const END: &str = "-->";
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

/// Whether a page has marks.
pub(super) fn has_marks(body: &str) -> bool {
    body.contains(LINK) || body.contains(ANSWER)
}

/// Cards by the places of their items.
pub(super) struct Cards {
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
        Self { files, page: None }
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
            let href = card.map(|card| match report.page_of(card) {
                own if own == page => format!("#c{card}"),
                _ => super::card_href(card, report.page_cards),
            });
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
        Ok(out)
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

/// The picture of the stated answer on a card.
fn stated(body: &str, card: u64) -> Option<&str> {
    let own = &body[body.find(&format!(" id=\"c{card}\""))?..];
    let own = &own[..own.find("</article>")?];
    let end = own.find(&format!("<figcaption>{STATED}"))?;
    let from = own[..end].rfind("<svg")?;
    // No other figure between picture and caption.
    (!own[from..end].contains("<figure")).then_some(&own[from..end])
}
