//! One outermost `molecule` as it is drawn, with the molecules inside it.
//!
//! Reading goes in two passes: [`rows`] takes the elements and arrays as they stand, [`body`] puts the graph together and
//! settles what depends on all of it (hydrogens, spin, drawn electrons, stereochemistry).

mod body;
mod bonds;
mod electrons;
mod ids;
mod rows;
mod spin;
mod stereo;
mod wedge;

pub(crate) use rows::{clipped, count};
pub(crate) use wedge::undrawn_neighbour;

use super::fault::Faults;
use super::tree::{NodeId, Tree};
use crate::arrows::Place;
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::Structure;

/// A `molecule` element: its name and what it says of itself.
#[derive(Debug, Clone, Default)]
pub(crate) struct Frame {
    pub(crate) id: Option<Box<str>>,
    /// How often the molecule is there, with the counts of the molecules around it.
    pub(crate) count: u32,
    /// The molecule around it.
    pub(crate) parent: Option<u32>,
    /// Whether its atom ids are no labels (see [`UNLABELLED`](super::UNLABELLED)).
    pub(crate) unlabelled: bool,
    charge: Option<(i64, Span)>,
    spin: Option<(i64, Span)>,
}

/// What is known of an atom beside the graph.
#[derive(Debug, Clone)]
pub(crate) struct AtomInfo {
    pub(crate) id: Option<Box<str>>,
    /// Index of its molecule in [`Drawn::frames`].
    pub(crate) frame: u32,
    /// Whether the id is no label.
    pub(crate) unlabelled: bool,
}

/// A bond's id and its ends.
#[derive(Debug, Clone)]
pub(crate) struct BondInfo {
    pub(crate) id: Box<str>,
    pub(crate) ends: (u32, u32),
}

/// Drawn electrons.
#[derive(Debug, Clone)]
pub(crate) struct ElectronInfo {
    pub(crate) id: Option<Box<str>>,
    /// The atom or the two atoms, as indices; `None` for electrons spread over more.
    pub(crate) place: Option<Place<u32>>,
    pub(crate) count: i64,
    pub(crate) span: Span,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub(crate) struct Drawn {
    /// One copy of everything drawn, without labels.
    pub(crate) structure: Structure,
    /// The molecules, the outermost first.
    pub(crate) frames: Vec<Frame>,
    /// By atom index.
    pub(crate) atoms: Vec<AtomInfo>,
    /// Bonds that have ids.
    pub(crate) bonds: Vec<BondInfo>,
    pub(crate) electrons: Vec<ElectronInfo>,
    pub(crate) faults: Faults,
    /// A molecule that this one only refers to.
    pub(crate) refers_to: Option<(Box<str>, Span)>,
    /// Where the element is.
    pub(crate) span: Span,
}

impl Drawn {
    /// Reads a `molecule` element.
    pub(crate) fn read(tree: &Tree, node: NodeId, limits: &Limits) -> Self {
        let rows = rows::Rows::read(tree, node, limits);
        body::build(&rows, tree.span(node))
    }

    /// How messages call an atom.
    fn call(&self, atom: usize) -> String {
        match self.atoms.get(atom).and_then(|info| info.id.as_deref()) {
            Some(id) => id.to_owned(),
            None => format!("number {}", atom + 1),
        }
    }
}
