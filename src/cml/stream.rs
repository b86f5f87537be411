//! A document as a stream of records. No more than one record is held at a time, with the molecules that later records
//! may refer to.

use super::fault::{Fault, Problem};
use super::library::{Library, References};
use super::molecule::Drawn;
use super::names;
use super::names::{Key, Tag};
use super::reaction::{self, Sequence};
use super::scheme;
use super::side::Side;
use super::tree::{NodeId, Tree, TreeBuilder};
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::Structure;
use crate::xml::{Position, Scanner, Token, XmlProblem};
use std::io::BufRead;
use std::sync::Arc;

/// A piece of a document: a reaction, a scheme, a molecule, or where the document cannot be read.
#[derive(Debug, Clone)]
pub struct Record {
    /// Its text. Spans of what was read from it point into it.
    pub text: Arc<str>,
    /// Where it starts.
    pub place: Position,
    /// What it is.
    pub content: Content,
}

/// What a record is.
#[derive(Debug, Clone)]
pub enum Content {
    /// Questions: one for a reaction, one or more for a scheme.
    Questions(Vec<Sequence>),
    /// A molecule that belongs to no reaction.
    Molecule(Box<BareMolecule>),
    /// A record, or the rest of the document, that cannot be read.
    Unreadable(Fault),
}

/// A molecule outside of reactions.
#[derive(Debug, Clone, Default)]
pub struct BareMolecule {
    /// Its `id`.
    pub id: Option<String>,
    /// Its `title`, or the text of its `name`.
    pub title: Option<String>,
    /// What it draws.
    pub structure: Structure,
    /// What is wrong with it.
    pub faults: Vec<Fault>,
}

/// Reads a document record by record.
pub struct Reader<R> {
    scanner: Scanner<R>,
    limits: Limits,
    library: Library,
    /// Whether molecules are kept as they are met.
    keeps: bool,
    /// Where the record starts that is being gathered.
    inside: Option<Position>,
    ended: bool,
}

/// Bytes that are shown of a document where it cannot be read.
const EXCERPT: usize = 200;

fn is_record(namespace: Option<&str>, name: &str) -> bool {
    names::is_cml(namespace)
        && matches!(
            Tag::from_name(name),
            Some(Tag::Molecule | Tag::Reaction | Tag::ReactionScheme | Tag::ReactionStepList)
        )
}

impl<R: BufRead> Iterator for Reader<R> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        if self.ended {
            return None;
        }
        let record = self.next_record();
        self.ended |= record.is_none();
        record
    }
}

/// A record as gathered, and where it starts.
struct Gathered {
    place: Position,
    /// The record; `None` where it is too long to be held.
    tree: Option<Tree>,
}

impl<R: BufRead> Reader<R> {
    /// A reader of a document.
    pub fn new(source: R, limits: &Limits) -> Self {
        Self { keeps: true, ..Self::with_library(source, limits, Library::default()) }
    }

    /// A reader whose references find the molecules of `library`, which another reader has met in the whole document.
    pub fn with_library(source: R, limits: &Limits, library: Library) -> Self {
        // Old files name their DTD. It is never opened, and no entity is known but those of XML.
        let scanner = Scanner::new(source, limits).passing_doctype();
        Self { scanner, limits: limits.clone(), library, keeps: false, inside: None, ended: false }
    }

    /// The molecules outside of reactions that were met so far.
    #[must_use]
    pub fn into_library(self) -> Library {
        self.library
    }

    fn next_record(&mut self) -> Option<Record> {
        match self.find_record() {
            Ok(None) => None,
            Ok(Some(Gathered { place, tree: Some(tree) })) => {
                let content = self.content(&tree);
                Some(Record { text: tree.source, place, content })
            }
            Ok(Some(Gathered { place, tree: None })) => {
                let problem = XmlProblem::Limit { limit: "record-bytes", cap: self.limits.record_bytes };
                let content = Content::Unreadable(Fault::new(problem.into(), Span::default()));
                Some(Record { text: Arc::from(""), place, content })
            }
            Err(problem) => {
                // Past a problem of the XML itself nothing can be told any more.
                self.ended = true;
                Some(self.unreadable(problem))
            }
        }
    }

    /// The record that ends a document which cannot be read on.
    fn unreadable(&mut self, problem: XmlProblem) -> Record {
        let at = self.scanner.start();
        let place = self.inside.unwrap_or(at);
        let (mut text, _) = self.scanner.take_kept();
        let start = (at.offset - place.offset) as usize;
        // Enough to show the place.
        let end = (start..=start.saturating_add(EXCERPT)).rev().find(|end| text.is_char_boundary(*end));
        text.truncate(end.unwrap_or(0));
        let span = Span::new(start.min(text.len()), text.len());
        Record { place, content: Content::Unreadable(Fault::new(problem.into(), span)), text: text.into() }
    }

