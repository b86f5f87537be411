//! Names of atoms as our own output spells them: an element symbol before the label (`C4`), or before the position in a drawing
//! without labels (`C#4`).

use super::{AtomName, DrawnArrow, Place};
use crate::structure::{Element, Label, LabelIndex, Structure};

/// A name taken apart: the element, whether a position is meant, the label, the hydrogen of that atom.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Spelt {
    pub(super) element: Element,
    is_position: bool,
    pub(super) label: Label,
    hydrogen: Option<u32>,
}

/// Takes a name apart, if it is spelt so.
pub(super) fn spelt(name: &str) -> Option<Spelt> {
    let letters = name.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (symbol, rest) = name.split_at(letters);
    let element = Element::from_symbol(symbol.as_bytes())?;
    let (rest, is_position) = rest.strip_prefix('#').map_or((rest, false), |rest| (rest, true));
    let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
    let (number, suffix) = rest.split_at(digits);
    let label = Label::from_text(number);
    let hydrogen = match suffix.strip_prefix('h') {
        Some("") => Some(1),
        Some(count) if count.len() < 5 => Some(count.parse().ok().filter(|which| *which > 0)?),
        None if suffix.is_empty() => None,
        _ => return None,
    };
    matches!(label, Label::Number(_)).then_some(Spelt { element, is_position, label, hydrogen })
}

/// Whether some name may be spelt so.
#[must_use]
pub fn any(arrows: &[DrawnArrow]) -> bool {
    let is_spelt = |name: &AtomName| matches!(&name.label, Label::Name(own) if spelt(own).is_some());
    arrows.iter().any(|arrow| names(&arrow.tail).chain(names(&arrow.head)).any(is_spelt))
}

/// Names the atoms of arrows by their labels alone, where they are spelt with the symbol of their element. A label that is itself
/// spelt so wins. Says whether it changed any.
pub fn read(arrows: &mut [DrawnArrow], start: &Structure, labels: &LabelIndex, by_position: bool) -> bool {
    let is_label = |name: &Label| labels.get(name).is_some();
    read_names(arrows, by_position, is_label, |number, element| {
        labels.get(&Label::Number(number)).is_some_and(|atom| start.atom(atom).element == element)
    })
}

/// The same where labels are numbers, given by whether an atom with this label is of this element.
pub fn read_with(arrows: &mut [DrawnArrow], by_position: bool, is_of: impl Fn(u32, Element) -> bool) -> bool {
    read_names(arrows, by_position, |_| false, is_of)
}

fn read_names(
    arrows: &mut [DrawnArrow],
    by_position: bool,
    is_label: impl Fn(&Label) -> bool,
    is_of: impl Fn(u32, Element) -> bool,
) -> bool {
    let mut changed = false;
    let mut name = |name: &mut AtomName| {
        let Label::Name(own) = &name.label else { return };
        if is_label(&name.label) {
            return;
        }
        let Some(spelt) = spelt(own).filter(|spelt| by_position || !spelt.is_position) else { return };
        if matches!(spelt.label, Label::Number(number) if is_of(number, spelt.element)) {
            (name.label, name.hydrogen) = (spelt.label, spelt.hydrogen);
            changed = true;
        }
    };
    for arrow in arrows {
        for place in [&mut arrow.tail, &mut arrow.head] {
            match place {
                Place::Atom(a) => name(a),
                Place::Bond(a, b) => {
                    name(a);
                    name(b);
                }
            }
        }
    }
    changed
}

fn names(place: &Place<AtomName>) -> impl Iterator<Item = &AtomName> {
    let (first, second) = match place {
        Place::Atom(a) => (a, None),
        Place::Bond(a, b) => (a, Some(b)),
    };
    std::iter::once(first).chain(second)
}
