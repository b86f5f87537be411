//! Labels: the names by which arrows and answers speak of atoms.

use super::{AtomId, Structure};
use crate::source::add_number;
use rustc_hash::FxHashMap;
use std::fmt;

/// A label. Atom classes, positions and numeric ids are numbers; other ids of a document are names.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Label {
    /// An atom class, a position, or an id that is a plain number.
    Number(u32),
    /// Any other id.
    Name(Box<str>),
}

impl Label {
    /// The label that this text states: a number where it is one as numbers are written, else a name.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        let plain = text.len() < 10 && !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        match text.parse() {
            Ok(number) if plain && (text == "0" || !text.starts_with('0')) => Self::Number(number),
            _ => Self::Name(text.into()),
        }
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Name(name) => f.write_str(name),
        }
    }
}

impl Structure {
    /// Sets an atom's label.
    pub fn set_label(&mut self, atom: AtomId, label: &Label) {
        match label {
            Label::Number(number) => self.atom_mut(atom).class = Some(*number),
            Label::Name(name) => {
                if self.names.len() <= atom.index() {
                    self.names.resize(self.atom_count(), Box::from(""));
                }
                if let Some(slot) = self.names.get_mut(atom.index()) {
                    slot.clone_from(name);
                }
            }
        }
    }

    /// The label that the drawing gives an atom.
    #[must_use]
    pub fn label(&self, atom: AtomId) -> Option<Label> {
        if let Some(class) = self.atom(atom).class {
            return Some(Label::Number(class));
        }
        self.name(atom).map(|name| Label::Name(name.into()))
    }

    /// The label of an atom as a text, or its position where it has none.
    pub(crate) fn label_text(&self, atom: AtomId) -> String {
        let mut text = String::with_capacity(8);
        match (self.atom(atom).class, self.name(atom)) {
            (Some(number), _) => add_number(&mut text, number.into()),
            (None, Some(name)) => text.push_str(name),
            (None, None) => add_number(&mut text, atom.index() as u64 + 1),
        }
        text
    }

    fn name(&self, atom: AtomId) -> Option<&str> {
        self.names.get(atom.index()).filter(|name| !name.is_empty()).map(|name| &**name)
    }

    /// Whether any atom has a label.
    #[must_use]
    pub fn has_labels(&self) -> bool {
        self.atoms().any(|(_, atom)| atom.class.is_some()) || self.names.iter().any(|name| !name.is_empty())
    }

    /// Labels every atom with its position, counted from 1, where no atom has a label. Says whether it did.
    pub fn label_by_position(&mut self) -> bool {
        self.label_by_position_from(1)
    }

    /// The same, where the first atom has another number.
    pub fn label_by_position_from(&mut self, first: u32) -> bool {
        if self.has_labels() {
            return false;
        }
        for at in 0..self.atom_count() {
            self.atom_mut(AtomId::new(at)).class = Some(at as u32 + first);
        }
        true
    }

    /// Forgets all labels.
    pub fn clear_labels(&mut self) {
        self.names.clear();
        for at in 0..self.atom_count() {
            self.atom_mut(AtomId::new(at)).class = None;
        }
    }

    /// How messages call an atom: element and label (`C4`), or element and position where it has no label (`C#4`).
    #[must_use]
    pub fn call(&self, atom: AtomId) -> String {
        let mut text = String::with_capacity(8);
        self.add_call(&mut text, atom);
        text
    }

    /// Adds to a text how messages call an atom.
    pub(crate) fn add_call(&self, text: &mut String, atom: AtomId) {
        let symbol = self.atom(atom).element.symbol();
        match (self.atom(atom).class, self.name(atom)) {
            (Some(number), _) => {
                text.push_str(symbol);
                add_number(text, number.into());
            }
            (None, Some(name)) => text.push_str(name),
            (None, None) => {
                text.extend([symbol, "#"]);
                add_number(text, atom.index() as u64 + 1);
            }
        }
    }
}

/// Finds atoms by label. Small numbers, the usual case, are an array look-up.
#[derive(Debug, Clone, Default)]
pub struct LabelIndex {
    small: Vec<u32>,
    other: FxHashMap<Label, AtomId>,
    /// Pairs of atoms that carry one label, in the order of the drawing.
    pub repeated: Vec<(AtomId, AtomId)>,
}

/// Numbers below this are looked up in an array: no bank numbers its atoms higher by hand.
const SMALL: u32 = 1024;

impl LabelIndex {
    /// Indexes the labels of a structure.
    #[must_use]
    pub fn new(structure: &Structure) -> Self {
        let mut index = Self::default();
        let numbers = structure.atoms().filter_map(|(_, atom)| atom.class);
        if let Some(most) = numbers.filter(|number| *number < SMALL).max() {
            index.small = vec![u32::MAX; most as usize + 1];
        }
        for (id, atom) in structure.atoms() {
            match atom.class {
                Some(number) => match index.small.get_mut(number as usize) {
                    Some(slot) if *slot == u32::MAX => *slot = id.index() as u32,
                    _ => index.insert(Label::Number(number), id),
                },
                None if structure.names.is_empty() => {}
                None => {
                    if let Some(label) = structure.label(id) {
                        index.insert(label, id);
                    }
                }
            }
        }
        index
    }

    fn insert(&mut self, label: Label, atom: AtomId) {
        if let Some(first) = self.get(&label) {
            self.repeated.push((first, atom));
            return;
        }
        match label {
            Label::Number(number) if number < SMALL => {
                let at = number as usize;
                if self.small.len() <= at {
                    self.small.resize(at + 1, u32::MAX);
                }
                self.small[at] = atom.index() as u32;
            }
            other => {
                self.other.insert(other, atom);
            }
        }
    }

    /// The first atom with this label.
    #[must_use]
    pub fn get(&self, label: &Label) -> Option<AtomId> {
        match label {
            Label::Number(number) if *number < SMALL => {
                self.small.get(*number as usize).filter(|at| **at != u32::MAX).map(|at| AtomId::from(*at))
            }
            other => self.other.get(other).copied(),
        }
    }
}
