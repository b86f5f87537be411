//! An item as one of a QTI package: its question is its companion, its options are choices.

use super::super::item::{Drawing, Item};
use super::super::key::keyed;
use super::{document, plain};
use crate::cml;
use crate::limits::Limits;
use crate::qti::write::{Companion, Written};
use rustc_hash::{FxHashMap, FxHashSet};

/// Gives the items of a package their names.
#[derive(Debug, Default)]
pub(super) struct Names {
    used: FxHashSet<String>,
    /// How often a name was wanted.
    repeats: FxHashMap<String, u64>,
    count: u64,
}

const CML: &str = "chemical/x-cml";
const SMILES: &str = "chemical/x-daylight-smiles";
/// Characters of a label that the schema allows.
const LABEL: usize = 256;

impl Names {
    /// The item as it is written, and what of it the package cannot carry.
    ///
    /// # Errors
    /// A drawing or the arrows of the item cannot be read.
    pub(super) fn written(&mut self, item: &Item, limits: &Limits) -> Result<(Written, Vec<String>), String> {
        self.count += 1;
        let mut sequence = document::question(item, limits)?;
        for step in &mut sequence.steps {
            (step.id, step.title) = (None, None);
        }
        (sequence.id, sequence.title) = (None, None);
        let mut choices = Vec::with_capacity(item.options.len());
        for option in &item.options {
            choices.push(choice(option, limits)?);
        }
        let all_blank = !choices.is_empty() && choices.iter().all(Option::is_none);
        if all_blank {
            choices.clear();
        }
        let key = item.key.as_ref().and_then(|key| keyed(&key.text, &item.options).ok()).unwrap_or_default();
        let is_said = |name: &str| name == "options" || (name == "key" && !key.is_empty()) || name == "prompt";
        sequence.fields.retain(|field| !is_said(&field.name));
        if !item.prompt.is_empty() {
            let value = item.prompt.clone();
            sequence.fields.push(cml::ItemField {
                name: "prompt".to_owned(),
                value,
                span: crate::source::Span::default(),
            });
        }
        let (text, lost) = cml_document(&sequence).map_err(|error| error.to_string())?;
        let mut lost: Vec<String> = lost.iter().map(ToString::to_string).collect();
        if all_blank {
            lost.push("its options, which are all blank".to_owned());
        }
        let (identifier, label) = self.name(item, &mut lost);
        let question = Some(Companion { kind: CML, ending: "cml", text });
        Ok((Written { identifier, label, prompt: item.prompt.clone(), question, choices, key }, lost))
    }

    /// An identifier that no other item has, and the item's id as a label where that is another text.
    fn name(&mut self, item: &Item, lost: &mut Vec<String>) -> (String, Option<String>) {
        let wanted = if item.has_own_id { as_identifier(&item.id) } else { format!("item-{}", self.count) };
        let mut identifier = wanted.clone();
        while !self.used.insert(identifier.to_lowercase()) {
            let number = self.repeats.entry(wanted.to_lowercase()).or_insert(1);
            *number += 1;
            identifier = format!("{wanted}-{number}");
        }
        if !item.has_own_id {
            lost.push(format!("that it has no id: it is {identifier} now"));
            return (identifier, None);
        }
        if item.id == identifier {
            return (identifier, None);
        }
        if item.id.chars().count() > LABEL || item.id.trim() != item.id || item.id.contains(char::is_control) {
            lost.push(format!("its id, which is {identifier} now"));
            return (identifier, None);
        }
        (identifier, Some(item.id.clone()))
    }
}

/// Longest stem of a file's name; longer ones are more than some systems unpack.
const STEM: usize = 60;

/// A text as an identifier: letters, digits, `_` and `-`, beginning with a letter.
fn as_identifier(id: &str) -> String {
    let fits = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
    let mut out: String = id.chars().map(|c| if fits(c) { c } else { '_' }).take(STEM).collect();
    if !out.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_') {
        out.insert(0, 'i');
    }
    out
}

fn cml_document(sequence: &cml::Sequence) -> std::io::Result<(String, Vec<cml::Unwritten>)> {
    let mut writer = cml::Writer::new(Vec::new())?;
    let lost = writer.question(sequence)?;
    let bytes = writer.finish()?;
    Ok((String::from_utf8_lossy(&bytes).into_owned(), lost))
}

/// An option as a file; `None` where it is blank.
fn choice(option: &Drawing, limits: &Limits) -> Result<Option<Companion>, String> {
    if let Drawing::Text(field) = option {
        let text = field.text.trim();
        if text.is_empty() {
            return Ok(None);
        }
        if text.starts_with('<') {
            return Ok(Some(Companion { kind: CML, ending: "cml", text: text.to_owned() }));
        }
        // Labels are ids, as in the question.
        let is_labelled = plain::structure(option, limits).is_ok_and(|structure| structure.has_labels());
        if !is_labelled && !text.contains(|c: char| c.is_whitespace() || c == '>') {
            return Ok(Some(Companion { kind: SMILES, ending: "smi", text: format!("{text}\n") }));
        }
    }
    let structure = plain::structure(option, limits)?;
    Ok(Some(Companion { kind: CML, ending: "cml", text: cml::write_molecule(&structure).0 }))
}
