//! The writer: localised bonds, labels as atom classes, the order of the drawing where SMILES allows it.
//!
//! Of the branches at an atom the largest is written last, without parentheses, and equal ones in the order of the
//! drawing, so that the text of a product looks like the text of its start.

use super::direction_marks::Marks;
use crate::structure::stereo::{Centre, Geometry, Neighbour};
use crate::structure::{AtomId, BondId, Element, Structure};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;
use std::fmt::Write as _;

/// Whether labels are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Labels {
    /// Numeric labels as atom classes. Named ids have no place in SMILES and are left out.
    Classes,
    /// None.
    Without,
}

/// Writes a localised structure as SMILES.
#[must_use]
pub fn write(structure: &Structure, labels: Labels) -> String {
    write_part(structure, labels, |_| true)
}

/// Writes those species of a structure for whose first atom `keep` holds.
#[must_use]
pub fn write_part(structure: &Structure, labels: Labels, keep: impl Fn(AtomId) -> bool) -> String {
    let plan = Plan::new(structure, keep);
    let marks = Marks::new(structure, &plan.position);
    let mut writer = Writer { structure, labels, plan: &plan, marks, out: String::new(), open: Vec::new() };
    writer.run();
    writer.out
}

/// One token of the text, but for the characters of its bond and atom.
#[derive(Clone, Copy)]
enum Token {
    Dot,
    Open,
    Close,
    Atom(AtomId, Option<BondId>),
}

/// The order of the text: which atom follows which, and which bonds become ring numbers.
struct Plan {
    tokens: Vec<Token>,
    /// Place of each atom in the text; `u32::MAX` for atoms that are not written.
    position: Vec<u32>,
    parent: Vec<Option<AtomId>>,
    /// Ring bonds by the atom at which they open and at which they close, in the order of the text.
    opens: FxHashMap<AtomId, SmallVec<[BondId; 2]>>,
    closes: FxHashMap<AtomId, SmallVec<[BondId; 2]>>,
}

const UNSEEN: u32 = u32::MAX;

impl Plan {
    fn new(structure: &Structure, keep: impl Fn(AtomId) -> bool) -> Self {
        let atoms = structure.atom_count();
        let mut tree = Tree {
            structure,
            parent: vec![None; atoms],
            parent_bond: vec![None; atoms],
            visit: vec![UNSEEN; atoms],
            order: Vec::with_capacity(atoms),
            ring_bonds: Vec::new(),
        };
        let mut roots = Vec::new();
        for first in structure.atom_ids() {
            if tree.visit[first.index()] == UNSEEN && keep(first) {
                roots.push(first);
                tree.walk(first);
            }
        }
        let children = tree.children();
        let mut plan = Self {
            tokens: Vec::with_capacity(2 * atoms),
            position: vec![UNSEEN; atoms],
            parent: tree.parent,
            opens: FxHashMap::default(),
            closes: FxHashMap::default(),
        };
        for (at, root) in roots.into_iter().enumerate() {
            if at > 0 {
                plan.tokens.push(Token::Dot);
            }
            plan.spell(root, &children, &tree.parent_bond);
        }
        plan.place_rings(structure, &tree.ring_bonds);
        plan
    }

    fn spell(&mut self, root: AtomId, children: &FxHashMap<AtomId, SmallVec<[AtomId; 3]>>, bonds: &[Option<BondId>]) {
        let mut stack = vec![Token::Atom(root, None)];
        while let Some(token) = stack.pop() {
            self.tokens.push(token);
            let Token::Atom(atom, _) = token else { continue };
            self.position[atom.index()] = self.tokens.len() as u32;
            let Some(below) = children.get(&atom) else { continue };
            let step = |child: AtomId| Token::Atom(child, bonds[child.index()]);
            let Some((main, branches)) = below.split_last() else { continue };
            stack.push(step(*main));
            for branch in branches.iter().rev() {
                stack.extend([Token::Close, step(*branch), Token::Open]);
            }
        }
    }

    fn place_rings(&mut self, structure: &Structure, ring_bonds: &[BondId]) {
        for bond in ring_bonds {
            let (a, b) = structure.ends(*bond);
            let a_first = self.position[a.index()] < self.position[b.index()];
            let (first, last) = if a_first { (a, b) } else { (b, a) };
            self.opens.entry(first).or_default().push(*bond);
            self.closes.entry(last).or_default().push(*bond);
        }
        let position = &self.position;
        let other_end = |bond: BondId, atom: AtomId| {
            let (a, b) = structure.ends(bond);
            position[if a == atom { b } else { a }.index()]
        };
        for (atom, bonds) in self.opens.iter_mut().chain(self.closes.iter_mut()) {
            bonds.sort_unstable_by_key(|bond| other_end(*bond, *atom));
        }
    }
}

