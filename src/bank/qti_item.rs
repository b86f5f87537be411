//! One item of QTI as an item of a bank: its drawings and arrows from companions and data, its options from choices.

use super::chunk::{Chunk, Part};
use super::cml::CmlSource;
use super::fields::{Collector, Name};
use super::item::{BadRecord, Drawing, Field, Item, Record, Writing};
use super::key::letter;
use super::qti::Place;
use super::reaction_smiles::ReactionSmilesReader;
use super::source::{OpenError, ReadAgain, Settings, decoded};
use crate::qti::{self, Choice, DataField, Key, MOST_DRAWINGS, Notation, Question, Shown, Words, resolve};
use crate::source::Span;
use std::io::{Cursor, Read};
use std::sync::Arc;

/// What became of an item.
pub(super) enum Outcome {
    /// It has no chemistry.
    NotOurs,
    Item(Box<Item>),
    Bad(BadRecord),
}

/// Makes an item.
pub(super) struct Builder<'a> {
    question: &'a Question,
    chunk: Chunk,
    place: Option<Place<'a>>,
    /// The name of the package, or of the document.
    name: &'a str,
    settings: &'a Arc<Settings>,
}

/// What a companion holds.
enum Companion {
    /// A question, with its places in the chunk.
    Question(Box<Item>),
    /// A drawing.
    Drawing(Drawing),
    /// Nothing of this item, and why.
    None(String),
}

/// The program by whose items a label is an id that is no identifier.
pub(super) const TOOL: &str = "keyassay";

impl<'a> Builder<'a> {
    pub(super) fn new(
        question: &'a Question,
        chunk: Chunk,
        place: Option<Place<'a>>,
        name: &'a str,
        settings: &'a Arc<Settings>,
    ) -> Self {
        Self { question, chunk, place, name, settings }
    }

    /// The item, and the text in which its places are found.
    pub(super) fn build(mut self, default_id: impl FnOnce() -> String) -> (Chunk, Outcome) {
        let outcome = match self.item(default_id) {
            Ok(Some(item)) => Outcome::Item(Box::new(item)),
            Ok(None) => Outcome::NotOurs,
            Err((message, span)) => {
                Outcome::Bad(BadRecord { is_item: true, id: self.question.identifier.clone(), message, span })
            }
        };
        (self.chunk, outcome)
    }

    fn item(&mut self, default_id: impl FnOnce() -> String) -> Result<Option<Item>, (String, Span)> {
        let question = self.question;
        let mut own = Collector::default();
        let mut states = false;
        let mut has_task = false;
        for DataField { name, value } in &question.fields {
            let Some(name) = Name::from_text(name) else { continue };
            states |= matches!(name, Name::Start | Name::Arrows | Name::Answer | Name::Answers);
            has_task |= name == Name::Task;
            own.take(name, field(value));
        }
        let mut own = own.finish(self.settings.tasks(), String::new).map_err(|bad| (bad.message, bad.span))?;
        let mut item = self.shown(&mut own, &mut states)?;
        if item.is_none() && !states {
            item = self.unshown()?;
        }
        if item.is_none() && !states {
            return Ok(None);
        }
        if question.drawings > MOST_DRAWINGS {
            return Err((format!("the item shows more than {MOST_DRAWINGS} drawings"), question.span));
        }
        let mut item = item.map_or(own.clone(), |base| filled(base, own, has_task));
        self.names(&mut item, default_id);
        self.choices(&mut item)?;
        Ok(Some(item))
    }

    /// Reads what the item shows outside of its choices: a question is the item, drawings are fields of `own`.
    fn shown(&mut self, own: &mut Item, states: &mut bool) -> Result<Option<Item>, (String, Span)> {
        let question = self.question;
        let mut item: Option<Item> = None;
        let mut bare = None;
        let mut seen: Vec<&qti::Place> = Vec::new();
        for shown in &question.shown {
            let twice = seen.contains(&&shown.place);
            // One file may be shown once for its start and once for its answer.
            if twice && matches!(shown.place, qti::Place::File(_)) && item.is_some() {
                continue;
            }
            seen.push(&shown.place);
            match self.companion(shown)? {
                Companion::Question(found) if item.is_none() => item = Some(*found),
                Companion::Question(_) => {
                    return Err((
                        "the item shows several reactions; one of them can be its question".to_owned(),
                        shown.span,
                    ));
                }
                Companion::None(why) => return Err((why, shown.span)),
                Companion::Drawing(drawing) => {
                    let step = own.steps.first_mut();
                    match (shown.role.as_deref(), step) {
                        (Some("start"), Some(step)) => drop(step.start.get_or_insert(drawing)),
                        (Some("answer"), Some(step)) => drop(step.answer.get_or_insert(drawing)),
                        (Some("answers" | "contributor"), _) => own.answers.push(drawing),
                        _ => {
                            bare.get_or_insert(drawing);
                            continue;
                        }
                    }
                    *states = true;
                }
            }
        }
        // A drawing without a role is the start of an item that states something else.
        if let (true, None, Some(step)) = (*states, &item, own.steps.first_mut())
            && let Some(bare) = bare
        {
            step.start.get_or_insert(bare);
        }
        Ok(item)
    }

