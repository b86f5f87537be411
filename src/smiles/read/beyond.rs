//! What programs write beyond the specification: hydrogen gas as one atom, extended tails.

use super::super::error::{SmilesError, SmilesFault};
use super::super::loose::{LooseForm, LooseKind, RadicalMark, read_tail};
use super::Reader;
use crate::source::{Span, counted};
use crate::structure::electrons::Electrons;
use crate::structure::{Atom, AtomId, Element};

impl Reader<'_> {
    /// The second atom of hydrogen gas that is written as one atom, which is the next one.
    #[cold]
    pub(super) fn add_gas(&mut self, first: AtomId, span: Span) -> Atom {
        let atom = self.structure.atom_mut(first);
        atom.hydrogens = 0;
        let kind = LooseKind::HydrogenGas(atom.isotope, atom.class);
        self.loose.push(LooseForm { span, kind });
        self.partners.push(AtomId::new(first.index() + 1));
        Atom::new(Element::HYDROGEN)
    }

    /// The radical marks of the tail, if there is one.
    pub(super) fn tail(&mut self, tail: Option<(&str, usize)>) -> Result<Vec<RadicalMark>, SmilesError> {
        let Some((tail, from)) = tail else { return Ok(Vec::new()) };
        let marks = read_tail(tail, from).map_err(|fault| SmilesError {
            span: fault.span,
            fault: SmilesFault::Tail { entry: fault.entry, why: fault.why },
        })?;
        let span = Span::new(from - 1, from + tail.len() + 1);
        self.loose.push(LooseForm { span, kind: LooseKind::Tail });
        Ok(marks)
    }

    /// Unpaired electrons of an atom: without brackets it has as many hydrogens fewer, in brackets it must have them.
    pub(super) fn mark_radical(&mut self, mark: &RadicalMark, atom: Option<AtomId>) {
        let Some(id) = atom else {
            let (electrons, has) = (counted(mark.electrons, "unpaired electron"), "no such atom".to_owned());
            let fault = SmilesFault::RadicalMark { atom: mark.atom + 1, electrons, has };
            return self.faults.push(SmilesError { span: mark.span, fault });
        };
        let is_bare = self.bytes.get(self.structure.atom_span(id).start as usize) != Some(&b'[');
        let hydrogens = self.structure.atom(id).hydrogens;
        let count = Electrons::of(&self.structure, id).non_bonding();
        let electrons = i32::from(mark.electrons);
        let fits = count.is_none_or(|count| count >= electrons && (count - electrons) % 2 == 0);
        if (is_bare && hydrogens < mark.electrons) || !(is_bare || fits) {
            let has = match count {
                Some(count) if !is_bare => counted(count, "non-bonding electron"),
                _ => format!("{} that could be left out", counted(hydrogens, "hydrogen")),
            };
            let electrons = counted(mark.electrons, "unpaired electron");
            let fault = SmilesFault::RadicalMark { atom: mark.atom + 1, electrons, has };
            return self.faults.push(SmilesError { span: mark.span, fault });
        }
        let atom = self.structure.atom_mut(id);
        atom.hydrogens -= if is_bare { mark.electrons } else { 0 };
        atom.unpaired = mark.unpaired;
    }

    /// Hydrogen gas has no bonds but its own.
    pub(super) fn judge_partner(&mut self, partner: AtomId) {
        let first = self.structure.neighbours(partner).next().map(|(id, _)| id);
        let is_alone = |id| self.structure.neighbours(id).count() == 1;
        if !(is_alone(partner) && first.is_some_and(is_alone)) {
            let span = self.structure.atom_span(partner);
            self.faults.push(SmilesError { span, fault: SmilesFault::HydrogenOnHydrogen });
        }
    }
}
