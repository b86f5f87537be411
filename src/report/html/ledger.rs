//! The ledger of a step: every touched atom's electrons before and after, every arrow in a sentence, the net charges.

use super::panels::Drawings;
use super::text::{MESSAGE, shown};
use crate::arrows::ledger::{arrow_sentences, charge_sentence, string_sentences};
use crate::compare::Difference;
use crate::compare::difference::is_folded;
use crate::findings::StepAudit;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, Structure};
use std::fmt::Write as _;

/// Atoms and sentences that a card shows; textbook steps have fewer than ten.
const SHOWN: usize = 64;

/// One number before and after.
pub(super) struct Change {
    pub(super) before: String,
    pub(super) after: String,
}

impl Change {
    /// Whether the arrows leave it as it was.
    pub(super) fn stays(&self) -> bool {
        self.before == self.after
    }
}

/// One atom.
pub(super) struct Row {
    pub(super) atom: String,
    pub(super) touched: bool,
    pub(super) bonds: Change,
    pub(super) electrons: Change,
    pub(super) charge: Change,
    /// What the stated answer has instead: `stated 0`, `stated P`, `no bond to C5`; empty where nothing differs.
    pub(super) difference: String,
}

/// The ledger as a card shows it.
pub(super) struct Ledger {
    pub(super) rows: Vec<Row>,
    pub(super) more_rows: usize,
    pub(super) has_stated: bool,
    pub(super) arrows: Vec<String>,
    pub(super) more_arrows: usize,
    pub(super) strings: Vec<String>,
    pub(super) charge: String,
    pub(super) net: String,
    pub(super) net_differs: bool,
    /// Atoms whose electrons are not judged.
    pub(super) unjudged: String,
}

/// The ledger of a step whose arrows could be applied.
pub(super) fn ledger(step: &StepAudit, drawings: &Drawings) -> Option<Ledger> {
    let (start, pushed, product) = (drawings.start?, step.pushed.as_ref()?, drawings.product?);
    let atoms = atoms(step, drawings);
    let stated = drawings.stated.as_ref().filter(|_| step.compared.is_some());
    let arrows = step.arrows.get(..step.arrows.len().min(SHOWN)).unwrap_or_default();
    let strings = string_sentences(start, product, &step.arrows);
    let (net, net_differs) = net(start, product, stated, step);
    Some(Ledger {
        rows: atoms.iter().take(SHOWN).map(|atom| row(*atom, step, drawings, (start, product, stated))).collect(),
        more_rows: atoms.len().saturating_sub(SHOWN),
        has_stated: stated.is_some(),
        arrows: arrow_sentences(start, pushed, arrows).iter().map(|sentence| shown(sentence, MESSAGE)).collect(),
        more_arrows: step.arrows.len() - arrows.len(),
        strings: strings.iter().take(SHOWN).map(|sentence| shown(sentence, MESSAGE)).collect(),
        charge: shown(&charge_sentence(start, product, &step.arrows), MESSAGE),
        net,
        net_differs,
        unjudged: unjudged(start),
    })
}

/// Rows of a step's ledger that are marked as differing, for a measure: the charge that the arrows lead to, and the words.
#[must_use]
pub fn marked_rows(step: &StepAudit) -> Vec<[String; 2]> {
    let rows = ledger(step, &Drawings::new(step, false)).map_or_else(Vec::new, |ledger| ledger.rows);
    let marked = rows.into_iter().filter(|row| !row.difference.is_empty());
    marked.map(|row| [row.charge.after, row.difference]).collect()
}

/// The atoms that arrows touch, and those that differ without.
fn atoms(step: &StepAudit, drawings: &Drawings) -> Vec<AtomId> {
    let places = step.arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms()));
    let differing = drawings.differences().iter().flat_map(|difference| difference.atoms());
    let mut atoms: Vec<AtomId> = places.chain(differing).collect();
    atoms.sort_unstable();
    atoms.dedup();
    atoms
}

