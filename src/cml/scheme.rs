//! Schemes and lists of steps: consecutive reactions are one question with steps.
//!
//! A scheme inside a scheme is a question of its own. Where a scheme lists its steps, a reaction beside the list is the
//! overall reaction, which restates the steps; it is a question of its own only if it has arrows. The reactions of a list
//! whose `type` is not `consecutive` (the schema's default) have nothing to do with each other.

use super::fault::{Fault, Problem};
use super::library::References;
use super::names::{Key, Tag};
use super::reaction::{self, Sequence};
use super::tree::{NodeId, Tree};
use crate::limits::Limits;
use crate::source::Span;

/// Reactions that belong together, and the element that holds them.
struct Group {
    holder: Option<NodeId>,
    reactions: Vec<NodeId>,
}

/// The questions of a record.
pub(super) fn read<'a>(
    tree: &'a Tree,
    root: NodeId,
    references: &mut References<'a>,
    limits: &'a Limits,
) -> Vec<Sequence> {
    let mut sequences = Vec::new();
    for group in groups(tree, root) {
        let id_of = |key| group.holder.and_then(|holder| reaction::text_value(tree, holder, key));
        let mut steps = Vec::new();
        for node in group.reactions.iter().take(limits.steps) {
            steps.push(reaction::read(tree, *node, references, limits));
        }
        if group.reactions.len() > limits.steps
            && let Some(last) = steps.last_mut()
        {
            let problem = Problem::Limit { limit: "steps", cap: limits.steps };
            last.faults.push(Fault::new(problem, last.span));
        }
        let title = group.holder.and_then(|holder| reaction::title(tree, holder));
        let span = group
            .holder
            .map_or_else(|| steps.first().map_or(Span::default(), |step| step.span), |node| tree.span(node));
        let holder = group.holder.or(group.reactions.first().copied());
        let fields = holder.map_or_else(Vec::new, |node| reaction::fields(tree, node));
        sequences.push(Sequence { id: id_of(Key::Id), title, steps, fields, span });
    }
    sequences
}

/// The groups of a record, in the order in which their first reactions stand.
fn groups(tree: &Tree, root: NodeId) -> Vec<Group> {
    if tree.tag(root) == Tag::Reaction {
        return vec![Group { holder: None, reactions: vec![root] }];
    }
    let mut groups = Vec::new();
    let mut schemes = vec![root];
    while let Some(scheme) = schemes.pop() {
        of_scheme(tree, scheme, &mut groups, &mut schemes);
    }
    groups.retain(|group: &Group| !group.reactions.is_empty());
    groups.sort_by_key(|group| group.reactions.first().copied());
    groups
}

/// Adds the groups of one scheme, and the schemes inside it to those that are still to be read.
fn of_scheme(tree: &Tree, scheme: NodeId, groups: &mut Vec<Group>, schemes: &mut Vec<NodeId>) {
    let has_list = |tag| matches!(tag, Tag::ReactionStepList | Tag::ReactionList);
    let listed =
        tree.tag(scheme) == Tag::ReactionScheme && tree.children(scheme).any(|child| has_list(tree.tag(child)));
    let mut own = Group { holder: Some(scheme), reactions: Vec::new() };
    let mut open = vec![(scheme, is_consecutive(tree, scheme), false)];
    while let Some((node, consecutive, direct)) = open.pop() {
        match tree.tag(node) {
            Tag::Reaction if listed && direct => {
                if has_arrows(tree, node) {
                    groups.push(Group { holder: None, reactions: vec![node] });
                }
                continue;
            }
            Tag::Reaction if consecutive => {
                own.reactions.push(node);
                continue;
            }
            Tag::Reaction => {
                groups.push(Group { holder: None, reactions: vec![node] });
                continue;
            }
            Tag::ReactionScheme if node != scheme => {
                schemes.push(node);
                continue;
            }
            _ => {}
        }
        let holds: Vec<NodeId> = tree.children(node).filter(|child| reaction::is_reaction(tree.tag(*child))).collect();
        let step = |child: NodeId| (child, consecutive && is_consecutive(tree, child), node == scheme);
        open.extend(holds.into_iter().rev().map(step));
    }
    groups.push(own);
}

fn is_consecutive(tree: &Tree, node: NodeId) -> bool {
    tree.tag(node) != Tag::ReactionStepList || tree.value(node, Key::Type).is_none_or(|kind| kind == "consecutive")
}

fn has_arrows(tree: &Tree, reaction: NodeId) -> bool {
    tree.value(reaction, Key::ElectronMap).is_some()
        || tree.children_of(reaction, Tag::Map).any(|map| super::arrows::is_arrow_map(tree, map))
}
