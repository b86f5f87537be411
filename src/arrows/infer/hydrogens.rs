//! Which hydrogen of the start is which of the answer.
//!
//! Hydrogens are counted, not drawn. Where an atom carries fewer in the answer, some left it; where one carries more, some
//! came. Those that leave are drawn out, so that arrows can name them, and every way to send them is a pairing.

use super::NoArrows;
use crate::source::Span;
use crate::structure::{Atom, AtomId, Bond, Element, Label, Structure};
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::BTreeMap;

/// Two drawings of the same atoms.
#[derive(Debug, Clone)]
pub(super) struct Pairing {
    /// The start with leaving hydrogens drawn out.
    pub start: Structure,
    /// The answer on the atoms of that start. Its atoms differ from those of the start in charge only.
    pub target: Structure,
}

/// A hydrogen that leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Source {
    /// An undrawn one of this atom.
    Undrawn(AtomId),
    /// A drawn one.
    Drawn(AtomId),
}

/// Where a hydrogen goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Slot {
    /// To this atom of the start.
    On(AtomId),
    /// It is this atom of the answer.
    Free(AtomId),
}

/// Whether a drawn hydrogen only draws a count out; as the comparison takes it.
fn is_folded(structure: &Structure, id: AtomId) -> bool {
    let atom = structure.atom(id);
    let plain = atom.element == Element::HYDROGEN && atom.isotope.is_none() && atom.charge == 0 && atom.hydrogens == 0;
    let mut around = structure.neighbours(id);
    plain
        && matches!((around.next(), around.next()), (Some((next, bond)), None)
            if structure.bond(bond).order == 1 && structure.atom(next).element != Element::HYDROGEN)
}

fn folded(structure: &Structure, carrier: AtomId) -> Vec<AtomId> {
    structure.neighbours(carrier).map(|(next, _)| next).filter(|next| is_folded(structure, *next)).collect()
}

/// All pairings up to `most`; hydrogens whose labels say where they are come first and stay there.
pub(super) fn pairings(
    start: &Structure,
    answer: &Structure,
    to_answer: &[Option<AtomId>],
    most: usize,
) -> Result<Vec<Pairing>, NoArrows> {
    let labelled = answer.atom_ids().filter(|id| answer.atom(*id).element == Element::HYDROGEN);
    let labelled = labelled.filter_map(|id| Some((answer.label(id)?, id))).collect();
    let draws = [start, answer].map(|own| own.atoms().any(|(_, atom)| atom.element == Element::HYDROGEN));
    let mut view = View { start, answer, to_answer, from_answer: vec![None; answer.atom_count()], labelled, draws };
    view.check_atoms()?;
    let (sources, slots) = view.moving();
    if sources.len() != slots.len() {
        return Err(NoArrows::Atoms(vec![(
            "H",
            slots.len().cast_signed() as i64 - sources.len().cast_signed() as i64,
        )]));
    }
    Ok(view.assignments(&sources, slots, most).into_iter().map(|slots| view.pair(&sources, &slots)).collect())
}

struct View<'a> {
    start: &'a Structure,
    answer: &'a Structure,
    to_answer: &'a [Option<AtomId>],
    from_answer: Vec<Option<AtomId>>,
    /// Hydrogens of the answer by their label.
    labelled: FxHashMap<Label, AtomId>,
    /// Whether start and answer draw any hydrogen.
    draws: [bool; 2],
}

