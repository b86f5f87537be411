//! What programs write beyond the specification: hydrogen gas as one atom, ring numbers in parentheses, extended tails.

use super::super::error::{SmilesError, SmilesFault};
use super::super::loose::{LooseKind, RadicalMark, read_tail};
use super::Reader;
use crate::source::{Span, counted};
use crate::structure::electrons::Electrons;
use crate::structure::{Atom, AtomId, Element};

impl Reader<'_> {
    /// The second atom of hydrogen gas that is written as one atom.
    #[cold]
    pub(super) fn add_partner(&mut self, first: &Atom, span: Span) -> Result<(), SmilesError> {
        let Some(id) = self.previous else { return Ok(()) };
        self.structure.atom_mut(id).hydrogens = 0;
        self.add_atom(&Atom::new(Element::HYDROGEN), None, span)?;
        self.partners.extend(self.previous);
        self.loose(span, LooseKind::HydrogenGas(first.isotope, first.class));
        Ok(())
    }

    /// The radical marks of the tail, if there is one.
    pub(super) fn tail(&mut self, tail: Option<(&str, usize)>) -> Result<Vec<RadicalMark>, SmilesError> {
        let Some((tail, from)) = tail else { return Ok(Vec::new()) };
        let marks = read_tail(tail, from).map_err(|fault| SmilesError {
            span: fault.span,
            fault: SmilesFault::Tail { entry: fault.entry, why: fault.why },
        })?;
        self.loose(Span::new(from - 1, from + tail.len() + 1), LooseKind::Tail);
        Ok(marks)
    }

    pub(super) fn two_digit_ring_number(&mut self) -> Result<(), SmilesError> {
        if let Some(&[tens @ b'0'..=b'9', units @ b'0'..=b'9']) = self.bytes.get(self.at + 1..self.at + 3) {
            return self.ring_number(u32::from(tens - b'0') * 10 + u32::from(units - b'0'), 3);
        }
        let digits = self.bytes.get(self.at + 2..).unwrap_or_default();
        let length = digits.iter().take_while(|byte| byte.is_ascii_digit()).count();
        let is_closed = self.bytes.get(self.at + 1) == Some(&b'(') && digits.get(length) == Some(&b')');
        if !is_closed || !(1..6).contains(&length) {
            return self.unexpected("a ring number: % and two digits");
        }
        let number = digits[..length].iter().fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0'));
        self.loose(Span::new(self.at, self.at + length + 3), LooseKind::RingInParentheses(number));
        self.ring_number(number, length + 3)
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
