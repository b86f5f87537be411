//! The tags of an XML part that was read before, with their places: enough to change some of them and leave every other byte.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::Range;

/// A tag.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tag<'x> {
    /// Its first byte and the one behind its last.
    pub(super) start: usize,
    pub(super) end: usize,
    /// All of it, angle brackets included.
    pub(super) text: &'x [u8],
    pub(super) is_end: bool,
    /// Whether it is an element without content, in one tag.
    pub(super) is_empty: bool,
}

impl<'x> Tag<'x> {
    /// The name as it is written, prefix and all.
    pub(super) fn name(&self) -> &'x [u8] {
        let own = self.text.get(1 + usize::from(self.is_end)..).unwrap_or_default();
        let end = own.iter().position(|byte| byte.is_ascii_whitespace() || matches!(byte, b'/' | b'>'));
        own.get(..end.unwrap_or(own.len())).unwrap_or_default()
    }

    /// The name without its prefix.
    pub(super) fn local(&self) -> &'x [u8] {
        local(self.name())
    }

    /// The prefix with its colon.
    pub(super) fn prefix(&self) -> &'x [u8] {
        let name = self.name();
        name.get(..name.len() - local(name).len()).unwrap_or_default()
    }

    /// Whether it opens an element with content.
    pub(super) fn opens(&self) -> bool {
        !self.is_end && !self.is_empty
    }

    /// The attributes: the bytes of each with the space before it, its name, its raw value.
    fn attributes(&self) -> Vec<(Range<usize>, &'x [u8], &'x [u8])> {
        let text = self.text;
        let mut at = 1 + self.name().len();
        let mut all = Vec::new();
        loop {
            let from = at;
            let skip = |at: usize| {
                let rest = text.get(at..).unwrap_or_default();
                at + rest.iter().take_while(|byte| byte.is_ascii_whitespace()).count()
            };
            let name_start = skip(at);
            let rest = text.get(name_start..).unwrap_or_default();
            let length = rest.iter().take_while(|byte| !byte.is_ascii_whitespace() && !b"=/>".contains(byte)).count();
            let equals = skip(name_start + length);
            if length == 0 || text.get(equals) != Some(&b'=') {
                return all;
            }
            let open = skip(equals + 1);
            let Some(quote) = text.get(open).copied().filter(|byte| matches!(byte, b'"' | b'\'')) else { return all };
            let value = text.get(open + 1..).unwrap_or_default();
            let Some(close) = memchr::memchr(quote, value) else { return all };
            at = open + 1 + close + 1;
            all.push((from..at, rest.get(..length).unwrap_or_default(), value.get(..close).unwrap_or_default()));
        }
    }

    /// The value of an attribute by its name without prefix.
    pub(super) fn attribute(&self, name: &str) -> Option<Cow<'x, str>> {
        let (_, _, value) = self.attributes().into_iter().find(|(_, own, _)| local(own) == name.as_bytes())?;
        unescaped(value)
    }

    /// The value of an attribute that is a number.
    pub(super) fn number(&self, name: &str) -> Option<u32> {
        self.attribute(name)?.trim().parse().ok()
    }

    /// The beginning of the tag without these attributes, up to where another may stand: `<c r="A1" s="2"`.
    pub(super) fn without(&self, names: &[&str]) -> Vec<u8> {
        let mut out = self.text.get(..=self.name().len()).unwrap_or_default().to_vec();
        for (range, name, _) in self.attributes() {
            if !names.iter().any(|own| local(name) == own.as_bytes()) {
                out.extend_from_slice(self.text.get(range).unwrap_or_default());
            }
        }
        out
    }

    /// The tag with an attribute set to a number, or without it where the number is 1.
    pub(super) fn repeated(&self, name: &str, times: u32) -> Vec<u8> {
        let local_name = name.rsplit(':').next().unwrap_or(name);
        let mut out = self.without(&[local_name]);
        if times > 1 {
            out.extend_from_slice(format!(" {name}=\"{times}\"").as_bytes());
        }
        out.extend_from_slice(if self.is_empty { b"/>" } else { b">" });
        out
    }
}

/// A name without its prefix.
fn local(name: &[u8]) -> &[u8] {
    memchr::memrchr(b':', name).map_or(name, |at| name.get(at + 1..).unwrap_or_default())
}

/// The tags of a part, in order. Comments, instructions and character data are passed over.
pub(super) struct Tags<'x> {
    bytes: &'x [u8],
    at: usize,
}

