//! Loose notation that is common enough to be proven the quick way: hydrogen gas as programs write it, and other spellings of arrows.

use super::labels::Labels;
use super::sketch::Sketch;
use crate::arrows::{DrawnArrow, notation, symbols};
use crate::smiles::{LooseForm, LooseKind};
use crate::source::Span;
use crate::structure::Element;
use std::fmt::Write as _;

/// A drawing in which hydrogen gas is written `[HH]`, as the standard writes it; `None` where it is not in it.
#[cold]
pub(super) fn standard_drawing(text: &str) -> Option<(String, Vec<LooseForm>)> {
    let (mut standard, mut forms, mut from) = (String::new(), Vec::new(), 0);
    while let Some(at) = memchr::memmem::find(&text.as_bytes()[from..], b"[HH") {
        let start = from + at;
        let rest = text.get(start + 3..)?;
        let inside = rest.get(..memchr::memchr(b']', rest.as_bytes())?)?;
        let class = match inside.strip_prefix(':') {
            Some(digits) if (1..5).contains(&digits.len()) && digits.bytes().all(|own| own.is_ascii_digit()) => {
                digits.parse().ok().filter(|class| *class > 0)
            }
            None if inside.is_empty() => None,
            _ => return None,
        };
        let end = start + 4 + inside.len();
        let kind = LooseKind::HydrogenGas(None, class);
        let _ = write!(standard, "{}{kind}", &text[from..start]);
        forms.push(LooseForm { span: Span::new(start, end), kind });
        from = end;
        // It is a species of its own.
        let is_alone = |byte: Option<&u8>| byte.is_none_or(|byte| *byte == b'.');
        let before = start.checked_sub(1).and_then(|at| text.as_bytes().get(at));
        (is_alone(before) && is_alone(text.as_bytes().get(end))).then_some(())?;
    }
    standard.push_str(&text[from..]);
    (!forms.is_empty()).then_some((standard, forms))
}

/// The arrows of a field in another spelling; `None` where it is written in the notation or cannot be read.
#[cold]
pub(super) fn standard_arrows(text: &str, start: &Sketch, labels: &Labels) -> Option<Vec<DrawnArrow>> {
    let is_plain = |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'-' | b'>' | b'~' | b';' | b' ' | b'h' | b'\n');
    if text.as_bytes().iter().all(is_plain) {
        return None;
    }
    let mut reading = notation::read(text, super::LONGEST);
    (reading.faults.is_empty() && reading.normalised.is_empty()).then_some(())?;
    let is_element = |label: u32, element: Element| {
        let atom = u16::try_from(label).ok().and_then(|label| labels.atom(label));
        atom.is_some_and(|atom| start.atom(atom).element == element)
    };
    let is_changed = symbols::read_with(&mut reading.arrows, !start.has_labels(), is_element);
    (reading.is_loose || is_changed).then_some(reading.arrows)
}
