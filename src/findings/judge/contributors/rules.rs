//! The rules of resonance, to which each stated contributor is held.

use super::{Set, Stated};
use crate::compare::difference::Names;
use crate::compare::{Agreement, Compared, Difference, compare, sigma_skeleton};
use crate::findings::rules::drawing::names;
use crate::findings::{Finding, Name};
use crate::smiles::{self, Labels};
use crate::source::{counted, signed};
use crate::structure::electrons::{Electrons, judge, unpaired};
use crate::structure::{Element, Structure};
use std::collections::BTreeMap;

/// How messages call start and contributor.
const NAMES: Names = Names {
    one: "in the start",
    other: "here",
    one_drawing: "start",
    other_drawing: "contributor",
    second_first: false,
};

impl Set<'_> {
    /// Holds one contributor to the rules of resonance (IUPAC Gold Book 08205): the same atoms in the same places, the same sigma
    /// bonds, the same electrons, as many of them unpaired, and no over-full shell.
    pub(super) fn judge_one(&self, own: &Stated<'_>, findings: &mut Vec<Finding>) -> bool {
        if let Some(rule) = other_atoms(self.start, &own.structure) {
            findings.push(self.illegal(own, &rule, Vec::new()));
            return false;
        }
        let (one, other) = (sigma_skeleton(self.start), sigma_skeleton(&own.structure));
        let compared = compare(&one, &other, &self.labels, self.limit());
        if compared.agreement == Agreement::Undecided {
            let message = format!(
                "whether {} has the start's atoms and sigma bonds could not be decided within {} search steps",
                own.role.words(),
                self.limit()
            );
            findings.push(Finding::new(Name::Undecided, message));
            return false;
        }
        let broken = broken_skeleton(&one, &other, &compared).or_else(|| self.broken_electrons(own, &compared));
        let Some(rule) = broken else { return true };
        let atoms: Vec<_> = compared.differences.list.iter().flat_map(|difference| difference.atoms()).collect();
        findings.push(self.illegal(own, &rule, names(self.start, &atoms)));
        false
    }

    fn illegal(&self, own: &Stated<'_>, rule: &str, mut atoms: Vec<String>) -> Finding {
        atoms.dedup();
        let message = format!("{}: {rule}", own.role.words());
        let finding = Finding::new(Name::IllegalContributor, message).about(atoms);
        let stated = smiles::write(&own.structure, Labels::Classes);
        let finding = Finding { stated, computed: smiles::write(self.start, Labels::Classes), ..finding };
        match own.structure.atom_ids().next() {
            Some(first) => self.context.reader().at_atom(finding, own.drawing, &own.structure, first),
            None => finding,
        }
    }

    fn broken_electrons(&self, own: &Stated<'_>, compared: &Compared) -> Option<String> {
        let (start, stated) = (self.start, &own.structure);
        let (was, is) = (start.net_charge(), stated.net_charge());
        if was != is {
            let (many, more) = ((was - is).abs(), if is < was { "more" } else { "fewer" });
            return Some(format!(
                "electrons stay the same: it has {many} {more} than the start (net charge {}, not {})",
                signed(is),
                signed(was)
            ));
        }
        let octet = self.context.octet;
        let known = |atom| compared.mapping.computed(atom).is_some_and(|atom| judge(start, atom, octet).is_some());
        let faulty = stated.atom_ids().find(|atom| judge(stated, *atom, octet).is_some() && !known(*atom));
        if let Some(atom) = faulty {
            let electrons = Electrons::of(stated, atom);
            return Some(format!(
                "no shell is over-full: {} would have {} and charge {}, {} in its shell",
                stated.call(atom),
                counted(electrons.bonds, "bond"),
                signed(electrons.charge),
                counted(electrons.shell().unwrap_or(0), "electron")
            ));
        }
        let count = |of: &Structure| -> i32 { of.atom_ids().map(|atom| unpaired(of, atom)).sum() };
        let (was, is) = (count(start), count(stated));
        (was != is).then(|| format!("as many electrons stay unpaired: it has {is}, the start {was}"))
    }
}

/// Atoms that a drawing has more or fewer than another, in words; `None` where they are equal in number.
fn other_atoms(start: &Structure, other: &Structure) -> Option<String> {
    let mut balance: BTreeMap<Element, i64> = BTreeMap::new();
    for (structure, sign) in [(start, -1), (other, 1)] {
        for (_, atom) in structure.atoms() {
            *balance.entry(atom.element).or_default() += sign;
            *balance.entry(Element::HYDROGEN).or_default() += sign * i64::from(atom.hydrogens);
        }
    }
    let words: Vec<String> = balance
        .iter()
        .filter(|(_, more)| **more != 0)
        .map(|(element, more)| format!("{} {element} {}", more.abs(), if *more > 0 { "more" } else { "fewer" }))
        .collect();
    (!words.is_empty()).then(|| format!("contributors have the same atoms: it has {}", words.join(", ")))
}

/// The rule that another skeleton breaks, in words.
fn broken_skeleton(start: &Structure, other: &Structure, compared: &Compared) -> Option<String> {
    let found = &compared.differences;
    if compared.is_equal() && found.omitted.is_empty() {
        return None;
    }
    let words: Vec<String> =
        found.list.iter().take(4).map(|difference| difference.words_between(start, other, &NAMES)).collect();
    let has = |is: fn(&Difference) -> bool| found.list.iter().any(is);
    let rule = if !found.omitted.is_empty()
        || has(|own| {
            matches!(
                own,
                Difference::Element(..) | Difference::Isotope(..) | Difference::Missing(_) | Difference::Extra(_)
            )
        }) {
        "contributors have the same atoms"
    } else if has(|own| matches!(own, Difference::Hydrogens(..))) {
        "atoms stay where they are, and a hydrogen has moved"
    } else {
        "sigma bonds stay"
    };
    Some(if words.is_empty() { rule.to_owned() } else { format!("{rule}: {}", words.join("; ")) })
}
