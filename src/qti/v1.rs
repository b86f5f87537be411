//! An item of 1.2: no objects, but material that names a file or holds the text itself, and conditions for a key.

use super::item::{collapsed, notation};
use super::key;
use super::names::Tag;
use super::tree::{NodeId, Tree};
use super::{Choice, DataField, MOST_DRAWINGS, Notation, Place, Question, Shown, Words};
use crate::source::Span;
use rustc_hash::FxHashMap;

/// What is to be chosen.
struct Response {
    ident: String,
    /// Whether several choices may be.
    is_multiple: bool,
    choices: Vec<Choice>,
}

/// What an item is made of, as its elements are met.
#[derive(Default)]
struct Parts {
    responses: Vec<Response>,
    /// Which element holds which of them.
    places: FxHashMap<NodeId, usize>,
    prose: String,
}

impl Parts {
    fn response(&mut self, tree: &Tree, node: NodeId) {
        self.places.insert(node, self.responses.len());
        let cardinality = tree.value(node, "rcardinality");
        self.responses.push(Response {
            ident: tree.value(node, "ident").unwrap_or_default(),
            is_multiple: cardinality.is_some_and(|own| own.eq_ignore_ascii_case("multiple")),
            choices: Vec::new(),
        });
    }

    fn choice(&mut self, tree: &Tree, node: NodeId) {
        let identifier = tree.value(node, "ident").unwrap_or_default();
        if let Some(own) = holder(tree, node, &self.places).and_then(|at| self.responses.get_mut(at)) {
            own.choices.push(Choice { identifier, ..Choice::default() });
        }
    }

    /// A text or a picture: a drawing of the question or of a choice, or prose.
    fn material(&mut self, tree: &Tree, node: NodeId, question: &mut Question) {
        if !tree.around(node).any(|holder| tree.tag(holder) == Tag::Presentation) {
            return;
        }
        let label = tree.around(node).find(|holder| tree.tag(*holder) == Tag::ResponseLabel);
        let Some(shown) = material(tree, node) else {
            if label.is_none() && tree.tag(node) == Tag::MatText {
                self.prose.push(' ');
                self.prose.push_str(tree.words(node));
            }
            return;
        };
        question.drawings += 1;
        if question.drawings > MOST_DRAWINGS {
            return;
        }
        let place = label.and_then(|label| holder(tree, label, &self.places));
        let choices = place.and_then(|at| self.responses.get_mut(at)).map(|own| &mut own.choices);
        match choices.and_then(|choices| choices.last_mut()) {
            Some(choice) => drop(choice.shown.get_or_insert(shown)),
            None => question.shown.push(shown),
        }
    }
}

/// Reads an item.
pub(super) fn read(tree: &Tree, root: NodeId) -> Question {
    let text = |name: &str| tree.value(root, name);
    let mut question = Question {
        identifier: text("ident"),
        title: text("title").unwrap_or_default(),
        label: text("label"),
        span: tree.span(root),
        fields: metadata(tree),
        ..Question::default()
    };
    let mut parts = Parts::default();
    for node in tree.nodes().skip(1) {
        match tree.tag(node) {
            Tag::ResponseLid => parts.response(tree, node),
            Tag::ResponseLabel => parts.choice(tree, node),
            Tag::MatText | Tag::MatApplication => parts.material(tree, node, &mut question),
            _ => {}
        }
    }
    question.prose = collapsed(&parts.prose);
    let drawn = parts.responses.iter().position(|own| own.choices.iter().any(Choice::is_drawn)).unwrap_or(0);
    if let Some(own) = parts.responses.into_iter().nth(drawn) {
        question.key = key::of_conditions(tree, &own.ident, own.is_multiple, &own.choices);
        question.choices = own.choices;
    }
    question
}

fn holder(tree: &Tree, label: NodeId, places: &FxHashMap<NodeId, usize>) -> Option<usize> {
    let holder = tree.around(label).find(|node| tree.tag(*node) == Tag::ResponseLid)?;
    places.get(&holder).copied()
}

/// Material that draws: a file, or a text whose type says that it is a drawing.
fn material(tree: &Tree, node: NodeId) -> Option<Shown> {
    let kind = tree.value(node, "apptype").or_else(|| tree.value(node, "texttype"));
    let file = tree.value(node, "uri").unwrap_or_default();
    let notation = notation(kind.as_deref(), &file)?;
    let place = if file.is_empty() { Place::Here(here(tree, node)?) } else { Place::File(file) };
    let role = tree.value(node, "label").map(|role| role.to_ascii_lowercase());
    Some(Shown { notation, place, role, span: tree.span(node) })
}

fn here(tree: &Tree, node: NodeId) -> Option<Words> {
    let own = tree.text(node).filter(|own| !own.content.trim().is_empty())?;
    let start = own.start as usize;
    Some(Words { text: own.content.clone(), span: Span::new(start, start + own.content.len()), plain: own.plain })
}

/// Fields that stand as metadata, under the names that they have as data in later versions.
fn metadata(tree: &Tree) -> Vec<DataField> {
    let field = |node: NodeId| {
        let part = |tag: Tag| tree.children(node).find(|child| tree.tag(*child) == tag);
        let name = tree.words(part(Tag::FieldLabel)?).strip_prefix("data-")?.to_owned();
        let value = here(tree, part(Tag::FieldEntry)?)?;
        Some(DataField { name, value })
    };
    tree.nodes().filter(|node| tree.tag(*node) == Tag::MetadataField).filter_map(field).collect()
}

impl Notation {
    /// What messages call it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Cml => "CML",
            Self::Smiles => "SMILES",
        }
    }
}
