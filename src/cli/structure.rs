//! Structures on the command line.

use crate::limits::Limits;
use crate::report::terminal::plain;
use crate::smiles;
use crate::structure::localise::localise;
use crate::structure::{LabelIndex, Structure};

/// Reads a structure in one of its localised forms; `None`, and what is wrong on standard error, where that cannot be.
pub(super) fn read(text: &str, role: &str) -> Option<Structure> {
    let reading = smiles::read(text);
    for fault in &reading.faults {
        let column = text.get(..fault.span.start as usize).map_or(0, |before| before.chars().count());
        eprintln!("keyassay: the {role}: {}", plain(&fault.fault.to_string()));
        eprintln!("  {}\n  {}^", plain(text), " ".repeat(column));
    }
    if !reading.faults.is_empty() {
        return None;
    }
    let mut structure = reading.structure;
    if structure.atom_count() > Limits::default().atoms {
        eprintln!("keyassay: the {role} passes the limit of {} atoms", Limits::default().atoms);
        return None;
    }
    if let Some((first, _)) = LabelIndex::new(&structure).repeated.first() {
        eprintln!("keyassay: the {role} has two atoms labelled like {}", structure.call(*first));
        return None;
    }
    if localise(&mut structure).is_err() {
        eprintln!("keyassay: the aromatic drawing of the {role} has no localised form");
        return None;
    }
    Some(structure)
}
