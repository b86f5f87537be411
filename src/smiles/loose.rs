//! Spellings that widely used programs write beyond the standard and that have one reading.
//!
//! ```text
//! hydrogen gas  ::= '[HH]' | '[HH:7]'                 ; in the standard [H][H], [H:7][H]
//! ring number   ::= branch ringbond                   ; in the standard the number stands before the branch
//! long number   ::= '%(' digit+ ')'                   ; in the standard % and two digits
//! extended tail ::= SMILES ' |' entry *( ',' entry ) '|'
//! ```

use super::error::SmilesFault;
use crate::source::Span;
use std::fmt;

/// One such spelling and the characters it stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LooseForm {
    /// Where.
    pub span: Span,
    /// Which.
    pub kind: LooseKind,
}

/// Which spelling, displayed as what the standard writes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LooseKind {
    /// `[HH]`: hydrogen gas as one atom that carries another, with its isotope and class.
    HydrogenGas(Option<u16>, Option<u32>),
    /// `C(C)1`.
    RingBehindBranch,
    /// `%(12)`.
    RingInParentheses(u32),
    /// ` |^1:0|`.
    Tail,
}

impl fmt::Display for LooseKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HydrogenGas(isotope, class) => {
                f.write_str("[")?;
                isotope.iter().try_for_each(|isotope| write!(f, "{isotope}"))?;
                f.write_str("H")?;
                class.iter().try_for_each(|class| write!(f, ":{class}"))?;
                f.write_str("][H]")
            }
            Self::RingBehindBranch => f.write_str("before the branch, straight behind the atom"),
            Self::RingInParentheses(number @ 0..=9) => write!(f, "{number}"),
            Self::RingInParentheses(number @ 10..=99) => write!(f, "%{number}"),
            Self::RingInParentheses(_) => f.write_str("a free number of one or two digits"),
            Self::Tail => f.write_str("no part of SMILES: radicals follow from hydrogens in brackets, [CH3]"),
        }
    }
}

/// Unpaired electrons that a tail gives an atom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct RadicalMark {
    /// The atom, counted from 0 as the atoms are written.
    pub(super) atom: usize,
    /// Electrons that are in no bond and in no pair of a closed shell.
    pub(super) electrons: u16,
    /// How many of them are unpaired, where the mark says more than their number does.
    pub(super) unpaired: Option<u8>,
    /// As the mark writes it: 1 to 7.
    kind: u8,
    pub(super) span: Span,
}

/// The structure of a text and the tail behind it, with the place where the tail begins.
pub(crate) fn split_tail(text: &str) -> (&str, Option<(&str, usize)>) {
    let Some(rest) = text.strip_suffix('|') else { return (text, None) };
    // The first bar opens the tail: there is none in a SMILES.
    match rest.find('|') {
        Some(open) if open > 0 && rest.as_bytes()[open - 1].is_ascii_whitespace() => {
            (rest[..open].trim_end(), Some((&rest[open + 1..], open + 1)))
        }
        _ => (text, None),
    }
}

/// The tail of a whole reaction as one of its start (agents included) and one of its answer: radical marks count atoms through.
///
/// # Errors
/// An entry cannot be read or passed over: where and why.
pub(crate) fn reaction_tails(
    tail: &str,
    from: usize,
    start: &str,
    answer: &str,
) -> Result<[String; 2], (Span, String)> {
    let marks = read_tail(tail, from).map_err(|TailFault { span, entry, why }| {
        let fault = SmilesFault::Tail { entry, why };
        (span, fault.to_string())
    })?;
    let before = written_atoms(start);
    let all = before + written_atoms(answer);
    if let Some(mark) = marks.iter().find(|mark| mark.atom >= all) {
        return Err((mark.span, format!("the tail marks atom {}, the reaction has {all}", mark.atom + 1)));
    }
    let part = |of_start: bool| {
        let own = marks.iter().filter(|mark| (mark.atom < before) == of_start);
        let entries = own.map(|mark| format!("^{}:{}", mark.kind, mark.atom - if of_start { 0 } else { before }));
        let entries: Vec<String> = entries.collect();
        // The start carries the tail where it says nothing of either.
        let is_told = !entries.is_empty() || (of_start && marks.is_empty());
        if is_told { format!(" |{}|", entries.join(",")) } else { String::new() }
    };
    Ok([part(true), part(false)])
}

/// Atoms of a text as they are written.
fn written_atoms(text: &str) -> usize {
    let reading = super::read(text.trim());
    let is_gas = |form: &&LooseForm| matches!(form.kind, LooseKind::HydrogenGas(..));
    reading.structure.atom_count() - reading.loose.iter().filter(is_gas).count()
}

/// Why an entry of a tail is refused, and where.
pub(super) struct TailFault {
    pub(super) span: Span,
    pub(super) entry: String,
    pub(super) why: &'static str,
}

