//! Reactions: reactants are the start, products the stated answer, maps the arrows.

use super::arrows;
use super::fault::{Fault, Faults, Part, Problem};
use super::flow;
use super::library::{Referenced, References};
use super::molecule::{self, Drawn};
use super::names::{Key, Tag};
use super::side::Side;
use super::tree::{NodeId, Tree};
use crate::arrows::DrawnArrow;
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::Structure;
use std::sync::Arc;

/// One reaction: a question or one step of it.
#[derive(Debug, Clone, Default)]
pub struct Reaction {
    /// Its `id`.
    pub id: Option<String>,
    /// Its `title`, or the text of its `name`.
    pub title: Option<String>,
    /// Reactants, then spectators; `None` where no reactants are listed.
    pub start: Option<Structure>,
    /// Products, then spectators; `None` where no products are listed.
    pub answer: Option<Structure>,
    /// How many atoms at the end of either side are spectators.
    pub spectators: usize,
    /// The arrows; `None` where nothing states any.
    pub arrows: Option<Vec<DrawnArrow>>,
    /// What is wrong with it.
    pub faults: Vec<Fault>,
    /// The whole element in the record's text, if it is known; else its start tag.
    pub span: Span,
}

/// Consecutive reactions: one question. A reaction that stands alone is a sequence of one.
#[derive(Debug, Clone, Default)]
pub struct Sequence {
    /// The `id` of the scheme or list.
    pub id: Option<String>,
    /// Its `title`.
    pub title: Option<String>,
    /// Its reactions in order; never empty.
    pub steps: Vec<Reaction>,
    /// Fields of the question that the language has no place for.
    pub fields: Vec<ItemField>,
    /// The start tag of the element that holds the reactions, or of the reaction that stands alone.
    pub span: Span,
}

/// A field of a question that is carried as metadata, `<metadata name="ka:item-task" content="resonance"/>`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemField {
    /// The field's name, without prefix and `item-`.
    pub name: String,
    /// Its text.
    pub value: String,
    /// Where the text stands.
    pub span: Span,
}

/// What the local part of a metadata's name begins with where it is a field of a question.
pub(super) const FIELD: &str = "item-";

/// The fields that an element states as metadata.
pub(super) fn fields(tree: &Tree, node: NodeId) -> Vec<ItemField> {
    let lists = tree.children_of(node, Tag::MetadataList).flat_map(|list| tree.children_of(list, Tag::Metadata));
    let field = |metadata: NodeId| {
        let name = tree.value(metadata, Key::Name)?;
        let name = name.rsplit(':').next()?.strip_prefix(FIELD)?.to_owned();
        let (value, span) = (tree.value(metadata, Key::Content)?, tree.value_span(metadata, Key::Content)?);
        Some(ItemField { name, value: value.into_owned(), span })
    };
    lists.filter_map(field).collect()
}

/// The conventional value of `atomMap` and `electronMap` that lets ids speak for themselves.
const BY_IDS: &str = "USE_IDS";

/// Reads a `reaction` element.
pub(super) fn read<'a>(tree: &'a Tree, node: NodeId, references: &mut References<'a>, limits: &'a Limits) -> Reaction {
    let mut faults = Faults::default();
    if tree.children(node).any(|child| is_reaction(tree.tag(child))) {
        faults.push(Problem::NestedReaction, tree.span(node));
    }
    let mut reader = SideReader { tree, references, limits };
    let spectators = reader.species(node, &[Tag::SpectatorList, Tag::Spectator]);
    let start = reader.side(node, &[Tag::ReactantList, Tag::Reactant], &spectators);
    let answer = reader.side(node, &[Tag::ProductList, Tag::Product], &spectators);
    let count = start.as_ref().or(answer.as_ref()).map_or(0, |(_, count)| *count);
    let finish = |side: Option<(Side, usize)>, part: Part, faults: &mut Faults| {
        side.map(|(mut side, _)| {
            side.label();
            let found = std::mem::take(&mut side.faults);
            faults.extend(found.into_vec().into_iter().map(|fault| Fault { part, ..fault }));
            side
        })
    };
    let start = finish(start, Part::Start, &mut faults);
    let mut answer = finish(answer, Part::Answer, &mut faults);
    let maps: Vec<NodeId> = tree.children_of(node, Tag::Map).collect();
    settle_answer_labels(tree, node, &maps, start.as_ref(), answer.as_mut());
    let mut of_arrows = Faults::default();
    let arrows = read_arrows(tree, node, &maps, start.as_ref(), answer.as_ref(), limits, &mut of_arrows);
    faults.extend(of_arrows.into_vec().into_iter().map(|fault| Fault { part: Part::Arrows, ..fault }));
    Reaction {
        id: text_value(tree, node, Key::Id),
        title: title(tree, node),
        start: start.map(|side| side.structure),
        answer: answer.map(|side| side.structure),
        spectators: count,
        arrows,
        faults: faults.into_vec(),
        span: tree.span(node),
    }
}

