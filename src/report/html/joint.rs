//! The broken joint of a sequence: the answer that a redrawn start should be, beside that start, with what differs marked.

use super::panels::{MOST_MARKED, Panel, STEPS};
use crate::compare::{Difference, compare};
use crate::drawing::layout::{Before, follow, lay_out_sequence};
use crate::drawing::{Alike, Scene, fragment};
use crate::findings::{Finding, Name, StepAudit};
use crate::smiles;
use crate::structure::localise::localise;
use crate::structure::{AtomId, LabelIndex};

/// The answer before a step whose start is not that answer.
pub(super) fn panel(step: &StepAudit, findings: &[&Finding]) -> Option<Panel> {
    let broken = findings.iter().find(|own| own.name == Name::BrokenSequence && own.step == step.number)?;
    let start = step.start.as_ref()?;
    let reading = smiles::read(&broken.computed);
    let mut answer = reading.structure;
    if !reading.faults.is_empty() || answer.is_empty() || localise(&mut answer).is_err() {
        return None;
    }
    let compared = compare(start, &answer, &LabelIndex::new(start), STEPS);
    let alike = Alike::new(start, &answer, &compared.mapping.to_computed);
    let points = lay_out_sequence(&[start]).pop()?;
    let same = |at: usize| alike.of_model.get(at).copied().flatten();
    let places = follow(Before { structure: start, points: &points }, &alike.structure, &same);
    let mut scene = Scene::new(&alike.structure, &places, &[]);
    let now = |atom: AtomId| alike.now.get(atom.index()).copied().flatten();
    let differing = compared.differences.list.iter().flat_map(|own| match own {
        Difference::Extra(atom) => vec![*atom],
        other => other.atoms().filter_map(|atom| compared.mapping.stated(atom)).collect(),
    });
    let mut atoms: Vec<AtomId> = differing.filter_map(now).collect();
    atoms.sort_unstable();
    atoms.dedup();
    if atoms.len() <= MOST_MARKED {
        scene.labels.clone_from(&atoms);
        scene.ringed_atoms = atoms;
    }
    let before = step.number.saturating_sub(1);
    scene.title = format!("Answer of step {before}");
    let caption = format!("Answer of step {before}, at which step {} should begin", step.number);
    Some(Panel { caption, svg: fragment(&scene), note: "" })
}
