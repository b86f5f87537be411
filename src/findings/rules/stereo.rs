//! Drawn stereochemistry where no arrow touches, and marks that cannot mean anything.

use crate::arrows::Arrow;
use crate::bank::Drawing;
use crate::compare::stereo::{
    Agreeing, Mark, StereoDifference, View, agreeing, idle_marks, omitting, only_omitted, stereo_differences,
    without_idle_marks,
};
use crate::compare::{Agreement, Compared, Labelled, Mapping, explained_under, pairs_by_label};
use crate::findings::role::Role;
use crate::findings::rules::drawing::{DrawingReader, names};
use crate::findings::{Finding, Name};
use crate::structure::stereo::Geometry;
use crate::structure::{AtomId, LabelIndex, Structure};
use rustc_hash::FxHashSet;

/// A product and a stated drawing whose marks are compared.
pub(crate) struct Marks<'a> {
    /// What the arrows started from.
    pub(crate) start: &'a Structure,
    pub(crate) arrows: &'a [Arrow],
    pub(crate) product: &'a Structure,
    pub(crate) stated: &'a Structure,
    /// Labels of the start.
    pub(crate) labels: &'a LabelIndex,
    pub(crate) limit: u64,
}

/// How marks compare.
pub(crate) enum Outcome {
    /// All judged marks are alike under this correspondence.
    Alike(Mapping),
    /// They are not; these differ under this correspondence. Where none contradicts another, one side only leaves marks out.
    Differing(Mapping, Vec<StereoDifference>),
    /// The step limit was met first.
    Undecided,
}

impl Marks<'_> {
    /// Whether there is anything to compare.
    pub(crate) fn are_drawn(&self) -> bool {
        !(self.product.stereo.is_empty() && self.stated.stereo.is_empty())
    }

    /// Compares the marks of drawings that are equal otherwise, or of which labels say which atom is which.
    pub(crate) fn compare(&self, labelled: Labelled, mapping: &Mapping) -> Outcome {
        // A mark that means nothing before the arrows, or after them, is none.
        let idle = idle_marks(self.start, self.limit).into_iter().chain(idle_marks(self.product, self.limit));
        let ignored: FxHashSet<Mark> = idle.collect();
        let stated = without_idle_marks(self.stated, self.limit);
        let touched = touched(self.arrows);
        let view = View { is_untouched: &|atom| !touched.contains(&atom), ignored: &ignored };
        if labelled == Labelled::Wholly {
            let found = stereo_differences(self.product, &stated, mapping, &view);
            return if found.is_empty() {
                Outcome::Alike(mapping.clone())
            } else {
                Outcome::Differing(mapping.clone(), found)
            };
        }
        let fixed = pairs_by_label(self.product, &stated, self.labels);
        match agreeing(self.product, &stated, &fixed, mapping, &view, self.limit) {
            Agreeing::Found(mapping) => Outcome::Alike(mapping),
            Agreeing::Differs(mapping, found) if only_omitted(&found) => Outcome::Differing(mapping, found),
            // Another correspondence may contradict no mark where one side leaves some out.
            Agreeing::Differs(mapping, found) => {
                let other = omitting(self.product, &stated, &fixed, &view, self.limit);
                let (mapping, found) = other.unwrap_or((mapping, found));
                Outcome::Differing(mapping, found)
            }
            Agreeing::OutOfSteps => Outcome::Undecided,
        }
    }

    /// Compares the marks and puts what differs into a comparison that has compared all else.
    pub(crate) fn add_to(&self, compared: &mut Compared) {
        let comparable = match compared.agreement {
            Agreement::Equal => true,
            Agreement::Different => compared.labelled == Labelled::Wholly,
            Agreement::Undecided => false,
        };
        if !comparable || !self.are_drawn() {
            return;
        }
        match self.compare(compared.labelled, &compared.mapping) {
            Outcome::Alike(mapping) => self.remap(compared, mapping),
            Outcome::Differing(mapping, found) => {
                self.remap(compared, mapping);
                if !only_omitted(&found) {
                    compared.agreement = Agreement::Different;
                }
                compared.differences.stereo = found;
            }
            Outcome::Undecided => compared.agreement = Agreement::Undecided,
        }
    }

    fn remap(&self, compared: &mut Compared, mapping: Mapping) {
        if compared.mapping != mapping {
            (compared.differences, compared.forms) = explained_under(self.product, self.stated, &mapping);
            compared.mapping = mapping;
        }
    }
}

/// The atoms that arrows touch.
fn touched(arrows: &[Arrow]) -> FxHashSet<AtomId> {
    arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms())).collect()
}

/// Marks that are not compared: at atoms that arrows touch, and of geometries beyond tetrahedra and double bonds.
pub(crate) fn not_judged(start: &Structure, arrows: &[Arrow], answer: Option<(&Structure, &Mapping)>) -> u32 {
    if start.stereo.is_empty() && answer.is_none_or(|(answer, _)| answer.stereo.is_empty()) {
        return 0;
    }
    let touched = touched(arrows);
    let is_touched = |mark: &Mark| mark.atoms().any(|atom| touched.contains(&atom));
    let mut seen: FxHashSet<Mark> = FxHashSet::default();
    let mut collect = |drawing: &Structure, computed: &dyn Fn(AtomId) -> Option<AtomId>| {
        let stereo = &drawing.stereo;
        let centres = stereo.centres.iter().filter_map(|centre| {
            let mark = Mark::Centre(centre.atom).map(computed)?;
            (matches!(centre.geometry, Geometry::Other(..)) || is_touched(&mark)).then_some(mark)
        });
        let bonds = stereo.double_bonds.iter();
        let bonds = bonds.filter_map(|bond| Mark::bond(bond.ends[0], bond.ends[1]).map(computed)).filter(is_touched);
        seen.extend(centres.chain(bonds));
    };
    collect(start, &Some);
    if let Some((answer, mapping)) = answer {
        collect(answer, &|atom| mapping.computed(atom));
    }
    seen.len() as u32
}

/// Reports the marks of a drawing that cannot mean anything, but for those that are `known`. Gives back all of them.
pub(crate) fn report_idle_marks(
    reader: &DrawingReader<'_>,
    drawing: &Drawing,
    structure: &Structure,
    role: Role,
    known: &dyn Fn(Mark) -> bool,
    findings: &mut Vec<Finding>,
) -> Vec<Mark> {
    let stereo = &structure.stereo;
    for span in &stereo.idle_marks {
        let message = format!("a stereo mark of {} has no double bond or centre that it could belong to", role.words());
        let finding = Finding::new(Name::IdleStereo, message);
        findings.push(finding.at(reader.spot_of(drawing, *span)));
    }
    let idle = idle_marks(structure, reader.limits.search_steps);
    for mark in idle.iter().filter(|mark| !known(**mark)) {
        let message = format!(
            "{} of {} carries a stereo mark that cannot mean anything: the opposite mark would be the same drawing",
            mark.call(structure),
            role.words()
        );
        let atoms: Vec<AtomId> = mark.atoms().collect();
        let finding = Finding::new(Name::IdleStereo, message).about(names(structure, &atoms));
        findings.push(reader.at_atom(finding, drawing, structure, atoms[0]));
    }
    idle
}
