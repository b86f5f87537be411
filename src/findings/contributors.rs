//! Sets of resonance contributors: each is held to the rules of resonance, the set to the contributors that count most.

use super::drawing::{DrawingReader, Role, names};
use super::omits::unexcused;
use super::step::StepAudit;
use super::{Context, Finding, Name};
use crate::bank::fields::option_number;
use crate::bank::{Drawing, Field, Item};
use crate::compare::difference::{Names, is_folded};
use crate::compare::{Agreement, Compared, Difference, compare, decide, same_drawing};
use crate::resonance::{Bounds, Contributor, Contributors, RULES, Rank, Ranker, contributors};
use crate::smiles::{self, Labels};
use crate::source::Span;
use crate::structure::canon::fingerprint;
use crate::structure::electrons::{Electrons, judge, unpaired};
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, Element, LabelIndex, Structure};
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::BTreeMap;

/// Contributors that a message names; the rest are counted.
const NAMED: usize = 12;

/// One stated contributor.
struct Stated<'a> {
    /// Its place in the set, counted from 0.
    at: usize,
    drawing: &'a Drawing,
    structure: Structure,
    /// Whether it breaks no rule, so that it can be ranked.
    is_legal: bool,
}

/// Judges an item whose stated answer is a set of contributors.
pub(super) fn judge_set(context: &Context<'_>, item: &Item, findings: &mut Vec<Finding>) -> Vec<StepAudit> {
    let reader = context.reader();
    let mut audit = StepAudit::default();
    let start = if let Some(drawing) = item.steps.first().and_then(|step| step.start.as_ref()) {
        read_start(&reader, drawing, &mut audit, findings)
    } else {
        findings.push(Finding::new(Name::MissingField, "the item has no start"));
        None
    };
    let mut stated = read_set(context, item, findings);
    let Some(start) = start else { return Vec::new() };
    let left_out = left_out_of_all(context, &start, &stated);
    let drawn_start = (!left_out.is_empty()).then(|| start.part(|atom| !left_out.contains(&atom)));
    report_left_out(context, &start, &left_out, findings);
    let judged = Set::new(context, drawn_start.as_ref().unwrap_or(&start));
    for own in &mut stated {
        own.is_legal = judged.judge_one(own, findings);
    }
    judged.repeated(&stated, findings);
    if !stated.is_empty() {
        judged.missing(&stated, findings);
        if let Some(major) = &item.major {
            judged.major(item.answers.len(), &stated, major, findings);
        }
    }
    audit.start = Some(start);
    vec![audit]
}

fn read_start(
    reader: &DrawingReader<'_>,
    drawing: &Drawing,
    audit: &mut StepAudit,
    findings: &mut Vec<Finding>,
) -> Option<Structure> {
    let mut drawn = reader.read(drawing, Role::Start, findings);
    if !drawn.usable {
        return None;
    }
    reader.judge_electrons(&drawn.structure, Some(drawing), Role::Start, |_| false, findings);
    audit.start_is_labelled = !drawn.structure.label_by_position();
    audit.drawn_atoms = drawn.structure.atom_count();
    Some(drawn.structure)
}

fn read_set<'a>(context: &Context<'_>, item: &'a Item, findings: &mut Vec<Finding>) -> Vec<Stated<'a>> {
    if item.answers.is_empty() {
        findings.push(Finding::new(Name::MissingField, "the item states no contributors"));
    }
    let mut stated = Vec::with_capacity(item.answers.len());
    for (at, drawing) in item.answers.iter().enumerate() {
        let drawn = context.reader().read(drawing, Role::Contributor(at), findings);
        if drawn.usable {
            stated.push(Stated { at, drawing, structure: drawn.structure, is_legal: false });
        }
    }
    stated
}

