//! One side of a reaction: molecules with their counts become one drawing with labels.
//!
//! Labels are atom ids. An id that several molecules of the side use is told apart by the molecule's id, `m1:a1`; the second
//! and later copies of a molecule that is there several times carry their number, `a1_2`. Molecules without an id, which programs write with
//! atoms `a0`, `a1`, … in each, are `m1`, `m2`, … in the order of the document.

use super::fault::{Fault, Faults, Problem};
use super::molecule::Drawn;
use crate::arrows::Place;
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::stereo::Stereo;
use crate::structure::{AtomId, Label, Structure};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

/// Where an atom of a side comes from.
#[derive(Debug, Clone)]
struct Origin {
    id: Option<Box<str>>,
    molecule: Option<Box<str>>,
    /// Which of the molecules that were added, from 1, with all that is in it.
    ordinal: u32,
    /// Which molecule of the side, copies counted.
    instance: u32,
    /// Which copy, from 0.
    copy: u32,
    unlabelled: bool,
}

/// A bond with an id.
#[derive(Debug, Clone)]
pub(super) struct NamedBond {
    pub(super) id: Box<str>,
    pub(super) molecule: Option<Box<str>>,
    pub(super) ends: (AtomId, AtomId),
}

/// Electrons with an id.
#[derive(Debug, Clone)]
pub(super) struct NamedElectrons {
    pub(super) id: Box<str>,
    pub(super) place: Option<Place<AtomId>>,
    pub(super) count: i64,
    pub(super) span: Span,
}

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Side {
    pub(super) structure: Structure,
    origins: Vec<Origin>,
    pub(super) bonds: Vec<NamedBond>,
    pub(super) electrons: Vec<NamedElectrons>,
    instances: u32,
    /// Molecules that were added.
    molecules: u32,
    /// Whether molecules without ids use one atom id, so that their labels are numbers of ours.
    pub(super) is_numbered: bool,
    /// Whether every atom so far has coordinates.
    placed: bool,
    /// Whether a limit was met; nothing is added any more.
    full: bool,
    pub(super) faults: Faults,
}

impl Side {
    pub(super) fn new() -> Self {
        Self { placed: true, ..Self::default() }
    }

    /// Adds a molecule `count` times. What it draws is said to stand at `span` where one is given, for molecules that
    /// stand in another record.
    pub(super) fn add(&mut self, drawn: &Drawn, count: u32, span: Option<Span>, limits: &Limits) {
        if self.full {
            return;
        }
        self.molecules += 1;
        for fault in drawn.faults.iter() {
            self.faults.take(Fault { span: span.unwrap_or(fault.span), ..fault.clone() });
        }
        let copies: Vec<u64> = drawn.frames.iter().map(|frame| u64::from(frame.count) * u64::from(count)).collect();
        let of_atom = |atom: usize| drawn.atoms.get(atom).map_or(0, |info| copies[info.frame as usize]);
        let atoms: u64 = (0..drawn.atoms.len()).map(of_atom).sum();
        let bonds: u64 = drawn.structure.bonds().map(|(_, a, b, _)| of_atom(a.index()).min(of_atom(b.index()))).sum();
        for (limit, cap, more, have) in [
            ("atoms", limits.atoms, atoms, self.structure.atom_count()),
            ("bonds", limits.bonds, bonds, self.structure.bond_count()),
        ] {
            if more + have as u64 > cap as u64 {
                let problem = Problem::Limit { limit, cap };
                self.faults.push(problem, span.unwrap_or(drawn.span));
                self.full = true;
                return;
            }
        }
        Copier { side: self, drawn, copies: &copies, span, bases: Vec::new() }.run();
    }

    /// Gives the atoms their labels, once all molecules are there.
    pub(super) fn label(&mut self) {
        let mut users: FxHashMap<&str, SmallVec<[u32; 2]>> = FxHashMap::default();
        for origin in self.origins.iter().filter(|origin| origin.copy == 0) {
            if let Some(id) = origin.id.as_deref() {
                let users = users.entry(id).or_default();
                if users.last() != Some(&origin.instance) {
                    users.push(origin.instance);
                }
            }
        }
        let mut seen: FxHashMap<Label, u32> = FxHashMap::default();
        for (at, origin) in self.origins.iter().enumerate().filter(|(_, origin)| !origin.unlabelled) {
            let Some(id) = origin.id.as_deref() else { continue };
            let shared = users.get(id).is_some_and(|users| users.len() > 1);
            self.is_numbered |= shared && origin.molecule.is_none();
            let label = Label::from_text(&label_text(origin, id, shared));
            if let Some(first) = seen.insert(label.clone(), origin.instance)
                // Two in one molecule have been found when it was read.
                && first != origin.instance
            {
                let span = self.structure.atom_span(AtomId::new(at));
                self.faults.push(Problem::RepeatedAtom(label.to_string()), span);
            }
            self.structure.set_label(AtomId::new(at), &label);
        }
        if !self.placed {
            self.structure.coordinates.clear();
        }
    }

    /// Atoms whose own id this is, whatever their label; of a molecule that is there several times, the first.
    pub(super) fn atoms_with_id(&self) -> FxHashMap<&str, SmallVec<[AtomId; 1]>> {
        let mut atoms: FxHashMap<&str, SmallVec<[AtomId; 1]>> = FxHashMap::default();
        for (at, origin) in self.origins.iter().enumerate().filter(|(_, origin)| origin.copy == 0) {
            if let Some(id) = origin.id.as_deref() {
                atoms.entry(id).or_default().push(AtomId::new(at));
            }
        }
        atoms
    }

