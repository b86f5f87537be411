//! `keyassay audit --explain-profile`: what applies, and from where.

use super::settings::Applied;
use crate::report::terminal::plain;
use std::fmt::Write as _;

/// A setting that an option of the command line decides.
pub(super) struct Given {
    /// Its key in a profile.
    pub(super) key: &'static str,
    /// Its value; `None` where the option was not given.
    pub(super) value: Option<String>,
}

/// The settings, one a line, each with its source.
pub(super) fn explain(applied: &Applied, given: &[Given]) -> String {
    let mut text = match &applied.path {
        Some(path) => format!("profile: {}\n\n", path.display()),
        None => format!("no profile: there is no {} beside or above the bank\n\n", super::settings::NAME),
    };
    let profile = &applied.profile;
    let usual = [
        ("task", format!("\"{}\"", profile.task.name())),
        ("octet", "\"usual\"".to_owned()),
        ("distractors", "\"usual\"".to_owned()),
        ("accept", "\"drawing\"".to_owned()),
        ("encoding", "\"utf-8\"".to_owned()),
        ("known", "none".to_owned()),
        ("files", "all that are banks by their ending".to_owned()),
    ];
    for (key, value) in usual {
        let option = given.iter().find(|own| own.key == key).and_then(|own| own.value.as_deref());
        let (value, source) = match (option, stated(applied, key)) {
            (Some(option), _) => (option.to_owned(), format!("--{key}")),
            (None, Some(stated)) => stated,
            (None, None) => (value, "built in".to_owned()),
        };
        line(&mut text, key, &value, &source);
    }
    for stated in profile.stated.iter().filter(|own| own.key.contains('.') && !own.key.starts_with("limits.")) {
        line(&mut text, &stated.key, &stated.value, &place(applied, stated.line));
    }
    let all = serde_json::to_value(&profile.limits).unwrap_or_default();
    for name in crate::limits::names() {
        let key = format!("limits.{name}");
        let value = all.get(name).map(ToString::to_string).unwrap_or_default();
        let source = stated(applied, &key).map_or_else(|| "built in".to_owned(), |(_, source)| source);
        line(&mut text, &key, &value, &source);
    }
    text
}

fn stated(applied: &Applied, key: &str) -> Option<(String, String)> {
    let stated = applied.profile.stated.iter().find(|own| own.key == key)?;
    Some((stated.value.clone(), place(applied, stated.line)))
}

fn place(applied: &Applied, line: u32) -> String {
    let path = applied.path.as_deref().map(|path| path.display().to_string()).unwrap_or_default();
    format!("{path}:{line}")
}

fn line(text: &mut String, key: &str, value: &str, source: &str) {
    let left = plain(&format!("{key} = {value}"));
    let source = plain(source);
    if left.chars().count() + source.chars().count() + 2 > 80 && left.chars().count() > 48 {
        let _ = writeln!(text, "{left}\n{:48}  {source}", "");
    } else {
        let _ = writeln!(text, "{left:48}  {source}");
    }
}