/// The atoms of whole species, counter-ions mostly, that every stated contributor leaves out and is right otherwise in
/// its skeleton.
fn left_out_of_all(context: &Context<'_>, start: &Structure, stated: &[Stated<'_>]) -> FxHashSet<AtomId> {
    let limit = context.settings.limits.search_steps;
    let (skeleton, labels) = (bare(start), LabelIndex::new(start));
    let mut common: Option<FxHashSet<AtomId>> = None;
    for own in stated {
        let decision = decide(&skeleton, &bare(&own.structure), &labels, limit);
        let Some(omitted) = decision.left_out() else { continue };
        let omitted: FxHashSet<AtomId> = omitted.iter().flatten().copied().collect();
        common = Some(match common {
            None => omitted,
            Some(before) => before.intersection(&omitted).copied().collect(),
        });
        if common.as_ref().is_some_and(FxHashSet::is_empty) {
            break;
        }
    }
    common.unwrap_or_default()
}

fn report_left_out(
    context: &Context<'_>,
    start: &Structure,
    left_out: &FxHashSet<AtomId>,
    findings: &mut Vec<Finding>,
) {
    if left_out.is_empty() {
        return;
    }
    let (species, count) = start.species();
    let mut by_species: Vec<Vec<AtomId>> = vec![Vec::new(); count];
    for atom in start.atom_ids().filter(|atom| left_out.contains(atom)) {
        by_species[species[atom.index()] as usize].push(atom);
    }
    by_species.retain(|atoms| !atoms.is_empty());
    let unexcused = unexcused(context, start, &by_species);
    let drawn: Vec<String> = unexcused
        .iter()
        .take(NAMED)
        .map(|atoms| smiles::write_part(start, Labels::Without, |atom| atoms.contains(&atom)))
        .collect();
    if !drawn.is_empty() {
        let message = format!("the contributors leave out {}", drawn.join(" and "));
        let atoms: Vec<AtomId> = unexcused.iter().flatten().take(64).copied().collect();
        findings.push(Finding::new(Name::OmittedSpecies, message).about(names(start, &atoms)));
    }
}

/// The start that a set is held to.
struct Set<'a> {
    context: &'a Context<'a>,
    start: &'a Structure,
    labels: LabelIndex,
}

/// How messages call start and contributor.
const NAMES: Names = Names { one: "in the start", other: "here", one_drawing: "start", other_drawing: "contributor" };

impl<'a> Set<'a> {
    fn new(context: &'a Context<'a>, start: &'a Structure) -> Self {
        Self { context, start, labels: LabelIndex::new(start) }
    }

    fn limit(&self) -> u64 {
        self.context.settings.limits.search_steps
    }

