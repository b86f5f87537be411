//! The hydrogens that a drawing leaves undrawn.
//!
//! Neutral atoms follow OpenSMILES 1.0, "Organic subset": an atom carries as many hydrogens as bring the sum of its bond
//! orders up to the next of its element's valences. OpenSMILES says nothing of charged atoms, which SMILES writes with
//! their hydrogens counted; other notations (CML) draw them without. They take the valence of the neutral element with as
//! many valence electrons (N+ as C, O- as F, C+ as B), which is what an octet or, left of carbon, an electron pair a
//! bond gives. Common practice of readers, no published source.

use super::{AtomId, Element, Structure};

/// Valences of an atom of the organic subset with this charge, lowest first; empty where no hydrogen is ever understood.
fn valences(element: Element, charge: i16) -> &'static [u8] {
    const UP_TO_FOUR: [&[u8]; 5] = [&[], &[1], &[2], &[3], &[4]];
    let neutral = element.organic_valences();
    let Some(electrons) = element.valence_electrons().filter(|_| !neutral.is_empty()) else { return &[] };
    if charge == 0 {
        return neutral;
    }
    // Only beyond neon do shells take more than an octet.
    let wide = element.shell(super::OctetRule::Usual).is_some_and(|holds| holds > 8);
    match u8::try_from(electrons - i32::from(charge)).unwrap_or(0) {
        few @ 0..=4 => UP_TO_FOUR[usize::from(few)],
        5 if wide => Element::PHOSPHORUS.organic_valences(),
        6 if wide => Element::SULFUR.organic_valences(),
        5 => &[3],
        6 => &[2],
        7 => &[1],
        _ => &[],
    }
}

/// The undrawn hydrogens of an atom by the valence rule, whatever it carries now: from its element, charge, drawn bonds and
/// stated unpaired electrons. An aromatic atom spends one more valence on the ring, and only its lowest one counts.
#[must_use]
pub fn implicit_hydrogens(structure: &Structure, id: AtomId) -> u16 {
    let atom = structure.atom(id);
    let bonds: u32 = structure.neighbours(id).map(|(_, bond)| u32::from(structure.bond(bond).order)).sum();
    let used = bonds + u32::from(atom.unpaired.unwrap_or(0)) + u32::from(atom.aromatic);
    let valences = valences(atom.element, atom.charge);
    let candidates = if atom.aromatic { &valences[..valences.len().min(1)] } else { valences };
    let target = candidates.iter().map(|valence| u32::from(*valence)).find(|valence| *valence >= used);
    target.map_or(0, |valence| (valence - used) as u16)
}

#[cfg(test)]
mod tests {
    use super::super::{Atom, Bond};
    use super::*;
    use crate::source::Span;

    /// An atom with bonds of the given orders to carbons.
    fn hydrogens(symbol: &str, charge: i16, unpaired: Option<u8>, orders: &[u8]) -> u16 {
        let mut structure = Structure::default();
        let element = Element::from_symbol(symbol.as_bytes()).unwrap_or(Element::ANY);
        let atom = structure.add_atom(Atom { charge, unpaired, ..Atom::new(element) }, Span::default());
        for order in orders {
            let other = structure.add_atom(Atom::new(Element::CARBON), Span::default());
            structure.add_bond(atom, other, Bond::new(*order), Span::default());
        }
        implicit_hydrogens(&structure, atom)
    }

    #[test]
    fn hydrogens_fill_up_to_the_next_valence() {
        // Neutral rows: OpenSMILES 1.0, "Organic subset". Charged rows: the common practice that the module states.
        type Case = (&'static str, i16, Option<u8>, &'static [u8], u16);
        let cases: [Case; 30] = [
            ("C", 0, None, &[], 4),
            ("C", 0, None, &[1, 2], 1),
            ("C", 0, None, &[2, 2], 0),
            ("C", 0, None, &[2, 3], 0),
            ("N", 0, None, &[1], 2),
            ("N", 0, None, &[1, 2, 1], 1),
            ("N", 0, None, &[1, 2, 2], 0),
            ("O", 0, None, &[1], 1),
            ("S", 0, None, &[1, 2], 1),
            ("P", 0, None, &[1, 1, 2], 1),
            ("B", 0, None, &[], 3),
            ("Cl", 0, None, &[], 1),
            ("Si", 0, None, &[], 0),
            ("Na", 1, None, &[], 0),
            ("H", 1, None, &[], 0),
            ("*", 0, None, &[], 0),
            ("N", 1, None, &[], 4),
            ("N", 1, None, &[2, 1], 1),
            ("N", -1, None, &[1], 1),
            ("O", 1, None, &[1], 2),
            ("O", -1, None, &[1], 0),
            ("O", -1, None, &[], 1),
            ("C", 1, None, &[1, 1], 1),
            ("C", -1, None, &[1], 2),
            ("B", -1, None, &[1], 3),
            ("Br", -1, None, &[], 0),
            ("Br", 1, None, &[1, 1], 0),
            ("S", 1, None, &[1, 1], 1),
            ("C", 0, Some(1), &[1], 2),
            ("Cl", 0, Some(1), &[], 0),
        ];
        let wrong: Vec<_> = cases
            .iter()
            .filter(|(symbol, charge, unpaired, orders, want)| hydrogens(symbol, *charge, *unpaired, orders) != *want)
            .collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }

    #[test]
    fn ring_atoms_spend_one_valence_on_the_ring() {
        let cases: [(&str, usize, u16); 5] = [("C", 2, 1), ("C", 3, 0), ("N", 2, 0), ("S", 2, 0), ("O", 2, 0)];
        for (symbol, bonds, want) in cases {
            let mut structure = Structure::default();
            let element = Element::from_symbol(symbol.as_bytes()).unwrap_or(Element::ANY);
            let atom = structure.add_atom(Atom { aromatic: true, ..Atom::new(element) }, Span::default());
            for _ in 0..bonds {
                let other = structure.add_atom(Atom::new(Element::CARBON), Span::default());
                structure.add_bond(atom, other, Bond::delocalised(), Span::default());
            }
            assert_eq!(implicit_hydrogens(&structure, atom), want, "{symbol} with {bonds} ring bonds");
        }
    }
}
