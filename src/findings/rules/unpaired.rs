//! Unpaired electrons that the author cannot have meant.

use crate::bank::Drawing;
use crate::findings::role::Role;
use crate::findings::rules::drawing::{DrawingReader, names};
use crate::findings::{Finding, Name};
use crate::structure::pairing::pairable;
use crate::structure::{AtomId, Structure};

/// Pairs that a message names; the rest are counted.
const NAMED: usize = 4;

/// Warns of unpaired electrons that no arrow touches and that a closed-shell drawing of the same atoms would not have.
/// `is_touched` tells the atoms that arrows touch, or that have been reported.
pub(crate) fn judge_stray(
    reader: &DrawingReader<'_>,
    drawing: &Drawing,
    structure: &Structure,
    role: Role,
    is_touched: &dyn Fn(AtomId) -> bool,
    findings: &mut Vec<Finding>,
) {
    let pairs = pairable(structure, reader.octet, &|atom| !is_touched(atom), reader.limits.search_steps);
    let Some((first, _)) = pairs.first() else { return };
    let words: Vec<String> =
        pairs.iter().take(NAMED).map(|(a, b)| format!("{} and {}", structure.call(*a), structure.call(*b))).collect();
    let more = if pairs.len() > NAMED { format!(" and {} more pairs", pairs.len() - NAMED) } else { String::new() };
    let message = format!(
        "{}{more} of {} have unpaired electrons that no arrow touches; with a bond more between them the same atoms have none",
        words.join("; "),
        role.words()
    );
    let atoms: Vec<AtomId> = pairs.iter().flat_map(|(a, b)| [*a, *b]).take(64).collect();
    let finding = Finding::new(Name::StrayUnpairedElectrons, message).about(names(structure, &atoms));
    findings.push(reader.at_atom(finding, drawing, structure, *first));
}
