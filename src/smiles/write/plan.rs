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
    children: Lists<AtomId>,
    stack: Vec<Token>,
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
    /// Plans the text of the species for whose first atom `keep` holds.
    pub(super) fn lay(&mut self, structure: &Structure, keep: impl Fn(AtomId) -> bool) {
        let atoms = structure.atom_count();
        self.tree.begin(structure);
        let mut roots: SmallVec<[AtomId; 8]> = SmallVec::new();
        for first in structure.atom_ids() {
            if self.tree.seen[first.index()].visit == UNSEEN && keep(first) {
                roots.push(first);
                self.tree.walk(first);
            }
        }
        self.tree.list_children(&mut self.children);
        self.tokens.clear();
        self.position.clear();
        self.position.resize(atoms, UNSEEN);
        for (at, root) in roots.into_iter().enumerate() {
            if at > 0 {
                self.tokens.push(Token::Dot);
            }
            self.spell(root);
        }
        self.place_rings(structure);
    }

    /// The atom behind which an atom is written.
    pub(super) fn parent(&self, atom: AtomId) -> Option<AtomId> {
        self.tree.seen[atom.index()].parent
    }

    fn spell(&mut self, root: AtomId) {
        let Self { tokens, position, tree, children, stack, .. } = self;
        stack.push(Token::Atom(root, None));
        while let Some(token) = stack.pop() {
            tokens.push(token);
            let Token::Atom(atom, _) = token else { continue };
            position[atom.index()] = tokens.len() as u32;
            let step = |child: AtomId| Token::Atom(child, tree.seen[child.index()].bond);
            let Some((main, branches)) = children.of(atom).split_last() else { continue };
            stack.push(step(*main));
            for branch in branches.iter().rev() {
                stack.extend([Token::Close, step(*branch), Token::Open]);
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
    /// The atom and the bond that led here.
    parent: Option<AtomId>,
    bond: Option<BondId>,
    /// Atoms of the branch that begins here.
    below: u32,
}

/// A depth-first tree of the structure, built without recursion.
#[derive(Default)]
struct Tree {
    neighbours: Lists<(AtomId, BondId)>,
    seen: Vec<Seen>,
    order: Vec<AtomId>,
    ring_bonds: Vec<BondId>,
    /// Atoms on the way here, and how many of their neighbours have been looked at.
    frames: Vec<(AtomId, u32)>,
}

impl Tree {
    fn begin(&mut self, structure: &Structure) {
        let atoms = structure.atom_count();
        let ends = || structure.bonds().flat_map(|(bond, a, b, _)| [(a, (b, bond)), (b, (a, bond))]);
        self.neighbours.fill(atoms, ends, |(next, _)| *next);
        self.seen.clear();
        self.seen.resize(atoms, Seen { visit: UNSEEN, parent: None, bond: None, below: 1 });
        self.order.clear();
        self.ring_bonds.clear();
    }

    fn walk(&mut self, root: AtomId) {
        self.see(root, None, None);
        while let Some((atom, next)) = self.frames.last_mut() {
            let atom = *atom;
            let Some((to, bond)) = self.neighbours.of(atom).get(*next as usize).copied() else {
                self.frames.pop();
                continue;
            };
            *next += 1;
            let (here, there) = (self.seen[atom.index()], self.seen[to.index()]);
            if there.visit == UNSEEN {
                self.see(to, Some(atom), Some(bond));
            } else if here.bond != Some(bond) && there.visit < here.visit {
                self.ring_bonds.push(bond);
            }
        }
    }

    fn see(&mut self, atom: AtomId, parent: Option<AtomId>, bond: Option<BondId>) {
        self.seen[atom.index()] = Seen { visit: self.order.len() as u32, parent, bond, below: 1 };
        self.order.push(atom);
        self.frames.push((atom, 0));
    }

    /// Lists the children of each atom, the largest branch last.
    fn list_children(&mut self, children: &mut Lists<AtomId>) {
        for atom in self.order.iter().rev() {
            let Seen { parent, below, .. } = self.seen[atom.index()];
            if let Some(parent) = parent {
                self.seen[parent.index()].below += below;
            }
        }
        let seen = &self.seen;
        let pairs = || self.order.iter().filter_map(|atom| Some((seen[atom.index()].parent?, *atom)));
        children.fill(seen.len(), pairs, |child| (seen[child.index()].below, *child));
    }
}

/// A list for each atom, one behind the other.
#[derive(Default)]
struct Lists<T> {
    starts: Vec<u32>,
    all: Vec<T>,
}

impl<T: Copy + Default> Lists<T> {
    /// Lists what belongs to each atom, sorted by a key.
    fn fill<K: Ord, I: Iterator<Item = (AtomId, T)>>(
        &mut self,
        atoms: usize,
        entries: impl Fn() -> I,
        key: impl Fn(&T) -> K,
    ) {
        let Self { starts, all } = self;
        starts.clear();
        starts.resize(atoms + 1, 0);
        entries().for_each(|(atom, _)| starts[atom.index()] += 1);
        let mut total = 0;
        for start in &mut *starts {
            // Where the list ends; filled from behind, it becomes where it starts.
            total += *start;
            *start = total;
        }
        all.clear();
        all.resize(total as usize, T::default());
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
    }

    fn of(&self, atom: AtomId) -> &[T] {
        let at = atom.index();
        &self.all[self.starts[at] as usize..self.starts[at + 1] as usize]
    }
}