impl View<'_> {
    fn image(&self, atom: AtomId) -> Option<AtomId> {
        self.to_answer.get(atom.index()).copied().flatten()
    }

    /// Inverts the correspondence and checks that it leaves no atom but hydrogens out.
    fn check_atoms(&mut self) -> Result<(), NoArrows> {
        let mut balance = [0_i64; 256];
        for (structure, sign) in [(self.start, -1), (self.answer, 1)] {
            for (_, atom) in structure.atoms() {
                balance[usize::from(atom.element.number())] += sign;
                balance[usize::from(Element::HYDROGEN.number())] += sign * i64::from(atom.hydrogens);
            }
        }
        let differing = (0..=u8::MAX).zip(balance).filter(|(_, more)| *more != 0);
        let differing: Vec<_> = differing
            .map(|(number, more)| (Element::from_number(number).unwrap_or(Element::ANY).symbol(), more))
            .collect();
        if !differing.is_empty() {
            return Err(NoArrows::Atoms(differing));
        }
        for (id, atom) in self.start.atoms() {
            let other = || NoArrows::OtherAtom(self.start.call(id));
            match self.image(id).filter(|image| image.index() < self.answer.atom_count()) {
                Some(image) => {
                    let same = self.answer.atom(image);
                    if same.element != atom.element || same.isotope != atom.isotope {
                        return Err(other());
                    }
                    self.from_answer[image.index()] = Some(id);
                }
                None if atom.element == Element::HYDROGEN && atom.isotope.is_none() => {}
                None => return Err(other()),
            }
        }
        // Hydrogens without a partner are sent to any place of the answer: one that is marked is not any.
        let marked = |(id, atom): &(AtomId, &Atom)| atom.isotope.is_some() && self.from_answer[id.index()].is_none();
        match self.answer.atoms().find(marked) {
            Some((id, _)) => Err(NoArrows::NewAtom(self.answer.call(id))),
            None => Ok(()),
        }
    }

    /// Hydrogens that an atom carries, and the drawn ones among them that no correspondence speaks of.
    fn carried(
        structure: &Structure,
        draws: bool,
        atom: AtomId,
        is_paired: impl Fn(AtomId) -> bool,
    ) -> (usize, Vec<AtomId>) {
        let own = if draws { folded(structure, atom) } else { Vec::new() };
        let drawn: Vec<AtomId> = own.into_iter().filter(|own| !is_paired(*own)).collect();
        (usize::from(structure.atom(atom).hydrogens) + drawn.len(), drawn)
    }

    fn moving(&self) -> (Vec<Source>, Vec<Slot>) {
        let (mut sources, mut slots) = (Vec::new(), Vec::new());
        let paired_start = |atom: AtomId| self.image(atom).is_some();
        let paired_answer = |atom: AtomId| self.from_answer[atom.index()].is_some();
        for id in self.start.atom_ids() {
            match self.image(id) {
                Some(image) => {
                    let (has, drawn) = Self::carried(self.start, self.draws[0], id, paired_start);
                    let (keeps, _) = Self::carried(self.answer, self.draws[1], image, paired_answer);
                    if has > keeps {
                        sources.extend(self.leaving(id, drawn).into_iter().take(has - keeps));
                    }
                    slots.extend(std::iter::repeat_n(Slot::On(id), keeps.saturating_sub(has)));
                }
                None if is_folded(self.start, id) => {}
                None => sources.push(Source::Drawn(id)),
            }
        }
        let free = |id: &AtomId| !paired_answer(*id) && !is_folded(self.answer, *id);
        slots.extend(self.answer.atom_ids().filter(free).map(Slot::Free));
        (sources, slots)
    }

    /// The hydrogens of an atom, those that leave first: drawn ones that the answer shows elsewhere, other ones with a label,
    /// undrawn ones, and last drawn ones that no arrow could name.
    fn leaving(&self, carrier: AtomId, mut drawn: Vec<AtomId>) -> Vec<Source> {
        drawn.sort_unstable();
        let rank = |own: &AtomId| match self.place_by_label(*own) {
            Some(slot) if slot != Slot::On(carrier) => 0,
            Some(_) => 3,
            None if self.start.label(*own).is_some() => 1,
            None => 4,
        };
        let undrawn = usize::from(self.start.atom(carrier).hydrogens);
        let mut all: Vec<(u8, Source)> = drawn.iter().map(|own| (rank(own), Source::Drawn(*own))).collect();
        all.extend(std::iter::repeat_n((2, Source::Undrawn(carrier)), undrawn));
        all.sort_by_key(|(rank, _)| *rank);
        all.into_iter().map(|(_, source)| source).collect()
    }

    /// Where the answer shows a hydrogen of the start, by its label.
    fn place_by_label(&self, hydrogen: AtomId) -> Option<Slot> {
        let label = self.start.label(hydrogen)?;
        let image = self.labelled.get(&label).copied()?;
        if !is_folded(self.answer, image) {
            return Some(Slot::Free(image));
        }
        let (carrier, _) = self.answer.neighbours(image).next()?;
        self.from_answer[carrier.index()].map(Slot::On)
    }

    /// Orders of the slots, one for each way to send the sources there.
    fn assignments(&self, sources: &[Source], mut slots: Vec<Slot>, most: usize) -> Vec<Vec<Slot>> {
        // Labels fix their pairs; the rest is permuted.
        let mut fixed = vec![None; sources.len()];
        for (at, source) in sources.iter().enumerate() {
            let Source::Drawn(hydrogen) = source else { continue };
            let Some(slot) = self.place_by_label(*hydrogen) else { continue };
            if let Some(place) = slots.iter().position(|own| *own == slot) {
                fixed[at] = Some(slots.remove(place));
            }
        }
        let open: Vec<usize> = (0..sources.len()).filter(|at| fixed[*at].is_none()).collect();
        let mut all: Vec<Vec<Slot>> = Vec::new();
        let mut order: Vec<usize> = (0..slots.len()).collect();
        // Trying orders beyond the bound again and again must end too.
        for _ in 0..most * 32 {
            let mut whole = fixed.clone();
            for (at, slot) in open.iter().zip(&order) {
                whole[*at] = slots.get(*slot).copied();
            }
            let whole: Vec<Slot> = whole.into_iter().flatten().collect();
            let is_same = |own: &Vec<Slot>| same_sending(sources, own, &whole);
            if whole.len() == sources.len() && !all.iter().any(is_same) {
                all.push(whole);
            }
            if all.len() >= most || !next_order(&mut order) {
                break;
            }
        }
        all
    }

    /// Draws the sources out and puts the answer on the atoms of the start.
    fn pair(&self, sources: &[Source], slots: &[Slot]) -> Pairing {
        let mut start = self.start.clone();
        let mut from_answer = self.from_answer.clone();
        let mut sent: Vec<(AtomId, Slot)> = Vec::with_capacity(sources.len());
        let mut counts: BTreeMap<AtomId, u32> = BTreeMap::new();
        for (source, slot) in sources.iter().zip(slots) {
            let hydrogen = match *source {
                Source::Drawn(hydrogen) => hydrogen,
                Source::Undrawn(carrier) => {
                    let count = counts.entry(carrier).or_default();
                    *count += 1;
                    draw_out(&mut start, carrier, *count)
                }
            };
            if let Slot::Free(image) = *slot {
                from_answer[image.index()] = Some(hydrogen);
            }
            sent.push((hydrogen, *slot));
        }
        let target = self.target(&start, &from_answer, &sent);
        Pairing { start, target }
    }

    fn target(&self, start: &Structure, from_answer: &[Option<AtomId>], sent: &[(AtomId, Slot)]) -> Structure {
        let mut target = Structure::with_capacity(start.atom_count());
        for (id, atom) in start.atoms() {
            let charge = self.image(id).map_or(0, |image| self.answer.atom(image).charge);
            target.add_atom(Atom { charge, ..*atom }, Span::default());
        }
        for (image, id) in from_answer.iter().enumerate() {
            if let Some(id) = id {
                target.atom_mut(*id).charge = self.answer.atom(AtomId::new(image)).charge;
            }
        }
        for (_, x, y, bond) in self.answer.bonds() {
            let ends = (from_answer.get(x.index()).copied().flatten(), from_answer.get(y.index()).copied().flatten());
            if let (Some(a), Some(b)) = ends {
                target.add_bond(a, b, Bond::new(bond.order), Span::default());
            }
        }
        for (hydrogen, slot) in sent {
            if let Slot::On(carrier) = slot {
                target.add_bond(*hydrogen, *carrier, Bond::new(1), Span::default());
            }
        }
        // Drawn hydrogens that stay.
        let left: FxHashSet<AtomId> = sent.iter().map(|(own, _)| *own).collect();
        let stays = |id: &AtomId| is_folded(self.start, *id) && self.image(*id).is_none() && !left.contains(id);
        for hydrogen in self.start.atom_ids().filter(stays) {
            if let Some((carrier, _)) = self.start.neighbours(hydrogen).next() {
                target.add_bond(hydrogen, carrier, Bond::new(1), Span::default());
            }
        }
        target
    }
}

