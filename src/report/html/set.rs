//! The drawings of a set of contributors: the start, each stated one, those that the set omits; atoms in the same places.

use super::panels::{Panel, STEPS};
use crate::compare::{Compared, Difference, compare};
use crate::drawing::layout::{Before, follow, lay_out_sequence};
use crate::drawing::{Alike, Scene, fragments};
use crate::findings::{Finding, Name, StepAudit};
use crate::smiles;
use crate::structure::electrons::faults;
use crate::structure::localise::localise;
use crate::structure::{AtomId, LabelIndex, OctetRule, Structure};

/// Contributors that a card draws.
const SHOWN: usize = 14;

struct Member {
    caption: String,
    structure: Structure,
    compared: Compared,
    /// With the hydrogens that the start draws.
    alike: Alike,
}

/// The drawings of a set.
pub(super) fn panels(step: &StepAudit, findings: &[&Finding], octet: OctetRule) -> Vec<Panel> {
    let Some(start) = &step.start else { return Vec::new() };
    let labels = LabelIndex::new(start);
    let stated = step.contributors.iter().map(|(name, own)| (capitalised(name), own.clone()));
    let missing = missing(findings).into_iter().map(|own| ("Missing".to_owned(), own));
    let members: Vec<Member> = stated
        .chain(missing)
        .take(SHOWN)
        .map(|(caption, mut structure)| {
            let compared = compare(start, &structure, &labels, STEPS);
            label(&mut structure, start, &compared);
            let alike = Alike::new(start, &structure, &compared.mapping.to_computed);
            Member { caption, structure, compared, alike }
        })
        .collect();
    let mut places = lay_out_sequence(&[start]);
    for own in &members {
        let points = places.first().map(Vec::as_slice).unwrap_or_default();
        let same = |at: usize| own.alike.of_model.get(at).copied().flatten();
        places.push(follow(Before { structure: start, points }, &own.alike.structure, &same));
    }
    let mut scenes = Vec::new();
    let structures = std::iter::once(start).chain(members.iter().map(|own| &own.alike.structure));
    for (at, (structure, coordinates)) in structures.zip(&places).enumerate() {
        let mut scene = Scene::new(structure, coordinates, &[]);
        let member = at.checked_sub(1).and_then(|at| members.get(at));
        scene.title = member.map_or_else(|| "Start".to_owned(), |own| own.caption.clone());
        scene.labels = structure.atom_ids().filter(|atom| structure.atom(*atom).charge != 0).collect();
        scene.ringed_atoms = member.map(|own| rings(own, octet)).unwrap_or_default();
        scene.labels.extend(&scene.ringed_atoms);
        scenes.push(scene);
    }
    let captions: Vec<String> = scenes.iter().map(|scene| scene.title.clone()).collect();
    let pictures = fragments(&scenes).into_iter().zip(captions);
    pictures.map(|(svg, caption)| Panel { caption, svg, note: "" }).collect()
}

/// The contributors that the set omits, as its finding states them.
fn missing(findings: &[&Finding]) -> Vec<Structure> {
    let of_set = findings.iter().filter(|finding| finding.name == Name::MissingContributor);
    let texts = of_set.flat_map(|finding| finding.computed.split(' ')).take(SHOWN);
    texts
        .filter_map(|text| {
            let reading = smiles::read(text);
            let mut structure = reading.structure;
            let readable = reading.faults.is_empty() && localise(&mut structure).is_ok();
            readable.then_some(structure)
        })
        .collect()
}

fn capitalised(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

fn label(structure: &mut Structure, start: &Structure, compared: &Compared) {
    if structure.has_labels() {
        return;
    }
    for atom in structure.atom_ids() {
        if let Some(label) = compared.mapping.computed(atom).and_then(|own| start.label(own)) {
            structure.set_label(atom, &label);
        }
    }
}

/// Atoms at which a contributor is not one: other atoms or hydrogens than the start has, over-full shells.
fn rings(member: &Member, octet: OctetRule) -> Vec<AtomId> {
    let stated = |atom: AtomId| member.compared.mapping.stated(atom);
    let mut atoms: Vec<AtomId> = faults(&member.structure, octet).into_iter().map(|(atom, _)| atom).collect();
    for difference in &member.compared.differences.list {
        match difference {
            Difference::Element(atom, ..) | Difference::Isotope(atom, ..) | Difference::Hydrogens(atom, ..) => {
                atoms.extend(stated(*atom));
            }
            Difference::Extra(atom) => atoms.push(*atom),
            _ => {}
        }
    }
    atoms.sort_unstable();
    atoms.dedup();
    atoms.into_iter().filter_map(|atom| member.alike.now.get(atom.index()).copied().flatten()).collect()
}