/// Reads the entries of a tail that begins `from` bytes behind the beginning of its text.
pub(super) fn read_tail(tail: &str, from: usize) -> Result<Vec<RadicalMark>, TailFault> {
    let mut marks = Vec::new();
    let mut at = 0;
    while at < tail.len() {
        let length = entry_length(&tail[at..]);
        let entry = &tail[at..at + length];
        let span = Span::new(from + at, from + at + length);
        at += length;
        at += usize::from(tail[at..].starts_with(','));
        let refuse = |why| TailFault { span, entry: entry.chars().take(24).collect(), why };
        if let Some(mark) = entry.strip_prefix('^') {
            radicals(mark, span, &mut marks)
                .ok_or_else(|| refuse("is no radical mark: expected ^1 to ^7, ':' and atoms"))?;
        } else if let Some(why) = refused(entry) {
            return Err(refuse(why));
        }
    }
    Ok(marks)
}

/// An entry ends at a comma, but for lists of numbers and what stands between `$` or in parentheses.
fn entry_length(text: &str) -> usize {
    let close = match text.as_bytes().first() {
        Some(b'$') => text[1..].find('$').map(|at| at + 2),
        Some(b'(') => text.find(')').map(|at| at + 1),
        _ => None,
    };
    let from = close.unwrap_or(0);
    let bytes = text.as_bytes();
    let ends = |at: usize| bytes[at] == b',' && !bytes.get(at + 1).is_some_and(u8::is_ascii_digit);
    (from..text.len()).find(|at| ends(*at)).unwrap_or(text.len())
}

/// `^1:0,3`: the kind of radical and its atoms.
fn radicals(mark: &str, span: Span, marks: &mut Vec<RadicalMark>) -> Option<()> {
    let (kind, atoms) = mark.split_once(':')?;
    // Monovalent; divalent, its singlet and its triplet; trivalent, its doublet and its quartet.
    let (electrons, unpaired) = match kind {
        "1" => (1, None),
        "2" | "3" => (2, None),
        "4" => (2, Some(2)),
        "5" | "6" => (3, None),
        "7" => (3, Some(3)),
        _ => return None,
    };
    for atom in atoms.split(',') {
        let atom = atom.parse().ok().filter(|_| atom.len() < 10)?;
        marks.push(RadicalMark { atom, electrons, unpaired, kind: kind.parse().unwrap_or(1), span });
    }
    Some(())
}

/// Why an entry cannot be passed over; `None` for those that change nothing of what is drawn: labels, coordinates, wedges, enhanced
/// stereo, properties and the grouping of fragments.
fn refused(entry: &str) -> Option<&'static str> {
    let passed = ["$", "(", "&", "o", "a:", "r", "wU:", "wD:", "w:", "atomProp:", "f:"];
    if passed.iter().any(|start| entry.starts_with(start)) || entry.trim().is_empty() {
        return None;
    }
    Some(if entry.starts_with("C:") {
        "is a coordinate bond: draw it as a single bond with the charges at its two ends"
    } else if entry.starts_with("m:") {
        "is a bond to several atoms: draw bonds between two atoms each"
    } else if entry.starts_with("H:") {
        "is a hydrogen bond: leave it out, it takes no part in the bookkeeping"
    } else {
        "says more than a structure and is not read: leave it out"
    })
}

#[cfg(test)]
mod tests {
    use super::{read_tail, split_tail};

    #[test]
    fn tails_are_taken_apart() {
        let cases = [
            ("C |^1:0|", Ok("0/1")),
            ("CC |^1:0,1,$a,b;c$,^4:1|", Ok("0/1 1/1 1/2")),
            ("CC |(1,2,;3,4,),&1:0,wU:1.0|", Ok("")),
            ("CC ||", Ok("")),
            ("CC |C:0.1|", Err("coordinate")),
            ("CC |^1:0,m:1:2.3|", Err("several")),
            ("CC |^9:0|", Err("radical")),
            ("CC |SgD:0|", Err("not read")),
        ];
        let mut failures = Vec::new();
        for (text, expected) in cases {
            let Some((tail, from)) = split_tail(text).1 else {
                failures.push(format!("{text}: no tail"));
                continue;
            };
            let found = read_tail(tail, from);
            let fits = match (&found, expected) {
                (Ok(marks), Ok(own)) => {
                    let texts: Vec<_> = marks.iter().map(|mark| format!("{}/{}", mark.atom, mark.electrons)).collect();
                    texts.join(" ") == own
                }
                (Err(fault), Err(why)) => fault.why.contains(why),
                _ => false,
            };
            if !fits {
                failures.push(format!("{text}: {:?}", found.map_err(|fault| (fault.entry, fault.why))));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
