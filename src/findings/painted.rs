//! Start, arrows and answer as numbers that depend neither on labels, nor on the order of atoms, nor on the form in which a ring is
//! drawn: what tells whether two items ask and answer the same. A drawing that was judged and one of the quick way get one number.

use crate::arrows::{Arrow, Moves, Place};
use crate::structure::AtomId;
use crate::structure::canon::{Orders, Peel, Rest, mix};
use crate::structure::skeleton::Skeleton;
use rustc_hash::FxHashMap;

/// How orders of bonds count: 1 and 2 are not told apart, but the double bonds of each atom are. Two drawings of one skeleton that agree
/// so differ by cycles of alternating bonds alone, which other Kekulé spellings do.
pub(super) const ORDERS: Orders = Orders::Free;

/// A drawing that can be coloured.
pub(crate) trait Drawn {
    /// Gives its nodes with their bonds.
    fn feed(&mut self, peel: &mut Peel);
    /// Lists the bonds between nodes that are left.
    fn list(&self, rest: &mut Rest<'_>);
    /// The node that stands for an atom, and whether the atom is a hydrogen that is counted there.
    fn host(&self, atom: AtomId) -> (u32, bool);
}

impl Drawn for &Skeleton {
    fn feed(&mut self, peel: &mut Peel) {
        peel.begin();
        peel.add_nodes((0..self.len()).map(|node| {
            let ends = self.arcs(node).iter().fold([0; 3], |[count, near, kind]: [u32; 3], arc| {
                [count + 1, near ^ arc.to, kind ^ ORDERS.kind(arc.order)]
            });
            (ORDERS.node_code(self.node(node)), ends)
        }));
    }

    fn list(&self, rest: &mut Rest<'_>) {
        for node in (0..self.len()).filter(|node| self.arcs(*node).len() > 1) {
            for arc in self.arcs(node).iter().filter(|arc| arc.to > node) {
                rest.take(node, arc.to, ORDERS.kind(arc.order));
            }
        }
    }

    fn host(&self, atom: AtomId) -> (u32, bool) {
        (Skeleton::host(self, atom), self.is_folded(atom))
    }
}

/// The colours of one drawing, in buffers that are kept.
#[derive(Debug, Default)]
pub(crate) struct Painted {
    peel: Peel,
    /// Of hydrogens that stand at their neighbour: what arrows do to each, which tells two of one atom apart.
    roles: FxHashMap<AtomId, u64>,
}

impl Painted {
    /// Colours a drawing whose atoms are special by some numbers. Gives that of the whole.
    pub(crate) fn drawing(&mut self, drawn: &mut impl Drawn, seeds: &[(AtomId, u64)]) -> u64 {
        self.roles.clear();
        drawn.feed(&mut self.peel);
        for (atom, seed) in seeds {
            self.peel.seed(drawn.host(*atom).0, *seed);
        }
        self.peel.gather(|rest| drawn.list(rest));
        self.peel.sum()
    }

    /// Colours a start by what the arrows do to its atoms. Gives the number of the whole.
    pub(crate) fn start(&mut self, drawn: &mut impl Drawn, arrows: &[Arrow]) -> u64 {
        self.roles.clear();
        drawn.feed(&mut self.peel);
        for (role, atom) in roles(arrows) {
            let (node, is_folded) = drawn.host(atom);
            self.peel.seed(node, role | u64::from(is_folded) << 8);
            if is_folded {
                let own = self.roles.entry(atom).or_insert(0);
                *own = own.wrapping_add(mix(role));
            }
        }
        self.peel.gather(|rest| drawn.list(rest));
        self.peel.sum()
    }

    /// Gives all atoms their colours.
    pub(crate) fn spread(&mut self) {
        self.peel.spread();
    }

    /// Gives the atoms of arrows their colours, where no others are asked for.
    pub(crate) fn spread_to(&mut self, drawn: &impl Drawn, arrows: &[Arrow]) {
        self.peel.spread_to(roles(arrows).map(|(_, atom)| drawn.host(atom).0));
    }

    /// The colour of an atom.
    pub(crate) fn colour(&self, drawn: &impl Drawn, atom: AtomId) -> u64 {
        let (node, is_folded) = drawn.host(atom);
        let own = self.peel.of(node);
        if is_folded { mix(own).wrapping_add(self.roles.get(&atom).copied().unwrap_or(0)) } else { own }
    }

    /// The number of start and arrows together, from that of the start, whose atoms have their colours.
    pub(crate) fn question(&self, drawn: &impl Drawn, arrows: &[Arrow], start: u64) -> u64 {
        let place = |place: Place<AtomId>| match place {
            Place::Atom(a) => mix(self.colour(drawn, a)),
            Place::Bond(a, b) => mix(mix(self.colour(drawn, a)).wrapping_add(mix(self.colour(drawn, b)))),
        };
        arrows.iter().fold(start, |sum, arrow| {
            let kind = u64::from(arrow.moves == Moves::Single);
            sum.wrapping_add(mix(place(arrow.tail) ^ mix(place(arrow.head) ^ kind)))
        })
    }
}

/// What arrows do to the atoms of their places.
fn roles(arrows: &[Arrow]) -> impl Iterator<Item = (u64, AtomId)> + '_ {
    arrows.iter().flat_map(|arrow| {
        let moves = u64::from(arrow.moves == Moves::Single) << 4;
        [(1, arrow.tail), (2, arrow.head)].into_iter().flat_map(move |(role, place)| {
            let kind = u64::from(matches!(place, Place::Bond(..))) << 5;
            place.atoms().map(move |atom| (role | kind | moves, atom))
        })
    })
}

/// An arrow whose head makes a new bond from one end of its tail's bond, left open between the two ends.
pub(crate) fn opened(arrow: &Arrow) -> Option<Arrow> {
    let (Place::Bond(a, b), Place::Bond(c, d)) = (arrow.tail, arrow.head) else { return None };
    let head = match ([a, b].contains(&c), [a, b].contains(&d)) {
        (true, false) => d,
        (false, true) => c,
        _ => return None,
    };
    Some(Arrow { head: Place::Atom(head), ..*arrow })
}

/// The arrows with every head that makes a new bond left open: what does not depend on whether that is written or settled. `None` where
/// these are the arrows themselves.
pub(crate) fn all_open(arrows: &[Arrow], is_bonded: impl Fn(AtomId, AtomId) -> bool) -> Option<Vec<Arrow>> {
    let is_new = |arrow: &Arrow| matches!(arrow.head, Place::Bond(c, d) if !is_bonded(c, d));
    let open = |arrow: &Arrow| opened(arrow).filter(|_| is_new(arrow));
    let any = arrows.iter().any(|arrow| open(arrow).is_some());
    any.then(|| arrows.iter().map(|arrow| open(arrow).unwrap_or(*arrow)).collect())
}
