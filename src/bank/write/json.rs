//! One JSON object a line.

use super::plain::{Plain, PlainStep};
use serde_json::{Map, Value};
use std::io::{self, Write};

/// Writes an item as a line.
pub(super) fn write(out: &mut impl Write, item: &Plain) -> io::Result<()> {
    let mut object = Map::new();
    let mut put = |name: &str, text: Option<&str>| {
        if let Some(text) = text.filter(|text| !text.is_empty()) {
            object.insert(name.to_owned(), Value::from(text));
        }
    };
    put("id", item.id.as_deref());
    put("task", item.names_task.then(|| item.task.name()));
    if let [only] = &item.steps[..] {
        put("start", only.start.as_deref());
        put("arrows", only.arrows.as_deref());
        put("answer", only.answer.as_deref());
    }
    put("major", item.major.as_deref());
    put("accept", item.accept);
    put("omits", item.omits.as_deref());
    put("key", item.key.as_deref());
    put("prompt", Some(&item.prompt));
    put("tags", Some(&item.tags));
    if item.steps.len() > 1 {
        object.insert("steps".to_owned(), item.steps.iter().map(step).collect());
    }
    for (name, list) in [("answers", &item.answers), ("options", &item.options)] {
        if !list.is_empty() {
            object.insert(name.to_owned(), list.iter().map(|text| Value::from(text.as_str())).collect());
        }
    }
    for (name, text) in &item.extra {
        // Lists and objects of other people come from JSON as they are written there.
        let nested = text.starts_with(['[', '{']).then(|| serde_json::from_str(text).ok()).flatten();
        let value = nested.unwrap_or_else(|| Value::from(text.as_str()));
        object.entry(name.clone()).or_insert(value);
    }
    writeln!(out, "{}", Value::Object(object))
}

fn step(step: &PlainStep) -> Value {
    let fields = [("start", &step.start), ("arrows", &step.arrows), ("answer", &step.answer)];
    let stated = fields.into_iter().filter_map(|(name, text)| Some((name.to_owned(), Value::from(text.as_deref()?))));
    Value::Object(stated.collect())
}
