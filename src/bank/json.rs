//! JSON Lines and JSON arrays: one object an item.

use super::chunk::Chunk;
use super::fields::{Collector, Name, option_number};
use super::item::{Arrows, BadRecord, Drawing, Field, Item, Record, Slot, Step, Tasks, Writing};
use crate::source::Span;
use serde::de::{Deserializer, MapAccess, Visitor};
use serde_json::value::RawValue;
use std::borrow::Cow;

/// How objects become items.
pub struct JsonReader<'a> {
    /// How tasks are named.
    pub tasks: Tasks<'a>,
    /// The file's name in ids of items that have none.
    pub file: &'a str,
    /// Whether unknown fields are kept.
    pub keep_extra: bool,
    /// Maps a key of the bank to a field's name (a profile); gives back what it does not map.
    pub rename: &'a (dyn Fn(&str) -> String + Sync),
}

/// The members of an object in the order of the text, repeated keys included.
struct Members<'a>(Vec<(Cow<'a, str>, &'a RawValue)>);

impl<'de: 'a, 'a> serde::Deserialize<'de> for Members<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Members<'de>;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Self::Value, M::Error> {
                let mut members = Vec::new();
                while let Some(key) = map.next_key::<Key<'de>>()? {
                    members.push((key.0, map.next_value()?));
                }
                Ok(Members(members))
            }
        }
        deserializer.deserialize_map(Collect)
    }
}

/// A key, borrowed where it has no escapes.
#[derive(serde::Deserialize)]
struct Key<'a>(#[serde(borrow)] Cow<'a, str>);

impl JsonReader<'_> {
    /// Reads the objects of a chunk.
    #[must_use]
    pub fn read(&self, chunk: &Chunk) -> Vec<Record> {
        let mut line = chunk.first_line;
        let mut seen = 0;
        let mut records = Vec::with_capacity(chunk.records.len());
        for span in &chunk.records {
            let whole = span.of(&chunk.text);
            let text = whole.trim();
            let start = span.start as usize + (whole.len() - whole.trim_start().len());
            line += super::chunk::line_breaks(chunk.text.as_bytes().get(seen..start).unwrap_or_default());
            seen = start;
            // JSON refuses control characters, so that the id of a record with bad bytes would be lost.
            let bare = (!chunk.bad_bytes.is_empty()).then(|| text.replace('\u{1a}', "?"));
            let item = self.item(bare.as_deref().unwrap_or(text), start, line);
            let content = chunk.whole(item, (start, span.end as usize));
            records.push(Record { line, content });
        }
        records
    }

    fn item(&self, text: &str, offset: usize, line: u32) -> Result<Item, BadRecord> {
        let Members(members) = serde_json::from_str(text).map_err(|error| syntax(text, offset, &error))?;
        let mut object = Object { text, offset, collector: Collector::default(), id: None, rename: self.rename };
        let mut seen: Vec<&str> = Vec::new();
        for (key, value) in &members {
            if seen.contains(&key.as_ref()) {
                return Err(object.bad(value, format!("the field '{key}' stands twice in one item: keep one")));
            }
            seen.push(key);
            match Name::from_text(&(self.rename)(key)) {
                Some(name) => object.take(name, value)?,
                // A text is kept as what it says, any other value as it is written.
                None if self.keep_extra => match serde_json::from_str::<String>(value.get()) {
                    Ok(text) => object.collector.extra(key, &text),
                    Err(_) => object.collector.extra(key, value.get()),
                },
                None => {}
            }
        }
        if object.collector.is_short_of_fields() {
            let is_unknown = |key: &&str| Name::from_text(&(self.rename)(key)).is_none();
            object.collector.unknown_names(seen.iter().copied().filter(is_unknown));
        }
        for (name, key) in [(Name::Answer, "answer"), (Name::Arrows, "arrows"), (Name::Key, "key")] {
            if object.collector.lacks(name)
                && let Some(slot) = object.slot(&members, name, key, &|key| (self.rename)(key))
            {
                object.collector.slot(name, slot);
            }
        }
        object.collector.finish(self.tasks, || super::place_name(self.file, line))
    }
}