/// A depth-first tree of the structure, built without recursion.
struct Tree<'a> {
    structure: &'a Structure,
    parent: Vec<Option<AtomId>>,
    parent_bond: Vec<Option<BondId>>,
    visit: Vec<u32>,
    order: Vec<AtomId>,
    ring_bonds: Vec<BondId>,
}

impl Tree<'_> {
    fn walk(&mut self, root: AtomId) {
        let mut frames = vec![(root, self.onward(root))];
        self.see(root);
        while let Some((atom, rest)) = frames.last_mut() {
            let atom = *atom;
            let Some((next, bond)) = rest.pop() else {
                frames.pop();
                continue;
            };
            if self.visit[next.index()] == UNSEEN {
                self.parent[next.index()] = Some(atom);
                self.parent_bond[next.index()] = Some(bond);
                self.see(next);
                let onward = self.onward(next);
                frames.push((next, onward));
            } else if self.parent_bond[atom.index()] != Some(bond)
                && self.visit[next.index()] < self.visit[atom.index()]
            {
                self.ring_bonds.push(bond);
            }
        }
    }

    fn see(&mut self, atom: AtomId) {
        self.visit[atom.index()] = self.order.len() as u32;
        self.order.push(atom);
    }

    /// Neighbours, first drawn last, so that they are popped in the order of the drawing.
    fn onward(&self, atom: AtomId) -> SmallVec<[(AtomId, BondId); 4]> {
        let mut next: SmallVec<[_; 4]> = self.structure.neighbours(atom).collect();
        next.sort_unstable_by_key(|(atom, _)| std::cmp::Reverse(*atom));
        next
    }

    /// Children of each atom, the largest branch last.
    fn children(&self) -> FxHashMap<AtomId, SmallVec<[AtomId; 3]>> {
        let mut size = vec![1_u32; self.parent.len()];
        let mut children: FxHashMap<AtomId, SmallVec<[AtomId; 3]>> = FxHashMap::default();
        for atom in self.order.iter().rev() {
            if let Some(parent) = self.parent[atom.index()] {
                size[parent.index()] += size[atom.index()];
                children.entry(parent).or_default().push(*atom);
            }
        }
        for below in children.values_mut() {
            below.sort_unstable_by_key(|child| (size[child.index()], *child));
        }
        children
    }
}

struct Writer<'a> {
    structure: &'a Structure,
    labels: Labels,
    plan: &'a Plan,
    marks: Marks,
    out: String,
    /// Ring numbers in use, by number.
    open: Vec<Option<BondId>>,
}

