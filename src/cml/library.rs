//! Molecules that a `ref` may name.
//!
//! References inside a record are looked up in the record; others in the molecules that stood in the document outside
//! of reactions, of which a bounded number of atoms is kept.

use super::fault::Problem;
use super::molecule::Drawn;
use super::names::{Key, Tag};
use super::tree::{NodeId, Tree};
use crate::limits::Limits;
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// Molecules of a document outside of its reactions, by id.
#[derive(Debug, Clone, Default)]
pub struct Library {
    molecules: FxHashMap<Box<str>, Entry>,
    atoms: usize,
    /// The cap that kept molecules out, once one was.
    full: Option<usize>,
}

#[derive(Debug, Clone)]
enum Entry {
    Molecule(Arc<Drawn>),
    Repeated,
}

impl Library {
    /// Whether nothing is kept.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.molecules.is_empty()
    }

    pub(super) fn keep(&mut self, id: &str, drawn: Arc<Drawn>, limits: &Limits) {
        // A molecule that only refers to another one is no drawing to keep.
        if drawn.atoms.is_empty() {
            return;
        }
        if let Some(entry) = self.molecules.get_mut(id) {
            *entry = Entry::Repeated;
            return;
        }
        // An id costs as much as an atom or two; many empty molecules are no way round the cap.
        let more = drawn.atoms.len() + drawn.electrons.len() + 2;
        if self.atoms + more > limits.atoms {
            self.full = Some(limits.atoms);
            return;
        }
        self.atoms += more;
        self.molecules.insert(id.into(), Entry::Molecule(drawn));
    }

    fn find(&self, id: &str) -> Result<Arc<Drawn>, Problem> {
        match (self.molecules.get(id), self.full) {
            (Some(Entry::Molecule(drawn)), _) => Ok(Arc::clone(drawn)),
            (Some(Entry::Repeated), _) => Err(Problem::AmbiguousMolecule(super::molecule::clipped(id))),
            (None, Some(cap)) => Err(Problem::NotKept(super::molecule::clipped(id), "atoms", cap)),
            (None, None) => Err(Problem::DanglingMolecule(super::molecule::clipped(id))),
        }
    }
}

/// What a reference leads to.
#[derive(Clone)]
pub(super) enum Referenced {
    /// A molecule of the same record.
    Here(Arc<Drawn>),
    /// A molecule of another record, whose spans point elsewhere.
    Elsewhere(Arc<Drawn>),
}

/// Follows the references of one record.
pub(super) struct References<'a> {
    tree: &'a Tree,
    library: &'a Library,
    limits: &'a Limits,
    /// Molecules of the record that draw atoms, by id, in the order of the document; made when first needed.
    here: Option<FxHashMap<String, Vec<NodeId>>>,
    /// Those that were read because of a reference.
    read: FxHashMap<NodeId, Arc<Drawn>>,
}

impl<'a> References<'a> {
    pub(super) fn new(tree: &'a Tree, library: &'a Library, limits: &'a Limits) -> Self {
        Self { tree, library, limits, here: None, read: FxHashMap::default() }
    }

    /// The molecule that a reference at `from` names: the latest of the record before it, else the first of the record
    /// after it, else one outside.
    pub(super) fn follow(&mut self, id: &str, from: NodeId) -> Result<Referenced, Problem> {
        let tree = self.tree;
        let here = self.here.get_or_insert_with(|| drawn_molecules(tree));
        let nodes = here.get(id).map_or(&[][..], Vec::as_slice);
        let before = nodes.partition_point(|node| *node < from);
        match nodes[..before].last().or(nodes.first()) {
            Some(node) => {
                let read = self.read.entry(*node).or_insert_with(|| Arc::new(Drawn::read(tree, *node, self.limits)));
                Ok(Referenced::Here(Arc::clone(read)))
            }
            None => self.library.find(id).map(Referenced::Elsewhere),
        }
    }
}

fn drawn_molecules(tree: &Tree) -> FxHashMap<String, Vec<NodeId>> {
    let mut found: FxHashMap<String, Vec<NodeId>> = FxHashMap::default();
    for node in tree.nodes().filter(|node| tree.tag(*node) == Tag::Molecule) {
        let drawn =
            tree.children(node).any(|child| matches!(tree.tag(child), Tag::AtomArray | Tag::Molecule | Tag::Atom));
        if let Some((id, _)) = tree.stated(node, Key::Id).filter(|_| drawn) {
            found.entry(id.into_owned()).or_default().push(node);
        }
    }
    found
}
