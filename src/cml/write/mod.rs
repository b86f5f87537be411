//! Writing molecules and questions as CML that is valid in schema 3 and is read back as it was.

mod ids;
mod molecule;
mod question;

use crate::arrows::DrawnArrow;
use crate::structure::Structure;
use crate::xml::markup::Markup;
use ids::Ids;
pub use ids::is_question_id;
use std::io::{self, Write};

/// The namespace of what is written.
const NAMESPACE: &str = "http://www.xml-cml.org/schema";
/// The namespace of our conventions: maps that are arrows, ids that are no labels.
const OWN_NAMESPACE: &str = "urn:keyassay:arrows";
/// The prefix that it is bound to.
const PREFIX: &str = "ka";

/// What the format cannot carry.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Unwritten {
    /// A bond of an order that schema 3 has no name for.
    #[error("the order {2} of the bond between {0} and {1}: CML knows 1, 2, 3 and A")]
    Order(String, String, u8),
    /// A mass number of 0, which SMILES can state.
    #[error("the isotope 0 of {0}: CML counts them from 1")]
    Isotope(String),
    /// A ring atom without a delocalised bond.
    #[error("that {0} is drawn aromatic: none of its bonds is")]
    Aromatic(String),
    /// A mark of stereochemistry of another geometry, or one that does not fit its atom.
    #[error("the stereo mark at {0}: CML has no such parity")]
    Stereo(String),
    /// A label that cannot be an id.
    #[error("the label {0}, which became {1}: ids are letters, digits, _ and -, and begin with a letter")]
    Label(String, String),
    /// A label that two atoms of one drawing carry.
    #[error("the label {0} of a second atom: ids are unique in a molecule")]
    RepeatedLabel(String),
    /// The id of a question.
    #[error("the id {0} beside its title: it is no XML id")]
    Id(String),
    /// A character that XML cannot carry.
    #[error("a control character in {0}")]
    Control(&'static str),
}

/// Writes one drawing as a `molecule` that stands alone, as a field of a table can hold it.
#[must_use]
pub fn write_molecule(structure: &Structure) -> (String, Vec<Unwritten>) {
    let mut markup = Markup::default();
    let mut lost = Vec::new();
    let mut ids = Ids::default();
    ids.take_labels(structure, &mut lost);
    let own = (!structure.is_empty()).then_some((PREFIX, OWN_NAMESPACE));
    let root = molecule::Root { namespace: NAMESPACE, own, id: None };
    molecule::write(&mut markup, structure, &mut ids, Some(&root), &mut lost);
    (markup.into_text(), lost)
}

/// Writes a side as `product` elements, one a line, to take the place of those of a document.
#[must_use]
pub fn write_products(structure: &Structure) -> (String, Vec<Unwritten>) {
    let (mut markup, mut lost) = (Markup::default(), Vec::new());
    question::products(&mut markup, structure, &mut lost);
    (markup.into_text(), lost)
}

/// Writes arrows as `link` elements, one a line, to take the place of those of a document's map.
#[must_use]
pub fn write_links(arrows: &[DrawnArrow]) -> (String, Vec<Unwritten>) {
    let (mut markup, mut lost) = (Markup::default(), Vec::new());
    question::links(&mut markup, arrows, &mut lost);
    (markup.into_text(), lost)
}

/// Writes a document of questions.
pub struct Writer<W: Write> {
    out: W,
    /// Molecules written so far; their ids are unique in the document.
    molecules: u64,
}

impl<W: Write> Writer<W> {
    /// Begins a document.
    ///
    /// # Errors
    /// Writing fails.
    pub fn new(mut out: W) -> io::Result<Self> {
        writeln!(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>")?;
        writeln!(out, "<cml xmlns=\"{NAMESPACE}\" xmlns:{PREFIX}=\"{OWN_NAMESPACE}\">")?;
        writeln!(out, "<reactionList>")?;
        Ok(Self { out, molecules: 0 })
    }

    /// Writes a question and says what of it could not be written.
    ///
    /// # Errors
    /// Writing fails.
    pub fn question(&mut self, question: &super::Sequence) -> io::Result<Vec<Unwritten>> {
        let mut markup = Markup::default();
        let mut lost = Vec::new();
        question::write(&mut markup, question, &mut self.molecules, &mut lost);
        self.out.write_all(markup.into_text().as_bytes())?;
        Ok(lost)
    }

    /// Ends the document.
    ///
    /// # Errors
    /// Writing fails.
    pub fn finish(mut self) -> io::Result<W> {
        writeln!(self.out, "</reactionList>")?;
        writeln!(self.out, "</cml>")?;
        self.out.flush()?;
        Ok(self.out)
    }
}
