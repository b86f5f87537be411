//! Colours: what tells atoms apart however a drawing is numbered.
//!
//! Colour refinement (B. Weisfeiler and A. Leman, Nauchno-Tekhnicheskaya Informatsiya Ser. 2, 9 (1968) 12; in chemistry H. L. Morgan,
//! J. Chem. Doc. 5 (1965) 107): an atom's colour is made of its own and its neighbours', over and over, until no more
//! atoms are told apart. Colours are 64-bit hashes, combined so that no order matters, and so can be compared between
//! drawings. Two drawings that differ may get one fingerprint (refinement does not see everything, and a hash may collide),
//! two equal ones never get different ones. Ring bonds are marked beforehand, which tells decalin from bicyclopentyl.

mod form;
mod partition;
mod peel;

pub use form::{Canonical, canonical};
pub(crate) use peel::{Peel, Rest};

use super::Structure;
use super::localise::{Role, role};
use super::skeleton::{Arc, Node, Skeleton};
use std::ops::Range;

/// How bond orders count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Orders {
    /// As drawn.
    #[default]
    Drawn,
    /// Orders 1 and 2 are not told apart, but an atom's number of double bonds is: the forms of a delocalised system agree.
    Free,
    /// As `Free`, and an atom's number of double bonds is not told apart either. For systems with atoms that may or may
    /// not have one ([`Skeleton::is_loose`]).
    Loose,
    /// Neither orders nor charges, hydrogens and isotopes: elements and connection.
    Bare,
}

impl Orders {
    /// The strictest way to compare two drawings that is still true to all their localised forms.
    #[must_use]
    pub fn for_both(a: &Skeleton, b: &Skeleton) -> Self {
        if a.is_loose() || b.is_loose() {
            Self::Loose
        } else if a.has_free() || b.has_free() {
            Self::Free
        } else {
            Self::Drawn
        }
    }

    /// The same for one drawing.
    pub(crate) fn of(structure: &Structure) -> Self {
        let free = || structure.bonds().filter(|(.., bond)| bond.aromatic && bond.order > 0);
        if free().next().is_none() {
            Self::Drawn
        } else if free().any(|(_, a, b, _)| [a, b].into_iter().any(|end| role(structure, end) == Role::May)) {
            Self::Loose
        } else {
            Self::Free
        }
    }

    /// A number for what is told apart of a bond.
    pub(crate) fn code(self, arc: &Arc) -> u64 {
        u64::from(self.kind(arc.order)) << 1 | u64::from(arc.in_ring)
    }

    /// A number for what is told apart of a bond of this order, but for rings.
    #[inline]
    pub(crate) fn kind(self, order: u8) -> u32 {
        u32::from(match self {
            Self::Drawn => order,
            Self::Free | Self::Loose => order.max(2),
            Self::Bare => 1,
        })
    }

    /// A number for what is told apart of an atom by itself. Stated unpaired electrons are left out, because they count only
    /// where both drawings state them.
    #[inline]
    pub(crate) fn node_code(self, node: &Node) -> u64 {
        if self == Self::Bare {
            return u64::from(node.element.number());
        }
        // Exact but for absurd numbers, which `Node::agrees` tells apart.
        u64::from(node.element.number())
            | u64::from(node.isotope.map_or(0, |mass| mass.saturating_add(1))) << 7
            | u64::from(node.charge.cast_unsigned()) << 23
            | u64::from(node.hydrogens) << 39
            | self.pi_code(node.pi)
    }

    /// The hydrogens that are in the code of an atom, where its bonds are not.
    pub(crate) fn hydrogens_of(code: u64) -> u16 {
        (code >> 39) as u16
    }

    /// The part of [`node_code`](Self::node_code) that is made of the bonds.
    #[inline]
    pub(crate) fn pi_code(self, pi: u16) -> u64 {
        if self == Self::Free { u64::from(pi.min(63)) << 55 } else { 0 }
    }
}

