//! Labels as ids, one to one over a question.

use super::Unwritten;
use crate::structure::{AtomId, Label, Structure};
use rustc_hash::{FxHashMap, FxHashSet};

/// Ids by label. A label that is a number n is the id `an`.
#[derive(Debug, Default)]
pub(super) struct Ids {
    of_label: FxHashMap<Label, String>,
    used: FxHashSet<String>,
    unlabelled: u64,
}

impl Ids {
    /// Gives ids to the labels of a drawing that have none yet.
    pub(super) fn take_labels(&mut self, structure: &Structure, lost: &mut Vec<Unwritten>) {
        // Names that are ids stay what they are; others make way for them.
        let labels = || structure.atom_ids().filter_map(|atom| structure.label(atom));
        for label in labels() {
            if let Label::Name(name) = &label
                && is_id(name)
            {
                self.used.insert(name.to_string());
                self.of_label.insert(label.clone(), name.to_string());
            }
        }
        for label in labels() {
            self.take_label(label, lost);
        }
    }

    /// Takes a label that a document gives: what is an id stays what it is.
    pub(super) fn take_id(&mut self, label: &Label, lost: &mut Vec<Unwritten>) {
        match label {
            Label::Name(name) if is_id(name) => {
                self.used.insert(name.to_string());
                self.of_label.insert(label.clone(), name.to_string());
            }
            _ => self.take_label(label.clone(), lost),
        }
    }

    pub(super) fn take_label(&mut self, label: Label, lost: &mut Vec<Unwritten>) {
        if self.of_label.contains_key(&label) {
            return;
        }
        let wanted = match &label {
            Label::Number(number) => format!("a{number}"),
            Label::Name(name) => as_id(name),
        };
        let id = self.free(&wanted);
        if matches!(&label, Label::Name(name) if **name != *id) || id != wanted {
            lost.push(Unwritten::Label(label.to_string(), id.clone()));
        }
        self.of_label.insert(label, id);
    }

    /// The id of a label.
    pub(super) fn of(&self, label: &Label) -> &str {
        self.of_label.get(label).map_or("", String::as_str)
    }

    /// The ids of a drawing's atoms, and which of them are no labels.
    pub(super) fn of_atoms(&mut self, structure: &Structure, lost: &mut Vec<Unwritten>) -> (Vec<String>, Vec<bool>) {
        let mut seen = FxHashSet::default();
        let mut ids = Vec::with_capacity(structure.atom_count());
        let mut unlabelled = Vec::with_capacity(structure.atom_count());
        for atom in structure.atom_ids() {
            let id = self.of_atom(structure, atom, &mut seen, lost);
            unlabelled.push(id.is_none());
            ids.push(id.unwrap_or_else(|| self.next_unlabelled()));
        }
        (ids, unlabelled)
    }

    fn of_atom(
        &self,
        structure: &Structure,
        atom: AtomId,
        seen: &mut FxHashSet<Label>,
        lost: &mut Vec<Unwritten>,
    ) -> Option<String> {
        let label = structure.label(atom)?;
        if !seen.insert(label.clone()) {
            lost.push(Unwritten::RepeatedLabel(label.to_string()));
            return None;
        }
        self.of_label.get(&label).cloned()
    }

    fn next_unlabelled(&mut self) -> String {
        self.unlabelled += 1;
        let wanted = format!("u{}", self.unlabelled);
        self.free(&wanted)
    }

    /// The id itself, or with a number behind it where it is taken.
    fn free(&mut self, wanted: &str) -> String {
        let mut id = wanted.to_owned();
        let mut number = 1_u64;
        while !self.used.insert(id.clone()) {
            number += 1;
            id = format!("{wanted}_{number}");
        }
        id
    }
}

/// Whether a name may be the id of an atom and a reference to it (the schema's idType and atomIDType both allow it).
fn is_id(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '-')
}

/// Whether a text may be the id of a question (idType).
#[must_use]
pub fn is_question_id(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.'))
}

fn as_id(name: &str) -> String {
    let mut id: String = name.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' }).collect();
    if !id.starts_with(|c: char| c.is_ascii_alphabetic()) {
        id.insert(0, 'a');
    }
    id
}