    /// The question among the companions that belong to the item by the manifest and that it does not show.
    fn unshown(&mut self) -> Result<Option<Item>, (String, Span)> {
        let companions: Vec<String> = self.place.as_ref().map_or_else(Vec::new, |place| place.companions.to_vec());
        let span = self.question.span;
        let mut found: Option<Item> = None;
        for path in companions {
            let notation = if path.to_ascii_lowercase().ends_with("cml") { Notation::Cml } else { Notation::Smiles };
            let text = self.read(&path).map_err(|message| (message, span))?;
            let before = (self.chunk.text.len(), self.chunk.parts.len());
            match self.file(&path, &text, notation, None, span)? {
                Companion::Question(_) if found.is_some() => {
                    let message = "several reactions belong to the item by the manifest; show the one that it asks for";
                    return Err((message.to_owned(), span));
                }
                Companion::Question(item) => found = Some(*item),
                Companion::Drawing(_) | Companion::None(_) => {
                    self.chunk.text.truncate(before.0);
                    self.chunk.parts.truncate(before.1);
                }
            }
        }
        Ok(found)
    }

    /// Reads what one element shows.
    fn companion(&mut self, shown: &Shown) -> Result<Companion, (String, Span)> {
        match &shown.place {
            qti::Place::Here(words) => {
                let trimmed = words.text.trim();
                let before = words.text.len() - words.text.trim_start().len();
                if words.plain && shown.notation == Notation::Smiles && !trimmed.contains('>') {
                    let start = words.span.start + before as u32;
                    let field = Field { text: trimmed.to_owned(), start, writing: Writing::Plain };
                    return Ok(Companion::Drawing(Drawing::Text(field)));
                }
                let at = self.chunk.spot(words.span);
                let file = String::new();
                let part = Part { start: 0, file, first_line: at.line, first_column: at.column.saturating_sub(1) };
                self.text(part, &words.text, shown.notation, None, shown.span)
            }
            qti::Place::File(href) => {
                let wrong = |message: String| (message, shown.span);
                let Some(place) = &self.place else {
                    return Err(wrong(format!(
                        "its drawing is in '{href}'; companions are read in a package: audit the zip file that holds both"
                    )));
                };
                let Some((path, fragment)) = resolve(place.folder, href) else {
                    return Err(wrong(format!("it shows '{href}', which is no file of the package")));
                };
                let text = self.read(&path).map_err(wrong)?;
                self.file(&path, &text, shown.notation, fragment.as_deref(), shown.span)
            }
        }
    }

    /// The text of a file of the package.
    fn read(&mut self, path: &str) -> Result<String, String> {
        let cap = self.settings.limits.record_bytes;
        let Some(place) = &mut self.place else { return Err(format!("there is no file '{path}'")) };
        let unpacked = place.package.read(path)?;
        let (text, _) =
            decoded(Box::new(unpacked), self.settings).map_err(|error| format!("the file '{path}' {error}"))?;
        let mut bytes = Vec::new();
        text.take(cap as u64 + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| format!("the file '{path}' cannot be read: {error}"))?;
        if bytes.len() > cap {
            return Err(format!("the file '{path}' passes the limit `record-bytes` of {cap}"));
        }
        let text = String::from_utf8(bytes).map_err(|_| format!("the file '{path}' is not UTF-8"))?;
        Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
    }

    fn file(
        &mut self,
        path: &str,
        text: &str,
        notation: Notation,
        fragment: Option<&str>,
        span: Span,
    ) -> Result<Companion, (String, Span)> {
        let part = Part { file: format!("{}/{path}", self.name), first_line: 1, ..Part::default() };
        self.text(part, text, notation, fragment, span)
    }