/// Names of hydrogens of one atom that are looked through for a free one.
const HYDROGENS: u32 = 8;

fn hydrogen_name(carrier: &Label, count: u32) -> Label {
    let name = if count == 1 { format!("{carrier}h") } else { format!("{carrier}h{count}") };
    Label::Name(name.into())
}

/// Draws one hydrogen of an atom out under the name by which arrows call it (`3h`, `3h2`).
fn draw_out(start: &mut Structure, carrier: AtomId, count: u32) -> AtomId {
    let left = start.atom(carrier).hydrogens.saturating_sub(1);
    start.atom_mut(carrier).hydrogens = left;
    // Arrows may have named a hydrogen of this atom before.
    let is_taken = |count: u32| {
        let name = start.label(carrier).map(|label| hydrogen_name(&label, count));
        name.is_some_and(|name| start.atom_ids().any(|atom| start.label(atom).as_ref() == Some(&name)))
    };
    let count = (count..count.saturating_add(HYDROGENS)).find(|count| !is_taken(*count)).unwrap_or(count);
    let hydrogen = start.add_atom(Atom::new(Element::HYDROGEN), start.atom_span(carrier));
    start.add_bond(carrier, hydrogen, Bond::new(1), Span::default());
    if let Some(label) = start.label(carrier) {
        start.set_label(hydrogen, &hydrogen_name(&label, count));
    }
    hydrogen
}

/// Whether two assignments send hydrogens of the same atoms to the same places, so that only their numbers differ.
fn same_sending(sources: &[Source], one: &[Slot], two: &[Slot]) -> bool {
    let key = |slots: &[Slot]| {
        let mut key: Vec<(usize, usize, usize)> = sources
            .iter()
            .zip(slots)
            .map(|(source, slot)| {
                let from = match source {
                    Source::Undrawn(carrier) => carrier.index(),
                    Source::Drawn(own) => own.index() | 1 << 40,
                };
                match slot {
                    Slot::On(atom) => (from, 0, atom.index()),
                    Slot::Free(atom) => (from, 1, atom.index()),
                }
            })
            .collect();
        key.sort_unstable();
        key
    };
    key(one) == key(two)
}

/// The next order in dictionary order; `false` behind the last.
fn next_order(order: &mut [usize]) -> bool {
    let Some(at) = (1..order.len()).rev().find(|at| order[at - 1] < order[*at]) else { return false };
    let Some(with) = (at..order.len()).rev().find(|with| order[at - 1] < order[*with]) else { return false };
    order.swap(at - 1, with);
    order[at..].reverse();
    true
}