    /// The id of the molecule that an atom belongs to.
    pub(super) fn molecule_of(&self, atom: AtomId) -> Option<&str> {
        self.origins.get(atom.index()).and_then(|origin| origin.molecule.as_deref())
    }
}

fn label_text(origin: &Origin, id: &str, shared: bool) -> String {
    let mut text = match origin.molecule.as_deref() {
        _ if !shared => id.to_owned(),
        Some(molecule) => format!("{molecule}:{id}"),
        None => format!("m{}:{id}", origin.ordinal),
    };
    if origin.copy > 0 {
        text.push('_');
        text.push_str(&(origin.copy + 1).to_string());
    }
    text
}

/// Copies a molecule into a side.
struct Copier<'a> {
    side: &'a mut Side,
    drawn: &'a Drawn,
    /// How often each frame is there.
    copies: &'a [u64],
    span: Option<Span>,
    /// For each frame its first atom in the molecule, its first atom in the side, and its number of atoms.
    bases: Vec<(usize, usize, usize)>,
}

impl Copier<'_> {
    fn run(mut self) {
        for frame in 0..self.drawn.frames.len() {
            self.add_frame(frame);
        }
        self.add_bonds();
        self.add_stereo();
        self.add_electrons();
    }

    fn add_frame(&mut self, frame: usize) {
        let first = self.drawn.atoms.partition_point(|info| (info.frame as usize) < frame);
        let end = self.drawn.atoms.partition_point(|info| info.frame as usize <= frame);
        self.bases.push((first, self.side.structure.atom_count(), end - first));
        if first == end {
            return;
        }
        let own = &self.drawn.frames[frame];
        let outermost = self.drawn.frames.first().and_then(|frame| frame.id.as_ref());
        let molecule = own.id.as_ref().or(outermost);
        for copy in 0..self.copies[frame] {
            for at in first..end {
                let id = AtomId::new(at);
                let span = self.span.unwrap_or_else(|| self.drawn.structure.atom_span(id));
                self.side.structure.add_atom(*self.drawn.structure.atom(id), span);
                match self.drawn.structure.coordinates.get(at) {
                    Some(point) => self.side.structure.coordinates.push(*point),
                    None => self.side.placed = false,
                }
                let info = &self.drawn.atoms[at];
                self.side.origins.push(Origin {
                    id: info.id.clone(),
                    molecule: molecule.cloned(),
                    ordinal: self.side.molecules,
                    instance: self.side.instances,
                    copy: copy as u32,
                    unlabelled: info.unlabelled || own.unlabelled,
                });
            }
            self.side.instances += 1;
        }
    }

    /// An atom's copy in the side.
    fn copied(&self, atom: AtomId, copy: u64) -> Option<AtomId> {
        let frame = self.drawn.atoms.get(atom.index())?.frame as usize;
        let (first, base, len) = *self.bases.get(frame)?;
        (copy < self.copies[frame]).then(|| AtomId::new(base + copy as usize * len + atom.index() - first))
    }

    fn copies_of(&self, atom: AtomId) -> u64 {
        self.drawn.atoms.get(atom.index()).map_or(0, |info| self.copies[info.frame as usize])
    }

    fn add_bonds(&mut self) {
        for (id, a, b, bond) in self.drawn.structure.bonds() {
            let span = self.span.unwrap_or_else(|| self.drawn.structure.bond_span(id));
            for copy in 0..self.copies_of(a) {
                if let (Some(a), Some(b)) = (self.copied(a, copy), self.copied(b, copy)) {
                    self.side.structure.add_bond(a, b, bond, span);
                }
            }
        }
        for bond in &self.drawn.bonds {
            let ends = (AtomId::from(bond.ends.0), AtomId::from(bond.ends.1));
            if let (Some(a), Some(b)) = (self.copied(ends.0, 0), self.copied(ends.1, 0)) {
                let molecule = self.side.molecule_of(a).map(Box::from);
                self.side.bonds.push(NamedBond { id: bond.id.clone(), molecule, ends: (a, b) });
            }
        }
    }

    fn add_stereo(&mut self) {
        let stereo = &self.drawn.structure.stereo;
        for centre in &stereo.centres {
            let one = Stereo { centres: vec![centre.clone()], ..Stereo::default() };
            self.add_marks(&one, centre.atom);
        }
        for bond in &stereo.double_bonds {
            let one = Stereo { double_bonds: vec![*bond], ..Stereo::default() };
            self.add_marks(&one, bond.ends[0]);
        }
    }

    fn add_marks(&mut self, marks: &Stereo, atom: AtomId) {
        for copy in 0..self.copies_of(atom) {
            let mut copied = marks.renumbered(|atom| self.copied(atom, copy));
            self.side.structure.stereo.centres.append(&mut copied.centres);
            self.side.structure.stereo.double_bonds.append(&mut copied.double_bonds);
        }
    }

    fn add_electrons(&mut self) {
        for electrons in &self.drawn.electrons {
            let Some(id) = electrons.id.clone() else { continue };
            let first = |atom: u32| self.copied(AtomId::from(atom), 0);
            let place = match electrons.place {
                Some(Place::Atom(atom)) => first(atom).map(Place::Atom),
                Some(Place::Bond(a, b)) => first(a).zip(first(b)).map(|(a, b)| Place::Bond(a, b)),
                None => None,
            };
            let span = self.span.unwrap_or(electrons.span);
            self.side.electrons.push(NamedElectrons { id, place, count: electrons.count, span });
        }
    }
}
