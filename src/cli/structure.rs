//! Structures on the command line.

use super::complain::Complaint;
use crate::cml;
use crate::findings::Severity;
use crate::profile::Profile;
use crate::smiles::{self, Reading};
use crate::structure::localise::localise;
use crate::structure::{LabelIndex, Structure};
use std::ops::Range;

/// What is wrong with a structure, and where in its text.
pub(crate) struct Fault {
    pub(crate) message: String,
    pub(crate) span: Range<usize>,
    remedy: &'static str,
}

/// Reads a structure in one of its localised forms; `None`, and what is wrong on standard error, where that cannot be.
pub(super) fn read(text: &str, role: &str, profile: &Profile) -> Option<Structure> {
    localised(text, role, profile).map_err(|faults| complain(text, &faults)).ok()
}

/// Reads a structure as it is drawn; `None`, and what is wrong on standard error, where that cannot be.
pub(super) fn as_drawn(text: &str, role: &str, profile: &Profile) -> Option<Structure> {
    drawn(text, role, profile).map_err(|faults| complain(text, &faults)).ok()
}

/// A structure in one of its localised forms.
pub(crate) fn localised(text: &str, role: &str, profile: &Profile) -> Result<Structure, Vec<Fault>> {
    let mut structure = drawn(text, role, profile)?;
    let whole = |message, remedy| vec![Fault { message, span: 0..text.len(), remedy }];
    if let Some((first, _)) = LabelIndex::new(&structure).repeated.first() {
        let message = format!("the {role} has two atoms labelled like {}", structure.call(*first));
        return Err(whole(message, "Give each labelled atom a label of its own."));
    }
    if localise(&mut structure).is_err() {
        let message = format!("the aromatic drawing of the {role} has no localised form");
        let remedy = "Draw the hydrogen ([nH]) or the charge that the ring needs, or draw its double bonds.";
        return Err(whole(message, remedy));
    }
    Ok(structure)
}

/// A structure as it is drawn.
pub(crate) fn drawn(text: &str, role: &str, profile: &Profile) -> Result<Structure, Vec<Fault>> {
    let limit = profile.limits.field_bytes;
    if text.len() > limit {
        let message = format!("the {role} is {} bytes long and passes the limit of {limit}", text.len());
        return Err(vec![Fault { message, span: 0..0, remedy: "" }]);
    }
    if text.trim_start().starts_with('<') {
        return markup(text, role, profile);
    }
    let Reading { structure, faults, .. } = smiles::read_with(text, &profile.judge().smiles);
    let remedy = "Mend the structure at the character marked.";
    let told = faults.iter().map(|own| Fault {
        message: format!("the {role}: {}", own.fault),
        span: own.span.start as usize..own.span.end as usize,
        remedy,
    });
    if faults.is_empty() { Ok(structure) } else { Err(told.collect()) }
}

/// Reads a structure that is given as CML.
fn markup(text: &str, role: &str, profile: &Profile) -> Result<Structure, Vec<Fault>> {
    let (structure, faults) = cml::read_molecule(text, &profile.limits);
    let told = faults.iter().map(|own| Fault {
        message: format!("the {role}: {}", own.problem),
        span: own.span.start as usize..own.span.end as usize,
        remedy: "Mend the element marked.",
    });
    if faults.is_empty() { Ok(structure) } else { Err(told.collect()) }
}

fn complain(text: &str, faults: &[Fault]) {
    let severity = Severity::Error;
    for Fault { message, span, remedy } in faults {
        // The text of a field that is too long is not shown.
        let text = if span.is_empty() { "" } else { text };
        let complaint = Complaint { severity, message, file: None, text, line: 1, span: span.clone(), remedy };
        eprint!("{}", complaint.render());
    }
}
