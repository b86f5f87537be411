//! What a field says now and what it should say, one above the other, the characters that differ marked.

use super::fault::sentence;
use super::proposed;
use super::text::{CORRECTION, MESSAGE, shown};
use crate::audit::Audited;
use crate::findings::{Correction, Finding, Grade};
use std::fmt::Write as _;

/// Corrections of one item that its card shows. The CSV has them all.
const FIXES: usize = 40;
/// Characters up to which two texts are held against each other one by one; of longer ones beginning and end are.
const HELD: usize = 400;

/// Lines on either side of what differs that a long text shows.
const AROUND: usize = 2;
/// Lines that are shown at once.
const LINES: usize = 9;

/// A proposed correction.
pub(super) struct Fix {
    pub(super) label: String,
    /// Empty where the field says nothing now.
    pub(super) now: Vec<Piece>,
    pub(super) proposed: Vec<Piece>,
    pub(super) too_long: bool,
    /// Whether it has so many lines that they scroll.
    pub(super) is_long: bool,
    /// The proposed text, where most of what does not differ is left out above.
    pub(super) whole: String,
    pub(super) grade: &'static str,
    pub(super) why: String,
}

/// A part of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Piece {
    pub(super) text: String,
    pub(super) differs: bool,
}

/// Proposed corrections, each once.
pub(super) fn fixes(item: &Audited) -> Vec<Fix> {
    let mut all: Vec<Fix> = Vec::new();
    let mut seen: Vec<(String, &str)> = Vec::new();
    let several = item.steps.len() > 1;
    for finding in item.findings.iter().filter(|finding| !finding.correction.is_empty()).take(FIXES) {
        let step = if several { finding.step } else { 0 };
        let label = label(finding, step);
        if seen.iter().any(|own| *own == (label.clone(), finding.correction.as_str())) {
            continue;
        }
        seen.push((label.clone(), finding.correction.as_str()));
        all.push(Fix::new(finding, label));
        let instead = finding.fix.iter().flat_map(|fix| fix.each().skip(1));
        all.extend(instead.map(|own| Fix::of(own, format!("{}, instead", own.field.name()))));
    }
    all
}

/// The field that is corrected.
fn label(finding: &Finding, step: u32) -> String {
    let mut label = finding.fix.as_ref().map_or_else(|| "correction".to_owned(), |fix| fix.field.name().to_string());
    if step > 0 {
        let _ = write!(label, " of step {step}");
    }
    label
}

impl Fix {
    fn new(finding: &Finding, label: String) -> Self {
        match &finding.fix {
            Some(fix) => Self::of(fix, label),
            None => Self::between("", &finding.correction, label, Grade::None, ""),
        }
    }

    fn of(fix: &Correction, label: String) -> Self {
        Self::between(&fix.stated, &fix.proposed, label, fix.grade, &fix.why)
    }

    fn between(now: &str, proposed: &str, label: String, grade: Grade, why: &str) -> Self {
        let is_long = [now, proposed].iter().any(|text| text.lines().count() > LINES || text.len() > LINES * 60);
        let too_long = now.len() > CORRECTION || proposed.len() > CORRECTION;
        let mut whole = String::new();
        let in_lines = proposed::in_lines(proposed).filter(|_| now.is_empty() && !too_long);
        let (now, proposed) = if let Some(lines) = in_lines {
            whole = shown(proposed, CORRECTION);
            (Vec::new(), vec![Piece { text: shown(&lines, CORRECTION), differs: false }])
        } else if too_long {
            (Vec::new(), Vec::new())
        } else {
            let all = shown(proposed, CORRECTION);
            let (now, proposed) = pieces(&shown(now, CORRECTION), &all);
            if is_long && !now.is_empty() {
                let ((now, _), (proposed, is_cut)) = (without_most(now), without_most(proposed));
                whole = if is_cut { all } else { whole };
                (now, proposed)
            } else {
                (now, proposed)
            }
        };
        let grade = match grade {
            Grade::Certain => "certain",
            Grade::Likely => "likely",
            Grade::None => "to be looked at",
        };
        Self { label, now, proposed, too_long, is_long, whole, grade, why: sentence(&shown(why, MESSAGE)) }
    }
}

