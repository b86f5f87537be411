//! Arrows that count atoms from 0, as they are written: with the labels drawn, counted from 1, so that they are read the same under
//! the bank's profile, under another and under none.

use super::plain::{drawn_arrows, structure};
use crate::arrows::{AtomName, DrawnArrow, Place, notation, symbols};
use crate::bank::item::{Arrows, Drawing, Field, Item, Writing};
use crate::limits::Limits;
use crate::structure::{AtomId, Element, Label, LabelIndex, Structure};

/// The item with its labels drawn where its atoms have none. Starts with labels stay, and so does what cannot be read.
pub(super) fn from_one(item: &Item, limits: &Limits) -> Item {
    let mut item = Item { labels_from_zero: false, ..item.clone() };
    let mut before: Option<Drawing> = None;
    for step in &mut item.steps {
        let drawn = step.start.clone().or_else(|| before.clone());
        before.clone_from(&step.answer);
        let Some(Drawing::Text(field)) = drawn else { continue };
        let (Ok(own), Some(arrows)) = (structure(&Drawing::Text(field.clone()), limits), &step.arrows) else {
            continue;
        };
        let Ok(mut arrows) = drawn_arrows(arrows, limits) else { continue };
        let mut labelled = own.clone();
        if !labelled.label_by_position_from(0) {
            continue;
        }
        let Some(start) = with_labels(field.text.trim(), &own) else { continue };
        symbols::read(&mut arrows, &labelled, &LabelIndex::new(&labelled), true);
        let raised: Vec<DrawnArrow> = arrows.into_iter().map(raised).collect();
        step.start = Some(Drawing::Text(joined(start)));
        step.arrows = Some(Arrows::Text(joined(notation::write(&raised))));
    }
    item
}

fn joined(text: String) -> Field {
    Field { text, writing: Writing::Joined, ..Field::default() }
}

/// A SMILES without labels with the position of each atom, counted from 1, as its class; else as it was written.
fn with_labels(text: &str, structure: &Structure) -> Option<String> {
    let mut written = text.to_owned();
    let mut ids: Vec<AtomId> = structure.atom_ids().collect();
    // From the end, so that the places before stay where they are.
    ids.reverse();
    for (at, id) in ids.iter().enumerate() {
        let number = id.index() + 1;
        let span = structure.atom_span(*id);
        let places = span.start as usize..span.end as usize;
        let own = text.get(places.clone()).filter(|own| !own.is_empty())?;
        let atom = structure.atom(*id);
        let of_gas = |other: Option<&AtomId>| other.is_some_and(|other| structure.atom_span(*other) == span);
        let labelled = match own.strip_prefix('[').and_then(|own| own.strip_suffix(']')) {
            // Both atoms of hydrogen gas that is written as one.
            Some(_) if of_gas(ids.get(at + 1)) => continue,
            Some("HH" | "HH:0") if atom.element == Element::HYDROGEN => {
                format!("[H:{number}][H:{}]", number + 1)
            }
            Some(inner) => {
                let inner = inner.split(':').next().unwrap_or(inner);
                format!("[{inner}:{number}]")
            }
            None => match atom.hydrogens {
                0 => format!("[{own}:{number}]"),
                1 => format!("[{own}H:{number}]"),
                more => format!("[{own}H{more}:{number}]"),
            },
        };
        written.replace_range(places, &labelled);
    }
    Some(written)
}

fn raised(arrow: DrawnArrow) -> DrawnArrow {
    let name = |name: AtomName| match name.label {
        Label::Number(number) => AtomName { label: Label::Number(number.saturating_add(1)), ..name },
        Label::Name(_) => name,
    };
    let place = |place: Place<AtomName>| place.map(name);
    DrawnArrow { tail: place(arrow.tail), head: place(arrow.head), ..arrow }
}
