//! The one arrow between two drawings, from what their atoms show, without a search for a correspondence.
//!
//! An arrow changes what two atoms show, the one that gives and the one that takes. So only atoms of which the stated answer shows
//! fewer of their kind can be these, and whether an arrow between two of them leads to the stated answer is first held against
//! sums over both drawings. What the sums let pass is a candidate and no more: it is tried by the push itself.

use crate::arrows::{Arrow, Moves, Place};
use crate::structure::canon::mix;
use crate::structure::{AtomId, Element, Structure};
use smallvec::SmallVec;

/// Atoms that may give or take, at most: beyond, too many are alike for a look that is to cost little.
const ATOMS: usize = 24;
/// Atoms of a drawing in which an arrow between atoms that no bond joins is looked for, at most.
const FAR: usize = 256;
/// Kinds of which one arrow leaves fewer atoms, at most: those of giver and taker, and of an atom that loses or gains a hydrogen.
pub(super) const CHANGED: usize = 3;

/// What an atom shows, whatever its place in the drawing. Hydrogens are told apart from other atoms in no way, drawn or not.
#[derive(Debug, Clone, Copy)]
struct Shown {
    element: Element,
    isotope: Option<u16>,
    charge: i32,
    /// Sum of bond orders, to hydrogens as well.
    bonds: i32,
    /// Hydrogens on it, drawn and undrawn.
    hydrogens: i32,
}

impl Shown {
    const HYDROGEN: Self = Self { element: Element::HYDROGEN, isotope: None, charge: 0, bonds: 1, hydrogens: 0 };

    fn sign(self) -> u64 {
        // Hydrogens in hydrogen gas are like any others.
        let hydrogens = if self.element == Element::HYDROGEN { 0 } else { self.hydrogens };
        let byte = |value: i32| u64::from(value.clamp(-100, 100).unsigned_abs() as u8) | u64::from(value < 0) << 7;
        mix(u64::from(self.element.number())
            | u64::from(self.isotope.map_or(0, |mass| mass.saturating_add(1))) << 8
            | byte(self.charge) << 24
            | byte(self.bonds) << 32
            | byte(hydrogens) << 40)
    }

    /// What a pair that comes or goes leaves as it is: which atom it is, and whether its electrons are paired. Each end of a
    /// full-headed arrow changes charge and bonds by one, so that their sum stays even or odd.
    fn frame(self) -> u64 {
        let odd = (self.charge + self.bonds).rem_euclid(2);
        Self { charge: odd, bonds: 0, hydrogens: 0, ..self }.sign()
    }

    fn with(self, charge: i32, bonds: i32, hydrogens: i32) -> Self {
        Self { charge: self.charge + charge, bonds: self.bonds + bonds, hydrogens: self.hydrogens + hydrogens, ..self }
    }
}

/// What all atoms of a drawing show.
pub(super) struct Drawing {
    atoms: Vec<Shown>,
    signs: Vec<u64>,
    sum: u64,
    frame: u64,
    /// Sum over bonds, by the signs of their atoms; their orders may be those of another localised form.
    joined: u64,
    charge: i64,
}

/// The sign of a bond between atoms of these signs.
fn join(one: u64, other: u64) -> u64 {
    mix(one.wrapping_add(other))
}

