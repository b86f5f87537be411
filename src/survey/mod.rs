//! What a bank asks: counts of its items, and families of those that ask for the same at their reaction centre.
//!
//! Nothing is judged here. A step counts where its start can be read and its arrows can be pushed; what does not count is counted
//! as that. Memory does not grow with the number of items, but with that of different questions, up to a limit.

mod centre;
mod facts;
mod families;
mod never;
mod page;
mod shown;
mod tables;

pub use centre::{Centre, centre};
pub use facts::{Facts, facts};
pub use families::{Families, Family};
pub use never::{Never, never};
pub use page::write_page;
pub use tables::write_tables;

use crate::audit::{Input, Unswept, sweep};
use crate::bank::{Batch, Record, Settings as BankSettings};
use crate::findings::{Context, Settings};
use rustc_hash::FxHashMap;
use std::io;
use std::sync::Arc;

/// What is counted, by name and in the order in which it is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Section {
    /// Items by their task.
    Task,
    /// Items by how their answer is given.
    Form,
    /// Items by their steps.
    Steps,
    /// Steps by their arrows.
    Arrows,
    /// Items by the species of their start.
    Species,
    /// Items by the atoms of their start, hydrogens left out.
    Atoms,
    /// Arrows by tail and head.
    Move,
    /// Steps by their arrows' tails and heads.
    Pattern,
    /// Items by the net charge of their start.
    NetCharge,
    /// Items whose start has such a charged atom.
    ChargedAtom,
    /// Items whose start has an element.
    Element,
    /// Items whose arrows touch an element.
    Touched,
    /// Items with other marks: radicals, half-headed arrows, stereo, rings.
    Mark,
}

impl Section {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::Task,
        Self::Form,
        Self::Steps,
        Self::Arrows,
        Self::Species,
        Self::Atoms,
        Self::Move,
        Self::Pattern,
        Self::NetCharge,
        Self::ChargedAtom,
        Self::Element,
        Self::Touched,
        Self::Mark,
    ];

    /// The name in `survey.csv` and `survey.json`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Task => "task",
            Self::Form => "form",
            Self::Steps => "steps",
            Self::Arrows => "arrows",
            Self::Species => "species",
            Self::Atoms => "atoms",
            Self::Move => "move",
            Self::Pattern => "pattern",
            Self::NetCharge => "net-charge",
            Self::ChargedAtom => "charged-atom",
            Self::Element => "element",
            Self::Touched => "touched-element",
            Self::Mark => "mark",
        }
    }

    /// What is counted.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Arrows | Self::Pattern => "steps",
            Self::Move => "arrows",
            _ => "items",
        }
    }
}

/// What stands in a section.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Value {
    /// A number.
    Number(i64),
    /// A net charge.
    Charge(i64),
    /// A word.
    Word(&'static str),
    /// An element and the sign of its charge, 0 for any.
    Element(u8, i8),
    /// The moves of one step, each a tail and a head, in order.
    Moves(Box<[Move]>),
}

/// One arrow by the kind of its tail and its head.
pub type Move = (Tail, Head);

/// Where electrons come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Tail {
    /// A lone pair.
    LonePair,
    /// A pair of a double or triple bond beyond the first.
    PiBond,
    /// The pair of a single bond, which breaks.
    SigmaBond,
    /// One electron of an atom.
    OneOfAtom,
    /// One electron of a pi bond.
    OneOfPi,
    /// One electron of a sigma bond.
    OneOfSigma,
}

impl Tail {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::LonePair, Self::PiBond, Self::SigmaBond, Self::OneOfAtom, Self::OneOfPi, Self::OneOfSigma];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LonePair => "lone pair",
            Self::PiBond => "pi bond",
            Self::SigmaBond => "sigma bond",
            Self::OneOfAtom => "one electron of an atom",
            Self::OneOfPi => "one electron of a pi bond",
            Self::OneOfSigma => "one electron of a sigma bond",
        }
    }
}

/// Where electrons go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Head {
    /// Between two atoms that are not bonded.
    NewSigma,
    /// Between two atoms that are.
    Pi,
    /// Onto an atom.
    Atom,
}

impl Head {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::NewSigma, Self::Pi, Self::Atom];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::NewSigma => "new sigma bond",
            Self::Pi => "pi bond",
            Self::Atom => "atom",
        }
    }
}

