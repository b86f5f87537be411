//! The ledger of a step: every touched atom's electrons before and after, every arrow in a sentence, the net charges.

use super::panels::Drawings;
use super::text::{MESSAGE, shown};
use crate::arrows::ledger::{arrow_sentences, charge_sentence, string_sentences};
use crate::compare::Difference;
use crate::compare::difference::{is_folded, total_hydrogens};
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
    /// The charge in the stated answer; `None` where nothing is stated.
    pub(super) stated: Option<String>,
    pub(super) differs: bool,
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

/// The atoms that arrows touch, and those that differ without, other than in a bond.
fn atoms(step: &StepAudit, drawings: &Drawings) -> Vec<AtomId> {
    let places = step.arrows.iter().flat_map(|arrow| arrow.tail.atoms().chain(arrow.head.atoms()));
    let atomic = drawings.differences().iter().filter(|difference| !matches!(difference, Difference::Bond(..)));
    let differing = atomic.flat_map(|difference| difference.atoms());
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
    let folded = stated.is_some_and(|_| is_folded(product, atom));
    let other = stated.and_then(|stated| Some((stated, drawings.stated_atom(atom)?)));
    let stated_charge = stated.filter(|_| !folded).map(|_| match other {
        None => "not drawn".to_owned(),
        Some((stated, own)) => signed(i64::from(stated.atom(own).charge)),
    });
    let differs = match other {
        None => !folded && drawings.differences().iter().any(|difference| difference.atoms().any(|own| own == atom)),
        Some((stated, own)) => {
            stated.atom(own).charge != product.atom(atom).charge
                || stated.atom(own).element != product.atom(atom).element
                || total_hydrogens(stated, own) != total_hydrogens(product, atom)
        }
    };
    Row {
        atom: shown(&start.call(atom), 40),
        touched: step.arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom)),
        bonds: Change { before: before.bonds.to_string(), after: after.bonds.to_string() },
        electrons: Change { before: electrons(before), after: electrons(after) },
        charge: Change { before: signed(before.charge.into()), after: signed(after.charge.into()) },
        stated: stated_charge,
        differs,
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