impl Writer<'_> {
    fn run(&mut self) {
        for token in &self.plan.tokens {
            match *token {
                Token::Dot => self.out.push('.'),
                Token::Open => self.out.push('('),
                Token::Close => self.out.push(')'),
                Token::Atom(atom, bond) => self.atom(atom, bond),
            }
        }
    }

    fn atom(&mut self, atom: AtomId, bond: Option<BondId>) {
        if let Some(bond) = bond {
            self.bond(bond);
        }
        self.atom_symbol(atom);
        for bond in self.plan.closes.get(&atom).into_iter().flatten() {
            if let Some(number) = self.open.iter().position(|open| *open == Some(*bond)) {
                self.open[number] = None;
                self.ring_number(number);
            }
        }
        for bond in self.plan.opens.get(&atom).into_iter().flatten() {
            self.bond(*bond);
            let number = (1..self.open.len()).find(|number| self.open[*number].is_none());
            let number = number.unwrap_or(self.open.len().max(1));
            if self.open.len() <= number {
                self.open.resize(number + 1, None);
            }
            self.open[number] = Some(*bond);
            self.ring_number(number);
        }
    }

    /// Beyond 99 open rings the specification has no number; `%(…)` is what other programs write there.
    fn ring_number(&mut self, number: usize) {
        let _ = match number {
            0..=9 => write!(self.out, "{number}"),
            10..=99 => write!(self.out, "%{number}"),
            _ => write!(self.out, "%({number})"),
        };
    }

    fn bond(&mut self, bond: BondId) {
        let symbol = match self.structure.bond(bond).order {
            2 => "=",
            3 => "#",
            4 => "$",
            _ => self.marks.symbol(bond),
        };
        self.out.push_str(symbol);
    }

    fn atom_symbol(&mut self, id: AtomId) {
        let atom = self.structure.atom(id);
        let class = match (self.labels, atom.class) {
            (Labels::Classes, Some(class)) => Some(class),
            _ => None,
        };
        let chirality =
            self.structure.stereo.centres.iter().find(|centre| centre.atom == id).map(|c| self.chirality(c));
        let bare = class.is_none()
            && atom.charge == 0
            && atom.isotope.is_none()
            && chirality.is_none()
            && self.hydrogens_are_implied(id);
        if bare {
            self.out.push_str(atom.element.symbol());
            return;
        }
        self.out.push('[');
        let _ = atom.isotope.map(|mass| write!(self.out, "{mass}"));
        self.out.push_str(atom.element.symbol());
        self.out.push_str(&chirality.unwrap_or_default());
        match atom.hydrogens {
            0 => {}
            1 => self.out.push('H'),
            more => {
                let _ = write!(self.out, "H{more}");
            }
        }
        match atom.charge {
            0 => {}
            1 => self.out.push('+'),
            -1 => self.out.push('-'),
            more => {
                let _ = write!(self.out, "{more:+}");
            }
        }
        let _ = class.map(|class| write!(self.out, ":{class}"));
        self.out.push(']');
    }

    fn hydrogens_are_implied(&self, id: AtomId) -> bool {
        let atom = self.structure.atom(id);
        if atom.element == Element::ANY {
            return atom.hydrogens == 0;
        }
        let sum: u32 = self.structure.neighbours(id).map(|(_, b)| u32::from(self.structure.bond(b).order)).sum();
        let valences = atom.element.organic_valences();
        if valences.is_empty() {
            return false;
        }
        let implied = valences.iter().map(|v| u32::from(*v)).find(|v| *v >= sum).map_or(0, |v| v - sum);
        implied == u32::from(atom.hydrogens)
    }

    /// `@` or `@@`: the parity of the way from the listed order of the neighbours to the order of the text.
    fn chirality(&self, centre: &Centre) -> String {
        let geometry = match centre.geometry {
            Geometry::Other(class, number) => {
                let class = String::from_utf8_lossy(&class).into_owned();
                return format!("@{class}{number}");
            }
            other => other,
        };
        let mut written: SmallVec<[Neighbour; 4]> = centre.neighbours.clone();
        if geometry == Geometry::Allene {
            self.sort_allene(&mut written);
        } else {
            let first = if self.plan.parent[centre.atom.index()].is_some() { 0 } else { -1 };
            written.sort_by_key(|neighbour| match neighbour {
                Neighbour::Atom(atom) => self.place_beside(centre.atom, *atom),
                Neighbour::Hydrogen | Neighbour::LonePair => (first, 1),
            });
        }
        let clockwise = centre.clockwise ^ is_odd(&centre.neighbours, &written);
        if clockwise { "@@".into() } else { "@".into() }
    }

    /// Where the text lists a neighbour of an atom: what comes before, ring numbers (closing, then opening), branches.
    fn place_beside(&self, atom: AtomId, neighbour: AtomId) -> (i64, i64) {
        if self.plan.parent[atom.index()] == Some(neighbour) {
            return (0, 0);
        }
        let bond = self.structure.bond_between(atom, neighbour);
        for (group, rings) in [(1, &self.plan.closes), (2, &self.plan.opens)] {
            if let Some(at) = rings.get(&atom).and_then(|own| own.iter().position(|ring| Some(*ring) == bond)) {
                return (group, at as i64);
            }
        }
        (3, i64::from(self.plan.position[neighbour.index()]))
    }

    /// The order in which a reader of the text lists the substituents of a cumulene.
    fn sort_allene(&self, neighbours: &mut SmallVec<[Neighbour; 4]>) {
        let place = |neighbour: &Neighbour| match neighbour {
            Neighbour::Atom(atom) => Some(self.plan.position[atom.index()]),
            _ => None,
        };
        if neighbours.len() != 4 {
            return;
        }
        for pair in neighbours.chunks_mut(2) {
            if let (Some(a), Some(b)) = (place(&pair[0]), place(&pair[1]))
                && a > b
            {
                pair.swap(0, 1);
            }
        }
        let key = |pair: &[Neighbour]| pair.iter().filter_map(&place).min();
        if key(&neighbours[..2]) > key(&neighbours[2..]) {
            neighbours.rotate_left(2);
        }
    }
}

/// Whether the way from one order of the same neighbours to another is an odd permutation.
fn is_odd(from: &[Neighbour], to: &[Neighbour]) -> bool {
    let places: SmallVec<[usize; 4]> =
        from.iter().map(|neighbour| to.iter().position(|other| other == neighbour).unwrap_or(0)).collect();
    let inversions = (0..places.len()).flat_map(|i| (i + 1..places.len()).map(move |j| (i, j)));
    inversions.filter(|(i, j)| places[*i] > places[*j]).count() % 2 == 1
}
