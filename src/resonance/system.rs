//! What can move: the atoms and bonds of a drawing that take part in resonance, and where their electrons sit.
//!
//! A [`State`] lists the non-bonding electrons of each such atom and the order of each bond between two of them. Atoms, sigma bonds
//! and the electrons of all other atoms stay as the start draws them.

use super::shape::small_ring_atoms;
use crate::structure::electrons::Electrons;
use crate::structure::{AtomId, BondId, OctetRule, Structure};
use smallvec::SmallVec;
use std::cmp::Ordering;

/// Pauling electronegativity, in hundredths, below which an element makes no pi bonds on paper: its bonds are drawn sigma or
/// ionic. It lies between aluminium (161) and silicon (190). Common practice, no source.
const LEAST_ELECTRONEGATIVITY: u16 = 190;
/// Valence electrons from which an element is expected to have an octet: boron and its group are drawn with six.
pub(super) const OCTET_FROM: i32 = 4;
/// The octet.
const OCTET: i32 = 8;
/// A triple bond is the most that is drawn.
pub(super) const MOST_ORDER: u8 = 3;

/// An atom that takes part.
#[derive(Debug, Clone)]
pub(super) struct Site {
    pub(super) atom: AtomId,
    pub(super) valence: i32,
    /// Pauling's, in hundredths.
    electronegativity: u16,
    /// Bonds to atoms that take no part, hydrogens included.
    fixed_bonds: i32,
    /// Pi bonds to atoms that take no part.
    fixed_pi: i32,
    /// Electrons that the shell holds.
    holds: i32,
    /// Whether fewer than eight electrons count as a gap.
    needs_octet: bool,
    /// Whether the atom lies in a ring too small for two pi bonds at one of its atoms.
    in_small_ring: bool,
    /// Charge and pi bonds in the form from which the search goes on.
    start_charge: i32,
    start_pi: i32,
    /// Pairs beyond the octet that the site may hold.
    most_expanded: u32,
    /// Positive charge that the site may hold: beyond neon, one for each neighbour at the end of a chain, as in S(2+) between two
    /// oxygens.
    most_charge: i32,
}

/// Positive charges on one atom at most.
const MOST_CHARGE: usize = 3;

/// A bond between two sites.
#[derive(Debug, Clone, Copy)]
pub(super) struct Link {
    pub(super) ends: [u32; 2],
    pub(super) bond: BondId,
}

/// Non-bonding electrons by site, then orders by link.
pub(super) type State = Box<[u8]>;

/// The part of a drawing whose electrons can move.
#[derive(Debug)]
pub(super) struct System {
    pub(super) sites: Vec<Site>,
    pub(super) links: Vec<Link>,
    /// By site: its links, and the sites at their other ends.
    pub(super) around: Vec<SmallVec<[(u32, u32); 4]>>,
    pub(super) start: State,
    /// The places of a state, sites and then links, by the labels of their atoms.
    by_label: Vec<u32>,
}

impl System {
    pub(super) fn new(start: &Structure, octet: OctetRule) -> Self {
        let small_rings = small_ring_atoms(start);
        let mut site_of = vec![u32::MAX; start.atom_count()];
        let mut sites = Vec::new();
        let mut own = Vec::new();
        for atom in start.atom_ids() {
            if let Some((site, electrons)) = site(start, atom, octet, &small_rings) {
                site_of[atom.index()] = sites.len() as u32;
                sites.push(site);
                own.push(electrons);
            }
        }
        let mut links = Vec::new();
        let mut orders = Vec::new();
        let mut around = vec![SmallVec::new(); sites.len()];
        for (bond, a, b, drawn) in start.bonds() {
            let (a, b) = (site_of[a.index()], site_of[b.index()]);
            if a == u32::MAX || b == u32::MAX || drawn.order == 0 || drawn.order > MOST_ORDER {
                continue;
            }
            let link = links.len() as u32;
            links.push(Link { ends: [a, b], bond });
            orders.push(drawn.order);
            around[a as usize].push((link, b));
            around[b as usize].push((link, a));
            for end in [a, b] {
                let site = &mut sites[end as usize];
                site.fixed_bonds -= i32::from(drawn.order);
                site.fixed_pi -= i32::from(drawn.order) - 1;
            }
        }
        own.extend(orders);
        for site in 0..sites.len() {
            let ends =
                around[site].iter().filter(|(_, other): &&(u32, u32)| around[*other as usize].len() == 1).count();
            let most = if sites[site].holds > OCTET { ends.clamp(1, MOST_CHARGE) } else { 1 };
            sites[site].most_charge = most as i32;
        }
        let by_label = order_by_label(start, &sites, &links);
        Self { sites, links, around, start: own.into(), by_label }
    }

