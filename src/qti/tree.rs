//! One item as a tree over its own text. Elements outside of the vocabulary have no place in it, what they contain has.

use super::names::{Tag, is_inline, is_qti};
use crate::source::Span;
use crate::xml::{RawAttribute, Token, plain_value};
use std::sync::Arc;

const NONE: u32 = u32::MAX;

/// A node of a tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct NodeId(u32);

#[derive(Debug)]
struct Node {
    tag: Tag,
    /// The start tag.
    span: Span,
    parent: u32,
    first_child: u32,
    last_child: u32,
    next: u32,
    first_attribute: u32,
    attributes: u32,
    text: u32,
}

/// The text inside an element, and where it stands.
#[derive(Debug, Clone, Default)]
pub(super) struct Text {
    pub(super) content: String,
    pub(super) start: u32,
    /// Whether it stands in the document as it is, without references.
    pub(super) plain: bool,
}

/// See the module.
#[derive(Debug)]
pub(super) struct Tree {
    /// The text of the item, into which all spans point.
    pub(super) source: Arc<str>,
    nodes: Vec<Node>,
    /// Names and values.
    attributes: Vec<(Span, Span)>,
    texts: Vec<Text>,
    /// What the body says to read, but for its choices.
    pub(super) prose: String,
}

impl Tree {
    pub(super) fn root(&self) -> Option<NodeId> {
        (!self.nodes.is_empty()).then_some(NodeId(0))
    }

    /// All nodes in the order of the document.
    pub(super) fn nodes(&self) -> impl Iterator<Item = NodeId> + use<> {
        (0..self.nodes.len() as u32).map(NodeId)
    }

    pub(super) fn tag(&self, node: NodeId) -> Tag {
        self.nodes[node.0 as usize].tag
    }

    pub(super) fn span(&self, node: NodeId) -> Span {
        self.nodes[node.0 as usize].span
    }

    pub(super) fn parent(&self, node: NodeId) -> Option<NodeId> {
        Some(self.nodes[node.0 as usize].parent).filter(|parent| *parent != NONE).map(NodeId)
    }

    /// The node's parent if that is such an element.
    pub(super) fn parent_of(&self, node: NodeId, tag: Tag) -> Option<NodeId> {
        self.parent(node).filter(|parent| self.tag(*parent) == tag)
    }

    /// The elements that hold the node, from the inside.
    pub(super) fn around(&self, node: NodeId) -> impl Iterator<Item = NodeId> {
        std::iter::successors(self.parent(node), |node| self.parent(*node))
    }

    pub(super) fn children(&self, node: NodeId) -> impl Iterator<Item = NodeId> {
        let mut next = self.nodes[node.0 as usize].first_child;
        std::iter::from_fn(move || {
            let id = NodeId(next);
            next = self.nodes.get(next as usize)?.next;
            Some(id)
        })
    }

    /// Names and values of the attributes, as written.
    pub(super) fn attributes(&self, node: NodeId) -> impl Iterator<Item = (&str, Span)> {
        let node = &self.nodes[node.0 as usize];
        let own = node.first_attribute as usize..(node.first_attribute + node.attributes) as usize;
        self.attributes[own].iter().map(|(name, value)| (name.of(&self.source), *value))
    }

    /// An attribute's value without surrounding space; `None` where it is absent or empty.
    pub(super) fn value(&self, node: NodeId, name: &str) -> Option<String> {
        let (_, span) = self.attributes(node).find(|(own, _)| *own == name)?;
        let value = plain_value(span.of(&self.source).trim());
        (!value.is_empty()).then(|| value.into_owned())
    }

    /// The text inside a node that holds text.
    pub(super) fn text(&self, node: NodeId) -> Option<&Text> {
        self.texts.get(self.nodes[node.0 as usize].text as usize)
    }

    /// The same without surrounding space.
    pub(super) fn words(&self, node: NodeId) -> &str {
        self.text(node).map_or("", |text| text.content.trim())
    }
}

/// Builds a tree from the tokens of one item.
pub(super) struct TreeBuilder {
    /// Bytes of the document before the item.
    origin: u64,
    tree: Tree,
    /// The open elements: the node of each, if it has one, and whether it ends a word.
    open: Vec<(u32, bool)>,
    /// Open elements in whose text nobody is asked anything, and those that are the body.
    silent: usize,
    bodies: usize,
    /// Open elements that hold conditions.
    rules: usize,
}

