//! Several steps drawn as one, as a chain: each structure with the arrows that lead to the next, then the product.

use super::other::STATED;
use super::panels::{Drawings, Panel};
use crate::drawing::layout::{Before, lay_out_sequence};
use crate::drawing::{Scene, fragments};
use crate::findings::{Finding, StepAudit, cut_words, sequence_of};
use crate::structure::{OctetRule, Structure};

/// Steps that a card draws.
const STEPS: usize = 12;
/// Arrows that are drawn of each.
const ARROWS: usize = 64;

/// The chain of a step whose arrows are several steps, and the stated answer as it follows from its end.
pub(super) fn panels(step: &StepAudit, drawings: &Drawings, findings: &[&Finding], octet: OctetRule) -> Vec<Panel> {
    let mut sequence = sequence_of(step);
    let left = sequence.len().saturating_sub(STEPS);
    sequence.truncate(STEPS);
    let Some(last) = sequence.last() else { return Vec::new() };
    let drawn: Vec<&Structure> = sequence.iter().map(|own| &own.start).chain([&last.product]).collect();
    let places = lay_out_sequence(&drawn);
    let mut scenes: Vec<Scene> = Vec::with_capacity(places.len());
    let mut captions = Vec::with_capacity(places.len());
    for ((at, own), (place, cut)) in sequence.iter().enumerate().zip(places.iter().zip(&step.several)) {
        let caption = format!("Step {}, arrows {}", at + 1, cut_words(std::slice::from_ref(cut)));
        let arrows = &own.arrows[..own.arrows.len().min(ARROWS)];
        scenes.push(Scene { title: caption.clone(), ..Scene::new(&own.start, place, arrows) });
        captions.push(caption);
    }
    if let Some(place) = places.last() {
        let caption = match left {
            0 => "Recomputed product".to_owned(),
            _ => format!("After {STEPS} steps; {left} more are not drawn"),
        };
        scenes.push(Scene { title: caption.clone(), ..Scene::new(&last.product, place, &[]) });
        captions.push(caption);
    }
    let end = places.last().filter(|_| left == 0);
    let stated = end.and_then(|points| drawings.stated_after(Before { structure: &last.product, points }));
    if let Some((structure, places)) = &stated {
        scenes.push(drawings.stated_scene(structure, places, findings, octet));
        captions.push(STATED.to_owned());
    }
    let drawn = fragments(&scenes);
    captions.into_iter().zip(drawn).map(|(caption, svg)| Panel { caption, svg, note: "" }).collect()
}
