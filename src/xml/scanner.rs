//! Tokens of a document: elements with resolved namespaces, attributes with their places, text.

use super::XmlProblem;
use super::bounded::{Bounded, Position};
use crate::limits::Limits;
use crate::source::{Span, clipped};
use quick_xml::Reader;
use quick_xml::events::attributes::AttrError;
use quick_xml::events::{BytesStart, Event};
use std::borrow::Cow;
use std::io::BufRead;

/// An attribute as written. The places count from the `<` of its element.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RawAttribute {
    /// The name, prefix included.
    pub(crate) name: Span,
    /// The value between the quotes, before references are resolved.
    pub(crate) value: Span,
}

/// A piece of a document.
#[derive(Debug)]
pub(crate) enum Token<'a> {
    /// A start tag; an empty element is a start tag and an end tag.
    Start {
        /// The namespace, if any.
        namespace: Option<&'a str>,
        /// The name without its prefix.
        name: &'a str,
        /// Its attributes, without declarations of namespaces.
        attributes: &'a [RawAttribute],
        /// The tag from its `<`.
        tag: &'a str,
        /// Where the tag starts in the document, in bytes.
        at: u64,
    },
    /// An end tag.
    End,
    /// Text, or a resolved reference, and where it starts in the document, in bytes.
    Text(Cow<'a, str>, u64),
    /// The end of the document.
    Eof,
}

struct Binding {
    depth: usize,
    prefix: Box<str>,
    namespace: Box<str>,
}

/// Reads tokens within limits. After a problem there is no more to read.
pub(crate) struct Scanner<R> {
    reader: Reader<Bounded<R>>,
    buffer: Vec<u8>,
    bindings: Vec<Binding>,
    attributes: Vec<RawAttribute>,
    /// The names of the open elements, one after the other, and where each starts.
    open_names: String,
    open: Vec<usize>,
    /// Where the latest token starts.
    start: Position,
    seen_element: bool,
    keeping: bool,
    /// Whether a DOCTYPE that declares nothing itself is passed over.
    passes_doctype: bool,
    limits: Limits,
}

impl<R: BufRead> Scanner<R> {
    pub(crate) fn new(source: R, limits: &Limits) -> Self {
        let mut reader = Reader::from_reader(Bounded::new(source, limits.record_bytes));
        reader.config_mut().expand_empty_elements = true;
        Self {
            reader,
            buffer: Vec::new(),
            bindings: Vec::new(),
            attributes: Vec::new(),
            open_names: String::new(),
            open: Vec::new(),
            start: Position::default(),
            seen_element: false,
            keeping: false,
            passes_doctype: false,
            limits: limits.clone(),
        }
    }

    /// Passes over a DOCTYPE that only names a file: it is not opened, and no entity is known but those of XML. One that
    /// declares anything itself is refused all the same.
    pub(crate) fn passing_doctype(mut self) -> Self {
        self.passes_doctype = true;
        self
    }

    /// Where the latest token starts.
    pub(crate) fn start(&self) -> Position {
        self.start
    }

    /// How many elements are open.
    pub(crate) fn depth(&self) -> usize {
        self.open.len()
    }

    /// Keeps the text from the start of the latest token on, until it is taken.
    fn keep(&mut self) {
        self.keeping = true;
    }

    /// Whether the text that is being kept is still whole.
    fn keeps_all(&self) -> bool {
        self.reader.get_ref().kept().1
    }

    /// The kept text, and whether it is all there is of it.
    pub(crate) fn take_kept(&mut self) -> (String, bool) {
        self.keeping = false;
        let (bytes, whole) = self.reader.get_ref().kept();
        (String::from_utf8_lossy(bytes).into_owned(), whole)
    }

