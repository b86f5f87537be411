//! Writes the pages once everything is known: the later ones first, `audit.html` last.

use super::lists::Key;
use super::other::Cards;
use super::overview::{FILES, FileRow, FirstCards, Listed, Overview, file_row};
use super::sheet::{FilledSheet, rules};
use super::store::Stretch;
use super::text::count;
use super::{About, HtmlReport, page_name};
use crate::audit::Summary;
use crate::report::file::WholeFile;
use askama::Template;
use std::collections::{BTreeMap, HashSet};
use std::fs;
use std::io::{self, Read, Write};
use std::path::Path;

const VERSION: &str = env!("CARGO_PKG_VERSION");
/// The style of the pages.
pub const STYLE: &str = include_str!("../page/page.css");
const SCRIPT: &str = include_str!("../page/page.js");
/// Nothing from elsewhere, no script but ours: its hash, which the browser tests hold to the script.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-LkZwYc2/YBF09nuNF0KpsMeMaP2YKMK2DbhAwpy5/DE='; base-uri 'none'; form-action 'none'";
/// The second line of every page that keyassay writes, by which it knows its own.
const MARKER: &str = "a page of a keyassay audit";

#[derive(Template)]
#[template(path = "top.html")]
struct Top<'a> {
    marker: &'a str,
    policy: &'a str,
    version: &'a str,
    title: &'a str,
    style: &'a str,
    rules: &'a str,
}

#[derive(Template)]
#[template(path = "short_head.html")]
struct ShortHead<'a> {
    about: &'a About,
    page: u64,
    pages: u64,
}

#[derive(Template)]
#[template(path = "items.html")]
struct Items {
    page: u64,
    pages: u64,
    /// Whether items without a finding have cards, too.
    whole: bool,
    all: String,
    list_href: String,
}

#[derive(Template)]
#[template(path = "pages.html")]
struct Pages<'a> {
    position: &'a str,
    links: &'a [Link],
}

struct Link {
    text: String,
    /// Empty for the page itself.
    href: String,
}

#[derive(Template)]
#[template(path = "list.html")]
struct ListHead<'a> {
    heading: &'a str,
    items: String,
    meaning: &'a str,
    remedy: &'a str,
    page: u64,
    pages: u64,
}

#[derive(Template)]
#[template(path = "table.html")]
struct TableHead<'a> {
    caption: &'a str,
    columns: &'a [&'a str],
}

#[derive(Template)]
#[template(path = "file.html")]
struct FileLine {
    file: FileRow,
}

#[derive(Template)]
#[template(path = "foot.html")]
struct Foot {
    unjudged: String,
    marks: String,
    undecided: String,
    sound_hidden: String,
    script: bool,
    code: &'static str,
}

/// The work of the end.
pub(super) struct Writer<'a> {
    pub(super) report: &'a mut HtmlReport,
    pub(super) summary: &'a Summary,
    /// Where cards are, once it is asked.
    pub(super) cards: Option<Cards>,
}

