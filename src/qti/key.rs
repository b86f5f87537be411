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

/// Choices that score together, and what they score.
struct Score {
    identifiers: Vec<Words>,
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
    let several = is_multiple(tree, response);
    let best = best(&mappings(tree, response), several).or_else(|| best(&matches(tree, response)?, several));
    best.map_or(Key::Sought(SOUGHT), Key::Stated)
}

/// Whether several choices are to be chosen.
fn is_multiple(tree: &Tree, response: &str) -> bool {
    let declaration = |node: &NodeId| tree.tag(*node) == Tag::ResponseDeclaration && declares(tree, *node, response);
    let cardinality = tree.nodes().find(declaration).and_then(|node| tree.value(node, "cardinality"));
    cardinality.is_some_and(|own| own.eq_ignore_ascii_case("multiple"))
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
        declares(tree, declaration, response)
            .then_some(Score { identifiers: vec![identifier], score: number.parse().ok()? })
    };
    tree.nodes().filter(|node| tree.tag(*node) == Tag::MapEntry).filter_map(score).collect()
}

/// What the conditions of response processing score; `None` where one that scores is no plain match.
fn matches(tree: &Tree, response: &str) -> Option<Vec<Score>> {
    let mut scores = Vec::new();
    for node in tree.nodes().filter(|node| matches!(tree.tag(*node), Tag::ResponseIf | Tag::ResponseElseIf)) {
        let score = tree.children(node).filter_map(|child| outcome(tree, child)).fold(0.0, f64::max);
        if score > 0.0 {
            let identifiers = tree.children(node).find_map(|child| plain_match(tree, child, response))?;
            scores.push(Score { identifiers, score });
        }
    }
    Some(scores)
}

/// The number that an element sets an outcome to.
fn outcome(tree: &Tree, node: NodeId) -> Option<f64> {
    let value = tree.children(node).find(|child| tree.tag(*child) == Tag::BaseValue)?;
    (tree.tag(node) == Tag::SetOutcomeValue).then(|| tree.words(value).parse().ok())?
}

/// The identifiers that an element matches the response with, if it does no more than that.
fn plain_match(tree: &Tree, node: NodeId, response: &str) -> Option<Vec<Words>> {
    let sides: Vec<NodeId> = tree.children(node).take(3).collect();
    let [a, b] = sides[..] else { return None };
    let (variable, value) = if tree.tag(a) == Tag::Variable { (a, b) } else { (b, a) };
    if !matches!(tree.tag(node), Tag::Match | Tag::Member)
        || tree.tag(variable) != Tag::Variable
        || !declares(tree, variable, response)
    {
        return None;
    }
    let base_value = |node: NodeId| (tree.tag(node) == Tag::BaseValue).then(|| words(tree, node))?;
    match tree.tag(value) {
        Tag::Multiple if tree.tag(node) == Tag::Match => tree.children(value).map(base_value).collect(),
        _ => Some(vec![base_value(value)?]),
    }
}

/// The key of a response of 1.2; `several` choices are to be chosen or one.
pub(super) fn of_conditions(tree: &Tree, response: &str, several: bool, choices: &[Choice]) -> Key {
    if choices.is_empty() {
        return Key::None;
    }
    let best = conditions(tree, response).and_then(|scores| best(&scores, several));
    best.map_or(Key::Sought("sought in respcondition elements that compare with one choice"), Key::Stated)
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
            let condition = tree.children(node).find(|child| tree.tag(*child) == Tag::ConditionVar)?;
            scores.push(Score { identifiers: values(tree, condition, response)?, score });
        }
    }
    Some(scores)
}

/// The values that a condition wants all of, those that it does not want left out; `None` for a condition of another kind.
fn values(tree: &Tree, condition: NodeId, response: &str) -> Option<Vec<Words>> {
    let is_own = |node: NodeId| {
        tree.value(node, "respident").is_none_or(|own| own == response) && tree.children(node).next().is_none()
    };
    let mut found = Vec::new();
    let mut open: Vec<NodeId> = tree.children(condition).collect();
    open.reverse();
    while let Some(node) = open.pop() {
        match tree.tag(node) {
            Tag::VarEqual if is_own(node) => found.push(words(tree, node)?),
            Tag::And => {
                let inside: Vec<NodeId> = tree.children(node).collect();
                open.extend(inside.into_iter().rev());
            }
            Tag::Not if tree.children(node).all(|child| tree.tag(child) == Tag::VarEqual && is_own(child)) => {}
            _ => return None,
        }
    }
    (!found.is_empty()).then_some(found)
}

/// What alone scores most. Where several choices are to be chosen and each scores for itself, all that score.
fn best(scores: &[Score], several: bool) -> Option<Vec<Words>> {
    let most = scores.iter().map(|own| own.score).filter(|score| *score > 0.0).fold(0.0, f64::max);
    let scoring = || scores.iter().filter(|own| own.score > 0.0);
    if several && scoring().all(|own| own.identifiers.len() == 1) {
        let mut all: Vec<Words> = Vec::new();
        for own in scoring().flat_map(|own| &own.identifiers) {
            if all.iter().all(|before| before.text != own.text) {
                all.push(own.clone());
            }
        }
        return (!all.is_empty()).then_some(all);
    }
    let mut of_most = scoring().filter(|own| own.score >= most);
    let first = of_most.next()?;
    let same =
        |own: &Score| own.identifiers.iter().map(|own| &own.text).eq(first.identifiers.iter().map(|own| &own.text));
    let fits = (several || first.identifiers.len() == 1) && of_most.all(same);
    fits.then(|| first.identifiers.clone())
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
