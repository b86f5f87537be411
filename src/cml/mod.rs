//! Chemical Markup Language: molecules and reactions read as they are found, written as schema 3 says.
//!
//! Reading is a stream: [`Reader`] gives one [`Record`] after the other and holds no more than one, with a bounded number
//! of molecules that later records may refer to. The way of a record:
//!
//! 1. [`xml`](crate::xml) cuts the document into tokens, within limits, and keeps the record's text;
//! 2. `tree` holds the elements and attributes that mean something, as places in that text;
//! 3. `molecule` makes each `molecule` a graph with hydrogens, spins and stereochemistry settled;
//! 4. `side` joins the molecules of one side under labels; `reaction`, `scheme`, `arrows` and `flow` make questions.
//!
//! What is wrong is kept as [`Fault`]s beside what could be read.

mod arrows;
mod fault;
mod flow;
mod library;
mod molecule;
mod names;
mod place;
mod reaction;
mod scheme;
mod side;
mod stream;
mod tree;
mod values;
mod write;

pub use crate::xml::{Position, XmlProblem};
pub use fault::{Fault, FaultKind, Part, Problem};
pub use library::Library;
pub use place::{Content as ElementContent, contents, whole_element};
pub use reaction::{ItemField, Reaction, Sequence};
pub use stream::{BareMolecule, Content, Reader, Record, read_molecule};
pub use write::{Unwritten, Writer, is_question_id, write_links, write_molecule, write_products};

/// The local part of the `convention` by which a document says that the ids of an atom, or of all atoms of a molecule, are
/// no labels: XML needs an id wherever a bond leads, a drawing does not.
const UNLABELLED: &str = "unlabelled";