impl Writer<'_> {
    pub(super) fn write(mut self) -> io::Result<()> {
        let pages = self.report.filled.clone();
        let all = pages.len() as u64;
        if all > 1 {
            self.lists()?;
        }
        self.all_files()?;
        for (at, page) in pages.iter().enumerate().rev() {
            self.page(at as u64 + 1, all, *page)?;
        }
        Ok(())
    }

    fn begin(&mut self, name: &str, title: &str, rules: &str) -> io::Result<WholeFile> {
        let mut out = WholeFile::create(&self.report.folder.join(name))?;
        let top = Top { marker: MARKER, policy: POLICY, version: VERSION, title, style: STYLE, rules };
        render(&top, &mut out)?;
        Ok(out)
    }

    fn end(&self, mut out: WholeFile, script: bool) -> io::Result<()> {
        let totals = &self.summary.totals;
        let words = |many: u64| if many > 0 { count(many, "item") } else { String::new() };
        let hidden = totals.items.saturating_sub(self.report.cards);
        let foot = Foot {
            unjudged: words(self.report.unjudged),
            marks: if totals.stereo_not_judged > 0 { count(totals.stereo_not_judged, "mark") } else { String::new() },
            undecided: words(totals.undecided),
            sound_hidden: words(hidden),
            script,
            code: SCRIPT,
        };
        render(&foot, &mut out)?;
        out.write_all(b"\n")?;
        out.finish()
    }

    /// One page of cards; the first one has the overview.
    fn page(&mut self, page: u64, pages: u64, sheet: FilledSheet) -> io::Result<()> {
        let title = if pages > 1 { format!("Audit, page {page} of {pages}") } else { "Audit".to_owned() };
        let mut out = self.begin(&page_name(page), &title, &rules(sheet.files))?;
        if page == 1 {
            self.overview(&mut out, pages == 1)?;
        } else {
            render(&ShortHead { about: &self.report.about, page, pages }, &mut out)?;
        }
        let links = links(page, pages, &page_name);
        let found = self.report.lists.count(&Key::Items);
        let all = count(found, "item");
        let whole = self.report.cards > found;
        let list_href = if pages > 1 { list_name(&Key::Items, 1) } else { String::new() };
        render(&Items { page, pages, whole, all, list_href }, &mut out)?;
        if pages > 1 {
            render(&Pages { position: "above the cards", links: &links }, &mut out)?;
        }
        if sheet.cards == 0 {
            out.write_all(b"<p>Nothing was found: there is no card to show.</p>\n")?;
        }
        self.cards_of(page, sheet, &mut out)?;
        if pages > 1 {
            render(&Pages { position: "below the cards", links: &links }, &mut out)?;
        }
        self.end(out, sheet.cards > 0)
    }

    /// The cards of a page, those that speak of other items linked with them both ways.
    fn cards_of(&mut self, page: u64, sheet: FilledSheet, out: &mut WholeFile) -> io::Result<()> {
        if self.report.speaking.is_empty() && !sheet.has_marks {
            return self.report.store.copy(sheet.body, out);
        }
        let mut cards = self.cards.take().unwrap_or_else(|| Cards::of(self.report));
        let first = (page - 1) * self.report.page_cards + 1;
        if sheet.has_marks || cards.are_spoken_of(first..=first + self.report.page_cards - 1) {
            let body = self.report.store.read(sheet.body)?;
            out.write_all(cards.resolve(page, &body, self.report)?.as_bytes())?;
        } else {
            self.report.store.copy(sheet.body, out)?;
        }
        self.cards = Some(cards);
        Ok(())
    }

    /// The overview; the lists unfold in it where it stands on the only page.
    fn overview(&mut self, out: &mut WholeFile, alone: bool) -> io::Result<()> {
        let mut rows = BTreeMap::new();
        for (key, _, pages) in self.all_lists().into_iter().filter(|_| alone) {
            let mut text = String::new();
            for part in pages.concat() {
                text.push_str(&self.report.store.read(part)?);
            }
            rows.insert(key, text);
        }
        let listed = |key: &Key| match rows.get(key) {
            Some(rows) => Listed::Here(rows.clone()),
            None => Listed::There(list_name(key, 1)),
        };
        let first = self.first_cards();
        let report = &self.report;
        render(&Overview::new(&report.about, self.summary, report.corrections, &report.lists, &first, &listed), out)
    }

    fn all_lists(&self) -> Vec<(Key, u64, Vec<Vec<Stretch>>)> {
        self.report.lists.iter().map(|(key, many, pages)| (key.clone(), many, pages.to_vec())).collect()
    }

    fn table(&mut self, caption: &str, parts: &[Stretch], out: &mut WholeFile) -> io::Result<()> {
        render(&TableHead { caption, columns: &["Item", "Place", "What differs"] }, out)?;
        for part in parts {
            self.report.store.copy(*part, out)?;
        }
        out.write_all(b"</tbody></table>\n")
    }

    /// The list of all items, which a script filters.
    fn rows(&mut self, parts: &[Stretch], out: &mut WholeFile) -> io::Result<()> {
        out.write_all(b"<nav class=\"ids all\" aria-label=\"All items\">\n")?;
        for part in parts {
            self.report.store.copy(*part, out)?;
        }
        out.write_all(b"</nav>\n")
    }

    /// Lists as files of their own.
    fn lists(&mut self) -> io::Result<()> {
        for (key, many, parts) in self.all_lists() {
            let all = parts.len() as u64;
            let (meaning, remedy) = match &key {
                Key::Items => ("", ""),
                Key::Finding(name) | Key::Slip(name, _) => (name.entry().meaning, name.entry().remedy),
            };
            for (at, part) in parts.iter().enumerate() {
                let page = at as u64 + 1;
                let title = key.title();
                let of = if all > 1 { format!(", list {page} of {all}") } else { String::new() };
                let mut out = self.begin(&list_name(&key, page), &format!("Audit: {title}{of}"), "")?;
                let head = ListHead { heading: &title, items: count(many, "item"), meaning, remedy, page, pages: all };
                render(&head, &mut out)?;
                let links = links(page, all, &|page| list_name(&key, page));
                if all > 1 {
                    render(&Pages { position: "of this list", links: &links }, &mut out)?;
                }
                if key == Key::Items {
                    self.rows(part, &mut out)?;
                } else {
                    self.table("Items in the order of the bank", part, &mut out)?;
                }
                self.end(out, key == Key::Items)?;
            }
        }
        Ok(())
    }

    /// All files of the bank, where they are more than the first page lists.
    fn all_files(&mut self) -> io::Result<()> {
        /// Files on one page.
        const ROWS: usize = 1_000;
        let summary = self.summary;
        if summary.files.len() <= FILES {
            return Ok(());
        }
        let pages = summary.files.len().div_ceil(ROWS) as u64;
        let name =
            |page: u64| if page <= 1 { "audit-files.html".to_owned() } else { format!("audit-files-{page}.html") };
        for (at, files) in summary.files.chunks(ROWS).enumerate() {
            let page = at as u64 + 1;
            let mut out = self.begin(&name(page), "Audit: list of files", "")?;
            let items = count(summary.files.len() as u64, "file");
            render(&ListHead { heading: "All files", items, meaning: "", remedy: "", page, pages }, &mut out)?;
            if pages > 1 {
                render(&Pages { position: "of this list", links: &links(page, pages, &name) }, &mut out)?;
            }
            let columns = ["File", "Items", "Sound", "Faulty", "Undecided", "Unreadable", "With warnings"];
            render(&TableHead { caption: "Files in the order of the bank", columns: &columns }, &mut out)?;
            let first = self.first_cards();
            for (name, totals) in files {
                render(&FileLine { file: file_row(name, totals, &first) }, &mut out)?;
            }
            out.write_all(b"</tbody></table>\n")?;
            self.end(out, false)?;
        }
        Ok(())
    }

    fn first_cards(&self) -> FirstCards<'_> {
        let report = &self.report;
        // A file that is named twice is found by its first card.
        report.files.iter().rev().map(|(file, card)| (&**file, (report.page_of(*card), *card))).collect()
    }
}