    /// Reads a companion's text, which becomes a part of the chunk.
    fn text(
        &mut self,
        part: Part,
        text: &str,
        notation: Notation,
        fragment: Option<&str>,
        span: Span,
    ) -> Result<Companion, (String, Span)> {
        let file = part.file.clone();
        match notation {
            Notation::Smiles => self.smiles(part, text).map_err(|message| (told(&file, &message), span)),
            Notation::Cml => self.cml(part, text, fragment).map_err(|message| (told(&file, &message), span)),
        }
    }

    fn smiles(&mut self, part: Part, text: &str) -> Result<Companion, String> {
        let mut lines = text.split(['\n', '\r']).filter(|line| !line.trim().is_empty());
        let (first, more) = (lines.next().unwrap_or_default(), lines.next());
        if more.is_some() {
            return Err("it has several lines; a companion holds one drawing or one reaction".to_owned());
        }
        let offset = first.as_ptr() as usize - text.as_ptr() as usize;
        let start = self.append(part, text) as usize;
        let line = Span::new(start + offset, start + offset + first.len());
        if !first.split('\t').next().unwrap_or_default().contains('>') {
            let drawn = first.split_whitespace().next().unwrap_or_default();
            let at = start + offset + (first.len() - first.trim_start().len());
            let field = Field { text: drawn.to_owned(), start: at as u32, writing: Writing::Plain };
            return Ok(Companion::Drawing(Drawing::Text(field)));
        }
        let reader = ReactionSmilesReader { tasks: self.settings.tasks(), file: self.name };
        let view = Chunk { text: self.chunk.text.clone(), first_line: 1, records: vec![line], ..Chunk::default() };
        match reader.read(&view).pop() {
            Some(Record { content: Ok(item), .. }) => Ok(Companion::Question(Box::new(item))),
            Some(Record { content: Err(bad), .. }) => Err(bad.message),
            None => Err("it holds no reaction".to_owned()),
        }
    }

    fn cml(&mut self, part: Part, text: &str, fragment: Option<&str>) -> Result<Companion, String> {
        let bytes: Arc<[u8]> = text.as_bytes().into();
        let again_bytes = Arc::clone(&bytes);
        let again: ReadAgain = Box::new(move || Ok(Box::new(Cursor::new(Arc::clone(&again_bytes))) as _));
        let source = CmlSource::open(self.name, Box::new(Cursor::new(bytes)), Some(again), self.settings);
        let mut source = match source {
            Ok(source) => source,
            Err(OpenError::NoItems(_)) => {
                let before = text.len() - text.trim_start().len();
                let start = self.append(part, text) + before as u32;
                let field = Field { text: text.trim().to_owned(), start, writing: Writing::Plain };
                return Ok(Companion::Drawing(Drawing::Text(field)));
            }
            Err(error) => return Err(error.to_string()),
        };
        let wanted = fragment.or(self.question.identifier.as_deref());
        let mut found: Option<(Chunk, Record)> = None;
        let (mut count, mut named) = (0, false);
        while let Some((chunk, records)) = source.next_records().map_err(|error| error.to_string())? {
            for record in records {
                count += 1;
                let id = match &record.content {
                    Ok(item) => item.has_own_id.then_some(item.id.as_str()),
                    Err(bad) => bad.id.as_deref(),
                };
                let is_named = id.is_some() && id == wanted;
                if !named && (is_named || found.is_none()) {
                    let (first_line, first_column) = (chunk.first_line, chunk.first_column);
                    let own = Chunk { text: chunk.text.clone(), first_line, first_column, ..Chunk::default() };
                    found = Some((own, record));
                    named = is_named;
                }
            }
        }
        let Some((chunk, record)) = found.filter(|_| named || count == 1) else {
            let what = format!("it holds {count} reactions and none that is called as the item");
            return Ok(Companion::None(told(&part.file, &what)));
        };
        let first_column = if chunk.first_line == 1 { part.first_column } else { 0 } + chunk.first_column;
        let part = Part { first_line: part.first_line + chunk.first_line - 1, first_column, ..part };
        let start = self.append(part, &chunk.text);
        match record.content {
            Ok(mut item) => {
                item.shift(start);
                Ok(Companion::Question(Box::new(item)))
            }
            Err(bad) => Err(bad.message),
        }
    }

