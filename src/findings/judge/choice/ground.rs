//! What the step gives that options are held against, and how each stands to it.

use super::Opt;
use crate::arrows::DrawnArrow;
use crate::bank::Task;
use crate::compare::kekule::other_form;
use crate::compare::stereo::only_omitted;
use crate::compare::{Agreement, Compared, Decision, Labelled, compare, decide, same_drawing};
use crate::findings::role::Role;
use crate::findings::rules::answer::{AnswerContext, difference_words, labelled_like, species_words};
use crate::findings::rules::omits::unexcused;
use crate::findings::rules::stereo::Outcome;
use crate::findings::settle::Taken;
use crate::findings::verdict::StepAudit;
use crate::findings::{Context, Finding, Name};
use crate::structure::{LabelIndex, Structure};

/// How an option stands to the product.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    Right,
    /// Right, but for species that it leaves out and nothing excuses.
    LeavesOut,
    /// Right, but for stereo marks that one side draws and the other does not.
    OmitsMarks,
    Wrong,
    Undecided,
}

impl Standing {
    pub(super) fn is_right(self) -> bool {
        matches!(self, Self::Right | Self::LeavesOut | Self::OmitsMarks)
    }
}

/// What the step gives that the options are held against.
pub(super) struct Ground<'a> {
    pub(super) context: &'a Context<'a>,
    pub(super) taken: Taken,
    labels: LabelIndex,
    drawn_atoms: usize,
    drawn_arrows: Vec<DrawnArrow>,
    /// Whether start and product are the same drawing but for labels, so that labels are what the options differ in.
    pub(super) labels_matter: bool,
}

impl<'a> Ground<'a> {
    pub(super) fn new(context: &'a Context<'a>, step: &StepAudit) -> Option<Self> {
        let (start, pushed) = (step.start.clone()?, step.pushed.clone().filter(|_| step.arrows_are_clean)?);
        let labels = LabelIndex::new(&start);
        let taken = Taken { start, arrows: step.arrows.clone(), pushed, form: 0, steps: step.several.clone() };
        let mut ground = Self {
            context,
            taken,
            labels,
            drawn_atoms: step.drawn_atoms,
            drawn_arrows: step.drawn_arrows.clone(),
            labels_matter: false,
        };
        ground.labels_matter = ground.same(&ground.taken.start, &ground.taken.pushed.product);
        Some(ground)
    }

    pub(super) fn limit(&self) -> u64 {
        self.context.settings.limits.search_steps
    }

    fn same(&self, a: &Structure, b: &Structure) -> bool {
        same_drawing(a, b, self.limit()) == Some(true)
    }

    pub(super) fn compare(&self, option: &Structure) -> Compared {
        let product = &self.taken.pushed.product;
        let mut compared = compare(product, option, &self.labels, self.limit());
        self.answering(None).marks(&self.taken, product, option).add_to(&mut compared);
        compared
    }

    pub(super) fn answering<'b>(&'b self, option: Option<&Opt<'b>>) -> AnswerContext<'b> {
        AnswerContext {
            context: self.context,
            task: Task::Step,
            drawing: option.map(|option| option.drawing),
            role: option.map_or(Role::Answer, Opt::role),
            labels: &self.labels,
            drawn_atoms: self.drawn_atoms,
            drawn_arrows: &self.drawn_arrows,
        }
    }

    pub(super) fn standing(&self, option: &Structure) -> Standing {
        let product = &self.taken.pushed.product;
        let decision = decide(product, option, &self.labels, self.limit());
        match decision.agreement() {
            Agreement::Undecided => Standing::Undecided,
            Agreement::Equal => {
                let omitted = decision.left_out().unwrap_or_default();
                let whole = omitted.is_empty() || unexcused(self.context.omits, product, omitted).is_empty();
                match self.stereo(option, &decision) {
                    Some(Outcome::Differing(_, found)) if whole && only_omitted(&found) => Standing::OmitsMarks,
                    Some(Outcome::Differing(..)) => Standing::Wrong,
                    Some(Outcome::Undecided) => Standing::Undecided,
                    _ if whole => Standing::Right,
                    _ => Standing::LeavesOut,
                }
            }
            // The product under other labels is the product, unless labels are all that changes.
            Agreement::Different => {
                if self.context.any_kekule_form
                    && let Some(other) = other_form(product, option, &self.labels, self.limit())
                {
                    return self.standing(&other.recast);
                }
                let is_labelled = decision.labelled() != Labelled::Not;
                let is_relabelled = is_labelled
                    && !self.labels_matter
                    && self.answering(None).is_relabelled(&self.taken, product, option);
                if is_relabelled { Standing::Right } else { Standing::Wrong }
            }
        }
    }

    /// How the stereo marks of an option compare that is equal to the product otherwise; `None` where there are none.
    fn stereo(&self, option: &Structure, decision: &Decision) -> Option<Outcome> {
        let Decision::Explained(compared) = decision else { return None };
        let own = self.answering(None);
        let marks = own.marks(&self.taken, &self.taken.pushed.product, option);
        marks.are_drawn().then(|| marks.compare(compared.labelled, &compared.mapping))
    }

    /// How an option differs, in words, and the option as SMILES with the labels of the start.
    pub(super) fn differing(&self, option: &Opt<'_>, compared: &Compared) -> (String, String) {
        let (product, stated) = compared.drawings(&self.taken.pushed.product, &option.structure);
        let mut words = difference_words(product, stated, compared);
        if words.is_empty() && !compared.differences.omitted.is_empty() {
            words = format!("{} is left out", species_words(product, &compared.differences.omitted));
        }
        (words, labelled_like(product, stated, &compared.mapping))
    }

    pub(super) fn undecided(&self, option: &Opt<'_>) -> Finding {
        let message = format!(
            "whether {} is the recomputed product could not be decided within {} search steps",
            option.role().words(),
            self.limit()
        );
        Finding::new(Name::Undecided, message)
    }
}
