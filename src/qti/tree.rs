//! One item as a tree over its own text. Elements outside of the vocabulary have no place in it, what they contain has.

use super::names::{Tag, is_inline, is_qti};
use crate::source::Span;
pub(super) use crate::xml::NodeId;
use crate::xml::{Nodes, RawAttribute, Token, plain_value};
use std::ops::Deref;
use std::sync::Arc;

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
    nodes: Nodes<Tag>,
    /// Names and values.
    attributes: Vec<(Span, Span)>,
    texts: Vec<Text>,
    /// What the body says to read, but for its choices.
    pub(super) prose: String,
}

impl Deref for Tree {
    type Target = Nodes<Tag>;

    fn deref(&self) -> &Nodes<Tag> {
        &self.nodes
    }
}

impl Tree {
    /// The node's parent if that is such an element.
    pub(super) fn parent_of(&self, node: NodeId, tag: Tag) -> Option<NodeId> {
        self.parent(node).filter(|parent| self.tag(*parent) == tag)
    }

    /// The elements that hold the node, from the inside.
    pub(super) fn around(&self, node: NodeId) -> impl Iterator<Item = NodeId> {
        std::iter::successors(self.parent(node), |node| self.parent(*node))
    }

    /// Names and values of the attributes, as written.
    pub(super) fn attributes(&self, node: NodeId) -> impl Iterator<Item = (&str, Span)> {
        self.attributes[self.own_attributes(node)].iter().map(|(name, value)| (name.of(&self.source), *value))
    }

    /// An attribute's value without surrounding space; `None` where it is absent or empty.
    pub(super) fn value(&self, node: NodeId, name: &str) -> Option<String> {
        let (_, span) = self.attributes(node).find(|(own, _)| *own == name)?;
        let value = plain_value(span.of(&self.source).trim());
        (!value.is_empty()).then(|| value.into_owned())
    }

    /// The text inside a node that holds text.
    pub(super) fn text(&self, node: NodeId) -> Option<&Text> {
        self.texts.get(self.own_text(node))
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
    open: Vec<(Option<NodeId>, bool)>,
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
            nodes: Nodes::new(),
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
                    self.open.push((None, !inline));
                    return;
                };
                let first = self.tree.attributes.len();
                self.tree.attributes.extend(attributes.iter().map(|own| (moved(own.name), moved(own.value))));
                let span = Span { start, end: start + tag.len() as u32 };
                let parent = self.open.iter().rev().find_map(|(node, _)| *node);
                let node = self.tree.nodes.add((kind, span), first..self.tree.attributes.len(), parent);
                self.open.push((Some(node), !inline));
                self.count(kind, 1);
            }
            Token::End => {
                let Some((node, ends_word)) = self.open.pop() else { return };
                self.end_word(ends_word);
                if let Some(node) = node {
                    self.count(self.tree.tag(node), -1);
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
        let Some((Some(node), _)) = self.open.last() else { return };
        if !self.tree.tag(*node).holds_text() {
            return;
        }
        let at = self.tree.own_text(*node);
        if let Some(own) = self.tree.texts.get_mut(at) {
            own.content.push_str(text);
            own.plain = false;
        } else {
            self.tree.nodes.set_text(*node, self.tree.texts.len());
            self.tree.texts.push(Text { content: text.to_owned(), start, plain: true });
        }
    }
}