    /// Puts a text behind that of the item, and says where it starts.
    fn append(&mut self, part: Part, text: &str) -> u32 {
        let start = self.chunk.text.len();
        self.chunk.text.push_str(text);
        self.chunk.parts.push(Part { start, ..part });
        start as u32
    }

    /// The id and the prompt. What a companion calls itself is no name of the item.
    fn names(&self, item: &mut Item, default_id: impl FnOnce() -> String) {
        let question = self.question;
        let is_ours = question.tool.as_deref() == Some(TOOL);
        let label = question.label.as_ref().filter(|_| is_ours);
        let own = label.or(question.identifier.as_ref());
        item.has_own_id = own.is_some();
        item.id = own.cloned().unwrap_or_else(default_id);
        if !is_ours || item.prompt.is_empty() {
            let prompt = if question.prose.is_empty() { &question.title } else { &question.prose };
            item.prompt.clone_from(prompt);
            if is_ours && question.prose.is_empty() {
                item.prompt.clear();
            }
        }
    }

    /// The options and the key, where the choices are drawn.
    fn choices(&mut self, item: &mut Item) -> Result<(), (String, Span)> {
        let question = self.question;
        if !question.choices.iter().any(Choice::is_drawn) {
            return Ok(());
        }
        if question.choices.len() > self.settings.limits.options {
            return Err((format!("the item has {} choices", question.choices.len()), question.span));
        }
        item.options.clear();
        for choice in &question.choices {
            let drawing = match (&choice.shown, &choice.smiles) {
                (_, Some(words)) => Drawing::Text(field(words)),
                (Some(shown), None) => match self.companion(shown)? {
                    Companion::Drawing(drawing) => drawing,
                    Companion::None(why) => return Err((why, shown.span)),
                    Companion::Question(_) => {
                        let message =
                            format!("the choice '{}' shows a reaction; a choice is a drawing", choice.identifier);
                        return Err((message, shown.span));
                    }
                },
                (None, None) => Drawing::Text(Field::default()),
            };
            item.options.push(drawing);
        }
        match &question.key {
            Key::None => {}
            Key::Sought(what) => item.key_sought = Some(what),
            Key::Stated(keyed) => item.key = Some(self.key(keyed)?),
        }
        Ok(())
    }

    fn key(&self, keyed: &[Words]) -> Result<Field, (String, Span)> {
        let span = keyed.first().map(|words| words.span).unwrap_or_default();
        if keyed.len() > self.question.choices.len() {
            return Err((format!("the key names {} choices of {}", keyed.len(), self.question.choices.len()), span));
        }
        let mut letters = Vec::new();
        for words in keyed {
            let Some(at) = self.question.choices.iter().position(|choice| choice.identifier == words.text) else {
                return Err((format!("the key names '{}', which no choice is called", words.text), words.span));
            };
            letters.push(letter(at));
        }
        Ok(Field { text: letters.join(", "), start: span.start, writing: Writing::Joined })
    }
}

/// A message about a companion.
fn told(file: &str, message: &str) -> String {
    if file.is_empty() { message.to_owned() } else { format!("{file}: {message}") }
}

/// A text of the item as a field.
fn field(words: &Words) -> Field {
    let writing = if words.plain { Writing::Plain } else { Writing::Joined };
    Field { text: words.text.clone(), start: words.span.start, writing }
}

/// A question of a companion, with what the item itself says where the companion says nothing.
fn filled(mut base: Item, own: Item, has_task: bool) -> Item {
    if has_task {
        base.task = own.task;
    }
    if let (Some(step), Some(more)) = (base.steps.last_mut(), own.steps.into_iter().next()) {
        step.answer = step.answer.take().or(more.answer);
        step.arrows = step.arrows.take().or(more.arrows);
        if step.start.is_none() && step.number == 0 {
            step.start = more.start;
        }
    }
    if base.answers.is_empty() {
        base.answers = own.answers;
    }
    base.major = base.major.take().or(own.major);
    base.accept = base.accept.or(own.accept);
    base.omits = base.omits.take().or(own.omits);
    base.key = base.key.take().or(own.key);
    if base.options.is_empty() {
        base.options = own.options;
    }
    if base.tags.is_empty() {
        base.tags = own.tags;
    }
    base
}
