//! From the text of a profile to what it sets.

use super::{Fault, Profile, Stated, nearest};
use crate::bank::{Accept, Task, fields};
use crate::findings::{Distractors, Name, Severity};
use crate::limits::{self, Limits};
use crate::source::{Encoding, Span};
use crate::structure::OctetRule;
use std::collections::HashMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The keys of a profile.
pub const KEYS: [&str; 17] = [
    "task",
    "header_row",
    "separator",
    "labels",
    "fill_down",
    "octet",
    "smiles",
    "distractors",
    "accept",
    "encoding",
    "known",
    "files",
    "columns",
    "tasks",
    "severity",
    "limits",
    "encodings",
];

/// The fields that columns can be mapped to, beside `option_a`, `option_b`, …
pub const FIELDS: [&str; 15] = [
    "id", "task", "start", "arrows", "answer", "answers", "major", "accept", "step", "steps", "omits", "options",
    "key", "prompt", "tags",
];

/// Reads a profile.
///
/// # Errors
/// Everything in it that cannot stand.
pub fn read(text: &str) -> Result<Profile, Vec<Fault>> {
    // Editors of Windows put a mark before the text.
    let (text, behind_mark) = text.strip_prefix('\u{feff}').map_or((text, 0), |rest| (rest, 3));
    let (document, errors) = DeTable::parse_recoverable(text);
    let mut reader = Reader { text, profile: Profile::default(), faults: Vec::new(), headers: HashMap::new() };
    for error in errors {
        reader.fault(error.span().unwrap_or(0..0), error.message().trim().to_owned(), String::new());
    }
    if reader.faults.is_empty() {
        reader.document(document.get_ref());
    }
    let Reader { mut profile, mut faults, .. } = reader;
    if faults.is_empty() {
        if profile.strict_smiles {
            profile.severities.entry(Name::LooseNotation).or_insert(Severity::Error);
        }
        profile.stated.sort_by_key(|stated| stated.line);
        return Ok(profile);
    }
    for fault in &mut faults {
        fault.span.start += behind_mark;
        fault.span.end += behind_mark;
    }
    faults.sort_by_key(|fault| fault.span);
    Err(faults)
}

struct Reader<'a> {
    text: &'a str,
    profile: Profile,
    faults: Vec<Fault>,
    /// The fields of headers that were met.
    headers: HashMap<String, &'static str>,
}

type Value<'i> = Spanned<DeValue<'i>>;