    /// Hands on the tokens of the element whose start tag is the latest one, up to its end; gives its text, and nothing where that
    /// passes the cap on a record: what was handed on is then only its beginning.
    pub(crate) fn gather(&mut self, mut take: impl FnMut(&Token<'_>)) -> Result<Option<String>, XmlProblem> {
        let depth = self.depth();
        self.keep();
        while self.depth() >= depth {
            let is_whole = self.keeps_all();
            let token = self.next()?;
            if is_whole {
                take(&token);
            }
        }
        let (text, is_whole) = self.take_kept();
        Ok(is_whole.then_some(text))
    }

    /// The next token.
    pub(crate) fn next(&mut self) -> Result<Token<'_>, XmlProblem> {
        loop {
            self.prepare();
            // The event borrows the buffer until it is turned into a token, so it is read into a local one.
            let mut buffer = std::mem::take(&mut self.buffer);
            buffer.clear();
            let found = match self.reader.read_event_into(&mut buffer) {
                Ok(event) => EventKind::of(&event),
                Err(error) => return Err(self.problem(&error)),
            };
            self.buffer = buffer;
            match found? {
                EventKind::Start => return self.start_token(),
                EventKind::End => {
                    self.close();
                    return Ok(Token::End);
                }
                EventKind::Text => return Ok(Token::Text(plain_text(text_of(&self.buffer)), self.start.offset)),
                EventKind::Character(character) => {
                    return Ok(Token::Text(Cow::Owned(character.to_string()), self.start.offset));
                }
                EventKind::Verbatim => {
                    let at = self.start.offset + "<![CDATA[".len() as u64;
                    return Ok(Token::Text(plain_text(verbatim_of(&self.buffer)), at));
                }
                EventKind::Doctype if self.passes_doctype && !self.buffer.contains(&b'[') => {}
                EventKind::Doctype => return Err(XmlProblem::Doctype),
                EventKind::Nothing => {}
                EventKind::Eof => return self.end(),
            }
        }
    }

    fn prepare(&mut self) {
        let source = self.reader.get_mut();
        self.start = source.position();
        source.allow(self.limits.record_bytes);
        if !self.keeping {
            source.keep_from_here();
        }
    }

    fn start_token(&mut self) -> Result<Token<'_>, XmlProblem> {
        if self.open.len() >= self.limits.nesting {
            return Err(XmlProblem::Limit { limit: "nesting", cap: self.limits.nesting });
        }
        self.seen_element = true;
        let tag = text_of(&self.buffer);
        let content = tag.strip_prefix('<').unwrap_or(tag);
        let content = content.strip_suffix("/>").or_else(|| content.strip_suffix('>')).unwrap_or(content);
        let name_len = content.bytes().position(|b| b.is_ascii_whitespace()).unwrap_or(content.len());
        let element = BytesStart::from_content(content, name_len);
        self.open.push(self.open_names.len());
        self.open_names.push_str(&content[..name_len]);
        let depth = self.open.len();
        read_attributes(&element, content, depth, &self.limits, &mut self.attributes, &mut self.bindings)?;
        let (prefix, name) = content[..name_len].split_once(':').unwrap_or(("", &content[..name_len]));
        let bound = self.bindings.iter().rev().find(|binding| &*binding.prefix == prefix);
        let namespace = match bound {
            Some(binding) => Some(&*binding.namespace).filter(|namespace| !namespace.is_empty()),
            None if prefix.is_empty() => None,
            None => return Err(XmlProblem::UnboundPrefix(shortened(prefix))),
        };
        Ok(Token::Start { namespace, name, attributes: &self.attributes, tag, at: self.start.offset })
    }

    fn close(&mut self) {
        let depth = self.open.len();
        while self.bindings.last().is_some_and(|binding| binding.depth >= depth) {
            self.bindings.pop();
        }
        if let Some(start) = self.open.pop() {
            self.open_names.truncate(start);
        }
    }

    /// The name of the innermost open element.
    fn innermost(&self) -> Option<&str> {
        self.open.last().map(|start| &self.open_names[*start..])
    }

    fn end(&self) -> Result<Token<'_>, XmlProblem> {
        match self.innermost() {
            Some(name) => Err(XmlProblem::Unclosed(shortened(name))),
            None if !self.seen_element => Err(XmlProblem::Empty),
            None => Ok(Token::Eof),
        }
    }

    fn problem(&self, error: &quick_xml::Error) -> XmlProblem {
        if self.reader.get_ref().is_exhausted() {
            return XmlProblem::Limit { limit: "record-bytes", cap: self.limits.record_bytes };
        }
        match error {
            quick_xml::Error::Encoding(_) => XmlProblem::NotUtf8,
            quick_xml::Error::Io(error) => XmlProblem::Source(error.to_string()),
            quick_xml::Error::Syntax(_) => match self.innermost() {
                Some(name) => XmlProblem::Unclosed(shortened(name)),
                None => XmlProblem::Malformed(error.to_string()),
            },
            other => XmlProblem::Malformed(shortened(&other.to_string())),
        }
    }
}

/// What kind of event the buffer holds. The event itself borrows the buffer and is let go.
enum EventKind {
    Start,
    End,
    Text,
    Verbatim,
    Character(char),
    Doctype,
    Nothing,
    Eof,
}

