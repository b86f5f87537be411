//! What one item adds to the counts.

use super::centre::{Centre, centre};
use super::{Head, Move, Section, Tail, Value};
use crate::arrows::{Arrow, Moves, Place};
use crate::bank::{BadRecord, Item, Record, Task};
use crate::findings::{Context, StepAudit, judge};
use crate::structure::electrons::{Electrons, unpaired};
use crate::structure::{Structure, ring_bonds};

/// What one item adds.
#[derive(Debug, Default)]
pub struct Facts {
    /// Line on which it starts.
    pub line: u32,
    /// Its id.
    pub id: String,
    /// Whether nothing could be counted.
    pub is_unread: bool,
    /// Whether a step could not be counted.
    pub is_unpushed: bool,
    /// Steps that count.
    pub steps: u32,
    /// Their arrows.
    pub arrows: u32,
    /// Where it counts.
    pub counted: Vec<(Section, Value)>,
    /// The reaction centre of each step that counts.
    pub centres: Vec<Centre>,
}

/// Counts one record.
#[must_use]
pub fn facts(context: &Context<'_>, record: Record, file: &str) -> Facts {
    let line = record.line;
    let item = match record.content {
        Ok(item) => item,
        Err(BadRecord { id, .. }) => {
            return Facts { line, id: id.unwrap_or_default(), is_unread: true, ..Facts::default() };
        }
    };
    let mut facts = Facts { line, id: item.id.clone(), ..Facts::default() };
    facts.add(Section::Task, Value::Word(item.task.name()));
    facts.add(Section::Form, Value::Word(form(&item)));
    if item.task != Task::Contributors {
        facts.add(Section::Steps, Value::Number(item.steps.len() as i64));
    }
    let has_arrows = item.task != Task::Contributors;
    let steps = worked_out(context, item, line, file);
    let Some(start) = steps.first().and_then(|step| step.start.as_ref()) else {
        return Facts { is_unread: true, ..facts };
    };
    facts.start(start, steps[0].drawn_atoms);
    let (mut touched, mut halves) = (Vec::new(), false);
    for step in steps {
        match (step.start, step.pushed) {
            (Some(start), Some(pushed)) if !step.arrows.is_empty() => {
                facts.step(&start, &step.arrows);
                let atoms = step.arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms()));
                touched.extend(atoms.map(|atom| start.atom(atom).element.number()));
                halves |= step.arrows.iter().any(|arrow| arrow.moves == Moves::Single);
                facts.centres.push(centre(start, step.arrows, pushed.bonds));
            }
            _ => facts.is_unpushed |= has_arrows,
        }
    }
    touched.sort_unstable();
    touched.dedup();
    facts.counted.extend(touched.into_iter().map(|own| (Section::Touched, Value::Element(own, 0))));
    if halves {
        facts.add(Section::Mark, Value::Word("half-headed arrows"));
    }
    facts
}

/// How the answer of an item is given.
fn form(item: &Item) -> &'static str {
    if item.task == Task::Contributors {
        "set of contributors"
    } else if !item.options.is_empty() {
        "multiple choice"
    } else if item.steps.len() > 1 {
        "sequence"
    } else if item.steps.iter().any(|step| step.answer.is_some()) {
        "structure"
    } else {
        "none"
    }
}

/// The steps of an item with their starts and products. Answers are read only where they are needed: as the starts of later steps, and
/// where the arrows alone leave something open.
fn worked_out(context: &Context<'_>, item: Item, line: u32, file: &str) -> Vec<StepAudit> {
    let is_set = item.task == Task::Contributors;
    let bare = |item: &Item| {
        let mut bare =
            Item { steps: item.steps.clone(), task: if is_set { Task::Step } else { item.task }, ..Item::default() };
        let last = bare.steps.len().saturating_sub(1);
        bare.steps[last].answer = None;
        bare
    };
    let is_single = item.steps.len() == 1;
    let first = judge(context, &Record { line, content: Ok(bare(&item)) }, file);
    let is_settled = first.steps.iter().all(|step| step.pushed.is_some() && step.several.is_empty());
    if is_set || (is_settled && first.findings.is_empty()) || !is_single {
        return first.steps;
    }
    // The answer decides between the ways in which arrows can be read.
    let whole = Context { product_only: false, ..*context };
    judge(&whole, &Record { line, content: Ok(item) }, file).steps
}

