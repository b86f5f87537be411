//! Which counts of electrons are possible, looked up instead of worked out.

use super::sketch::Atom;
use crate::structure::electrons::{Electrons, judge_count};
use crate::structure::{Element, OctetRule};
use std::sync::LazyLock;

/// Charges from -16 to +15 and bonds from 0 to 15 are in the table; what people draw has fewer.
const CHARGES: i32 = 16;
const BONDS: u8 = 16;

/// What [`judge_count`] says of every element, charge and number of bonds.
#[derive(Debug)]
pub(super) struct Shells {
    /// By element and charge, two bits for each number of bonds: that electrons are judged and possible, and, from bit 16 on, that
    /// their number is odd.
    rows: Box<[[u32; 2 * CHARGES as usize]]>,
}

impl Shells {
    /// The table of a rule, made once.
    pub(super) fn of(rule: OctetRule) -> &'static Self {
        static USUAL: LazyLock<Shells> = LazyLock::new(|| Shells::new(OctetRule::Usual));
        static STRICT: LazyLock<Shells> = LazyLock::new(|| Shells::new(OctetRule::Strict));
        match rule {
            OctetRule::Usual => &USUAL,
            OctetRule::Strict => &STRICT,
        }
    }

    fn new(rule: OctetRule) -> Self {
        // The rows of what is no element, and of those whose electrons are not judged, stay empty.
        let mut rows = vec![[0; 2 * CHARGES as usize]; 256].into_boxed_slice();
        for (row, element) in rows.iter_mut().skip(1).zip((1..=u8::MAX).map_while(Element::from_number)) {
            let Some(valence) = element.valence_electrons() else { continue };
            for (charge, bits) in (-CHARGES..).zip(row) {
                for bonds in 0..BONDS {
                    let electrons = Electrons { valence: Some(valence), bonds: i32::from(bonds), charge };
                    let is_odd = (valence - charge - i32::from(bonds)) % 2 != 0;
                    *bits |= u32::from(judge_count(element, electrons, rule).is_none()) << bonds;
                    *bits |= u32::from(is_odd) << (BONDS + bonds);
                }
            }
        }
        Self { rows }
    }

    /// Whether the electrons of an atom are judged and possible, and whether the number of the non-bonding ones is odd.
    #[inline]
    pub(super) fn look_up(&self, atom: &Atom) -> (bool, bool) {
        let row = &self.rows[usize::from(atom.element.number())];
        let charge = (i32::from(atom.charge) + CHARGES) as usize;
        let bits = row.get(charge).filter(|_| atom.bonds < BONDS).map_or(0, |bits| bits >> atom.bonds);
        (bits & 1 != 0, bits >> BONDS & 1 != 0)
    }
}