/// Removes pages that an earlier, longer audit left in a folder, but for those that are `written` now; nothing that keyassay
/// has not written.
pub(in crate::report) fn remove_older(folder: &Path, written: &HashSet<&str>) -> io::Result<()> {
    for entry in fs::read_dir(folder)?.flatten() {
        let name = entry.file_name();
        let Some(name) = name.to_str() else { continue };
        // Our names are in small letters, whatever the system thinks of case.
        let inner = name.strip_prefix("audit-").and_then(|rest| rest.strip_suffix(".html"));
        let is_page = inner.is_some() && !written.contains(name);
        if is_page && entry.file_type().is_ok_and(|kind| kind.is_file()) && is_ours(&entry.path()) {
            fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

/// Whether a file begins as our pages do.
fn is_ours(path: &Path) -> bool {
    let mut begin = Vec::new();
    let read = fs::File::open(path).and_then(|file| file.take(200).read_to_end(&mut begin));
    read.is_ok() && String::from_utf8_lossy(&begin).contains(MARKER)
}

fn render(template: &impl Template, out: &mut WholeFile) -> io::Result<()> {
    let text = template.render().map_err(io::Error::other)?;
    out.write_all(text.as_bytes())
}

fn list_name(key: &Key, page: u64) -> String {
    if page <= 1 { format!("audit-{}.html", key.slug()) } else { format!("audit-{}-{page}.html", key.slug()) }
}

/// Links to the first page, those around this one, and the last.
fn links(page: u64, pages: u64, name: &dyn Fn(u64) -> String) -> Vec<Link> {
    /// Pages on either side that are linked.
    const AROUND: u64 = 4;
    let mut links = Vec::new();
    let mut add =
        |text: String, to: u64| links.push(Link { text, href: if to == page { String::new() } else { name(to) } });
    if page > 1 {
        add("Previous".to_owned(), page - 1);
    }
    if page < pages {
        add("Next".to_owned(), page + 1);
    }
    let mut before = 0;
    for to in 1..=pages {
        if to == 1 || to == pages || to.abs_diff(page) <= AROUND {
            let gap = if to > before + 1 { "… " } else { "" };
            add(format!("{gap}{to}"), to);
            before = to;
        }
    }
    links
}
