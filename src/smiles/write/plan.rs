//! The order of the text: which atom follows which, and which bonds become ring numbers.

use crate::structure::{AtomId, BondId, Structure};
use std::cmp::Reverse;

/// One token of the text, but for the characters of its bond and atom.
#[derive(Clone, Copy)]
pub(super) enum Token {
    Dot,
    Open,
    Close,
    /// The atom that was walked to as this one.
    Atom(u32),
}

/// The text, but for its characters. Kept from text to text for its memory.
#[derive(Default)]
pub(super) struct Plan {
    pub(super) tokens: Vec<Token>,
    /// Place of each atom in the text; [`UNSEEN`] for atoms that are not written.
    pub(super) position: Vec<u32>,
    /// Ring bonds by the atom at which they open, and by that at which they close.
    opens: Rings,
    closes: Rings,
    tree: Tree,
    children: Vec<u32>,
    stack: Vec<Token>,
}

pub(super) const UNSEEN: u32 = u32::MAX;

/// Ring bonds by the place of the atom and the place of the other end.
#[derive(Default)]
struct Rings(Vec<(u32, u32, BondId)>);

impl Rings {
    /// The next one, if it is at a place; places are gone through in the order of the text.
    fn next(&self, cursor: &mut usize, place: u32) -> Option<BondId> {
        let ring = self.0.get(*cursor).filter(|ring| ring.0 == place)?;
        *cursor += 1;
        Some(ring.2)
    }

    fn at(&self, place: u32) -> &[(u32, u32, BondId)] {
        let from = self.0.partition_point(|ring| ring.0 < place);
        let count = self.0[from..].iter().take_while(|ring| ring.0 == place).count();
        &self.0[from..from + count]
    }
}

/// An atom in the order in which atoms are walked to, so that a branch is a stretch of that order.
#[derive(Clone, Copy)]
pub(super) struct Seen {
    pub(super) atom: AtomId,
    /// The bond that led here, and the atom that it led from, as a place in the same order; [`UNSEEN`] where there is none.
    bond: BondId,
    from: u32,
    /// Atoms of the branch that begins here.
    below: u32,
}

impl Seen {
    /// The bond that led here.
    pub(super) fn bond(self) -> Option<BondId> {
        (self.from != UNSEEN).then_some(self.bond)
    }
}

impl Plan {
    /// Plans the text of the species that begin with those of `order` for which `keep` holds. `rank` says where an atom stands in
    /// `order`; those of rank [`UNSEEN`] are not written.
    pub(super) fn lay(
        &mut self,
        structure: &Structure,
        order: impl Iterator<Item = AtomId>,
        rank: impl Fn(AtomId) -> u32,
        keep: impl Fn(AtomId) -> bool,
    ) {
        self.tree.begin(structure);
        for first in order {
            if self.tree.visit[first.index()] == UNSEEN && keep(first) {
                self.tree.walk(structure, first, &rank);
            }
        }
        self.tree.weigh();
        self.position.clear();
        self.position.resize(structure.atom_count(), UNSEEN);
        self.tokens.clear();
        let mut root = 0;
        while let Some(seen) = self.tree.seen.get(root as usize) {
            let species = seen.below;
            if root > 0 {
                self.tokens.push(Token::Dot);
            }
            self.spell(root);
            root += species;
        }
        self.place_rings(structure);
    }

    /// An atom that was walked to.
    pub(super) fn seen(&self, at: u32) -> Seen {
        self.tree.seen[at as usize]
    }

    /// The atom behind which an atom is written.
    pub(super) fn parent(&self, atom: AtomId) -> Option<AtomId> {
        let seen = self.seen(self.tree.visit[atom.index()]);
        (seen.from != UNSEEN).then(|| self.seen(seen.from).atom)
    }

    /// Whether an atom is written.
    pub(super) fn is_written(&self, atom: AtomId) -> bool {
        self.position[atom.index()] != UNSEEN
    }

