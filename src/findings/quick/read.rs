//! SMILES into a flat drawing: what is plain and right is read, on everything else the reader gives up.

use super::sketch::{NONE, Sketch};
use crate::smiles::{bare_symbol, understood_hydrogens};
use crate::structure::{Atom, Bond, Element};

/// Marks hydrogens that the valence rule fills in at the end.
const UNDERSTOOD: u16 = u16::MAX;
/// Open branches at most.
const DEPTH: usize = 32;

/// What was read last, which decides what may follow.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Last {
    /// Nothing or a dot.
    Nothing,
    Atom,
    Bond,
    Open,
    Close,
}

#[derive(Clone, Copy)]
struct OpenRing {
    atom: u16,
    order: u8,
    species: u16,
}

struct Reader<'a, 's> {
    bytes: &'a [u8],
    at: usize,
    sketch: &'s mut Sketch,
    last: Last,
    previous: u16,
    /// The order of a bond that was written; 0 where none was.
    order: u8,
    /// Whether a ring number may follow the bond.
    ring_may_follow: bool,
    branches: [u16; DEPTH],
    depth: usize,
    rings: [Option<OpenRing>; 10],
    open_rings: usize,
    any_understood: bool,
}

impl Sketch {
    /// Reads a SMILES and chooses its localised form.
    pub(super) fn read(&mut self, text: &str) -> Option<()> {
        self.clear();
        let mut reader = Reader {
            bytes: text.as_bytes(),
            at: 0,
            sketch: self,
            last: Last::Nothing,
            previous: NONE,
            order: 0,
            ring_may_follow: false,
            branches: [NONE; DEPTH],
            depth: 0,
            rings: [None; 10],
            open_rings: 0,
            any_understood: false,
        };
        reader.run()?;
        let any_understood = reader.any_understood;
        self.count_hydrogens(any_understood);
        self.localise()
    }

    fn count_hydrogens(&mut self, any_understood: bool) {
        for (atom, tally) in self.atoms.iter_mut().zip(&mut self.tallies) {
            if any_understood && atom.hydrogens == UNDERSTOOD {
                let sum = u32::from(tally.bonds.unsigned_abs());
                atom.hydrogens = understood_hydrogens(atom.element, sum, atom.aromatic) as u16;
            }
            tally.bonds += atom.hydrogens as i16;
        }
    }
}

impl Reader<'_, '_> {
    fn run(&mut self) -> Option<()> {
        while let Some(&byte) = self.bytes.get(self.at) {
            self.at += 1;
            match byte {
                b'[' => self.bracket()?,
                b'(' => self.open()?,
                b')' => self.close()?,
                b'-' => self.bond(1)?,
                b'=' => self.bond(2)?,
                b'#' => self.bond(3)?,
                b'0'..=b'9' => self.ring(usize::from(byte - b'0'))?,
                b'.' => self.dot()?,
                _ => self.bare(byte)?,
            }
        }
        (matches!(self.last, Last::Atom | Last::Close) && self.depth == 0 && self.open_rings == 0).then_some(())
    }

    fn bare(&mut self, byte: u8) -> Option<()> {
        let next = self.bytes.get(self.at).copied();
        let (element, aromatic, length) = bare_symbol(byte, next)?;
        // Left to the full way: their bonds are not counted here.
        if element == Element::ANY || (aromatic && matches!(element, Element::BORON | Element::PHOSPHORUS)) {
            return None;
        }
        self.at += length - 1;
        self.any_understood = true;
        self.add(Atom { aromatic, hydrogens: UNDERSTOOD, ..Atom::new(element) })
    }

    fn add(&mut self, atom: Atom) -> Option<()> {
        let id = self.sketch.add_atom(atom)?;
        if self.previous != NONE {
            self.connect(self.previous, id, self.order)?;
        }
        self.order = 0;
        self.previous = id;
        self.last = Last::Atom;
        Some(())
    }

    /// Adds a bond of a written order, or of 0 for one that is not written.
    fn connect(&mut self, a: u16, b: u16, order: u8) -> Option<()> {
        let aromatic = |at: u16| self.sketch.atoms[usize::from(at)].aromatic;
        let bond = match order {
            // Taken for delocalised; `localise` gives up where it lies in no ring of such bonds.
            0 if aromatic(a) && aromatic(b) => Bond::delocalised(),
            0 => Bond::new(1),
            written => Bond::new(written),
        };
        self.sketch.add_line(a, b, bond).map(|_| ())
    }

