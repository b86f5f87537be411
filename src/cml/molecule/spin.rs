//! The spin of a whole molecule, laid on its atoms where only one way is possible.
//!
//! A multiplicity of m is m - 1 unpaired electrons (IUPAC Gold Book M04062). Atoms whose count is odd carry one each. What is
//! left over was drawn in the place of hydrogens that the valence rule would add (programs that draw every hydrogen write
//! radicals so), or is the open pair of the only atom that has one (carbenes, nitrenes).

use super::super::fault::Problem;
use super::Drawn;
use super::ids::atoms_inside;
use super::rows::AtomRow;
use crate::structure::AtomId;
use crate::structure::electrons::Electrons;

/// Lays the spin of every molecule that states one on its atoms.
pub(super) fn settle(drawn: &mut Drawn, rows: &[AtomRow]) {
    if drawn.frames.iter().all(|frame| frame.spin.is_none()) {
        return;
    }
    for (at, inside) in atoms_inside(drawn).into_iter().enumerate() {
        let Some((multiplicity, span)) = drawn.frames[at].spin else { continue };
        let atoms: Vec<AtomId> = inside.map(AtomId::new).collect();
        let judged = atoms.iter().all(|id| drawn.structure.atom(*id).element.is_judged());
        if atoms.is_empty() || !judged {
            continue;
        }
        if let Err(problem) = lay(drawn, rows, &atoms, multiplicity) {
            drawn.faults.push(problem, span);
        }
    }
}

fn lay(drawn: &mut Drawn, rows: &[AtomRow], atoms: &[AtomId], multiplicity: i64) -> Result<(), Problem> {
    let wanted = multiplicity.saturating_sub(1);
    let found: i64 = atoms.iter().map(|id| unpaired(drawn, *id)).sum();
    if wanted == found {
        return Ok(());
    }
    let rest = wanted.saturating_sub(found);
    if rest < 0 {
        // Unpaired electrons on two atoms may pair their spins: an open-shell singlet. An odd one cannot.
        return if rest % 2 == 0 { Ok(()) } else { Err(Problem::SpinCount { multiplicity, found }) };
    }
    if in_place_of_hydrogens(drawn, rows, atoms, rest) || on_open_pair(drawn, atoms, rest) {
        return Ok(());
    }
    Err(if rest % 2 == 0 { Problem::Spin(multiplicity) } else { Problem::SpinCount { multiplicity, found } })
}

/// Unpaired electrons of an atom as drawn; ring atoms have none until they are localised.
fn unpaired(drawn: &Drawn, id: AtomId) -> i64 {
    let atom = drawn.structure.atom(id);
    if atom.aromatic && atom.unpaired.is_none() {
        return 0;
    }
    i64::from(crate::structure::electrons::unpaired(&drawn.structure, id))
}

fn in_place_of_hydrogens(drawn: &mut Drawn, rows: &[AtomRow], atoms: &[AtomId], rest: i64) -> bool {
    let by_rule = |id: &AtomId| rows[id.index()].hydrogens.is_none() && drawn.structure.atom(*id).hydrogens > 0;
    let open: Vec<AtomId> = atoms.iter().copied().filter(by_rule).collect();
    let total: i64 = open.iter().map(|id| i64::from(drawn.structure.atom(*id).hydrogens)).sum();
    let Ok(all) = u16::try_from(rest) else { return false };
    let shares: Vec<(AtomId, u16)> = match &open[..] {
        [one] if total >= rest => vec![(*one, all)],
        several if total == rest => several.iter().map(|id| (*id, drawn.structure.atom(*id).hydrogens)).collect(),
        _ => return false,
    };
    for (id, share) in shares {
        let atom = drawn.structure.atom_mut(id);
        // A share is at most the hydrogens that the valence rule gave the atom.
        atom.hydrogens = atom.hydrogens.saturating_sub(share);
        atom.unpaired = Some(atom.unpaired.unwrap_or(0).saturating_add(u8::try_from(share).unwrap_or(u8::MAX)));
    }
    true
}

fn on_open_pair(drawn: &mut Drawn, atoms: &[AtomId], rest: i64) -> bool {
    let is_open = |id: &AtomId| {
        let electrons = Electrons::of(&drawn.structure, *id);
        let pair = electrons.non_bonding().is_some_and(|n| i64::from(n) == rest);
        let atom = drawn.structure.atom(*id);
        pair && !atom.aromatic && atom.unpaired.is_none() && electrons.shell().is_some_and(|shell| shell < 8)
    };
    let open: Vec<AtomId> = atoms.iter().copied().filter(is_open).collect();
    let [one] = &open[..] else { return false };
    drawn.structure.atom_mut(*one).unpaired = u8::try_from(rest).ok();
    true
}
