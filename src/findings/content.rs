//! Drawings of an item that the judgement of its steps does not keep.

use super::Context;
use super::drawing::Role;
use crate::bank::{Drawing, Item};
use crate::structure::Structure;

/// The drawn options of an item in order, localised; `None` where one is blank or cannot be read.
#[must_use]
pub fn options(context: &Context<'_>, item: &Item) -> Vec<Option<Structure>> {
    let mut passed_over = Vec::new();
    let read = |(at, drawing): (usize, &Drawing)| {
        if matches!(drawing, Drawing::Text(field) if field.is_blank()) {
            return None;
        }
        let drawn = context.reader().read(drawing, Role::Option(at), &mut passed_over);
        drawn.usable.then_some(drawn.structure)
    };
    item.options.iter().take(context.settings.limits.options).enumerate().map(read).collect()
}
