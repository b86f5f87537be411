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
            structure,
            parent: vec![None; atoms],
            seen: vec![Seen { visit: UNSEEN, bond: None, below: 1 }; atoms],
            order: Vec::with_capacity(atoms),
            ring_bonds: Vec::new(),
            frames: Vec::new(),
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
            tokens: Vec::with_capacity(2 * atoms),
            position: vec![UNSEEN; atoms],
            parent: tree.parent,
            opens: Rings::default(),
            closes: Rings::default(),
        };
        let mut stack = Vec::new();
        for (at, root) in roots.into_iter().enumerate() {
            if at > 0 {
                plan.tokens.push(Token::Dot);
            }
            plan.spell(root, &children, &tree.seen, &mut stack);
        }
        plan.place_rings(structure, &tree.ring_bonds);
        plan
    }

    fn spell(&mut self, root: AtomId, children: &Children, seen: &[Seen], stack: &mut Vec<Token>) {
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
struct Tree<'a> {
    structure: &'a Structure,
    parent: Vec<Option<AtomId>>,
    seen: Vec<Seen>,
    order: Vec<AtomId>,
    ring_bonds: Vec<BondId>,
    frames: Vec<(AtomId, Onward)>,
}

/// Neighbours that are still to be visited.
type Onward = SmallVec<[(AtomId, BondId); 4]>;

impl Tree<'_> {
    fn walk(&mut self, root: AtomId) {
        let mut frames = std::mem::take(&mut self.frames);
        frames.push((root, self.onward(root, None)));
        self.see(root);
        while let Some((atom, rest)) = frames.last_mut() {
            let atom = *atom;
            let Some((next, bond)) = rest.pop() else {
                frames.pop();
                continue;
            };
            if self.seen[next.index()].visit == UNSEEN {
                self.parent[next.index()] = Some(atom);
                self.seen[next.index()].bond = Some(bond);
                self.see(next);
                let onward = self.onward(next, Some(bond));
                frames.push((next, onward));
            } else if self.seen[next.index()].visit < self.seen[atom.index()].visit {
                self.ring_bonds.push(bond);
            }
        }
        self.frames = frames;
    }

    fn see(&mut self, atom: AtomId) {
        self.seen[atom.index()].visit = self.order.len() as u32;
        self.order.push(atom);
    }

    /// Neighbours but the one behind the bond that led here, first drawn last, so that they are popped in the order of the
    /// drawing.
    fn onward(&self, atom: AtomId, from: Option<BondId>) -> Onward {
        let mut next: Onward = self.structure.neighbours(atom).filter(|(_, bond)| Some(*bond) != from).collect();
        if next.len() > 1 {
            next.sort_unstable_by_key(|(atom, _)| std::cmp::Reverse(*atom));
        }
        next
    }

    /// Children of each atom, the largest branch last.
    fn children(&mut self) -> Children {
        let atoms = self.parent.len();
        let mut children = Children { starts: vec![0; atoms + 1], all: Vec::new() };
        for atom in self.order.iter().rev() {
            if let Some(parent) = self.parent[atom.index()] {
                self.seen[parent.index()].below += self.seen[atom.index()].below;
                children.starts[parent.index()] += 1;
            }
        }
        let mut total = 0;
        for start in &mut children.starts {
            // Where the atom's own end: filled from behind, it becomes where they start.
            total += *start;
            *start = total;
        }
        children.all.resize(total as usize, AtomId::default());
        for atom in &self.order {
            if let Some(parent) = self.parent[atom.index()] {
                let start = &mut children.starts[parent.index()];
                *start -= 1;
                children.all[*start as usize] = *atom;
            }
        }
        for at in 0..atoms {
            let range = children.starts[at] as usize..children.starts[at + 1] as usize;
            if range.len() > 1 {
                let seen = &self.seen;
                children.all[range].sort_unstable_by_key(|child| (seen[child.index()].below, *child));
            }
        }
        children
    }
}

/// Children of each atom, one behind the other.
struct Children {
    starts: Vec<u32>,
    all: Vec<AtomId>,
}

impl Children {
    fn of(&self, atom: AtomId) -> &[AtomId] {
        let at = atom.index();
        &self.all[self.starts[at] as usize..self.starts[at + 1] as usize]
    }
}