impl EventKind {
    fn of(event: &Event) -> Result<Self, XmlProblem> {
        Ok(match event {
            Event::Start(_) | Event::Empty(_) => Self::Start,
            Event::End(_) => Self::End,
            Event::Text(_) => Self::Text,
            Event::CData(_) => Self::Verbatim,
            Event::GeneralRef(reference) => Self::Character(character(reference)?),
            Event::DocType(_) => Self::Doctype,
            Event::Eof => Self::Eof,
            Event::Decl(_) | Event::PI(_) | Event::Comment(_) => Self::Nothing,
        })
    }
}

fn character(reference: &quick_xml::events::BytesRef) -> Result<char, XmlProblem> {
    if let Ok(Some(character)) = reference.resolve_char_ref() {
        return Ok(character);
    }
    match &**reference {
        "amp" => Ok('&'),
        "lt" => Ok('<'),
        "gt" => Ok('>'),
        "quot" => Ok('"'),
        "apos" => Ok('\''),
        other => Err(XmlProblem::Entity(shortened(other))),
    }
}

/// The event's bytes, which quick-xml has found to be UTF-8.
fn text_of(buffer: &[u8]) -> &str {
    std::str::from_utf8(buffer).unwrap_or_default()
}

fn verbatim_of(buffer: &[u8]) -> &str {
    let text = text_of(buffer);
    text.strip_prefix("<![CDATA[").and_then(|text| text.strip_suffix("]]>")).unwrap_or(text)
}

/// Line breaks of a text as XML hands them on (XML 1.0, 2.11).
fn plain_text(text: &str) -> Cow<'_, str> {
    if text.contains('\r') { Cow::Owned(text.replace("\r\n", "\n").replace('\r', "\n")) } else { Cow::Borrowed(text) }
}

/// The value that an attribute's text stands for: references resolved, white space as spaces (XML 1.0, 3.3.3).
pub(crate) fn plain_value(raw: &str) -> Cow<'_, str> {
    if !raw.bytes().any(|b| matches!(b, b'&' | b'\n' | b'\r' | b'\t')) {
        return Cow::Borrowed(raw);
    }
    let spaced = raw.replace("\r\n", " ").replace(['\n', '\r', '\t'], " ");
    let value = quick_xml::escape::unescape(&spaced).map(Cow::into_owned);
    Cow::Owned(value.unwrap_or(spaced))
}

fn read_attributes(
    element: &BytesStart,
    content: &str,
    depth: usize,
    limits: &Limits,
    attributes: &mut Vec<RawAttribute>,
    bindings: &mut Vec<Binding>,
) -> Result<(), XmlProblem> {
    attributes.clear();
    for (count, attribute) in element.attributes().enumerate() {
        if count >= limits.attributes {
            return Err(XmlProblem::Limit { limit: "attributes", cap: limits.attributes });
        }
        let attribute = attribute.map_err(|error| attribute_problem(&error, content))?;
        let name: &str = attribute.key.as_ref();
        let value: &str = &attribute.value;
        if value.contains('&') {
            quick_xml::escape::unescape(value).map_err(|error| escape_problem(&error))?;
        }
        let prefix = if name == "xmlns" { Some("") } else { name.strip_prefix("xmlns:") };
        if let Some(prefix) = prefix {
            if bindings.len() >= limits.attributes {
                return Err(XmlProblem::Limit { limit: "attributes", cap: limits.attributes });
            }
            bindings.push(Binding { depth, prefix: prefix.into(), namespace: plain_value(value).into() });
        } else {
            attributes.push(RawAttribute { name: place_in(content, name), value: place_in(content, value) });
        }
    }
    Ok(())
}

/// Where a part of a tag's content is, counted from the `<` before it.
fn place_in(content: &str, part: &str) -> Span {
    let start = (part.as_ptr().addr()).saturating_sub(content.as_ptr().addr()) + 1;
    Span::new(start, start + part.len())
}

fn attribute_problem(error: &AttrError, content: &str) -> XmlProblem {
    match error {
        AttrError::Duplicated(at, _) => {
            let rest = content.get(*at..).unwrap_or_default();
            let end = rest.find(|c: char| c == '=' || c.is_whitespace()).unwrap_or(rest.len());
            XmlProblem::RepeatedAttribute(shortened(&rest[..end]))
        }
        other => XmlProblem::Malformed(other.to_string()),
    }
}

fn escape_problem(error: &quick_xml::escape::EscapeError) -> XmlProblem {
    match error {
        quick_xml::escape::EscapeError::UnrecognizedEntity(_, name) => XmlProblem::Entity(shortened(name)),
        other => XmlProblem::Malformed(other.to_string()),
    }
}

/// A name from a document as a message shows it: names can be as long as a record.
fn shortened(text: &str) -> String {
    clipped(text, 60)
}
