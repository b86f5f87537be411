//! Reads a bank under what is proposed for it: the first thousand items, judged.

use super::Bank;
use crate::bank::{Again, open_again};
use crate::findings::{Class, Context, judge};
use crate::profile::{Profile, read as read_profile};
use std::collections::BTreeMap;
use std::io::Read;
use std::sync::Arc;

/// What came of it.
#[derive(Debug, Clone, Default)]
pub(super) struct Checked {
    pub(super) items: u64,
    pub(super) sound: u64,
    pub(super) faulty: u64,
    pub(super) undecided: u64,
    pub(super) unreadable: u64,
    /// The names of findings that make items unreadable.
    pub(super) why: BTreeMap<&'static str, u64>,
    /// Files that cannot be read under the proposal, and why.
    pub(super) refused: Vec<String>,
}

/// Items of each file that are judged.
const ITEMS: u64 = 1_000;

/// Reads the banks.
pub(super) fn read(text: &str, banks: &[Bank]) -> Checked {
    let mut checked = Checked::default();
    match read_profile(text) {
        Ok(profile) => banks.iter().for_each(|bank| checked.bank(&profile, bank)),
        Err(faults) => checked.refused.extend(faults.into_iter().map(|own| own.message)),
    }
    checked
}

impl Checked {
    fn bank(&mut self, profile: &Profile, bank: &Bank) {
        if let Err(why) = self.items_of(profile, bank) {
            self.refused.push(format!("{} {why}", bank.name));
        }
    }

    fn items_of(&mut self, profile: &Profile, bank: &Bank) -> Result<(), String> {
        let settings = Arc::new(profile.bank());
        let judging = profile.judge();
        let reader: Box<dyn Read + Send> = Box::new((bank.open)().map_err(|error| error.to_string())?);
        let open = Arc::clone(&bank.open);
        let again: Again = Box::new(move || open());
        let source = open_again(&bank.name, bank.format, reader, Some(again), &settings);
        let mut source = source.map_err(|error| error.to_string())?;
        let mut left = ITEMS;
        while let Some(batch) = source.next_batch().map_err(|error| error.to_string())? {
            let (chunk, records) = batch.records();
            let context = Context::new(&judging, &chunk);
            for record in records {
                if left == 0 {
                    return Ok(());
                }
                left -= 1;
                self.add(&judge(&context, &record, &bank.name));
            }
        }
        Ok(())
    }

    fn add(&mut self, judgement: &crate::findings::Judgement) {
        self.items += 1;
        match judgement.class {
            Class::Sound => self.sound += 1,
            Class::Faulty => self.faulty += 1,
            Class::Undecided => self.undecided += 1,
            Class::Unreadable => {
                self.unreadable += 1;
                let own = judgement.findings.iter().find(|finding| finding.name.makes_unreadable());
                *self.why.entry(own.map_or("", |finding| finding.name.entry().name)).or_default() += 1;
            }
        }
    }
}