impl Drawing {
    pub(super) fn new(structure: &Structure) -> Self {
        let shown = |atom: &crate::structure::Atom| {
            let hydrogens = i32::from(atom.hydrogens);
            Shown {
                element: atom.element,
                isotope: atom.isotope,
                charge: i32::from(atom.charge),
                bonds: hydrogens,
                hydrogens,
            }
        };
        let mut atoms: Vec<Shown> = structure.atoms().map(|(_, atom)| shown(atom)).collect();
        let mut sum: u64 = 0;
        let mut undrawn: u64 = 0;
        let mut charge = 0;
        for own in &atoms {
            undrawn += u64::from(own.hydrogens.unsigned_abs());
            charge += i64::from(own.charge);
        }
        for (_, a, b, bond) in structure.bonds() {
            for (own, other) in [(a, b), (b, a)] {
                let is_hydrogen = atoms[other.index()].element == Element::HYDROGEN && bond.order > 0;
                let own = &mut atoms[own.index()];
                own.bonds += i32::from(bond.order);
                own.hydrogens += i32::from(is_hydrogen);
            }
        }
        let signs: Vec<u64> = atoms.iter().map(|own| own.sign()).collect();
        for sign in &signs {
            sum = sum.wrapping_add(*sign);
        }
        sum = sum.wrapping_add(Shown::HYDROGEN.sign().wrapping_mul(undrawn));
        let frame = atoms.iter().map(|own| own.frame()).fold(0, u64::wrapping_add);
        let frame = frame.wrapping_add(Shown::HYDROGEN.frame().wrapping_mul(undrawn));
        let mut own = Self { atoms, signs, sum, frame, joined: 0, charge };
        let drawn = structure.bonds().filter(|(_, _, _, bond)| bond.order > 0);
        let counted = drawn.filter(|(_, a, b, _)| own.joins(*a, *b));
        own.joined = counted.map(|(_, a, b, _)| join(own.sign(a), own.sign(b))).fold(0, u64::wrapping_add);
        own
    }

    fn sign(&self, atom: AtomId) -> u64 {
        self.signs[atom.index()]
    }

    /// Whether a bond between two atoms counts among bonds: a hydrogen may be drawn in one drawing and not in the other.
    fn joins(&self, a: AtomId, b: AtomId) -> bool {
        [a, b].iter().all(|atom| self.atoms[atom.index()].element != Element::HYDROGEN)
    }

    /// Whether full-headed arrows may lead from one to the other: atoms, charge, and which of them have an unpaired electron are
    /// the same.
    pub(super) fn may_become(&self, other: &Self) -> bool {
        (self.frame, self.charge) == (other.frame, other.charge)
    }

    /// Whether sums tell the two drawings apart in nothing.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        (self.sum, self.charge, self.joined) == (other.sum, other.charge, other.joined)
    }

    /// The atoms of whose kind the other drawing shows fewer, and how many kinds that many atoms are too few of.
    fn surplus(&self, other: &Self) -> (SmallVec<[AtomId; ATOMS]>, usize) {
        let mut own: SmallVec<[(u64, usize); 64]> = self.signs.iter().copied().zip(0..).collect();
        let mut others: SmallVec<[u64; 64]> = other.signs.iter().copied().collect();
        own.sort_unstable();
        others.sort_unstable();
        let (mut atoms, mut changed) = (SmallVec::new(), 0);
        let mut rest = others.as_slice();
        for group in own.chunk_by(|one, next| one.0 == next.0) {
            let sign = group[0].0;
            let from = rest.partition_point(|other| *other < sign);
            let count = rest[from..].iter().take_while(|other| **other == sign).count();
            rest = &rest[from + count..];
            // Undrawn hydrogens are not in the list: a drawn plain one may stand for any of them.
            if group.len() > count {
                let is_plain = sign == Shown::HYDROGEN.sign();
                changed += if is_plain { 0 } else { group.len() - count };
                atoms.extend(group.iter().map(|(_, at)| AtomId::new(*at)));
            }
        }
        (atoms, changed)
    }
}

/// One arrow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// Between places of atoms that are drawn.
    Arrow(Arrow),
    /// A hydrogen of the first atom, not drawn, goes to the second with its pair.
    Hydride(AtomId, AtomId),
    /// A hydrogen of the atom, not drawn, leaves without its pair.
    Proton(AtomId),
}

/// The arrows that may lead from a drawing to the stated answer, as far as sums can tell: those that come first to mind. Where there
/// are none, in how many kinds of atoms the two are apart; `None` where more atoms are alike than are looked at.
pub(super) fn candidates<'a>(
    product: &'a Structure,
    own: &'a Drawing,
    wanted: &'a Drawing,
) -> Result<Candidates<'a>, Option<usize>> {
    if !own.may_become(wanted) {
        return Err(None);
    }
    let mut found = Candidates { product, own, wanted, atoms: None, changes: Vec::new(), found: SmallVec::new() };
    if own.sum == wanted.sum {
        found.exchanged();
        return Ok(found);
    }
    let (atoms, changed) = own.surplus(wanted);
    if changed > CHANGED || atoms.len() > ATOMS {
        return Err((atoms.len() <= ATOMS).then_some(changed));
    }
    for giver in &atoms {
        found.proton(*giver);
        for taker in atoms.iter().filter(|taker| *taker != giver) {
            found.between(*giver, *taker);
        }
    }
    found.atoms = Some(atoms);
    if found.found.is_empty() && found.widen().is_empty() { Err(Some(changed)) } else { Ok(found) }
}

