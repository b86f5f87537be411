//! The answer book: the worked key of the items that are proven sound, as a page to print or as Markdown with a picture an item.

use super::panels::{Drawings, Panel};
use super::set;
use super::store::{Store, Stretch};
use super::text::{FILE, ID, MESSAGE, PROMPT, count, shown};
use super::write::STYLE;
use crate::arrows::ledger::{arrow_sentences, charge_sentence, net_sentence, string_sentences};
use crate::audit::{Audited, Renderer, Reporter, Summary};
use crate::bank::key::letter;
use crate::bank::place_name;
use crate::compare::compare;
use crate::drawing::layout::lay_out_sequence;
use crate::drawing::{self, Scene};
use crate::findings::{Class, OptionAudit, Severity, StepAudit};
use crate::report::file::WholeFile;
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, LabelIndex, OctetRule, Structure};
use askama::Template;
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Steps of one item that are drawn; textbook sequences have fewer than ten.
const STEPS: usize = 24;
/// Differences that are named of a wrong option.
const NAMED: usize = 4;
/// Steps of the search for a correspondence that only explains.
const SEARCH: u64 = 20_000;

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
        let steps = item.steps.iter().take(STEPS).enumerate().map(|(at, step)| Step {
            heading: if several { format!("Step {}", at + 1) } else { String::new() },
            panels: if step.contributors.is_empty() { self.panels(step) } else { set::panels(step, &[], self.octet) },
            working: self.working(step),
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

    /// The working of a step, sentence by sentence.
    fn working(self, step: &StepAudit) -> Vec<String> {
        let (Some(start), Some(pushed)) = (&step.start, &step.pushed) else { return Vec::new() };
        if self.bare || !step.contributors.is_empty() {
            return Vec::new();
        }
        let product = &pushed.product;
        let mut all = vec![
            "Copy the start, atom by atom, with its charges; then follow each arrow from its tail to its head."
                .to_owned(),
        ];
        all.extend(arrow_sentences(start, pushed, &step.arrows));
        let strings = string_sentences(start, product, &step.arrows);
        // One string says by itself which charges change.
        let is_said = strings.len() == 1;
        all.extend(strings);
        if !is_said {
            all.push(charge_sentence(start, product, &step.arrows));
        }
        all.push(net_sentence(start, product));
        all.push("Every atom and bond that no arrow touches stays as it was drawn.".to_owned());
        all.iter().map(|sentence| shown(sentence, MESSAGE)).collect()
    }

    fn markdown(self, item: &Audited) -> String {
        let mut text = String::new();
        let several = item.steps.len() > 1;
        for (at, step) in item.steps.iter().take(STEPS).enumerate() {
            if several {
                let _ = write!(text, "### Step {}\n\n", at + 1);
            }
            let product = step.pushed.as_ref().map(|pushed| &pushed.product);
            if let Some(product) = product.filter(|_| step.contributors.is_empty()) {
                let _ = write!(text, "Product: `{}`\n\n", smiles::write(product, Labels::Classes));
            }
            for (_, drawn) in &step.contributors {
                let _ = writeln!(text, "- `{}`", smiles::write(drawn, Labels::Classes));
            }
            for (at, sentence) in self.working(step).iter().enumerate() {
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

/// Why each option is right or wrong.
fn options(step: &StepAudit) -> Vec<String> {
    let Some(product) = step.pushed.as_ref().map(|pushed| &pushed.product) else { return Vec::new() };
    let one = |own: &OptionAudit| {
        let option = &own.structure;
        // The reader may not have the question at hand: each option is told by its drawing too.
        let at = format!("{} ({})", letter(own.at), smiles::write(option, Labels::Without));
        match own.is_right {
            Some(true) => return format!("Option {at} is right: it is the product{}.", left_out(product, option)),
            None => return format!("Option {at}: whether it is the product was not decided."),
            Some(false) => {}
        }
        let compared = compare(product, option, &LabelIndex::new(product), SEARCH);
        let (one, other) = compared.forms.as_ref().map_or((product, option), |forms| (&forms.0, &forms.1));
        let differences = &compared.differences.list;
        let names = crate::compare::difference::Names {
            one: "in the product",
            other: "in the option",
            one_drawing: "product",
            other_drawing: "option",
            second_first: false,
        };
        let words: Vec<String> =
            differences.iter().take(NAMED).map(|own| own.words_between(one, other, &names)).collect();
        if words.is_empty() {
            return format!("Option {at} is wrong: it differs in its species or its stereo marks.");
        }
        let more = if differences.len() > NAMED { "; and more" } else { "" };
        format!("Option {at} is wrong. {}{more}.", words.join("; "))
    };
    step.options.iter().map(one).collect()
}

/// Which species of the product an option leaves out, for a sentence.
fn left_out(product: &Structure, option: &Structure) -> String {
    let compared = compare(product, option, &LabelIndex::new(product), SEARCH);
    let omitted = compared.differences.omitted.iter();
    let species = |atoms: &Vec<AtomId>| smiles::write(&product.part(|atom| atoms.contains(&atom)), Labels::Without);
    let names: Vec<String> = omitted.map(species).collect();
    if names.is_empty() { String::new() } else { format!(", with {} not drawn", names.join(" and ")) }
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
    for (at, step) in item.steps.iter().take(STEPS).enumerate() {
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
