//! Which choice is keyed: by a stated correct response, else by response processing that is a plain match.

use super::names::Tag;
use super::tree::{NodeId, Tree};
use super::{Choice, Words};
use crate::source::Span;

/// Which choice is keyed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Key {
    /// There is nothing to be keyed.
    #[default]
    None,
    /// The identifiers of the keyed choices.
    Stated(Vec<Words>),
    /// No key was found: what was sought.
    Sought(&'static str),
}

const SOUGHT: &str = "sought in correctResponse, in a mapping with one best choice, and in response processing that is a \
                      plain match with one choice";

/// A choice and what it scores.
struct Score {
    identifier: Words,
    score: f64,
}

/// The key of a response of 2.1 to 3.0.
pub(super) fn of_response(tree: &Tree, response: &str, choices: &[Choice]) -> Key {
    if choices.is_empty() {
        return Key::None;
    }
    let stated = correct_response(tree, response);
    if !stated.is_empty() {
        return Key::Stated(stated);
    }
    let best = best(&mappings(tree, response)).or_else(|| best(&matches(tree, response)?));
    best.map_or(Key::Sought(SOUGHT), |identifier| Key::Stated(vec![identifier]))
}

/// Whether a node is the declaration of this response.
fn declares(tree: &Tree, node: NodeId, response: &str) -> bool {
    tree.value(node, "identifier").as_deref() == Some(response)
}

fn correct_response(tree: &Tree, response: &str) -> Vec<Words> {
    let is_own = |node: &NodeId| {
        let declaration = tree
            .parent_of(*node, Tag::CorrectResponse)
            .and_then(|parent| tree.parent_of(parent, Tag::ResponseDeclaration));
        tree.tag(*node) == Tag::Value && declaration.is_some_and(|node| declares(tree, node, response))
    };
    tree.nodes().filter(is_own).filter_map(|node| words(tree, node)).collect()
}

fn mappings(tree: &Tree, response: &str) -> Vec<Score> {
    let score = |node: NodeId| {
        let declaration =
            tree.parent_of(node, Tag::Mapping).and_then(|parent| tree.parent_of(parent, Tag::ResponseDeclaration))?;
        let number = tree.value(node, "mappedValue").or_else(|| tree.value(node, "mapped-value"))?;
        let key = tree.value(node, "mapKey").or_else(|| tree.value(node, "map-key"))?;
        let identifier = Words { text: key, span: tree.span(node), plain: false };
        declares(tree, declaration, response).then_some(Score { identifier, score: number.parse().ok()? })
    };
    tree.nodes().filter(|node| tree.tag(*node) == Tag::MapEntry).filter_map(score).collect()
}

/// What the conditions of response processing score; `None` where one that scores is no plain match.
fn matches(tree: &Tree, response: &str) -> Option<Vec<Score>> {
    let mut scores = Vec::new();
    for node in tree.nodes().filter(|node| matches!(tree.tag(*node), Tag::ResponseIf | Tag::ResponseElseIf)) {
        let score = tree.children(node).filter_map(|child| outcome(tree, child)).fold(0.0, f64::max);
        if score > 0.0 {
            let identifier = tree.children(node).find_map(|child| plain_match(tree, child, response))?;
            scores.push(Score { identifier, score });
        }
    }
    Some(scores)
}

/// The number that an element sets an outcome to.
fn outcome(tree: &Tree, node: NodeId) -> Option<f64> {
    let value = tree.children(node).find(|child| tree.tag(*child) == Tag::BaseValue)?;
    (tree.tag(node) == Tag::SetOutcomeValue).then(|| tree.words(value).parse().ok())?
}

/// The identifier that an element matches the response with, if it does no more than that.
fn plain_match(tree: &Tree, node: NodeId, response: &str) -> Option<Words> {
    let sides: Vec<NodeId> = tree.children(node).take(3).collect();
    let [a, b] = sides[..] else { return None };
    let (variable, value) = if tree.tag(a) == Tag::Variable { (a, b) } else { (b, a) };
    let fits = tree.tag(node) == Tag::Match
        && tree.tag(variable) == Tag::Variable
        && tree.tag(value) == Tag::BaseValue
        && declares(tree, variable, response);
    fits.then(|| words(tree, value))?
}

/// The key of a response of 1.2.
pub(super) fn of_conditions(tree: &Tree, response: &str, choices: &[Choice]) -> Key {
    if choices.is_empty() {
        return Key::None;
    }
    let scores = conditions(tree, response);
    let best = scores.as_deref().and_then(best);
    best.map_or(Key::Sought("sought in respcondition elements that compare with one choice"), |identifier| {
        Key::Stated(vec![identifier])
    })
}

fn conditions(tree: &Tree, response: &str) -> Option<Vec<Score>> {
    let mut scores = Vec::new();
    for node in tree.nodes().filter(|node| tree.tag(*node) == Tag::RespCondition) {
        let sets = |child: &NodeId| {
            tree.tag(*child) == Tag::SetVar
                && tree.value(*child, "action").is_none_or(|action| matches!(&*action, "Set" | "Add"))
        };
        let score = tree.children(node).filter(sets).filter_map(|child| tree.words(child).parse().ok());
        let score = score.fold(0.0, f64::max);
        if score > 0.0 {
            let identifier = tree.children(node).find_map(|child| single_value(tree, child, response))?;
            scores.push(Score { identifier, score });
        }
    }
    Some(scores)
}

/// The one value that a condition compares the response with.
fn single_value(tree: &Tree, node: NodeId, response: &str) -> Option<Words> {
    let parts: Vec<NodeId> = tree.children(node).take(2).collect();
    let [only] = parts[..] else { return None };
    let fits = tree.tag(node) == Tag::ConditionVar
        && tree.tag(only) == Tag::VarEqual
        && tree.value(only, "respident").is_none_or(|own| own == response);
    fits.then(|| words(tree, only))?
}

/// The choice that alone scores most.
fn best(scores: &[Score]) -> Option<Words> {
    let most = scores.iter().map(|own| own.score).filter(|score| *score > 0.0).fold(0.0, f64::max);
    let mut of_most = scores.iter().filter(|own| own.score >= most && most > 0.0);
    let first = of_most.next()?;
    of_most.all(|own| own.identifier.text == first.identifier.text).then(|| first.identifier.clone())
}

fn words(tree: &Tree, node: NodeId) -> Option<Words> {
    let own = tree.text(node)?;
    let text = own.content.trim();
    let start = own.start as usize + (own.content.len() - own.content.trim_start().len());
    (!text.is_empty()).then(|| Words {
        text: text.to_owned(),
        span: Span::new(start, start + text.len()),
        plain: own.plain,
    })
}
