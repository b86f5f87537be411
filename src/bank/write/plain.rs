//! An item as texts.
//!
//! The drawings of a document become SMILES with numbers as labels: the id `a7` is 7; other ids are numbered in the order in
//! which the item names them. A drawing that SMILES cannot carry whole (delocalised bonds, stated spins) makes the drawings of
//! its item CML in their fields.

use super::super::item::{Accept, Arrows, Drawing, Item, Task};
use crate::arrows::{AtomName, DrawnArrow, Place, notation, symbols};
use crate::cml;
use crate::limits::Limits;
use crate::smiles::{self, Labels};
use crate::structure::electrons::Electrons;
use crate::structure::stereo::Geometry;
use crate::structure::{Label, LabelIndex, Structure};
use rustc_hash::{FxHashMap, FxHashSet};

/// An item as texts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Plain {
    /// The id, where the bank gives one or the steps need one.
    pub id: Option<String>,
    /// What the electrons may do.
    pub task: Task,
    /// Whether it is to be named.
    pub names_task: bool,
    /// The steps in order; never empty.
    pub steps: Vec<PlainStep>,
    /// Stated contributors.
    pub answers: Vec<String>,
    /// Which of them contributes most.
    pub major: Option<String>,
    /// Which drawings of the product are right.
    pub accept: Option<&'static str>,
    /// Species left out on purpose.
    pub omits: Option<String>,
    /// The options in order.
    pub options: Vec<String>,
    /// The keyed one.
    pub key: Option<String>,
    /// Free text.
    pub prompt: String,
    /// Free text.
    pub tags: String,
    /// Other fields.
    pub extra: Vec<(String, String)>,
}

/// A step as texts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PlainStep {
    /// The start.
    pub start: Option<String>,
    /// The arrows.
    pub arrows: Option<String>,
    /// The stated answer.
    pub answer: Option<String>,
}

/// An item as texts, and what of it they do not carry.
///
/// # Errors
/// A drawing or the arrows of a document could not be read.
pub fn plain(item: &Item, limits: &Limits) -> Result<(Plain, Vec<String>), String> {
    let text = |field: &super::super::Field| field.text.clone();
    let mut plain = Plain {
        id: (item.has_own_id || item.steps.len() > 1).then(|| item.id.clone()),
        task: item.task,
        names_task: item.names_task(),
        major: item.major.as_ref().map(text),
        accept: item.accept.map(Accept::name),
        omits: item.omits.as_ref().map(text),
        key: item.key.as_ref().map(text),
        prompt: item.prompt.clone(),
        tags: item.tags.clone(),
        extra: item.extra.iter().filter(|(_, text)| !text.trim().is_empty()).cloned().collect(),
        ..Plain::default()
    };
    let mut texts = Texts::new(item, limits)?;
    let mut before = None;
    for step in &item.steps {
        let start = step.start.as_ref().or(before);
        before = step.answer.as_ref();
        plain.steps.push(PlainStep {
            start: step.start.as_ref().map(|own| texts.drawing(own)),
            arrows: step.arrows.as_ref().map(|own| texts.arrows(own, start)),
            answer: step.answer.as_ref().map(|own| texts.drawing(own)),
        });
    }
    plain.answers = item.answers.iter().map(|own| texts.drawing(own)).collect();
    plain.options = item.options.iter().map(|own| texts.drawing(own)).collect();
    Ok((plain, texts.lost))
}

/// How the drawings of one item are written.
struct Texts<'a> {
    limits: &'a Limits,
    /// Whether everything is text already.
    verbatim: bool,
    /// Whether the drawings are written as CML.
    as_cml: bool,
    numbers: FxHashMap<Label, u32>,
    lost: Vec<String>,
}

impl<'a> Texts<'a> {
    fn new(item: &Item, limits: &'a Limits) -> Result<Self, String> {
        let mut texts = Self { limits, verbatim: true, as_cml: false, numbers: FxHashMap::default(), lost: Vec::new() };
        let of_steps = item.steps.iter().flat_map(|step| step.start.iter().chain(&step.answer));
        let drawings: Vec<&Drawing> = of_steps.chain(&item.answers).chain(&item.options).collect();
        let arrows: Vec<&Arrows> = item.steps.iter().filter_map(|step| step.arrows.as_ref()).collect();
        texts.verbatim = drawings.iter().all(|own| matches!(own, Drawing::Text(_)))
            && arrows.iter().all(|own| matches!(own, Arrows::Text(_)));
        if texts.verbatim {
            return Ok(texts);
        }
        let mut labels = Vec::new();
        let mut placed = false;
        for drawing in drawings {
            let structure = structure(drawing, limits)?;
            texts.as_cml |= !smiles_carries(&structure);
            placed |= !structure.coordinates.is_empty();
            labels.extend(structure.atom_ids().filter_map(|atom| structure.label(atom)));
        }
        for own in arrows {
            labels.extend(names(&drawn_arrows(own, limits)?));
        }
        texts.number(labels);
        if placed && !texts.as_cml {
            texts.lost.push("the coordinates of its drawings: SMILES has none".to_owned());
        }
        Ok(texts)
    }

    fn number(&mut self, labels: Vec<Label>) {
        let labels: Vec<Label> = {
            let mut seen = FxHashSet::default();
            labels.into_iter().filter(|label| seen.insert(label.clone())).collect()
        };
        let own: Option<Vec<u32>> = labels.iter().map(own_number).collect();
        let distinct = |numbers: &Vec<u32>| numbers.iter().collect::<FxHashSet<_>>().len() == labels.len();
        if let Some(numbers) = own.filter(distinct) {
            self.numbers = labels.into_iter().zip(numbers).collect();
            return;
        }
        let told: Vec<String> = labels.iter().enumerate().map(|(at, label)| format!("{label} is {}", at + 1)).collect();
        self.lost.push(format!("the ids of its atoms, which are numbers now: {}", told.join(", ")));
        self.numbers = labels.into_iter().zip(1..).collect();
    }

