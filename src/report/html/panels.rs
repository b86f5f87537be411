//! The three drawings of a step: start with its arrows, recomputed, stated; atoms in the same places, differences ringed.

use super::other::STATED;
use super::text::number;
use crate::arrows::Arrow;
use crate::compare::{Difference, compare};
use crate::drawing::layout::{Before, Coordinates, View, follow, lay_out};
use crate::drawing::{Alike, Scene, fragment, fragments};
use crate::findings::{Finding, Name, StepAudit};
use crate::structure::electrons::{faults, unpaired};
use crate::structure::{AtomId, LabelIndex, OctetRule, Structure};
use std::cell::OnceCell;

/// The caption of the panel that shows what the arrows give.
pub(super) const RECOMPUTED: &str = "Recomputed from the arrows";
/// Atoms up to which every atom is labelled where no arrow says which ones matter.
const ALL_LABELLED: usize = 40;
/// Arrows that are drawn. Textbook steps have fewer than ten; each one keeps clear of all others.
const ARROWS: usize = 64;
/// Steps of the search for a correspondence that only arranges a picture.
pub(super) const STEPS: u64 = 20_000;
/// Atoms of a species left out that are ringed one by one.
const RINGED_SPECIES: usize = 6;

/// Differences that a drawing can carry beside structure and numbers; beyond that the words carry them.
pub(super) const MOST_MARKED: usize = 6;

/// One drawing of a card, or why there is none.
pub(super) struct Panel {
    pub(super) caption: String,
    /// The picture as SVG; empty where there is none.
    pub(super) svg: String,
    /// Why there is none.
    pub(super) note: &'static str,
}

/// What is drawn of one step.
pub(super) struct Drawings<'a> {
    step: &'a StepAudit,
    pub(super) start: Option<&'a Structure>,
    pub(super) product: Option<&'a Structure>,
    pub(super) stated: Option<Structure>,
    /// For each atom of the stated answer, the atom of start and product that it is.
    of_stated: Vec<Option<AtomId>>,
    /// The other way round.
    to_stated: Vec<Option<AtomId>>,
    /// The stated answer as it is drawn: with the hydrogens that the product draws.
    drawn: OnceCell<Drawn>,
    relabelled: bool,
}

/// The stated answer with the hydrogens that the product draws, and the way there from the product.
struct Drawn {
    alike: Alike,
    of_product: Vec<Option<AtomId>>,
}

/// Atoms and bonds to ring in one drawing.
#[derive(Default)]
struct Rings {
    atoms: Vec<AtomId>,
    bonds: Vec<(AtomId, AtomId)>,
}

impl<'a> Drawings<'a> {
    /// `relabelled`: the stated answer is the product under other labels, so that its atoms are paired without them.
    pub(super) fn new(step: &'a StepAudit, relabelled: bool) -> Self {
        let forms = step.compared.as_ref().and_then(|compared| compared.forms.as_ref());
        let product = forms.map(|forms| &forms.0).or(step.pushed.as_ref().map(|pushed| &pushed.product));
        let start = step.start.as_ref();
        let answer = forms.map(|forms| &forms.1).or(step.answer.as_ref());
        let (stated, of_stated) = match answer {
            None => (None, Vec::new()),
            Some(answer) => {
                let unlabelled = product.filter(|_| relabelled).and_then(|product| without_labels(product, answer));
                let map = unlabelled.unwrap_or_else(|| correspondence(step, start, answer));
                (Some(labelled(answer, product.or(start), &map)), map)
            }
        };
        let atoms = start.or(product).map_or(0, Structure::atom_count);
        let to_stated = turned(&of_stated, atoms);
        Self { step, start, product, stated, of_stated, to_stated, drawn: OnceCell::new(), relabelled }
    }

    /// The stated atom that an atom of the product is.
    pub(super) fn stated_atom(&self, atom: AtomId) -> Option<AtomId> {
        self.to_stated.get(atom.index()).copied().flatten()
    }

    /// Whether an atom of the product belongs to a species that the stated answer leaves out.
    pub(super) fn leaves_out(&self, atom: AtomId) -> bool {
        let omitted = self.step.compared.iter().flat_map(|compared| &compared.differences.omitted);
        omitted.flatten().any(|own| *own == atom)
    }

