//! Drawings of an item that the judgement of its steps does not keep.

use crate::bank::{Drawing, Field, Item, Step};
use crate::findings::Context;
use crate::findings::role::Role;
use crate::findings::verdict::StepAudit;
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

/// By step: the stated answer, where the judgement did not come to it and it can be read.
#[must_use]
pub fn answers(context: &Context<'_>, item: &Item, steps: &[StepAudit]) -> Vec<Option<Structure>> {
    let read = |(stated, audit): (&Step, &StepAudit)| {
        let drawing = stated.answer.as_ref().filter(|_| audit.answer.is_none())?;
        let drawn = context.reader().read(drawing, Role::Answer, &mut Vec::new());
        drawn.usable.then_some(drawn.structure)
    };
    item.steps.iter().zip(steps).map(read).collect()
}

/// What an item leaves out on purpose, species by species, and whether any other may be left out too; `None` where the field cannot be
/// read.
#[must_use]
pub fn omits(context: &Context<'_>, field: &Field) -> Option<(bool, Vec<Structure>)> {
    let (mut any, mut all) = (false, Vec::new());
    let mut passed_over = Vec::new();
    for part in field.parts() {
        let named: Vec<&str> = part.text.split('.').filter(|species| *species != "*").collect();
        any |= part.text.split('.').any(|species| species == "*");
        if named.is_empty() {
            continue;
        }
        let text = named.join(".");
        let drawn = context.reader().read(&Drawing::Text(Field { text, ..part }), Role::Omits, &mut passed_over);
        if !drawn.usable {
            return None;
        }
        let (of_atom, count) = drawn.structure.species();
        let own = |species: usize| drawn.structure.part(|atom| of_atom[atom.index()] as usize == species);
        all.extend((0..count).map(own));
    }
    Some((any, all))
}
