//! Which item of the new bank is which of the old one.

use super::index::{Chosen, Contents};
use super::print::Content;
use super::written::Written;
use std::collections::HashMap;
use std::hash::BuildHasher;
use std::num::NonZeroU32;

/// What became of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Written as before.
    Same,
    /// The same content in another notation, under other labels, in another Kekulé form.
    Rewritten,
    /// The same content under another id.
    Renamed,
    /// A field says something else.
    Changed,
    /// Only the old bank has it.
    Lost,
    /// Only the new bank has it.
    Added,
    /// One side cannot be read, or several partners fit.
    Doubtful,
}

impl Verdict {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::Same, Self::Rewritten, Self::Renamed, Self::Changed, Self::Lost, Self::Added, Self::Doubtful];

    /// The name in reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Rewritten => "rewritten",
            Self::Renamed => "renamed",
            Self::Changed => "changed",
            Self::Lost => "lost",
            Self::Added => "added",
            Self::Doubtful => "doubtful",
        }
    }

    /// Whether somebody should look at it.
    #[must_use]
    pub fn is_of_note(self) -> bool {
        matches!(self, Self::Changed | Self::Lost | Self::Added | Self::Doubtful)
    }
}

/// One row: an item of either bank, or two that belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// Its place in the old bank.
    old: Place,
    /// Its place in the new one.
    new: Place,
    /// What became of it.
    pub verdict: Verdict,
    why: Why,
    /// Whether what the two say is still to be held against each other.
    is_open: bool,
}

/// The place of an item, one more than it is.
type Place = Option<NonZeroU32>;

fn place(at: u32) -> Place {
    NonZeroU32::new(at.saturating_add(1))
}

impl Row {
    fn new(old: Option<u32>, new: Option<u32>, verdict: Verdict, why: Why) -> Self {
        Self { old: old.and_then(place), new: new.and_then(place), verdict, why, is_open: false }
    }

    /// Its place in the old bank.
    #[must_use]
    pub fn old_place(&self) -> Option<u32> {
        self.old.map(|at| at.get() - 1)
    }

    /// Its place in the new one.
    #[must_use]
    pub fn new_place(&self) -> Option<u32> {
        self.new.map(|at| at.get() - 1)
    }

    /// Why it is doubtful; else empty.
    #[must_use]
    pub fn why(&self) -> &'static str {
        match self.why {
            Why::Nothing => "",
            Why::SeveralIds => "several items of one bank carry this id, so that its partner cannot be told",
            Why::SeveralItems => "several items ask and answer the same, so that which is which cannot be told",
            Why::SeveralQuestions => "several items ask the same, so that which is which cannot be told",
            Why::Unreadable => "one side cannot be read in full: audit that bank",
            Why::Indistinct => {
                "start and answer are one drawing but for labels, and only one bank labels the answer: whether it is the same cannot be told"
            }
        }
    }
}

/// Why an item is doubtful.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Why {
    Nothing,
    SeveralIds,
    SeveralItems,
    SeveralQuestions,
    Unreadable,
    Indistinct,
}

/// All items of two banks on their way to rows.
#[derive(Debug)]
pub struct Pairing<'a> {
    old: &'a [Written],
    new: &'a [Written],
    old_is_free: Vec<bool>,
    new_is_free: Vec<bool>,
    rows: Vec<Row>,
}

/// Matches the items of two banks by id; `renamed` maps hashes of old ids to new ones. What is written alike is settled, if both are
/// `judged_alike`.
#[must_use]
pub fn by_id<'a, S: BuildHasher>(
    old: &'a [Written],
    new: &'a [Written],
    renamed: &HashMap<u64, u64, S>,
    judged_alike: bool,
) -> Pairing<'a> {
    let mut pairing =
        Pairing { old, new, old_is_free: vec![true; old.len()], new_is_free: vec![true; new.len()], rows: Vec::new() };
    let own = |id: u64| (id != 0).then_some(id);
    let old_id = |at: u32| own(old[at as usize].id).map(|id| renamed.get(&id).copied().unwrap_or(id));
    let new_id = |at: u32| own(new[at as usize].id);
    pairing.join(old_id, new_id, Why::SeveralIds, |one, other| judged_alike && one.is_as(other) && one.is_sure(other));
    pairing
}

