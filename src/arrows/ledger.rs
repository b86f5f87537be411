//! A push worked through in plain sentences: tail by tail, head by head, string by string, then the net charges.

use super::chains::{Chain, chains};
use super::{Arrow, Moves, Place, Pushed};
use crate::source::signed;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashMap;

/// The account of one touched atom before and after.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AtomAccount {
    /// The atom.
    pub atom: AtomId,
    /// Formal charge before and after.
    pub charge: (i16, i16),
    /// Non-bonding electrons before and after, where they are judged.
    pub non_bonding: Option<(i32, i32)>,
    /// Sum of bond orders before and after.
    pub bonds: (i32, i32),
}

/// The accounts of all atoms that arrows touch, in the order of the drawing.
#[must_use]
pub fn accounts(start: &Structure, product: &Structure, arrows: &[Arrow]) -> Vec<AtomAccount> {
    let mut atoms: Vec<AtomId> = arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms())).collect();
    atoms.sort_unstable();
    atoms.dedup();
    let account = |atom| {
        let (before, after) = (Electrons::of(start, atom), Electrons::of(product, atom));
        AtomAccount {
            atom,
            charge: (start.atom(atom).charge, product.atom(atom).charge),
            non_bonding: before.non_bonding().zip(after.non_bonding()),
            bonds: (before.bonds, after.bonds),
        }
    };
    atoms.into_iter().map(account).collect()
}

/// One sentence for each arrow: its tail, then its head.
#[must_use]
pub fn arrow_sentences(start: &Structure, pushed: &Pushed, arrows: &[Arrow]) -> Vec<String> {
    let (mut taken, mut given) = (FxHashMap::default(), FxHashMap::default());
    arrows
        .iter()
        .enumerate()
        .map(|(at, arrow)| {
            let electrons = arrow.moves.electrons();
            let before = |counts: &mut FxHashMap<(AtomId, AtomId), i32>, place: Place<AtomId>| match place {
                Place::Atom(_) => 0,
                Place::Bond(a, b) => {
                    let count = counts.entry((a.min(b), a.max(b))).or_insert(0);
                    *count += electrons;
                    *count - electrons
                }
            };
            let (taken, given) = (before(&mut taken, arrow.tail), before(&mut given, arrow.head));
            format!("Arrow {}: {}, {}.", at + 1, tail(start, arrow, taken), head(start, pushed, arrow, given))
        })
        .collect()
}

/// `taken` electrons of its bond go by arrows before this one: a double bond gives its pi pair first.
fn tail(start: &Structure, arrow: &Arrow, taken: i32) -> String {
    match (arrow.tail, arrow.moves) {
        (Place::Atom(atom), Moves::Pair) => format!("a lone pair of {} moves", start.call(atom)),
        (Place::Atom(atom), Moves::Single) => format!("one electron of {} moves", start.call(atom)),
        (Place::Bond(a, b), moves) => {
            let order = start.bond_between(a, b).map_or(0, |bond| start.bond(bond).order);
            let kind = if 2 * i32::from(order) - taken > 2 { "pi" } else { "sigma" };
            let what = if moves == Moves::Pair { "pair" } else { "electron" };
            let one = if moves == Moves::Pair { "the" } else { "one" };
            format!("{one} {kind} {what} of the bond {}-{} moves", start.call(a), start.call(b))
        }
    }
}

/// `given` electrons come to its bond by arrows before this one: atoms that were not bonded get a sigma bond first.
fn head(start: &Structure, pushed: &Pushed, arrow: &Arrow, given: i32) -> String {
    match (arrow.head, arrow.moves) {
        (Place::Atom(atom), Moves::Pair) => format!("and becomes a lone pair of {}", start.call(atom)),
        (Place::Atom(atom), Moves::Single) => format!("and stays unpaired on {}", start.call(atom)),
        (Place::Bond(a, b), _) => {
            let change =
                pushed.bonds.iter().find(|change| [change.between.0, change.between.1] == [a.min(b), a.max(b)]);
            let between = format!("between {} and {}", start.call(a), start.call(b));
            match change.map(|change| (change.before, change.after)) {
                Some((0, _)) if given < 2 => format!("and makes a new sigma bond {between}"),
                Some((before, after)) if after > before => format!("and makes a pi bond {between}"),
                _ => format!("and comes to sit {between}"),
            }
        }
    }
}

/// One sentence or two for each string of arrows: which two charges change, and why those between stay.
#[must_use]
pub fn string_sentences(start: &Structure, product: &Structure, arrows: &[Arrow]) -> Vec<String> {
    chains(arrows).iter().map(|chain| string_sentence(start, product, arrows, chain)).collect()
}

