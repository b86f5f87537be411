//! One batch, judged: the quick way where it leads somewhere, else in full.

use super::kept::{Kept, Known};
use super::passed::{Passed, Sound};
use super::{Audited, Plan};
use crate::bank::{Chunk, Plain, Record, Taker};
use crate::findings::bankwide::Passing as _;
use crate::findings::digest::{Attempt, Digest, digest, may_answer, of_product};
use crate::findings::quick::{Proof, Prover};
use crate::findings::{Context, StepAudit, classify, find_places, judge as judge_item};
use std::sync::Arc;

/// An item with what bank-wide findings need of it.
pub(super) type Judged = (Passed, Digest);

/// Judges the records of a batch. What was worked out about items with findings is kept where it is asked for.
pub(super) fn judge(plan: &Plan, keeps_steps: bool, file: &Arc<str>, (batch, kept): Known) -> Vec<Judged> {
    // Items of packages name their own files.
    let own_file = batch.file();
    let prover = (!plan.show_sound && own_file.is_none()).then(|| Prover::new(&plan.judge));
    let file = own_file.as_ref().unwrap_or(file);
    let judged = Vec::with_capacity(batch.likely_records());
    let mut judge =
        Judge { plan, keeps_steps, file, prover, kept, judged, left: Vec::new(), before: Before::Other, attempt: None };
    batch.hand_over(&mut judge);
    judge.judged
}

/// The item before the one that comes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Before {
    /// It was left, so that its answer may be the product of a neighbour.
    Left,
    /// The prover has its product.
    Proven,
    /// Its product is known already or not asked for by what comes: a shard has judged it, or it stands in another batch.
    Other,
}

/// Judges in two rounds: what the prover cannot prove is left until all has been offered to it. The two ways share little
/// code, and each runs faster the longer it runs.
struct Judge<'a> {
    plan: &'a Plan,
    keeps_steps: bool,
    file: &'a Arc<str>,
    prover: Option<Prover>,
    /// What a shard found, by item.
    kept: Option<Vec<Option<Kept>>>,
    /// In bank order; what was left holds a place.
    judged: Vec<Judged>,
    left: Vec<Left>,
    before: Before,
    /// What the prover found out about the item that comes next as a record.
    attempt: Option<Attempt>,
}

/// An item that is to be judged in full.
struct Left {
    at: usize,
    record: Record,
    attempt: Option<Attempt>,
}

impl Taker for Judge<'_> {
    fn plain(&mut self, plain: &Plain<'_>, line: u32) -> bool {
        let Some(prover) = &mut self.prover else { return false };
        if let Some(kept) = &mut self.kept {
            let own = kept.get_mut(self.judged.len()).and_then(|own| own.take_if(|own| own.is_sound()));
            let Some(Kept(digest, ..)) = own else { return false };
            self.judged.push((Passed::Sound(Sound::new(plain, line, self.keeps_steps)), digest));
            self.before = Before::Other;
            return true;
        }
        let Some(Proof { digest, notes }) = prover.prove(plain) else {
            self.attempt = prover.attempt(plain.task);
            return false;
        };
        if !notes.is_empty() && self.keeps_steps {
            // The prover has this item's product now and no longer that of the item before, which nothing sound asks for.
            self.before = Before::Other;
            return false;
        }
        let may_be_asked = self.judged.is_empty() || self.before == Before::Left;
        let product = may_be_asked.then(|| prover.product());
        let mut passed = Passed::Sound(Sound::new(plain, line, self.keeps_steps));
        for note in notes {
            passed.add(note);
        }
        self.judged.push((passed, Digest { product, ..digest }));
        self.before = Before::Proven;
        true
    }

    fn record(&mut self, record: Record) {
        let attempt = self.attempt.take();
        // What a card shows is not in what a shard keeps, so that items which get one are judged again.
        let may_keep = |own: &mut Kept| own.2.is_empty() || !self.keeps_steps;
        let own = self.kept.as_mut().and_then(|kept| kept.get_mut(self.judged.len())?.take_if(may_keep));
        if let (Some(kept), false) = (own, self.plan.show_sound) {
            self.judged.push(restored(self.file, record, kept));
            self.before = Before::Other;
            return;
        }
        self.digest_proven();
        self.left.push(Left { at: self.judged.len(), record, attempt });
        self.judged.push((Passed::Sound(Sound::default()), Digest::default()));
        self.before = Before::Left;
    }

    fn end(&mut self, chunk: &Chunk) {
        self.digest_proven();
        let context = Context::new(&self.plan.judge, chunk);
        let mut left = std::mem::take(&mut self.left).into_iter().peekable();
        while let Some(own) = left.next() {
            let at = own.at;
            self.judge(&context, own);
            if left.peek().is_some_and(|next| next.at == at + 1) {
                continue;
            }
            if at + 1 == self.judged.len() {
                self.digest_left(at, |_| true);
            }
            self.release(at);
        }
    }
}

