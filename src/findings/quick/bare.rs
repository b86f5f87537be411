//! Atoms without brackets: what each symbol is and how many hydrogens are understood at it, looked up instead of worked out.

use super::sketch::Atom;
use crate::smiles::{bare_symbol, understood_hydrogens};
use crate::structure::Element;
use std::sync::LazyLock;

/// Marks hydrogens that the valence rule fills in at the end.
const UNDERSTOOD: u8 = u8::MAX;
/// Sums of bond orders in the table: six bonds of an atom, of order 3 at most, come to fewer.
const BONDS: usize = 32;
/// No symbol.
const NONE: u8 = u8::MAX;

/// The symbols and their hydrogens.
#[derive(Debug)]
pub(super) struct Bare {
    symbols: Vec<Symbol>,
    by_byte: Vec<Initial>,
}

#[derive(Debug)]
struct Symbol {
    /// The atom before its hydrogens are counted; its code is the number of the symbol.
    atom: Atom,
    /// Hydrogens by the orders of the bonds that are drawn, and the code of the atom with them.
    counted: [(u8, u64); BONDS],
}

/// What a byte begins.
#[derive(Debug, Clone, Copy)]
struct Initial {
    /// The symbol of this byte alone.
    one: u8,
    /// The symbol of this byte and the one behind it, where that is `second`.
    two: u8,
    second: u8,
}

impl Bare {
    /// The table, made once.
    pub(super) fn get() -> &'static Self {
        static TABLE: LazyLock<Bare> = LazyLock::new(Bare::new);
        &TABLE
    }

    fn new() -> Self {
        let mut table = Self { symbols: Vec::new(), by_byte: Vec::new() };
        for byte in 0..=u8::MAX {
            let one = table.note(byte, None, 1);
            let longer = (b'a'..=b'z').map(|second| (table.note(byte, Some(second), 2), second));
            let (two, second) = longer.filter(|(two, _)| *two != NONE).last().unwrap_or((NONE, 0));
            table.by_byte.push(Initial { one, two, second });
        }
        table
    }

    /// Notes a symbol of this length; gives its number.
    fn note(&mut self, byte: u8, next: Option<u8>, length: usize) -> u8 {
        let Some((element, aromatic, _)) = bare_symbol(byte, next).filter(|(.., own)| *own == length) else {
            return NONE;
        };
        // Left to the full way: their bonds are not counted here.
        if element == Element::ANY || (aromatic && matches!(element, Element::BORON | Element::PHOSPHORUS)) {
            return NONE;
        }
        let number = self.symbols.len() as u8;
        let atom = Atom { hydrogens: UNDERSTOOD, code: u64::from(number), ..Atom::new(element).written(aromatic) };
        let counted = std::array::from_fn(|bonds| {
            let hydrogens = understood_hydrogens(element, bonds as u32, aromatic) as u8;
            let mut atom = atom;
            atom.count(hydrogens);
            (hydrogens, atom.code)
        });
        self.symbols.push(Symbol { atom, counted });
        number
    }

    /// The atom that begins with a byte, before its hydrogens are counted, and the length of its symbol.
    #[inline]
    pub(super) fn atom(&self, byte: u8, next: Option<u8>) -> Option<(&Atom, usize)> {
        let initial = self.by_byte.get(usize::from(byte))?;
        let (symbol, length) = match next {
            Some(next) if initial.two != NONE && next == initial.second => (initial.two, 2),
            _ => (initial.one, 1),
        };
        Some((&self.symbols.get(usize::from(symbol))?.atom, length))
    }

    /// Gives an atom without brackets the hydrogens that the valence rule understands.
    #[inline]
    pub(super) fn count_hydrogens(&self, atom: &mut Atom) {
        if atom.hydrogens != UNDERSTOOD {
            return;
        }
        let counted =
            self.symbols.get(atom.code as usize).and_then(|symbol| symbol.counted.get(usize::from(atom.bonds)));
        // Each of them is in the table.
        let Some((hydrogens, code)) = counted else { return };
        atom.hydrogens = *hydrogens;
        atom.bonds += hydrogens;
        atom.code = *code;
    }
}