/// Both texts in pieces, those that differ marked.
fn pieces(now: &str, proposed: &str) -> (Vec<Piece>, Vec<Piece>) {
    let (one, other): (Vec<char>, Vec<char>) = (now.chars().collect(), proposed.chars().collect());
    let begin = one.iter().zip(&other).take_while(|(a, b)| a == b).count();
    let (rest, other_rest) = (&one[begin..], &other[begin..]);
    let end = rest.iter().rev().zip(other_rest.iter().rev()).take_while(|(a, b)| a == b).count();
    let (middle, other_middle) = (&rest[..rest.len() - end], &other_rest[..other_rest.len() - end]);
    let common = common(middle, other_middle);
    let flags = |own: &[bool]| {
        let mut flags = vec![true; begin];
        flags.extend(own);
        flags.extend(vec![true; end]);
        flags
    };
    // Where nothing is said now, all of it is new, and a mark would say nothing.
    if one.is_empty() {
        return (Vec::new(), vec![Piece { text: proposed.to_owned(), differs: false }]);
    }
    cut((&one, &flags(&common.0)), (&other, &flags(&common.1)))
}

/// Which characters of two texts are the same: one by one, or where they are long, line by line first.
fn common(one: &[char], other: &[char]) -> (Vec<bool>, Vec<bool>) {
    if one.len() <= HELD && other.len() <= HELD {
        return longest_common(one, other);
    }
    let lines = |text: &'_ [char]| text.split_inclusive(|c| *c == '\n').map(<[char]>::to_vec).collect::<Vec<_>>();
    let (first, second) = (lines(one), lines(other));
    if first.len().max(second.len()) > HELD || first.len().min(second.len()) < 2 {
        return (vec![false; one.len()], vec![false; other.len()]);
    }
    let (same, same_in_other) = longest_common(&first, &second);
    let (mut flags, mut other_flags) = (Vec::new(), Vec::new());
    let (mut at, mut to) = (0, 0);
    while at < first.len() || to < second.len() {
        let run = same[at..].iter().take_while(|same| !**same).count();
        let other_run = same_in_other[to..].iter().take_while(|same| !**same).count();
        let (a, b) = (first[at..at + run].concat(), second[to..to + other_run].concat());
        let own = if a.len() <= HELD && b.len() <= HELD {
            longest_common(&a, &b)
        } else {
            (vec![false; a.len()], vec![false; b.len()])
        };
        flags.extend(own.0);
        other_flags.extend(own.1);
        (at, to) = (at + run, to + other_run);
        // Both stand before the same line now, or at the end.
        if let (Some(line), Some(other_line)) = (first.get(at), second.get(to)) {
            flags.extend(vec![true; line.len()]);
            other_flags.extend(vec![true; other_line.len()]);
        }
        (at, to) = (at + 1, to + 1);
        (at, to) = (at.min(first.len()), to.min(second.len()));
    }
    (flags, other_flags)
}

/// Long texts without most of the lines that do not differ; whether anything was left out.
fn without_most(pieces: Vec<Piece>) -> (Vec<Piece>, bool) {
    let last = pieces.len().saturating_sub(1);
    let mut is_cut = false;
    let mut short = Vec::new();
    for (at, piece) in pieces.into_iter().enumerate() {
        let lines: Vec<&str> = piece.text.split_inclusive('\n').collect();
        let (head, tail) = (if at == 0 { 0 } else { AROUND }, if at == last { 0 } else { AROUND });
        if piece.differs || lines.len() <= head + tail + 1 {
            short.push(piece);
            continue;
        }
        is_cut = true;
        let left = lines.len() - head - tail;
        let text =
            format!("{}⋮ {left} lines that agree\n{}", lines[..head].concat(), lines[lines.len() - tail..].concat());
        short.push(Piece { text, differs: false });
    }
    (short, is_cut)
}