impl Facts {
    fn add(&mut self, section: Section, value: Value) {
        self.counted.push((section, value));
    }

    /// Counts the start of an item. Atoms behind those that are drawn are hydrogens that arrows name.
    fn start(&mut self, start: &Structure, drawn: usize) {
        let is_drawn = |at: usize| drawn == 0 || at < drawn;
        self.add(Section::Species, Value::Number(start.species().1 as i64));
        let heavy = start.atoms().filter(|(_, atom)| atom.element.number() != 1).count();
        self.add(Section::Atoms, Value::Number(heavy as i64));
        self.add(Section::NetCharge, Value::Charge(start.net_charge()));
        let (mut elements, mut charged) = (Vec::new(), Vec::new());
        let (mut is_radical, mut has_isotope) = (false, false);
        for (id, atom) in start.atoms() {
            elements.push(atom.element.number());
            if atom.hydrogens > 0 || !is_drawn(id.index()) {
                elements.push(1);
            }
            if atom.charge != 0 {
                charged.push((atom.element.number(), atom.charge.signum() as i8));
            }
            is_radical |= Electrons::of(start, id).non_bonding().is_some() && unpaired(start, id) > 0;
            has_isotope |= atom.isotope.is_some();
        }
        elements.sort_unstable();
        elements.dedup();
        charged.sort_unstable();
        charged.dedup();
        self.counted.extend(elements.into_iter().map(|own| (Section::Element, Value::Element(own, 0))));
        let charged = charged.into_iter().map(|(own, sign)| (Section::ChargedAtom, Value::Element(own, sign)));
        self.counted.extend(charged);
        let marks = [
            (is_radical, "unpaired electrons"),
            (!start.stereo.centres.is_empty(), "stereo centres"),
            (!start.stereo.double_bonds.is_empty(), "stereo at double bonds"),
            (has_isotope, "isotopes"),
            (ring_bonds(start).iter().any(|own| *own), "rings"),
            (start.is_delocalised(), "delocalised rings"),
        ];
        for (_, word) in marks.into_iter().filter(|(has, _)| *has) {
            self.add(Section::Mark, Value::Word(word));
        }
    }

    /// Counts a step.
    fn step(&mut self, start: &Structure, arrows: &[Arrow]) {
        self.steps += 1;
        self.arrows += arrows.len() as u32;
        self.add(Section::Arrows, Value::Number(arrows.len() as i64));
        let mut moves: Vec<Move> = arrows.iter().map(|arrow| kind(start, arrow)).collect();
        for own in &moves {
            self.add(Section::Move, Value::Moves(Box::new([*own])));
        }
        moves.sort_unstable();
        self.add(Section::Pattern, Value::Moves(moves.into()));
    }
}

/// The kinds of an arrow's tail and head, by what is drawn in the start.
#[must_use]
pub(super) fn kind(start: &Structure, arrow: &Arrow) -> Move {
    let order = |a, b| start.bond_between(a, b).map_or(0, |bond| start.bond(bond).order);
    let tail = match (arrow.tail, arrow.moves) {
        (Place::Atom(_), Moves::Pair) => Tail::LonePair,
        (Place::Atom(_), Moves::Single) => Tail::OneOfAtom,
        (Place::Bond(a, b), Moves::Pair) if order(a, b) > 1 => Tail::PiBond,
        (Place::Bond(..), Moves::Pair) => Tail::SigmaBond,
        (Place::Bond(a, b), Moves::Single) if order(a, b) > 1 => Tail::OneOfPi,
        (Place::Bond(..), Moves::Single) => Tail::OneOfSigma,
    };
    let head = match arrow.head {
        Place::Atom(_) => Head::Atom,
        Place::Bond(a, b) if order(a, b) > 0 => Head::Pi,
        Place::Bond(..) => Head::NewSigma,
    };
    (tail, head)
}
