//! SMILES into a flat drawing: what is plain and right is read, on everything else the reader gives up.

use super::bare::Bare;
use super::brackets::{self, Brackets, Key};
use super::pen::Pen;
use super::sketch::{Atom, NO_ATOM, NO_LABEL, Sketch};
use crate::structure::Element;

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
    atom: u8,
    order: u8,
    species: u8,
}

struct Reader<'s> {
    pen: Pen<'s>,
    brackets: &'s mut Brackets,
    bare: &'static Bare,
    last: Last,
    previous: u8,
    /// The order of a bond that was written; 0 where none was.
    order: u8,
    /// Whether a ring number may follow the bond.
    ring_may_follow: bool,
    branches: [u8; DEPTH],
    depth: usize,
    rings: [Option<OpenRing>; 10],
    open_rings: usize,
    species: u8,
    any_bare: bool,
}

impl Sketch {
    /// Reads a SMILES and chooses its localised form.
    pub(super) fn read(&mut self, text: &str, brackets: &mut Brackets) -> Option<()> {
        let bare = Bare::get();
        self.clear();
        let mut reader = Reader {
            pen: self.pen(),
            brackets,
            bare,
            last: Last::Nothing,
            previous: NO_ATOM,
            order: 0,
            ring_may_follow: false,
            branches: [NO_ATOM; DEPTH],
            depth: 0,
            rings: [None; 10],
            open_rings: 0,
            species: 0,
            any_bare: false,
        };
        reader.run(text.as_bytes())?;
        let Reader { pen, any_bare, .. } = reader;
        pen.lift();
        if any_bare {
            self.atoms_mut().iter_mut().for_each(|atom| bare.count_hydrogens(atom));
        }
        if self.any_aromatic() { self.localise() } else { Some(()) }
    }
}

impl Reader<'_> {
    fn run(&mut self, mut text: &[u8]) -> Option<()> {
        while let [byte, rest @ ..] = text {
            text = match byte {
                b'[' => self.bracket(rest)?,
                b'(' => self.open().map(|()| rest)?,
                b')' => self.close().map(|()| rest)?,
                b'-' => self.bond(1).map(|()| rest)?,
                b'=' => self.bond(2).map(|()| rest)?,
                b'#' => self.bond(3).map(|()| rest)?,
                b'0'..=b'9' => self.ring(byte - b'0').map(|()| rest)?,
                b'.' => self.dot().map(|()| rest)?,
                _ => self.bare(*byte, rest)?,
            }
        }
        (matches!(self.last, Last::Atom | Last::Close) && self.depth == 0 && self.open_rings == 0).then_some(())
    }

    /// An atom without brackets; gives what follows.
    #[inline]
    fn bare<'a>(&mut self, byte: u8, rest: &'a [u8]) -> Option<&'a [u8]> {
        let (atom, length) = self.bare.atom(byte, rest.first().copied())?;
        self.any_bare = true;
        let own = self.pen.atom(atom, NO_LABEL)?;
        self.join(own)?;
        rest.get(length - 1..)
    }

    /// An atom in brackets, from behind its `[`; gives what follows.
    #[inline]
    fn bracket<'a>(&mut self, text: &'a [u8]) -> Option<&'a [u8]> {
        let (key, length, end) = Key::of(text)?;
        if !self.brackets.has(key) {
            self.brackets.keep(key, bare_bracket(text)?);
        }
        let behind = text.get(length + 1..)?;
        let (label, rest) = if end == b':' { brackets::label(behind)? } else { (NO_LABEL, behind) };
        let own = self.pen.atom(self.brackets.get(key), label)?;
        self.join(own)?;
        Some(rest)
    }

    /// Bonds an atom to the one before it.
    #[inline]
    fn join(&mut self, own: u8) -> Option<()> {
        if self.previous != NO_ATOM {
            self.connect(self.previous, own, self.order)?;
        }
        self.order = 0;
        self.previous = own;
        self.last = Last::Atom;
        Some(())
    }

    /// Adds a bond of a written order, or of 0 for one that is not written.
    #[inline]
    fn connect(&mut self, a: u8, b: u8, order: u8) -> Option<()> {
        // Taken for delocalised; `localise` gives up where it lies in no ring of such bonds.
        if order == 0 && self.pen.get(b).is_aromatic() && self.pen.get(a).is_aromatic() {
            return self.pen.delocalised_bond(a, b);
        }
        self.pen.bond(a, b, order.max(1))
    }

    #[inline]
    fn bond(&mut self, order: u8) -> Option<()> {
        matches!(self.last, Last::Atom | Last::Close | Last::Open).then_some(())?;
        self.order = order;
        self.ring_may_follow = self.last == Last::Atom;
        self.last = Last::Bond;
        Some(())
    }

    #[inline]
    fn dot(&mut self) -> Option<()> {
        (matches!(self.last, Last::Atom | Last::Close) && self.depth == 0).then_some(())?;
        self.previous = NO_ATOM;
        // Fewer species than atoms, of which a byte names each.
        self.species = self.species.wrapping_add(1);
        self.last = Last::Nothing;
        Some(())
    }

    #[inline]
    fn open(&mut self) -> Option<()> {
        (matches!(self.last, Last::Atom | Last::Close) && self.previous != NO_ATOM).then_some(())?;
        *self.branches.get_mut(self.depth)? = self.previous;
        self.depth += 1;
        self.last = Last::Open;
        Some(())
    }

    #[inline]
    fn close(&mut self) -> Option<()> {
        matches!(self.last, Last::Atom | Last::Close).then_some(())?;
        self.depth = self.depth.checked_sub(1)?;
        self.previous = *self.branches.get(self.depth)?;
        self.last = Last::Close;
        Some(())
    }

    #[inline]
    fn ring(&mut self, number: u8) -> Option<()> {
        let straight = if self.last == Last::Bond { self.ring_may_follow } else { self.last == Last::Atom };
        (straight && self.previous != NO_ATOM).then_some(())?;
        let (atom, order) = (self.previous, self.order);
        self.order = 0;
        self.last = Last::Atom;
        let slot = self.rings.get_mut(usize::from(number))?;
        let Some(open) = slot.take() else {
            *slot = Some(OpenRing { atom, order, species: self.species });
            self.open_rings += 1;
            return Some(());
        };
        self.open_rings -= 1;
        let fits =
            open.atom != atom && open.species == self.species && (open.order == order || open.order == 0 || order == 0);
        (fits && self.pen.get(atom).arc_to(open.atom).is_none()).then_some(())?;
        self.connect(open.atom, atom, open.order.max(order))
    }
}

