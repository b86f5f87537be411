//! Which item of the new bank is which of the old one.

use super::print::Print;
use std::collections::HashMap;
use std::hash::BuildHasher;

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
    pub old: Option<u32>,
    /// Its place in the new one.
    pub new: Option<u32>,
    /// What became of it.
    pub verdict: Verdict,
    /// Why it is doubtful; else empty.
    pub why: &'static str,
}

const SEVERAL_IDS: &str = "several items of one bank carry this id, so that its partner cannot be told";
const SEVERAL_ITEMS: &str = "several items ask and answer the same, so that which is which cannot be told";
const SEVERAL_QUESTIONS: &str = "several items ask the same, so that which is which cannot be told";
const UNREADABLE: &str = "one side cannot be read in full: audit that bank";
const INDISTINCT: &str = "start and answer are one drawing but for labels, and only one bank labels the answer: whether it is the same cannot be told";

/// Matches all items of two banks: by id, then by content, then by question. `renamed` maps hashes of old ids to new ones.
#[must_use]
pub fn pair<S: BuildHasher>(old: &[Print], new: &[Print], renamed: &HashMap<u64, u64, S>) -> Vec<Row> {
    let mut pairing =
        Pairing { old, new, old_is_free: vec![true; old.len()], new_is_free: vec![true; new.len()], rows: Vec::new() };
    let id = |own: &Print| (own.id != 0).then_some(own.id);
    let old_id = |own: &Print| (own.id != 0).then(|| renamed.get(&own.id).copied().unwrap_or(own.id));
    pairing.join(old_id, id, SEVERAL_IDS);
    let content = |own: &Print| own.is_readable.then_some(own.content);
    pairing.join(content, content, SEVERAL_ITEMS);
    let question = |own: &Print| own.is_readable.then_some(own.question);
    pairing.join(question, question, SEVERAL_QUESTIONS);
    let Pairing { old_is_free, new_is_free, mut rows, .. } = pairing;
    let free = |is_free: Vec<bool>| (0..).zip(is_free).filter(|(_, is_free)| *is_free).map(|(at, _)| at);
    // What neither names itself nor can be read may be any item of the other bank.
    let left = |own: &Print, verdict| {
        if own.id == 0 && !own.is_readable { (Verdict::Doubtful, UNREADABLE) } else { (verdict, "") }
    };
    let lost = |at: u32| {
        let (verdict, why) = left(&old[at as usize], Verdict::Lost);
        Row { old: Some(at), new: None, verdict, why }
    };
    let added = |at: u32| {
        let (verdict, why) = left(&new[at as usize], Verdict::Added);
        Row { old: None, new: Some(at), verdict, why }
    };
    rows.extend(free(old_is_free).map(lost));
    rows.extend(free(new_is_free).map(added));
    // In the order of the old bank; what only the new one has comes last, in its order.
    rows.sort_unstable_by_key(|row| (row.old.unwrap_or(u32::MAX), row.new));
    rows
}

struct Pairing<'a> {
    old: &'a [Print],
    new: &'a [Print],
    old_is_free: Vec<bool>,
    new_is_free: Vec<bool>,
    rows: Vec<Row>,
}

impl Pairing<'_> {
    /// Pairs free items that share a key. Where several of one bank do, they are paired in their order, and the rows say so.
    fn join(
        &mut self,
        old_key: impl Fn(&Print) -> Option<u64>,
        new_key: impl Fn(&Print) -> Option<u64>,
        several: &'static str,
    ) {
        let olds = sorted(self.old, &self.old_is_free, &old_key);
        let news = sorted(self.new, &self.new_is_free, &new_key);
        let old_key = |at: u32| old_key(&self.old[at as usize]);
        let new_key = |at: u32| new_key(&self.new[at as usize]);
        let mut left = news.as_slice();
        let mut rows = Vec::new();
        for group in olds.chunk_by(|a, b| old_key(*a) == old_key(*b)) {
            let key = group.first().and_then(|at| old_key(*at));
            left = &left[left.partition_point(|at| new_key(*at) < key)..];
            let partners = &left[..left.partition_point(|at| new_key(*at) <= key)];
            match (group, partners) {
                (_, []) => {}
                ([old], [new]) => rows.push(self.row(*old, *new)),
                _ => {
                    let both = group.len().max(partners.len());
                    rows.extend((0..both).map(|at| Row {
                        old: group.get(at).copied(),
                        new: partners.get(at).copied(),
                        verdict: Verdict::Doubtful,
                        why: several,
                    }));
                }
            }
        }
        for row in rows {
            if let Some(old) = row.old {
                self.old_is_free[old as usize] = false;
            }
            if let Some(new) = row.new {
                self.new_is_free[new as usize] = false;
            }
            self.rows.push(row);
        }
    }

    /// Two items that belong together.
    fn row(&self, old: u32, new: u32) -> Row {
        let (one, other) = (&self.old[old as usize], &self.new[new as usize]);
        let has_same_content = one.content == other.content || one.resolved == other.resolved;
        let is_renamed = one.id != other.id;
        let is_labelled_once = (one.places == 0) != (other.places == 0);
        let has_same_places = one.places == other.places || one.places == 0 || other.places == 0;
        let (verdict, why) = if one.content == other.content && one.text == other.text && one.text != 0 {
            (if is_renamed { Verdict::Renamed } else { Verdict::Same }, "")
        } else if !one.is_readable || !other.is_readable {
            (Verdict::Doubtful, UNREADABLE)
        } else if !has_same_content || !has_same_places {
            (Verdict::Changed, "")
        } else if is_labelled_once && one.is_symmetric {
            (Verdict::Doubtful, INDISTINCT)
        } else {
            (if is_renamed { Verdict::Renamed } else { Verdict::Rewritten }, "")
        };
        Row { old: Some(old), new: Some(new), verdict, why }
    }
}

/// The free items that have a key, in its order and within one key in that of the bank.
fn sorted(all: &[Print], is_free: &[bool], key: &impl Fn(&Print) -> Option<u64>) -> Vec<u32> {
    let mut own: Vec<u32> =
        (0..).zip(all).filter(|(at, print)| is_free[*at as usize] && key(print).is_some()).map(|(at, _)| at).collect();
    own.sort_unstable_by_key(|at| (key(&all[*at as usize]), *at));
    own
}
