//! QTI, the open standard of assessment: items of 1.2, 2.1, 2.2 and 3.0, and the packages that hold them.
//!
//! Here is what an item shows and keys, and where its companions lie; what those draw is read elsewhere. [`Reader`] gives the
//! items of one document, [`Package`] the documents of a zipped content package.

mod directory;
mod item;
mod key;
mod manifest;
mod names;
mod package;
mod paths;
mod stream;
mod tree;
mod v1;
pub mod write;
pub mod zip;

pub use key::Key;
pub use names::{Root, root};
pub use package::{Bytes, EntryFault, Package, PackageError, Resource, Unpacked};
pub use paths::{folder, resolve};
pub use stream::{Reader, Record, root_of};

use crate::source::Span;

/// A text of an item and where it stands in the item's text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Words {
    /// The text.
    pub text: String,
    /// Where.
    pub span: Span,
    /// Whether it stands there as it is, without references.
    pub plain: bool,
}

/// In which notation something is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Notation {
    /// Chemical Markup Language.
    Cml,
    /// SMILES, or a line of reaction SMILES.
    Smiles,
}

/// Where a drawing is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// In a file that the item names.
    File(String),
    /// In the item itself.
    Here(Words),
}

/// A drawing that an item shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// How it is written.
    pub notation: Notation,
    /// Where.
    pub place: Place,
    /// The field that it is, as its `role` says.
    pub role: Option<String>,
    /// The element that shows it.
    pub span: Span,
}

/// A choice of a multiple-choice question.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Choice {
    /// Its identifier, by which the key names it.
    pub identifier: String,
    /// What it draws, if it draws anything.
    pub shown: Option<Shown>,
    /// Its `data-smiles`.
    pub smiles: Option<Words>,
}

impl Choice {
    /// Whether it draws anything.
    #[must_use]
    pub fn is_drawn(&self) -> bool {
        self.shown.is_some() || self.smiles.is_some()
    }
}

/// A field that an item carries as data: its name and its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataField {
    /// The name, without `data-`.
    pub name: String,
    /// The value.
    pub value: Words,
}

/// Drawings of one item that are read; a page of an examination shows a dozen.
pub const MOST_DRAWINGS: usize = 1_000;

/// One item.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Question {
    /// Its identifier.
    pub identifier: Option<String>,
    /// Its `label`.
    pub label: Option<String>,
    /// The program that wrote it, as it says.
    pub tool: Option<String>,
    /// Its title.
    pub title: String,
    /// What its body says to read, but for the choices.
    pub prose: String,
    /// Its fields as data.
    pub fields: Vec<DataField>,
    /// What it shows outside of choices.
    pub shown: Vec<Shown>,
    /// How many drawings it shows in all: more than [`MOST_DRAWINGS`] are not read.
    pub drawings: usize,
    /// Its choices, in the order of the document.
    pub choices: Vec<Choice>,
    /// Which of them is keyed.
    pub key: Key,
    /// Its start tag.
    pub span: Span,
}
