//! The order of the text: which atom follows which, and which bonds become ring numbers.

use crate::structure::{AtomId, BondId, Structure};
use smallvec::SmallVec;

/// One token of the text, but for the characters of its bond and atom.
#[derive(Clone, Copy)]
pub(super) enum Token {
    Dot,
    Open,
    Close,
    Atom(AtomId, Option<BondId>),
}

/// The text, but for its characters.
pub(super) struct Plan {
    pub(super) tokens: Vec<Token>,
    /// Place of each atom in the text; [`UNSEEN`] for atoms that are not written.
    pub(super) position: Vec<u32>,
    /// By atom: the atom behind which it is written.
    pub(super) parent: Vec<Option<AtomId>>,
    /// Ring bonds by the atom at which they open, and by that at which they close.
    opens: Rings,
    closes: Rings,
}

pub(super) const UNSEEN: u32 = u32::MAX;

/// Ring bonds by the place of the atom and the place of the other end.
#[derive(Default)]
struct Rings(Vec<(u32, u32, BondId)>);

impl Rings {
    fn at(&self, place: u32) -> &[(u32, u32, BondId)] {
        let from = self.0.partition_point(|ring| ring.0 < place);
        let count = self.0[from..].iter().take_while(|ring| ring.0 == place).count();
        &self.0[from..from + count]
    }
}

impl Plan {
    /// The text of the species for whose first atom `keep` holds.
    pub(super) fn new(structure: &Structure, keep: impl Fn(AtomId) -> bool) -> Self {
        let atoms = structure.atom_count();
        let mut tree = Tree {
            neighbours: Lists::neighbours(structure),
            parent: vec![None; atoms],
            seen: vec![Seen { visit: UNSEEN, bond: None, below: 1 }; atoms],
            order: Vec::with_capacity(atoms),
            ring_bonds: Vec::new(),
            frames: Vec::with_capacity(32),
        };
        let mut roots: SmallVec<[AtomId; 8]> = SmallVec::new();
        for first in structure.atom_ids() {
            if tree.seen[first.index()].visit == UNSEEN && keep(first) {
                roots.push(first);
                tree.walk(first);
            }
        }
        let children = tree.children();
        let mut plan = Self {
            tokens: Vec::with_capacity(3 * atoms),
            position: vec![UNSEEN; atoms],
            parent: tree.parent,
            opens: Rings::default(),
            closes: Rings::default(),
        };
        let mut stack = Vec::with_capacity(16);
        for (at, root) in roots.into_iter().enumerate() {
            if at > 0 {
                plan.tokens.push(Token::Dot);
            }
            plan.spell(root, &children, &tree.seen, &mut stack);
        }
        plan.place_rings(structure, &tree.ring_bonds);
        plan
    }

    fn spell(&mut self, root: AtomId, children: &Lists<AtomId>, seen: &[Seen], stack: &mut Vec<Token>) {
        stack.push(Token::Atom(root, None));
        while let Some(token) = stack.pop() {
            self.tokens.push(token);
            let Token::Atom(atom, _) = token else { continue };
            self.position[atom.index()] = self.tokens.len() as u32;
            let step = |child: AtomId| Token::Atom(child, seen[child.index()].bond);
            let Some((main, branches)) = children.of(atom).split_last() else { continue };
            stack.push(step(*main));
            for branch in branches.iter().rev() {
                stack.extend([Token::Close, step(*branch), Token::Open]);
            }
        }
    }

