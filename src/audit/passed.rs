//! Judged items on their way through the bank-wide findings to the reporters: nearly all of them sound, and small.

use super::Audited;
use crate::bank::{Arrows, Chunk, Drawing, Field, Item, Plain, Record, Step, Task, place_name};
use crate::findings::bankwide::Passing;
use crate::findings::{Class, Context, Finding, Settings, StepAudit, classify, judge};
use smallvec::SmallVec;
use std::sync::Arc;

/// A judged item.
pub(super) enum Passed {
    /// Proven sound, and nothing else to be said of it yet.
    Sound(Sound),
    /// Proven sound by itself, with what is to be said of it beside others.
    Told(Sound, Vec<Finding>),
    /// Any other.
    Full(Box<Audited>),
}

/// What may still be asked of a sound item.
#[derive(Default)]
pub(super) struct Sound {
    line: u32,
    id: Option<SmallVec<[u8; 24]>>,
    texts: Option<Box<Texts>>,
}

/// Texts of a sound item, in one piece.
struct Texts {
    task: Task,
    /// Prompt, tags, start, arrows, answer; the last three only where cards are drawn.
    all: Box<str>,
    /// Where each but the last ends.
    ends: [usize; 4],
}

impl Texts {
    /// None where there is nothing to keep.
    fn new(plain: &Plain<'_>, keeps_steps: bool) -> Option<Box<Self>> {
        let asked = if keeps_steps { [plain.start, plain.arrows, plain.answer] } else { [""; 3] };
        let all = [plain.prompt, plain.tags, asked[0], asked[1], asked[2]];
        if all.iter().all(|text| text.is_empty()) {
            return None;
        }
        let mut ends = [0; 4];
        let mut end = 0;
        for (own, text) in ends.iter_mut().zip(all) {
            end += text.len();
            *own = end;
        }
        Some(Box::new(Self { task: plain.task, all: all.concat().into(), ends }))
    }

    fn part(&self, at: usize) -> &str {
        let from = at.checked_sub(1).map_or(0, |before| self.ends[before]);
        let to = self.ends.get(at).copied().unwrap_or(self.all.len());
        self.all.get(from..to).unwrap_or_default()
    }

    /// What a card shows of the item, judged once more.
    fn steps(&self, settings: &Settings) -> Vec<StepAudit> {
        let mut chunk = Chunk::default();
        (chunk.text, chunk.first_line) = (self.all.to_string(), 1);
        let field = |at: usize| Field {
            text: self.part(at).to_owned(),
            start: u32::try_from(self.ends[at - 1]).unwrap_or(u32::MAX),
            ..Field::default()
        };
        if self.part(START).is_empty() {
            return Vec::new();
        }
        let step = Step {
            start: Some(Drawing::Text(field(START))),
            arrows: Some(Arrows::Text(field(START + 1))),
            answer: Some(Drawing::Text(field(START + 2))),
            ..Step::default()
        };
        let item = Item { task: self.task, default_task: self.task, steps: vec![step], ..Item::default() };
        judge(&Context::new(settings, &chunk), &Record { line: 1, content: Ok(item) }, "").steps
    }
}

/// The place of the start among the texts.
const START: usize = 2;

impl Sound {
    /// What is kept of a plain item; `keeps_steps`: what a card shows of it may be asked for.
    pub(super) fn new(plain: &Plain<'_>, line: u32, keeps_steps: bool) -> Self {
        Self { line, id: plain.id.map(|id| SmallVec::from_slice(id.as_bytes())), texts: Texts::new(plain, keeps_steps) }
    }

    fn id(&self, file: &str) -> String {
        match &self.id {
            Some(id) => String::from_utf8_lossy(id).into_owned(),
            None => place_name(file, self.line),
        }
    }

    /// The item as reporters see it.
    pub(super) fn audited(&self, file: &Arc<str>) -> Audited {
        let text = |at: usize| self.texts.as_deref().map(|own| own.part(at).to_owned()).unwrap_or_default();
        let (prompt, tags) = (text(0), text(1));
        Audited {
            file: Arc::clone(file),
            line: self.line,
            id: self.id(file),
            is_item: true,
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

    /// The same with what is said of it beside others, and where cards are drawn, what they show.
    pub(super) fn told(&self, findings: Vec<Finding>, file: &Arc<str>, settings: &Settings) -> Audited {
        let steps = self.texts.as_deref().map(|own| own.steps(settings)).unwrap_or_default();
        Audited { class: classify(&findings), findings, steps, ..self.audited(file) }
    }
}

impl Passed {
    /// What a partial audit keeps of the item; `None` where it is to be judged again.
    pub(super) fn kept(self) -> Option<(u32, Vec<Finding>)> {
        match self {
            Self::Sound(_) => Some((0, Vec::new())),
            Self::Told(_, findings) => Some((0, findings)),
            Self::Full(item) if item.normalised.is_empty() => Some((item.stereo_not_judged, item.findings)),
            Self::Full(_) => None,
        }
    }
}

impl Passing for Passed {
    fn line(&self) -> u32 {
        match self {
            Self::Sound(sound) | Self::Told(sound, _) => sound.line,
            Self::Full(item) => item.line,
        }
    }

    fn file(&self) -> Option<&Arc<str>> {
        match self {
            Self::Sound(_) | Self::Told(..) => None,
            Self::Full(item) => Some(&item.file),
        }
    }

    fn id(&self, file: &Arc<str>) -> String {
        match self {
            Self::Sound(sound) | Self::Told(sound, _) => sound.id(file),
            Self::Full(item) => item.id.clone(),
        }
    }

    fn own_id(&self) -> &[u8] {
        match self {
            Self::Sound(sound) | Self::Told(sound, _) => sound.id.as_deref().unwrap_or_default(),
            Self::Full(item) => item.id.as_bytes(),
        }
    }

    fn findings(&mut self) -> &mut [Finding] {
        match self {
            Self::Sound(_) => &mut [],
            Self::Told(_, findings) => findings,
            Self::Full(item) => &mut item.findings,
        }
    }

    fn add(&mut self, finding: Finding) {
        match self {
            Self::Sound(sound) => *self = Self::Told(std::mem::take(sound), vec![finding]),
            Self::Told(_, findings) => findings.push(finding),
            Self::Full(item) => {
                item.findings.push(finding);
                item.class = classify(&item.findings);
            }
        }
    }
}
