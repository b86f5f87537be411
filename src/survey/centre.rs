//! The reaction centre of a step: the atoms that its arrows touch, the bonds and lone pairs that change, and the neighbours.
//!
//! Two fingerprints tell centres apart: of the centre with its neighbours, and of the centre with its surroundings out to two bonds.
//! They come from colours that are refined over the bonds (Weisfeiler and Leman, as in canonical ranking); hydrogens that take no part
//! count for nothing. Different centres nearly never have equal ones (64 bits); centres that only a cycle tells apart may.

use crate::arrows::{Arrow, BondChange, Place};
use crate::structure::canon::mix;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashMap;

/// The reaction centre of one step.
#[derive(Debug, Clone)]
pub struct Centre {
    /// The fingerprint of the centre with its neighbours.
    pub family: u64,
    /// The fingerprint of the centre with its surroundings out to two bonds.
    pub surroundings: u64,
    /// Start and arrows, to be drawn and put into words.
    pub start: Structure,
    /// The arrows.
    pub arrows: Vec<Arrow>,
    /// The bonds that change.
    pub bonds: Vec<BondChange>,
}

/// Rounds of refinement: the longest path through a centre of seven atoms and its neighbours.
const ROUNDS: usize = 6;

/// The reaction centre of a step.
#[must_use]
pub fn centre(start: Structure, arrows: Vec<Arrow>, bonds: Vec<BondChange>) -> Centre {
    let mut near = Near::new(&arrows, &bonds);
    near.widen(&start);
    let family = near.fingerprint(&start);
    near.widen(&start);
    let surroundings = near.fingerprint(&start);
    Centre { family, surroundings, start, arrows, bonds }
}

/// Atoms of a step and of its surroundings, by their distance from it.
struct Near {
    /// The atoms in the order in which they were met, each with its distance.
    atoms: Vec<(AtomId, u64)>,
    /// Where an atom stands in that list.
    at: FxHashMap<AtomId, usize>,
    /// What an atom gains in non-bonding electrons.
    gain: FxHashMap<AtomId, i32>,
    /// Bonds that change, by their ends, with their orders before and after.
    changes: FxHashMap<(AtomId, AtomId), (u8, u8)>,
    distance: u64,
}

/// What an atom gains in electrons of its own.
pub(super) fn gains(arrows: &[Arrow]) -> Vec<(AtomId, i32)> {
    let mut gain: Vec<(AtomId, i32)> = Vec::new();
    let mut add = |atom: AtomId, electrons: i32| match gain.iter_mut().find(|(own, _)| *own == atom) {
        Some((_, own)) => *own += electrons,
        None => gain.push((atom, electrons)),
    };
    for arrow in arrows {
        if let Place::Atom(atom) = arrow.tail {
            add(atom, -arrow.moves.electrons());
        }
        if let Place::Atom(atom) = arrow.head {
            add(atom, arrow.moves.electrons());
        }
    }
    gain.retain(|(_, electrons)| *electrons != 0);
    gain
}

impl Near {
    fn new(arrows: &[Arrow], bonds: &[BondChange]) -> Self {
        let gain = gains(arrows).into_iter().collect();
        let changes = bonds.iter().map(|own| (own.between, (own.before, own.after))).collect();
        let mut near = Self { atoms: Vec::new(), at: FxHashMap::default(), gain, changes, distance: 0 };
        for arrow in arrows {
            arrow.tail.atoms().chain(arrow.head.atoms()).for_each(|atom| near.meet(atom));
        }
        near
    }

    fn meet(&mut self, atom: AtomId) {
        let Self { atoms, at, distance, .. } = self;
        at.entry(atom).or_insert_with(|| {
            atoms.push((atom, *distance));
            atoms.len() - 1
        });
    }

    /// Takes the neighbours of all atoms so far, hydrogens left out.
    fn widen(&mut self, start: &Structure) {
        self.distance += 1;
        for at in 0..self.atoms.len() {
            for (next, _) in start.neighbours(self.atoms[at].0) {
                if start.atom(next).element.number() != 1 {
                    self.meet(next);
                }
            }
        }
    }