/// Whether an element is or holds reactions.
pub(super) fn is_reaction(tag: Tag) -> bool {
    matches!(tag, Tag::Reaction | Tag::ReactionList | Tag::ReactionScheme | Tag::ReactionStep | Tag::ReactionStepList)
}

pub(super) fn text_value(tree: &Tree, node: NodeId, key: Key) -> Option<String> {
    tree.stated(node, key).map(|(value, _)| value.into_owned())
}

pub(super) fn title(tree: &Tree, node: NodeId) -> Option<String> {
    let name =
        || tree.children_of(node, Tag::Name).map(|name| tree.text(name).to_owned()).find(|name| !name.is_empty());
    text_value(tree, node, Key::Title).or_else(name)
}

/// A molecule of a side with its count.
#[derive(Clone)]
struct Species {
    found: Result<Referenced, Fault>,
    count: u32,
    /// The element that names it.
    span: Span,
}

impl Species {
    /// A fault that stands in the place of a species.
    fn broken(problem: Problem, span: Span) -> Self {
        Self { found: Err(Fault::new(problem, span)), count: 1, span }
    }

    fn add_to(&self, side: &mut Side, limits: &Limits) {
        match &self.found {
            Ok(Referenced::Here(drawn)) => side.add(drawn, self.count, None, limits),
            Ok(Referenced::Elsewhere(drawn)) => side.add(drawn, self.count, Some(self.span), limits),
            Err(fault) => side.faults.take(fault.clone()),
        }
    }
}

struct SideReader<'a, 'b> {
    tree: &'a Tree,
    references: &'b mut References<'a>,
    limits: &'a Limits,
}

impl SideReader<'_, '_> {
    /// The species of a side and the spectators, and how many atoms those have; `None` where the reaction lists none of its
    /// own.
    fn side(&mut self, reaction: NodeId, tags: &[Tag], spectators: &[Species]) -> Option<(Side, usize)> {
        let listed = self.tree.children(reaction).any(|child| tags.contains(&self.tree.tag(child)));
        if !listed {
            return None;
        }
        let mut side = Side::new();
        for species in self.species(reaction, tags) {
            species.add_to(&mut side, self.limits);
        }
        let own = side.structure.atom_count();
        for species in spectators {
            species.add_to(&mut side, self.limits);
        }
        let of_spectators = side.structure.atom_count() - own;
        Some((side, of_spectators))
    }

    /// The species in lists and elements with these tags, in the order of the document.
    fn species(&mut self, reaction: NodeId, tags: &[Tag]) -> Vec<Species> {
        let tree = self.tree;
        let listed = |node: NodeId| -> Vec<NodeId> {
            tree.children(node).filter(|child| tags.contains(&tree.tag(*child))).collect()
        };
        let mut species = Vec::new();
        let mut open: Vec<(NodeId, u32)> = listed(reaction).into_iter().rev().map(|node| (node, 1)).collect();
        while let Some((node, around)) = open.pop() {
            let count = self.count(node, &mut species).saturating_mul(around);
            let inner = listed(node);
            let before = species.len();
            for molecule in tree.children_of(node, Tag::Molecule) {
                self.molecule(molecule, count, &mut species);
            }
            if species.len() == before && inner.is_empty() {
                self.undrawn(node, count, &mut species);
            }
            open.extend(inner.into_iter().rev().map(|inner| (inner, count)));
        }
        species
    }

    /// The count of an element; a bad one stands among the species as a fault.
    fn count(&self, node: NodeId, species: &mut Vec<Species>) -> u32 {
        let mut faults = Faults::default();
        let count = molecule::count(self.tree, node, &mut faults);
        let broken = |fault: Fault| Species::broken(fault.problem, fault.span);
        species.extend(faults.into_vec().into_iter().map(broken));
        count
    }

