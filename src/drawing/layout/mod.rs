//! Where atoms are drawn: start, product and stated answer laid out once, so that only electrons move between drawings.
//!
//! The start's bonds decide. Bonds that later drawings add between species become long edges that bring those species
//! together; bonds that close a ring of five to eight become sides of that ring; any other new bond is drawn where its
//! atoms happen to lie. Each species then goes through rings ([`rings`]), growth ([`chains`]), relief ([`clash`]) and
//! turning ([`species`]). All searches are bounded; the same input gives the same points.

mod arcs;
mod bearing;
mod chains;
mod clash;
mod cycles;
mod follow;
mod habits;
pub mod measure;
mod relax;
mod rings;
mod shapes;
mod skeleton;
pub(crate) mod species;
mod templates;
mod theta;
mod unfold;
mod union;

pub use follow::{Before, follow};

use super::geometry::Position;
use crate::structure::{AtomId, Structure};
use measure::Side;
use skeleton::{Mark, Skeleton};

/// Drawings with more atoms than this are not laid out: their size is stated in words instead.
pub const MOST_ATOMS: usize = 800;

/// A drawing that is laid out together with others.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The drawing.
    pub structure: &'a Structure,
    /// For each of its atoms, the atom of the first drawing that it is; `None` as a whole: the same atoms in the same
    /// order, later ones new.
    pub atoms: Option<&'a [Option<AtomId>]>,
}

impl<'a> View<'a> {
    /// A drawing with the atoms of the first one in the same order.
    #[must_use]
    pub fn same(structure: &'a Structure) -> Self {
        Self { structure, atoms: None }
    }

    /// A drawing whose atoms are those of the first one under a correspondence.
    #[must_use]
    pub fn mapped(structure: &'a Structure, atoms: &'a [Option<AtomId>]) -> Self {
        Self { structure, atoms: Some(atoms) }
    }
}

/// A point for every atom of a drawing, in bond lengths; none where the drawing is too large to be shown.
pub type Coordinates = Vec<Position>;

/// Lays out drawings together. The answer holds the coordinates of each, in order.
#[must_use]
pub fn lay_out(views: &[View]) -> Vec<Coordinates> {
    let union = union::Union::new(views);
    if union.skeleton.len() > MOST_ATOMS {
        return vec![Vec::new(); views.len()];
    }
    let mut points = place(&union.skeleton, &union.fixed);
    if union.closes_rings {
        let plain = union.without_closures();
        let other = place(&plain, &union.fixed);
        if union.start_defects(&other) < union.start_defects(&points) {
            points = other;
        }
    }
    union.nodes_of.iter().map(|nodes| nodes.iter().map(|node| points[*node]).collect()).collect()
}

/// Points for structures that become each other, with the same atoms in the same order: the first as what it will be bends it,
/// each later one as it follows from the one before.
#[must_use]
pub fn lay_out_sequence(structures: &[&Structure]) -> Vec<Coordinates> {
    let views: Vec<View> = structures.iter().take(2).map(|own| View::same(own)).collect();
    let mut all: Vec<Coordinates> = lay_out(&views).into_iter().take(1).collect();
    for pair in structures.windows(2) {
        let points = all.last().map(Vec::as_slice).unwrap_or_default();
        let own = follow(Before { structure: pair[0], points }, pair[1], &|at| Some(AtomId::new(at)));
        all.push(own);
    }
    all
}

fn side_of(mark: &Mark) -> Side {
    Side { ends: mark.ends, references: mark.references, same: mark.same_side }
}

/// Points for every node of a graph of one or several species.
fn place(graph: &Skeleton, fixed: &[Option<Position>]) -> Vec<Position> {
    let components = graph.components();
    let known = fixed.iter().any(Option::is_some);
    let mut parts: Vec<Vec<Position>> = components
        .iter()
        .map(|nodes| {
            let own: Vec<Option<Position>> = nodes.iter().map(|node| fixed.get(*node).copied().flatten()).collect();
            place_species(&graph.part(nodes), &own)
        })
        .collect();
    if !known {
        species::side_by_side(&mut parts);
    } else if components.iter().any(|nodes| nodes.iter().all(|node| fixed[*node].is_none())) {
        beside_known(&components, fixed, &mut parts);
    }
    let mut points = vec![Position::default(); graph.len()];
    for (nodes, part) in components.iter().zip(parts) {
        for (node, point) in nodes.iter().zip(part) {
            points[*node] = point;
        }
    }
    points
}

/// Where some species have coordinates of their own, the others stand to their right.
fn beside_known(components: &[Vec<usize>], fixed: &[Option<Position>], parts: &mut [Vec<Position>]) {
    let (low, high) = species::bounds(&fixed.iter().flatten().copied().collect::<Vec<_>>());
    let mut cursor = high.x + 1.7;
    for (nodes, part) in components.iter().zip(parts) {
        if nodes.iter().any(|node| fixed[*node].is_some()) {
            continue;
        }
        let (own_low, own_high) = species::bounds(part);
        let shift =
            Position::new(cursor - own_low.x, f64::midpoint(low.y, high.y) - f64::midpoint(own_low.y, own_high.y));
        for point in part.iter_mut() {
            *point = *point + shift;
        }
        cursor += own_high.x - own_low.x + 1.7;
    }
}

fn place_species(species: &Skeleton, fixed: &[Option<Position>]) -> Vec<Position> {
    if fixed.iter().all(Option::is_some) {
        return fixed.iter().flatten().copied().collect();
    }
    let blocks = species.cyclic_blocks();
    let in_ring = species.in_ring(&blocks);
    let units: Vec<rings::Unit> = blocks.iter().map(|edges| rings::lay_out_block(species, edges)).collect();
    let mut points = chains::grow(species, &units, fixed);
    if fixed.iter().all(Option::is_none) {
        clash::relieve(species, &in_ring, &mut points);
        species::orient(species, &units, &mut points);
        unfold::unfold(species, &units, &in_ring, &mut points);
    }
    points
}

/// The rings of a structure, shortest first, each as its atoms in order. None where the structure is too large to be shown.
#[must_use]
pub fn rings_of(structure: &Structure) -> Vec<Vec<usize>> {
    if structure.atom_count() > MOST_ATOMS {
        return Vec::new();
    }
    let mut graph = Skeleton::with_nodes(structure.atom_count());
    for (_, a, b, _) in structure.bonds() {
        graph.link(a.index(), b.index(), 1.0, false);
    }
    let mut all = Vec::new();
    for edges in graph.cyclic_blocks() {
        let mut nodes: Vec<usize> = edges.iter().flat_map(|edge| graph.edges[*edge].ends).collect();
        nodes.sort_unstable();
        nodes.dedup();
        let rings = cycles::rings(&graph.part(&nodes));
        all.extend(rings.into_iter().map(|ring| ring.into_iter().map(|at| nodes[at]).collect::<Vec<usize>>()));
    }
    all
}