    fn drawn(&self) -> &Drawn {
        self.drawn.get_or_init(|| {
            let alike = match (self.product.or(self.start), &self.stated) {
                (Some(model), Some(stated)) => Alike::new(model, stated, &self.of_stated),
                (None, Some(stated)) => {
                    let now = stated.atom_ids().map(Some).collect();
                    Alike { structure: stated.clone(), of_model: self.of_stated.clone(), now }
                }
                _ => Alike::default(),
            };
            Drawn { of_product: turned(&alike.of_model, self.to_stated.len()), alike }
        })
    }

    /// The stated answer as it is drawn.
    fn shown(&self) -> Option<&Structure> {
        self.stated.as_ref().map(|_| &self.drawn().alike.structure)
    }

    /// The atom of the drawn answer that an atom of the product is.
    fn drawn_atom(&self, atom: AtomId) -> Option<AtomId> {
        self.drawn().of_product.get(atom.index()).copied().flatten()
    }

    /// The atom of the drawn answer that an atom of the stated answer is.
    fn now(&self, stated: AtomId) -> Option<AtomId> {
        self.drawn().alike.now.get(stated.index()).copied().flatten()
    }

    /// Whether the stated answer can be laid over the product.
    fn overlaps(&self) -> bool {
        let mapped = self.of_stated.iter().flatten().count();
        mapped * 2 >= self.of_stated.len() && mapped > 0
    }

    /// The three drawings, or none where nothing could be read.
    pub(super) fn panels(&self, findings: &[&Finding], octet: OctetRule) -> Vec<Panel> {
        if self.start.is_none() && self.stated.is_none() {
            return Vec::new();
        }
        self.with_scenes(findings, octet, |scenes, overlaps| self.draw(scenes, overlaps))
    }

    /// Lays out what is drawn, each with its place among the three, and whether start and answer share their atoms.
    fn with_scenes<T>(
        &self,
        findings: &[&Finding],
        octet: OctetRule,
        then: impl FnOnce(&[(usize, Scene)], bool) -> T,
    ) -> T {
        let stated = self.shown();
        let overlaps = self.overlaps() && self.start.is_some();
        let places = self.places(overlaps);
        let mut places = places.iter();
        let rings = self.rings(findings, octet);
        let mut scenes = Vec::new();
        for (at, structure) in [self.start, self.product, stated].into_iter().enumerate() {
            let Some((structure, coordinates)) = structure.and_then(|own| Some((own, places.next()?))) else {
                continue;
            };
            scenes.push((at, self.scene(at, structure, coordinates, &rings[at])));
        }
        then(&scenes, overlaps)
    }

    /// Where the atoms of the drawings are: the start as what it will be bends it, the product as it follows from the start,
    /// the stated answer as it follows from the product.
    fn places(&self, overlaps: bool) -> Vec<Coordinates> {
        let stated = self.shown();
        let of_stated = self.drawn().alike.of_model.as_slice();
        let mut places = Vec::new();
        if let Some(start) = self.start {
            let mut views = vec![View::same(start)];
            views.extend(self.product.map(View::same));
            if self.product.is_none()
                && let Some(stated) = stated.filter(|_| overlaps)
            {
                views.push(View::mapped(stated, of_stated));
            }
            places.extend(lay_out(&views).into_iter().take(1));
        }
        if let Some(product) = self.product {
            places.push(match (self.start, places.last()) {
                (Some(start), Some(points)) => {
                    follow(Before { structure: start, points }, product, &|at| Some(AtomId::new(at)))
                }
                _ => lay_out(&[View::same(product)]).remove(0),
            });
        }
        if let Some(stated) = stated.filter(|_| overlaps) {
            // An answer that was not redrawn looks like the start.
            let drawn = [self.product, self.start].into_iter().flatten();
            let model = drawn.rev().max_by_key(|own| kept_bonds(own, stated, of_stated));
            let is_start = self.start.is_some_and(|start| model.is_some_and(|own| std::ptr::eq(own, start)));
            let points = if is_start { places.first() } else { places.last() };
            places.push(match (model, points) {
                (Some(structure), Some(points)) => {
                    let same = |at: usize| of_stated.get(at).copied().flatten();
                    follow(Before { structure, points }, stated, &same)
                }
                _ => lay_out(&[View::same(stated)]).remove(0),
            });
        }
        if let Some(stated) = stated.filter(|_| !overlaps) {
            places.extend(lay_out(&[View::same(stated)]));
        }
        places
    }