    /// The place of a link in a state.
    pub(super) fn slot(&self, link: u32) -> u32 {
        self.sites.len() as u32 + link
    }

    #[allow(clippy::unused_self, reason = "it reads like its neighbours, which need the system")]
    pub(super) fn own(&self, state: &State, site: u32) -> i32 {
        i32::from(state[site as usize])
    }

    pub(super) fn order(&self, state: &State, link: u32) -> u8 {
        state[self.slot(link) as usize]
    }

    /// The sum of the bond orders of a site.
    fn bonds(&self, state: &State, site: u32) -> i32 {
        let links = &self.around[site as usize];
        let moving: i32 = links.iter().map(|(link, _)| i32::from(self.order(state, *link))).sum();
        self.sites[site as usize].fixed_bonds + moving
    }

    /// The pi bonds of a site.
    pub(super) fn pi(&self, state: &State, site: u32) -> i32 {
        let links = &self.around[site as usize];
        let moving: i32 = links.iter().map(|(link, _)| i32::from(self.order(state, *link)) - 1).sum();
        self.sites[site as usize].fixed_pi + moving
    }

    fn shell(&self, state: &State, site: u32) -> i32 {
        2 * self.bonds(state, site) + self.own(state, site)
    }

    pub(super) fn charge(&self, state: &State, site: u32) -> i32 {
        self.sites[site as usize].valence - self.own(state, site) - self.bonds(state, site)
    }

    /// Whether a site has a gap that a pair fills.
    pub(super) fn has_gap(&self, state: &State, site: u32) -> bool {
        self.shell(state, site) + 2 <= OCTET
    }

    /// Whether a site takes a pair beyond the octet. More than eight electrons are drawn to take charges away, S=O for
    /// S(+)-O(-), so that the pair must come from a negative site to a positive one.
    pub(super) fn expands(&self, state: &State, giver: u32, site: u32) -> bool {
        let shell = self.shell(state, site);
        shell + 2 > OCTET
            && shell + 2 <= self.sites[site as usize].holds
            && self.charge(state, giver) < 0
            && self.charge(state, site) > 0
    }

    /// Gaps in the octets of all sites: one for each pair or single electron that a site lacks.
    pub(super) fn gaps(&self, state: &State) -> u32 {
        (0..self.sites.len() as u32).map(|site| self.gaps_at(state, site)).sum()
    }

    /// Gaps in the octets of some sites.
    pub(super) fn gaps_of(&self, state: &State, sites: &[u32]) -> u32 {
        sites.iter().map(|site| self.gaps_at(state, *site)).sum()
    }

    fn gaps_at(&self, state: &State, site: u32) -> u32 {
        if self.sites[site as usize].needs_octet { gaps(self.shell(state, site)) } else { 0 }
    }

