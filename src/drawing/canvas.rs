//! SVG text: shapes in bond lengths become elements in pixels; everything that comes from a bank is escaped here.

use super::geometry::Position;
use crate::source::turns_direction;
use std::fmt::Write as _;

/// Pixels of one bond length.
pub(super) const SCALE: f64 = 34.0;
/// Height of atom text in bond lengths.
pub(super) const TEXT: f64 = 0.5;
/// Height of subscripts, superscripts and charges.
pub(super) const SMALL: f64 = 0.37;
/// Height of atom labels and arrow numbers.
pub(super) const TINY: f64 = 0.3;
/// Height of capitals in parts of the text height, as sans-serif faces have it.
const CAPITAL: f64 = 0.716;

/// A growing picture and its extent.
#[derive(Debug, Default)]
pub(super) struct Canvas {
    body: String,
    low: Option<Position>,
    high: Position,
}

impl Canvas {
    /// Makes room for a point and a margin round it.
    pub(super) fn include(&mut self, point: Position, margin: f64) {
        let (low, high) = (point - Position::new(margin, margin), point + Position::new(margin, margin));
        let old = self.low.unwrap_or(low);
        self.high = if self.low.is_none() { high } else { self.high };
        self.low = Some(Position::new(old.x.min(low.x), old.y.min(low.y)));
        self.high = Position::new(self.high.x.max(high.x), self.high.y.max(high.y));
    }

    /// Lower left and upper right corner.
    pub(super) fn extent(&self) -> (Position, Position) {
        (self.low.unwrap_or_default(), self.high)
    }

    pub(super) fn body(&self) -> &str {
        &self.body
    }

    /// Adds text that is SVG already.
    pub(super) fn raw(&mut self, svg: &str) {
        self.body.push_str(svg);
    }

    /// Draws a list of lines as one path.
    pub(super) fn lines(&mut self, class: &str, attributes: &str, lines: &[(Position, Position)]) {
        if lines.is_empty() {
            return;
        }
        let _ = write!(self.body, "<path class=\"{class}\" {attributes} d=\"");
        for (from, to) in lines {
            let _ = write!(self.body, "M{} L{}", Point(*from), Point(*to));
        }
        self.body.push_str("\"/>");
    }

    /// Draws filled polygons as one path.
    pub(super) fn polygons(&mut self, class: &str, attributes: &str, polygons: &[Vec<Position>]) {
        if polygons.is_empty() {
            return;
        }
        let _ = write!(self.body, "<path class=\"{class}\" {attributes} d=\"");
        for polygon in polygons {
            for (at, point) in polygon.iter().enumerate() {
                let _ = write!(self.body, "{}{}", if at == 0 { "M" } else { "L" }, Point(*point));
            }
            self.body.push('Z');
        }
        self.body.push_str("\"/>");
    }

    /// Draws a cubic curve.
    pub(super) fn curve(&mut self, class: &str, curve: &[Position; 4]) {
        let [a, b, c, d] = curve.map(Point);
        let _ = write!(self.body, "<path class=\"{class}\" d=\"M{a}C{b} {c} {d}\"/>");
    }

    /// Draws a disc.
    pub(super) fn dot(&mut self, at: Position, radius: f64) {
        let _ = write!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            Number(at.x * SCALE),
            Number(-at.y * SCALE),
            Number(radius * SCALE)
        );
        self.include(at, radius);
    }

    /// Writes text with its middle at a point.
    pub(super) fn text(&mut self, at: Position, size: f64, text: &str) {
        let base = -at.y * SCALE + CAPITAL / 2.0 * size * SCALE;
        let _ = write!(self.body, "<text x=\"{}\" y=\"{}\"", Number(at.x * SCALE), Number(base));
        if (size - TEXT).abs() > 1e-9 {
            let _ = write!(self.body, " font-size=\"{}\"", Number(size * SCALE));
        }
        self.body.push('>');
        escape_into(&mut self.body, text);
        self.body.push_str("</text>");
        let half = width(text) * size / 2.0;
        self.include(at - Position::new(half, 0.0), size / 2.0);
        self.include(at + Position::new(half, 0.0), size / 2.0);
    }
}

/// Width of text in parts of its height, for the usual sans-serif faces (Helvetica metrics, rounded).
pub(super) fn width(text: &str) -> f64 {
    let advance = |c: char| match c {
        'I' | 'i' | 'l' | 'j' | '.' | ' ' | 't' | 'f' => 0.28,
        'r' | '-' => 0.34,
        'a'..='z' | '0'..='9' | '+' | '\u{2212}' => 0.56,
        'M' | 'W' => 0.88,
        'O' | 'Q' | 'G' => 0.78,
        _ => 0.7,
    };
    text.chars().map(advance).sum()
}

/// A point as SVG wants it: pixels, y downwards.
#[derive(Clone, Copy)]
struct Point(Position);

impl std::fmt::Display for Point {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{},{}", Number(self.0.x * SCALE), Number(-self.0.y * SCALE))
    }
}

/// A number with at most one decimal; what is no number is 0.
#[derive(Clone, Copy)]
pub(super) struct Number(pub(super) f64);

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let tenths = if self.0.is_finite() { (self.0 * 10.0).round() as i64 } else { 0 };
        let (sign, size) = (if tenths < 0 { "-" } else { "" }, tenths.unsigned_abs());
        if size % 10 == 0 { write!(f, "{sign}{}", size / 10) } else { write!(f, "{sign}{}.{}", size / 10, size % 10) }
    }
}

/// Text made safe for SVG and HTML. Controls and marks that turn the direction of writing are left out.
#[must_use]
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    escape_into(&mut out, text);
    out
}

fn escape_into(out: &mut String, text: &str) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(' '),
            '\u{FFFE}' | '\u{FFFF}' => {}
            c if c.is_control() || turns_direction(c) => {}
            c => out.push(c),
        }
    }
}
