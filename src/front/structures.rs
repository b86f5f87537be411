//! Structures and arrows without a bank: push, infer, contributors, draw.

use super::Error;
use crate::arrows::Arrow;
use crate::arrows::ledger::{accounts, arrow_sentences, charge_sentence, net_sentence, string_sentences};
use crate::cli::contributors::{LEAST_STEPS, arrows_between as contributor_arrows, row, written};
use crate::cli::draw::{Look, picture};
use crate::cli::infer::lines;
use crate::cli::push::judged;
use crate::cli::structure::{Fault, drawn, localised};
use crate::compare::arrows_between;
use crate::findings::{Finding, Judgement, StepAudit, cut_words};
use crate::profile::Profile;
use crate::resonance::{self, Bounds};
use crate::smiles::{self, Labels};
use crate::structure::{LabelIndex, Structure};

/// A push: what arrows make of a start.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Push {
    /// The product, as SMILES with the labels of the start.
    pub product: String,
    /// The arrows, their strings and the charges, in sentences.
    pub ledger: Vec<String>,
    /// The formal charge of every atom that an arrow touches.
    pub charges: Vec<Charge>,
    /// What is to be said of the push; none of it is an error of the arrows themselves.
    pub findings: Vec<Finding>,
    /// The start with its arrows and the product, as SVG.
    pub drawing: String,
}

/// The formal charge of one atom.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Charge {
    /// The atom, as sentences call it: `O3`.
    pub atom: String,
    /// Before the arrows.
    pub before: i16,
    /// After them.
    pub after: i16,
}

/// A resonance contributor.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Contributor {
    /// Its rank by the rules, counted from 1; contributors that stand alike share one.
    pub rank: u32,
    /// The structure, as SMILES with labels.
    pub structure: String,
    /// The arrows that lead here from the contributor before it; empty where no one set of arrows does.
    pub arrows: String,
}

/// What a drawing shows.
#[derive(Debug, Clone, Copy, Default)]
#[non_exhaustive]
pub struct Picture {
    /// Every lone pair, not only those that arrows use.
    pub all_pairs: bool,
    /// Every atom's number, as arrows name it.
    pub numbers: bool,
    /// The product beside the start.
    pub product: bool,
}

impl Picture {
    /// The same, with the product or without.
    #[must_use]
    pub fn with_product(self, product: bool) -> Self {
        Self { product, ..self }
    }

    /// The same, with every lone pair or those that arrows use.
    #[must_use]
    pub fn with_all_pairs(self, all_pairs: bool) -> Self {
        Self { all_pairs, ..self }
    }

    /// The same, with numbers or without.
    #[must_use]
    pub fn with_numbers(self, numbers: bool) -> Self {
        Self { numbers, ..self }
    }

    fn look(self) -> Look {
        Look { all_pairs: self.all_pairs, numbers: self.numbers, start_alone: false }
    }
}

/// Pushes arrows on a start.
///
/// # Errors
/// Start or arrows cannot be read, or the arrows cannot be pushed.
///
/// ```
/// let push = keyassay::push("[CH2-:1][CH:2]=[O:3]", "1 -> 1-2; 2-3 -> 3")?;
/// assert_eq!(push.product, "[CH2:1]=[CH:2][O-:3]");
/// assert_eq!(push.ledger[0], "Arrow 1: a lone pair of C1 moves, and makes a pi bond between C1 and C2.");
///
/// let error = keyassay::push("C=O", "1-2 -> ").unwrap_err();
/// assert!(matches!(error, keyassay::Error::Arrows { column: 8, .. }), "{error:?}");
/// # Ok::<(), keyassay::Error>(())
/// ```
pub fn push(start: &str, arrows: &str) -> Result<Push, Error> {
    let judgement = judged(start, arrows, &Profile::default().judge());
    let step = pushed(&judgement, true)?;
    let (Some(from), Some(pushed)) = (&step.start, &step.pushed) else { return Err(nothing(&judgement)) };
    let product = &pushed.product;
    let mut ledger = Vec::new();
    if step.several.is_empty() {
        ledger.extend(arrow_sentences(from, pushed, &step.arrows));
        ledger.extend(string_sentences(from, product, &step.arrows));
        ledger.push(charge_sentence(from, product, &step.arrows));
        ledger.push(net_sentence(from, product));
    } else {
        ledger.push(format!("The arrows are several steps drawn as one, {}.", cut_words(&step.several)));
    }
    let charges = accounts(from, product, &step.arrows).into_iter().map(|own| Charge {
        atom: from.call(own.atom),
        before: own.charge.0,
        after: own.charge.1,
    });
    Ok(Push {
        product: smiles::write(product, Labels::Classes),
        ledger,
        charges: charges.collect(),
        drawing: picture(Look::default(), from, &step.arrows, Some(product)),
        findings: judgement.findings,
    })
}

