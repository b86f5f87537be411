//! Findings about one drawing: its text, its labels, its electrons.

use crate::arrows::notation;
use crate::bank::{Chunk, Drawing, DrawingFault, Field, Spot, drawing_faults};
use crate::cml::{self, FaultKind};
use crate::findings::role::Role;
use crate::findings::rules::loose;
use crate::findings::rules::mend;
use crate::findings::{Finding, Name, tell};
use crate::limits::Limits;
use crate::smiles;
use crate::source::{Span, counted, signed};
use crate::structure::electrons::{self, ElectronFault};
use crate::structure::localise::localise;
use crate::structure::{AtomId, LabelIndex, OctetRule, Structure};

/// What to say of a sign that a word processor has put in the place of a hyphen; people do not see the difference.
fn typographic(text: &str) -> String {
    let found = text.chars().find(|own| notation::DASHES.contains(own));
    found.map(|own| format!(" ('{own}' is U+{:04X}: write '-')", u32::from(own))).unwrap_or_default()
}

/// A drawing that has been read.
#[derive(Debug, Clone, Default)]
pub(crate) struct Drawn {
    /// The structure, in one of its localised forms.
    pub(crate) structure: Structure,
    /// Its labels, as drawn.
    pub(crate) labels: LabelIndex,
    /// Whether it can be worked with.
    pub(crate) usable: bool,
    /// Whether its electrons have been judged and some atom has an odd number of them.
    pub(crate) odd: bool,
}

/// Reads drawings and says what is wrong with them.
pub(crate) struct DrawingReader<'a> {
    pub(crate) chunk: &'a Chunk,
    pub(crate) limits: &'a Limits,
    pub(crate) octet: OctetRule,
    pub(crate) options: &'a smiles::Options,
}

impl DrawingReader<'_> {
    /// Reads one drawing: its text, its labels, a localised form. Electrons are judged apart.
    pub(crate) fn read(&self, drawing: &Drawing, role: Role, findings: &mut Vec<Finding>) -> Drawn {
        let mut drawn = match drawing {
            Drawing::Text(field) => self.read_text(field, role, findings),
            Drawing::Read(read) => {
                tell(findings, &read.faults, |fault| {
                    let message = format!("{}: {}", role.words(), fault.message);
                    Finding::new(name_of(fault.kind), message).at(self.chunk.spot(fault.span))
                });
                Drawn { structure: read.structure.clone(), usable: is_usable(&read.faults), ..Drawn::default() }
            }
        };
        if !drawn.usable {
            return drawn;
        }
        drawn.labels = LabelIndex::new(&drawn.structure);
        tell(findings, &drawn.labels.repeated, |(first, second)| {
            let label = drawn.structure.label(*second).map(|label| label.to_string()).unwrap_or_default();
            let message = format!(
                "{} gives the label {label} to {} and again to {}",
                role.words(),
                position(&drawn.structure, *first),
                position(&drawn.structure, *second)
            );
            let finding = Finding::new(Name::RepeatedLabel, message).about(vec![label]);
            self.at_atom(finding, drawing, &drawn.structure, *second)
        });
        drawn.usable = drawn.labels.repeated.is_empty();
        if let Err(none) = localise(&mut drawn.structure) {
            let atoms: Vec<String> = none.atoms.iter().map(|atom| drawn.structure.call(*atom)).collect();
            let message = format!(
                "the aromatic drawing of {} has no localised form: {} left without a double bond. Draw the hydrogen \
                 ([nH]) or the charge that the ring needs",
                role.words(),
                if atoms.is_empty() { "an atom is".to_owned() } else { format!("{} is", atoms.join(", ")) }
            );
            let mut finding = Finding::new(Name::NoLocalisedForm, message).about(names(&drawn.structure, &none.atoms));
            if let Some(atom) = none.atoms.first() {
                finding = self.at_atom(finding, drawing, &drawn.structure, *atom);
            }
            findings.push(finding);
            drawn.usable = false;
        }
        drawn
    }

    fn read_text(&self, field: &Field, role: Role, findings: &mut Vec<Finding>) -> Drawn {
        if field.text.len() > self.limits.field_bytes {
            let message = format!(
                "{} is {} bytes long and passes the limit of {} bytes for one field",
                role.words(),
                field.text.len(),
                self.limits.field_bytes
            );
            findings.push(Finding::new(Name::UnreadableStructure, message).at(self.chunk.spot_in(field, Span::at(0))));
            return Drawn::default();
        }
        let trimmed = field.text.trim();
        let offset = trimmed.as_ptr() as usize - field.text.as_ptr() as usize;
        if trimmed.starts_with('<') {
            return self.read_markup(field, trimmed, offset, role, findings);
        }
        let reading = smiles::read_with(trimmed, self.options);
        tell(findings, &reading.faults, |error| {
            let span = Span::new(error.span.start as usize + offset, error.span.end as usize + offset);
            let hint = typographic(error.span.of(trimmed));
            let message = format!("{}: {}{hint}", role.words(), error.fault);
            Finding::new(Name::UnreadableStructure, message).at(self.chunk.spot_in(field, span))
        });
        if reading.faults.is_empty() {
            findings.extend(loose::of_drawing(trimmed, &reading.loose, role));
        }
        Drawn { usable: reading.faults.is_empty(), structure: reading.structure, ..Drawn::default() }
    }

    /// Reads a field that holds CML.
    fn read_markup(&self, field: &Field, text: &str, offset: usize, role: Role, findings: &mut Vec<Finding>) -> Drawn {
        let (structure, faults) = cml::read_molecule(text, self.limits);
        let faults = drawing_faults(&structure, faults.iter());
        tell(findings, &faults, |fault| {
            let span = Span::new(fault.span.start as usize + offset, fault.span.end as usize + offset);
            // What breaks the record of a document breaks only the structure of a field.
            let name = match fault.kind {
                FaultKind::Record => Name::UnreadableStructure,
                kind => name_of(kind),
            };
            let message = format!("{}: {}", role.words(), fault.message);
            Finding::new(name, message).at(self.chunk.spot_in(field, span))
        });
        Drawn { usable: is_usable(&faults), structure, ..Drawn::default() }
    }

    /// Judges the electrons of a drawing; atoms for which `known` holds have been reported already. Says how many
    /// atoms have an odd number of non-bonding electrons.
    pub(crate) fn judge_electrons(
        &self,
        structure: &Structure,
        drawing: Option<&Drawing>,
        role: Role,
        known: impl Fn(AtomId) -> bool,
        findings: &mut Vec<Finding>,
    ) -> usize {
        let (mut faults, odd) = electrons::survey(structure, self.octet);
        faults.retain(|(atom, _)| !known(*atom));
        tell(findings, &faults, |(atom, fault)| {
            let finding = electron_finding(structure, *atom, *fault, role);
            match drawing {
                Some(drawing) => self.at_atom(finding, drawing, structure, *atom),
                None => finding,
            }
        });
        odd
    }

    /// Points a finding at an atom of a drawing.
    pub(crate) fn at_atom(&self, finding: Finding, drawing: &Drawing, structure: &Structure, atom: AtomId) -> Finding {
        finding.at(self.spot_of(drawing, structure.atom_span(atom)))
    }

    pub(crate) fn spot_of(&self, drawing: &Drawing, span: Span) -> Spot {
        match drawing {
            Drawing::Text(field) => {
                let offset = field.text.len() - field.text.trim_start().len();
                self.chunk.spot_in(field, Span::new(span.start as usize + offset, span.end as usize + offset))
            }
            Drawing::Read(_) => self.chunk.spot(span),
        }
    }
}

