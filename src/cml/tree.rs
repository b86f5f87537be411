//! One record (a molecule, a reaction, a scheme) as a tree over its own text.
//!
//! Only elements and attributes of the vocabulary have a place in it; all else is passed over with what it contains.

use super::names::{self, Key, Tag};
use crate::source::Span;
use crate::xml::{Token, plain_value};
use std::borrow::Cow;
use std::sync::Arc;

/// A node of a tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct NodeId(u32);

const NONE: u32 = u32::MAX;

#[derive(Debug)]
struct Node {
    tag: Tag,
    /// The start tag.
    span: Span,
    first_child: u32,
    last_child: u32,
    next: u32,
    first_attribute: u32,
    attributes: u32,
    /// Where its text is in `Tree::texts`, if it holds any.
    text: u32,
}

/// See the module.
#[derive(Debug)]
pub(crate) struct Tree {
    /// The text of the record, into which all spans point.
    pub(crate) source: Arc<str>,
    nodes: Vec<Node>,
    attributes: Vec<(Key, Span)>,
    texts: Vec<String>,
}

impl Tree {
    /// The record's element; `None` for a tree that could not be begun.
    pub(crate) fn root(&self) -> Option<NodeId> {
        (!self.nodes.is_empty()).then_some(NodeId(0))
    }

    /// All nodes in the order of the document.
    pub(crate) fn nodes(&self) -> impl Iterator<Item = NodeId> + use<> {
        (0..self.nodes.len() as u32).map(NodeId)
    }

    pub(crate) fn tag(&self, node: NodeId) -> Tag {
        self.nodes[node.0 as usize].tag
    }

    /// The node's start tag in the record's text.
    pub(crate) fn span(&self, node: NodeId) -> Span {
        self.nodes[node.0 as usize].span
    }

    pub(crate) fn children(&self, node: NodeId) -> impl Iterator<Item = NodeId> {
        let mut next = self.nodes[node.0 as usize].first_child;
        std::iter::from_fn(move || {
            let found = self.nodes.get(next as usize)?;
            let id = NodeId(next);
            next = found.next;
            Some(id)
        })
    }

    /// Children with one tag.
    pub(crate) fn children_of(&self, node: NodeId, tag: Tag) -> impl Iterator<Item = NodeId> {
        self.children(node).filter(move |child| self.tag(*child) == tag)
    }

    /// Where an attribute's value is, without surrounding space.
    pub(crate) fn value_span(&self, node: NodeId, key: Key) -> Option<Span> {
        let node = &self.nodes[node.0 as usize];
        let own = node.first_attribute as usize..(node.first_attribute + node.attributes) as usize;
        let (_, span) = self.attributes[own].iter().find(|(own, _)| *own == key)?;
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
        self.texts.get(self.nodes[node.0 as usize].text as usize).map_or("", |text| text.trim())
    }
}

/// Builds a tree from the tokens of one record.
#[derive(Debug)]
pub(crate) struct TreeBuilder {
    tree: Tree,
    open: Vec<u32>,
    /// Open elements inside an element that is passed over, itself included.
    passed_over: usize,
    /// Where the record starts in the document.
    start: u64,
}

impl TreeBuilder {
    pub(crate) fn new(start: u64) -> Self {
        let tree = Tree { source: Arc::from(""), nodes: Vec::new(), attributes: Vec::new(), texts: Vec::new() };
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
        let first_attribute = self.tree.attributes.len() as u32;
        for attribute in *attributes {
            // An attribute with a prefix is foreign; a name with a colon is no name of the vocabulary.
            if let Some(key) = Key::from_name(attribute.name.of(tag)) {
                let value = attribute.value;
                let span = Span::new(base + value.start as usize, base + value.end as usize);
                self.tree.attributes.push((key, span));
            }
        }
        let id = self.tree.nodes.len() as u32;
        self.tree.nodes.push(Node {
            tag: known,
            span: Span::new(base, base + tag.len()),
            first_child: NONE,
            last_child: NONE,
            next: NONE,
            first_attribute,
            attributes: self.tree.attributes.len() as u32 - first_attribute,
            text: NONE,
        });
        self.adopt(id);
        self.open.push(id);
    }

    fn adopt(&mut self, id: u32) {
        let Some(parent) = self.open.last() else { return };
        let parent = &mut self.tree.nodes[*parent as usize];
        let elder = std::mem::replace(&mut parent.last_child, id);
        if elder == NONE {
            parent.first_child = id;
        } else {
            self.tree.nodes[elder as usize].next = id;
        }
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
        let node = &mut self.tree.nodes[*node as usize];
        if !node.tag.holds_text() {
            return;
        }
        if let Some(held) = self.tree.texts.get_mut(node.text as usize) {
            held.push_str(text);
        } else {
            node.text = self.tree.texts.len() as u32;
            self.tree.texts.push(text.to_owned());
        }
    }

    /// The tree, with the record's text.
    pub(crate) fn finish(self, source: Arc<str>) -> Tree {
        Tree { source, ..self.tree }
    }
}