/// An odd constant with no pattern: the fractional digits of the golden ratio.
const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
/// Another: the fractional digits of the square root of 3.
const ROOT: u64 = 0xBB67_AE85_84CA_A73B;

/// Spreads a number over 64 bits: the two halves of a product, folded.
#[inline]
pub(crate) fn mix(value: u64) -> u64 {
    let product = u128::from(value ^ ROOT) * u128::from(GOLDEN);
    (product as u64) ^ ((product >> 64) as u64)
}

/// The colours of one drawing, with buffers to reuse.
#[derive(Debug, Clone, Default)]
pub struct Colours {
    by_node: Vec<u64>,
    next: Vec<u64>,
    sorted: Vec<u64>,
    species: Vec<u128>,
}

/// Up to this many nodes, every round looks whether it told more atoms apart; beyond, rounds 1, 2, 4, 8, …
const SMALL: usize = 64;
/// Rounds that every species may have, enough for all but chains: no atom of a drawing on paper is further from its ends.
const LEAST_ROUNDS: usize = 48;
/// Colours computed in one species before refinement stops short, so that a chain of 100,000 atoms is no quadratic surprise.
const MOST_WORK: usize = 1 << 17;

impl Colours {
    /// The colours of a drawing.
    #[must_use]
    pub fn new(skeleton: &Skeleton, orders: Orders) -> Self {
        let mut colours = Self::default();
        colours.refine(skeleton, orders, &[]);
        colours
    }

    /// Computes the colours of a drawing. `seeds` gives nodes that are special (labelled, touched by an arrow) a number that counts
    /// as part of the atom; a node may have several.
    pub fn refine(&mut self, skeleton: &Skeleton, orders: Orders, seeds: &[(u32, u64)]) {
        self.refine_some(skeleton, orders, seeds, |_| true);
    }

    /// As [`refine`](Self::refine), of some species; the fingerprints of the others are 0.
    pub fn refine_some(
        &mut self,
        skeleton: &Skeleton,
        orders: Orders,
        seeds: &[(u32, u64)],
        is_wanted: impl Fn(u32) -> bool,
    ) {
        self.by_node.clear();
        self.by_node.extend((0..skeleton.len()).map(|node| mix(orders.node_code(skeleton.node(node)))));
        for (node, seed) in seeds {
            let colour = &mut self.by_node[*node as usize];
            *colour = colour.wrapping_add(mix(seed.wrapping_mul(GOLDEN).rotate_left(17)));
        }
        self.next.clear();
        self.next.resize(self.by_node.len(), 0);
        self.species.clear();
        for species in 0..skeleton.species_count() {
            if !is_wanted(species) {
                self.species.push(0);
                continue;
            }
            let nodes = skeleton.species(species);
            self.refine_species(skeleton, orders, nodes.clone());
            self.finish_species(skeleton, nodes);
        }
    }

    /// The colour of a node. Atoms of one drawing or of two that a renumbering can exchange have one colour.
    #[must_use]
    pub fn of(&self, node: u32) -> u64 {
        self.by_node[node as usize]
    }

    /// All colours by node.
    #[must_use]
    pub fn all(&self) -> &[u64] {
        &self.by_node
    }

    /// The fingerprint of a species.
    #[must_use]
    pub fn species(&self, species: u32) -> u128 {
        self.species[species as usize]
    }

    /// The fingerprint of the whole drawing: that of its species, in any order.
    #[must_use]
    pub fn whole(&self) -> u128 {
        let (low, high) = self.species.iter().fold((0_u64, 0_u64), |(low, high), species| {
            let (one, two) = (*species as u64, (*species >> 64) as u64);
            (low.wrapping_add(mix(one ^ two.rotate_left(32))), high.wrapping_add(mix(two.wrapping_add(mix(one)))))
        });
        u128::from(high) << 64 | u128::from(low)
    }