/// Which parts of two texts stand in their longest common subsequence.
fn longest_common<T: PartialEq>(one: &[T], other: &[T]) -> (Vec<bool>, Vec<bool>) {
    let width = other.len() + 1;
    let mut lengths = vec![0_u16; (one.len() + 1) * width];
    for (at, a) in one.iter().enumerate().rev() {
        for (to, b) in other.iter().enumerate().rev() {
            lengths[at * width + to] = if a == b {
                lengths[(at + 1) * width + to + 1] + 1
            } else {
                lengths[(at + 1) * width + to].max(lengths[at * width + to + 1])
            };
        }
    }
    let (mut first, mut second) = (vec![false; one.len()], vec![false; other.len()]);
    let (mut at, mut to) = (0, 0);
    while at < one.len() && to < other.len() {
        if one[at] == other[to] {
            (first[at], second[to]) = (true, true);
            (at, to) = (at + 1, to + 1);
        } else if lengths[(at + 1) * width + to] >= lengths[at * width + to + 1] {
            at += 1;
        } else {
            to += 1;
        }
    }
    (first, second)
}

/// Two texts in pieces of characters that are common or not. Where one has something that the other lacks, the other has an empty
/// piece: it shows the place.
fn cut(
    (one, is_common): (&[char], &[bool]),
    (other, is_common_in_other): (&[char], &[bool]),
) -> (Vec<Piece>, Vec<Piece>) {
    let run = |flags: &[bool], common: bool| flags.iter().take_while(|own| **own == common).count();
    let piece = |text: &[char], differs: bool| Piece { text: text.iter().collect(), differs };
    let (mut first, mut second) = (Vec::new(), Vec::new());
    let (mut at, mut to) = (0, 0);
    while at < one.len() || to < other.len() {
        let same = run(&is_common[at..], true).min(run(&is_common_in_other[to..], true));
        let (own, theirs) =
            if same > 0 { (same, same) } else { (run(&is_common[at..], false), run(&is_common_in_other[to..], false)) };
        // Common characters are the same number in both texts, so that one of the two always goes on.
        debug_assert!(own + theirs > 0);
        first.push(piece(&one[at..at + own], same == 0));
        second.push(piece(&other[to..to + theirs], same == 0));
        (at, to) = (at + own, to + theirs);
        if own + theirs == 0 {
            break;
        }
    }
    (first, second)
}

#[cfg(test)]
mod tests {
    use super::{Piece, pieces, without_most};

    #[test]
    fn long_texts_keep_what_stands_beside_a_difference() {
        let same = |text: &str| Piece { text: text.to_owned(), differs: false };
        let other = Piece { text: "x\n".to_owned(), differs: true };
        let (short, is_cut) = without_most(vec![same("1\n2\n3\n4\n5\n"), other, same("a\nb\nc\nd\ne")]);
        let text: String = short.into_iter().map(|own| own.text).collect();
        assert_eq!((text.as_str(), is_cut), ("⋮ 3 lines that agree\n4\n5\nx\na\nb\n⋮ 3 lines that agree\n", true));
    }

    #[test]
    fn what_differs_is_marked_in_both_texts() {
        let long = "C".repeat(1_000);
        let cases = [
            ("C=C[O]", "C=C[O-]", "C=C[O{}]", "C=C[O{-}]"),
            ("1 -> 1-2; 2-3 -> 3", "1 -> 1-4; 2-3 -> 5", "1 -> 1-{2}; 2-3 -> {3}", "1 -> 1-{4}; 2-3 -> {5}"),
            ("", "CO", "", "CO"),
            ("CO", "CO", "CO", "CO"),
            (&format!("N{long}O"), &format!("O{long}N"), &format!("{{N{long}O}}"), &format!("{{O{long}N}}")),
            (
                &format!("a1\n{long}\nc2\nd"),
                &format!("a2\n{long}\nx\nc3\nd"),
                &format!("a{{1}}\n{long}\n{{}}c{{2}}\nd"),
                &format!("a{{2}}\n{long}\n{{x\n}}c{{3}}\nd"),
            ),
        ];
        let shown = |own: Vec<super::Piece>| -> String {
            own.into_iter().map(|own| if own.differs { format!("{{{}}}", own.text) } else { own.text }).collect()
        };
        let mut failures = Vec::new();
        for (now, proposed, first, second) in cases {
            let (one, other) = pieces(now, proposed);
            let (one, other) = (shown(one), shown(other));
            if one != first || other != second {
                failures.push(format!("{now} {proposed}: {one} {other}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
