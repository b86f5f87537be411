//! Where in the text of an element one of its children has its content, so that it can be written over.

use crate::source::Span;
use quick_xml::Reader;
use quick_xml::events::Event;

/// The content of a child element, between its tags.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Content {
    /// Where it stands in the text of the parent.
    pub span: Span,
}

/// The element that begins a text; the empty text where it does not end, or none begins.
#[must_use]
pub fn whole_element(text: &str) -> &str {
    let mut whole = 0;
    walk(text, |_, end, depth, _| whole = if depth == 1 { end } else { whole });
    text.get(..whole).unwrap_or_default()
}

/// The contents of those children of an element that have this name and no prefix. `text` begins with the element; a
/// child without content (`<map/>`) has none.
#[must_use]
pub fn contents(text: &str, name: &str) -> Vec<Content> {
    let mut found = Vec::new();
    walk(text, |content, _, depth, own| {
        if depth == 2 && own == name {
            found.push(Content { span: content });
        }
    });
    found
}

/// Shows each element that ends, from the inside out: its content, the byte behind it, its depth from 1, its name.
fn walk(text: &str, mut ends: impl FnMut(Span, usize, usize, &str)) {
    let mut reader = Reader::from_str(text);
    let place = |at: u64| usize::try_from(at).unwrap_or(usize::MAX);
    let mut open: Vec<usize> = Vec::new();
    loop {
        let before = place(reader.buffer_position());
        match reader.read_event() {
            Ok(Event::Start(_)) => open.push(place(reader.buffer_position())),
            Ok(Event::End(tag)) => {
                let depth = open.len();
                let Some(start) = open.pop() else { return };
                ends(Span::new(start, before), place(reader.buffer_position()), depth, tag.name().as_ref());
                if open.is_empty() {
                    return;
                }
            }
            Ok(Event::Eof) | Err(_) => return,
            Ok(_) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{contents, whole_element};

    #[test]
    fn children_are_found_by_name() {
        let cases: [(&str, &[&str]); 6] = [
            ("<r><a>1</a><b>2</b></r>", &["1"]),
            ("<r x='>'>\n <a y=\"/>\">\n  <a>in</a>\n </a>\n</r><a>behind</a>", &["\n  <a>in</a>\n "]),
            ("<r><a/><a></a></r>", &[""]),
            ("<r><!-- <a>no</a> --><a><![CDATA[</a>]]></a></r>", &["<![CDATA[</a>]]>"]),
            ("<r><p:a>1</p:a></r>", &[]),
            ("<r><a>never</a> closed", &["never"]),
        ];
        let mut failures = Vec::new();
        for (text, expected) in cases {
            let found: Vec<&str> = contents(text, "a").iter().map(|content| content.span.of(text)).collect();
            if found != expected {
                failures.push(format!("{text}: {found:?}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
        assert_eq!(whole_element("<r x='>'><a/></r> <b/>"), "<r x='>'><a/></r>");
        assert_eq!(whole_element("<r><a>"), "");
    }
}
