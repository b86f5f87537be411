//! Which localised form and which reading of open heads a step's arrows are taken on.

use crate::arrows::resolve::{OpenArrow, readings};
use crate::arrows::{Arrow, ArrowFault, Cut, CutStep, Place, Pushed, cut, push};
use crate::structure::electrons::{ElectronFault, judge};
use crate::structure::localise::{apply, localise_with};
use crate::structure::{AtomId, BondId, OctetRule, Structure};
use smallvec::SmallVec;

/// One way to take the arrows, with its product.
#[derive(Debug, Clone)]
pub(super) struct Taken {
    /// The start in the localised form taken.
    pub(super) start: Structure,
    /// The arrows as read.
    pub(super) arrows: Vec<Arrow>,
    /// The product.
    pub(super) pushed: Pushed,
    /// Which form and which reading this is, counted from 0.
    pub(super) form: usize,
    /// The steps that the arrows are cut into, where they are several drawn as one; else none.
    pub(super) steps: Vec<CutStep>,
}

impl Taken {
    fn cut(start: Structure, arrows: Vec<Arrow>, Cut { steps, sum }: Cut, form: usize) -> Self {
        Self { start, arrows, pushed: sum, form, steps }
    }
}

/// What the arrows can be taken to mean.
#[allow(clippy::large_enum_variant, reason = "it is taken apart as soon as it is made")]
pub(super) enum Settled {
    /// Every way that is chemically possible; at least one. If none is, the first way that has a product.
    Possible(Vec<Taken>),
    /// No way has a product: the faults of the first, and its arrows.
    Faulty(Structure, Vec<Arrow>, Vec<ArrowFault>),
}

/// Tries the localised forms in which the tails find their electrons, and in each the readings of open heads.
///
/// A tail on a delocalised bond takes its pi pair, so that forms in which it is double come first; only where there are
/// none are others tried. At most `limit` ways are looked at.
pub(super) fn settle(start: Structure, open: &[(usize, OpenArrow)], octet: OctetRule, limit: usize) -> Settled {
    let plain = open.iter().all(|(_, arrow)| arrow.other_head.is_none());
    if plain && !start.is_delocalised() {
        let arrows: Vec<Arrow> = open.iter().map(|(_, arrow)| arrow.arrow).collect();
        return match push(&start, &arrows) {
            Ok(pushed) => Settled::Possible(vec![Taken { start, arrows, pushed, form: 0, steps: Vec::new() }]),
            Err(faults) => match cut_by_tails(&start, &arrows, &faults, octet) {
                Some(cut) => Settled::Possible(vec![Taken::cut(start, arrows, cut, 0)]),
                None => Settled::Faulty(start, arrows, faults),
            },
        };
    }
    settle_open(start, open, octet, limit)
}

/// The steps of arrows with which nothing is wrong but that tails do not find their electrons.
fn cut_by_tails(start: &Structure, arrows: &[Arrow], faults: &[ArrowFault], octet: OctetRule) -> Option<Cut> {
    let of_tail = |fault: &ArrowFault| matches!(fault, ArrowFault::EmptyTail { .. } | ArrowFault::Overdrawn { .. });
    if faults.iter().all(of_tail) { cut(start, arrows, octet) } else { None }
}

fn settle_open(start: Structure, open: &[(usize, OpenArrow)], octet: OctetRule, limit: usize) -> Settled {
    let forms = forms(start, open, limit);
    let mut possible: Vec<Taken> = Vec::new();
    let mut over_full: Option<Taken> = None;
    let mut several_steps: Vec<Taken> = Vec::new();
    let mut faulty = None;
    for (at, mut form) in forms.into_iter().enumerate() {
        let mut readings = readings(open, limit).peekable();
        while let Some(arrows) = readings.next() {
            let result = push(&form, &arrows);
            let start = if readings.peek().is_some() { form.clone() } else { std::mem::take(&mut form) };
            match result {
                Ok(pushed) => {
                    let sound = new_faults(&start, &pushed, &arrows, octet).is_empty();
                    let taken = Taken { start, arrows, pushed, form: at, steps: Vec::new() };
                    if sound {
                        possible.push(taken);
                    } else if over_full.is_none() {
                        over_full = Some(taken);
                    }
                }
                Err(faults) => {
                    // Several steps are looked for only where no one step is found.
                    let look = possible.is_empty() && several_steps.len() < SEVERAL;
                    let found = if look { cut_by_tails(&start, &arrows, &faults, octet) } else { None };
                    match found {
                        Some(cut) => several_steps.push(Taken::cut(start, arrows, cut, at)),
                        None => {
                            faulty.get_or_insert((start, arrows, faults));
                        }
                    }
                }
            }
        }
    }
    if possible.is_empty() {
        possible.extend(over_full);
    }
    if possible.is_empty() {
        let fewest = several_steps.iter().map(|taken| taken.steps.len()).min();
        possible.extend(several_steps.into_iter().filter(|taken| Some(taken.steps.len()) == fewest));
    }
    match faulty {
        Some((form, arrows, faults)) if possible.is_empty() => Settled::Faulty(form, arrows, faults),
        // There is a form at least, and a reading of it.
        _ if possible.is_empty() => Settled::Faulty(Structure::default(), Vec::new(), Vec::new()),
        _ => Settled::Possible(possible),
    }
}