/// Arrows that are looked for among two drawings that sums tell apart in no more than one arrow changes, or in nothing.
pub(super) struct Candidates<'a> {
    product: &'a Structure,
    own: &'a Drawing,
    wanted: &'a Drawing,
    /// The atoms of whose kinds the stated answer shows fewer, as long as arrows with one end elsewhere have not been looked for.
    atoms: Option<SmallVec<[AtomId; ATOMS]>>,
    /// By how much each atom changes the sum where it gives or takes; worked out once an arrow is looked for.
    changes: Vec<Ends>,
    found: SmallVec<[Step; 4]>,
}

/// How one atom changes: charge, bonds, hydrogens.
type Changed = (AtomId, i32, i32, i32);

/// By how much an atom changes the sum at either end of an arrow: with a bond more, and one to a hydrogen, with a bond less, and one
/// to a hydrogen; and between two atoms of which one is a hydrogen, with one less or more.
#[derive(Clone, Copy)]
struct Ends {
    giver: [u64; 4],
    taker: [u64; 4],
    passed: [u64; 2],
    /// Whether the atom is a drawn hydrogen or has one on it.
    drawn_hydrogen: bool,
}

impl Candidates<'_> {
    /// What has been found so far.
    pub(super) fn found(&self) -> &[Step] {
        &self.found
    }

    /// What else there is: one of the two atoms may become what the other has been.
    pub(super) fn widen(&mut self) -> &[Step] {
        let before = self.found.len();
        if let Some(atoms) = self.atoms.take() {
            self.one_known(&atoms);
        }
        &self.found[before..]
    }

    fn ends(&self, atom: AtomId) -> Ends {
        let (own, sign) = (self.own.atoms[atom.index()], self.own.signs[atom.index()]);
        let change = |charge: i32, bonds, hydrogens| own.with(charge, bonds, hydrogens).sign().wrapping_sub(sign);
        Ends {
            giver: [change(1, 1, 0), change(1, 1, 1), change(1, -1, 0), change(1, -1, -1)],
            taker: [change(-1, 1, 0), change(-1, 1, 1), change(-1, -1, 0), change(-1, -1, -1)],
            passed: [change(0, 0, -1), change(0, 0, 1)],
            drawn_hydrogen: own.element == Element::HYDROGEN
                || own.hydrogens > i32::from(self.product.atom(atom).hydrogens),
        }
    }

    /// Whether sums let any arrow from one atom to another pass. A look at two numbers: most pairs of atoms end here.
    fn may_lead(&mut self, giver: AtomId, taker: AtomId) -> bool {
        if self.changes.is_empty() {
            self.changes = self.product.atom_ids().map(|atom| self.ends(atom)).collect();
        }
        let (giver, taker) = (&self.changes[giver.index()], &self.changes[taker.index()]);
        let wanted = self.wanted.sum.wrapping_sub(self.own.sum);
        let [made, _, broken, moved] = giver.giver;
        giver.drawn_hydrogen
            || taker.drawn_hydrogen
            || [(made, 0), (broken, 2), (broken, 0), (moved, 1)]
                .into_iter()
                .any(|(given, taken)| given.wrapping_add(taker.taker[taken]) == wanted)
    }

    /// By how much an atom changes the sum where it changes so; looked up where that has been worked out.
    #[inline]
    fn change(&self, &(atom, charge, bonds, hydrogens): &Changed) -> u64 {
        let known = self.changes.get(atom.index()).and_then(|ends| match (charge, bonds, hydrogens) {
            (0, 0, 0) => Some(0),
            (0, 0, -1) => Some(ends.passed[0]),
            (0, 0, 1) => Some(ends.passed[1]),
            (1, 1, 0) => Some(ends.giver[0]),
            (1, 1, 1) => Some(ends.giver[1]),
            (1, -1, 0) => Some(ends.giver[2]),
            (1, -1, -1) => Some(ends.giver[3]),
            (-1, 1, 0) => Some(ends.taker[0]),
            (-1, 1, 1) => Some(ends.taker[1]),
            (-1, -1, 0) => Some(ends.taker[2]),
            (-1, -1, -1) => Some(ends.taker[3]),
            _ => None,
        });
        known.unwrap_or_else(|| {
            let is = self.own.atoms[atom.index()].with(charge, bonds, hydrogens).sign();
            is.wrapping_sub(self.own.signs[atom.index()])
        })
    }

    fn fits(&self, changed: &[Changed], free: u64) -> bool {
        let changed = changed.iter().fold(free, |sum, own| sum.wrapping_add(self.change(own)));
        self.own.sum.wrapping_add(changed) == self.wanted.sum
    }

    /// Whether what is joined to what is as in the stated answer, once atoms have changed and the bonds at the ends of an arrow.
    fn joins(&self, changed: &[Changed], broken: Option<(AtomId, AtomId)>, made: Option<(AtomId, AtomId)>) -> bool {
        let now = |atom: AtomId| match changed.iter().find(|own| own.0 == atom) {
            Some(&(_, charge, bonds, hydrogens)) => self.own.atoms[atom.index()].with(charge, bonds, hydrogens).sign(),
            None => self.own.sign(atom),
        };
        let is_at = |ends: Option<(AtomId, AtomId)>, a, b| ends == Some((a, b)) || ends == Some((b, a));
        let mut sum = self.own.joined;
        let mut is_new = made.filter(|(a, b)| self.own.joins(*a, *b));
        for (at, (atom, ..)) in changed.iter().enumerate() {
            for (next, bond) in self.product.neighbours(*atom) {
                let is_counted = changed[..at].iter().any(|own| own.0 == next);
                let order = self.product.bond(bond).order;
                if order == 0 || is_counted || !self.own.joins(*atom, next) {
                    continue;
                }
                sum = sum.wrapping_sub(join(self.own.sign(*atom), self.own.sign(next)));
                if is_at(made, *atom, next) {
                    is_new = None;
                }
                if order > 1 || !is_at(broken, *atom, next) || is_at(made, *atom, next) {
                    sum = sum.wrapping_add(join(now(*atom), now(next)));
                }
            }
        }
        if let Some((a, b)) = is_new {
            sum = sum.wrapping_add(join(now(a), now(b)));
        }
        sum == self.wanted.joined
    }

    fn is_hydrogen(&self, atom: AtomId) -> i32 {
        i32::from(self.own.atoms[atom.index()].element == Element::HYDROGEN)
    }

    fn order(&self, a: AtomId, b: AtomId) -> u8 {
        self.product.bond_between(a, b).map_or(0, |bond| self.product.bond(bond).order)
    }

    fn arrow(&mut self, tail: Place<AtomId>, head: Place<AtomId>, changed: &[Changed]) {
        let bond = |place: Place<AtomId>| match place {
            Place::Bond(a, b) => Some((a, b)),
            Place::Atom(_) => None,
        };
        if self.fits(changed, 0) && self.joins(changed, bond(tail), bond(head)) {
            let [tail, head] = [tail, head].map(|place| match place {
                Place::Bond(a, b) => Place::Bond(a.min(b), a.max(b)),
                Place::Atom(_) => place,
            });
            self.found.push(Step::Arrow(Arrow { moves: Moves::Pair, tail, head }));
        }
    }

    /// Every arrow that takes from one atom and gives to another.
    fn between(&mut self, giver: AtomId, taker: AtomId) {
        if !self.may_lead(giver, taker) {
            return;
        }
        let order = self.order(giver, taker);
        let is_hydrogen = |atom| self.is_hydrogen(atom);
        let (of_giver, of_taker) = (is_hydrogen(giver), is_hydrogen(taker));
        // A lone pair becomes a bond.
        let new = i32::from(order == 0);
        let changed = [(giver, 1, 1, new * of_taker), (taker, -1, 1, new * of_giver)];
        self.arrow(Place::Atom(giver), Place::Bond(giver, taker), &changed);
        if order > 0 {
            // A bond becomes a lone pair.
            let gone = i32::from(order == 1);
            let changed = [(giver, 1, -1, -gone * of_taker), (taker, -1, -1, -gone * of_giver)];
            self.arrow(Place::Bond(giver, taker), Place::Atom(taker), &changed);
        }
        let around: SmallVec<[AtomId; 6]> = self.product.neighbours(giver).map(|(next, _)| next).collect();
        for middle in around.into_iter().filter(|middle| *middle != taker) {
            let gone = i32::from(self.order(giver, middle) == 1);
            let new = i32::from(self.order(middle, taker) == 0);
            let of_middle = self.is_hydrogen(middle);
            let changed = [
                (giver, 1, -1, -gone * of_middle),
                (taker, -1, 1, new * of_middle),
                (middle, 0, 0, new * of_taker - gone * of_giver),
            ];
            self.arrow(Place::Bond(giver, middle), Place::Bond(middle, taker), &changed);
        }
        if self.product.atom(giver).hydrogens > 0
            && self.fits(&[(giver, 1, -1, -1), (taker, -1, 1, 1)], 0)
            && self.joins(&[(giver, 1, -1, -1), (taker, -1, 1, 1)], None, None)
        {
            self.found.push(Step::Hydride(giver, taker));
        }
    }

    /// Every arrow of which one end is known: first between atoms that a bond or two join, then between any.
    fn one_known(&mut self, atoms: &[AtomId]) {
        for own in atoms {
            let near = self.near(*own);
            for other in near.into_iter().filter(|other| !atoms.contains(other)) {
                self.between(*own, other);
                self.between(other, *own);
            }
        }
        if self.own.atoms.len() > FAR {
            return;
        }
        for own in atoms {
            for other in self.product.atom_ids().filter(|other| !atoms.contains(other)) {
                self.between(*own, other);
                self.between(other, *own);
            }
        }
    }

    /// Every arrow after which giver and taker show what the other has shown: they are of one element and one charge apart.
    fn exchanged(&mut self) {
        if self.own.atoms.len() > FAR {
            return;
        }
        let charged: SmallVec<[AtomId; 16]> =
            self.product.atoms().filter(|(_, atom)| atom.charge != 0).map(|(id, _)| id).take(ATOMS).collect();
        let own = &self.own.atoms;
        let may_be = |giver: AtomId, taker: AtomId| {
            let (giver, taker) = (&own[giver.index()], &own[taker.index()]);
            giver.element == taker.element && taker.charge == giver.charge + 1
        };
        for one in charged {
            for other in self.product.atom_ids() {
                for (giver, taker) in [(one, other), (other, one)] {
                    if may_be(giver, taker) {
                        self.between(giver, taker);
                    }
                }
            }
        }
    }

    /// The atoms that one bond or two join to an atom, each once.
    fn near(&self, atom: AtomId) -> SmallVec<[AtomId; 16]> {
        let mut near: SmallVec<[AtomId; 16]> = self.product.neighbours(atom).map(|(next, _)| next).collect();
        let first = near.len();
        for at in 0..first {
            let beyond = self.product.neighbours(near[at]).map(|(next, _)| next);
            near.extend(beyond.filter(|next| *next != atom));
        }
        near.sort_unstable();
        near.dedup();
        near
    }

    fn proton(&mut self, atom: AtomId) {
        let free = Shown { charge: 1, bonds: 0, ..Shown::HYDROGEN }.sign().wrapping_sub(Shown::HYDROGEN.sign());
        if self.product.atom(atom).hydrogens > 0
            && self.fits(&[(atom, -1, -1, -1)], free)
            && self.joins(&[(atom, -1, -1, -1)], None, None)
        {
            self.found.push(Step::Proton(atom));
        }
    }
}
