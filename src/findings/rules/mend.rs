//! How an atom whose electrons are impossible would be drawn: a hint behind the sentence, no correction.

use crate::findings::role::Role;
use crate::smiles::{self, Labels};
use crate::source::signed;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, BondId, Element, OctetRule, Structure};

/// Electrons of a full shell of the second period.
const OCTET: i32 = 8;
/// Characters of a drawing that a sentence can carry.
const LONGEST: usize = 160;

/// Words that follow the sentence about an atom of a drawing; empty where nothing plain would mend it. Of a product nothing is said, since
/// the arrows are wrong, and what charge an answer should have is said where it is compared.
pub(crate) fn hint(structure: &Structure, atom: AtomId, electrons: Electrons, role: Role) -> String {
    if role == Role::Product {
        return String::new();
    }
    let element = structure.atom(atom).element;
    let (Some(valence @ 3..), Some(OCTET)) = (electrons.valence, element.shell(OctetRule::Usual)) else {
        return String::new();
    };
    if 2 * electrons.bonds > OCTET {
        return understood(structure, atom, electrons).or_else(|| apart(structure, atom)).unwrap_or_default();
    }
    // q = V - n - b with the n that fills the shell.
    let charge = valence - (OCTET - 2 * electrons.bonds) - electrons.bonds;
    if role != Role::Start || charge.abs() > 1 || charge == electrons.charge {
        return String::new();
    }
    format!("; with charge {} its octet would be full", signed(charge))
}

/// Of a nitrogen atom with four drawn bonds and an undrawn hydrogen: outside brackets the valence rule of SMILES puts one there (OpenSMILES
/// 1.0, section 3.1.5: nitrogen has three bonds or five), which hardly anybody means.
fn understood(structure: &Structure, atom: AtomId, electrons: Electrons) -> Option<String> {
    let own = structure.atom(atom);
    let is_one = own.element == Element::NITROGEN && electrons.bonds == 5 && own.hydrogens == 1 && own.charge == 0;
    let words =
        "; one of the bonds is to a hydrogen that is not drawn: nitrogen with four bonds and none is written [N+]";
    is_one.then(|| words.to_owned())
}

/// The drawing with its five-bonded nitrogen atoms charged, as in `[N+](=O)[O-]`, if this atom is one of them.
fn apart(structure: &Structure, atom: AtomId) -> Option<String> {
    let other = partner(structure, atom)?.1;
    let mut charged = structure.clone();
    for own in structure.atom_ids() {
        let Some((bond, other)) = partner(structure, own) else { continue };
        charged.bond_mut(bond).order -= 1;
        charged.bond_mut(bond).aromatic = false;
        charged.atom_mut(own).charge = 1;
        charged.atom_mut(other).charge -= 1;
    }
    let text = smiles::write(&charged, Labels::Classes);
    let element = structure.atom(other).element.symbol();
    Some(match text.len() {
        0..=LONGEST => format!("; drawn with charges, as N+ and {element}-, it is {text}"),
        _ => format!("; it is drawn with charges, as N+ and {element}-, and one bond less between them"),
    })
}

/// The bond of a five-bonded nitrogen atom that is drawn as two charges, and the atom at its other end: of the neutral ones with a
/// multiple bond the one at the end of the drawing, then the most electronegative.
///
/// Nitro groups, azides, diazo compounds and N-oxides are often drawn without charges in older banks; the charged drawings are those of
/// IUPAC, Graphical representation standards for chemical structure diagrams (Recommendations 2008), cited from memory.
fn partner(structure: &Structure, atom: AtomId) -> Option<(BondId, AtomId)> {
    let own = structure.atom(atom);
    let electrons = Electrons::of(structure, atom);
    if own.element != Element::NITROGEN || own.charge != 0 || electrons.bonds != 5 || own.hydrogens > 0 {
        return None;
    }
    let may = |(other, bond): &(AtomId, BondId)| {
        let atom = structure.atom(*other);
        // A nitrogen atom beside it that has five bonds, too, is mended itself.
        atom.charge == 0 && structure.bond(*bond).order > 1 && Electrons::of(structure, *other).bonds < 5
    };
    let best = structure.neighbours(atom).filter(may).max_by_key(|(other, bond)| {
        let end = structure.atom(*other);
        let is_last = structure.degree(*other) == 1 && end.hydrogens == 0;
        (is_last, end.element.electronegativity(), std::cmp::Reverse(bond.index()))
    });
    best.map(|(other, bond)| (bond, other))
}

#[cfg(test)]
mod tests {
    use super::{Role, hint};
    use crate::structure::electrons::{ElectronFault, faults};
    use crate::{smiles, structure::OctetRule};

    #[test]
    fn drawings_without_their_charges_are_shown_with_them() {
        let cases = [
            ("CN(=O)=O", "; drawn with charges, as N+ and O-, it is C[N+]([O-])=O"),
            ("CN=N#N", "; drawn with charges, as N+ and N-, it is CN=[N+]=[N-]"),
            ("C=N#N", "; drawn with charges, as N+ and N-, it is C=[N+]=[N-]"),
            ("CN(C)(C)=O", "; drawn with charges, as N+ and O-, it is C[N+](C)(C)[O-]"),
            ("[CH3:4][N:2](=[O:1])=[O:3]", "; drawn with charges, as N+ and O-, it is [CH3:4][N+:2]([O-:1])=[O:3]"),
            (
                "C=N=N",
                "; one of the bonds is to a hydrogen that is not drawn: nitrogen with four bonds and none is written [N+]",
            ),
            (
                "CN(C)(C)C",
                "; one of the bonds is to a hydrogen that is not drawn: nitrogen with four bonds and none is written [N+]",
            ),
            ("C[NH3]", "; with charge +1 its octet would be full"),
            ("[BH4]", "; with charge -1 its octet would be full"),
            ("[CH4+]", "; with charge 0 its octet would be full"),
            ("C[OH2]", "; with charge +1 its octet would be full"),
            ("FC(F)(F)(F)F", ""),
            ("[CH4+2]", "; with charge 0 its octet would be full"),
        ];
        let mut failures = Vec::new();
        for (drawing, expected) in cases {
            let structure = smiles::read(drawing).structure;
            let said: Vec<String> = faults(&structure, OctetRule::Usual)
                .into_iter()
                .map(|(atom, fault)| {
                    let (ElectronFault::Impossible(electrons) | ElectronFault::OverFull(electrons, _)) = fault;
                    hint(&structure, atom, electrons, Role::Start)
                })
                .collect();
            if said != [expected] {
                failures.push(format!("{drawing}: {said:?}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
