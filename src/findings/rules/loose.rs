//! What is said of spellings beyond the standard: one note an item, with the standard spelling of each.

use crate::arrows::{DrawnArrow, notation};
use crate::findings::role::Role;
use crate::findings::{Finding, Name};
use crate::smiles::LooseForm;

/// What messages begin with; the spellings follow.
const BEGINNING: &str = "read as it was meant; the standard spelling is: ";
/// Spellings of one drawing that are told.
const TOLD: usize = 4;

/// The note of one drawing, if it is spelt loosely.
pub(crate) fn of_drawing(text: &str, forms: &[LooseForm], role: Role) -> Option<Finding> {
    let form = |form: &LooseForm| format!("'{}' in {}: {}", form.span.of(text), role.words(), form.kind);
    let mut told: Vec<String> = forms.iter().take(TOLD).map(form).collect();
    if forms.len() > TOLD {
        told.push(format!("and {} more in {}", forms.len() - TOLD, role.words()));
    }
    (!told.is_empty()).then(|| Finding::new(Name::LooseNotation, told.join("; ")))
}

/// The note of arrows.
pub(crate) fn of_arrows(arrows: &[DrawnArrow]) -> Finding {
    Finding::new(Name::LooseNotation, format!("the arrows: {}", notation::write(arrows)))
}

/// Makes one note of those of an item, at the place of the first.
pub(crate) fn merge(findings: &mut Vec<Finding>) {
    let is_note = |finding: &Finding| finding.name == Name::LooseNotation;
    let Some(first) = findings.iter().position(is_note) else { return };
    let told: Vec<&str> = findings.iter().filter(|own| is_note(own)).map(|own| own.what.as_str()).collect();
    let (several, what) = (told.len() > 1, format!("{BEGINNING}{}", told.join("; ")));
    let mut at = 0;
    findings.retain(|finding| {
        at += 1;
        !is_note(finding) || at - 1 == first
    });
    let note = &mut findings[first];
    note.what = what;
    if several {
        note.step = 0;
    }
}
