//! What a cell is, by its text alone.

use crate::arrows::notation;
use crate::smiles;

/// The kind of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Nothing but space.
    Blank,
    /// A structure; whether no word of a language reads so.
    Drawing(bool),
    /// Something that was meant to be a structure.
    NearDrawing,
    /// Several structures with space between them.
    Drawings,
    /// Arrows.
    Arrows,
    /// Something that was meant to be arrows.
    NearArrows,
    /// A whole number.
    Number(u32),
    /// Anything else.
    Text,
}

/// Bytes of a cell that is read: longer ones are texts.
const LONGEST: usize = 8_192;
/// Arrows of a cell that are read.
const ARROWS: usize = 256;
/// What stands between tail and head.
const SIGNS: [&str; 6] = ["->", "=>", "~>", "\u{2192}", "\u{21d2}", " to "];

impl Kind {
    pub(super) fn of(cell: &str) -> Self {
        let cell = cell.trim();
        if cell.is_empty() {
            return Self::Blank;
        }
        if cell.starts_with('<') {
            return Self::Drawing(true);
        }
        if cell.len() > LONGEST {
            return Self::Text;
        }
        if cell.bytes().all(|byte| byte.is_ascii_digit()) {
            return cell.parse().map_or(Self::Text, Self::Number);
        }
        if SIGNS.iter().any(|sign| cell.contains(sign)) && !cell.contains(">>") {
            return Self::of_arrows(cell);
        }
        let bare = smiles_of(cell);
        if !bare.contains(char::is_whitespace) {
            return Self::of_word(bare);
        }
        let words: Vec<Self> = bare.split_whitespace().map(Self::of_word).collect();
        let is_list = words.iter().all(|own| matches!(own, Self::Drawing(_))) && words.contains(&Self::Drawing(true));
        if is_list { Self::Drawings } else { Self::Text }
    }

    fn of_arrows(cell: &str) -> Self {
        let reading = notation::read(cell, ARROWS);
        if reading.faults.is_empty() && !reading.arrows.is_empty() {
            return Self::Arrows;
        }
        let has_digit = cell.bytes().any(|byte| byte.is_ascii_digit());
        if has_digit && !cell.contains(" to ") { Self::NearArrows } else { Self::Text }
    }

    fn of_word(word: &str) -> Self {
        if smiles::read(word).faults.is_empty() {
            return Self::Drawing(is_sure(word));
        }
        let begins = word.starts_with(['B', 'C', 'N', 'O', 'P', 'S', 'F', 'I', '[']);
        let marks = word.bytes().filter(|byte| b"[]=#()@".contains(byte)).count();
        if begins && marks > 1 { Self::NearDrawing } else { Self::Text }
    }

    /// Whether it is a structure, or was meant to be one.
    pub(super) fn is_drawn(self) -> bool {
        matches!(self, Self::Drawing(_) | Self::NearDrawing)
    }

    /// Whether it is arrows, or was meant to be.
    pub(super) fn is_of_arrows(self) -> bool {
        matches!(self, Self::Arrows | Self::NearArrows)
    }
}

/// A structure without the tail ` |…|` that some programs write behind it.
fn smiles_of(cell: &str) -> &str {
    match cell.split_once(" |") {
        Some((bare, tail)) if tail.ends_with('|') => bare.trim_end(),
        _ => cell,
    }
}

/// Whether a text that reads as a structure can hardly be a word: it has marks, digits or capitals behind its first letter.
fn is_sure(word: &str) -> bool {
    let has_marks = word.bytes().any(|byte| b"[]=#()@/\\.+-123456789".contains(&byte));
    let capitals = word.bytes().filter(u8::is_ascii_uppercase).count();
    has_marks || (capitals > 1 && word.len() > 2)
}

#[cfg(test)]
mod tests {
    use super::Kind;

    #[test]
    fn cells_are_what_they_read_as() {
        let cases = [
            ("", Kind::Blank),
            ("  ", Kind::Blank),
            ("12", Kind::Number(12)),
            ("C=O", Kind::Drawing(true)),
            ("CCO", Kind::Drawing(true)),
            ("No", Kind::Text),
            ("CN", Kind::Drawing(false)),
            ("C", Kind::Drawing(false)),
            ("[OH-].CBr", Kind::Drawing(true)),
            ("C[N+](C)C |^1:0|", Kind::Drawing(true)),
            ("[CH2:1]=[O:2", Kind::NearDrawing),
            ("C=O CC=O", Kind::Drawings),
            ("no on", Kind::Text),
            ("1 -> 1-2; 2-3 -> 3", Kind::Arrows),
            ("1 \u{2192} 1-2", Kind::Arrows),
            ("1 to 1-2", Kind::Arrows),
            ("1-> ; 2-3-", Kind::NearArrows),
            ("go to page 7", Kind::Text),
            ("C=O>>CO", Kind::Text),
            ("Carbonyle", Kind::Text),
            ("A", Kind::Text),
        ];
        let wrong: Vec<_> = cases.iter().filter(|(cell, kind)| Kind::of(cell) != *kind).collect();
        let found: Vec<_> = wrong.iter().map(|(cell, _)| Kind::of(cell)).collect();
        assert!(wrong.is_empty(), "{wrong:?} {found:?}");
    }
}
