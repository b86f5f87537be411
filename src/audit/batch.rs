//! One batch, judged: the quick way where it leads somewhere, else in full.

use super::passed::{Passed, Sound};
use super::shard::{Kept, Known};
use super::{Audited, Plan};
use crate::bank::{Chunk, Plain, Record, Taker};
use crate::findings::bankwide::Passing as _;
use crate::findings::digest::{Attempt, Digest, digest, may_answer, of_product};
use crate::findings::quick::{Proof, Prover};
use crate::findings::{Context, StepAudit, classify, find_places, judge as judge_item};
use std::sync::Arc;

/// An item with what bank-wide findings need of it.
pub(super) type Judged = (Passed, Digest);

/// Judges the records of a batch in their order. What was worked out about items with findings is kept where it is asked for.
pub(super) fn judge(plan: &Plan, keeps_steps: bool, file: &Arc<str>, (batch, kept): Known) -> Vec<Judged> {
    // Items of packages name their own files.
    let own_file = batch.file();
    let prover = (!plan.show_sound && own_file.is_none()).then(|| Prover::new(&plan.judge));
    let file = own_file.as_ref().unwrap_or(file);
    let judged = Vec::with_capacity(batch.likely_records());
    let mut judge = Judge { plan, keeps_steps, file, prover, kept, judged, before: Before::Unknown, attempt: None };
    batch.hand_over(&mut judge);
    judge.digest_last(|_| true);
    judge.release_last();
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
    keeps_steps: bool,
    file: &'a Arc<str>,
    prover: Option<Prover>,
    /// What a shard found, by item.
    kept: Option<Vec<Option<Kept>>>,
    judged: Vec<Judged>,
    before: Before,
    /// What the prover found out about the item that comes next as a record.
    attempt: Option<Attempt>,
}

impl Taker for Judge<'_> {
    fn plain(&mut self, plain: &Plain<'_>, line: u32) -> bool {
        let Some(prover) = &mut self.prover else { return false };
        if let Some(kept) = &mut self.kept {
            let own = kept.get_mut(self.judged.len()).and_then(|own| own.take_if(|own| own.is_sound()));
            let Some(Kept(digest, ..)) = own else { return false };
            self.judged.push((Passed::Sound(Sound::new(plain, line)), digest));
            self.before = Before::Other;
            return true;
        }
        let Some(Proof { digest, note }) = prover.prove(plain) else {
            self.attempt = prover.attempt(plain.task);
            return false;
        };
        if note.is_some() && self.keeps_steps {
            return false;
        }
        let product = matches!(self.before, Before::Unknown | Before::Mismatched).then(|| prover.product());
        self.release_last();
        let mut passed = Passed::Sound(Sound::new(plain, line));
        if let Some(note) = note {
            passed.add(note, self.file);
        }
        self.judged.push((passed, Digest { product, ..digest }));
        self.before = Before::Proven;
        true
    }

    fn record(&mut self, chunk: &Chunk, record: Record) {
        let attempt = self.attempt.take();
        // What a card shows is not in what a shard keeps, so that items which get one are judged again.
        let may_keep = |own: &mut Kept| own.2.is_empty() || !self.keeps_steps;
        let own = self.kept.as_mut().and_then(|kept| kept.get_mut(self.judged.len())?.take_if(may_keep));
        if let (Some(kept), false) = (own, self.plan.show_sound) {
            self.judged.push(restored(self.file, record, kept));
            self.before = Before::Other;
            return;
        }
        let context = Context::new(&self.plan.judge, chunk);
        let (mut item, mut digest) = judge_in_full(self.plan, &context, self.file, record, attempt);
        let may_be_asked = match self.before {
            Before::Unknown => true,
            Before::Mismatched => may_answer(self.last_steps(), &item.steps),
            Before::Other | Before::Proven => false,
        };
        if may_be_asked {
            digest.product = of_product(&item.steps);
        }
        let is_mismatched = digest.stated.is_some();
        if is_mismatched {
            self.digest_last(|last| may_answer(&item.steps, last));
        }
        self.release_last();
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
    /// Gives back what was worked out about the last item, as soon as no neighbour may ask for its product any more and where
    /// no report shows it.
    fn release_last(&mut self) {
        if let (false, Some((Passed::Full(item), _))) =
            (self.keeps_steps || self.plan.show_sound, self.judged.last_mut())
        {
            item.steps = Vec::new();
        }
    }

    /// What was worked out about the last item, where it is still kept.
    fn last_steps(&self) -> &[StepAudit] {
        match self.judged.last() {
            Some((Passed::Full(item), _)) => &item.steps,
            _ => &[],
        }
    }

    /// Digests the product of the last item, if its neighbour's answer `may_be` that.
    fn digest_last(&mut self, may_be: impl Fn(&[StepAudit]) -> bool) {
        let Some((item, digest)) = self.judged.last_mut() else { return };
        if digest.product.is_none() {
            digest.product = match (item, &mut self.prover) {
                (_, Some(prover)) if self.before == Before::Proven => Some(prover.product()),
                (Passed::Full(item), _) if may_be(&item.steps) => of_product(&item.steps),
                _ => None,
            };
        }
    }
}

/// An item as a shard has judged it.
fn restored(file: &Arc<str>, record: Record, Kept(digest, stereo_not_judged, findings): Kept) -> Judged {
    let line = record.line;
    let (id, prompt, tags) = match record.content {
        Ok(item) => (item.id, item.prompt, item.tags),
        Err(bad) => (bad.id.unwrap_or_else(|| format!("{file}:{line}")), String::new(), String::new()),
    };
    let item = Audited {
        file: Arc::clone(file),
        line,
        id,
        prompt,
        tags,
        class: classify(&findings),
        findings,
        steps: Vec::new(),
        stereo_not_judged,
        normalised: Vec::new(),
        card: String::new(),
    };
    (Passed::Full(Box::new(item)), digest)
}

/// Judges one record, and digests it but for its product.
fn judge_in_full(
    plan: &Plan,
    context: &Context<'_>,
    file: &Arc<str>,
    record: Record,
    attempt: Option<Attempt>,
) -> (Audited, Digest) {
    let judgement = judge_item(context, &record, file);
    let digest = record.content.as_ref().map(|item| digest(item, &judgement.steps, attempt)).unwrap_or_default();
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