impl<'x> Tags<'x> {
    pub(super) fn new(bytes: &'x [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// Passes the element that a tag opens; gives the byte behind it, and whether an element of this name is in it.
    pub(super) fn pass(&mut self, tag: &Tag<'_>, holds: &[u8]) -> (usize, bool) {
        if !tag.opens() {
            return (tag.end, false);
        }
        let (mut depth, mut found) = (1_usize, false);
        for own in self.by_ref() {
            found |= !own.is_end && own.local() == holds;
            if own.is_end {
                depth -= 1;
                if depth == 0 {
                    return (own.end, found);
                }
            } else if own.opens() {
                depth += 1;
            }
        }
        (self.bytes.len(), found)
    }
}

impl<'x> Iterator for Tags<'x> {
    type Item = Tag<'x>;

    fn next(&mut self) -> Option<Tag<'x>> {
        loop {
            let start = self.at + memchr::memchr(b'<', self.bytes.get(self.at..)?)?;
            let rest = self.bytes.get(start..)?;
            let passed = [(&b"<!--"[..], &b"-->"[..]), (b"<![CDATA[", b"]]>"), (b"<?", b"?>"), (b"<!", b">")];
            if let Some((_, close)) = passed.iter().find(|(open, _)| rest.starts_with(open)) {
                self.at = start + memchr::memmem::find(rest, close)? + close.len();
                continue;
            }
            let end = start + tag_length(rest)?;
            self.at = end;
            let text = self.bytes.get(start..end)?;
            let is_end = text.get(1) == Some(&b'/');
            let is_empty = !is_end && text.get(text.len().saturating_sub(2)) == Some(&b'/');
            return Some(Tag { start, end, text, is_end, is_empty });
        }
    }
}

/// The parts to which the workbook's relations lead, by their ids.
pub(super) fn related_parts(relations: &[u8]) -> BTreeMap<String, String> {
    let part = |target: &str| match target.strip_prefix('/') {
        Some(whole) => whole.to_owned(),
        None => format!("xl/{}", target.trim_start_matches("./")),
    };
    Tags::new(relations)
        .filter(|tag| tag.local() == b"Relationship" && !tag.is_end)
        .filter_map(|tag| Some((tag.attribute("Id")?.into_owned(), part(&tag.attribute("Target")?))))
        .collect()
}

/// Bytes of the tag with which a text begins. Values of attributes may hold a closing bracket.
fn tag_length(text: &[u8]) -> Option<usize> {
    let mut at = 1;
    loop {
        at += memchr::memchr3(b'>', b'"', b'\'', text.get(at..)?)?;
        match text.get(at)? {
            b'>' => return Some(at + 1),
            quote => at += 2 + memchr::memchr(*quote, text.get(at + 1..)?)?,
        }
    }
}

/// A text with its references resolved; `None` where it is no UTF-8 or has a reference that XML does not define.
pub(super) fn unescaped(raw: &[u8]) -> Option<Cow<'_, str>> {
    let text = std::str::from_utf8(raw).ok()?;
    if !text.contains('&') {
        return Some(Cow::Borrowed(text));
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, behind)) = rest.split_once('&') {
        out.push_str(before);
        let (name, after) = behind.split_once(';')?;
        let by_number = |digits: &str, radix| u32::from_str_radix(digits, radix).ok().and_then(char::from_u32);
        out.push(match name {
            "amp" => '&',
            "lt" => '<',
            "gt" => '>',
            "quot" => '"',
            "apos" => '\'',
            _ => match name.strip_prefix('#')? {
                hex if hex.starts_with('x') => by_number(hex.get(1..)?, 16)?,
                digits => by_number(digits, 10)?,
            },
        });
        rest = after;
    }
    out.push_str(rest);
    Some(Cow::Owned(out))
}

#[cfg(test)]
mod tests {
    use super::Tags;

    #[test]
    fn tags_are_found_and_changed() {
        let text = b"<?xml version='1.0'?><a:s><!-- <c> --><a:c r = \"B2\" t='s' note=\"a > b &amp; c\"/><![CDATA[<c>]]></a:s>";
        let tags: Vec<_> = Tags::new(text).collect();
        let names: Vec<_> = tags.iter().map(|tag| String::from_utf8_lossy(tag.name()).into_owned()).collect();
        assert_eq!(names, ["a:s", "a:c", "a:s"]);
        let cell = &tags[1];
        assert_eq!(cell.attribute("note").as_deref(), Some("a > b & c"));
        assert_eq!(cell.without(&["t"]), b"<a:c r = \"B2\" note=\"a > b &amp; c\"");
        assert_eq!(cell.repeated("x:t", 3), b"<a:c r = \"B2\" note=\"a > b &amp; c\" x:t=\"3\"/>");
        assert!(cell.is_empty && tags[2].is_end && cell.prefix() == b"a:");
    }
}