impl Judge<'_> {
    /// Digests the product of the item before, if it was proven: what comes may be asked whether it answers with it.
    fn digest_proven(&mut self) {
        if let (Before::Proven, Some(prover), Some((_, digest))) =
            (self.before, &mut self.prover, self.judged.last_mut())
        {
            digest.product.get_or_insert_with(|| prover.product());
        }
    }

    /// Judges what was left at a place. What was worked out about the item before is given back.
    fn judge(&mut self, context: &Context<'_>, Left { at, record, attempt }: Left) {
        let (mut item, mut digest) = judge_in_full(self.plan, context, self.file, record, attempt);
        let before = at.checked_sub(1);
        let may_be_asked = match before.and_then(|before| self.judged.get(before)) {
            Some((_, before)) if before.stated.is_none() => false,
            Some((Passed::Full(before), _)) => may_answer(&before.steps, &item.steps),
            // The item before stands in another batch, or a shard has judged it.
            _ => true,
        };
        if may_be_asked {
            digest.product = of_product(&item.steps);
        }
        if let Some(before) = before {
            if digest.stated.is_some() {
                self.digest_left(before, |before| may_answer(&item.steps, before));
            }
            self.release(before);
        }
        // What was worked out about a sound item is shown only where the plan asks for it; its product may still be asked for.
        if item.findings.is_empty() && !self.plan.show_sound {
            digest.product = digest.product.or_else(|| of_product(&item.steps));
            item.steps = Vec::new();
        }
        if let Some(place) = self.judged.get_mut(at) {
            *place = (Passed::Full(Box::new(item)), digest);
        }
    }

    /// Gives back what was worked out about an item, as soon as no neighbour may ask for its product any more and where
    /// no report shows it.
    fn release(&mut self, at: usize) {
        if let (false, Some((Passed::Full(item), _))) =
            (self.keeps_steps || self.plan.show_sound, self.judged.get_mut(at))
        {
            item.steps = Vec::new();
        }
    }

    /// Digests the product of an item that was left, if its neighbour's answer `may_be` that.
    fn digest_left(&mut self, at: usize, may_be: impl Fn(&[StepAudit]) -> bool) {
        if let Some((Passed::Full(item), digest)) = self.judged.get_mut(at)
            && digest.product.is_none()
            && may_be(&item.steps)
        {
            digest.product = of_product(&item.steps);
        }
    }
}

/// An item as a shard has judged it.
fn restored(file: &Arc<str>, record: Record, Kept(digest, stereo_not_judged, findings): Kept) -> Judged {
    let (line, is_item) = (record.line, record.is_item());
    let (id, prompt, tags) = match record.content {
        Ok(item) => (item.id, item.prompt, item.tags),
        Err(bad) => (bad.id.unwrap_or_else(|| crate::bank::place_name(file, line)), String::new(), String::new()),
    };
    let item = Audited {
        file: Arc::clone(file),
        line,
        id,
        is_item,
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
    let is_item = record.is_item();
    let mut findings = judgement.findings;
    if let (true, Ok(item)) = (plan.find_places, &record.content) {
        find_places(context.chunk, item, &mut findings);
    }
    let (prompt, tags) = record.content.map(|item| (item.prompt, item.tags)).unwrap_or_default();
    let item = Audited {
        file: Arc::clone(file),
        line: judgement.line,
        id: judgement.id,
        is_item,
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