    fn spell(&mut self, root: u32) {
        let Self { tokens, position, tree: Tree { seen, .. }, children, stack, .. } = self;
        stack.push(Token::Atom(root));
        while let Some(token) = stack.pop() {
            tokens.push(token);
            let Token::Atom(mut at) = token else { continue };
            let end = loop {
                let own = &seen[at as usize];
                position[own.atom.index()] = tokens.len() as u32;
                let end = at + own.below;
                at += 1;
                // A chain goes on without branches.
                match seen.get(at as usize) {
                    Some(only) if at < end && at + only.below == end => tokens.push(Token::Atom(at)),
                    _ => break end,
                }
            };
            children.clear();
            while at < end {
                children.push(at);
                at += seen[at as usize].below;
            }
            // The largest branch last.
            children.sort_unstable_by_key(|child| (seen[*child as usize].below, *child));
            let Some((main, branches)) = children.split_last() else { continue };
            stack.push(Token::Atom(*main));
            for branch in branches.iter().rev() {
                stack.extend([Token::Close, Token::Atom(*branch), Token::Open]);
            }
        }
    }

    fn place_rings(&mut self, structure: &Structure) {
        self.opens.0.clear();
        self.closes.0.clear();
        for bond in &self.tree.ring_bonds {
            let (a, b) = structure.ends(*bond);
            let (a, b) = (self.position[a.index()], self.position[b.index()]);
            self.opens.0.push((a.min(b), a.max(b), *bond));
            self.closes.0.push((a.max(b), a.min(b), *bond));
        }
        self.opens.0.sort_unstable();
        self.closes.0.sort_unstable();
    }

    /// The next ring bond that opens at a place of the text, and the next one that closes there.
    pub(super) fn next_open(&self, cursor: &mut usize, place: u32) -> Option<BondId> {
        self.opens.next(cursor, place)
    }

    pub(super) fn next_close(&self, cursor: &mut usize, place: u32) -> Option<BondId> {
        self.closes.next(cursor, place)
    }

    /// The ring bonds that open at an atom, in the order of the text.
    pub(super) fn opens(&self, atom: AtomId) -> impl Iterator<Item = BondId> {
        self.opens.at(self.position[atom.index()]).iter().map(|ring| ring.2)
    }

    /// The ring bonds that close at an atom, in the order of the text.
    pub(super) fn closes(&self, atom: AtomId) -> impl Iterator<Item = BondId> {
        self.closes.at(self.position[atom.index()]).iter().map(|ring| ring.2)
    }
}

/// A depth-first tree of the structure, built without recursion.
#[derive(Default)]
struct Tree {
    seen: Vec<Seen>,
    /// Which in that order an atom is; [`UNSEEN`] for those that are not walked to.
    visit: Vec<u32>,
    ring_bonds: Vec<BondId>,
    /// Ways that are still to be gone, those of the atom reached last on top.
    ways: Vec<Way>,
}

/// A bond, and where it leads from and to.
#[derive(Clone, Copy)]
struct Way {
    from: u32,
    to: AtomId,
    bond: BondId,
}

impl Tree {
    fn begin(&mut self, structure: &Structure) {
        self.seen.clear();
        self.visit.clear();
        self.visit.resize(structure.atom_count(), UNSEEN);
        self.ring_bonds.clear();
    }

    /// Counts the atoms of each branch.
    fn weigh(&mut self) {
        for at in (0..self.seen.len()).rev() {
            let Seen { from, below, .. } = self.seen[at];
            if let Some(from) = self.seen.get_mut(from as usize) {
                from.below += below;
            }
        }
    }

    fn walk(&mut self, structure: &Structure, root: AtomId, rank: &impl Fn(AtomId) -> u32) {
        let Self { seen, visit, ring_bonds, ways } = self;
        ways.push(Way { from: UNSEEN, to: root, bond: BondId::end() });
        while let Some(Way { from, to, bond }) = ways.pop() {
            let place = &mut visit[to.index()];
            if *place != UNSEEN {
                // A ring is closed from its later end; from the other one its bond is met again.
                if *place < from {
                    ring_bonds.push(bond);
                }
                continue;
            }
            let here = seen.len() as u32;
            *place = here;
            seen.push(Seen { atom: to, bond, from, below: 1 });
            let first = ways.len();
            for (next, other) in structure.neighbours(to) {
                if other != bond && rank(next) != UNSEEN {
                    ways.push(Way { from: here, to: next, bond: other });
                }
            }
            let ways = &mut ways[first..];
            if ways.len() > 1 {
                ways.sort_unstable_by_key(|way| Reverse(rank(way.to)));
            }
        }
    }
}
