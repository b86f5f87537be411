//! The key of a multiple choice: which of the options it names, in the ways in which people write that.
//!
//! `A`, `b`, `2`, `A)`, `(b)`, `Option 2`, several of them (`A, D`, `1; 4`, `A and D`, `ABD`), and the text of an option where
//! just one has it. A letter or a number of an option comes before a text: methane drawn as `C` is no key.

use super::item::Drawing;

/// Why a key names no options.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoKey {
    /// This part names an option that the item does not have.
    Beyond(String),
    /// It is no key.
    Unreadable(String),
    /// This part is the text of several options.
    OfSeveral(String),
}

/// Words that stand beside the letters and say nothing more.
const WORDS: [&str; 14] = [
    "option", "options", "answer", "answers", "choice", "choices", "key", "keys", "and", "both", "only", "no", "nos",
    "number",
];
/// What people put round a letter.
const AROUND: &[char] = &['(', ')', '[', ']', '.', ':', '{', '}', '"', '\'', '#'];
/// What people put between two letters without a space.
const BETWEEN: [char; 2] = ['/', '+'];

/// The places of the options that a key names, counted from 0, each once and in order.
///
/// # Errors
/// A part of the key names no option of the item.
pub fn keyed(key: &str, options: &[Drawing]) -> Result<Vec<usize>, NoKey> {
    let options = Options { texts: options.iter().map(text).collect() };
    let mut places = options.places(key.trim())?;
    places.sort_unstable();
    places.dedup();
    Ok(places)
}

/// The letter of an option; numbers beyond `Z`.
#[must_use]
pub fn letter(at: usize) -> String {
    match u8::try_from(at) {
        Ok(small @ 0..=25) => char::from(b'A' + small).to_string(),
        _ => (at + 1).to_string(),
    }
}

/// The text of a drawn option; `None` for a blank one.
fn text(drawing: &Drawing) -> Option<&str> {
    match drawing {
        Drawing::Text(field) if field.is_blank() => None,
        Drawing::Text(field) => Some(field.text.trim()),
        Drawing::Read(_) => Some(""),
    }
}

struct Options<'a> {
    /// By place; `None` for blank ones.
    texts: Vec<Option<&'a str>>,
}

impl Options<'_> {
    fn places(&self, key: &str) -> Result<Vec<usize>, NoKey> {
        if let Some(places) = self.by_name(key).or_else(|| self.by_text(key)) {
            return places;
        }
        let mut places = Vec::new();
        let parts = key.split([',', ';', '&', '|', '\n']).flat_map(str::split_whitespace);
        for part in parts.filter(|part| !is_word(part)) {
            places.extend(self.part(part, key)?);
        }
        if places.is_empty() { Err(NoKey::Unreadable(key.to_owned())) } else { Ok(places) }
    }

    /// One part of a list; what cannot be read is the whole `key`.
    fn part(&self, part: &str, key: &str) -> Result<Vec<usize>, NoKey> {
        if let Some(places) = self.by_name(part).or_else(|| self.by_text(part)).or_else(|| self.by_letters(part)) {
            return places;
        }
        // `A/D`, `A+D`, and the parts of `A / D`.
        let mut places = Vec::new();
        for own in part.split(BETWEEN).filter(|own| !own.is_empty()) {
            places.extend(self.by_name(own).unwrap_or_else(|| Err(NoKey::Unreadable(key.to_owned())))?);
        }
        Ok(places)
    }

    /// A letter or a number with what may stand round it; `None` for another text.
    fn by_name(&self, text: &str) -> Option<Result<Vec<usize>, NoKey>> {
        let at = place(text.trim_matches(AROUND))?;
        let is_drawn = self.texts.get(at).is_some_and(Option::is_some);
        Some(if is_drawn { Ok(vec![at]) } else { Err(NoKey::Beyond(text.to_owned())) })
            // A letter beyond the options may be an option's text: `N`, `O`.
            .filter(|found| found.is_ok() || self.by_text(text).is_none())
    }

    fn by_text(&self, text: &str) -> Option<Result<Vec<usize>, NoKey>> {
        let mut with_it = (0..self.texts.len()).filter(|at| self.texts[*at] == Some(text) && !text.is_empty());
        let first = with_it.next()?;
        Some(if with_it.next().is_some() { Err(NoKey::OfSeveral(text.to_owned())) } else { Ok(vec![first]) })
    }

    /// Capitals without anything between them, each of them an option's and none twice.
    fn by_letters(&self, text: &str) -> Option<Result<Vec<usize>, NoKey>> {
        let bare = text.trim_matches(AROUND);
        let mut places = Vec::new();
        for letter in bare.bytes() {
            let at = usize::from(letter.is_ascii_uppercase().then(|| letter - b'A')?);
            if !self.texts.get(at).is_some_and(Option::is_some) || places.contains(&at) {
                return None;
            }
            places.push(at);
        }
        (places.len() > 1).then_some(Ok(places))
    }
}