/// An object on its way to an item.
struct Object<'a> {
    text: &'a str,
    offset: usize,
    collector: Collector,
    id: Option<String>,
    rename: &'a (dyn Fn(&str) -> String + Sync),
}

impl Object<'_> {
    /// Where a value stands in the chunk.
    fn span(&self, value: &RawValue) -> Span {
        let start = self.offset + (value.get().as_ptr() as usize).saturating_sub(self.text.as_ptr() as usize);
        Span::new(start, start + value.get().len())
    }

    fn bad(&self, value: &RawValue, message: String) -> BadRecord {
        BadRecord { is_item: true, id: self.id.clone(), message, span: self.span(value) }
    }

    /// Where a field that is absent or blank could be written: over its blank value, or behind the last member of its object
    /// in the manner of the first ones.
    fn slot(
        &self,
        members: &[(Cow<'_, str>, &RawValue)],
        name: Name,
        key: &str,
        rename: &dyn Fn(&str) -> String,
    ) -> Option<Slot> {
        let writing = Writing::JsonString;
        let is_named = |own: &str| Name::from_text(&rename(own)) == Some(name);
        if let Some((_, value)) = members.iter().find(|(own, _)| is_named(own)) {
            return Some(Slot { span: self.span(value), before: String::new(), writing });
        }
        let (first, last) = (self.span(members.first()?.1), self.span(members.last()?.1));
        let text = |from: u32, to: u32| self.text.get(from as usize - self.offset..to as usize - self.offset);
        let before = text(self.offset as u32, first.start)?;
        let colon = before.rfind('"').map(|quote| &before[quote + 1..])?;
        let comma = match members.get(1) {
            Some((_, second)) => {
                let between = text(first.end, self.span(second).start)?;
                between.find('"').map(|quote| &between[..quote])?
            }
            None => ", ",
        };
        let before = format!("{comma}\"{key}\"{colon}");
        is_named(key).then(|| Slot { span: Span::at(last.end as usize), before, writing })
    }

    fn take(&mut self, name: Name, value: &RawValue) -> Result<(), BadRecord> {
        if value.get() == "null" {
            return Ok(());
        }
        let is_list = value.get().starts_with('[');
        match name {
            Name::Answers if is_list => {
                for own in self.list(value)? {
                    let field = self.field(own)?;
                    self.collector.answer(field);
                }
            }
            // Options by their letters or numbers.
            Name::Options if value.get().starts_with('{') => self.options(value)?,
            Name::Options if is_list => {
                for own in self.list(value)? {
                    let field = self.field(own)?;
                    self.collector.next_option(field);
                }
            }
            Name::Steps => self.steps(value)?,
            Name::Arrows if is_list => {
                let field = self.joined(value, "\n")?;
                self.collector.take(name, field);
            }
            Name::Omits if is_list => {
                let field = self.joined(value, ".")?;
                self.collector.take(name, field);
            }
            Name::Tags | Name::Key if is_list => {
                let field = self.joined(value, ", ")?;
                self.collector.take(name, field);
            }
            _ => {
                let field = self.field(value)?;
                if name == Name::Id {
                    self.id = Some(field.text.clone());
                }
                self.collector.take(name, field);
            }
        }
        Ok(())
    }

    fn options(&mut self, value: &RawValue) -> Result<(), BadRecord> {
        let Members(members) = serde_json::from_str(value.get())
            .map_err(|error| syntax(value.get(), self.span(value).start as usize, &error))?;
        for (key, own) in members {
            let Some(at) = option_number(&key) else {
                return Err(self.bad(own, format!("'{key}' names no option: expected A, B, … or 1, 2, …")));
            };
            if let Some(field) = self.present(own)? {
                self.collector.take(Name::Option(at), field);
            }
        }
        Ok(())
    }

    fn list<'v>(&self, value: &'v RawValue) -> Result<Vec<&'v RawValue>, BadRecord> {
        serde_json::from_str(value.get()).map_err(|_| self.bad(value, "expected a list".to_owned()))
    }

    fn joined(&self, value: &RawValue, with: &str) -> Result<Field, BadRecord> {
        let fields: Vec<Field> = self.list(value)?.into_iter().map(|own| self.field(own)).collect::<Result<_, _>>()?;
        if let [only] = fields.as_slice() {
            return Ok(only.clone());
        }
        let text = fields.iter().map(|field| field.text.as_str()).collect::<Vec<_>>().join(with);
        Ok(Field { text, start: self.span(value).start, writing: Writing::Joined })
    }

    /// A string, or a number as it is written (ids and keys are often numbers).
    fn field(&self, value: &RawValue) -> Result<Field, BadRecord> {
        let raw = value.get();
        let start = self.span(value).start;
        if raw.starts_with('"') {
            let text: String = serde_json::from_str(raw).map_err(|error| syntax(raw, start as usize, &error))?;
            return Ok(Field { text, start, writing: Writing::JsonString });
        }
        if raw.starts_with(|first: char| first == '-' || first.is_ascii_digit()) {
            return Ok(Field { text: raw.to_owned(), start, writing: Writing::Plain });
        }
        Err(self.bad(value, "expected a text in quotes".to_owned()))
    }

    fn steps(&mut self, value: &RawValue) -> Result<(), BadRecord> {
        for (at, own) in self.list(value)?.into_iter().enumerate() {
            let Members(members) = serde_json::from_str(own.get())
                .map_err(|_| self.bad(own, "expected an object for each step".to_owned()))?;
            let mut step = Step { number: at as u32 + 1, ..Step::default() };
            for (key, value) in &members {
                match Name::from_text(&(self.rename)(key)) {
                    Some(Name::Start) => step.start = self.present(value)?.map(Drawing::Text),
                    Some(Name::Answer) => step.answer = self.present(value)?.map(Drawing::Text),
                    Some(Name::Arrows) if value.get().starts_with('[') => {
                        step.arrows = Some(Arrows::Text(self.joined(value, "\n")?));
                    }
                    Some(Name::Arrows) => step.arrows = self.present(value)?.map(Arrows::Text),
                    Some(Name::Step) => {
                        let number = self.field(value)?.text.trim().parse().ok().filter(|number| *number > 0);
                        step.number = number.ok_or_else(|| {
                            self.bad(value, format!("{} is no number of a step: expected 1, 2, …", value.get()))
                        })?;
                    }
                    Some(Name::Omits) => self.take(Name::Omits, value)?,
                    _ => {}
                }
            }
            if step.answer.is_none() {
                step.answer_slot = self.slot(&members, Name::Answer, "answer", &|key| (self.rename)(key));
            }
            if step.arrows.is_none() {
                step.arrows_slot = self.slot(&members, Name::Arrows, "arrows", &|key| (self.rename)(key));
            }
            self.collector.next_step(step);
        }
        Ok(())
    }

    fn present(&self, value: &RawValue) -> Result<Option<Field>, BadRecord> {
        if value.get() == "null" {
            return Ok(None);
        }
        self.field(value).map(|field| (!field.is_blank()).then_some(field))
    }
}

/// A JSON error as a bad record at its place.
fn syntax(text: &str, offset: usize, error: &serde_json::Error) -> BadRecord {
    let line_start: usize = text.split_inclusive('\n').take(error.line().saturating_sub(1)).map(str::len).sum();
    let at = (line_start + error.column().saturating_sub(1)).min(text.len());
    let full = error.to_string();
    let sentence = full.split(" at line ").next().unwrap_or(&full);
    let message = format!("the item is no JSON object: {sentence}");
    BadRecord { is_item: true, id: None, message, span: Span::new(offset + at, offset + at + 1) }
}
