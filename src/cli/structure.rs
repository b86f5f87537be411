//! Structures on the command line.

use super::complain::Complaint;
use crate::cml;
use crate::findings::Severity;
use crate::profile::Profile;
use crate::smiles::{self, Reading};
use crate::structure::localise::localise;
use crate::structure::{LabelIndex, Structure};
use std::ops::Range;

/// Reads a structure in one of its localised forms; `None`, and what is wrong on standard error, where that cannot be.
pub(super) fn read(text: &str, role: &str, profile: &Profile) -> Option<Structure> {
    let mut structure = as_drawn(text, role, profile)?;
    if let Some((first, _)) = LabelIndex::new(&structure).repeated.first() {
        let message = format!("the {role} has two atoms labelled like {}", structure.call(*first));
        complain(text, &message, 0..text.len(), "Give each labelled atom a label of its own.");
        return None;
    }
    if localise(&mut structure).is_err() {
        let message = format!("the aromatic drawing of the {role} has no localised form");
        let remedy = "Draw the hydrogen ([nH]) or the charge that the ring needs, or draw its double bonds.";
        complain(text, &message, 0..text.len(), remedy);
        return None;
    }
    Some(structure)
}

/// Reads a structure as it is drawn.
pub(super) fn as_drawn(text: &str, role: &str, profile: &Profile) -> Option<Structure> {
    let limit = profile.limits.field_bytes;
    if text.len() > limit {
        let message = format!("the {role} is {} bytes long and passes the limit of {limit}", text.len());
        complain("", &message, 0..0, "");
        return None;
    }
    if text.trim_start().starts_with('<') {
        return markup(text, role, profile);
    }
    let Reading { structure, faults, .. } = smiles::read_with(text, &profile.judge().smiles);
    for fault in &faults {
        let message = format!("the {role}: {}", fault.fault);
        let span = fault.span.start as usize..fault.span.end as usize;
        complain(text, &message, span, "Mend the structure at the character marked.");
    }
    faults.is_empty().then_some(structure)
}

/// Reads a structure that is given as CML.
fn markup(text: &str, role: &str, profile: &Profile) -> Option<Structure> {
    let (structure, faults) = cml::read_molecule(text, &profile.limits);
    for fault in &faults {
        let message = format!("the {role}: {}", fault.problem);
        let span = fault.span.start as usize..fault.span.end as usize;
        complain(text, &message, span, "Mend the element marked.");
    }
    faults.is_empty().then_some(structure)
}

fn complain(text: &str, message: &str, span: Range<usize>, remedy: &str) {
    let severity = Severity::Error;
    eprint!("{}", Complaint { severity, message, file: None, text, line: 1, span, remedy }.render());
}
