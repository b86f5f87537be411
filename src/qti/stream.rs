//! A document as a stream of items, of which no more than one is held at a time.

use super::names::{self, Root, Tag};
use super::tree::{Tree, TreeBuilder};
use super::{Question, item, v1};
use crate::limits::Limits;
use crate::source::Span;
use crate::xml::{Position, Scanner, Token, XmlProblem};
use std::io::BufRead;
use std::sync::Arc;

/// An item of a document, or where the document cannot be read.
#[derive(Debug, Clone)]
pub struct Record {
    /// The item's text. Spans point into it.
    pub text: Arc<str>,
    /// Where it starts.
    pub place: Position,
    /// The item, or what is wrong.
    pub content: Result<Box<Question>, XmlProblem>,
}

/// Reads a document item by item.
pub struct Reader<R> {
    scanner: Scanner<R>,
    cap: usize,
    ended: bool,
}

/// What kind of document this is, by the first element of its beginning; `None` where it is no QTI.
#[must_use]
pub fn root_of(beginning: &[u8], limits: &Limits) -> Option<Root> {
    let mut scanner = Scanner::new(beginning, limits).passing_doctype();
    loop {
        match scanner.next() {
            Ok(Token::Start { namespace, name, .. }) => return names::root(namespace, name),
            Ok(Token::Eof) | Err(_) => return None,
            Ok(_) => {}
        }
    }
}

impl<R: BufRead> Iterator for Reader<R> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        if self.ended {
            return None;
        }
        let record = self.find().unwrap_or_else(|problem| {
            // Past a problem of the XML itself nothing can be told any more.
            self.ended = true;
            Some(Record { text: Arc::from(""), place: self.scanner.start(), content: Err(problem) })
        });
        self.ended |= record.is_none();
        record
    }
}

impl<R: BufRead> Reader<R> {
    /// A reader of a document.
    pub fn new(source: R, limits: &Limits) -> Self {
        Self { scanner: Scanner::new(source, limits).passing_doctype(), cap: limits.record_bytes, ended: false }
    }

    /// Goes on to the next item and gathers it.
    fn find(&mut self) -> Result<Option<Record>, XmlProblem> {
        let mut builder = loop {
            match self.scanner.next()? {
                Token::Eof => return Ok(None),
                token @ Token::Start { namespace, name, at, .. }
                    if names::is_qti(namespace)
                        && matches!(Tag::from_name(name), Some(Tag::AssessmentItem | Tag::Item)) =>
                {
                    let mut builder = TreeBuilder::new(at);
                    builder.take(&token);
                    break builder;
                }
                _ => {}
            }
        };
        let place = self.scanner.start();
        let Some(text) = self.scanner.gather(|token| builder.take(token))? else {
            let content = Err(XmlProblem::Limit { limit: "record-bytes", cap: self.cap });
            return Ok(Some(Record { text: Arc::from(""), place, content }));
        };
        let tree = builder.finish(text.into());
        Ok(Some(Record { content: Ok(Box::new(question(&tree))), text: tree.source, place }))
    }
}

fn question(tree: &Tree) -> Question {
    match tree.root() {
        Some(root) if tree.tag(root) == Tag::Item => v1::read(tree, root),
        Some(root) => item::read(tree, root),
        None => Question { span: Span::default(), ..Question::default() },
    }
}
