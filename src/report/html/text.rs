//! Text of a bank on its way to a page: cut where it is too long to read, without characters that HTML cannot hold.
//!
//! Escaping is the template engine's. Marks that turn the direction of writing stay, as the templates isolate them.

use std::fmt::Write as _;

/// Characters of an id that a heading or a list shows. Ids of real banks have fewer than 40.
pub(crate) const ID: usize = 120;
/// Characters of a file's name. Paths of usual systems have fewer than 260.
pub(crate) const FILE: usize = 300;
/// Characters of a prompt: some 300 words.
pub(super) const PROMPT: usize = 2_000;
/// Characters of one message, one sentence of the ledger.
pub(super) const MESSAGE: usize = 2_000;
/// Characters of a message in a list of items: two lines.
pub(super) const BRIEF: usize = 180;
/// Characters of a correction, which people copy whole or not at all.
pub(super) const CORRECTION: usize = 20_000;

/// Text as pages show it, at most `most` characters of it.
pub(crate) fn shown(text: &str, most: usize) -> String {
    let mut out: String = text.chars().take(most).map(allowed).collect();
    if text.len() > most {
        let length = text.chars().count();
        if length > most {
            let _ = write!(out, "… ({} characters in all)", number(length as u64));
        }
    }
    out
}

/// A character, or the replacement where HTML forbids it (controls, surrogates' remains, noncharacters).
fn allowed(c: char) -> char {
    let code = u32::from(c);
    match c {
        '\n' | '\t' => c,
        _ if c.is_control() || (0xFDD0..=0xFDEF).contains(&code) || code & 0xFFFE == 0xFFFE => '\u{FFFD}',
        _ => c,
    }
}

/// A number with its thousands apart.
pub(crate) fn number(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// `1 item`, `37 items`.
pub(super) fn count(many: u64, what: &str) -> String {
    if many == 1 { format!("1 {what}") } else { format!("{} {what}s", number(many)) }
}
