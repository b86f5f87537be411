//! One batch, judged: the quick way where it leads somewhere, else in full.

use super::{Audited, Plan};
use crate::bank::{Batch, Record};
use crate::findings::digest::{Digest, digest, of_product};
use crate::findings::quick::{Plain, Prover};
use crate::findings::{Class, Context, find_places, judge as judge_item};
use std::sync::Arc;

/// Judges the records of a batch in their order.
pub(super) fn judge(plan: &Plan, file: &Arc<str>, batch: Batch) -> Vec<(Audited, Digest)> {
    let file = &batch.file().unwrap_or_else(|| Arc::clone(file));
    let (chunk, records) = batch.records();
    let context = Context::new(&plan.judge, &chunk);
    let mut prover = (!plan.show_sound).then(|| Prover::new(&plan.judge));
    let mut judged: Vec<(Audited, Digest)> = Vec::with_capacity(records.len());
    let count = records.len();
    // Whether the item before is mismatched, so that its answer may be the next one's product. Of the item before the first
    // that is not known, and so of the one behind the last.
    let mut before = true;
    let mut before_is_proven = false;
    for (at, record) in records.into_iter().enumerate() {
        let proven = match (&mut prover, &record.content) {
            (Some(prover), Ok(item)) => Plain::of(item).and_then(|plain| prover.prove(&plain)),
            _ => None,
        };
        if let (Some(digest), Some(prover)) = (proven, &mut prover) {
            let product = (before || at + 1 == count).then(|| prover.product());
            judged.push((Audited::sound(file, record), Digest { product, ..digest }));
            (before, before_is_proven) = (false, true);
            continue;
        }
        let (item, mut digest) = judge_in_full(plan, &context, file, record);
        let is_mismatched = digest.stated.is_some();
        if before || at + 1 == count {
            digest.product = of_product(&item.steps);
        }
        if let (true, Some((item, digest))) = (is_mismatched, judged.last_mut()) {
            let proven = || prover.as_mut().filter(|_| before_is_proven).map(Prover::product);
            digest.product = digest.product.or_else(|| of_product(&item.steps)).or_else(proven);
        }
        (before, before_is_proven) = (is_mismatched, false);
        judged.push((item, digest));
    }
    for (item, _) in &mut judged {
        // What was worked out about a sound item is shown only where the plan asks for it.
        if item.findings.is_empty() && !plan.show_sound {
            item.steps = Vec::new();
        }
    }
    judged
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

impl Audited {
    /// An item with nothing wrong.
    fn sound(file: &Arc<str>, record: Record) -> Self {
        let (id, prompt, tags) = record.content.map(|item| (item.id, item.prompt, item.tags)).unwrap_or_default();
        Self {
            file: Arc::clone(file),
            line: record.line,
            id,
            prompt,
            tags,
            class: Class::Sound,
            findings: Vec::new(),
            steps: Vec::new(),
            stereo_not_judged: 0,
            normalised: Vec::new(),
            card: String::new(),
        }
    }
}
