//! Which counts of electrons are possible, looked up instead of worked out.

use super::sketch::Atom;
use crate::structure::electrons::{Electrons, judge_count};
use crate::structure::{Element, OctetRule};
use std::sync::LazyLock;

/// Charges from -8 to +7 and bonds from 0 to 15 are in the table; what people draw has fewer.
const CHARGES: i32 = 8;
const BONDS: u8 = 16;

/// What [`judge_count`] says of every element, charge and number of bonds.
#[derive(Debug)]
pub(super) struct Shells {
    rows: Vec<Row>,
}

#[derive(Debug, Clone, Copy, Default)]
struct Row {
    /// By charge and bonds, a bit for each: electrons are judged, and possible.
    possible: [u16; 2 * CHARGES as usize],
    /// Whether the number of valence electrons is odd.
    is_odd: bool,
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
        // The row of `*`, whose electrons are not judged.
        let mut rows = vec![Row::default()];
        for element in (1..=u8::MAX).map_while(Element::from_number) {
            let mut row = Row::default();
            let Some(valence) = element.valence_electrons() else {
                rows.push(row);
                continue;
            };
            row.is_odd = valence % 2 != 0;
            for (charge, bits) in (-CHARGES..).zip(&mut row.possible) {
                for bonds in 0..BONDS {
                    let electrons = Electrons { valence: Some(valence), bonds: i32::from(bonds), charge };
                    *bits |= u16::from(judge_count(element, electrons, rule).is_none()) << bonds;
                }
            }
            rows.push(row);
        }
        Self { rows }
    }

    fn row(&self, atom: &Atom) -> Option<&Row> {
        self.rows.get(usize::from(atom.element.number()))
    }

    /// Whether the electrons of an atom are judged and possible.
    #[inline]
    pub(super) fn are_possible(&self, atom: &Atom) -> bool {
        let charge = i32::from(atom.charge) + CHARGES;
        let bits = self.row(atom).and_then(|row| row.possible.get(charge as usize));
        atom.bonds < BONDS && bits.is_some_and(|bits| bits >> atom.bonds & 1 != 0)
    }

    /// Whether the number of its non-bonding electrons is odd.
    #[inline]
    pub(super) fn is_odd(&self, atom: &Atom) -> bool {
        let counts = atom.charge.cast_unsigned() ^ atom.bonds;
        self.row(atom).is_some_and(|row| row.is_odd) != (counts & 1 != 0)
    }
}
