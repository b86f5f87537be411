//! An item of 2.1, 2.2 or 3.0.

use super::key;
use super::names::Tag;
use super::tree::{NodeId, Tree};
use super::{Choice, DataField, MOST_DRAWINGS, Notation, Place, Question, Shown, Words};
use crate::source::Span;
use crate::xml::plain_value;
use rustc_hash::FxHashMap;

/// A choice interaction.
struct Interaction {
    /// The identifier of its response.
    response: String,
    choices: Vec<Choice>,
}

/// The choice interactions of an item, in the order of the document.
#[derive(Default)]
struct Interactions {
    list: Vec<Interaction>,
    places: FxHashMap<NodeId, usize>,
}

impl Interactions {
    fn add(&mut self, node: NodeId, response: String) {
        self.places.insert(node, self.list.len());
        self.list.push(Interaction { response, choices: Vec::new() });
    }

    /// The interaction that holds a choice.
    fn holder(&mut self, tree: &Tree, choice: NodeId) -> Option<&mut Interaction> {
        let holder = tree.around(choice).find(|node| tree.tag(*node) == Tag::ChoiceInteraction)?;
        self.list.get_mut(*self.places.get(&holder)?)
    }
}

/// Reads an item.
pub(super) fn read(tree: &Tree, root: NodeId) -> Question {
    let text = |name: &str| tree.value(root, name);
    let mut question = Question {
        identifier: text("identifier"),
        label: text("label"),
        tool: text("toolName").or_else(|| text("tool-name")),
        title: text("title").unwrap_or_default(),
        prose: collapsed(&tree.prose),
        span: tree.span(root),
        ..Question::default()
    };
    let mut interactions = Interactions::default();
    // The latest object that draws outside of choices, whose parameters may follow.
    let mut latest: Option<NodeId> = None;
    for node in tree.nodes().skip(1) {
        match tree.tag(node) {
            Tag::ChoiceInteraction => {
                let name = tree.value(node, "responseIdentifier").or_else(|| tree.value(node, "response-identifier"));
                let response = name.unwrap_or_default();
                interactions.add(node, response);
            }
            Tag::SimpleChoice => {
                if let Some(own) = interactions.holder(tree, node) {
                    own.choices.push(choice(tree, node));
                }
            }
            Tag::Object if object(tree, node, &mut question, &mut interactions) => latest = Some(node),
            Tag::Param => {
                if latest.is_some()
                    && tree.parent(node) == latest
                    && tree.value(node, "name").as_deref() == Some("role")
                    && let Some(shown) = question.shown.last_mut()
                {
                    shown.role = tree.value(node, "value").map(|value| value.to_ascii_lowercase());
                }
            }
            _ => {}
        }
        if tree.tag(node) != Tag::SimpleChoice {
            question.fields.extend(fields(tree, node));
        }
    }
    // Of several interactions the first whose choices are drawn is the question.
    let drawn = interactions.list.iter().position(|own| own.choices.iter().any(Choice::is_drawn)).unwrap_or(0);
    if let Some(own) = interactions.list.into_iter().nth(drawn) {
        question.key = key::of_response(tree, &own.response, &own.choices);
        question.choices = own.choices;
    }
    question
}

fn choice(tree: &Tree, node: NodeId) -> Choice {
    let smiles = tree.attributes(node).find(|(name, _)| *name == "data-smiles").map(|(_, span)| words(tree, span));
    let identifier = tree.value(node, "identifier").unwrap_or_default();
    Choice { identifier, shown: None, smiles: smiles.filter(|words| !words.text.trim().is_empty()) }
}

/// Takes an object that draws: as a choice's, or as the item's, which is said. What an object holds for those who cannot show it
/// is passed over.
fn object(tree: &Tree, node: NodeId, question: &mut Question, interactions: &mut Interactions) -> bool {
    let Some(drawn) = shown(tree, node) else { return false };
    question.drawings += 1;
    if question.drawings > MOST_DRAWINGS {
        return false;
    }
    let is_fallback = |holder: NodeId| tree.tag(holder) == Tag::Object && shown(tree, holder).is_some();
    if tree.around(node).any(|holder| tree.tag(holder).is_aside() || is_fallback(holder)) {
        return false;
    }
    let Some(holder) = tree.around(node).find(|holder| tree.tag(*holder) == Tag::SimpleChoice) else {
        question.shown.push(drawn);
        return true;
    };
    if let Some(choice) = interactions.holder(tree, holder).and_then(|own| own.choices.last_mut()) {
        choice.shown.get_or_insert(drawn);
    }
    false
}

fn shown(tree: &Tree, node: NodeId) -> Option<Shown> {
    let file = tree.value(node, "data")?;
    let notation = notation(tree.value(node, "type").as_deref(), &file)?;
    Some(Shown { notation, place: Place::File(file), role: None, span: tree.span(node) })
}

/// The notation that a media type says, or, where that says nothing of chemistry, the ending of a file.
pub(super) fn notation(kind: Option<&str>, file: &str) -> Option<Notation> {
    let kind = kind.map(|kind| kind.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    match kind.as_deref() {
        Some("chemical/x-cml" | "application/x-cml") => Some(Notation::Cml),
        Some("chemical/x-daylight-smiles") => Some(Notation::Smiles),
        Some(other) if other.starts_with("image/") => None,
        _ => super::paths::notation(file),
    }
}

/// The fields that an element carries as data.
fn fields(tree: &Tree, node: NodeId) -> impl Iterator<Item = DataField> {
    let field = |(name, span): (&str, Span)| {
        let name = name.strip_prefix("data-")?.to_owned();
        let value = words(tree, span);
        (!value.text.trim().is_empty()).then_some(DataField { name, value })
    };
    tree.attributes(node).filter_map(field)
}

fn words(tree: &Tree, span: Span) -> Words {
    let raw = span.of(&tree.source);
    let text = plain_value(raw);
    Words { plain: text == raw, text: text.into_owned(), span }
}

/// A text whose words are set apart by single spaces.
pub(super) fn collapsed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