    fn molecule(&mut self, node: NodeId, around: u32, species: &mut Vec<Species>) {
        let span = self.tree.span(node);
        let drawn = Drawn::read(self.tree, node, self.limits);
        if !drawn.atoms.is_empty() {
            // Its own count is in its frames.
            species.push(Species { found: Ok(Referenced::Here(Arc::new(drawn))), count: around, span });
            return;
        }
        let faults = drawn.faults.iter().map(|fault| Species::broken(fault.problem.clone(), fault.span));
        species.extend(faults);
        match &drawn.refers_to {
            Some((id, place)) => {
                let count = drawn.frames.first().map_or(1, |frame| frame.count).saturating_mul(around);
                self.reference(id, node, count, *place, species);
            }
            None => species.push(Species::broken(Problem::NotDrawn(Tag::Molecule.name()), span)),
        }
    }

    /// A reactant, product or spectator that draws no molecule: it may refer to one.
    fn undrawn(&mut self, node: NodeId, count: u32, species: &mut Vec<Species>) {
        let tag = self.tree.tag(node);
        match self.tree.stated(node, Key::Ref) {
            Some((id, place)) => self.reference(&id, node, count, place, species),
            // An empty list lists nothing.
            None if matches!(tag, Tag::ReactantList | Tag::ProductList | Tag::SpectatorList) => {}
            None => species.push(Species::broken(Problem::NotDrawn(tag.name()), self.tree.span(node))),
        }
    }

    fn reference(&mut self, id: &str, node: NodeId, count: u32, place: Span, species: &mut Vec<Species>) {
        let found = self.references.follow(id, node).map_err(|problem| Fault::new(problem, place));
        species.push(Species { found, count, span: self.tree.span(node) });
    }
}

/// Gives the products the labels of the reactants: by the atom map where there is one; by their ids where the reaction says
/// that ids speak for themselves, or where at least half of them name atoms of the start. Products with ids of their own
/// carry no labels.
fn settle_answer_labels(tree: &Tree, node: NodeId, maps: &[NodeId], start: Option<&Side>, answer: Option<&mut Side>) {
    let (Some(start), Some(answer)) = (start, answer) else { return };
    let stated = tree.value(node, Key::AtomMap).filter(|value| !value.is_empty());
    if stated.as_deref() == Some(BY_IDS) {
        return;
    }
    let atom_map = maps.iter().copied().find(|map| match stated.as_deref() {
        Some(name) => tree.value(*map, Key::Id).as_deref() == Some(name),
        None => arrows::is_atom_map(tree, *map),
    });
    if let Some(map) = atom_map {
        arrows::label_by_map(tree, map, start, answer);
        return;
    }
    // Programs that number the atoms of each molecule anew say nothing of which atom became which.
    if start.is_numbered || answer.is_numbered {
        answer.structure.clear_labels();
        return;
    }
    let index = crate::structure::LabelIndex::new(&start.structure);
    let labels = answer.structure.atom_ids().filter_map(|atom| answer.structure.label(atom));
    let (mut all, mut known) = (0, 0);
    for label in labels {
        all += 1;
        known += usize::from(index.get(&label).is_some());
    }
    if known * 2 < all {
        answer.structure.clear_labels();
    }
}

/// Arrows from the first map that is one of arrows, else from the identity of electrons.
fn read_arrows(
    tree: &Tree,
    node: NodeId,
    maps: &[NodeId],
    start: Option<&Side>,
    answer: Option<&Side>,
    limits: &Limits,
    faults: &mut Faults,
) -> Option<Vec<DrawnArrow>> {
    let nothing = Side::new();
    let (start, answer) = (start.unwrap_or(&nothing), answer.unwrap_or(&nothing));
    let of_arrows: Vec<NodeId> = maps.iter().copied().filter(|map| arrows::is_arrow_map(tree, *map)).collect();
    let found = if of_arrows.is_empty() {
        let (name, span) = tree.stated(node, Key::ElectronMap)?;
        if name == BY_IDS {
            flow::by_ids(start, answer, faults)
        } else {
            let map = maps.iter().copied().find(|map| tree.value(*map, Key::Id).as_ref() == Some(&name));
            if map.is_none() {
                faults.push(Problem::NoElectronMap(molecule::clipped(&name)), span);
            }
            map.map_or_else(Vec::new, |map| flow::by_map(tree, map, start, answer, faults))
        }
    } else {
        arrows::read(tree, &of_arrows, start, answer, limits, faults)
    };
    if found.len() > limits.arrows {
        let problem = Problem::Limit { limit: "arrows", cap: limits.arrows };
        faults.push(problem, tree.span(node));
        return Some(Vec::new());
    }
    Some(found)
}
