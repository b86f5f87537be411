//! Arrows from structures: the fewest that lead from one drawing to another.
//!
//! The difference of the two bond-electron matrices (Dugundji and Ugi, Top. Curr. Chem. 1973, 39, 19) says from which
//! places electrons go and to which they come. Arrows are a way to pair them: every arrow takes from a place and gives to a
//! place that shares an atom with it. Where all places change by pairs the arrows are full-headed, elsewhere half-headed.
//! All shortest ways are found, within a bound, and told apart up to the symmetry of the drawing.

mod balance;
mod hydrogens;
mod order;
mod search;

pub use order::drawn;

use super::{Arrow, push};
use crate::source::signed;
use crate::structure::{AtomId, Element, Structure};
use balance::changes;
use hydrogens::{Pairing, pairings};
use std::fmt;

/// Arrows that lead from a start to an answer.
#[derive(Debug, Clone)]
pub struct Inferred {
    /// The start, with the hydrogens that arrows name drawn out behind its atoms.
    pub start: Structure,
    /// Shortest sets of arrows, each another way even under the symmetry of the drawing, conventional ones first.
    pub ways: Vec<Vec<Arrow>>,
    /// Whether the bound was met, so that there may be more.
    pub is_cut_short: bool,
}

/// Why no arrows lead from a start to an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoArrows {
    /// The atoms differ: by element, how many more the answer has.
    Atoms(Vec<(&'static str, i64)>),
    /// The atoms are the same in number, but an atom has become another one.
    OtherAtom(String),
    /// The answer has a hydrogen of an isotope that no atom of the start becomes.
    NewAtom(String),
    /// The electrons differ: net charge of start and answer.
    Charge(i64, i64),
    /// Nothing has to move.
    Nothing,
    /// Electrons would have to jump between atoms that share no bond and no place.
    Apart,
    /// Electrons would have to pass through too many places that end as they were.
    TooFar,
    /// The search met its limit.
    OutOfSteps,
    /// The arrows would have to name an atom that has no label.
    NoLabel(String),
}

impl fmt::Display for NoArrows {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Atoms(list) => {
                let words = |(symbol, more): &(&str, i64)| {
                    format!("{} {symbol} {}", more.abs(), if *more > 0 { "more" } else { "fewer" })
                };
                let words: Vec<String> = list.iter().map(words).collect();
                write!(f, "the answer has other atoms than the start: {}", words.join(", "))
            }
            Self::NewAtom(atom) => write!(f, "{atom} of the answer is none of the start's atoms"),
            Self::OtherAtom(atom) => write!(f, "{atom} of the start is another atom in the answer"),
            Self::Charge(start, answer) => {
                write!(
                    f,
                    "the electrons differ: the net charge is {} in the start and {} in the answer",
                    signed(*start),
                    signed(*answer)
                )
            }
            Self::Nothing => f.write_str("the answer is the start: nothing has to move"),
            Self::Apart => f.write_str(
                "electrons would have to jump between atoms that share no bond in the start or in the answer",
            ),
            Self::TooFar => {
                f.write_str("no short way leads there: electrons would have to pass through many bonds that stay")
            }
            Self::OutOfSteps => f.write_str("no arrows were found within the limit of the search"),
            Self::NoLabel(atom) => {
                write!(f, "arrows would have to name {atom}, which has no label: label every atom or none")
            }
        }
    }
}

impl std::error::Error for NoArrows {}

/// Ways to assign hydrogens that are tried, at most.
const PAIRINGS: usize = 24;
/// Sets of arrows that are given, at most.
const WAYS: usize = 32;

/// Finds the fewest arrows from a start to an answer, both localised.
///
/// `to_answer` gives the answer's atom for each atom of the start. Hydrogens that are only drawn out need none: they are
/// matched by count. `steps` bounds the search.
///
/// # Errors
/// Why there are none.
pub fn infer(
    start: &Structure,
    answer: &Structure,
    to_answer: &[Option<AtomId>],
    steps: u64,
) -> Result<Inferred, NoArrows> {
    let (from, to) = (start.net_charge(), answer.net_charge());
    let pairings = pairings(start, answer, to_answer, PAIRINGS)?;
    if from != to {
        return Err(NoArrows::Charge(from, to));
    }
    let mut left = steps;
    let mut best: Option<(Weight, Inferred)> = None;
    let mut why = NoArrows::Apart;
    for pairing in pairings {
        match between(pairing, &mut left) {
            Ok(found) if best.as_ref().is_none_or(|(least, _)| found.0 < *least) => best = Some(found),
            Ok(_) => {}
            Err(error) => why = error,
        }
    }
    best.map(|(_, found)| found).ok_or(why)
}

/// By what sets of arrows are chosen among: their number, the bonds that they break and make, and the bonds of hydrogens
/// among these.
type Weight = (usize, i32, i32);

fn weight(start: &Structure, changes: &[balance::Change], arrows: usize) -> Weight {
    let bonds = |is_counted: &dyn Fn(AtomId) -> bool| -> i32 {
        let of_bond = |(place, change): &balance::Change| match *place {
            super::Place::Bond(a, b) if is_counted(a) || is_counted(b) => change.abs() / 2,
            _ => 0,
        };
        changes.iter().map(of_bond).sum()
    };
    let is_hydrogen = |atom: AtomId| start.atom(atom).element == Element::HYDROGEN;
    (arrows, bonds(&|_| true), bonds(&is_hydrogen))
}

/// The fewest arrows under one pairing of hydrogens.
fn between(pairing: Pairing, left: &mut u64) -> Result<(Weight, Inferred), NoArrows> {
    let Pairing { start, target } = pairing;
    let changes = changes(&start, &target);
    if changes.is_empty() {
        return Err(NoArrows::Nothing);
    }
    let found = search::solve(&start, &changes, left)?;
    // What the search promises is held to the push itself.
    let leads = |arrows: &Vec<Arrow>| {
        push(&start, arrows).is_ok_and(|pushed| self::changes(&pushed.product, &target).is_empty())
    };
    let ways: Vec<Vec<Arrow>> = found.ways.into_iter().filter(leads).collect();
    let ways = order::distinct(&start, ways, WAYS);
    if ways.is_empty() {
        return Err(NoArrows::OutOfSteps);
    }
    let weight = weight(&start, &changes, ways[0].len());
    Ok((weight, Inferred { start, ways, is_cut_short: found.is_cut_short }))
}