    /// The stated answer as it follows from a product of the same atoms that is drawn elsewhere, and its places.
    pub(super) fn stated_after(&self, before: Before) -> Option<(&Structure, Coordinates)> {
        let own = self.product.filter(|own| own.atom_count() == before.structure.atom_count() && self.overlaps());
        let stated = own.and(self.shown())?;
        let of_stated = self.drawn().alike.of_model.as_slice();
        Some((stated, follow(before, stated, &|at| of_stated.get(at).copied().flatten())))
    }

    /// The same as a scene with its differences.
    pub(super) fn stated_scene<'s>(
        &self,
        structure: &'s Structure,
        places: &'s Coordinates,
        findings: &[&Finding],
        octet: OctetRule,
    ) -> Scene<'s>
    where
        'a: 's,
    {
        self.scene(2, structure, places, &self.rings(findings, octet)[2])
    }

    fn draw(&self, scenes: &[(usize, Scene)], overlaps: bool) -> Vec<Panel> {
        let together: Vec<Scene> =
            scenes.iter().filter(|(at, _)| overlaps || *at < 2).map(|(_, scene)| scene.clone()).collect();
        let mut drawn = fragments(&together);
        drawn.extend(scenes.iter().skip(together.len()).map(|(_, scene)| fragment(scene)));
        let mut pictures: [String; 3] = Default::default();
        for ((at, _), svg) in scenes.iter().zip(drawn) {
            pictures[*at] = svg;
        }
        let notes = [
            "No start that can be read.",
            if self.start.is_some() {
                "The arrows cannot be applied: nothing to recompute."
            } else {
                "Nothing to recompute."
            },
            "No stated answer that can be read.",
        ];
        let arrows = self.step.arrows.len();
        let start = if arrows > ARROWS {
            format!("Start with the first {ARROWS} of its {} arrows", number(arrows as u64))
        } else {
            "Start with its arrows".to_owned()
        };
        let captions = [start, RECOMPUTED.to_owned(), STATED.to_owned()];
        let panels = pictures.into_iter().zip(captions).zip(notes);
        panels.map(|((svg, caption), note)| Panel { caption, svg, note }).collect()
    }

    fn scene<'s>(&self, at: usize, structure: &'s Structure, coordinates: &'s Coordinates, rings: &Rings) -> Scene<'s>
    where
        'a: 's,
    {
        let arrows: &'s [_] = if at == 0 { self.arrows() } else { &[] };
        let mut scene = Scene::new(structure, coordinates, arrows);
        scene.labels = self.marked().into_iter().filter_map(|atom| self.atom_in(at, atom)).collect();
        scene.labels.extend(&rings.atoms);
        scene.labels.sort_unstable();
        scene.labels.dedup();
        scene.ringed_atoms.clone_from(&rings.atoms);
        scene.ringed_bonds.clone_from(&rings.bonds);
        ["Start with its arrows", "Recomputed", "Stated"][at].clone_into(&mut scene.title);
        scene
    }

    /// The arrows that are drawn.
    fn arrows(&self) -> &'a [Arrow] {
        self.step.arrows.get(..ARROWS).unwrap_or(&self.step.arrows)
    }

    /// An atom of start and product in one of the three drawings.
    fn atom_in(&self, at: usize, atom: AtomId) -> Option<AtomId> {
        if at < 2 { Some(atom) } else { self.drawn_atom(atom) }
    }

    /// Atoms of start and product that are labelled: those that arrows touch and those that differ.
    fn marked(&self) -> Vec<AtomId> {
        let arrows = self.arrows();
        let mut atoms: Vec<AtomId> =
            arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms())).collect();
        atoms.extend(self.of_stated.iter().flatten().filter(|_| self.relabelled));
        let differing: Vec<AtomId> = self.differences().iter().flat_map(|difference| difference.atoms()).collect();
        if self.differences().len() <= MOST_MARKED {
            atoms.extend(differing);
        }
        if let Some(start) = self.start.filter(|start| arrows.is_empty() && start.atom_count() <= ALL_LABELLED) {
            atoms.extend(start.atom_ids());
        }
        atoms.sort_unstable();
        atoms.dedup();
        atoms
    }

    /// What differs between product and stated answer.
    pub(super) fn differences(&self) -> &'a [Difference] {
        match &self.step.compared {
            Some(compared) if self.product.is_some() && !self.relabelled => &compared.differences.list,
            _ => &[],
        }
    }

    fn rings(&self, findings: &[&Finding], octet: OctetRule) -> [Rings; 3] {
        let mut rings: [Rings; 3] = Default::default();
        for difference in self.differences() {
            match difference {
                Difference::Bond(a, b, ..) => {
                    rings[1].bonds.push((*a, *b));
                    rings[2].bonds.extend(self.drawn_atom(*a).zip(self.drawn_atom(*b)));
                }
                Difference::Extra(atom) => rings[2].atoms.extend(self.now(*atom)),
                other => {
                    rings[1].atoms.extend(other.atoms());
                    rings[2].atoms.extend(other.atoms().filter_map(|atom| self.drawn_atom(atom)));
                }
            }
        }
        if let Some(compared) = &self.step.compared {
            for atom in compared.differences.stereo.iter().flat_map(|own| own.mark.atoms()) {
                rings[1].atoms.push(atom);
                rings[2].atoms.extend(self.drawn_atom(atom));
            }
            let small = compared.differences.omitted.iter().filter(|species| species.len() <= RINGED_SPECIES);
            rings[1].atoms.extend(small.flatten());
        }
        self.ring_labels(&mut rings);
        self.ring_electrons(findings, octet, &mut rings);
        self.ring_arrows(findings, &mut rings[0]);
        self.ring_named(findings, &mut rings);
        for own in &mut rings {
            own.atoms.sort_unstable();
            own.atoms.dedup();
        }
        if rings[1..].iter().any(|own| own.atoms.len() + own.bonds.len() > MOST_MARKED) {
            rings[1..].fill_with(Rings::default);
        }
        rings
    }

    /// Atoms that the stated answer labels otherwise.
    fn ring_labels(&self, rings: &mut [Rings; 3]) {
        let (Some(product), Some(stated)) = (self.product, self.stated.as_ref().filter(|_| self.relabelled)) else {
            return;
        };
        for (at, atom) in self.of_stated.iter().enumerate() {
            let own = AtomId::new(at);
            if let Some(atom) = atom.filter(|atom| product.label(*atom) != stated.label(own)) {
                rings[1].atoms.push(atom);
                rings[2].atoms.extend(self.now(own));
            }
        }
    }

    /// Atoms whose electrons are wrong, in the drawing that shows them first.
    fn ring_electrons(&self, findings: &[&Finding], octet: OctetRule, rings: &mut [Rings; 3]) {
        let about = |finding: &&Finding| matches!(finding.name, Name::HypervalentAtom | Name::ImpossibleElectrons);
        if !findings.iter().any(about) {
            return;
        }
        let wrong = |structure: Option<&Structure>| -> Vec<AtomId> {
            let all = structure.map(|structure| faults(structure, octet)).unwrap_or_default();
            all.into_iter().map(|(atom, _)| atom).collect()
        };
        // In the order of the atoms, as faults come.
        let start = wrong(self.start);
        rings[1].atoms.extend(wrong(self.product).into_iter().filter(|atom| start.binary_search(atom).is_err()));
        rings[2].atoms.extend(wrong(self.shown()));
        rings[0].atoms.extend(start);
    }

    /// Atoms at which arrows are wrong.
    fn ring_arrows(&self, findings: &[&Finding], rings: &mut Rings) {
        use Name::{AmbiguousHead, DetachedHead, EmptyTail, OverdrawnTail, SigmaInResonance, UnpairedHalfArrow};
        let about = |name| {
            matches!(
                name,
                EmptyTail | OverdrawnTail | DetachedHead | AmbiguousHead | UnpairedHalfArrow | SigmaInResonance
            )
        };
        rings.atoms.extend(named(self.start, &labels(findings, about)));
        let broken = |own: &&&Finding| own.name == Name::BrokenSequence && own.step == self.step.number;
        let atoms: Vec<&String> = findings.iter().filter(broken).flat_map(|own| &own.atoms).collect();
        rings.atoms.extend(named(self.start, &atoms).into_iter().take(MOST_MARKED));
    }

    /// Atoms whose drawn stereochemistry differs, or which have electrons that nobody meant.
    fn ring_named(&self, findings: &[&Finding], rings: &mut [Rings; 3]) {
        let stereo = labels(findings, |name| name == Name::StereoChanged);
        rings[1].atoms.extend(named(self.product, &stereo));
        rings[2].atoms.extend(named(self.shown(), &stereo));
        let stray = labels(findings, |name| name == Name::StrayUnpairedElectrons);
        for (own, structure) in rings.iter_mut().zip([self.start, None, self.shown()]) {
            let Some(structure) = structure else { continue };
            let atoms = named(Some(structure), &stray).into_iter();
            own.atoms.extend(atoms.filter(|atom| unpaired(structure, *atom) > 0));
        }
    }
}