fn row(
    atom: AtomId,
    step: &StepAudit,
    drawings: &Drawings,
    (start, product, stated): (&Structure, &Structure, Option<&Structure>),
) -> Row {
    let (before, after) = (Electrons::of(start, atom), Electrons::of(product, atom));
    let electrons = |own: Electrons| own.non_bonding().map_or("not judged".to_owned(), |n| n.to_string());
    let difference = stated.map(|stated| difference(atom, drawings, product, stated)).unwrap_or_default();
    Row {
        atom: shown(&start.call(atom), 40),
        touched: step.arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom)),
        bonds: Change { before: before.bonds.to_string(), after: after.bonds.to_string() },
        electrons: Change { before: electrons(before), after: electrons(after) },
        charge: Change { before: signed(before.charge.into()), after: signed(after.charge.into()) },
        difference,
    }
}

/// How an atom of the product differs in the stated answer, in a few words.
fn difference(atom: AtomId, drawings: &Drawings, product: &Structure, stated: &Structure) -> String {
    let own = drawings.differences().iter().filter(|difference| difference.atoms().any(|own| own == atom));
    let words: Vec<String> = own.map(|difference| stated_instead(*difference, atom, product, stated)).collect();
    let mut text = words.join(", ");
    if text.is_empty() && !is_folded(product, atom) && drawings.stated_atom(atom).is_none() && drawings.leaves_out(atom)
    {
        "left out".clone_into(&mut text);
    }
    shown(&text, MESSAGE)
}

/// What is stated instead, as far as it concerns one atom.
fn stated_instead(difference: Difference, atom: AtomId, product: &Structure, stated: &Structure) -> String {
    match difference {
        Difference::Element(_, _, is) => format!("stated {}", is.symbol()),
        Difference::Isotope(_, _, Some(mass)) => format!("stated isotope {mass}"),
        Difference::Isotope(_, _, None) => "stated without isotope".to_owned(),
        Difference::Charge(_, _, is) => format!("stated {}", signed(is.into())),
        Difference::Hydrogens(_, _, is) => format!("stated {is} H"),
        Difference::Unpaired(_, _, is) => format!("stated {is} unpaired"),
        Difference::Bond(a, b, _, is) => {
            let other = product.call(if a == atom { b } else { a });
            match is {
                0 => format!("no bond to {other}"),
                1 => format!("single bond to {other}"),
                2 => format!("double bond to {other}"),
                3 => format!("triple bond to {other}"),
                more => format!("bond of order {more} to {other}"),
            }
        }
        Difference::Missing(_) => "not drawn".to_owned(),
        Difference::Extra(own) => format!("{} more", stated.call(own)),
    }
}

/// Net charges in one sentence, and whether the stated one is another.
fn net(start: &Structure, product: &Structure, stated: Option<&Structure>, step: &StepAudit) -> (String, bool) {
    let mut text =
        format!("Net charge: {} before, {} after the arrows", signed(start.net_charge()), signed(product.net_charge()));
    let mut differs = false;
    if let (Some(stated), Some(compared)) = (stated, &step.compared) {
        let omitted = compared.differences.omitted.iter().flatten();
        let left_out: i64 = omitted.map(|atom| i64::from(product.atom(*atom).charge)).sum();
        let _ = write!(text, ", {} stated", signed(stated.net_charge()));
        if left_out != 0 {
            let _ = write!(text, " (and {} on species left out)", signed(left_out));
        }
        differs = stated.net_charge() + left_out != start.net_charge();
    }
    text.push('.');
    (text, differs)
}

/// A charge as it is written: `+1`, `−1`, `0`.
fn signed(charge: i64) -> String {
    match charge {
        0 => "0".to_owned(),
        1.. => format!("+{charge}"),
        _ => format!("\u{2212}{}", charge.unsigned_abs()),
    }
}

fn unjudged(start: &Structure) -> String {
    let names: Vec<String> = start
        .atoms()
        .filter(|(_, atom)| !atom.element.is_judged())
        .take(SHOWN)
        .map(|(id, _)| shown(&start.call(id), 40))
        .collect();
    names.join(", ")
}
