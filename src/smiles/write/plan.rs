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
        self.spell_all(structure);
    }

    /// Plans the text of the whole, its atoms in the order of the drawing.
    pub(super) fn lay_as_drawn(&mut self, structure: &Structure) {
        if self.tree.follow(structure) {
            self.spell_all(structure);
        } else {
            self.lay(structure, structure.atom_ids(), |atom| atom.index() as u32, |_| true);
        }
    }

    fn spell_all(&mut self, structure: &Structure) {
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

    /// Takes a tree from the drawing, where that is the one that [`Tree::walk`] would find from the first atom of each species on if
    /// it went to earlier drawn neighbours first: a SMILES is written so. Else says that it is not.
    ///
    /// Each atom hangs on the last of its neighbours that are drawn before it. That is the tree if the atom drawn just before it
    /// hangs on that neighbour, too, or is it, and if every other bond leads to an atom on which its later end hangs: then the
    /// walk finds nothing else to go to.
    fn follow(&mut self, structure: &Structure) -> bool {
        let Self { seen, visit, ring_bonds, .. } = self;
        seen.clear();
        seen.extend(structure.atom_ids().map(|atom| Seen { atom, bond: BondId::end(), from: UNSEEN, below: 1 }));
        ring_bonds.clear();
        for (bond, a, b, _) in structure.bonds() {
            let early = a.min(b).index() as u32;
            let late = &mut seen[a.max(b).index()];
            if late.from == UNSEEN {
                (late.from, late.bond) = (early, bond);
            } else if late.from < early {
                ring_bonds.push(late.bond);
                (late.from, late.bond) = (early, bond);
            } else {
                ring_bonds.push(bond);
            }
        }
        for at in 0..seen.len() as u32 {
            let from = seen[at as usize].from;
            if from == UNSEEN {
                continue;
            }
            // Each atom is left once, so that this takes no more steps than there are atoms.
            let mut before = at.wrapping_sub(1);
            while before != UNSEEN && before > from {
                before = seen[before as usize].from;
            }
            if before != from {
                return false;
            }
        }
        visit.clear();
        visit.extend(0..seen.len() as u32);
        self.weigh();
        let hangs = |bond: &BondId| {
            let (a, b) = structure.ends(*bond);
            let (early, late) = (a.min(b).index() as u32, a.max(b).index() as u32);
            late - early < self.seen[early as usize].below && self.seen[late as usize].from > early
        };
        self.ring_bonds.iter().all(hangs)
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

#[cfg(test)]
mod tests {
    use super::{Plan, Token};
    use crate::source::Span;
    use crate::structure::{Atom, AtomId, Bond, Element, Structure};
    use proptest::prelude::*;

    /// The text that is planned: its tokens, where each atom stands, which ring bonds open and close.
    fn laid(plan: &Plan) -> impl PartialEq + std::fmt::Debug {
        let token = |token: &Token| match token {
            Token::Dot => (b'.', None),
            Token::Open => (b'(', None),
            Token::Close => (b')', None),
            Token::Atom(at) => (b'a', Some((plan.seen(*at).atom, plan.seen(*at).bond()))),
        };
        let tokens: Vec<_> = plan.tokens.iter().map(token).collect();
        (tokens, plan.position.clone(), plan.opens.0.clone(), plan.closes.0.clone())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]
        /// Bonds to the atom before, now and then to another one: most such drawings can be followed.
        #[test]
        fn what_is_followed_is_what_is_walked(
            atoms in 1_usize..12,
            chain in prop::collection::vec((0_usize..4, prop::bool::weighted(0.8)), 11),
            others in prop::collection::vec((0_usize..12, 0_usize..12), 0..3),
        ) {
            let mut structure = Structure::default();
            for _ in 0..atoms {
                structure.add_atom(Atom::new(Element::CARBON), Span::default());
            }
            let along = (1..atoms).zip(&chain).filter(|(_, own)| own.1);
            let along = along.map(|(at, (back, _))| (at.saturating_sub(back + 1), at));
            for (a, b) in along.chain(others).filter(|(a, b)| a.max(b) < &atoms) {
                structure.add_bond(AtomId::new(a), AtomId::new(b), Bond::new(1), Span::default());
            }
            let (mut followed, mut walked) = (Plan::default(), Plan::default());
            followed.lay_as_drawn(&structure);
            walked.lay(&structure, structure.atom_ids(), |atom| atom.index() as u32, |_| true);
            prop_assert_eq!(laid(&followed), laid(&walked));
        }
    }

    #[test]
    fn a_drawing_as_smiles_writes_it_is_followed() {
        let follows = |text: &str| Plan::default().tree.follow(&crate::smiles::read(text).structure);
        let texts = ["", "C", "CCO", "C1CC1C", "C(C)(C)C", "C1(CCC)CC1", "C.C1CC1.O", "C12C3C4C1C5C2C3C45"];
        assert_eq!(texts.into_iter().filter(|text| !follows(text)).collect::<Vec<_>>(), Vec::<&str>::new());
        // A walk comes to the third atom before the second.
        assert!(!follows("C1.O.C1"));
    }
}
