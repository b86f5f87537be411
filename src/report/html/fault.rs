//! Faults of an item as a person counts them: findings that are several names of one fault stand together, the difference first.

use super::other::Named;
use super::panels::Drawings;
use super::text::{BRIEF, FILE, MESSAGE, count, shown};
use crate::audit::Audited;
use crate::bank::Spot;
use crate::compare::Differences;
use crate::findings::{Finding, Name, Severity};

/// Differences of one fault that a card names.
const DIFFERENCES: usize = 6;
/// Differences that a row of a list names.
const LISTED: usize = 2;

/// One fault.
pub(super) struct Fault {
    pub(super) severity: &'static str,
    /// What it is called, the most telling name first.
    pub(super) names: Vec<&'static str>,
    pub(super) step: u32,
    /// The differences in words; without one, the sentence of the finding.
    pub(super) words: Vec<String>,
    pub(super) more: String,
    pub(super) slip: String,
    pub(super) slip_words: String,
    pub(super) spot: Option<Marked>,
    /// The other item, where it is about two.
    pub(super) other: Option<Named>,
    /// What to do, where no correction says it.
    pub(super) remedy: &'static str,
}

/// A line of the bank with the characters that are wrong.
pub(super) struct Marked {
    /// The file, where it is another one than the item's.
    pub(super) file: String,
    pub(super) line: u32,
    pub(super) column: u32,
    pub(super) before: String,
    pub(super) wrong: String,
    pub(super) after: String,
}

/// The faults of an item, the gravest first.
pub(super) fn faults(item: &Audited) -> Vec<Fault> {
    let mut order: Vec<&Finding> = item.findings.iter().collect();
    order.sort_by_key(|finding| (std::cmp::Reverse(finding.severity), finding.name != Name::MismatchedProduct));
    let mut faults: Vec<Fault> = Vec::new();
    let mut mismatches: Vec<(u32, usize)> = Vec::new();
    for finding in order {
        let own = mismatches.iter().find(|(step, _)| *step == finding.step && finding.name.is_name_of_mismatch());
        if let Some((_, at)) = own {
            faults[*at].names.push(finding.name.entry().name);
            continue;
        }
        if finding.name == Name::MismatchedProduct {
            mismatches.push((finding.step, faults.len()));
        }
        faults.push(Fault::new(finding, item));
    }
    faults
}

impl Fault {
    fn new(finding: &Finding, item: &Audited) -> Self {
        let entry = finding.name.entry();
        let (words, left) = named_differences(finding, item, DIFFERENCES).unwrap_or_else(|| {
            let told = sentence(&shown(&finding.what, MESSAGE));
            let known =
                finding.known.as_ref().map(|known| format!(" Known: {}", sentence(&shown(&known.reason, MESSAGE))));
            (vec![told + &known.unwrap_or_default()], 0)
        });
        Self {
            severity: finding.severity.name(),
            names: vec![entry.name],
            step: finding.step,
            words,
            more: if left > 0 { count(left as u64, "more difference") } else { String::new() },
            slip: finding.slips.names_with(", ").into_owned(),
            slip_words: match finding.explanation() {
                Some(explanation) => sentence(&shown(&explanation, MESSAGE)),
                None => finding.slips.meanings(),
            },
            spot: finding.spot.as_ref().map(Marked::new),
            other: finding.other.as_deref().map(Named::new),
            remedy: if finding.correction.is_empty() && finding.computed.is_empty() { entry.remedy } else { "" },
        }
    }
}

/// What a list says of a finding: the differences in words, else the beginning of its sentence.
pub(super) fn brief(finding: &Finding, item: &Audited) -> String {
    match named_differences(finding, item, LISTED) {
        Some((words, 0)) => shown(&words.join("; "), BRIEF),
        Some((words, left)) => shown(&format!("{}; and {left} more", words.join("; ")), BRIEF),
        None => shown(&finding.what, BRIEF),
    }
}

/// The finding that says most of an item: the first of the gravest.
pub(super) fn gravest(item: &Audited) -> Option<&Finding> {
    let worst: Option<Severity> = item.findings.iter().map(|finding| finding.severity).max();
    item.findings.iter().find(|finding| Some(finding.severity) == worst)
}

/// The differences of a mismatch one by one, and how many are left; none where the search for them met its limit.
fn named_differences(finding: &Finding, item: &Audited, most: usize) -> Option<(Vec<String>, usize)> {
    if finding.name != Name::MismatchedProduct || finding.known.is_some() {
        return None;
    }
    let step = item.steps.iter().find(|step| step.number == finding.step)?;
    let compared = step.compared.as_ref().filter(|compared| compared.smallest)?;
    let drawings = Drawings::new(step, false);
    let (product, stated) = (drawings.product?, drawings.stated.as_ref()?);
    let Differences { list, stereo, .. } = &compared.differences;
    let words = list.iter().map(|difference| difference.words(product, stated));
    let words = words.chain(stereo.iter().map(|own| own.words(product))).take(most);
    let words: Vec<String> = words.map(|words| shown(&words, MESSAGE)).collect();
    (!words.is_empty()).then_some((words, (list.len() + stereo.len()).saturating_sub(most)))
}

/// A message as a sentence: it begins with a capital, but for names of atoms and quoted text, and ends with a full stop.
pub(super) fn sentence(message: &str) -> String {
    let mut rest = message.chars();
    let mut out = match rest.next() {
        Some(first) if rest.clone().next().is_some_and(|second| second.is_lowercase() || second == ' ') => {
            first.to_uppercase().chain(rest).collect()
        }
        _ => message.to_owned(),
    };
    if out.ends_with(char::is_alphanumeric) {
        out.push('.');
    }
    out
}

impl Marked {
    fn new(spot: &Spot) -> Self {
        let (mark, length) = (spot.mark as usize, spot.length as usize);
        let part = |from: usize, many: usize| -> String {
            shown(&spot.excerpt.chars().skip(from).take(many).collect::<String>(), MESSAGE)
        };
        let marked = part(mark, length);
        Self {
            file: spot.other_file().map_or_else(String::new, |file| shown(file, FILE)),
            line: spot.line,
            column: spot.column,
            before: part(0, mark),
            // Where something is missing at the end of a line, the mark stands behind it.
            wrong: if marked.is_empty() { "\u{2423}".to_owned() } else { marked },
            after: part(mark + length, usize::MAX),
        }
    }
}
