//! Arrows that count atoms from 0, as they are written: from 1, since no other bank knows of the profile.

use super::plain::{drawn_arrows, structure};
use crate::arrows::{AtomName, DrawnArrow, Place, notation, symbols};
use crate::bank::item::{Arrows, Field, Item, Writing};
use crate::limits::Limits;
use crate::structure::{Label, LabelIndex};

/// The item with its atoms counted from 1. Arrows on a start with labels stay, and so do those that cannot be read.
pub(super) fn from_one(item: &Item, limits: &Limits) -> Item {
    let mut item = Item { labels_from_zero: false, ..item.clone() };
    let mut before = None;
    for step in &mut item.steps {
        let start = step.start.as_ref().or(before.as_ref()).and_then(|own| structure(own, limits).ok());
        before.clone_from(&step.answer);
        let (Some(mut start), Some(arrows)) = (start, &step.arrows) else { continue };
        let Ok(mut drawn) = drawn_arrows(arrows, limits) else { continue };
        if !start.label_by_position_from(0) {
            continue;
        }
        symbols::read(&mut drawn, &start, &LabelIndex::new(&start), true);
        let raised: Vec<DrawnArrow> = drawn.into_iter().map(raised).collect();
        let text = notation::write(&raised);
        step.arrows = Some(Arrows::Text(Field { text, writing: Writing::Joined, ..Field::default() }));
    }
    item
}

fn raised(arrow: DrawnArrow) -> DrawnArrow {
    let name = |name: AtomName| match name.label {
        Label::Number(number) => AtomName { label: Label::Number(number.saturating_add(1)), ..name },
        Label::Name(_) => name,
    };
    let place = |place: Place<AtomName>| place.map(name);
    DrawnArrow { tail: place(arrow.tail), head: place(arrow.head), ..arrow }
}
