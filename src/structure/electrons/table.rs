//! Which counts of electrons are possible, looked up instead of worked out.

use super::{Electrons, judge_count};
use crate::structure::{Element, OctetRule};
use std::sync::LazyLock;

/// Charges from -16 to +15 and bonds from 0 to 15 are in the table; what people draw has fewer.
const CHARGES: i32 = 16;
const BONDS: u32 = 16;

/// What [`judge_count`] says of every element, charge and number of bonds.
#[derive(Debug)]
pub(crate) struct Shells {
    /// By element and charge, two bits for each number of bonds: that electrons are judged and possible, and, from bit 16 on, that
    /// their number is odd.
    rows: Box<[[u32; 2 * CHARGES as usize]]>,
}

/// What the table says of an atom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Known {
    /// Its electrons are judged and possible.
    pub(crate) is_possible: bool,
    /// The number of the non-bonding ones is odd.
    pub(crate) is_odd: bool,
}

impl Shells {
    /// The table of a rule, made once.
    pub(crate) fn of(rule: OctetRule) -> &'static Self {
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
                    let electrons = Electrons { valence: Some(valence), bonds: bonds as i32, charge };
                    let is_odd = (valence - charge - bonds as i32) % 2 != 0;
                    *bits |= u32::from(judge_count(element, electrons, rule).is_none()) << bonds;
                    *bits |= u32::from(is_odd) << (BONDS + bonds);
                }
            }
        }
        Self { rows }
    }

    /// Looks up an atom of an element with this charge and sum of bond orders, undrawn hydrogens included. What is not in the table is
    /// not known to be possible.
    #[inline]
    pub(crate) fn look_up(&self, element: Element, charge: i16, bonds: u32) -> Known {
        let row = &self.rows[usize::from(element.number())];
        let charge = (i32::from(charge) + CHARGES) as usize;
        let bits = row.get(charge).filter(|_| bonds < BONDS).map_or(0, |bits| bits >> bonds);
        Known { is_possible: bits & 1 != 0, is_odd: bits >> BONDS & 1 != 0 }
    }
}