impl Pairing<'_> {
    /// The items of the old and of the new bank of which it must be known what they say.
    #[must_use]
    pub fn chosen(&self) -> [Chosen; 2] {
        let open = |side: fn(&Row) -> Option<u32>, count: usize| {
            let mut open = vec![false; count];
            self.rows.iter().filter(|row| row.is_open).filter_map(side).for_each(|at| open[at as usize] = true);
            open
        };
        let sides = [
            (self.old, open(Row::old_place, self.old.len()), &self.old_is_free, &self.new_is_free),
            (self.new, open(Row::new_place, self.new.len()), &self.new_is_free, &self.old_is_free),
        ];
        sides.map(|(items, open, is_free, others)| {
            // Where the other bank has none left, only items that do not name themselves are looked at.
            let any_left = others.contains(&true);
            let is_chosen = |at: usize| open[at] || (is_free[at] && (any_left || items[at].id == 0));
            Chosen::new(items.len(), |at| is_chosen(at as usize))
        })
    }

    /// The rows of all items: those that the ids left are matched by content, then by question.
    #[must_use]
    pub fn rows(mut self, old: &Contents, new: &Contents) -> Vec<Row> {
        let contents = [old, new];
        self.settle(contents);
        let readable = |own: &Contents, at: u32| own.get(at).filter(|own| own.is_readable());
        let content = |own: &Contents, at: u32| readable(own, at).map(|own| own.content);
        self.join(|at| content(old, at), |at| content(new, at), Why::SeveralItems, |_, _| false);
        self.settle(contents);
        let question = |own: &Contents, at: u32| readable(own, at).map(|own| own.question);
        self.join(|at| question(old, at), |at| question(new, at), Why::SeveralQuestions, |_, _| false);
        self.settle(contents);
        let Self { old_is_free, new_is_free, mut rows, .. } = self;
        let free = |is_free: Vec<bool>| (0..).zip(is_free).filter(|(_, is_free)| *is_free).map(|(at, _)| at);
        // What neither names itself nor can be read may be any item of the other bank.
        let left = |item: &Written, own: &Contents, at: u32, verdict| {
            let is_lost = item.id != 0 || readable(own, at).is_some();
            if is_lost { (verdict, Why::Nothing) } else { (Verdict::Doubtful, Why::Unreadable) }
        };
        rows.extend(free(old_is_free).map(|at| {
            let (verdict, why) = left(&self.old[at as usize], old, at, Verdict::Lost);
            Row::new(Some(at), None, verdict, why)
        }));
        rows.extend(free(new_is_free).map(|at| {
            let (verdict, why) = left(&self.new[at as usize], new, at, Verdict::Added);
            Row::new(None, Some(at), verdict, why)
        }));
        // In the order of the old bank; what only the new one has comes last, in its order.
        rows.sort_unstable_by_key(|row| (row.old_place().unwrap_or(u32::MAX), row.new));
        rows
    }

    /// Pairs free items that share a key. Where several of one bank do, they are paired in their order, and the rows say so.
    fn join(
        &mut self,
        old_key: impl Fn(u32) -> Option<u64>,
        new_key: impl Fn(u32) -> Option<u64>,
        several: Why,
        is_same: impl Fn(&Written, &Written) -> bool,
    ) {
        let olds = sorted(&self.old_is_free, &old_key);
        let news = sorted(&self.new_is_free, &new_key);
        let mut left = news.as_slice();
        self.rows.reserve(olds.len().min(news.len()));
        for group in olds.chunk_by(|a, b| a.0 == b.0) {
            let Some((key, _)) = group.first() else { continue };
            left = &left[left.partition_point(|own| own.0 < *key)..];
            let partners = &left[..left.iter().take_while(|own| own.0 == *key).count()];
            if partners.is_empty() {
                continue;
            }
            for at in 0..group.len().max(partners.len()) {
                let own = |side: &[(u64, u32)]| side.get(at).map(|own| own.1);
                let (one, other) = (own(group), own(partners));
                let mut row = Row::new(one, other, Verdict::Doubtful, several);
                if let ([(_, one)], [(_, other)]) = (group, partners) {
                    let (one, other) = (&self.old[*one as usize], &self.new[*other as usize]);
                    row.is_open = !is_same(one, other);
                    row.verdict = if one.id == other.id { Verdict::Same } else { Verdict::Renamed };
                    row.why = Why::Nothing;
                }
                if let Some(one) = one {
                    self.old_is_free[one as usize] = false;
                }
                if let Some(other) = other {
                    self.new_is_free[other as usize] = false;
                }
                self.rows.push(row);
            }
        }
    }

    /// Settles what became of items that belong together.
    fn settle(&mut self, [old, new]: [&Contents; 2]) {
        for row in self.rows.iter_mut().filter(|row| row.is_open) {
            row.is_open = false;
            let (Some(one), Some(other)) = (row.old_place(), row.new_place()) else { continue };
            let written = [&self.old[one as usize], &self.new[other as usize]];
            let contents = old.get(one).zip(new.get(other)).unwrap_or_default();
            (row.verdict, row.why) = verdict(written, contents);
        }
    }
}

/// What became of an item that has one partner.
fn verdict([old, new]: [&Written; 2], (one, other): (Content, Content)) -> (Verdict, Why) {
    let has_same_content = { one.content } == { other.content };
    let may_be_same = has_same_content || { one.resolved } == { other.resolved };
    let named = |verdict| if old.id == new.id { verdict } else { Verdict::Renamed };
    let is_labelled_once = (one.places() == 0) != (other.places() == 0);
    let has_same_places = one.places() == other.places() || one.places() == 0 || other.places() == 0;
    if has_same_content && old.is_as(new) {
        (named(Verdict::Same), Why::Nothing)
    } else if !one.is_readable() || !other.is_readable() {
        (Verdict::Doubtful, Why::Unreadable)
    } else if !may_be_same || !has_same_places {
        (Verdict::Changed, Why::Nothing)
    } else if is_labelled_once && one.is_symmetric() {
        (Verdict::Doubtful, Why::Indistinct)
    } else {
        (named(Verdict::Rewritten), Why::Nothing)
    }
}

/// The free items that have a key, in its order and within one key in that of the bank.
fn sorted(is_free: &[bool], key: &impl Fn(u32) -> Option<u64>) -> Vec<(u64, u32)> {
    let free = (0..).zip(is_free).filter(|(_, is_free)| **is_free);
    let mut own: Vec<(u64, u32)> = free.filter_map(|(at, _)| Some((key(at)?, at))).collect();
    own.sort_unstable();
    own
}