fn is_word(part: &str) -> bool {
    let bare = part.trim_matches(AROUND);
    bare.is_empty() || WORDS.iter().any(|word| bare.eq_ignore_ascii_case(word))
}

/// The place that a letter or a number names, also behind `option`: `option_b`, `Option2`.
fn place(text: &str) -> Option<usize> {
    let behind = text.get(..6).filter(|word| word.eq_ignore_ascii_case("option")).map(|_| &text[6..]);
    let name = behind.map_or(text, |name| name.trim_start_matches(['_', '-', ' ']));
    match name.as_bytes() {
        [letter] if letter.is_ascii_alphabetic() => Some(usize::from(letter.to_ascii_lowercase() - b'a')),
        // A spreadsheet program may have made a number of it: `2.0`.
        [first, ..] if first.is_ascii_digit() => {
            name.strip_suffix(".0").unwrap_or(name).parse::<usize>().ok()?.checked_sub(1)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{NoKey, keyed};
    use crate::bank::{Drawing, Field};

    fn options() -> Vec<Drawing> {
        let text = |text: &str| Drawing::Text(Field { text: text.to_owned(), ..Field::default() });
        ["CO", "N", "", "C/C=C/C", "CC", "CC"].into_iter().map(text).collect()
    }

    const KEYS: &[(&str, Result<&[usize], &str>)] = &[
        ("A", Ok(&[0])),
        (" b ", Ok(&[1])),
        ("2", Ok(&[1])),
        ("A)", Ok(&[0])),
        ("(b)", Ok(&[1])),
        ("[D]", Ok(&[3])),
        ("d.", Ok(&[3])),
        ("Option 2", Ok(&[1])),
        ("option_b", Ok(&[1])),
        ("OptionB", Ok(&[1])),
        ("Answer: D", Ok(&[3])),
        ("A, D", Ok(&[0, 3])),
        ("D,A", Ok(&[0, 3])),
        ("A; D", Ok(&[0, 3])),
        ("A D", Ok(&[0, 3])),
        ("1 4", Ok(&[0, 3])),
        ("A and D", Ok(&[0, 3])),
        ("A & D", Ok(&[0, 3])),
        ("A/D", Ok(&[0, 3])),
        ("A+D", Ok(&[0, 3])),
        ("A / D", Ok(&[0, 3])),
        ("A + B +D", Ok(&[0, 1, 3])),
        ("both A and D", Ok(&[0, 3])),
        ("B only", Ok(&[1])),
        ("2.0", Ok(&[1])),
        ("#2", Ok(&[1])),
        ("No. 2", Ok(&[1])),
        ("Nos. 1 and 4", Ok(&[0, 3])),
        ("2.5", Err("unreadable")),
        ("+", Err("unreadable")),
        ("ABD", Ok(&[0, 1, 3])),
        ("(A), (D)", Ok(&[0, 3])),
        ("a) d)", Ok(&[0, 3])),
        ("Options A and D", Ok(&[0, 3])),
        ("option_a, option_d", Ok(&[0, 3])),
        ("A, A", Ok(&[0])),
        ("A\nD", Ok(&[0, 3])),
        // The text of an option.
        ("CO", Ok(&[0])),
        ("N", Ok(&[1])),
        ("C/C=C/C", Ok(&[3])),
        ("CO, C/C=C/C", Ok(&[0, 3])),
        ("CO C/C=C/C", Ok(&[0, 3])),
        ("CC", Err("several")),
        // What names none.
        ("C", Err("beyond")),
        ("7", Err("beyond")),
        ("A, 9", Err("beyond")),
        ("0", Err("unreadable")),
        ("A-D", Err("unreadable")),
        ("A or D", Err("unreadable")),
        ("the first", Err("unreadable")),
        ("AA", Err("unreadable")),
        (",", Err("unreadable")),
        ("", Err("unreadable")),
    ];

    #[test]
    fn keys_as_people_write_them() {
        let mut failures = Vec::new();
        for (key, expected) in KEYS {
            let found = keyed(key, &options());
            let said = found.as_deref().map_err(|error| match error {
                NoKey::Beyond(_) => "beyond",
                NoKey::Unreadable(_) => "unreadable",
                NoKey::OfSeveral(_) => "several",
            });
            if said != *expected {
                failures.push(format!("'{key}': found {found:?}, expected {expected:?}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
