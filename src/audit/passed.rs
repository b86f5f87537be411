//! Judged items on their way through the bank-wide findings to the reporters: nearly all of them sound, and small.

use super::Audited;
use crate::bank::{Plain, place_name};
use crate::findings::bankwide::Passing;
use crate::findings::{Class, Finding, classify};
use smallvec::SmallVec;
use std::sync::Arc;

/// A judged item.
pub(super) enum Passed {
    /// Proven sound, and nothing else to be said of it yet.
    Sound(Sound),
    /// Any other.
    Full(Box<Audited>),
}

/// What may still be asked of a sound item.
#[derive(Default)]
pub(super) struct Sound {
    line: u32,
    id: Option<SmallVec<[u8; 24]>>,
    /// Prompt and tags, where there are any.
    texts: Option<Box<(String, String)>>,
}

impl Sound {
    /// What is kept of a plain item.
    pub(super) fn new(plain: &Plain<'_>, line: u32) -> Self {
        let has_texts = !(plain.prompt.is_empty() && plain.tags.is_empty());
        Self {
            line,
            id: plain.id.map(|id| SmallVec::from_slice(id.as_bytes())),
            texts: has_texts.then(|| Box::new((plain.prompt.to_owned(), plain.tags.to_owned()))),
        }
    }

    fn id(&self, file: &str) -> String {
        match &self.id {
            Some(id) => String::from_utf8_lossy(id).into_owned(),
            None => place_name(file, self.line),
        }
    }

    /// The item as reporters see it.
    pub(super) fn audited(&self, file: &Arc<str>) -> Audited {
        let (prompt, tags) = self.texts.as_deref().cloned().unwrap_or_default();
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
}

impl Passed {
    /// What a partial audit keeps of the item; `None` where it is to be judged again.
    pub(super) fn kept(self) -> Option<(u32, Vec<Finding>)> {
        match self {
            Self::Sound(_) => Some((0, Vec::new())),
            Self::Full(item) if item.normalised.is_empty() => Some((item.stereo_not_judged, item.findings)),
            Self::Full(_) => None,
        }
    }
}

impl Passing for Passed {
    fn line(&self) -> u32 {
        match self {
            Self::Sound(sound) => sound.line,
            Self::Full(item) => item.line,
        }
    }

    fn file(&self) -> Option<&Arc<str>> {
        match self {
            Self::Sound(_) => None,
            Self::Full(item) => Some(&item.file),
        }
    }

    fn id(&self, file: &Arc<str>) -> String {
        match self {
            Self::Sound(sound) => sound.id(file),
            Self::Full(item) => item.id.clone(),
        }
    }

    fn own_id(&self) -> &[u8] {
        match self {
            Self::Sound(sound) => sound.id.as_deref().unwrap_or_default(),
            Self::Full(item) => item.id.as_bytes(),
        }
    }

    fn findings(&mut self) -> &mut [Finding] {
        match self {
            Self::Sound(_) => &mut [],
            Self::Full(item) => &mut item.findings,
        }
    }

    fn add(&mut self, finding: Finding, file: &Arc<str>) {
        if let Self::Sound(sound) = self {
            *self = Self::Full(Box::new(sound.audited(file)));
        }
        if let Self::Full(item) = self {
            item.findings.push(finding);
            item.class = classify(&item.findings);
        }
    }
}