/// Ways to take arrows as several steps that are kept.
const SEVERAL: usize = 8;

/// Whether there are more forms and readings than `limit` lets [`settle`] look at.
pub(super) fn passes_limit(start: &Structure, open: &[(usize, OpenArrow)], limit: usize) -> bool {
    let open_heads = open.iter().filter(|(_, arrow)| arrow.other_head.is_some()).count();
    open_heads > told_apart(limit)
        || start.is_delocalised() && tails_and_heads(start, open, limit).1.len() > told_apart(limit)
}

/// How many choices between two can be told apart in so many ways.
fn told_apart(limit: usize) -> usize {
    limit.max(1).ilog2() as usize
}

/// What is wrong with the electrons of the product and was not with those of the start, in the order of the drawing: no atom that the
/// arrows do not touch has changed.
pub(super) fn new_faults(
    start: &Structure,
    pushed: &Pushed,
    arrows: &[Arrow],
    octet: OctetRule,
) -> Vec<(AtomId, ElectronFault)> {
    let mut touched: SmallVec<[AtomId; 12]> =
        arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms())).collect();
    touched.sort_unstable();
    touched.dedup();
    let fault = |atom: AtomId| Some((atom, judge(&pushed.product, atom, octet)?));
    touched.into_iter().filter_map(fault).filter(|(atom, _)| judge(start, *atom, octet).is_none()).collect()
}

/// The localised forms of the start that differ at bonds which the arrows touch, best first; at least one.
fn forms(start: Structure, open: &[(usize, OpenArrow)], limit: usize) -> Vec<Structure> {
    if !start.is_delocalised() {
        return vec![start];
    }
    let (tails, heads) = tails_and_heads(&start, open, limit);
    if tails.is_empty() && heads.is_empty() {
        return vec![start];
    }
    let mut forms = with_heads(&start, &doubled(&tails), &heads, limit);
    if forms.is_empty() && !tails.is_empty() {
        // No form gives every tail its pi pair: the tails are left as they come, and the push says what is missing.
        forms = with_heads(&start, &[], &[tails, heads].concat(), limit);
    }
    if forms.is_empty() { vec![start] } else { forms }
}

/// The delocalised bonds at tails, and those at heads alone; of more heads than can be tried, those that the tails leave open.
fn tails_and_heads(start: &Structure, open: &[(usize, OpenArrow)], limit: usize) -> (Vec<BondId>, Vec<BondId>) {
    let tails = delocalised(start, open.iter().map(|(_, arrow)| arrow.arrow.tail));
    let mut heads = delocalised(start, open.iter().map(|(_, arrow)| arrow.arrow.head));
    heads.retain(|bond| !tails.contains(bond));
    // More heads than ways is no textbook's: they are not looked at one by one.
    if (told_apart(limit) + 1..=limit).contains(&heads.len()) {
        let fits =
            |bond: BondId, double| localise_with(start, &[&doubled(&tails)[..], &[(bond, double)]].concat()).is_some();
        heads.retain(|bond| fits(*bond, true) && fits(*bond, false));
    }
    (tails, heads)
}

fn doubled(bonds: &[BondId]) -> Vec<(BondId, bool)> {
    bonds.iter().map(|bond| (*bond, true)).collect()
}

/// All forms that fit `fixed`, told apart by the order of the bonds `open`.
fn with_heads(start: &Structure, fixed: &[(BondId, bool)], open: &[BondId], limit: usize) -> Vec<Structure> {
    let open = &open[..open.len().min(told_apart(limit))];
    let mut forms = Vec::new();
    for choice in 0..1_usize << open.len() {
        let mut all = fixed.to_vec();
        all.extend(open.iter().enumerate().map(|(bit, bond)| (*bond, choice >> bit & 1 == 1)));
        if let Some(double) = localise_with(start, &all) {
            let mut form = start.clone();
            apply(&mut form, &double);
            forms.push(form);
        }
    }
    forms
}

/// The delocalised bonds among places, each once.
fn delocalised<A: Into<crate::structure::AtomId> + Copy>(
    start: &Structure,
    places: impl Iterator<Item = Place<A>>,
) -> Vec<BondId> {
    let mut bonds = Vec::new();
    for place in places {
        if let Place::Bond(a, b) = place
            && let Some(bond) = start.bond_between(a.into(), b.into())
            && start.bond(bond).aromatic
            && !bonds.contains(&bond)
        {
            bonds.push(bond);
        }
    }
    bonds
}