    /// A number for the atoms so far, whatever their order.
    fn fingerprint(&self, start: &Structure) -> u64 {
        let mut colours: Vec<u64> =
            self.atoms.iter().map(|(atom, distance)| self.colour(start, *atom, *distance)).collect();
        let bonds = self.bonds(start);
        for _ in 0..ROUNDS {
            let mut next: Vec<u64> = colours.iter().map(|own| mix(*own)).collect();
            for (a, b, bond) in &bonds {
                // Sums, so that the order of neighbours does not matter.
                next[*a] = next[*a].wrapping_add(mix(colours[*b].rotate_left(17) ^ bond));
                next[*b] = next[*b].wrapping_add(mix(colours[*a].rotate_left(17) ^ bond));
            }
            colours = next;
        }
        colours.into_iter().fold(0, |sum, own| sum.wrapping_add(mix(own)))
    }

    fn colour(&self, start: &Structure, atom: AtomId, distance: u64) -> u64 {
        let own = start.atom(atom);
        let gain = self.gain.get(&atom).copied().unwrap_or_default();
        // The charge of an atom that takes part is part of what is asked; those of neighbours are, too.
        mix(u64::from(own.element.number())
            | distance << 8
            | ((gain + 64) as u64) << 16
            | ((i64::from(own.charge) + 512) as u64) << 24)
    }

    /// The bonds between the atoms so far, those that are made among them, each with a number for its orders.
    fn bonds(&self, start: &Structure) -> Vec<(usize, usize, u64)> {
        let mut bonds = Vec::new();
        for (at, (atom, _)) in self.atoms.iter().enumerate() {
            for (next, bond) in start.neighbours(*atom) {
                let Some(&other) = self.at.get(&next).filter(|other| **other > at) else { continue };
                let order = start.bond(bond).order;
                let (before, after) = self.change(*atom, next).unwrap_or((order, order));
                bonds.push((at, other, u64::from(before) << 8 | u64::from(after)));
            }
        }
        for (&(a, b), &(before, after)) in self.changes.iter().filter(|(_, (before, _))| *before == 0) {
            if let (Some(&a), Some(&b)) = (self.at.get(&a), self.at.get(&b)) {
                bonds.push((a, b, u64::from(before) << 8 | u64::from(after)));
            }
        }
        bonds
    }

    fn change(&self, a: AtomId, b: AtomId) -> Option<(u8, u8)> {
        self.changes.get(&(a, b)).or_else(|| self.changes.get(&(b, a))).copied()
    }
}

impl Centre {
    /// The centre in words: the bonds that change, the atoms that give or get electrons of their own, and the neighbours of each
    /// atom in brackets, where it is named first.
    #[must_use]
    pub fn in_words(&self) -> String {
        let touched: Vec<AtomId> =
            self.arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms())).collect();
        let call = |atom: AtomId| {
            let own = self.start.atom(atom);
            let symbol = own.element.symbol();
            let name = match own.charge {
                0 => symbol.to_owned(),
                1 => format!("[{symbol}+]"),
                -1 => format!("[{symbol}-]"),
                more => format!("[{symbol}{more:+}]"),
            };
            let beside = self.start.neighbours(atom).map(|(next, _)| next);
            let beside = beside.filter(|next| !touched.contains(next) && self.start.atom(*next).element.number() != 1);
            let mut beside: Vec<&str> = beside.map(|next| self.start.atom(next).element.symbol()).collect();
            beside.sort_unstable();
            if beside.is_empty() { name } else { format!("{name}({})", beside.join(" ")) }
        };
        let mut parts: Vec<(u8, String)> = Vec::new();
        for BondChange { between: (a, b), before, after } in &self.bonds {
            let (mut a, mut b) = (call(*a), call(*b));
            if b < a {
                std::mem::swap(&mut a, &mut b);
            }
            let mark = |order: u8| match order {
                1 => "-",
                2 => "=",
                3 => "#",
                _ => "~",
            };
            parts.push(match (before, after) {
                (0, _) => (0, format!("{a}{}{b} made", mark(*after))),
                (_, 0) => (1, format!("{a}{}{b} broken", mark(*before))),
                _ => (2, format!("{a}{}{b} to {}", mark(*before), mark(*after))),
            });
        }
        for (atom, gain) in gains(&self.arrows) {
            let what = match gain.abs() {
                1 => "one electron".to_owned(),
                2 => "a lone pair".to_owned(),
                more => format!("{more} electrons"),
            };
            parts.push((3, format!("{} {} {what}", call(atom), if gain < 0 { "gives" } else { "gets" })));
        }
        if parts.is_empty() {
            return "nothing changes".to_owned();
        }
        parts.sort();
        parts.into_iter().map(|(_, words)| words).collect::<Vec<_>>().join("; ")
    }
}