    /// The symmetry class of each node, numbered from 0 in the order of the nodes. Atoms that a symmetry of the drawing
    /// exchanges share a class; atoms that share a class are nearly always exchanged by one.
    #[must_use]
    pub fn classes(&self) -> Vec<u32> {
        let mut class_of = rustc_hash::FxHashMap::default();
        self.by_node
            .iter()
            .map(|colour| {
                let next = class_of.len() as u32;
                *class_of.entry(*colour).or_insert(next)
            })
            .collect()
    }

    fn refine_species(&mut self, skeleton: &Skeleton, orders: Orders, nodes: Range<u32>) {
        let count = nodes.len();
        if count < 2 {
            return;
        }
        let (from, to) = (nodes.start as usize, nodes.end as usize);
        let most = LEAST_ROUNDS.max(MOST_WORK / count);
        let mut told_apart = 0;
        for round in 1..=most {
            self.round(skeleton, orders, nodes.clone());
            self.by_node[from..to].copy_from_slice(&self.next[from..to]);
            // The round after the one that told the last two atoms apart has put the bonds between all colours into them.
            if told_apart == count {
                return;
            }
            if count <= SMALL || round.is_power_of_two() {
                let now = count_colours(&self.by_node[from..to], &mut self.sorted);
                if now == told_apart {
                    return;
                }
                told_apart = now;
            }
        }
    }

    /// The next colours of nodes, each made of its own and its neighbours'.
    fn round(&mut self, skeleton: &Skeleton, orders: Orders, nodes: Range<u32>) {
        for node in nodes {
            let around = skeleton.arcs(node).iter().fold(0_u64, |sum, arc| {
                sum.wrapping_add(mix(self.by_node[arc.to as usize] ^ orders.code(arc).wrapping_mul(GOLDEN)))
            });
            let own = self.by_node[node as usize].rotate_left(23);
            self.next[node as usize] = mix(around.wrapping_add(own.wrapping_mul(GOLDEN)));
        }
    }

    /// Sums the colours up, and puts the sum into each: equal surroundings in different species are no symmetry.
    fn finish_species(&mut self, skeleton: &Skeleton, nodes: Range<u32>) {
        let mut bonds = 0;
        let (mut low, mut high) = (nodes.len() as u64, 0_u64);
        for node in nodes.clone() {
            let colour = self.by_node[node as usize];
            low = low.wrapping_add(mix(colour));
            high = high.wrapping_add(mix(colour.rotate_left(32) ^ GOLDEN));
            bonds += skeleton.arcs(node).len() as u64;
        }
        let high = high.wrapping_add(mix(bonds));
        self.species.push(u128::from(high) << 64 | u128::from(low));
        for node in nodes {
            let colour = &mut self.by_node[node as usize];
            *colour = mix(*colour ^ low.rotate_left(1));
        }
    }
}

/// How many colours there are.
fn count_colours(colours: &[u64], sorted: &mut Vec<u64>) -> usize {
    if colours.len() <= SMALL {
        return count_few(colours);
    }
    sorted.clear();
    sorted.extend_from_slice(colours);
    sorted.sort_unstable();
    1 + sorted.windows(2).filter(|pair| pair[0] != pair[1]).count()
}

/// Counts up to [`SMALL`] colours, which are spread evenly, in a table of twice as many places.
fn count_few(colours: &[u64]) -> usize {
    const PLACES: usize = 2 * SMALL;
    let mut table = [0_u64; PLACES];
    let mut count = 0;
    for &colour in colours {
        // 0 marks an empty place; that a colour is 0 and taken for 1 is as likely as any collision.
        let colour = colour.max(1);
        let mut place = colour as usize % PLACES;
        while table[place] != 0 && table[place] != colour {
            place = (place + 1) % PLACES;
        }
        count += usize::from(table[place] == 0);
        table[place] = colour;
    }
    count
}

/// The fingerprint of a drawing: the same for every numbering of it, nearly always another for every other drawing.
#[must_use]
pub fn fingerprint(skeleton: &Skeleton) -> u128 {
    Colours::new(skeleton, Orders::Drawn).whole()
}
