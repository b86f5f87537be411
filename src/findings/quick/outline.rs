//! What a plain item asks and answers, in numbers, without a judgement: read the quick way, or not at all.

use super::labels::Labels;
use super::sketch::{NO_LABEL, Sketch};
use super::{Prover, Settings};
use crate::bank::{Plain, Task};
use crate::findings::painted::{Drawn, ORDERS, Painted, all_open};
use crate::structure::AtomId;
use crate::structure::canon::{Peel, Rest};

/// The numbers of a plain item: equal for items that ask and answer the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outline {
    /// Of start and arrows.
    pub question: u64,
    /// Of the drawing of the answer.
    pub answer: u64,
    /// Of the answer with the places of its atoms in the start, where all of them are labelled.
    pub placed: Option<u64>,
    /// Whether start and answer are one drawing but for labels.
    pub is_symmetric: bool,
    /// `resonance`, where the answer is the start's drawing but for labels: whether the arrows lead to it as it is drawn.
    pub is_led_to: bool,
}

/// Draws the outlines of items, one after the other, in buffers that it keeps.
#[derive(Debug)]
pub struct Outliner {
    prover: Prover,
    start: Painted,
    answer: Painted,
    start_places: Box<[u8; 256]>,
    answer_places: Box<[u8; 256]>,
    answer_labels: Labels,
    seeds: Vec<(AtomId, u64)>,
}

/// A flat drawing, with the nodes of its atoms.
struct Flat<'a> {
    sketch: &'a Sketch,
    places: &'a mut [u8; 256],
}

impl Drawn for Flat<'_> {
    fn feed(&mut self, peel: &mut Peel) {
        self.sketch.feed(ORDERS, peel, self.places);
    }

    fn list(&self, rest: &mut Rest<'_>) {
        self.sketch.list(ORDERS, self.places, rest);
    }

    fn host(&self, atom: AtomId) -> (u32, bool) {
        let at = atom.index() as u8;
        (u32::from(self.places[usize::from(at)]), self.sketch.atom(at).folded)
    }
}

impl Outliner {
    /// One for these settings.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let places = || Box::new([0; 256]);
        Self {
            prover: Prover::new(settings),
            start: Painted::default(),
            answer: Painted::default(),
            start_places: places(),
            answer_places: places(),
            answer_labels: Labels::default(),
            seeds: Vec::new(),
        }
    }

    /// The outline of an item; `None` says nothing about the item.
    pub fn outline(&mut self, item: &Plain<'_>) -> Option<Outline> {
        self.prover.read_item(item, &mut Vec::new())?;
        self.prover.start.fold_hydrogens();
        self.prover.answer.fold_hydrogens();
        self.look_at_labels()?;
        let Self { prover: Prover { start, answer, moved, labels, .. }, .. } = self;
        let mut drawn = Flat { sketch: start, places: &mut self.start_places };
        let whole = self.start.start(&mut drawn, &moved.arrows);
        let is_labelled = answer.has_labels();
        if is_labelled {
            self.start.spread();
        } else {
            self.start.spread_to(&drawn, &moved.arrows);
        }
        let question = self.start.question(&drawn, &moved.arrows, whole);
        let mut stated = Flat { sketch: answer, places: &mut self.answer_places };
        let own = self.answer.drawing(&mut stated, &[]);
        let mut placed = None;
        if is_labelled {
            let is_bonded = |a: AtomId, b: AtomId| start.atom(a.index() as u8).arc_to(b.index() as u8).is_some();
            if let Some(open) = all_open(&moved.arrows, is_bonded) {
                self.start.start(&mut drawn, &open);
                self.start.spread();
            }
            let place =
                |label: u16| labels.atom(label).map_or(1, |at| self.start.colour(&drawn, AtomId::new(usize::from(at))));
            self.seeds.clear();
            let shown = (0..).zip(answer.atoms()).filter(|(_, atom)| !atom.folded);
            self.seeds.extend(shown.map(|(at, atom)| (AtomId::new(at), place(atom.label))));
            placed = Some(self.answer.drawing(&mut stated, &self.seeds));
        }
        let is_symmetric = sum(start) == sum(answer) && self.start.drawing(&mut drawn, &[]) == own;
        let is_led_to = is_symmetric && item.task == Task::Resonance;
        if is_led_to {
            // Whether the arrows do not lead there is not known for certain.
            self.prover.push_and_compare(item, &mut Vec::new())?;
        }
        Some(Outline { question, answer: own, placed, is_symmetric, is_led_to })
    }

    /// Looks at the labels of an answer that has any; `None` where two are alike, and where not all atoms have one.
    fn look_at_labels(&mut self) -> Option<()> {
        let Self { prover: Prover { answer, .. }, answer_labels, .. } = self;
        if !answer.has_labels() {
            return Some(());
        }
        answer_labels.begin();
        for atom in answer.atoms() {
            (atom.folded || atom.label != NO_LABEL).then_some(())?;
            answer_labels.note(atom.label, 0)?;
        }
        Some(())
    }
}

/// What atoms are by themselves, added up: another for drawings that differ in that.
fn sum(sketch: &Sketch) -> u64 {
    let shown = sketch.atoms().iter().filter(|atom| !atom.folded);
    shown.fold(0, |sum, atom| sum.wrapping_add(crate::structure::canon::mix(atom.code)))
}
