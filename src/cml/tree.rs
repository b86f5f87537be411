//! One record (a molecule, a reaction, a scheme) as a tree over its own text.
//!
//! Only elements and attributes of the vocabulary have a place in it; all else is passed over with what it contains.

use super::names::{self, Key, Tag};
use crate::source::Span;
pub(super) use crate::xml::NodeId;
use crate::xml::{Nodes, Token, plain_value};
use std::borrow::Cow;
use std::ops::Deref;
use std::sync::Arc;

/// See the module.
#[derive(Debug)]
pub(crate) struct Tree {
    /// The text of the record, into which all spans point.
    pub(crate) source: Arc<str>,
    nodes: Nodes<Tag>,
    attributes: Vec<(Key, Span)>,
    texts: Vec<String>,
}

impl Deref for Tree {
    type Target = Nodes<Tag>;

    fn deref(&self) -> &Nodes<Tag> {
        &self.nodes
    }
}

impl Tree {
    /// Where an attribute's value is, without surrounding space.
    pub(crate) fn value_span(&self, node: NodeId, key: Key) -> Option<Span> {
        let (_, span) = self.attributes[self.own_attributes(node)].iter().find(|(own, _)| *own == key)?;
        let raw = span.of(&self.source);
        let before = raw.len() - raw.trim_start().len();
        let start = span.start as usize + before;
        Some(Span::new(start, start + raw.trim().len()))
    }

    /// An attribute's value without surrounding space.
    pub(crate) fn value(&self, node: NodeId, key: Key) -> Option<Cow<'_, str>> {
        self.value_span(node, key).map(|span| plain_value(span.of(&self.source)))
    }

    /// An attribute's value with its place; `None` where it is absent or empty.
    pub(crate) fn stated(&self, node: NodeId, key: Key) -> Option<(Cow<'_, str>, Span)> {
        let value = self.value(node, key).filter(|value| !value.is_empty())?;
        self.value_span(node, key).map(|span| (value, span))
    }

    /// The text inside a node that holds text.
    pub(crate) fn text(&self, node: NodeId) -> &str {
        self.texts.get(self.own_text(node)).map_or("", |text| text.trim())
    }
}

/// Builds a tree from the tokens of one record.
#[derive(Debug)]
pub(crate) struct TreeBuilder {
    tree: Tree,
    open: Vec<NodeId>,
    /// Open elements inside an element that is passed over, itself included.
    passed_over: usize,
    /// Where the record starts in the document.
    start: u64,
}

impl TreeBuilder {
    pub(crate) fn new(start: u64) -> Self {
        let tree = Tree { source: Arc::from(""), nodes: Nodes::new(), attributes: Vec::new(), texts: Vec::new() };
        Self { tree, open: Vec::new(), passed_over: 0, start }
    }

    /// Takes the next token of the record, from its start tag to its end tag.
    pub(crate) fn take(&mut self, token: &Token) {
        match token {
            Token::Start { .. } => self.start(token),
            Token::End => self.end(),
            Token::Text(text, _) => self.text(text),
            Token::Eof => {}
        }
    }

    fn start(&mut self, token: &Token) {
        let Token::Start { namespace, name, attributes, tag, at } = token else { return };
        let known = Tag::from_name(name).filter(|_| self.passed_over == 0 && names::is_cml(*namespace));
        let Some(known) = known else {
            self.passed_over += 1;
            return;
        };
        let base = at.saturating_sub(self.start) as usize;
        let first_attribute = self.tree.attributes.len();
        for attribute in *attributes {
            // An attribute with a prefix is foreign; a name with a colon is no name of the vocabulary.
            if let Some(key) = Key::from_name(attribute.name.of(tag)) {
                let value = attribute.value;
                let span = Span::new(base + value.start as usize, base + value.end as usize);
                self.tree.attributes.push((key, span));
            }
        }
        let element = (known, Span::new(base, base + tag.len()));
        let attributes = first_attribute..self.tree.attributes.len();
        let id = self.tree.nodes.add(element, attributes, self.open.last().copied());
        self.open.push(id);
    }

    fn end(&mut self) {
        if self.passed_over > 0 {
            self.passed_over -= 1;
        } else {
            self.open.pop();
        }
    }

    fn text(&mut self, text: &str) {
        if self.passed_over > 0 {
            return;
        }
        let Some(node) = self.open.last() else { return };
        if !self.tree.tag(*node).holds_text() {
            return;
        }
        let at = self.tree.own_text(*node);
        if let Some(held) = self.tree.texts.get_mut(at) {
            held.push_str(text);
        } else {
            self.tree.nodes.set_text(*node, self.tree.texts.len());
            self.tree.texts.push(text.to_owned());
        }
    }

    /// The tree, with the record's text.
    pub(crate) fn finish(self, source: Arc<str>) -> Tree {
        Tree { source, ..self.tree }
    }
}