impl Reader<'_> {
    fn fault(&mut self, span: Range<usize>, message: String, remedy: String) {
        self.faults.push(Fault { message, remedy, span: Span::new(span.start, span.end) });
    }

    /// A name that is none of these: which is meant, or what there is.
    fn unknown<'n>(
        &mut self,
        span: Range<usize>,
        what: &str,
        name: &str,
        names: impl Iterator<Item = &'n str> + Clone,
    ) {
        let remedy = match nearest(name, names.clone()) {
            Some(near) => format!("did you mean '{near}'?"),
            None => format!("expected one of {}", names.collect::<Vec<_>>().join(", ")),
        };
        self.fault(span, format!("there is no {what} '{name}'"), remedy);
    }

    fn stated(&mut self, key: &str, value: String, span: &Range<usize>) {
        let before = self.text.as_bytes().get(..span.start).unwrap_or_default();
        let line = memchr::memchr_iter(b'\n', before).count() as u32 + 1;
        self.profile.stated.push(Stated { key: key.to_owned(), value, line });
    }

    fn document(&mut self, table: &DeTable) {
        for (key, value) in table {
            let name = key.get_ref().as_ref();
            match name {
                "task" | "octet" | "distractors" | "accept" | "smiles" => self.choice(name, value),
                "columns" => self.table(name, value, Self::column),
                "tasks" => self.table(name, value, Self::task_words),
                "severity" => self.table(name, value, Self::severity),
                "limits" => self.table(name, value, Self::limit),
                "encodings" => self.table(name, value, |own, key, value| {
                    if let Some(encoding) = own.encoding(&format!("encodings.\"{}\"", key.get_ref()), value) {
                        own.profile.encodings.push((key.get_ref().to_string(), encoding));
                    }
                }),
                _ => self.setting(name, value, &key.span()),
            }
        }
    }

    /// A key that takes one of a few words.
    fn choice(&mut self, name: &str, value: &Value) {
        let words: &[&str] = match name {
            "task" => &["step", "resonance", "contributors"],
            "accept" => &["drawing", "contributor"],
            "smiles" => &["loose", "strict"],
            _ => &["usual", "strict"],
        };
        self.word(name, value, words, |profile, word| {
            let is_strict = word == "strict";
            match name {
                "task" => profile.task = Task::from_name(word).unwrap_or_default(),
                "accept" => profile.accept = Accept::from_name(word).unwrap_or_default(),
                "octet" => profile.octet = if is_strict { OctetRule::Strict } else { OctetRule::Usual },
                "distractors" => {
                    profile.distractors = if is_strict { Distractors::Strict } else { Distractors::Usual };
                }
                _ => profile.strict_smiles = is_strict,
            }
        });
    }

    /// A key that takes a text, a number or a list.
    fn setting(&mut self, name: &str, value: &Value, at: &Range<usize>) {
        match name {
            "encoding" => self.profile.encoding = self.encoding(name, value).or(self.profile.encoding),
            "known" => {
                if let Some(path) = self.text(name, value) {
                    self.stated(name, format!("\"{path}\""), at);
                    self.profile.known = Some(path);
                }
            }
            "header_row" => {
                let what = "the number of a row, counted from 1, or 0 where there is no header";
                if let Some(row) = self.number(name, value, what, |_| true) {
                    self.stated(name, row.to_string(), at);
                    self.profile.header_row = Some(row);
                }
            }
            "labels" => {
                let what = "1 or 0, the number of the first atom of a start without labels";
                if let Some(first) = self.number(name, value, what, |own| own < 2) {
                    self.stated(name, first.to_string(), at);
                    self.profile.labels_from_zero = first == 0;
                }
            }
            "separator" => self.separator(name, value, at),
            "fill_down" => {
                let names = self.texts(name, value);
                self.stated(name, format!("{names:?}"), at);
                for own in names {
                    match fields::Name::from_text(&own) {
                        Some(field) => self.profile.fill_down.push(field),
                        None => self.unknown(value.span(), "field", &own, FIELDS.into_iter()),
                    }
                }
            }
            "files" => {
                let patterns = self.texts(name, value);
                self.stated(name, format!("{patterns:?}"), at);
                self.profile.files = patterns;
            }
            _ => self.unknown(at.clone(), "key", name, KEYS.into_iter()),
        }
    }

    fn separator(&mut self, name: &str, value: &Value, at: &Range<usize>) {
        let Some(text) = self.text(name, value) else { return };
        match text.as_bytes() {
            [own] if own.is_ascii() && !own.is_ascii_alphanumeric() && !b"\"\r\n ".contains(own) => {
                self.stated(name, format!("{text:?}"), at);
                self.profile.separator = Some(*own);
            }
            _ => {
                let message = "'separator' takes one character: \",\", \";\", \"\\t\" or \"|\"".to_owned();
                self.fault(value.span(), message, String::new());
            }
        }
    }

    fn table(
        &mut self,
        name: &str,
        value: &Value,
        mut entry: impl FnMut(&mut Self, &Spanned<std::borrow::Cow<str>>, &Value),
    ) {
        let DeValue::Table(table) = value.get_ref() else {
            let message = format!("'{name}' is a table");
            return self.fault(value.span(), message, format!("begin it with [{name}] on a line of its own"));
        };
        for (key, value) in table {
            entry(self, key, value);
        }
    }

    fn text(&mut self, name: &str, value: &Value) -> Option<String> {
        if let DeValue::String(text) = value.get_ref() {
            return Some(text.to_string());
        }
        self.fault(value.span(), format!("'{name}' takes a text in quotes"), String::new());
        None
    }

    /// A number that is one of those that the key takes.
    fn number(&mut self, name: &str, value: &Value, what: &str, fits: impl Fn(u32) -> bool) -> Option<u32> {
        let number = match value.get_ref() {
            DeValue::Integer(own) => u32::from_str_radix(own.as_str(), own.radix()).ok(),
            _ => None,
        };
        let number = number.filter(|own| fits(*own));
        if number.is_none() {
            self.fault(value.span(), format!("'{name}' takes {what}"), String::new());
        }
        number
    }

    /// A text, or a list of texts.
    fn texts(&mut self, name: &str, value: &Value) -> Vec<String> {
        match value.get_ref() {
            DeValue::Array(list) => list.iter().filter_map(|own| self.text(name, own)).collect(),
            _ => self.text(name, value).into_iter().collect(),
        }
    }

    /// A text that is one of a few words.
    fn word(&mut self, name: &str, value: &Value, words: &[&str], set: impl FnOnce(&mut Profile, &str)) {
        let Some(text) = self.text(name, value) else { return };
        if words.contains(&text.as_str()) {
            set(&mut self.profile, &text);
            self.stated(name, format!("\"{text}\""), &value.span());
        } else {
            self.unknown(value.span(), name, &text, words.iter().copied());
        }
    }

    fn encoding(&mut self, name: &str, value: &Value) -> Option<Encoding> {
        let text = self.text(name, value)?;
        let encoding = Encoding::from_name(&text);
        match encoding {
            Some(own) => self.stated(name, format!("\"{}\"", own.name()), &value.span()),
            None => self.unknown(value.span(), "encoding", &text, Encoding::NAMES.iter().map(|(own, _)| *own)),
        }
        encoding
    }

    fn column(&mut self, key: &Spanned<std::borrow::Cow<str>>, value: &Value) {
        let name = key.get_ref().to_lowercase();
        let option = matches!(fields::Name::from_text(&name), Some(fields::Name::Option(_)));
        let known = FIELDS.into_iter().find(|own| *own == name);
        let field = match known {
            Some(field) => field,
            // There are few options, and their names live as long as the profile, which is as long as the run.
            None if option => OPTIONS.iter().copied().find(|own| *own == name).unwrap_or("options"),
            None => return self.unknown(key.span(), "field", key.get_ref(), FIELDS.into_iter()),
        };
        let headers = self.texts(&format!("columns.{name}"), value);
        if headers.iter().any(|header| header.trim().is_empty()) {
            self.fault(value.span(), format!("'{name}' is given a header without a name"), String::new());
        }
        for header in &headers {
            if let Some(other) = self.headers.insert(header.trim().to_lowercase(), field).filter(|own| *own != field) {
                let message = format!("the header '{header}' is given to '{other}' and to '{field}'");
                self.fault(value.span(), message, "a column holds one field".to_owned());
            }
        }
        self.stated(&format!("columns.{name}"), format!("{headers:?}"), &key.span());
        self.profile.columns.insert(field, headers);
    }

    fn task_words(&mut self, key: &Spanned<std::borrow::Cow<str>>, value: &Value) {
        let name = key.get_ref().as_ref();
        let tasks = [Task::Step, Task::Resonance, Task::Contributors];
        let Some(task) = Task::from_name(name) else {
            return self.unknown(key.span(), "task", name, tasks.iter().map(|own| own.name()));
        };
        let words = self.texts(&format!("tasks.{name}"), value);
        for word in &words {
            let word = word.trim().to_lowercase();
            let before = self.profile.task_words.iter().find(|(own, _)| *own == word).map(|(_, task)| *task);
            match Task::from_name(&word).or(before).filter(|own| *own != task) {
                Some(other) => {
                    let message = format!("the word '{word}' names the task '{}' already", other.name());
                    self.fault(value.span(), message, "a word names one task".to_owned());
                }
                None => self.profile.task_words.push((word, task)),
            }
        }
        self.stated(&format!("tasks.{name}"), format!("{words:?}"), &key.span());
    }

    fn severity(&mut self, key: &Spanned<std::borrow::Cow<str>>, value: &Value) {
        let name = key.get_ref().as_ref();
        let Some(finding) = Name::from_text(name) else {
            return self.unknown(key.span(), "finding", name, Name::ALL.iter().map(|own| own.entry().name));
        };
        let words = ["error", "warning", "note"];
        self.word(&format!("severity.{name}"), value, &words, |profile, word| {
            profile.severities.extend(Severity::from_name(word).map(|severity| (finding, severity)));
        });
    }

    fn limit(&mut self, key: &Spanned<std::borrow::Cow<str>>, value: &Value) {
        let name = key.get_ref().as_ref();
        let Some(most) = limits::most(name) else {
            return self.unknown(key.span(), "limit", name, limits::names().iter().copied());
        };
        let number = match value.get_ref() {
            DeValue::Integer(own) => u64::from_str_radix(own.as_str(), own.radix()).ok(),
            _ => None,
        };
        let Some(number) = number.filter(|own| (1..=most).contains(own)) else {
            return self.fault(value.span(), format!("'{name}' takes a number from 1 to {most}"), String::new());
        };
        match with_limit(&self.profile.limits, name, number) {
            Some(limits) => self.profile.limits = limits,
            None => self.fault(value.span(), format!("'{name}' cannot be {number}"), String::new()),
        }
        self.stated(&format!("limits.{name}"), number.to_string(), &key.span());
    }
}

