//! What moves: curved arrows, read from their notation and applied as one sum.

pub mod chains;
mod cut;
mod grammar;
pub mod infer;
pub mod ledger;
mod loose;
pub mod notation;
pub(crate) mod plain;
pub mod push;
pub mod resolve;
pub mod symbols;

pub use cut::{Cut, CutStep, cut};
pub use push::{ArrowFault, BondChange, Pushed, push, push_detached};

use crate::source::Span;
use crate::structure::{AtomId, Label};

/// What one arrow moves (IUPAC Gold Book 08160: full heads move pairs, single-barbed heads move one electron).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Moves {
    /// A pair, `->`.
    Pair,
    /// One electron, `~>`.
    Single,
}

impl Moves {
    /// Electrons moved: 2 or 1.
    #[must_use]
    pub fn electrons(self) -> i32 {
        match self {
            Self::Pair => 2,
            Self::Single => 1,
        }
    }
}

/// Where electrons sit: on an atom, or between two atoms (bonded or not).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Place<A> {
    /// Non-bonding electrons of an atom.
    Atom(A),
    /// Electrons between two atoms.
    Bond(A, A),
}

impl<A> Place<A> {
    /// The same place under other atom names.
    pub fn map<B>(self, mut f: impl FnMut(A) -> B) -> Place<B> {
        match self {
            Self::Atom(a) => Place::Atom(f(a)),
            Self::Bond(a, b) => Place::Bond(f(a), f(b)),
        }
    }
}

impl<A: Copy + PartialEq> Place<A> {
    /// The atoms of the place: one or two.
    pub fn atoms(self) -> impl Iterator<Item = A> {
        let (first, second) = match self {
            Self::Atom(a) => (a, None),
            Self::Bond(a, b) => (a, Some(b)),
        };
        std::iter::once(first).chain(second)
    }

    /// Whether the place touches an atom.
    pub fn touches(self, atom: A) -> bool {
        self.atoms().any(|own| own == atom)
    }
}

/// An atom as an arrow names it: a label, or one of the undrawn hydrogens of the labelled atom (`3h`, `3h2`).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct AtomName {
    /// The label.
    pub label: Label,
    /// Which undrawn hydrogen of that atom, counted from 1; `None` for the atom itself.
    pub hydrogen: Option<u32>,
    /// Where it is written.
    pub span: Span,
}

/// An arrow as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawnArrow {
    /// Pair or single electron.
    pub moves: Moves,
    /// Where the electrons come from.
    pub tail: Place<AtomName>,
    /// Where they go.
    pub head: Place<AtomName>,
    /// Where it is written.
    pub span: Span,
}

/// An arrow on the atoms of a structure: every head on an atom is a lone pair, every head between atoms a bond.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Arrow {
    /// Pair or single electron.
    pub moves: Moves,
    /// Where the electrons come from.
    pub tail: Place<AtomId>,
    /// Where they go.
    pub head: Place<AtomId>,
}
