//! The options of a multiple choice, each a small drawing in the places of the product: a tick where it is right, a ring where it
//! is keyed, and how it differs.

use super::panels::{Panel, STEPS};
use super::text::shown;
use crate::compare::{Compared, Difference, compare};
use crate::drawing::layout::{View, lay_out};
use crate::drawing::{Scene, fragments};
use crate::findings::{OptionAudit, StepAudit, option_letter};
use crate::structure::{AtomId, LabelIndex, Structure};

/// Options that a card draws.
const SHOWN: usize = 26;
/// Differences that a caption names.
const NAMED: usize = 3;
/// Characters of a caption.
const CAPTION: usize = 240;

struct Drawn<'a> {
    option: &'a OptionAudit,
    compared: Compared,
}

/// The options of a step.
pub(super) fn panels(step: &StepAudit) -> Vec<Panel> {
    let product = step.pushed.as_ref().map(|pushed| &pushed.product).or(step.start.as_ref());
    let Some(product) = product else { return Vec::new() };
    let labels = LabelIndex::new(product);
    let draw = |option| Drawn { option, compared: compare(product, &option.structure, &labels, STEPS) };
    let drawn: Vec<Drawn<'_>> = step.options.iter().take(SHOWN).map(draw).collect();
    let mut views = vec![View::same(product)];
    views.extend(drawn.iter().map(|own| View::mapped(&own.option.structure, &own.compared.mapping.to_computed)));
    let places = lay_out(&views);
    let mut scenes = Vec::new();
    for (own, coordinates) in drawn.iter().zip(places.iter().skip(1)) {
        let mut scene = Scene::new(&own.option.structure, coordinates, &[]);
        scene.title = format!("Option {}", option_letter(own.option.at));
        if own.option.is_right == Some(false) {
            scene.ringed_atoms = ringed(own);
        }
        scenes.push(scene);
    }
    let pictures = fragments(&scenes);
    let panel = |(own, svg): (&Drawn<'_>, String)| Panel { caption: caption(own, product), svg, note: "" };
    drawn.iter().zip(pictures).map(panel).collect()
}

/// `B ✓ right, ◯ keyed`, and of a wrong one what differs.
fn caption(own: &Drawn<'_>, product: &Structure) -> String {
    let OptionAudit { at, structure, is_keyed, is_right } = own.option;
    let judged = match is_right {
        Some(true) => "\u{2713} right",
        Some(false) => "not the product",
        None => "not compared",
    };
    let keyed = if *is_keyed { ", \u{25ef} keyed" } else { "" };
    let mut text = format!("{} {judged}{keyed}", option_letter(*at));
    if *is_right == Some(false) && own.compared.smallest {
        let list = &own.compared.differences.list;
        let named: Vec<String> = list.iter().take(NAMED).map(|own| own.words(product, structure)).collect();
        if !named.is_empty() {
            let more = list.len().saturating_sub(NAMED);
            let more = if more > 0 { format!("; and {more} more") } else { String::new() };
            text = format!("{text}: {}{more}", named.join("; "));
        }
    }
    shown(&text, CAPTION)
}

/// Atoms of an option that differ, other than in a bond alone; those of its bonds where nothing else does.
fn ringed(own: &Drawn<'_>) -> Vec<AtomId> {
    let of = |with_bonds: bool| -> Vec<AtomId> {
        let mut atoms = Vec::new();
        for difference in &own.compared.differences.list {
            match difference {
                Difference::Extra(atom) => atoms.push(*atom),
                Difference::Bond(..) if !with_bonds => {}
                other => atoms.extend(other.atoms().filter_map(|atom| own.compared.mapping.stated(atom))),
            }
        }
        atoms.sort_unstable();
        atoms.dedup();
        atoms
    };
    let atomic = of(false);
    if atomic.is_empty() { of(true) } else { atomic }
}