/// Whether a drawing with these faults can be worked with: a mark that means nothing does no harm, and electrons that are drawn
/// wrongly are not what the bookkeeping counts.
fn is_usable(faults: &[DrawingFault]) -> bool {
    faults.iter().all(|fault| matches!(fault.kind, FaultKind::IdleStereo | FaultKind::Electrons))
}

/// The finding that a fault in a document is.
pub(crate) fn name_of(kind: FaultKind) -> Name {
    match kind {
        FaultKind::Record => Name::UnreadableRecord,
        FaultKind::Structure => Name::UnreadableStructure,
        FaultKind::Arrows => Name::UnreadableArrows,
        FaultKind::RepeatedLabel => Name::RepeatedLabel,
        FaultKind::Electrons => Name::ImpossibleElectrons,
        FaultKind::IdleStereo => Name::IdleStereo,
    }
}

/// A sentence with the count: what the bookkeeping gives for one atom.
pub(crate) fn electron_finding(structure: &Structure, atom: AtomId, fault: ElectronFault, role: Role) -> Finding {
    let called = structure.call(atom);
    let (ElectronFault::Impossible(electrons) | ElectronFault::OverFull(electrons, _)) = fault;
    let hint = mend::hint(structure, atom, electrons, role);
    let (name, message) = match fault {
        ElectronFault::Impossible(electrons) => {
            let valence = electrons.valence.unwrap_or(0);
            let left = electrons.non_bonding().unwrap_or(0);
            let message = format!(
                "{called} of {} has {} and charge {}, which leaves {valence} - ({:+}) - {} = {}",
                role.words(),
                counted(electrons.bonds, "bond"),
                signed(electrons.charge),
                electrons.charge,
                electrons.bonds,
                counted(left, "non-bonding electron")
            );
            (Name::ImpossibleElectrons, message)
        }
        ElectronFault::OverFull(electrons, holds) => {
            let shell = electrons.shell().unwrap_or(0);
            let message = format!(
                "{called} of {} has {} in its shell ({}, {}), which holds {holds}",
                role.words(),
                counted(shell, "electron"),
                counted(electrons.bonds, "bond"),
                counted(electrons.non_bonding().unwrap_or(0), "non-bonding electron")
            );
            (Name::HypervalentAtom, message)
        }
    };
    Finding::new(name, message + &hint).about(names(structure, &[atom]))
}

/// Labels for the column `atoms`; the position where an atom has no label.
pub(crate) fn names(structure: &Structure, atoms: &[AtomId]) -> Vec<String> {
    atoms.iter().map(|atom| name(structure, *atom)).collect()
}

/// The label of an atom, or its position.
pub(crate) fn name(structure: &Structure, atom: AtomId) -> String {
    structure.label_text(atom)
}

fn position(structure: &Structure, atom: AtomId) -> String {
    format!("{} (atom {})", structure.atom(atom).element.symbol(), atom.index() + 1)
}
