//! Which contributors count more, by the rules that textbooks give.
//!
//! The rules are advice: they say what is usually found, not what is measured.

use super::system::{OCTET_FROM, gaps};
use crate::structure::electrons::{Electrons, unpaired};
use crate::structure::{AtomId, Element, Structure, ring_bonds};
use rustc_hash::FxHashMap;
use std::collections::VecDeque;

/// One rule.
#[derive(Debug)]
pub struct Rule {
    /// In one sentence.
    pub text: &'static str,
    /// Where it is written.
    pub source: &'static str,
}

/// The rules in the order in which they decide.
pub static RULES: [Rule; 5] = [
    Rule {
        text: "full octets first",
        source: "S. Hardinger, Illustrated Glossary of Organic Chemistry (UCLA), Resonance contributor preference rules, rule 1; \
                 Penn State Chem 210, Resonance",
    },
    Rule {
        text: "then the fewest charges, two on one atom worse than one on each of two",
        source: "Illustrated Glossary, rule 2; Penn State Chem 210: charges beyond one on an atom contribute little",
    },
    Rule {
        text: "then negative charge on the more electronegative atom, positive on the less",
        source: "Illustrated Glossary, rule 3; electronegativities of Pauling",
    },
    Rule {
        text: "then, with the charges on the same heteroatoms, benzene rings kept whole (no double bond out of a ring)",
        source: "common practice, no source: the benzenoid forms of 4-nitrophenoxide before the quinoid one",
    },
    Rule {
        text: "then unlike charges close together and like charges apart",
        source: "Penn State Chem 210: like charges on neighbouring atoms are especially unfavourable; Coulomb's law, common practice",
    },
];

/// How a contributor stands by the rules: smaller is better, earlier fields decide first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rank {
    /// Gaps in octets: one for each pair or single electron that an atom lacks.
    pub gaps: u32,
    /// Sum of the squares of the charges.
    pub charges: u64,
    /// Sum of charge times electronegativity, in hundredths.
    pub placement: i64,
    /// The same of the positive charges alone: of equal sums, that with a positive oxygen stands behind that with a positive
    /// nitrogen (the forms of a sydnone with `O-` and `O+`, or `N-` and `N+`).
    pub positive: i64,
    /// Double bonds from a ring carbon out of its ring, where all charges are on heteroatoms.
    pub quinoid: u32,
    /// Sum over pairs of charges of their product, divided by the bonds between them; in 1/5040.
    pub attraction: i64,
}

impl Rank {
    /// The rule that puts this before another or behind it, counted from 1; `None` where they stand alike.
    #[must_use]
    pub fn deciding_rule(&self, other: &Self) -> Option<usize> {
        let differs = [
            self.gaps != other.gaps,
            self.charges != other.charges,
            (self.placement, self.positive) != (other.placement, other.positive),
            self.quinoid != other.quinoid,
            self.attraction != other.attraction,
        ];
        differs.iter().position(|differs| *differs).map(|at| at + 1)
    }
}

/// Divisible by all small numbers, so that division leaves equal sums equal.
const UNIT: i64 = 5_040;
/// Beyond this many atoms distances between charges are not worked out.
const MOST_ATOMS: usize = 500;

/// Ranks contributors of one molecule; distances between atoms are kept.
#[derive(Debug, Default)]
pub struct Ranker {
    distances: FxHashMap<AtomId, Vec<u32>>,
    /// Which bonds are in rings, once that is asked.
    in_ring: Option<Vec<bool>>,
}

/// Whether neither charges nor unpaired electrons are on carbon.
fn keeps_to_heteroatoms(drawing: &Structure, charged: &[(AtomId, i64)]) -> bool {
    let is_carbon = |atom: AtomId| drawing.atom(atom).element == Element::CARBON;
    charged.iter().all(|(atom, _)| !is_carbon(*atom))
        && drawing.atom_ids().all(|atom| !is_carbon(atom) || unpaired(drawing, atom) == 0)
}

impl Ranker {
    /// The rank of a drawing. All drawings that one ranker sees have the same atoms and sigma bonds, numbered alike.
    pub fn rank(&mut self, drawing: &Structure) -> Rank {
        let mut rank = Rank { gaps: 0, charges: 0, placement: 0, positive: 0, quinoid: 0, attraction: 0 };
        let mut charged: Vec<(AtomId, i64)> = Vec::new();
        for (id, atom) in drawing.atoms() {
            let electrons = Electrons::of(drawing, id);
            let expects = electrons.valence.is_some_and(|valence| valence >= OCTET_FROM);
            if expects {
                rank.gaps += electrons.shell().map_or(0, gaps);
            }
            let charge = i64::from(atom.charge);
            if charge != 0 {
                rank.charges += charge.unsigned_abs().pow(2);
                let electronegativity = i64::from(atom.element.electronegativity());
                rank.placement += charge * electronegativity;
                rank.positive += charge.max(0) * electronegativity;
                charged.push((id, charge));
            }
        }
        if !charged.is_empty() && keeps_to_heteroatoms(drawing, &charged) {
            rank.quinoid = self.quinoid(drawing);
        }
        if drawing.atom_count() <= MOST_ATOMS {
            for (at, (one, charge)) in charged.iter().enumerate() {
                for (other, other_charge) in &charged[at + 1..] {
                    let apart = self.distance(drawing, *one, *other);
                    if apart > 0 {
                        rank.attraction += charge * other_charge * (UNIT / i64::from(apart));
                    }
                }
            }
        }
        rank
    }

    /// Double bonds from a ring carbon out of its ring.
    fn quinoid(&mut self, drawing: &Structure) -> u32 {
        let in_ring = self.in_ring.get_or_insert_with(|| ring_bonds(drawing));
        let is_ring_carbon = |atom: AtomId| {
            drawing.atom(atom).element == Element::CARBON
                && drawing.neighbours(atom).any(|(_, bond)| in_ring[bond.index()])
        };
        let leads_out = |(bond, a, b, drawn): &(crate::structure::BondId, AtomId, AtomId, crate::structure::Bond)| {
            drawn.order > 1 && !in_ring[bond.index()] && (is_ring_carbon(*a) || is_ring_carbon(*b))
        };
        drawing.bonds().filter(leads_out).count() as u32
    }

    /// Bonds between two atoms; 0 where they are of different species.
    fn distance(&mut self, drawing: &Structure, from: AtomId, to: AtomId) -> u32 {
        let of = self.distances.entry(from).or_insert_with(|| {
            let mut distance = vec![0; drawing.atom_count()];
            let mut queue = VecDeque::from([from]);
            while let Some(here) = queue.pop_front() {
                for (next, _) in drawing.neighbours(here) {
                    if next != from && distance[next.index()] == 0 {
                        distance[next.index()] = distance[here.index()] + 1;
                        queue.push_back(next);
                    }
                }
            }
            distance
        });
        of.get(to.index()).copied().unwrap_or(0)
    }
}
