//! One drawing as a `molecule`.

use super::super::UNLABELLED;
use super::super::molecule::undrawn_neighbour;
use super::super::values::{self, GENERIC_GROUP};
use super::ids::Ids;
use super::{PREFIX, Unwritten};
use crate::structure::stereo::{Centre, DoubleBond, Geometry, Neighbour};
use crate::structure::{AtomId, Bond, Element, Structure};
use crate::xml::markup::Markup;
use rustc_hash::FxHashMap;

/// What a `molecule` element carries beside its atoms.
pub(super) struct Root<'a> {
    /// The default namespace, where the molecule stands alone.
    pub(super) namespace: &'a str,
    /// A prefix and its namespace.
    pub(super) own: Option<(&'a str, &'a str)>,
    pub(super) id: Option<&'a str>,
}

/// Writes a drawing. `root` holds what only a molecule that stands alone carries.
pub(super) fn write(
    markup: &mut Markup,
    structure: &Structure,
    ids: &mut Ids,
    root: Option<&Root>,
    lost: &mut Vec<Unwritten>,
) {
    let (names, unlabelled) = ids.of_atoms(structure, lost);
    let none_labelled = unlabelled.iter().all(|unlabelled| *unlabelled) && !structure.is_empty();
    let convention = format!("{PREFIX}:{UNLABELLED}");
    let own = root.and_then(|root| root.own);
    let declaration = own.map(|(prefix, _)| format!("xmlns:{prefix}"));
    let mut attributes = vec![
        ("xmlns", root.map(|root| root.namespace).filter(|namespace| !namespace.is_empty())),
        ("id", root.and_then(|root| root.id)),
        ("convention", none_labelled.then_some(convention.as_str())),
    ];
    if let (Some(declaration), Some((_, namespace))) = (&declaration, own) {
        attributes.push((declaration, Some(namespace)));
    }
    if structure.is_empty() {
        markup.empty("molecule", &attributes);
        return;
    }
    markup.open("molecule", &attributes);
    let writer = MoleculeWriter { structure, names: &names };
    let marked: Vec<bool> = unlabelled.iter().map(|unlabelled| *unlabelled && !none_labelled).collect();
    writer.atoms(markup, &marked, &convention, lost);
    writer.bonds(markup, lost);
    markup.close();
}

struct MoleculeWriter<'a> {
    structure: &'a Structure,
    names: &'a [String],
}

