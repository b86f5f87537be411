//! Elements and attributes as text.

/// XML that is being written, indented by nesting.
#[derive(Debug, Default)]
pub(crate) struct Markup {
    text: String,
    open: Vec<&'static str>,
}

impl Markup {
    /// Opens an element. Its attributes are those with a value.
    pub(crate) fn open(&mut self, name: &'static str, attributes: &[(&str, Option<&str>)]) {
        self.tag(name, attributes, ">");
        self.open.push(name);
    }

    /// Writes an element without content.
    pub(crate) fn empty(&mut self, name: &'static str, attributes: &[(&str, Option<&str>)]) {
        self.tag(name, attributes, "/>");
    }

    /// Writes an element that holds text.
    pub(crate) fn leaf(&mut self, name: &'static str, attributes: &[(&str, Option<&str>)], text: &str) {
        self.tag(name, attributes, ">");
        self.text.pop();
        self.text.push_str(&escaped(text));
        self.text.push_str("</");
        self.text.push_str(name);
        self.text.push_str(">\n");
    }

    /// Closes the innermost element.
    pub(crate) fn close(&mut self) {
        if let Some(name) = self.open.pop() {
            self.indent();
            self.text.push_str("</");
            self.text.push_str(name);
            self.text.push_str(">\n");
        }
    }

    pub(crate) fn into_text(self) -> String {
        self.text
    }

    fn indent(&mut self) {
        for _ in 0..self.open.len() {
            self.text.push(' ');
        }
    }

    fn tag(&mut self, name: &str, attributes: &[(&str, Option<&str>)], end: &str) {
        self.indent();
        self.text.push('<');
        self.text.push_str(name);
        for (key, value) in attributes {
            if let Some(value) = value {
                self.text.push(' ');
                self.text.push_str(key);
                self.text.push_str("=\"");
                self.text.push_str(&escaped(value));
                self.text.push('"');
            }
        }
        self.text.push_str(end);
        self.text.push('\n');
    }
}

/// Text as it may stand in content and between double quotes. Line breaks and tabs are written as references, which a reader
/// does not turn into spaces; characters that XML has no way to write are left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' => out.push_str("&#10;"),
            '\r' => out.push_str("&#13;"),
            '\t' => out.push_str("&#9;"),
            c if is_writable(c) => out.push(c),
            _ => {}
        }
    }
    out
}

/// Whether XML 1.0 can carry a character (2.2, production 2).
pub(crate) fn is_writable(c: char) -> bool {
    !matches!(c, '\0'..='\x08' | '\x0b' | '\x0c' | '\x0e'..='\x1f' | '\u{fffe}' | '\u{ffff}')
}
