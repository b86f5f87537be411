//! The answer book: the worked key of the items that are proven sound, as a page to print or as Markdown with a picture an item.

use super::panels::{Drawings, Panel};
use super::set;
use super::store::{Store, Stretch};
use super::text::{FILE, ID, MESSAGE, PROMPT, count, shown};
use super::working::{as_pushed, options, working};
use super::write::STYLE;
use crate::audit::{Audited, Renderer, Reporter, Summary};
use crate::bank::place_name;
use crate::drawing::layout::lay_out_sequence;
use crate::drawing::{self, Scene};
use crate::findings::{Class, Severity, StepAudit};
use crate::report::file::WholeFile;
use crate::smiles::{self, Labels};
use crate::structure::{OctetRule, Structure};
use askama::Template;
use std::borrow::Cow;
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Steps of one item that are drawn; textbook sequences have fewer than ten.
const STEPS: usize = 24;

/// What the book is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Shape {
    /// One page to print.
    #[default]
    Html,
    /// Text with one picture an item.
    Markdown,
}

/// Makes the answer of one item.
#[derive(Debug, Clone, Copy, Default)]
pub struct BookRenderer {
    /// Which shells are over-full.
    pub octet: OctetRule,
    /// What it is written as.
    pub shape: Shape,
    /// Whether only the key is wanted, without the working.
    pub bare: bool,
}

/// Between a picture and its text, where both are one card.
const APART: char = '\0';

struct Step {
    heading: String,
    panels: Vec<Panel>,
    working: Vec<String>,
}

#[derive(Template)]
#[template(path = "book_answer.html")]
struct Answer {
    id: String,
    prompt: String,
    steps: Vec<Step>,
    options: Vec<String>,
}

impl Renderer for BookRenderer {
    fn card(&self, item: &Audited) -> String {
        if item.class != Class::Sound {
            return String::new();
        }
        match self.shape {
            Shape::Html => self.answer(item).render().unwrap_or_default(),
            Shape::Markdown => format!("{}{APART}{}", picture(item), self.markdown(item)),
        }
    }
}

impl BookRenderer {
    fn answer(self, item: &Audited) -> Answer {
        let several = item.steps.len() > 1;
        let steps = item.steps.iter().take(STEPS).enumerate().map(|(at, step)| {
            let (step, drawn) = as_pushed(step);
            let is_set = !step.contributors.is_empty();
            Step {
                heading: if several { format!("Step {}", at + 1) } else { String::new() },
                panels: if is_set { set::panels(&step, &[], self.octet) } else { self.panels(&step) },
                working: if self.bare { Vec::new() } else { working(&step, drawn) },
            }
        });
        Answer {
            id: shown(&item.id, ID),
            prompt: shown(&item.prompt, PROMPT),
            steps: steps.collect(),
            options: item.steps.last().map(options).unwrap_or_default(),
        }
    }

    /// The start with its arrows and the product, in the same places.
    fn panels(self, step: &StepAudit) -> Vec<Panel> {
        let mut panels = Drawings::new(step, false).panels(&[], self.octet);
        panels.truncate(2);
        if let Some(product) = panels.get_mut(1) {
            "Product".clone_into(&mut product.caption);
        }
        panels
    }

    fn markdown(self, item: &Audited) -> String {
        let mut text = String::new();
        let several = item.steps.len() > 1;
        for (at, step) in item.steps.iter().take(STEPS).enumerate() {
            if several {
                let _ = write!(text, "### Step {}\n\n", at + 1);
            }
            let (step, drawn) = as_pushed(step);
            let product = step.pushed.as_ref().map(|pushed| &pushed.product);
            if let Some(product) = product.filter(|_| step.contributors.is_empty()) {
                let _ = write!(text, "Product: `{}`\n\n", smiles::write(product, Labels::Classes));
            }
            for (_, drawn) in &step.contributors {
                let _ = writeln!(text, "- `{}`", smiles::write(drawn, Labels::Classes));
            }
            let sentences = if self.bare { Vec::new() } else { working(&step, drawn) };
            for (at, sentence) in sentences.iter().enumerate() {
                let _ = writeln!(text, "{}. {}", at + 1, plain(sentence));
            }
            text.push('\n');
        }
        for option in item.steps.last().map(options).unwrap_or_default() {
            let _ = writeln!(text, "- {}", plain(&option));
        }
        text
    }
}