    fn place_rings(&mut self, structure: &Structure, ring_bonds: &[BondId]) {
        for bond in ring_bonds {
            let (a, b) = structure.ends(*bond);
            let (a, b) = (self.position[a.index()], self.position[b.index()]);
            self.opens.0.push((a.min(b), a.max(b), *bond));
            self.closes.0.push((a.max(b), a.min(b), *bond));
        }
        self.opens.0.sort_unstable();
        self.closes.0.sort_unstable();
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

/// What the walk knows of an atom.
#[derive(Clone, Copy)]
struct Seen {
    /// Which in the order of the walk.
    visit: u32,
    /// The bond that led here.
    bond: Option<BondId>,
    /// Atoms of the branch that begins here.
    below: u32,
}

/// A depth-first tree of the structure, built without recursion.
struct Tree {
    neighbours: Lists<(AtomId, BondId)>,
    parent: Vec<Option<AtomId>>,
    seen: Vec<Seen>,
    order: Vec<AtomId>,
    ring_bonds: Vec<BondId>,
    /// Atoms on the way here, and how many of their neighbours have been looked at.
    frames: Vec<(AtomId, u32)>,
}

impl Tree {
    fn walk(&mut self, root: AtomId) {
        self.see(root, None);
        while let Some((atom, next)) = self.frames.last_mut() {
            let atom = *atom;
            let Some((to, bond)) = self.neighbours.of(atom).get(*next as usize).copied() else {
                self.frames.pop();
                continue;
            };
            *next += 1;
            if self.seen[to.index()].visit == UNSEEN {
                self.parent[to.index()] = Some(atom);
                self.see(to, Some(bond));
            } else if self.seen[atom.index()].bond != Some(bond)
                && self.seen[to.index()].visit < self.seen[atom.index()].visit
            {
                self.ring_bonds.push(bond);
            }
        }
    }

    fn see(&mut self, atom: AtomId, bond: Option<BondId>) {
        let seen = &mut self.seen[atom.index()];
        (seen.visit, seen.bond) = (self.order.len() as u32, bond);
        self.order.push(atom);
        self.frames.push((atom, 0));
    }

    /// Children of each atom, the largest branch last.
    fn children(&mut self) -> Lists<AtomId> {
        for atom in self.order.iter().rev() {
            if let Some(parent) = self.parent[atom.index()] {
                self.seen[parent.index()].below += self.seen[atom.index()].below;
            }
        }
        let pairs = || self.order.iter().filter_map(|atom| Some((self.parent[atom.index()]?, *atom)));
        let seen = &self.seen;
        Lists::new(self.parent.len(), pairs, AtomId::default(), |child| (seen[child.index()].below, *child))
    }
}

/// A list for each atom, one behind the other.
struct Lists<T> {
    starts: Vec<u32>,
    all: Vec<T>,
}

impl Lists<(AtomId, BondId)> {
    /// The neighbours of each atom in the order of the drawing.
    fn neighbours(structure: &Structure) -> Self {
        let ends = || structure.bonds().flat_map(|(bond, a, b, _)| [(a, (b, bond)), (b, (a, bond))]);
        Self::new(structure.atom_count(), ends, Default::default(), |(next, _)| *next)
    }
}

impl<T: Copy> Lists<T> {
    /// What belongs to each atom, sorted by a key.
    fn new<K: Ord, I: Iterator<Item = (AtomId, T)>>(
        atoms: usize,
        entries: impl Fn() -> I,
        empty: T,
        key: impl Fn(&T) -> K,
    ) -> Self {
        let mut starts = vec![0_u32; atoms + 1];
        entries().for_each(|(atom, _)| starts[atom.index()] += 1);
        let mut total = 0;
        for start in &mut starts {
            // Where the list ends; filled from behind, it becomes where it starts.
            total += *start;
            *start = total;
        }
        let mut all = vec![empty; total as usize];
        for (atom, entry) in entries() {
            let start = &mut starts[atom.index()];
            *start -= 1;
            all[*start as usize] = entry;
        }
        for at in 0..atoms {
            let list = &mut all[starts[at] as usize..starts[at + 1] as usize];
            if list.len() > 1 {
                // Mostly in order, the last one first.
                list.reverse();
                list.sort_unstable_by_key(&key);
            }
        }
        Self { starts, all }
    }

    fn of(&self, atom: AtomId) -> &[T] {
        let at = atom.index();
        &self.all[self.starts[at] as usize..self.starts[at + 1] as usize]
    }
}