    /// Whether a site may be drawn so.
    pub(super) fn is_legal(&self, state: &State, site: u32) -> bool {
        let own = &self.sites[site as usize];
        let (shell, charge) = (self.shell(state, site), self.charge(state, site));
        let expanded = shell > OCTET;
        // More than one positive charge is what a full shell is drawn with, as in S(2+) of a sulfone and Cl(3+) of perchlorate.
        let most = if shell >= OCTET { own.most_charge } else { 1 };
        shell <= own.holds
            && self.expansion(state, site) <= own.most_expanded
            && !(expanded && charge < own.start_charge.min(0))
            && charge <= most.max(own.start_charge)
            && charge >= own.start_charge.min(-2)
            && (!own.in_small_ring || expanded || self.pi(state, site) <= own.start_pi.max(1))
            && !(expanded && self.has_new_triple_bond(state, site))
    }

    /// Pairs of a site beyond the octet.
    fn expansion(&self, state: &State, site: u32) -> u32 {
        (self.shell(state, site) - OCTET).max(0).unsigned_abs().div_ceil(2)
    }

    /// Pairs beyond octets at all sites.
    pub(super) fn expansions(&self, state: &State) -> u32 {
        (0..self.sites.len() as u32).map(|site| self.expansion(state, site)).sum()
    }

    /// Charges of all sites without their signs.
    pub(super) fn charges(&self, state: &State) -> u32 {
        (0..self.sites.len() as u32).map(|site| self.charge(state, site).unsigned_abs()).sum()
    }

    /// The same of some sites.
    pub(super) fn charges_of(&self, state: &State, sites: &[u32]) -> u32 {
        sites.iter().map(|site| self.charge(state, *site).unsigned_abs()).sum()
    }

    /// Whether each open octet is where a textbook draws one beside full ones: the pair that would fill it lies on a more
    /// electronegative neighbour (C(+)=O, a carbene between nitrogens, N(+)=O), or it is a carbocation conjugated with such an atom.
    pub(super) fn gaps_lie_well(&self, state: &State) -> bool {
        let pull = |site: u32| self.sites[site as usize].electronegativity;
        let strongest = (0..self.sites.len() as u32).filter(|site| self.own(state, *site) >= 2).map(pull).max();
        let open = (0..self.sites.len() as u32).filter(|site| self.gaps_at(state, *site) > 0);
        open.into_iter().all(|site| {
            let own = &self.sites[site as usize];
            let beside = self.around[site as usize].iter().map(|(_, other)| *other);
            let is_fed = |other: u32| self.own(state, other) >= 2 && pull(other) > own.electronegativity;
            let is_cation = own.valence == OCTET_FROM && self.charge(state, site) > 0;
            beside.into_iter().any(is_fed) || (is_cation && strongest.is_some_and(|most| most > own.electronegativity))
        })
    }

    /// Compares two states in an order that does not depend on how the atoms are written, as far as labels give one.
    pub(super) fn compare(&self, a: &State, b: &State) -> Ordering {
        let places = |of: &'_ State| -> Vec<u8> { self.by_label.iter().map(|slot| of[*slot as usize]).collect() };
        places(a).cmp(&places(b))
    }