/// Text for Markdown: nothing in it is markup.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_ascii_punctuation() && !matches!(c, '.' | ',' | ':' | ';' | '(' | ')' | '\'' | '"' | '-' | '+' | '/') {
            out.push('\\');
        }
        out.push(if c == '\n' || c == '\r' { ' ' } else { c });
    }
    out
}

/// One picture of all steps of an item.
fn picture(item: &Audited) -> String {
    let mut panels: Vec<(&Structure, &[crate::arrows::Arrow], String, Option<char>)> = Vec::new();
    let steps: Vec<Cow<'_, StepAudit>> = item.steps.iter().take(STEPS).map(|step| as_pushed(step).0).collect();
    for (at, step) in steps.iter().enumerate() {
        let Some(start) = &step.start else { continue };
        let number = if item.steps.len() > 1 { format!(" of step {}", at + 1) } else { String::new() };
        panels.push((start, &step.arrows, format!("start{number}"), None));
        if !step.contributors.is_empty() {
            let drawn = step.contributors.iter().map(|(at, own)| (own, &[] as &[_], at.clone(), Some('\u{2194}')));
            panels.extend(drawn);
        } else if let Some(pushed) = &step.pushed {
            panels.push((&pushed.product, &[], format!("product{number}"), Some('\u{2192}')));
        }
    }
    let mut points = Vec::new();
    let mut at = 0;
    while let Some((start, ..)) = panels.get(at) {
        // A product stands where its start does.
        if let Some((product, .., Some('\u{2192}'))) = panels.get(at + 1) {
            points.extend(lay_out_sequence(&[start, product]));
            at += 2;
        } else {
            points.extend(lay_out_sequence(&[start]));
            at += 1;
        }
    }
    let drawn: Vec<drawing::Panel> = panels
        .iter()
        .zip(&points)
        .map(|((structure, arrows, caption, sign), points)| drawing::Panel {
            scene: Scene::new(structure, points, arrows),
            caption: caption.clone(),
            sign: *sign,
        })
        .collect();
    drawing::row(&drawn, "Start with its arrows, and the product", true)
}

#[derive(Template)]
#[template(path = "book.html")]
struct Head<'a> {
    version: &'static str,
    style: &'static str,
    what: &'a str,
    given: String,
    withheld_count: String,
}

#[derive(Template)]
#[template(path = "book_foot.html")]
struct Foot<'a> {
    withheld: &'a str,
}

#[derive(Template)]
#[template(path = "book_withheld.html")]
struct Withheld {
    id: String,
    place: String,
    why: String,
}

#[derive(Template)]
#[template(path = "book_line.html")]
struct Line {
    number: u64,
    id: String,
}

/// Writes the book.
#[derive(Debug)]
pub struct AnswerBook {
    folder: PathBuf,
    renderer: BookRenderer,
    what: String,
    store: Store,
    answers: Vec<Stretch>,
    contents: String,
    withheld: String,
    given: u64,
    withheld_count: u64,
}

impl AnswerBook {
    /// Begins the book in a folder; `what` says of which banks it is.
    ///
    /// # Errors
    /// The folder cannot be written.
    pub fn create(folder: &Path, what: String, renderer: BookRenderer) -> io::Result<Self> {
        Ok(Self {
            folder: folder.to_owned(),
            renderer,
            what,
            store: Store::create(folder)?,
            answers: Vec::new(),
            contents: String::new(),
            withheld: String::new(),
            given: 0,
            withheld_count: 0,
        })
    }