/// Different values that are told apart in one section; what comes later is counted as others.
pub const VALUES: usize = 20_000;

/// Counts by section and value.
#[derive(Debug, Clone, Default)]
pub struct Counts {
    told: FxHashMap<(Section, Value), u64>,
    /// What was not told apart, by section.
    others: FxHashMap<Section, u64>,
    /// Different patterns so far: the one section that a bank can make as long as it likes.
    patterns: usize,
}

impl Counts {
    fn add(&mut self, section: Section, value: Value, count: u64) {
        if let Some(own) = self.told.get_mut(&(section, value.clone())) {
            *own += count;
            return;
        }
        if section == Section::Pattern {
            if self.patterns >= VALUES {
                *self.others.entry(section).or_default() += count;
                return;
            }
            self.patterns += 1;
        }
        self.told.insert((section, value), count);
    }

    /// How often a value occurs.
    #[must_use]
    pub fn of(&self, section: Section, value: &Value) -> u64 {
        self.told.get(&(section, value.clone())).copied().unwrap_or_default()
    }

    /// The values of a section with their counts: numbers in their order, else the frequent ones first.
    #[must_use]
    pub fn section(&self, section: Section) -> Vec<(&Value, u64)> {
        let mut list: Vec<_> = self
            .told
            .iter()
            .filter(|((own, _), _)| *own == section)
            .map(|((_, value), count)| (value, *count))
            .collect();
        list.sort_by(|(a, many), (b, few)| match (a, b) {
            (Value::Number(a), Value::Number(b)) | (Value::Charge(a), Value::Charge(b)) => a.cmp(b),
            _ => few.cmp(many).then_with(|| a.cmp(b)),
        });
        list
    }

    /// What a section does not tell apart.
    #[must_use]
    pub fn others(&self, section: Section) -> u64 {
        self.others.get(&section).copied().unwrap_or_default()
    }
}

/// What there is to say of a bank.
#[derive(Debug, Default)]
pub struct Survey {
    /// Items read.
    pub items: u64,
    /// Steps that count.
    pub steps: u64,
    /// Arrows that count.
    pub arrows: u64,
    /// Items of which nothing could be counted: a start that cannot be read, say.
    pub unread: u64,
    /// Items of which a step could not be counted: arrows that cannot be pushed.
    pub unpushed: u64,
    /// Counts.
    pub counts: Counts,
    /// Items by what they ask for at their reaction centre.
    pub families: Families,
    /// What could not be read at all.
    pub unswept: Unswept,
}

impl Survey {
    /// Takes the facts of one item.
    fn take(&mut self, file: &Arc<str>, facts: Facts) {
        self.items += 1;
        self.unread += u64::from(facts.is_unread);
        self.unpushed += u64::from(facts.is_unpushed);
        self.steps += u64::from(facts.steps);
        self.arrows += u64::from(facts.arrows);
        for (section, value) in facts.counted {
            self.counts.add(section, value, 1);
        }
        for step in facts.centres {
            self.families.take(file, facts.line, &facts.id, step);
        }
    }
}

/// Surveys inputs, in order. `progress` is told the number of items.
///
/// # Errors
/// There is none of its own.
pub fn survey(
    bank: &Arc<BankSettings>,
    settings: &Settings,
    inputs: &[Input],
    mut progress: impl FnMut(u64) + Send,
) -> io::Result<Survey> {
    let mut survey = Survey::default();
    let files: Vec<Arc<str>> = inputs.iter().map(|input| Arc::from(input.name.as_str())).collect();
    let work = |input: usize, _: usize, batch: Batch| {
        let file = batch.file().or_else(|| files.get(input).cloned()).unwrap_or_default();
        let (chunk, records) = batch.records();
        let context = Context { product_only: true, ..Context::new(settings, &chunk) };
        let facts: Vec<Facts> = records.into_iter().map(|record: Record| facts(&context, record, &file)).collect();
        (file, facts)
    };
    let tell = |_, (file, all): (Arc<str>, Vec<Facts>)| {
        for own in all {
            survey.take(&file, own);
        }
        progress(survey.items);
        Ok(())
    };
    let unswept = sweep(bank, inputs, work, tell)?;
    survey.unswept = unswept;
    Ok(survey)
}