/// The names of columns of options.
const OPTIONS: [&str; 26] = [
    "option_a", "option_b", "option_c", "option_d", "option_e", "option_f", "option_g", "option_h", "option_i",
    "option_j", "option_k", "option_l", "option_m", "option_n", "option_o", "option_p", "option_q", "option_r",
    "option_s", "option_t", "option_u", "option_v", "option_w", "option_x", "option_y", "option_z",
];

fn with_limit(limits: &Limits, name: &str, number: u64) -> Option<Limits> {
    let mut all = serde_json::to_value(limits).ok()?;
    all.as_object_mut()?.insert(name.to_owned(), number.into());
    serde_json::from_value(all).ok()
}

#[cfg(test)]
mod tests {
    use super::read;

    #[test]
    fn what_cannot_stand_is_refused_at_its_place() {
        let cases = [
            ("octett = \"strict\"", "octett", "did you mean 'octet'?"),
            ("octet = \"strikt\"", "\"strikt\"", "did you mean 'strict'?"),
            ("[limits]\natoms = 10\nbondz = 5", "bondz", "did you mean 'bonds'?"),
            ("[limits]\natoms = 0", "0", ""),
            ("[limits]\natoms = \"many\"", "\"many\"", ""),
            ("[limits]\natoms = 99_999_999_999_999", "99_999_999_999_999", ""),
            ("[severity]\nmismatched-prodct = \"note\"", "mismatched-prodct", "did you mean 'mismatched-product'?"),
            ("[severity]\nidle-stereo = \"off\"", "\"off\"", "expected one of error, warning, note"),
            ("[columns]\nanwser = \"Lösung\"", "anwser", "did you mean 'answer'?"),
            ("[columns]\nanswer = 3", "3", ""),
            ("[columns]\nanswer = \"A\"\nstart = \"a\"", "\"a\"", "a column holds one field"),
            ("encoding = \"windows-1225\"", "\"windows-1225\"", "did you mean 'windows-1252'?"),
            ("columns = 3", "3", "begin it with [columns] on a line of its own"),
            ("octet = ", "", ""),
            ("\u{feff}tusk = \"step\"", "tusk", "did you mean 'task'?"),
        ];
        let mut failures = Vec::new();
        for (text, place, remedy) in cases {
            match read(text) {
                Err(faults) if faults.len() == 1 && faults[0].span.of(text) == place && faults[0].remedy == remedy => {}
                other => failures.push(format!("{text}: {other:?}")),
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