impl MoleculeWriter<'_> {
    fn name(&self, atom: AtomId) -> &str {
        self.names.get(atom.index()).map_or("", String::as_str)
    }

    fn atoms(&self, markup: &mut Markup, unlabelled: &[bool], convention: &str, lost: &mut Vec<Unwritten>) {
        let mut parities: FxHashMap<AtomId, (String, &str)> = FxHashMap::default();
        for centre in &self.structure.stereo.centres {
            match self.parity(centre) {
                Some(references) => {
                    parities.insert(centre.atom, (references, if centre.clockwise { "1" } else { "-1" }));
                }
                None => lost.push(Unwritten::Stereo(self.structure.call(centre.atom))),
            }
        }
        markup.open("atomArray", &[]);
        for id in self.structure.atom_ids() {
            let convention = unlabelled[id.index()].then_some(convention);
            self.atom(markup, id, convention, parities.get(&id), lost);
        }
        markup.close();
    }

    fn atom(
        &self,
        markup: &mut Markup,
        id: AtomId,
        convention: Option<&str>,
        parity: Option<&(String, &str)>,
        lost: &mut Vec<Unwritten>,
    ) {
        let structure = self.structure;
        let atom = structure.atom(id);
        let symbol = if atom.element == Element::ANY { GENERIC_GROUP } else { atom.element.symbol() };
        let charge = (atom.charge != 0).then(|| atom.charge.to_string());
        let is_hydrogen = |atom: AtomId| structure.atom(atom).element == Element::HYDROGEN;
        let drawn = structure.neighbours(id).filter(|(other, _)| is_hydrogen(*other)).count();
        let hydrogens = (usize::from(atom.hydrogens) + drawn).to_string();
        if atom.isotope == Some(0) {
            lost.push(Unwritten::Isotope(structure.call(id)));
        }
        let isotope = atom.isotope.filter(|mass| *mass > 0).map(|mass| mass.to_string());
        let spin = atom.unpaired.map(|unpaired| (u16::from(unpaired) + 1).to_string());
        let in_ring = structure.neighbours(id).any(|(_, bond)| structure.bond(bond).aromatic);
        if atom.aromatic && !in_ring {
            lost.push(Unwritten::Aromatic(structure.call(id)));
        }
        let point = structure.coordinates.get(id.index());
        let (x, y) =
            (point.map(|point| values::write_decimal(point.x)), point.map(|point| values::write_decimal(point.y)));
        let attributes = [
            ("id", Some(self.name(id))),
            ("elementType", Some(symbol)),
            ("formalCharge", charge.as_deref()),
            ("hydrogenCount", Some(&hydrogens)),
            ("isotopeNumber", isotope.as_deref()),
            ("spinMultiplicity", spin.as_deref()),
            ("x2", x.as_deref()),
            ("y2", y.as_deref()),
            ("convention", convention),
        ];
        match parity {
            None => markup.empty("atom", &attributes),
            Some((references, value)) => {
                markup.open("atom", &attributes);
                markup.leaf("atomParity", &[("atomRefs4", Some(references))], value);
                markup.close();
            }
        }
    }

    fn bonds(&self, markup: &mut Markup, lost: &mut Vec<Unwritten>) {
        let structure = self.structure;
        let mut marks: FxHashMap<(AtomId, AtomId), &DoubleBond> = FxHashMap::default();
        for mark in &structure.stereo.double_bonds {
            let [a, b] = mark.ends;
            let double = structure.bond_between(a, b).is_some_and(|bond| structure.bond(bond) == Bond::new(2));
            if double {
                marks.insert((a.min(b), a.max(b)), mark);
            } else {
                lost.push(Unwritten::Stereo(structure.call(a)));
            }
        }
        if structure.bond_count() == 0 {
            return;
        }
        markup.open("bondArray", &[]);
        for (_, a, b, bond) in structure.bonds() {
            let order = order_of(bond).unwrap_or_else(|| {
                lost.push(Unwritten::Order(structure.call(a), structure.call(b), bond.order));
                "other"
            });
            let ends = format!("{} {}", self.name(a), self.name(b));
            let attributes = [("atomRefs2", Some(ends.as_str())), ("order", Some(order))];
            match marks.get(&(a.min(b), a.max(b))) {
                None => markup.empty("bond", &attributes),
                Some(mark) => {
                    markup.open("bond", &attributes);
                    let references = self.join([mark.references[0], mark.ends[0], mark.ends[1], mark.references[1]]);
                    let side = if mark.same_side { "C" } else { "T" };
                    markup.leaf("bondStereo", &[("atomRefs4", Some(&references))], side);
                    markup.close();
                }
            }
        }
        markup.close();
    }

    fn join(&self, atoms: [AtomId; 4]) -> String {
        atoms.map(|atom| self.name(atom)).join(" ")
    }

    /// The four ids of a parity; an atom stands for its own undrawn neighbour.
    fn parity(&self, centre: &Centre) -> Option<String> {
        let structure = self.structure;
        let [a, b, c, d] = centre.neighbours[..] else { return None };
        let named = match centre.geometry {
            Geometry::Tetrahedral => {
                let undrawn = undrawn_neighbour(structure, centre.atom).ok();
                let drawn = centre.neighbours.iter().filter(|own| matches!(own, Neighbour::Atom(_))).count();
                let fits = drawn == 4 || (drawn == 3 && structure.degree(centre.atom) == 3);
                let name = |neighbour| match neighbour {
                    Neighbour::Atom(atom) => Some(atom),
                    other => (Some(other) == undrawn).then_some(centre.atom),
                };
                [name(a)?, name(b)?, name(c)?, name(d)?].into_iter().filter(|_| fits).collect::<Vec<_>>()
            }
            Geometry::Allene => self.allene(centre.atom, [[a, b], [c, d]])?,
            Geometry::Other(..) => return None,
        };
        let named: [AtomId; 4] = named.try_into().ok()?;
        Some(self.join(named))
    }

    /// The atoms of an allene's parity: an end stands for its own hydrogen. Longer cumulenes have no ends beside the centre.
    fn allene(&self, centre: AtomId, pairs: [[Neighbour; 2]; 2]) -> Option<Vec<AtomId>> {
        let structure = self.structure;
        let ends: Vec<AtomId> = structure.neighbours(centre).map(|(atom, _)| atom).take(3).collect();
        let &[first, second] = ends.as_slice() else { return None };
        let doubled = |end| structure.bond_between(centre, end).is_some_and(|bond| structure.bond(bond).order == 2);
        let mut named = Vec::new();
        let mut taken = Vec::new();
        for pair in pairs {
            let own_end = pair.iter().find_map(|neighbour| match neighbour {
                Neighbour::Atom(atom) => {
                    [first, second].into_iter().find(|end| structure.bond_between(*end, *atom).is_some())
                }
                _ => None,
            })?;
            taken.push(own_end);
            for neighbour in pair {
                named.push(match neighbour {
                    Neighbour::Atom(atom) => atom,
                    Neighbour::Hydrogen if structure.atom(own_end).hydrogens == 1 => own_end,
                    _ => return None,
                });
            }
        }
        (taken[0] != taken[1] && doubled(first) && doubled(second)).then_some(named)
    }
}

fn order_of(bond: Bond) -> Option<&'static str> {
    match bond {
        Bond { aromatic: true, .. } => Some("A"),
        Bond { order: 1, .. } => Some("S"),
        Bond { order: 2, .. } => Some("D"),
        Bond { order: 3, .. } => Some("T"),
        Bond { .. } => None,
    }
}
