//! One batch, judged: the quick way where it leads somewhere, else in full.

use super::passed::{Passed, Sound};
use super::{Audited, Plan};
use crate::bank::{Batch, Chunk, Plain, Record, Taker};
use crate::findings::digest::{Digest, digest, of_product};
use crate::findings::quick::Prover;
use crate::findings::{Context, find_places, judge as judge_item};
use std::sync::Arc;

/// An item with what bank-wide findings need of it.
pub(super) type Judged = (Passed, Digest);

/// Judges the records of a batch in their order.
pub(super) fn judge(plan: &Plan, file: &Arc<str>, batch: Batch) -> Vec<Judged> {
    // Items of packages name their own files.
    let own_file = batch.file();
    let prover = (!plan.show_sound && own_file.is_none()).then(|| Prover::new(&plan.judge));
    let file = own_file.as_ref().unwrap_or(file);
    let mut judge = Judge { plan, file, prover, judged: Vec::new(), before: Before::Unknown };
    batch.hand_over(&mut judge);
    judge.digest_last();
    judge.judged
}

/// The item before the one that is judged.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Before {
    /// It stands in another batch.
    Unknown,
    /// Its answer is not its product, so that it may be the product of a neighbour.
    Mismatched,
    /// Its answer is its product or was not compared.
    Other,
    /// The same, and the prover has its product.
    Proven,
}

struct Judge<'a> {
    plan: &'a Plan,
    file: &'a Arc<str>,
    prover: Option<Prover>,
    judged: Vec<Judged>,
    before: Before,
}

impl Taker for Judge<'_> {
    fn plain(&mut self, plain: &Plain<'_>, line: u32) -> bool {
        let Some(prover) = &mut self.prover else { return false };
        let Some(digest) = prover.prove(plain) else { return false };
        let product = matches!(self.before, Before::Unknown | Before::Mismatched).then(|| prover.product());
        self.judged.push((Passed::Sound(Sound::new(plain, line)), Digest { product, ..digest }));
        self.before = Before::Proven;
        true
    }

    fn record(&mut self, chunk: &Chunk, record: Record) {
        let context = Context::new(&self.plan.judge, chunk);
        let (mut item, mut digest) = judge_in_full(self.plan, &context, self.file, record);
        if matches!(self.before, Before::Unknown | Before::Mismatched) {
            digest.product = of_product(&item.steps);
        }
        let is_mismatched = digest.stated.is_some();
        if is_mismatched {
            self.digest_last();
        }
        self.before = if is_mismatched { Before::Mismatched } else { Before::Other };
        // What was worked out about a sound item is shown only where the plan asks for it; its product may still be asked for.
        if item.findings.is_empty() && !self.plan.show_sound {
            digest.product = digest.product.or_else(|| of_product(&item.steps));
            item.steps = Vec::new();
        }
        self.judged.push((Passed::Full(Box::new(item)), digest));
    }
}

impl Judge<'_> {
    /// Digests the product of the last item, against which its neighbour's answer may have to be held.
    fn digest_last(&mut self) {
        let Some((item, digest)) = self.judged.last_mut() else { return };
        if digest.product.is_none() {
            digest.product = match (item, &mut self.prover) {
                (Passed::Sound(_), Some(prover)) if self.before == Before::Proven => Some(prover.product()),
                (Passed::Full(item), _) => of_product(&item.steps),
                _ => None,
            };
        }
    }
}

/// Judges one record, and digests it but for its product.
fn judge_in_full(plan: &Plan, context: &Context<'_>, file: &Arc<str>, record: Record) -> (Audited, Digest) {
    let judgement = judge_item(context, &record, file);
    let digest = record.content.as_ref().map(|item| digest(item, &judgement.steps)).unwrap_or_default();
    let stereo_not_judged = judgement.stereo_not_judged();
    let normalised = judgement.steps.iter().flat_map(|step| &step.normalised).copied().collect();
    let mut findings = judgement.findings;
    if let (true, Ok(item)) = (plan.find_places, &record.content) {
        find_places(context.chunk, item, &mut findings);
    }
    let (prompt, tags) = record.content.map(|item| (item.prompt, item.tags)).unwrap_or_default();
    let item = Audited {
        file: Arc::clone(file),
        line: judgement.line,
        id: judgement.id,
        prompt,
        tags,
        class: judgement.class,
        findings,
        steps: judgement.steps,
        stereo_not_judged,
        normalised,
        card: String::new(),
    };
    (item, digest)
}