/// The fewest arrows that lead from one structure to another: one text a set, the conventional one first.
///
/// # Errors
/// A structure cannot be read, or no arrows lead there.
///
/// ```
/// let arrows = keyassay::infer("[CH2-:1][CH:2]=[O:3]", "[CH2:1]=[CH:2][O-:3]")?;
/// assert_eq!(arrows, ["1 -> 1-2; 2-3 -> 3"]);
/// # Ok::<(), keyassay::Error>(())
/// ```
pub fn infer(start: &str, answer: &str) -> Result<Vec<String>, Error> {
    let profile = Profile::default();
    let mut from = localised(start, "start", &profile).map_err(|faults| refused(start, &faults))?;
    let to = localised(answer, "answer", &profile).map_err(|faults| refused(answer, &faults))?;
    from.label_by_position();
    let labels = LabelIndex::new(&from);
    let found = arrows_between(&from, &to, &labels, profile.limits.search_steps);
    let text = found.and_then(|found| lines(&found)).map(|(text, _)| text);
    let text = text.map_err(|why| Error::Arrows { message: format!("no arrows lead there: {why}"), column: 0 })?;
    Ok(text.lines().map(str::to_owned).collect())
}

/// The resonance contributors of a structure, ranked, with the arrows between them; and one picture of them.
///
/// # Errors
/// The structure cannot be read.
///
/// ```
/// let (contributors, picture) = keyassay::contributors("[CH2-:1][CH:2]=[O:3]")?;
/// assert_eq!(contributors[0].structure, "[CH2:1]=[CH:2][O-:3]");
/// assert_eq!((contributors[0].rank, contributors[1].rank), (1, 2));
/// assert!(picture.starts_with("<svg"));
/// # Ok::<(), keyassay::Error>(())
/// ```
pub fn contributors(structure: &str) -> Result<(Vec<Contributor>, String), Error> {
    let profile = Profile::default();
    let mut start = localised(structure, "structure", &profile).map_err(|faults| refused(structure, &faults))?;
    start.label_by_position();
    let limits = &profile.limits;
    let found =
        resonance::contributors(&start, &Bounds { octet: profile.octet, most: limits.contributors, more_gaps: 0 });
    let steps = limits.search_steps / (found.list.len() as u64).max(1);
    let between = contributor_arrows(&found, steps.max(LEAST_STEPS));
    let arrows = |at: usize| -> Option<String> {
        let before = at.checked_sub(1)?;
        let arrows = between.get(before).filter(|own| !own.is_empty())?;
        written(&found.list[before].structure, arrows)
    };
    let list = found.list.iter().enumerate().map(|(at, own)| Contributor {
        rank: own.place,
        structure: smiles::write(&own.structure, Labels::Classes),
        arrows: arrows(at).unwrap_or_default(),
    });
    Ok((list.collect(), row(&found, &between)))
}

/// A structure with its arrows as SVG. Faulty arrows are drawn as far as they can be.
///
/// # Errors
/// Start or arrows cannot be read; the product is wanted and there is none.
///
/// ```
/// use keyassay::Picture;
/// let svg = keyassay::draw("[CH2:1]=[CH:2][CH2+:3]", Some("1-2 -> 2-3"), Picture::default().with_product(true))?;
/// assert!(svg.starts_with("<svg") && svg.contains("product"));
/// # Ok::<(), keyassay::Error>(())
/// ```
pub fn draw(start: &str, arrows: Option<&str>, look: Picture) -> Result<String, Error> {
    let Some(arrows) = arrows else {
        if look.product {
            return Err(Error::Job("the product needs arrows, which lead to it".to_owned()));
        }
        let structure = drawn(start, "structure", &Profile::default()).map_err(|faults| refused(start, &faults))?;
        return Ok(picture(look.look(), &structure, &[] as &[Arrow], None));
    };
    let judgement = judged(start, arrows, &Profile::default().judge());
    let step = pushed(&judgement, look.product)?;
    let Some(from) = &step.start else { return Err(nothing(&judgement)) };
    let product: Option<&Structure> = step.pushed.as_ref().map(|pushed| &pushed.product).filter(|_| look.product);
    Ok(picture(look.look(), from, &step.arrows, product))
}

/// The step of a push that has arrows, and a product where that is wanted.
fn pushed(judgement: &Judgement, wants_product: bool) -> Result<&StepAudit, Error> {
    let step = judgement.steps.first().ok_or_else(|| nothing(judgement))?;
    let is_there = !step.arrows.is_empty() && (step.pushed.is_some() || !wants_product);
    if is_there { Ok(step) } else { Err(nothing(judgement)) }
}

/// Why there is no push, for the first of the reasons.
fn nothing(judgement: &Judgement) -> Error {
    let Some(finding) = judgement.findings.first() else {
        return Error::Arrows { message: "there are no arrows".to_owned(), column: 0 };
    };
    let (message, spot) = (finding.message().into_owned(), finding.spot.as_ref());
    let column = spot.map_or(0, |spot| spot.column);
    match spot {
        Some(spot) if spot.line == 1 => Error::Structure { message, column },
        _ => Error::Arrows { message, column },
    }
}

/// A structure that could not be read.
fn refused(text: &str, faults: &[Fault]) -> Error {
    let Some(first) = faults.first() else { return Error::Structure { message: String::new(), column: 0 } };
    let is_whole = first.span == (0..text.len()) || first.span.is_empty();
    let before = text.get(..first.span.start).unwrap_or_default();
    let column = if is_whole { 0 } else { before.chars().count() as u32 + 1 };
    Error::Structure { message: first.message.clone(), column }
}