    /// Holds one contributor to the rules of resonance (IUPAC Gold Book 08205): the same atoms in the same places, the same sigma
    /// bonds, the same electrons, as many of them unpaired, and no over-full shell.
    fn judge_one(&self, own: &Stated<'_>, findings: &mut Vec<Finding>) -> bool {
        if let Some(rule) = other_atoms(self.start, &own.structure) {
            findings.push(self.illegal(own, &rule, Vec::new()));
            return false;
        }
        let (one, other) = (bare(self.start), bare(&own.structure));
        let compared = compare(&one, &other, &self.labels, self.limit());
        if compared.agreement == Agreement::Undecided {
            let message = format!(
                "whether contributor {} has the start's atoms and sigma bonds could not be decided within {} search steps",
                own.at + 1,
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
        let message = format!("contributor {}: {rule}", own.at + 1);
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
                "electrons stay the same: it has {many} {more} than the start (net charge {is:+}, not {was:+})"
            ));
        }
        let octet = self.context.octet;
        let known = |atom| compared.mapping.computed(atom).is_some_and(|atom| judge(start, atom, octet).is_some());
        let faulty = stated.atom_ids().find(|atom| judge(stated, *atom, octet).is_some() && !known(*atom));
        if let Some(atom) = faulty {
            let electrons = Electrons::of(stated, atom);
            return Some(format!(
                "no shell is over-full: {} would have {} bonds and charge {:+}, {} electrons in its shell",
                stated.call(atom),
                electrons.bonds,
                electrons.charge,
                electrons.shell().unwrap_or(0)
            ));
        }
        let count = |of: &Structure| -> i32 { of.atom_ids().map(|atom| unpaired(of, atom)).sum() };
        let (was, is) = (count(start), count(stated));
        (was != is).then(|| format!("as many electrons stay unpaired: it has {is}, the start {was}"))
    }

    /// Whether two stated contributors are one drawing: under their labels where both have them.
    fn same(&self, a: &Structure, b: &Structure) -> bool {
        if a.has_labels() && b.has_labels() {
            let decision = decide(a, b, &LabelIndex::new(a), self.limit());
            return decision.left_out().is_some_and(<[_]>::is_empty);
        }
        same_drawing(a, b, self.limit()) == Some(true)
    }

    fn repeated(&self, stated: &[Stated<'_>], findings: &mut Vec<Finding>) {
        // Equal drawings have equal fingerprints: only those that share one are compared.
        let mut groups: FxHashMap<u128, Vec<&Stated<'_>>> = FxHashMap::default();
        for own in stated {
            let group = groups.entry(print(&own.structure)).or_default();
            if let Some(first) = group.iter().find(|first| self.same(&first.structure, &own.structure)) {
                let message = format!("contributor {} is the same drawing as contributor {}", own.at + 1, first.at + 1);
                let stated = smiles::write(&own.structure, Labels::Classes);
                findings.push(Finding { stated, ..Finding::new(Name::RepeatedContributor, message) });
            } else {
                group.push(own);
            }
        }
    }

    fn all(&self) -> Contributors {
        let most = self.context.settings.limits.contributors;
        contributors(self.start, &Bounds { octet: self.context.octet, most, more_gaps: 0 })
    }

    /// Names the contributors of the first rank that the set omits.
    fn missing(&self, stated: &[Stated<'_>], findings: &mut Vec<Finding>) {
        let all = self.all();
        let first: Vec<&Contributor> = all.first_rank().collect();
        let known = self.known(stated);
        let is_stated: Vec<bool> = first.iter().map(|own| known.contains(&self.key(&own.structure, &known))).collect();
        let mut missing: Vec<&Structure> = Vec::new();
        let mut seen = FxHashSet::default();
        for (own, _) in first.iter().zip(&is_stated).filter(|(_, is_stated)| !**is_stated) {
            if seen.insert(self.key(&own.structure, &known)) {
                missing.push(&own.structure);
            }
        }
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

    /// Whether what the item states to contribute most does so by the rules.
    fn major(&self, count: usize, stated: &[Stated<'_>], field: &Field, findings: &mut Vec<Finding>) {
        let mut major = Vec::new();
        for part in field.text.split([' ', ',', ';']).filter(|part| !part.is_empty()) {
            match option_number(part).map(usize::from) {
                Some(at) if at < count => major.push(at),
                _ => {
                    let message = format!(
                        "'{part}' names no contributor: expected numbers from 1 to {count} for the one that contributes most"
                    );
                    let spot = self.context.chunk.spot_in(field, Span::new(0, field.text.len()));
                    findings.push(Finding::new(Name::MissingField, message).at(spot));
                    return;
                }
            }
        }
        let ranked: Vec<(usize, Rank)> = stated
            .iter()
            .filter(|own| own.is_legal)
            .map(|own| (own.at, Ranker::default().rank(&own.structure)))
            .collect();
        let Some((best, best_rank)) = ranked.iter().min_by_key(|(at, rank)| (*rank, *at)) else { return };
        for (at, rank) in ranked.iter().filter(|(at, rank)| major.contains(at) && rank > best_rank) {
            let rule = rank.deciding_rule(best_rank).unwrap_or(1);
            let message = format!(
                "contributor {} is stated to count most; by the usual rules contributor {} counts more ({})",
                at + 1,
                best + 1,
                RULES[rule - 1].text
            );
            let mut finding = Finding::new(Name::DoubtfulMajor, message);
            finding.stated = (at + 1).to_string();
            finding.computed = (best + 1).to_string();
            findings.push(finding);
        }
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

fn print(structure: &Structure) -> u128 {
    fingerprint(&Skeleton::new(structure))
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

/// A drawing without its pi and non-bonding electrons: what all contributors have in common.
fn bare(structure: &Structure) -> Structure {
    let mut bare = structure.clone();
    bare.stereo = crate::structure::stereo::Stereo::default();
    for bond in structure.bond_ids() {
        *bare.bond_mut(bond) = crate::structure::Bond::new(1);
    }
    for atom in structure.atom_ids() {
        let own = bare.atom_mut(atom);
        (own.charge, own.unpaired, own.aromatic) = (0, None, false);
    }
    bare
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