    /// The text of a drawing.
    fn drawing(&mut self, drawing: &Drawing) -> String {
        if let (Drawing::Text(field), true) = (drawing, self.verbatim) {
            return field.text.clone();
        }
        let Ok(mut structure) = structure(drawing, self.limits) else { return String::new() };
        for atom in structure.atom_ids() {
            if let Some(label) = structure.label(atom) {
                let number = self.numbers.get(&label).copied().unwrap_or(0);
                structure.set_label(atom, &Label::Name("".into()));
                structure.set_label(atom, &Label::Number(number));
            }
        }
        if self.as_cml {
            let (text, lost) = cml::write_molecule(&structure);
            self.lost.extend(lost.iter().map(ToString::to_string));
            return text.split('\n').map(str::trim).collect();
        }
        smiles::write(&structure, Labels::Classes)
    }

    /// The text of arrows. What is written in another spelling than the notation's is written in the notation.
    fn arrows(&self, arrows: &Arrows, start: Option<&Drawing>) -> String {
        if let (Arrows::Text(field), true) = (arrows, self.verbatim) {
            let mut reading = notation::read(&field.text, self.limits.arrows);
            if reading.faults.is_empty() && symbols::any(&reading.arrows) {
                let start = start.and_then(|start| structure(start, self.limits).ok());
                reading.is_loose |= start.is_some_and(|start| name_by_labels(&mut reading.arrows, start));
            }
            let is_ours = !reading.faults.is_empty() || !reading.is_loose;
            return if is_ours { field.text.clone() } else { notation::write(&reading.arrows) };
        }
        let drawn = drawn_arrows(arrows, self.limits).unwrap_or_default();
        let name = |name: AtomName| {
            let number = self.numbers.get(&name.label).copied().unwrap_or(0);
            let label = if self.as_cml { Label::Name(format!("a{number}").into()) } else { Label::Number(number) };
            AtomName { label, ..name }
        };
        let renamed: Vec<DrawnArrow> = drawn
            .into_iter()
            .map(|arrow| DrawnArrow { tail: arrow.tail.map(name), head: arrow.head.map(name), ..arrow })
            .collect();
        notation::write(&renamed)
    }
}

/// A number that is a label, or that an id made of `a` and a number stands for.
fn own_number(label: &Label) -> Option<u32> {
    match label {
        Label::Number(number) => Some(*number),
        Label::Name(name) => match Label::from_text(name.strip_prefix('a')?) {
            Label::Number(number) => Some(number),
            Label::Name(_) => None,
        },
    }
}

fn names(arrows: &[DrawnArrow]) -> Vec<Label> {
    let of = |place: &Place<AtomName>| match place {
        Place::Atom(a) => vec![a.label.clone()],
        Place::Bond(a, b) => vec![a.label.clone(), b.label.clone()],
    };
    arrows.iter().flat_map(|arrow| of(&arrow.tail).into_iter().chain(of(&arrow.head))).collect()
}

/// The structure of a drawing.
pub(super) fn structure(drawing: &Drawing, limits: &Limits) -> Result<Structure, String> {
    match drawing {
        Drawing::Read(read) => match read.faults.first() {
            None => Ok(read.structure.clone()),
            Some(fault) => Err(fault.message.clone()),
        },
        Drawing::Text(field) => {
            let text = field.text.trim();
            if text.starts_with('<') {
                let (structure, faults) = cml::read_molecule(text, limits);
                return faults.first().map_or(Ok(structure), |fault| Err(fault.problem.to_string()));
            }
            let reading = smiles::read(text);
            reading.faults.first().map_or(Ok(reading.structure), |error| Err(format!("'{text}': {}", error.fault)))
        }
    }
}

/// Names the atoms of arrows by their labels alone. Says whether it changed any.
pub(super) fn name_by_labels(arrows: &mut [DrawnArrow], mut start: Structure) -> bool {
    if !symbols::any(arrows) {
        return false;
    }
    let by_position = start.label_by_position();
    let labels = LabelIndex::new(&start);
    symbols::read(arrows, &start, &labels, by_position)
}

/// The arrows of a step.
pub(super) fn drawn_arrows(arrows: &Arrows, limits: &Limits) -> Result<Vec<DrawnArrow>, String> {
    match arrows {
        Arrows::Read { arrows, faults } => match faults.first() {
            None => Ok(arrows.clone()),
            Some(fault) => Err(fault.message.clone()),
        },
        Arrows::Text(field) => {
            let reading = notation::read(&field.text, limits.arrows);
            let fault = reading.faults.first().map(|error| format!("'{}': {}", field.text.trim(), error.fault));
            fault.map_or(Ok(reading.arrows), Err)
        }
    }
}

/// Whether SMILES says all that a drawing says, but for coordinates and the names of atoms.
fn smiles_carries(structure: &Structure) -> bool {
    let spin_follows = |atom| {
        let stated = structure.atom(atom).unpaired.map(i32::from);
        let count = Electrons::of(structure, atom).non_bonding();
        stated.is_none_or(|stated| count.is_some_and(|count| count.rem_euclid(2) == stated))
    };
    !structure.is_delocalised()
        && structure.atoms().all(|(id, atom)| !atom.aromatic && spin_follows(id))
        && structure.stereo.centres.iter().all(|centre| !matches!(centre.geometry, Geometry::Other(..)))
}