fn string_sentence(start: &Structure, product: &Structure, arrows: &[Arrow], chain: &Chain) -> String {
    let (Some(first), Some(last)) = (chain.atoms.first(), chain.atoms.last()) else { return String::new() };
    let one = chain.arrows.len() == 1;
    let verb = |single: &'static str, several: &'static str| if one { single } else { several };
    let is_single = |arrow: &usize| arrows.get(*arrow).is_some_and(|arrow| arrow.moves == Moves::Single);
    if chain.is_closed() && chain.arrows.iter().all(is_single) {
        return single_electrons(start, product, chain);
    }
    let numbers = format!("{} {}", verb("Arrow", "Arrows"), numbers(&chain.arrows));
    if chain.is_closed() {
        let runs = verb("closes", "close");
        return format!("{numbers} {runs} to a ring: every atom loses as much as it gains, no charge changes.");
    }
    // Another string may end at the same atom.
    let change = |atom: &AtomId, own: i16| {
        let (before, after) = (start.atom(*atom).charge, product.atom(*atom).charge);
        let name = start.call(*atom);
        let is_all = after.saturating_sub(before) == own || chain.arrows.iter().any(is_single);
        if is_all {
            format!("{name} ({} to {})", signed(before), signed(after))
        } else {
            format!("{name} (by {})", signed(own))
        }
    };
    format!(
        "{numbers} {} from {} to {}: along this string only {} and {} change charge.{}{}",
        verb("runs", "run"),
        start.call(*first),
        start.call(*last),
        change(first, 1),
        change(last, -1),
        in_the_middle(start, chain),
        at_pivots(start, arrows, chain)
    )
}

fn numbers(arrows: &[usize]) -> String {
    list(arrows.iter().map(|arrow| (arrow + 1).to_string()))
}

/// Why the atoms keep their charges that give what an arrow brings on with the next one.
fn in_the_middle(start: &Structure, chain: &Chain) -> String {
    let middle = chain.atoms.get(1..chain.atoms.len() - 1).unwrap_or_default();
    let names = list(middle.iter().map(|atom| start.call(*atom)));
    match middle.len() {
        0 => String::new(),
        1 => format!(" In the middle {names} loses as much as it gains and keeps its charge."),
        _ => format!(" In the middle {names} lose as much as they gain and keep their charges."),
    }
}

/// Why the atoms keep their charges round which a pair swings from one bond into another.
fn at_pivots(start: &Structure, arrows: &[Arrow], chain: &Chain) -> String {
    let pivot = |arrow: &usize| {
        let arrow = arrows.get(*arrow)?;
        let (Place::Bond(..), Place::Bond(..)) = (arrow.tail, arrow.head) else { return None };
        arrow.tail.atoms().find(|atom| arrow.head.touches(*atom) && !chain.atoms.contains(atom))
    };
    let pivots: Vec<AtomId> = chain.arrows.iter().filter_map(pivot).collect();
    let names = list(pivots.iter().map(|atom| start.call(*atom)));
    match pivots.len() {
        0 => String::new(),
        1 => format!(" {names} stays at the pair that moves and keeps its charge."),
        _ => format!(" {names} stay at the pairs that move and keep their charges."),
    }
}

/// A ring of half-headed arrows: bonds part or form evenly.
fn single_electrons(start: &Structure, product: &Structure, chain: &Chain) -> String {
    let mut arrows = chain.arrows.clone();
    arrows.sort_unstable();
    let is_odd = |structure: &Structure, atom: AtomId| {
        Electrons::of(structure, atom).non_bonding().is_some_and(|electrons| electrons % 2 != 0)
    };
    let mut atoms = chain.atoms.clone();
    atoms.sort_unstable();
    atoms.dedup();
    let (mut paired, mut left) = (Vec::new(), Vec::new());
    for atom in atoms {
        match (is_odd(start, atom), is_odd(product, atom)) {
            (true, false) => paired.push(start.call(atom)),
            (false, true) => left.push(start.call(atom)),
            _ => {}
        }
    }
    let paired = match (paired.len(), list(paired.into_iter())) {
        (0, _) => String::new(),
        (1, name) => format!(" The unpaired electron of {name} is paired now."),
        (_, names) => format!(" The unpaired electrons of {names} are paired now."),
    };
    let left = match (left.len(), list(left.into_iter())) {
        (0, _) => String::new(),
        (1, name) => format!(" {name} is left with an unpaired electron."),
        (_, names) => format!(" {names} are left with an unpaired electron each."),
    };
    let numbers = numbers(&arrows);
    format!(
        "Arrows {numbers} move one electron each: of every bond that they make or break each of its atoms has one, so that no charge changes.{paired}{left}"
    )
}

/// Which atoms change charge, in one sentence.
#[must_use]
pub fn charge_sentence(start: &Structure, product: &Structure, arrows: &[Arrow]) -> String {
    let changed: Vec<String> = accounts(start, product, arrows)
        .iter()
        .filter(|account| account.charge.0 != account.charge.1)
        .map(|account| {
            let label = start.label(account.atom).map_or_else(|| start.call(account.atom), |label| label.to_string());
            format!("{label} ({} to {})", signed(account.charge.0), signed(account.charge.1))
        })
        .collect();
    match changed.as_slice() {
        [] => "No atom changes charge.".to_owned(),
        [one] => format!("Only atom {one} changes charge."),
        _ => format!("Only atoms {} change charge.", list(changed.into_iter())),
    }
}

/// Both net charges in one sentence.
#[must_use]
pub fn net_sentence(start: &Structure, product: &Structure) -> String {
    format!("Net charge: {} before, {} after.", signed(start.net_charge()), signed(product.net_charge()))
}

fn list(mut items: impl Iterator<Item = String>) -> String {
    let Some(mut text) = items.next() else { return String::new() };
    let rest: Vec<String> = items.collect();
    for (at, item) in rest.iter().enumerate() {
        text.push_str(if at + 1 == rest.len() { " and " } else { ", " });
        text.push_str(item);
    }
    text
}