/// Shows the scenes of a step's card to a measure: the start (0), the product (1), the stated answer (2), as far as there are
/// any.
pub fn scenes_of<T>(step: &StepAudit, then: impl FnOnce(&[(usize, Scene)]) -> T) -> T {
    Drawings::new(step, false).with_scenes(&[], OctetRule::Usual, |scenes, _| then(scenes))
}

/// Labels of the atoms that some findings are about.
fn labels<'f>(findings: &[&'f Finding], about: impl Fn(Name) -> bool) -> Vec<&'f String> {
    findings.iter().filter(|finding| about(finding.name)).flat_map(|finding| &finding.atoms).collect()
}

/// The atoms with these labels.
fn named(structure: Option<&Structure>, labels: &[&String]) -> Vec<AtomId> {
    let Some(structure) = structure.filter(|_| !labels.is_empty()) else { return Vec::new() };
    let is_named = |atom: &AtomId| {
        let own = structure.label(*atom).map(|label| label.to_string());
        own.is_some_and(|own| labels.iter().any(|label| **label == own))
    };
    structure.atom_ids().filter(is_named).collect()
}

/// For each stated atom the atom of the product that it is whatever its label; none where none was found in good time.
fn without_labels(product: &Structure, answer: &Structure) -> Option<Vec<Option<AtomId>>> {
    let mut bare = answer.clone();
    bare.clear_labels();
    let compared = compare(product, &bare, &LabelIndex::default(), STEPS);
    compared.is_equal().then_some(compared.mapping.to_computed)
}

