//! Questions that are asked more than once with different answers: which answers there are, and which are proven right.
//!
//! Items come by once, and what an item is told may depend on one that comes later: a wrong answer is told where the right one
//! stands, and two readings of one open head are told at both. So what came too late is kept as [`Hindsight`], for the few
//! questions concerned, and the bank is gone through once more with it.

use super::place::Place;
use crate::findings::digest::Digest;
use crate::findings::{Finding, Name, Severity};
use rustc_hash::FxHashMap;

/// Answers of one question that are told apart; what differs from the first of them differs anyway.
const MOST_ANSWERS: usize = 16;

/// What an item says in answer to its question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stated {
    /// Nothing: the answer is missing.
    Nothing,
    /// What its own arrows lead to. The number is 0 but where arrows can be read in more than one way.
    Proven(u32),
    /// Something else.
    Other(u32),
}

impl Stated {
    /// Of an item.
    pub(super) fn of(digest: &Digest) -> Self {
        match (digest.answer, digest.is_proven) {
            (0, false) => Self::Nothing,
            (answer, true) => Self::Proven(short(answer)),
            (answer, false) => Self::Other(short(answer)),
        }
    }
}

/// Half of the bits of an answer's digest.
pub(super) fn short(answer: u64) -> u32 {
    (answer ^ (answer >> 32)) as u32
}

/// The first item with an answer.
#[derive(Debug, Clone)]
struct Answer {
    stated: Stated,
    at: u32,
    place: Place,
}

/// The answers of one question that has more than one.
#[derive(Debug, Clone, Default)]
struct Question {
    answers: Vec<Answer>,
    /// Whether an item has passed that would have been told something else.
    is_late: bool,
}

impl Question {
    fn proven(&self) -> impl Iterator<Item = &Answer> {
        self.answers.iter().filter(|own| matches!(own.stated, Stated::Proven(_)))
    }
}

/// What the whole bank knows of questions and their right answers that it did not know when their first items came by.
#[derive(Debug, Clone, Default)]
pub struct Hindsight {
    /// By the position of the first item that asks.
    questions: FxHashMap<u32, Question>,
}

impl Hindsight {
    /// Whether nothing came too late.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.questions.is_empty()
    }

    /// How many questions are concerned.
    #[must_use]
    pub fn questions(&self) -> usize {
        self.questions.len()
    }
}

/// Watches answers go by.
#[derive(Debug, Default)]
pub(super) struct Conflicts {
    questions: FxHashMap<u32, Question>,
}

impl Conflicts {
    /// With what is known from the first time.
    pub(super) fn knowing(hindsight: &Hindsight) -> Self {
        let known = |question: &Question| Question { answers: question.proven().cloned().collect(), is_late: false };
        Self { questions: hindsight.questions.iter().map(|(first, own)| (*first, known(own))).collect() }
    }

    /// What came too late.
    pub(super) fn hindsight(&self) -> Hindsight {
        let late = self.questions.iter().filter(|(_, own)| own.is_late);
        Hindsight { questions: late.map(|(first, own)| (*first, own.clone())).collect() }
    }

    /// Takes an item. `first` is the first one that asks the same, with its answer, where there is one before this.
    pub(super) fn take(
        &mut self,
        at: u32,
        stated: Stated,
        place: &dyn Fn(u32) -> Place,
        first: Option<(u32, Stated)>,
    ) -> Option<Finding> {
        let (origin, is_first) = first.map_or((at, true), |(first, _)| (first, false));
        if stated == Stated::Nothing {
            return first.map(|(first, _)| repeated(&place(first)));
        }
        if let Some((first, own)) = first
            && !self.questions.contains_key(&first)
        {
            if own == stated {
                return Some(repeated(&place(first)));
            }
            let answer = Answer { stated: own, at: first, place: place(first) };
            let answers = if own == Stated::Nothing { Vec::new() } else { vec![answer] };
            self.questions.insert(first, Question { answers, is_late: false });
        }
        if self.questions.is_empty() {
            return None;
        }
        let question = self.questions.get_mut(&origin)?;
        let before = question.answers.iter().find(|own| own.stated == stated).map(|own| own.at);
        let told = tell(question, stated, is_first);
        if before.is_none() && question.answers.len() < MOST_ANSWERS {
            // What is known from the first time holds every answer that is proven right.
            question.is_late |= matches!(stated, Stated::Proven(_)) && !question.answers.is_empty();
            question.answers.push(Answer { stated, at, place: place(at) });
        }
        let without_answer = first.filter(|(_, own)| *own == Stated::Nothing).map(|(first, _)| first);
        told.or_else(|| before.filter(|before| *before < at).or(without_answer).map(|other| repeated(&place(other))))
    }
}

/// What an item is told that answers a question so, after the answers that are known.
fn tell(question: &Question, stated: Stated, is_first: bool) -> Option<Finding> {
    let other = question.proven().find(|own| own.stated != stated);
    let (severity, place, what) = match (stated, other) {
        (Stated::Proven(_), Some(other)) => {
            let what = "each is what its own arrows lead to, so that the arrows can be read in both ways: draw them so that only \
                        one is left";
            (Severity::Warning, &other.place, what)
        }
        (Stated::Other(_), Some(other)) => (Severity::Note, &other.place, "that one is what the arrows lead to"),
        (Stated::Other(_), None) if !is_first => {
            let other = question.answers.iter().find(|own| own.stated != stated)?;
            (Severity::Error, &other.place, "neither is proven right by its arrows")
        }
        _ => return None,
    };
    let message = format!("the item asks the same as the one at {place} and states another answer: {what}");
    let other = Some(Box::new(place.other(severity == Severity::Note)));
    Some(Finding { severity, other, ..Finding::new(Name::ConflictingAnswers, message) })
}

fn repeated(place: &Place) -> Finding {
    let message = format!("the item asks the same as the one at {place}: same start and arrows, up to labels");
    Finding { other: Some(Box::new(place.other(false))), ..Finding::new(Name::RepeatedQuestion, message) }
}
