//! The elements of a record as a tree in one flat list: what the trees of the formats share.

use crate::source::Span;
use std::ops::Range;

/// A node of a tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct NodeId(u32);

const NONE: u32 = u32::MAX;

#[derive(Debug)]
struct Node<T> {
    tag: T,
    /// The start tag.
    span: Span,
    parent: u32,
    first_child: u32,
    last_child: u32,
    next: u32,
    /// Which attributes are its own, among those of the tree.
    attributes: Range<u32>,
    /// Where its text is among those of the tree, if it holds any.
    text: u32,
}

/// Nodes in the order of the document; `T` tells their kinds.
#[derive(Debug)]
pub(crate) struct Nodes<T>(Vec<Node<T>>);

impl<T: Copy + PartialEq> Nodes<T> {
    pub(crate) fn new() -> Self {
        Self(Vec::new())
    }

    /// The first element; `None` for a tree that could not be begun.
    pub(crate) fn root(&self) -> Option<NodeId> {
        (!self.0.is_empty()).then_some(NodeId(0))
    }

    /// All nodes in the order of the document.
    pub(crate) fn nodes(&self) -> impl Iterator<Item = NodeId> + use<T> {
        (0..self.0.len() as u32).map(NodeId)
    }

    pub(crate) fn tag(&self, node: NodeId) -> T {
        self.0[node.0 as usize].tag
    }

    /// The node's start tag in the record's text.
    pub(crate) fn span(&self, node: NodeId) -> Span {
        self.0[node.0 as usize].span
    }

    pub(crate) fn parent(&self, node: NodeId) -> Option<NodeId> {
        Some(self.0[node.0 as usize].parent).filter(|parent| *parent != NONE).map(NodeId)
    }

    pub(crate) fn children(&self, node: NodeId) -> impl Iterator<Item = NodeId> {
        let mut next = self.0[node.0 as usize].first_child;
        std::iter::from_fn(move || {
            let found = self.0.get(next as usize)?;
            let id = NodeId(next);
            next = found.next;
            Some(id)
        })
    }

    /// Children of one kind.
    pub(crate) fn children_of(&self, node: NodeId, tag: T) -> impl Iterator<Item = NodeId> {
        self.children(node).filter(move |child| self.tag(*child) == tag)
    }

    /// Which attributes of the tree are the node's own.
    pub(crate) fn own_attributes(&self, node: NodeId) -> Range<usize> {
        let own = &self.0[node.0 as usize].attributes;
        own.start as usize..own.end as usize
    }

    /// Which text of the tree is the node's own; none has this number where it holds no text.
    pub(crate) fn own_text(&self, node: NodeId) -> usize {
        self.0[node.0 as usize].text as usize
    }

    /// Gives the node a text of the tree.
    pub(crate) fn set_text(&mut self, node: NodeId, text: usize) {
        self.0[node.0 as usize].text = text as u32;
    }

    /// Adds a node behind the other children of its parent.
    pub(crate) fn add(&mut self, (tag, span): (T, Span), attributes: Range<usize>, parent: Option<NodeId>) -> NodeId {
        let id = self.0.len() as u32;
        let attributes = attributes.start as u32..attributes.end as u32;
        let holder = parent.map_or(NONE, |parent| parent.0);
        let (first_child, last_child, next, text) = (NONE, NONE, NONE, NONE);
        self.0.push(Node { tag, span, parent: holder, first_child, last_child, next, attributes, text });
        if let Some(parent) = parent {
            let parent = &mut self.0[parent.0 as usize];
            let elder = std::mem::replace(&mut parent.last_child, id);
            if elder == NONE {
                parent.first_child = id;
            } else {
                self.0[elder as usize].next = id;
            }
        }
        NodeId(id)
    }
}