    /// Goes on from another form: what it draws is what may be drawn. `best` are the forms that hold the fewest charges; only what
    /// they expand may be.
    pub(super) fn go_on_from<'s>(&mut self, state: &State, best: impl Iterator<Item = &'s State>) {
        let mut most = vec![0; self.sites.len()];
        for own in best {
            for (site, most) in (0..).zip(&mut most) {
                *most = self.expansion(own, site).max(*most);
            }
        }
        for (site, most) in (0..).zip(most) {
            let (charge, pi) = (self.charge(state, site), self.pi(state, site));
            let own = &mut self.sites[site as usize];
            (own.start_charge, own.start_pi, own.most_expanded) = (charge, pi, most);
        }
        self.start.clone_from(state);
    }

    /// A third bond to an atom beyond the octet takes no charge away.
    fn has_new_triple_bond(&self, state: &State, site: u32) -> bool {
        let is_new = |link: u32| self.order(state, link) == MOST_ORDER && self.order(&self.start, link) < MOST_ORDER;
        self.around[site as usize].iter().any(|(link, _)| is_new(*link))
    }

    /// A measure by which better states are looked at first: gaps in octets, then the charges squared.
    pub(super) fn urgency(&self, state: &State) -> (u32, u32) {
        let charges = (0..self.sites.len() as u32).map(|site| self.charge(state, site).pow(2).unsigned_abs()).sum();
        (self.gaps(state), charges)
    }

    /// The drawing of a state.
    pub(super) fn draw(&self, start: &Structure, state: &State) -> Structure {
        let mut drawing = start.clone();
        for (at, link) in self.links.iter().enumerate() {
            let bond = drawing.bond_mut(link.bond);
            bond.order = self.order(state, at as u32);
            bond.aromatic = false;
        }
        for (at, site) in self.sites.iter().enumerate() {
            let charge = self.charge(state, at as u32);
            let atom = drawing.atom_mut(site.atom);
            atom.charge = charge as i16;
            atom.aromatic = false;
            // A stated electron stays stated only where it stays.
            if atom.unpaired.is_some_and(|stated| i32::from(stated) % 2 != self.own(state, at as u32) % 2) {
                atom.unpaired = None;
            }
        }
        drawing
    }
}

fn order_by_label(start: &Structure, sites: &[Site], links: &[Link]) -> Vec<u32> {
    let name = |site: u32| start.label(sites[site as usize].atom);
    let mut own: Vec<_> = (0..sites.len() as u32).map(|site| (name(site), site)).collect();
    own.sort();
    let mut place = vec![0_u32; sites.len()];
    for (at, (_, site)) in (0..).zip(&own) {
        place[*site as usize] = at;
    }
    let ends = |link: &Link| {
        let [a, b] = link.ends.map(|site| place[site as usize]);
        (a.min(b), a.max(b))
    };
    let mut between: Vec<_> = (sites.len() as u32..).zip(links).map(|(slot, link)| (ends(link), slot)).collect();
    between.sort_unstable();
    own.into_iter().map(|(_, site)| site).chain(between.into_iter().map(|(_, slot)| slot)).collect()
}

/// Gaps of a shell: one for each pair or single electron that is lacking to eight.
pub(super) fn gaps(shell: i32) -> u32 {
    (OCTET - shell).max(0).unsigned_abs().div_ceil(2)
}

/// The site of an atom and its non-bonding electrons; `None` for an atom whose electrons stay.
fn site(start: &Structure, atom: AtomId, octet: OctetRule, small_rings: &[bool]) -> Option<(Site, u8)> {
    let drawn = start.atom(atom);
    let electrons = Electrons::of(start, atom);
    let (valence, own) = (electrons.valence?, electrons.non_bonding()?);
    let (shell, holds) = (electrons.shell()?, drawn.element.shell(octet)?);
    // Two unpaired electrons on one atom, as stated, are no pair.
    let is_plain = (0..=OCTET).contains(&own) && shell <= holds && drawn.unpaired.is_none_or(|stated| stated < 2);
    let pi: i32 = start.neighbours(atom).map(|(_, bond)| i32::from(start.bond(bond).order) - 1).sum();
    // A positive atom beyond neon takes pairs of its neighbours: P(+)-O(-), S(2+), Cl(3+).
    let moves = own > 0 || pi > 0 || shell < OCTET || (holds > OCTET && electrons.charge > 0);
    if holds < OCTET || drawn.element.electronegativity() < LEAST_ELECTRONEGATIVITY || !is_plain || !moves {
        return None;
    }
    let site = Site {
        atom,
        valence,
        electronegativity: drawn.element.electronegativity(),
        fixed_bonds: electrons.bonds,
        fixed_pi: pi,
        holds,
        needs_octet: valence >= OCTET_FROM,
        in_small_ring: small_rings[atom.index()],
        start_charge: electrons.charge,
        start_pi: pi,
        most_expanded: u32::MAX,
        most_charge: 1,
    };
    Some((site, own as u8))
}