    fn withhold(&mut self, item: &Audited) {
        self.withheld_count += 1;
        let grave = |severity| item.findings.iter().filter(move |own| own.severity == severity);
        let mut why: Vec<String> =
            grave(Severity::Error).map(|own| format!("{}: {}", own.name.entry().name, own.message())).collect();
        if why.is_empty() {
            why = grave(Severity::Warning).map(|own| format!("{}: {}", own.name.entry().name, own.message())).collect();
        }
        let (id, place) = (shown(&item.id, ID), place_name(&shown(&item.file, FILE), item.line));
        let why = shown(&why.join("; "), MESSAGE);
        match self.renderer.shape {
            Shape::Html => self.withheld.push_str(&Withheld { id, place, why }.render().unwrap_or_default()),
            Shape::Markdown => {
                let _ = writeln!(self.withheld, "- {} ({}): {}", plain(&id), plain(&place), plain(&why));
            }
        }
    }

    fn give(&mut self, item: &Audited) -> io::Result<()> {
        self.given += 1;
        let number = self.given;
        let own = if item.card.is_empty() { self.renderer.card(item) } else { String::new() };
        let card = if own.is_empty() { &item.card } else { &own };
        let id = shown(&item.id, ID);
        let text = match self.renderer.shape {
            Shape::Html => {
                self.contents.push_str(&Line { number, id }.render().unwrap_or_default());
                format!(
                    "<article class=\"answer\" id=\"a{number}\">\n<p class=\"meta\">Item {number}</p>\n{card}</article>\n"
                )
            }
            Shape::Markdown => {
                let (picture, text) = card.split_once(APART).unwrap_or(("", card));
                let name = format!("answer-{number:04}.svg");
                let mut file = WholeFile::create(&self.folder.join(&name))?;
                file.write_all(picture.as_bytes())?;
                file.finish()?;
                let prompt = shown(&item.prompt, PROMPT);
                let prompt = if prompt.is_empty() { prompt } else { format!("{}\n\n", plain(&prompt)) };
                format!(
                    "## {number}. {}\n\n{prompt}![Start with its arrows, and the product]({name})\n\n{text}\n",
                    plain(&id)
                )
            }
        };
        self.answers.push(self.store.append(&text)?);
        Ok(())
    }

    fn write_html(&mut self) -> io::Result<()> {
        let mut file = WholeFile::create(&self.folder.join("answers.html"))?;
        let head = Head {
            version: env!("CARGO_PKG_VERSION"),
            style: STYLE,
            what: &self.what,
            given: count(self.given, "item"),
            withheld_count: count(self.withheld_count, "item"),
        };
        file.write_all(head.render().unwrap_or_default().as_bytes())?;
        file.write_all(self.contents.as_bytes())?;
        file.write_all(b"<li><a href=\"#withheld\">Withheld</a></li>\n</ul>\n</header>\n<main>\n")?;
        for stretch in std::mem::take(&mut self.answers) {
            file.write_all(self.store.read(stretch)?.as_bytes())?;
        }
        file.write_all(Foot { withheld: &self.withheld }.render().unwrap_or_default().as_bytes())?;
        file.finish()
    }

    fn write_markdown(&mut self) -> io::Result<()> {
        let mut file = WholeFile::create(&self.folder.join("answers.md"))?;
        let (given, withheld) = (count(self.given, "item"), count(self.withheld_count, "item"));
        write!(file, "# Answer book\n\n{}. {given} with worked answers, {withheld} withheld.\n\n", plain(&self.what))?;
        write!(file, "**{}**\n\n", crate::report::terminal::CAUTION_UNWRAPPED)?;
        for stretch in std::mem::take(&mut self.answers) {
            file.write_all(self.store.read(stretch)?.as_bytes())?;
        }
        let none = if self.withheld.is_empty() { "None: every item is sound.\n" } else { "" };
        write!(file, "## Withheld\n\n{}{none}", self.withheld)?;
        file.finish()
    }
}

impl Reporter for AnswerBook {
    fn wants_steps(&self) -> bool {
        true
    }

    fn item(&mut self, item: &Audited) -> io::Result<()> {
        if item.class == Class::Sound {
            return self.give(item);
        }
        self.withhold(item);
        Ok(())
    }

    fn finish(&mut self, _: &Summary) -> io::Result<()> {
        match self.renderer.shape {
            Shape::Html => self.write_html(),
            Shape::Markdown => self.write_markdown(),
        }
    }
}
