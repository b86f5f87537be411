//! One item at a time, without a bank round it.

use super::{Error, Options, plan};
use crate::audit::Plan;
use crate::bank::given::{Giver, Rows};
use crate::bank::open_given;
use crate::cli::settings::Applied;
use crate::findings::digest::digest;
use crate::findings::{Class, Context, Finding, StepAudit, classify, judge};
use std::io;

/// Judges items one by one, where a program has them in its hands.
///
/// ```
/// let judge = keyassay::Judge::new(&keyassay::Options::default())?;
/// let verdict = judge.object(r#"{"start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "[CH2:1]=[CH:2][O-:3]"}"#)?;
/// assert!(verdict.findings.is_empty());
/// assert_eq!(verdict.class, keyassay::Class::Sound);
/// # Ok::<(), keyassay::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Judge {
    plan: Plan,
}

/// How one item comes out.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Verdict {
    /// The item's id; `row 1` where it has none.
    pub id: String,
    /// Its row, counted from 1.
    pub row: u32,
    /// How it comes out.
    pub class: Class,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was worked out, step by step.
    pub steps: Vec<StepAudit>,
    /// The fingerprint of what is asked: the same for items with the same start and arrows, up to labels. None where nothing is asked.
    pub question: Option<u64>,
    /// The fingerprint of what is answered; 0 where that is the product of the arrows.
    pub answer: u64,
}

impl Judge {
    /// Judges under these options.
    ///
    /// # Errors
    /// The profile cannot be read.
    pub fn new(options: &Options) -> Result<Self, Error> {
        let mut applied = Applied::load(options.profile.clone()).map_err(|error| Error::job(&error))?;
        if let Some(octet) = options.octet {
            applied.profile.octet = octet;
        }
        Ok(Self { plan: plan(options, &applied) })
    }

    /// Judges one item, given as a JSON object.
    ///
    /// # Errors
    /// It holds no item.
    pub fn object(&self, object: &str) -> Result<Verdict, Error> {
        let verdicts = self.rows(Box::new(Once(object.to_owned())))?;
        verdicts.into_iter().next().ok_or_else(|| Error::Job("there is no item".to_owned()))
    }

    /// Judges the rows of a table. Nothing is found that only the whole bank shows.
    ///
    /// # Errors
    /// The rows cannot be had.
    pub fn rows(&self, giver: Box<dyn Giver>) -> Result<Vec<Verdict>, Error> {
        let mut source = open_given(giver, &self.plan.bank);
        let mut verdicts = Vec::new();
        while let Some(batch) = source.next_batch().map_err(|error| Error::Job(error.to_string()))? {
            let (chunk, records) = batch.records();
            let context = Context::new(&self.plan.judge, &chunk);
            for record in records {
                let mut own = judge(&context, &record, "");
                let fingerprint =
                    record.content.as_ref().map(|item| digest(item, &own.steps, None)).unwrap_or_default();
                self.plan.weigh(&mut own.findings);
                verdicts.push(Verdict {
                    id: own.id,
                    row: own.line,
                    class: classify(&own.findings),
                    findings: own.findings,
                    steps: own.steps,
                    question: fingerprint.question,
                    answer: fingerprint.answer,
                });
            }
        }
        Ok(verdicts)
    }
}

/// Gives one row.
struct Once(String);

impl Giver for Once {
    fn give(&mut self, rows: &mut Rows) -> io::Result<bool> {
        rows.nested(&self.0);
        Ok(false)
    }
}
