//! Sets of resonance contributors: each is held to the rules of resonance, the set to the contributors that count most.

mod alike;
mod choice;
mod missing;
mod rules;

use crate::bank::fields::option_number;
use crate::bank::{Drawing, Field, Item};
use crate::compare::{decide, sigma_skeleton};
use crate::findings::judge::choice::Choice;
use crate::findings::role::Role;
use crate::findings::rules::drawing::{DrawingReader, names};
use crate::findings::rules::omits::unexcused;
use crate::findings::verdict::{Doubt, StepAudit};
use crate::findings::{Context, Finding, Name};
use crate::resonance::{Contributors, RULES, Rank, Ranker};
use crate::smiles::{self, Labels};
use crate::source::Span;
use crate::structure::canon::fingerprint;
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, LabelIndex, Structure};
use rustc_hash::FxHashSet;

/// Contributors that a message names; the rest are counted.
const NAMED: usize = 12;

/// One stated contributor.
struct Stated<'a> {
    /// Its place in the set or among the options, counted from 0.
    at: usize,
    /// Which drawing of the item it is.
    role: Role,
    drawing: &'a Drawing,
    structure: Structure,
    /// Whether it breaks no rule, so that it can be ranked.
    is_legal: bool,
}

/// Judges an item whose stated answer is a set of contributors, or a choice of them among options.
pub(crate) fn judge_set(context: &Context<'_>, item: &Item, findings: &mut Vec<Finding>) -> Vec<StepAudit> {
    let reader = context.reader();
    let mut audit = StepAudit::default();
    let start = if let Some(drawing) = item.steps.first().and_then(|step| step.start.as_ref()) {
        read_start(&reader, drawing, &mut audit, findings)
    } else {
        findings.push(Finding::new(Name::MissingField, "the item has no start"));
        None
    };
    let choice = (!item.options.is_empty() || item.key.is_some()).then(|| Choice::read(context, item, findings));
    let is_chosen = choice.as_ref().is_some_and(Choice::states_the_answer);
    let mut stated = read_set(context, item, is_chosen, findings);
    let mut options = choice.as_ref().map(options_of).unwrap_or_default();
    let Some(start) = start else { return Vec::new() };
    let left_out = left_out_of_all(context, &start, if stated.is_empty() { &options } else { &stated });
    let drawn_start = (!left_out.is_empty()).then(|| start.part(|atom| !left_out.contains(&atom)));
    report_left_out(context, &start, &left_out, findings);
    let judged = Set::new(context, drawn_start.as_ref().unwrap_or(&start));
    let all = if stated.is_empty() && options.is_empty() { Contributors::default() } else { judged.all() };
    for own in &mut stated {
        own.is_legal = judged.judge_one(own, findings);
    }
    if !stated.is_empty() {
        judged.alike(&all, &stated, findings);
        judged.missing(&all, &stated, findings);
        if let Some(major) = &item.major {
            judged.major(item.answers.len(), &stated, major, findings);
        }
    }
    if let Some(choice) = &choice {
        judged.options(item, choice, &mut options, findings);
        judged.alike(&all, &options, findings);
        if stated.is_empty()
            && let Some(major) = &item.major
        {
            judged.major(item.options.len(), &options, major, findings);
        }
    }
    audit.start = Some(start);
    let drawn = stated.into_iter().chain(options);
    audit.contributors = drawn.map(|own| (own.role.words(), own.structure)).collect();
    vec![audit]
}

/// The options as contributors.
fn options_of<'a>(choice: &Choice<'a>) -> Vec<Stated<'a>> {
    let stated = |(at, drawing, structure): (usize, &'a Drawing, &Structure)| Stated {
        at,
        role: Role::Option(at),
        drawing,
        structure: structure.clone(),
        is_legal: false,
    };
    choice.options().map(stated).collect()
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
    let before = findings.len();
    reader.judge_electrons(&drawn.structure, Some(drawing), Role::Start, |_| false, findings);
    audit.doubt = (findings.len() > before).then_some(Doubt::Impossible);
    audit.start_is_labelled = !drawn.structure.label_by_position();
    audit.drawn_atoms = drawn.structure.atom_count();
    Some(drawn.structure)
}

fn read_set<'a>(
    context: &Context<'_>,
    item: &'a Item,
    is_chosen: bool,
    findings: &mut Vec<Finding>,
) -> Vec<Stated<'a>> {
    if item.answers.is_empty() && !is_chosen {
        findings.push(Finding::new(Name::MissingField, "the item states no contributors"));
    }
    let mut stated = Vec::with_capacity(item.answers.len());
    for (at, drawing) in item.answers.iter().enumerate() {
        let role = Role::Contributor(at);
        let drawn = context.reader().read(drawing, role, findings);
        if drawn.usable {
            stated.push(Stated { at, role, drawing, structure: drawn.structure, is_legal: false });
        }
    }
    stated
}

/// The atoms of whole species, counter-ions mostly, that every stated contributor leaves out and is right otherwise in
/// its skeleton.
fn left_out_of_all(context: &Context<'_>, start: &Structure, stated: &[Stated<'_>]) -> FxHashSet<AtomId> {
    let limit = context.settings.limits.search_steps;
    let (skeleton, labels) = (sigma_skeleton(start), LabelIndex::new(start));
    let mut common: Option<FxHashSet<AtomId>> = None;
    for own in stated {
        let decision = decide(&skeleton, &sigma_skeleton(&own.structure), &labels, limit);
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
    let unexcused = unexcused(context.omits, start, &by_species);
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

impl<'a> Set<'a> {
    fn new(context: &'a Context<'a>, start: &'a Structure) -> Self {
        Self { context, start, labels: LabelIndex::new(start) }
    }

    fn limit(&self) -> u64 {
        self.context.settings.limits.search_steps
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
            let words =
                |at: usize| stated.iter().find(|own| own.at == at).map(|own| own.role.words()).unwrap_or_default();
            let message = format!(
                "{} is stated to count most; by the usual rules {} counts more ({})",
                words(*at),
                words(*best),
                RULES[rule - 1].text
            );
            let mut finding = Finding::new(Name::DoubtfulMajor, message);
            finding.stated = (at + 1).to_string();
            finding.computed = (best + 1).to_string();
            findings.push(finding);
        }
    }
}

fn print(structure: &Structure) -> u128 {
    fingerprint(&Skeleton::new(structure))
}
