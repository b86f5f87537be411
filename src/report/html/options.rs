//! The options of a multiple choice, each a small drawing in the places of the product: a tick where it is right, a ring where it
//! is keyed, and how it differs.

use super::panels::{MOST_MARKED, Panel, STEPS};
use super::text::shown;
use crate::compare::{Compared, Difference, compare};
use crate::drawing::geometry::Position;
use crate::drawing::layout::{Before, Coordinates, View, follow, lay_out, lay_out_sequence};
use crate::drawing::{Alike, Scene, fragments};
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
    /// With the hydrogens that the product draws.
    alike: Alike,
}

impl Drawn<'_> {
    /// Where its atoms are: those of the product where the two have their atoms in common, else their own.
    fn places(&self, product: &Structure, points: &[Position]) -> Coordinates {
        let Alike { structure, of_model, .. } = &self.alike;
        if 2 * of_model.iter().flatten().count() < of_model.len() {
            return lay_out(&[View::same(structure)]).pop().unwrap_or_default();
        }
        follow(Before { structure: product, points }, structure, &|at| of_model.get(at).copied().flatten())
    }

    /// The atom of the picture that an atom of the option is.
    fn now(&self, atom: AtomId) -> Option<AtomId> {
        self.alike.now.get(atom.index()).copied().flatten()
    }
}

/// The options of a step.
pub(super) fn panels<'a>(step: &'a StepAudit) -> Vec<Panel> {
    // Most questions are no choice: nothing is laid out for them.
    if step.options.is_empty() {
        return Vec::new();
    }
    let product = step.pushed.as_ref().map(|pushed| &pushed.product).or(step.start.as_ref());
    let Some(product) = product else { return Vec::new() };
    let labels = LabelIndex::new(product);
    let draw = |option: &'a OptionAudit| {
        let compared = compare(product, &option.structure, &labels, STEPS);
        let alike = Alike::new(product, &option.structure, &compared.mapping.to_computed);
        Drawn { option, compared, alike }
    };
    let drawn: Vec<Drawn<'_>> = step.options.iter().take(SHOWN).map(draw).collect();
    let before: Vec<&Structure> = step.start.iter().filter(|_| step.pushed.is_some()).chain([product]).collect();
    let points = lay_out_sequence(&before).pop().unwrap_or_default();
    let places: Vec<Coordinates> = drawn.iter().map(|own| own.places(product, &points)).collect();
    let mut scenes = Vec::new();
    for (own, coordinates) in drawn.iter().zip(&places) {
        let mut scene = Scene::new(&own.alike.structure, coordinates, &[]);
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
    let all = if atomic.is_empty() { of(true) } else { atomic };
    // More than structure and words can carry is left to the words.
    if all.len() > MOST_MARKED { Vec::new() } else { all.into_iter().filter_map(|atom| own.now(atom)).collect() }
}