/// `isotope symbol hydrogens charge`, with `:` or `]` behind.
#[cold]
fn bare_bracket(text: &[u8]) -> Option<Atom> {
    let (isotope, rest) = match text {
        [b'0'..=b'9', ..] => number(text, 3).map(|(mass, rest)| (mass + 1, rest))?,
        _ => (0, text),
    };
    let (element, aromatic, rest) = symbol(rest)?;
    let (hydrogens, rest) = match rest {
        [b'H', b'0'..=b'9', ..] => number(&rest[1..], 1)?,
        [b'H', rest @ ..] => (1, rest),
        _ => (0, rest),
    };
    (element != Element::HYDROGEN || hydrogens == 0).then_some(())?;
    let (sign, behind) = match rest {
        [b'+', behind @ ..] => (1, behind),
        [b'-', behind @ ..] => (-1, behind),
        _ => (0, rest),
    };
    let (size, rest) = match behind {
        [b'0'..=b'9', ..] if sign != 0 => number(behind, 1)?,
        _ => (1, behind),
    };
    let hydrogens = hydrogens as u8;
    let charge = sign * size as i8;
    let mut atom = Atom { isotope, hydrogens, charge, bonds: hydrogens, ..Atom::new(element).written(aromatic) };
    atom.count(hydrogens);
    matches!(rest, [b':' | b']', ..]).then_some(atom)
}

fn symbol(text: &[u8]) -> Option<(Element, bool, &[u8])> {
    let (element, aromatic, length) = match text {
        // Two small letters are an aromatic symbol or a fault, and neither is usual.
        [_, b'a'..=b'z', ..] => (Element::from_symbol(&text[..2])?, false, 2),
        [b'c', ..] => (Element::CARBON, true, 1),
        [b'n', ..] => (Element::NITROGEN, true, 1),
        [b'o', ..] => (Element::OXYGEN, true, 1),
        [b's', ..] => (Element::SULFUR, true, 1),
        // Any atom has no electrons to judge.
        [b'*', ..] | [] => return None,
        _ => (Element::from_symbol(&text[..1])?, false, 1),
    };
    Some((element, aromatic, &text[length..]))
}

/// A number and what follows; `None` where there is none or it has more digits.
fn number(text: &[u8], most: usize) -> Option<(u16, &[u8])> {
    let (mut number, mut rest, mut left) = (0, text, most);
    while let [digit @ b'0'..=b'9', behind @ ..] = rest {
        left = left.checked_sub(1)?;
        number = number * 10 + u16::from(digit - b'0');
        rest = behind;
    }
    (left < most).then_some((number, rest))
}