    fn bond(&mut self, order: u8) -> Option<()> {
        matches!(self.last, Last::Atom | Last::Close | Last::Open).then_some(())?;
        self.order = order;
        self.ring_may_follow = self.last == Last::Atom;
        self.last = Last::Bond;
        Some(())
    }

    fn dot(&mut self) -> Option<()> {
        (matches!(self.last, Last::Atom | Last::Close) && self.depth == 0).then_some(())?;
        self.previous = NONE;
        self.sketch.species += 1;
        self.last = Last::Nothing;
        Some(())
    }

    fn open(&mut self) -> Option<()> {
        (matches!(self.last, Last::Atom | Last::Close) && self.previous != NONE).then_some(())?;
        *self.branches.get_mut(self.depth)? = self.previous;
        self.depth += 1;
        self.last = Last::Open;
        Some(())
    }

    fn close(&mut self) -> Option<()> {
        matches!(self.last, Last::Atom | Last::Close).then_some(())?;
        self.depth = self.depth.checked_sub(1)?;
        self.previous = self.branches[self.depth];
        self.last = Last::Close;
        Some(())
    }

    fn ring(&mut self, number: usize) -> Option<()> {
        let straight = if self.last == Last::Bond { self.ring_may_follow } else { self.last == Last::Atom };
        (straight && self.previous != NONE).then_some(())?;
        let (atom, order) = (self.previous, self.order);
        self.order = 0;
        self.last = Last::Atom;
        let Some(open) = self.rings[number].take() else {
            self.rings[number] = Some(OpenRing { atom, order, species: self.sketch.species });
            self.open_rings += 1;
            return Some(());
        };
        self.open_rings -= 1;
        let fits = open.atom != atom
            && open.species == self.sketch.species
            && (open.order == order || open.order == 0 || order == 0);
        (fits && self.sketch.line_between(open.atom, atom).is_none()).then_some(())?;
        self.connect(open.atom, atom, open.order.max(order))
    }

    /// `[isotope symbol hydrogens charge :class]` behind its `[`.
    fn bracket(&mut self) -> Option<()> {
        let isotope = self.digits(3)?;
        let (element, aromatic) = self.symbol()?;
        let mut atom = Atom { aromatic, isotope: isotope.map(|mass| mass as u16), ..Atom::new(element) };
        if self.take(b'H') {
            atom.hydrogens = self.digits(1)?.map_or(1, |count| count as u16);
            (element != Element::HYDROGEN || atom.hydrogens == 0).then_some(())?;
        }
        atom.charge = self.charge()?;
        if self.take(b':') {
            atom.class = Some(self.digits(4)??);
        }
        self.take(b']').then_some(())?;
        self.add(atom)
    }

    fn take(&mut self, byte: u8) -> bool {
        let is_next = self.bytes.get(self.at) == Some(&byte);
        self.at += usize::from(is_next);
        is_next
    }

    /// The number that follows, if one does; `None` where it has more digits.
    #[allow(clippy::option_option, reason = "no number is right, a long one is not")]
    fn digits(&mut self, most: usize) -> Option<Option<u32>> {
        let mut number = 0;
        let from = self.at;
        while let Some(digit) = self.bytes.get(self.at).filter(|byte| byte.is_ascii_digit()) {
            number = number * 10 + u32::from(digit - b'0');
            self.at += 1;
            if self.at - from > most {
                return None;
            }
        }
        Some((self.at > from).then_some(number))
    }

    fn symbol(&mut self) -> Option<(Element, bool)> {
        let first = *self.bytes.get(self.at)?;
        self.at += 1;
        if self.bytes.get(self.at).is_some_and(u8::is_ascii_lowercase) {
            self.at += 1;
            // Two small letters are an aromatic symbol or a fault, and neither is usual.
            return Element::from_symbol(&self.bytes[self.at - 2..self.at]).map(|element| (element, false));
        }
        let aromatic = match first {
            b'c' => Element::CARBON,
            b'n' => Element::NITROGEN,
            b'o' => Element::OXYGEN,
            b's' => Element::SULFUR,
            // Any atom has no electrons to judge.
            b'*' => return None,
            _ => return Element::from_symbol(&[first]).map(|element| (element, false)),
        };
        Some((aromatic, true))
    }

    fn charge(&mut self) -> Option<i16> {
        let sign = match self.bytes.get(self.at) {
            Some(b'+') => 1,
            Some(b'-') => -1,
            _ => return Some(0),
        };
        self.at += 1;
        let size = self.digits(1)?.unwrap_or(1) as i16;
        Some(sign * size)
    }
}