/// For each stated atom the atom of the start: by the comparison, or by label where nothing was compared.
fn correspondence(step: &StepAudit, start: Option<&Structure>, answer: &Structure) -> Vec<Option<AtomId>> {
    if let Some(compared) = &step.compared {
        return compared.mapping.to_computed.clone();
    }
    let Some(start) = start else { return vec![None; answer.atom_count()] };
    let labels = LabelIndex::new(start);
    answer.atom_ids().map(|atom| answer.label(atom).and_then(|label| labels.get(&label))).collect()
}

/// Bonds of the stated answer that a drawing has too.
fn kept_bonds(model: &Structure, stated: &Structure, map: &[Option<AtomId>]) -> usize {
    let own = |atom: AtomId| map.get(atom.index()).copied().flatten();
    let is_kept = |(_, a, b, _): &(_, AtomId, AtomId, _)| {
        own(*a).zip(own(*b)).is_some_and(|(a, b)| model.bond_between(a, b).is_some())
    };
    stated.bonds().filter(is_kept).count()
}

/// A correspondence the other way round.
fn turned(map: &[Option<AtomId>], atoms: usize) -> Vec<Option<AtomId>> {
    let mut turned = vec![None; atoms];
    for (at, atom) in map.iter().enumerate() {
        if let Some(slot) = atom.and_then(|atom| turned.get_mut(atom.index())) {
            *slot = Some(AtomId::new(at));
        }
    }
    turned
}

/// The stated answer with the labels of the atoms that its own stand for, where it has none.
fn labelled(answer: &Structure, product: Option<&Structure>, map: &[Option<AtomId>]) -> Structure {
    let mut own = answer.clone();
    if let Some(product) = product.filter(|_| !answer.has_labels()) {
        for (at, atom) in map.iter().enumerate() {
            if let Some(label) = atom.and_then(|atom| product.label(atom)) {
                own.set_label(AtomId::new(at), &label);
            }
        }
    }
    own
}