    /// Goes on to the next molecule, reaction or scheme that lies in none, and gathers it.
    fn find_record(&mut self) -> Result<Option<Gathered>, XmlProblem> {
        self.inside = None;
        loop {
            let token = self.scanner.next()?;
            let builder = match &token {
                Token::Eof => return Ok(None),
                Token::Start { namespace, name, at, .. } if is_record(*namespace, name) => {
                    let mut builder = TreeBuilder::new(*at);
                    builder.take(&token);
                    builder
                }
                _ => continue,
            };
            return self.gather(builder).map(Some);
        }
    }

    /// Gathers the record whose start tag is the latest token.
    fn gather(&mut self, mut builder: TreeBuilder) -> Result<Gathered, XmlProblem> {
        let place = self.scanner.start();
        self.inside = Some(place);
        let text = self.scanner.gather(|token| builder.take(token))?;
        Ok(Gathered { place, tree: text.map(|text| builder.finish(text.into())) })
    }

    fn content(&mut self, tree: &Tree) -> Content {
        let Some(root) = tree.root() else { return Content::Questions(Vec::new()) };
        if tree.tag(root) == Tag::Molecule {
            return Content::Molecule(Box::new(self.molecule(tree, root)));
        }
        let mut references = References::new(tree, &self.library, &self.limits);
        Content::Questions(scheme::read(tree, root, &mut references, &self.limits))
    }

    fn molecule(&mut self, tree: &Tree, node: NodeId) -> BareMolecule {
        let drawn = Arc::new(Drawn::read(tree, node, &self.limits));
        let mut side = Side::new();
        side.add(&drawn, 1, None, &self.limits);
        side.label();
        let id = reaction::text_value(tree, node, Key::Id);
        if let Some(id) = id.as_ref().filter(|_| self.keeps) {
            self.library.keep(id, drawn, &self.limits);
        }
        BareMolecule {
            id,
            title: reaction::title(tree, node),
            structure: side.structure,
            faults: side.faults.into_vec(),
        }
    }
}

/// Reads the molecules of a text as one drawing: a field of a bank that holds CML. Spans point into the text.
#[must_use]
pub fn read_molecule(text: &str, limits: &Limits) -> (Structure, Vec<Fault>) {
    let mut field =
        FieldReader { scanner: Scanner::new(text.as_bytes(), limits).passing_doctype(), text: text.into(), limits };
    let mut side = Side::new();
    loop {
        match field.next_molecule() {
            Ok(Some(drawn)) => side.add(&drawn, 1, None, limits),
            Ok(None) => break,
            Err(problem) => {
                let start = field.scanner.start().offset as usize;
                side.faults.push(problem, Span::new(start, text.len().min(start + EXCERPT)));
                break;
            }
        }
    }
    if side.structure.is_empty() && side.faults.is_empty() {
        side.faults.push(Problem::NoMolecule, Span::new(0, text.len().min(EXCERPT)));
    }
    side.label();
    (side.structure, side.faults.into_vec())
}

/// Reads the molecules of a text that is held whole.
struct FieldReader<'a> {
    scanner: Scanner<&'a [u8]>,
    text: Arc<str>,
    limits: &'a Limits,
}

impl FieldReader<'_> {
    fn next_molecule(&mut self) -> Result<Option<Drawn>, Problem> {
        let mut builder = loop {
            let token = self.scanner.next()?;
            let Token::Start { namespace, name, .. } = &token else {
                if matches!(token, Token::Eof) {
                    return Ok(None);
                }
                continue;
            };
            match Tag::from_name(name).filter(|_| names::is_cml(*namespace)) {
                Some(Tag::Molecule) => {
                    // Places count from the start of the text, not of the molecule.
                    let mut builder = TreeBuilder::new(0);
                    builder.take(&token);
                    break builder;
                }
                Some(tag) if reaction::is_reaction(tag) => return Err(Problem::NoStructure(tag.name())),
                _ => {}
            }
        };
        let depth = self.scanner.depth();
        while self.scanner.depth() >= depth {
            builder.take(&self.scanner.next()?);
        }
        let tree = builder.finish(Arc::clone(&self.text));
        Ok(tree.root().map(|root| Drawn::read(&tree, root, self.limits)))
    }
}
