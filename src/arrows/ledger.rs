//! A push worked through in plain sentences: tail by tail, head by head, string by string, then the net charges.

use super::chains::chains;
use super::{Arrow, Moves, Place, Pushed};
use crate::source::signed;
use crate::structure::{AtomId, Structure};

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
    use crate::structure::electrons::Electrons;
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
    arrows
        .iter()
        .enumerate()
        .map(|(at, arrow)| format!("Arrow {}: {}, {}.", at + 1, tail(start, arrow), head(start, pushed, arrow)))
        .collect()
}

fn tail(start: &Structure, arrow: &Arrow) -> String {
    match (arrow.tail, arrow.moves) {
        (Place::Atom(atom), Moves::Pair) => format!("a lone pair of {} moves", start.call(atom)),
        (Place::Atom(atom), Moves::Single) => format!("one electron of {} moves", start.call(atom)),
        (Place::Bond(a, b), moves) => {
            let order = start.bond_between(a, b).map_or(0, |bond| start.bond(bond).order);
            let kind = if order > 1 { "pi" } else { "sigma" };
            let what = if moves == Moves::Pair { "pair" } else { "electron" };
            let one = if moves == Moves::Pair { "the" } else { "one" };
            format!("{one} {kind} {what} of the bond {}-{} moves", start.call(a), start.call(b))
        }
    }
}

fn head(start: &Structure, pushed: &Pushed, arrow: &Arrow) -> String {
    match (arrow.head, arrow.moves) {
        (Place::Atom(atom), Moves::Pair) => format!("and becomes a lone pair of {}", start.call(atom)),
        (Place::Atom(atom), Moves::Single) => format!("and stays unpaired on {}", start.call(atom)),
        (Place::Bond(a, b), _) => {
            let change =
                pushed.bonds.iter().find(|change| [change.between.0, change.between.1] == [a.min(b), a.max(b)]);
            let between = format!("between {} and {}", start.call(a), start.call(b));
            match change.map(|change| (change.before, change.after)) {
                Some((0, _)) => format!("and makes a new sigma bond {between}"),
                Some((before, after)) if after > before => format!("and makes a pi bond {between}"),
                _ => format!("and comes to sit {between}"),
            }
        }
    }
}

/// One sentence for each string of arrows: which two charges change, and why those between stay.
#[must_use]
pub fn string_sentences(start: &Structure, product: &Structure, arrows: &[Arrow]) -> Vec<String> {
    chains(arrows)
        .iter()
        .map(|chain| {
            let numbers = list(chain.arrows.iter().map(|arrow| (arrow + 1).to_string()));
            let one = chain.arrows.len() == 1;
            let arrows = if one { "Arrow" } else { "Arrows" };
            let (Some(first), Some(last)) = (chain.atoms.first(), chain.atoms.last()) else { return String::new() };
            if chain.is_closed() {
                let close = if one { "closes on itself" } else { "close on themselves" };
                return format!("{arrows} {numbers} {close}: every atom loses as much as it gains, no charge changes.");
            }
            let change = |atom: &AtomId| {
                let (before, after) = (start.atom(*atom).charge, product.atom(*atom).charge);
                format!("{} ({} to {})", start.call(*atom), signed(before), signed(after))
            };
            let middle = chain.atoms.get(1..chain.atoms.len() - 1).unwrap_or_default();
            let between = match middle {
                [] => String::new(),
                atoms => {
                    let names = list(atoms.iter().map(|atom| start.call(*atom)));
                    let verb = if atoms.len() == 1 {
                        "loses as much as it gains and keeps its charge"
                    } else {
                        "lose as much as they gain and keep their charges"
                    };
                    format!(" In the middle {names} {verb}.")
                }
            };
            format!(
                "{arrows} {numbers} {} from {} to {}: along this string only {} and {} change charge.{between}",
                if one { "runs" } else { "run" },
                start.call(*first),
                start.call(*last),
                change(first),
                change(last)
            )
        })
        .collect()
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
