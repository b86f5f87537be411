//! Pictures of structures and their curved arrows, as SVG.
//!
//! [`layout`] says where atoms go, for one drawing or several that are shown beside each other; [`svg`] draws a [`Scene`];
//! [`row`] draws several in one picture. Floating point lives here and nowhere else in the crate.

// Counts in drawings are below `layout::MOST_ATOMS`: exact as floating point numbers.
#![allow(clippy::cast_precision_loss)]

mod alike;
mod atoms;
mod bonds;
mod canvas;
mod curves;
mod dots;
mod figure;
pub mod flaws;
pub mod geometry;
mod hydrogens;
mod labels;
pub mod layout;
mod page;
mod wedges;
pub mod words;

pub use alike::Alike;
pub use curves::Curve;
pub use page::{Panel, curves_of, fragment, fragments, hydrogens_of, row, svg, wedges_of};

use crate::arrows::Arrow;
use crate::structure::{AtomId, Structure};
use geometry::Position;

/// Which lone pairs are drawn as dots. Unpaired electrons always are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pairs {
    /// Those that arrows use.
    #[default]
    Used,
    /// Every one.
    All,
}

/// What one picture shows.
#[derive(Debug, Clone)]
pub struct Scene<'a> {
    /// The structure, localised where it can be.
    pub structure: &'a Structure,
    /// A point for every atom, from [`layout::lay_out`]; empty where the structure is too large to be shown.
    pub coordinates: &'a [Position],
    /// Its arrows.
    pub arrows: &'a [Arrow],
    /// Atoms whose labels are written.
    pub labels: Vec<AtomId>,
    /// Atoms that are ringed as differences.
    pub ringed_atoms: Vec<AtomId>,
    /// Bonds that are ringed as differences, by their ends: a bond that is missing can be ringed as well.
    pub ringed_bonds: Vec<(AtomId, AtomId)>,
    /// Which lone pairs are drawn.
    pub pairs: Pairs,
    /// Short name of the picture, for people who do not see it.
    pub title: String,
    /// The picture in words; empty: made from structure and arrows.
    pub desc: String,
}

impl<'a> Scene<'a> {
    /// A scene with the labels that its arrows refer to, and nothing ringed.
    #[must_use]
    pub fn new(structure: &'a Structure, coordinates: &'a [Position], arrows: &'a [Arrow]) -> Self {
        let mut labels: Vec<AtomId> =
            arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms())).collect();
        labels.sort_unstable();
        labels.dedup();
        Self {
            structure,
            coordinates,
            arrows,
            labels,
            ringed_atoms: Vec::new(),
            ringed_bonds: Vec::new(),
            pairs: Pairs::Used,
            title: String::new(),
            desc: String::new(),
        }
    }

    /// The picture in words.
    #[must_use]
    pub fn in_words(&self) -> String {
        if !self.desc.is_empty() {
            return self.desc.clone();
        }
        let mut text = words::structure(self.structure);
        if !self.arrows.is_empty() {
            text.push(' ');
            text.push_str(&words::arrows(self.structure, self.arrows));
        }
        text
    }
}