impl TreeBuilder {
    /// A builder for an item behind this many bytes.
    pub(super) fn new(origin: u64) -> Self {
        let tree = Tree {
            source: Arc::from(""),
            nodes: Vec::new(),
            attributes: Vec::new(),
            texts: Vec::new(),
            prose: String::new(),
        };
        Self { origin, tree, open: Vec::new(), silent: 0, bodies: 0, rules: 0 }
    }

    /// The tree over the item's text.
    pub(super) fn finish(mut self, source: Arc<str>) -> Tree {
        self.tree.source = source;
        self.tree
    }

    /// Takes the next token.
    pub(super) fn take(&mut self, token: &Token<'_>) {
        match token {
            Token::Start { namespace, name, attributes, tag, at } => {
                let start = (at - self.origin) as u32;
                let moved = |span: Span| Span { start: span.start + start, end: span.end + start };
                let known = Tag::from_name(name).filter(|_| is_qti(*namespace));
                let is_field = |own: &RawAttribute| own.name.of(tag).starts_with("data-");
                // In conditions every element counts, known or not: one that is not read makes another condition of them.
                let kind = known.or_else(|| (self.rules > 0 || attributes.iter().any(is_field)).then_some(Tag::Other));
                let inline = is_inline(name);
                self.end_word(!inline);
                let Some(kind) = kind else {
                    self.open.push((NONE, !inline));
                    return;
                };
                let first = self.tree.attributes.len() as u32;
                self.tree.attributes.extend(attributes.iter().map(|own| (moved(own.name), moved(own.value))));
                let span = Span { start, end: start + tag.len() as u32 };
                self.node(kind, span, first);
                self.open.push((self.tree.nodes.len() as u32 - 1, !inline));
                self.count(kind, 1);
            }
            Token::End => {
                let Some((node, ends_word)) = self.open.pop() else { return };
                self.end_word(ends_word);
                if let Some(node) = self.tree.nodes.get(node as usize) {
                    let tag = node.tag;
                    self.count(tag, -1);
                }
            }
            Token::Text(text, at) => self.text(text, (at - self.origin) as u32),
            Token::Eof => {}
        }
    }

    fn end_word(&mut self, ends: bool) {
        if ends && self.bodies > 0 {
            self.tree.prose.push(' ');
        }
    }

    fn node(&mut self, tag: Tag, span: Span, first_attribute: u32) {
        let parent = self.open.iter().rev().map(|(node, _)| *node).find(|node| *node != NONE).unwrap_or(NONE);
        let id = self.tree.nodes.len() as u32;
        let attributes = self.tree.attributes.len() as u32 - first_attribute;
        let links = (NONE, NONE, NONE);
        let (first_child, last_child, next) = links;
        let text = NONE;
        self.tree.nodes.push(Node {
            tag,
            span,
            parent,
            first_child,
            last_child,
            next,
            first_attribute,
            attributes,
            text,
        });
        let Some(holder) = self.tree.nodes.get_mut(parent as usize) else { return };
        let before = std::mem::replace(&mut holder.last_child, id);
        match self.tree.nodes.get_mut(before as usize) {
            Some(before) => before.next = id,
            None => {
                if let Some(holder) = self.tree.nodes.get_mut(parent as usize) {
                    holder.first_child = id;
                }
            }
        }
    }

    fn count(&mut self, tag: Tag, by: isize) {
        let silent = tag.is_aside() || matches!(tag, Tag::SimpleChoice | Tag::ResponseLabel | Tag::Object);
        let rules = matches!(tag, Tag::ResponseProcessing | Tag::RespCondition);
        for (count, is_own) in
            [(&mut self.silent, silent), (&mut self.bodies, tag == Tag::ItemBody), (&mut self.rules, rules)]
        {
            if is_own {
                *count = count.saturating_add_signed(by);
            }
        }
    }

    fn text(&mut self, text: &str, start: u32) {
        if self.bodies > 0 && self.silent == 0 {
            self.tree.prose.push_str(text);
        }
        let Some((innermost, _)) = self.open.last() else { return };
        let next = self.tree.texts.len() as u32;
        let Some(node) = self.tree.nodes.get_mut(*innermost as usize) else { return };
        if !node.tag.holds_text() {
            return;
        }
        if let Some(own) = self.tree.texts.get_mut(node.text as usize) {
            own.content.push_str(text);
            own.plain = false;
        } else {
            node.text = next;
            self.tree.texts.push(Text { content: text.to_owned(), start, plain: true });
        }
    }
}
