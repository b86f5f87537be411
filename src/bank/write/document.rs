//! An item as a question of a CML document.

use super::super::item::{Accept, Drawing, Item, Step};
use super::plain;
use crate::cml::{self, ItemField, Reaction, Sequence};
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::{LabelIndex, Structure};

/// The question of an item.
///
/// # Errors
/// A drawing or the arrows of the item cannot be read.
pub(super) fn question(item: &Item, limits: &Limits) -> Result<Sequence, String> {
    let own_id = item.has_own_id.then(|| item.id.clone());
    let title = Some(item.prompt.clone()).filter(|prompt| !prompt.is_empty() && has_xml_id(item));
    let mut steps = Vec::with_capacity(item.steps.len());
    let mut before: Option<Structure> = None;
    for step in &item.steps {
        let reaction = reaction(step, before.take(), limits)?;
        before.clone_from(&reaction.answer);
        steps.push(reaction);
    }
    let fields = fields(item, limits);
    if let [only] = &mut steps[..] {
        (only.id, only.title) = (own_id, title);
        return Ok(Sequence { steps, fields, ..Sequence::default() });
    }
    Ok(Sequence { id: Some(item.id.clone()), title, steps, fields, span: Span::default() })
}

/// Whether the item has an id that is one in the document too; any other takes the place of the title.
fn has_xml_id(item: &Item) -> bool {
    item.has_own_id && cml::is_question_id(&item.id)
}

fn reaction(step: &Step, before: Option<Structure>, limits: &Limits) -> Result<Reaction, String> {
    let mut start = step.start.as_ref().map(|own| plain::structure(own, limits)).transpose()?;
    let mut arrows = step.arrows.as_ref().map(|own| plain::drawn_arrows(own, limits)).transpose()?;
    if let (Some(arrows), Some(drawn)) = (&mut arrows, start.as_ref().or(before.as_ref())) {
        plain::name_by_labels(arrows, drawn.clone());
    }
    if start.is_none() {
        // A step that goes on from an answer without labels calls its atoms by their places, which ids do not show there.
        start = before.filter(|answer| !answer.has_labels());
    }
    if let Some(start) = &mut start {
        start.label_by_position();
    }
    let answer = step.answer.as_ref().map(|own| plain::structure(own, limits)).transpose()?;
    for structure in start.iter().chain(&answer) {
        if let Some((_, again)) = LabelIndex::new(structure).repeated.first() {
            let label = structure.label(*again).map_or_else(String::new, |label| label.to_string());
            return Err(format!("two atoms of one drawing carry the label {label}; ids are unique"));
        }
    }
    Ok(Reaction { start, answer, arrows, ..Reaction::default() })
}

fn put(fields: &mut Vec<ItemField>, name: &str, value: &str) {
    if !value.is_empty() {
        fields.push(ItemField { name: name.to_owned(), value: value.to_owned(), span: Span::default() });
    }
}

/// What the language has no place for.
fn fields(item: &Item, limits: &Limits) -> Vec<ItemField> {
    let mut fields = Vec::new();
    if item.names_task() {
        put(&mut fields, "task", item.task.name());
    }
    let text = |field: Option<&super::super::Field>| field.map_or(String::new(), |field| field.text.clone());
    put(&mut fields, "major", &text(item.major.as_ref()));
    put(&mut fields, "accept", item.accept.map_or("", Accept::name));
    put(&mut fields, "omits", &text(item.omits.as_ref()));
    put(&mut fields, "key", &text(item.key.as_ref()));
    put(&mut fields, "tags", &item.tags);
    if !has_xml_id(item) {
        put(&mut fields, "prompt", &item.prompt);
    }
    for own in &item.answers {
        put(&mut fields, "answers", &drawing(own, limits));
    }
    for own in &item.options {
        // A blank option keeps its place: the key counts it.
        let value = drawing(own, limits);
        fields.push(ItemField { name: "options".to_owned(), value, span: Span::default() });
    }
    for (name, value) in &item.extra {
        let is_name = name.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.'));
        if is_name {
            put(&mut fields, name, value);
        }
    }
    fields
}

/// A drawing as the text of a field: as it is, but with its labels as ids where it has any.
fn drawing(drawing: &Drawing, limits: &Limits) -> String {
    let text = match drawing {
        Drawing::Text(field) if field.text.trim().is_empty() => return String::new(),
        Drawing::Text(field) => field.text.trim(),
        Drawing::Read(_) => "",
    };
    match plain::structure(drawing, limits) {
        Ok(structure) if (structure.has_labels() && !text.starts_with('<')) || text.is_empty() => {
            cml::write_molecule(&structure).0.split('\n').map(str::trim).collect()
        }
        _ => text.to_owned(),
    }
}
