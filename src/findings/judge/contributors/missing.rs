//! Contributors of the first rank that a set omits.

use super::{NAMED, Set, Stated, print};
use crate::compare::difference::is_folded;
use crate::findings::{Finding, Name};
use crate::resonance::{Bounds, Contributor, Contributors, contributors, octet_form};
use crate::smiles::{self, Labels};
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashSet;

impl Set<'_> {
    /// The contributors of the compound.
    pub(super) fn all(&self) -> Contributors {
        let most = self.context.settings.limits.contributors;
        contributors(self.start, &Bounds { octet: self.context.octet, most, more_gaps: 0 })
    }

    /// Names the contributors of the first rank that the set omits.
    pub(super) fn missing(&self, all: &Contributors, stated: &[Stated<'_>], findings: &mut Vec<Finding>) {
        let first: Vec<&Contributor> = all.first_rank().filter(|own| !own.is_outside).collect();
        let known = self.known(stated);
        let is_stated: Vec<bool> = first.iter().map(|own| known.contains(&self.key(&own.structure, &known))).collect();
        let mut missing: Vec<&Structure> = Vec::new();
        let mut seen = FxHashSet::default();
        for (own, _) in first.iter().zip(&is_stated).filter(|(_, is_stated)| !**is_stated) {
            if seen.insert(self.key(&own.structure, &known)) {
                missing.push(&own.structure);
            }
        }
        // Who draws S(+)-O(-) has drawn what others draw S=O.
        missing.retain(|own| {
            octet_form(own, self.context.octet).is_none_or(|plain| !known.contains(&self.key(&plain, &known)))
        });
        if leaves_ring_forms_out(&first, &is_stated) {
            let covered: FxHashSet<Pattern> = first
                .iter()
                .zip(&is_stated)
                .filter(|(_, is_stated)| **is_stated)
                .map(|(own, _)| pattern(&own.structure))
                .collect();
            missing.retain(|own| !covered.contains(&pattern(own)));
            let mut once = FxHashSet::default();
            missing.retain(|own| once.insert(pattern(own)));
        }
        if missing.is_empty() {
            if !all.is_complete {
                let message = format!(
                    "whether the set omits a contributor of the first rank could not be decided: the search for contributors \
                     met its limit `contributors` of {}",
                    self.context.settings.limits.contributors
                );
                findings.push(Finding::new(Name::Undecided, message));
            }
            return;
        }
        let labels = if known.by_label { Labels::Classes } else { Labels::Without };
        let drawn: Vec<String> = missing.iter().take(NAMED).map(|own| smiles::write(own, labels)).collect();
        let more = if missing.len() > NAMED { format!(" and {} more", missing.len() - NAMED) } else { String::new() };
        let contributors = if missing.len() == 1 { "a contributor" } else { "contributors" };
        let limit = if all.is_complete { "" } else { "; the search for contributors met its limit, there may be more" };
        let message = format!("the set omits {contributors} of the first rank: {}{more}{limit}", drawn.join(", "));
        let mut whole: Vec<String> = stated.iter().map(|own| smiles::write(&own.structure, labels)).collect();
        whole.extend(drawn.iter().cloned());
        let correction = if missing.len() <= NAMED { whole.join(" ") } else { String::new() };
        let finding = Finding::new(Name::MissingContributor, message);
        findings.push(Finding { computed: drawn.join(" "), correction, ..finding });
    }

    /// What is stated, in a form in which contributors that are found can be looked up.
    fn known(&self, stated: &[Stated<'_>]) -> Known {
        let by_label = stated.iter().all(|own| own.structure.has_labels()) && !stated.is_empty();
        let mut known = Known { by_label, keys: FxHashSet::default() };
        for own in stated {
            let key = self.key(&own.structure, &known);
            known.keys.insert(key);
        }
        known
    }

    fn key(&self, structure: &Structure, known: &Known) -> Key {
        if !known.by_label {
            return Key::Print(print(structure));
        }
        let mut places: Vec<(u32, u32, i32)> = Vec::new();
        let counted = |id: AtomId| is_folded(structure, id);
        for (id, atom) in structure.atoms().filter(|(id, _)| !counted(*id)) {
            if let Some(own) = structure.label(id).and_then(|label| self.labels.get(&label)) {
                places.push((own.index() as u32, own.index() as u32, i32::from(atom.charge)));
            }
        }
        let place = |atom| Some(self.labels.get(&structure.label(atom)?)?.index() as u32);
        for (_, a, b, bond) in structure.bonds().filter(|(_, a, b, _)| !counted(*a) && !counted(*b)) {
            if let (Some(a), Some(b)) = (place(a), place(b)) {
                places.push((a.min(b), a.max(b), i32::from(bond.order)));
            }
        }
        places.sort_unstable();
        Key::Places(places)
    }
}

/// What is stated.
struct Known {
    /// Whether all stated contributors have labels.
    by_label: bool,
    keys: FxHashSet<Key>,
}

impl Known {
    fn contains(&self, key: &Key) -> bool {
        self.keys.contains(key)
    }
}

/// A contributor to look up: by its fingerprint, or by the charges and bonds of its labelled atoms.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Key {
    Print(u128),
    Places(Vec<(u32, u32, i32)>),
}

/// Charges and non-bonding electrons of all atoms: forms of a ring that differ in its double bonds alone share them.
type Pattern = Vec<(i16, Option<i32>)>;

fn pattern(structure: &Structure) -> Pattern {
    structure.atoms().map(|(id, atom)| (atom.charge, Electrons::of(structure, id).non_bonding())).collect()
}

/// Whether the author draws one form of a ring for all: contributors of the first rank differ in more than that, and none that is
/// stated differs from another in the bonds of a ring alone. Who draws two such forms counts them, and is told of the others.
fn leaves_ring_forms_out(first: &[&Contributor], is_stated: &[bool]) -> bool {
    let all: FxHashSet<Pattern> = first.iter().map(|own| pattern(&own.structure)).collect();
    let mut seen = FxHashSet::default();
    let stated = first.iter().zip(is_stated).filter(|(_, is_stated)| **is_stated);
    all.len() > 1 && stated.map(|(own, _)| pattern(&own.structure)).all(|own| seen.insert(own))
}
